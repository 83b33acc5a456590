//! The ways that the plumbing leaves open, each with the flows it would mean.
//!
//! The totals of the two sides are measured; which single path they took is not. Each way
//! here agrees with the totals, and together they span what is possible.

use super::Way;
use crate::account::Subject;
use crate::account::course::Leak;
use crate::account::course::Standing;
use crate::account::course::TIGHT;
use crate::account::met::is_met;
use crate::circuit::Port;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;

/// A total with its 95 % interval, m³/s.
#[derive(Debug, Clone, Copy)]
pub(super) struct Total {
    pub value: f64,
    /// Half width of the interval.
    pub half: f64,
}

impl Total {
    fn lower(self) -> f64 {
        self.value - self.half
    }

    fn upper(self) -> f64 {
        self.value + self.half
    }

    fn is_found(self) -> bool {
        self.value.abs() > self.half
    }
}

/// The totals at the end of the hold.
#[derive(Debug, Clone, Copy)]
pub(super) struct Totals {
    /// Out of the cap side, if it has an account.
    pub loss: Option<Total>,
    /// Into the rod side, if it has an account.
    pub gain: Option<Total>,
    /// The difference of the two: out of the cylinder.
    pub out: Total,
    pub piston_exponent: f64,
    pub port_exponent: f64,
}

/// Flows of the three ways, m³/s.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Flows {
    pub piston: f64,
    pub cap_out: f64,
    pub rod_out: f64,
}

/// One way with its flows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Case {
    pub way: Way,
    pub is_found: bool,
    pub least: Flows,
    pub likely: Flows,
    pub most: Flows,
    exponents: [f64; 2],
    /// The pressures have met: the piston lets through whatever is wanted.
    is_met: bool,
}

/// Below this a side has no pressure that could push anything out, Pa.
const NO_PRESSURE_PA: f64 = 0.5e5;

/// Below this gauge pressure a shut chamber counts as drawn empty, Pa.
const VACUUM_PA: f64 = -0.3e5;

/// What flows past a piston whose sides have met for each bar between them, m³/s.
const FREE_M3_S: f64 = 1e-6 / 60.0;

impl Case {
    /// The piece with these leaks.
    pub fn leaking<'a>(&self, start: &Standing<'a>, flows: &Flows) -> Standing<'a> {
        let across = start.cap.pressure_pa - start.rod.pressure_pa;
        let leak = |flow_m3_s: f64, driven_by_pa: f64, exponent: f64| Leak {
            flow_m3_s,
            driven_by_pa,
            exponent,
        };
        let out = |flow: f64, pressure: f64| {
            if pressure < NO_PRESSURE_PA {
                TIGHT
            } else {
                leak(flow.max(0.0), pressure, self.exponents[1])
            }
        };
        let piston = if self.is_met {
            leak(FREE_M3_S, 1e5, 1.0)
        } else if flows.piston * across > 0.0 {
            leak(flows.piston, across, self.exponents[0])
        } else {
            TIGHT
        };
        Standing {
            piston,
            cap_out: out(flows.cap_out, start.cap.pressure_pa),
            rod_out: out(flows.rod_out, start.rod.pressure_pa),
            ..*start
        }
    }
}

/// Makes a case: way, whether its leak was found, and its flows at the lower end (−1), the
/// middle (0) and the upper end (1) of what is known.
type MakeCase<'a> = &'a dyn Fn(Way, bool, FlowsAt<'_>) -> Case;
type FlowsAt<'a> = &'a dyn Fn(f64) -> Flows;

/// The ways that agree with the totals.
pub(super) fn ways(totals: &Totals, start: &Standing<'_>, subject: &Subject) -> Vec<Case> {
    let both = start.cap.pressure_pa > NO_PRESSURE_PA && start.rod.pressure_pa > NO_PRESSURE_PA;
    let case = |way, is_found, flows: &dyn Fn(f64) -> Flows| Case {
        way,
        is_found,
        // Where nothing was found, tight is what is likely.
        least: if is_found {
            flows(-1.0)
        } else {
            Flows::default()
        },
        likely: if is_found {
            flows(0.0)
        } else {
            Flows::default()
        },
        most: flows(1.0),
        // What cannot be excluded is not made larger by a law that nobody saw.
        exponents: [
            totals.piston_exponent,
            if is_found { totals.port_exponent } else { 0.0 },
        ],
        is_met: both
            && !start.is_locked
            && start.cylinder.kind() == Kind::DoubleActing
            && is_met(start.cap.pressure_pa, start.rod.pressure_pa),
    };
    let at = |total: Total, end: f64| total.value + end * total.half;
    match (totals.loss, totals.gain) {
        (Some(loss), Some(gain)) => both_sides(totals, loss, gain, start, &case),
        (Some(loss), None) => {
            let piston = |end: f64| Flows {
                piston: at(loss, end).max(0.0),
                ..Flows::default()
            };
            let port = |end: f64| Flows {
                cap_out: at(loss, end).max(0.0),
                ..Flows::default()
            };
            let found = loss.is_found();
            let has_piston = start.cylinder.kind() != Kind::Plunger;
            if !has_piston {
                vec![case(Way::Any, found, &port)]
            } else if subject.circuit.port(Chamber::Rod) == Port::OpenToVessel {
                vec![case(Way::Any, found, &piston)]
            } else if !found {
                vec![
                    case(Way::Any, false, &port),
                    case(Way::PastPiston, false, &piston),
                ]
            } else if start.rod.pressure_pa < VACUUM_PA {
                // What is drawn empty gets no oil, as far as the hold can show.
                vec![case(Way::CapPort, true, &port)]
            } else {
                vec![
                    case(Way::PastPiston, found, &piston),
                    case(Way::CapPort, found, &port),
                ]
            }
        }
        (None, Some(gain)) => {
            // Out of the rod side, past the piston or not: the load sinks alike.
            let piston = |end: f64| Flows {
                piston: at(gain, -end).min(0.0),
                ..Flows::default()
            };
            vec![case(Way::Any, gain.is_found(), &piston)]
        }
        (None, None) => Vec::new(),
    }
}

fn both_sides(
    totals: &Totals,
    loss: Total,
    gain: Total,
    start: &Standing<'_>,
    case: MakeCase<'_>,
) -> Vec<Case> {
    let sign = (start.cap.pressure_pa - start.rod.pressure_pa).signum();
    // A piston leaks the way its pressure acts.
    let along = move |flow: f64| (flow * sign).max(0.0) * sign;
    let at = |total: Total, end: f64| total.value + end * total.half;
    let out = totals.out;
    let through = |end: f64| along(at(loss, sign * end));
    if out.lower() > 0.0 {
        let by_rod = |end: f64| Flows {
            piston: through(end),
            cap_out: 0.0,
            rod_out: at(out, end),
        };
        let by_cap = |end: f64| Flows {
            piston: along(at(gain, sign * end)),
            cap_out: at(out, end),
            rod_out: (-sign * gain.value).max(0.0).min(out.value),
        };
        return vec![
            case(Way::OutOfRodSide, true, &by_rod),
            case(Way::CapPort, true, &by_cap),
        ];
    }
    let middle = Total {
        value: 0.5 * (loss.value + gain.value),
        half: loss.half.min(gain.half),
    };
    let found = middle.is_found() && middle.value * sign > 0.0;
    let past = |end: f64| Flows {
        piston: along(at(middle, sign * end)),
        ..Flows::default()
    };
    let at_most = |_: f64| Flows {
        piston: along(if sign > 0.0 {
            loss.upper()
        } else {
            loss.lower()
        }),
        cap_out: 0.0,
        rod_out: out.upper().max(0.0),
    };
    if found {
        let inside = case(Way::PastPiston, true, &past);
        // That nothing leaves besides is the least and the likely of this one.
        let besides = Case {
            least: inside.least,
            likely: inside.likely,
            ..case(Way::OutOfRodSide, false, &at_most)
        };
        vec![inside, besides]
    } else {
        // Most movement with a way out of the rod side, most pressure without one.
        let inside = |end: f64| Flows {
            rod_out: 0.0,
            ..at_most(end)
        };
        vec![
            case(Way::Any, false, &at_most),
            case(Way::PastPiston, false, &inside),
        ]
    }
}
