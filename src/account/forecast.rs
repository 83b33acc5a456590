//! What is to come if the piece is left standing as it was at the end of the hold.
//!
//! From the fitted flows and the pressures at the end of the hold, one course for each way
//! that the plumbing leaves open, with its range. Where the account is not stated nothing
//! is forecast. How it is said stands in `words`.
//!
//! Invariant: a leak that was not found is never forecast as one; it is a most.

mod ways;
mod words;

use super::Evaluation;
use super::Subject;
use super::balance::Copy;
use super::course::Course;
use super::course::End;
use super::course::Moment;
use super::course::Side;
use super::course::Standing;
use super::course::TIGHT;
use super::figure::FigureName;
use super::figure::coverage_factor;
use super::layout::P;
use super::solution::Solution;
use crate::channel::Role;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Ratings;
use crate::fit::Vector;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::unit::meter;
use ways::Flows;
use ways::Totals;

/// How long a piece is thought to be parked, s.
pub const PARKED_S: f64 = 12.0 * 3600.0;

/// No course is followed for longer, s.
const LONGEST_S: f64 = 7.0 * 86_400.0;

/// Part of a movement that counts as all of it when a time is said.
const DONE: f64 = 0.95;

/// What is to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Where it starts: the end of the hold.
    pub start: Moment,
    /// Whether the rod is held by a stop.
    pub is_locked: bool,
    /// The chamber that holds the load.
    pub holding: Chamber,
    /// Load by the pressures there, N; positive pushes the rod in.
    pub load_n: f64,
    /// Temperature of what is round the oil, K; None if the recording does not know it: then
    /// the oil is taken to keep its temperature.
    pub around_k: Option<f64>,
    /// How far the rod sinks when the oil cools by 10 K and nothing leaks, m.
    pub cooled_sink_m: f64,
    /// What the pressures gain when the oil warms by 10 K and nothing leaks, cap and rod, Pa.
    pub warmed_gain_pa: [f64; 2],
    /// One for each way that the plumbing leaves open.
    pub outlooks: Vec<Outlook>,
    /// Ratings that could be exceeded; none before [`Forecast::weigh`].
    pub hazards: Vec<Hazard>,
}

/// Which way the oil is taken to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Whichever way: the course is the same.
    Any,
    /// All of it past the piston, none out of the cylinder.
    PastPiston,
    /// Out at the port of the cap side (plug, fitting, valve).
    CapPort,
    /// Past the piston and on out of the rod side (gland, plug, fitting, valve).
    OutOfRodSide,
}

impl Way {
    /// The word in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Any => "any",
            Self::PastPiston => "past_piston",
            Self::CapPort => "cap_port",
            Self::OutOfRodSide => "out_of_rod_side",
        }
    }
}

/// A range that holds with 95 %, as far as flow and stiffness are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Its lower end.
    pub least: f64,
    /// Its upper end.
    pub most: f64,
}

/// What comes of one way. Movements are positive inwards, as a rod sinks; a hanging load
/// makes them negative.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlook {
    /// The way.
    pub way: Way,
    /// Whether this leak was found; else it is the most that the hold cannot exclude.
    pub is_found: bool,
    /// How it ends.
    pub end: End,
    /// Movement from the end of the hold to that end, m.
    pub sink_m: Range,
    /// Time until nearly all of that is done, or to the end of the stroke, s.
    pub time_s: Range,
    /// Cap-end pressure then, Pa gauge.
    pub p_cap_pa: Range,
    /// Rod-end pressure then, Pa gauge.
    pub p_rod_pa: Range,
    /// Speed of the rod then, m/s, positive inwards.
    pub speed_m_s: Range,
    /// Movement after [`PARKED_S`], m.
    pub parked_sink_m: Range,
    /// Pressures after [`PARKED_S`], cap and rod, Pa gauge.
    pub parked_pa: [Range; 2],
    /// What cooling by 10 K on the way there adds to it, m.
    pub cooled_sink_m: f64,
    /// Highest pressures up to then, cap and rod, Pa gauge; the most of their ranges.
    pub highest_pa: [f64; 2],
}

/// A rating that could be exceeded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hazard {
    /// Which end.
    pub chamber: Chamber,
    /// What its pressure could climb to, Pa gauge.
    pub pressure_pa: f64,
    /// Its rating, Pa gauge.
    pub rating_pa: f64,
    /// What makes it climb.
    pub cause: Cause,
}

/// What makes a pressure climb.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// A leak from side to side.
    Leak,
    /// Oil that warms by 10 K in a full, shut chamber.
    Warming,
}

/// Part of a rating from which on there is a warning (as before a start).
const RATING_PART: f64 = 0.9;

impl Forecast {
    /// Finds the ratings that could be exceeded within [`PARKED_S`].
    pub fn weigh(&mut self, ratings: &Ratings) {
        let warmed = |chamber| match chamber {
            Chamber::Cap => self.start.p_cap_pa + self.warmed_gain_pa[0],
            Chamber::Rod => self.start.p_rod_pa + self.warmed_gain_pa[1],
        };
        let mut hazards = Vec::new();
        for (index, chamber) in [Chamber::Cap, Chamber::Rod].into_iter().enumerate() {
            let Some(rating_pa) = ratings.of(chamber).map(GaugePressure::pa) else {
                continue;
            };
            let by_leak = self.outlooks.iter().map(|o| o.highest_pa[index]);
            let by_leak = by_leak.fold(f64::NEG_INFINITY, f64::max);
            for (cause, pressure_pa) in [(Cause::Leak, by_leak), (Cause::Warming, warmed(chamber))]
            {
                if pressure_pa > RATING_PART * rating_pa {
                    hazards.push(Hazard {
                        chamber,
                        pressure_pa,
                        rating_pa,
                        cause,
                    });
                    break;
                }
            }
        }
        self.hazards = hazards;
    }
}

/// What is to come after a fitted hold. None for a piece whose rod stands on its end, or that
/// another cylinder takes load from or gives it to.
pub(super) fn forecast(
    solution: &Solution<'_>,
    subject: &Subject,
    evaluation: &Evaluation,
) -> Option<Forecast> {
    if subject.circuit.rod == RodHold::Bottomed || subject.circuit.beside.is_some() {
        return None;
    }
    let start = tight(solution, subject)?;
    let totals = totals(solution, evaluation)?;
    let outlooks = ways::ways(&totals, &start, subject)
        .into_iter()
        .map(|way| outlook(&start, &way, solution))
        .collect();
    let moment = start.now();
    let warmed = start.cooled(-10.0);
    Some(Forecast {
        start: moment,
        is_locked: start.is_locked,
        holding: subject.circuit.holding_chamber(),
        load_n: start.load_n(),
        around_k: around_k(solution),
        cooled_sink_m: moment.x_m - start.cooled(10.0).x_m,
        warmed_gain_pa: [
            warmed.p_cap_pa - moment.p_cap_pa,
            warmed.p_rod_pa - moment.p_rod_pa,
        ],
        outlooks,
        hazards: Vec::new(),
    })
}

fn last(solution: &Solution<'_>, role: Role) -> Option<f64> {
    let signal = solution.balance.series.signal(role)?;
    signal.smooth.last().copied()
}

fn around_k(solution: &Solution<'_>) -> Option<f64> {
    last(solution, Role::WallTemperature).filter(|_| last(solution, Role::OilTemperature).is_some())
}

/// The piece as it stands at the end of the hold, without its leaks.
fn tight<'a>(solution: &'a Solution<'_>, subject: &Subject) -> Option<Standing<'a>> {
    let balance = &solution.balance;
    let theta = &solution.posterior.theta;
    let state = balance.state(theta, Copy::Smooth);
    let x_m = *state.x.last()?;
    let circuit = &subject.circuit;
    let warmer_k = around_k(solution)
        .zip(last(solution, Role::OilTemperature))
        .map_or(0.0, |(around, oil)| oil - around);
    let side = |chamber: Chamber, pressure_pa: f64| {
        let volume = balance
            .cylinder
            .volume(chamber, Length::new::<meter>(x_m))
            .value;
        let extra_m3 = match chamber {
            Chamber::Cap => circuit.cap_hose.value,
            Chamber::Rod => circuit.rod_hose.value,
        };
        let has_area = balance.cylinder.area(chamber).value > 0.0;
        Side {
            pressure_pa,
            oil: balance.aerated(theta, chamber),
            give_per_pa: balance.softness(theta, chamber, volume, 0.0) / (volume + extra_m3),
            extra_m3,
            is_open: circuit.port(chamber) == Port::OpenToVessel || !has_area,
            opens_at_pa: None,
            warmer_k,
        }
    };
    let tau = balance.layout.index(P::LnTau).map(|i| theta[i].exp());
    Some(Standing {
        cylinder: balance.cylinder,
        x_m,
        is_locked: circuit.rod == RodHold::Locked,
        cap: side(Chamber::Cap, *state.p_cap.last()?),
        rod: side(Chamber::Rod, *state.p_rod.last()?),
        piston: TIGHT,
        cap_out: TIGHT,
        rod_out: TIGHT,
        swelling_per_k: balance.oil.trapped_expansion_per_k(),
        heat_time_s: tau.unwrap_or(0.0),
    })
}

/// The totals at the end of the hold with their intervals, and the laws that carry them on.
fn totals(solution: &Solution<'_>, evaluation: &Evaluation) -> Option<Totals> {
    let balance = &solution.balance;
    let flows = |theta: &Vector| balance.flows(theta, Copy::Smooth);
    let at_end = |flow: &[f64]| flow.last().copied().unwrap_or(0.0);
    let range = |derived: &dyn Fn(&Vector) -> f64, figure: Option<FigureName>| {
        let (found, _) = solution.derive(derived);
        // What widens the figure (heat nobody sees, viscosity) widens this too.
        let own = figure
            .and_then(|name| evaluation.figure(name))
            .map_or(0.0, |f| 0.5 * (f.upper_si - f.lower_si));
        let half = (coverage_factor(None) * found.standard_si).max(own);
        ways::Total {
            value: found.value_si,
            half,
        }
    };
    let loss = range(
        &|theta| at_end(&flows(theta).cap),
        Some(FigureName::CapLoss),
    );
    let gain = range(
        &|theta| at_end(&flows(theta).rod),
        Some(FigureName::RodGain),
    );
    let out = range(
        &|theta| {
            let flows = flows(theta);
            at_end(&flows.cap) - at_end(&flows.rod)
        },
        None,
    );
    let theta = &solution.posterior.theta;
    let exponent = |p: P| {
        balance
            .layout
            .index(p)
            .map_or(1.0, |i| theta[i].clamp(0.4, 1.6))
    };
    Some(Totals {
        loss: evaluation.figure(FigureName::CapLoss).map(|_| loss),
        gain: evaluation.figure(FigureName::RodGain).map(|_| gain),
        out,
        piston_exponent: exponent(P::PistonExponent),
        port_exponent: exponent(P::PortExponent),
    })
}

/// One way followed with its flow and its stiffness at both ends of what is known.
fn outlook(start: &Standing<'_>, way: &ways::Case, solution: &Solution<'_>) -> Outlook {
    let run = |flows: &Flows, stiffer: f64| {
        let mut standing = way.leaking(start, flows);
        for side in [&mut standing.cap, &mut standing.rod] {
            side.oil.stiffness_pa *= stiffer;
            side.give_per_pa /= stiffer;
        }
        standing.follow(LONGEST_S)
    };
    // With both sides joined by a leak, all the oil shrinks under the small area of the rod.
    let mut cooling = way.leaking(start, &way.likely);
    cooling.cap.warmer_k += 10.0;
    cooling.rod.warmer_k += 10.0;
    let cooled = cooling.follow(PARKED_S);
    let part = stiffness_part(start, solution);
    let nominal = run(&way.likely, 1.0);
    let others = [
        [run(&way.least, 1.0), run(&way.most, 1.0)],
        [run(&way.likely, 1.0 - part), run(&way.likely, 1.0 + part)],
    ];
    let range = |of: &dyn Fn(&Course) -> f64| {
        let middle = of(&nominal);
        // Flow and stiffness are independent: their effects add up in squares.
        let reach = |sign: f64| {
            let effect = |pair: &[Course; 2]| {
                pair.iter()
                    .map(|c| sign * (of(c) - middle))
                    .fold(0.0, f64::max)
                    .powi(2)
            };
            others.iter().map(effect).sum::<f64>().sqrt()
        };
        Range {
            least: middle - reach(-1.0),
            most: middle + reach(1.0),
        }
    };
    let parked = |c: &Course| {
        if c.end == End::StrokeEnd && c.last().time_s <= PARKED_S {
            c.last_free()
        } else {
            c.at(PARKED_S)
        }
    };
    let highest = |of: &dyn Fn(&Moment) -> f64| {
        let so_far = |c: &Course| {
            let moments = c.moments.iter().filter(|m| m.time_s <= PARKED_S);
            moments.map(of).fold(of(&parked(c)), f64::max)
        };
        range(&so_far).most
    };
    let first = start.now();
    Outlook {
        way: way.way,
        is_found: way.is_found,
        end: nominal.end,
        sink_m: range(&|c| first.x_m - c.last().x_m),
        time_s: range(&|c| match c.end {
            End::StrokeEnd => c.last().time_s,
            End::Rest | End::GoesOn => c.time_of_part(DONE),
        }),
        p_cap_pa: range(&|c| c.last_free().p_cap_pa),
        p_rod_pa: range(&|c| c.last_free().p_rod_pa),
        speed_m_s: range(&|c| -c.last_speed()),
        parked_sink_m: range(&|c| first.x_m - c.at(PARKED_S).x_m),
        parked_pa: [
            range(&|c| parked(c).p_cap_pa),
            range(&|c| parked(c).p_rod_pa),
        ],
        cooled_sink_m: nominal.at(PARKED_S).x_m - cooled.at(PARKED_S).x_m,
        highest_pa: [highest(&|m| m.p_cap_pa), highest(&|m| m.p_rod_pa)],
    }
}

/// How far the stiffness of the oil may be off, as a part of it.
fn stiffness_part(start: &Standing<'_>, solution: &Solution<'_>) -> f64 {
    let (chamber, side) = if solution.balance.layout.cap_live {
        (Chamber::Cap, &start.cap)
    } else {
        (Chamber::Rod, &start.rod)
    };
    let at = GaugePressure::from_pa(side.pressure_pa);
    let (found, _) =
        solution.derive(&|theta| solution.balance.aerated(theta, chamber).tangent(at).value);
    (coverage_factor(None) * found.standard_si / found.value_si).clamp(0.0, 0.5)
}
