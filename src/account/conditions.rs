//! For which state of the piece figures are stated, and how flows are carried there.
//!
//! A flow is stated as it was at the start of the hold, or carried from there to the
//! pressure and temperature that the shop's limit is for, as far as a leak law can be
//! trusted.

use super::Subject;
use super::figure::Conditions;
use super::layout::P;
use super::series::HoldSeries;
use super::solution::Solution;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::fit::Vector;
use crate::oil::Oil;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;

/// The channel of a chamber's pressure.
pub(super) fn pressure_role(chamber: Chamber) -> Role {
    match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    }
}

/// State of the piece at a bin.
pub(super) fn conditions(series: &HoldSeries, subject: &Subject, bin: usize) -> Conditions {
    of_each(subject, |role| {
        series.signal(role).and_then(|s| s.smooth.get(bin)).copied()
    })
}

/// State of the piece, means over the counted hold.
pub(super) fn over_hold(series: &HoldSeries, subject: &Subject) -> Conditions {
    of_each(subject, |role| {
        let raw = &series.signal(role)?.raw;
        (!raw.is_empty()).then(|| raw.iter().sum::<f64>() / raw.len() as f64)
    })
}

fn of_each(subject: &Subject, at: impl Fn(Role) -> Option<f64>) -> Conditions {
    Conditions {
        p_cap_pa: at(Role::CapPressure),
        p_rod_pa: at(Role::RodPressure),
        p_holding_pa: at(pressure_role(subject.circuit.holding_chamber())),
        t_oil_k: at(Role::OilTemperature),
        x_m: at(Role::Position),
    }
}

/// Conditions that flows are stated at, and the ratios that carry them there.
pub(super) struct At {
    /// The conditions.
    pub at: Conditions,
    pressure_ratio: f64,
    viscosity_ratio: f64,
}

impl At {
    /// Both flows carried there: out of the cap side and into the rod side.
    pub fn carried_both(&self, solution: &Solution<'_>, theta: &Vector) -> [f64; 2] {
        solution.flows_at_start(theta, self.pressure_ratio, self.viscosity_ratio)
    }

    /// A flow carried there.
    pub fn carried(&self, solution: &Solution<'_>, theta: &Vector, side: P) -> f64 {
        solution.flow_at_start(theta, side, self.pressure_ratio, self.viscosity_ratio)
    }
}

/// How far a leak law may be carried in pressure, as a ratio, and in temperature, K.
const CARRIED_RATIO: std::ops::RangeInclusive<f64> = 0.8..=1.25;
const CARRIED_K: f64 = 15.0;

/// What flows of a solution are stated for.
pub(super) fn stated(solution: &Solution<'_>, subject: &Subject) -> At {
    let mut at = conditions(solution.balance.series, subject, 0);
    let (mut pressure_ratio, mut viscosity_ratio) = (1.0, 1.0);
    if let (Some(wanted), Some(found)) = (subject.stated.pressure, at.p_holding_pa) {
        let ratio = wanted.pa() / found;
        // Further off a leak law is a guess; the figure then stays where it was measured.
        if CARRIED_RATIO.contains(&ratio) {
            pressure_ratio = ratio;
            at.p_holding_pa = Some(wanted.pa());
            match subject.circuit.holding_chamber() {
                Chamber::Cap => at.p_cap_pa = Some(wanted.pa()),
                Chamber::Rod => at.p_rod_pa = Some(wanted.pa()),
            }
        }
    }
    if let (Some(wanted), Some(found)) = (subject.stated.temperature, at.t_oil_k) {
        let viscosity = |k: f64| {
            solution
                .balance
                .oil
                .viscosity(Temperature::new::<kelvin>(k))
                .mm2_per_s()
        };
        let wanted_k = wanted.get::<kelvin>();
        if (wanted_k - found).abs() <= CARRIED_K {
            viscosity_ratio = viscosity(wanted_k) / viscosity(found);
            at.t_oil_k = Some(wanted_k);
        }
    }
    At {
        at,
        pressure_ratio,
        viscosity_ratio,
    }
}

/// By which the oil's viscosity falls at the temperature of the hold (40 °C where nobody
/// measures it), ln by kelvin.
pub(super) fn thinning_per_k(series: &HoldSeries, oil: &Oil) -> f64 {
    let (at, _) = series.oil_k();
    let ln = |k: f64| {
        oil.viscosity(Temperature::new::<kelvin>(k))
            .mm2_per_s()
            .ln()
    };
    0.5 * (ln(at - 1.0) - ln(at + 1.0))
}
