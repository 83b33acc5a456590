//! A step of a procedure: what a person does, and what is then recorded.
//!
//! Plain data, already for one unit: pressures and places are absolute. Carrying steps out
//! is the state machine of `bench`; reading them from a file is `settings`.

use super::HoldPlan;
use super::reading::Asked;
use crate::cylinder::Chamber;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::PressureRate;
use crate::quantity::Time;

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Its name in data: lower-case letters, digits and dashes; empty for the only hold of
    /// a test without a procedure.
    pub id: String,
    /// Its name for people.
    pub title: String,
    /// What to do before it, one imperative sentence each.
    pub tell: Vec<String>,
    /// Where it comes from, and how sure that is.
    pub source: String,
    /// What is done.
    pub act: Act,
}

/// What is done in a step, once a person says that it can be.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// Nothing is recorded: the person's word is all.
    Confirm,
    /// Both sides stand open to the atmosphere, and the pressure sensors ought to show zero.
    Vented {
        /// For how long.
        length: Time,
        /// Within what length the rod comes back to the place where it stands at each such
        /// step; None where it may stand anywhere.
        place_within: Option<Length>,
    },
    /// The rod goes full strokes out and in.
    Strokes {
        /// How many, at least 1.
        count: u32,
        /// Their nominal length.
        stroke: Length,
    },
    /// The rod end is shut, and the free rod squeezes it while the cap end is raised slowly:
    /// how stiff its oil is shows how much air is in it.
    Squeeze {
        /// What the cap end is raised to.
        reach: Reach,
    },
    /// A pressure is kept for a while by whatever keeps it, for people to look and for the
    /// piece to bear.
    Dwell {
        /// What is to be reached.
        reach: Reach,
        /// For how long.
        length: Time,
    },
    /// A side is shut and left alone: what it loses is measured.
    Hold(Hold),
    /// A person reads or sees something and says what.
    Reading(Asked),
}

/// A side that is shut and left alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// What is to be reached first; None where recording begins at once.
    pub reach: Option<Reach>,
    /// How long to settle at least, and how long to count.
    pub plan: HoldPlan,
    /// When it has settled; None where the time alone says so.
    pub steady: Option<Steady>,
}

/// A pressure, and a place in the stroke, to be reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Which end is brought to the pressure.
    pub chamber: Chamber,
    /// To which.
    pub pressure: GaugePressure,
    /// What the other end is charged to; None where nobody asks.
    pub other: Option<GaugePressure>,
    /// Extension of the rod; None where any will do.
    pub at: Option<Length>,
}

/// When a side has settled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steady {
    /// Largest change of the pressure's rate from one window to the next.
    pub bend_most: PressureRate,
    /// Length of a window.
    pub window: Time,
    /// Longest time that is waited for it.
    pub at_most: Time,
}

/// Part of the asked pressure that may lack, and that may be too much.
pub const REACHED_FROM: f64 = 0.95;
/// See [`REACHED_FROM`].
pub const REACHED_TO: f64 = 1.10;

/// A hold ends when this part of the asked pressure is left: below it the figures would be of
/// another pressure, and air could not be told from a leak.
pub const ENDS_BELOW: f64 = 0.5;

/// How near the asked place the rod must stand, m (common practice, no source).
pub const PLACE_WITHIN_M: f64 = 10e-3;

/// Name of a phase of a step in a recording: `step/phase`, or the phase alone.
pub fn phase_name(id: &str, phase: &str) -> String {
    match id.is_empty() {
        true => phase.into(),
        false => format!("{id}/{phase}"),
    }
}

impl Reach {
    /// Whether pressures in Pa gauge and extension in m are what was asked.
    pub fn is_met(&self, own_pa: Option<f64>, other_pa: Option<f64>, x_m: Option<f64>) -> bool {
        let wanted_pa = self.pressure.pa();
        let own = own_pa
            .is_some_and(|pa| (REACHED_FROM * wanted_pa..=REACHED_TO * wanted_pa).contains(&pa));
        let other = self.other.is_none_or(|wanted| {
            other_pa.is_some_and(|pa| (pa - wanted.pa()).abs() <= 0.2 * wanted.pa().abs() + 1e5)
        });
        own && other && self.is_at_place(x_m)
    }

    /// Whether the rod stands where it was asked to.
    pub fn is_at_place(&self, x_m: Option<f64>) -> bool {
        self.at
            .is_none_or(|at| x_m.is_some_and(|x| (x - at.value).abs() <= PLACE_WITHIN_M))
    }
}

impl Step {
    /// A test without a procedure: one hold that begins with the recording.
    pub fn only_hold(plan: HoldPlan) -> Self {
        Self {
            id: String::new(),
            title: String::new(),
            tell: Vec::new(),
            source: String::new(),
            act: Act::Hold(Hold {
                reach: None,
                plan,
                steady: None,
            }),
        }
    }

    /// Whether a person is asked before it.
    pub fn asks_first(&self) -> bool {
        !self.id.is_empty() && !matches!(self.act, Act::Reading(_))
    }

    /// What is to be reached before its time counts.
    pub fn reach(&self) -> Option<&Reach> {
        match &self.act {
            Act::Dwell { reach, .. } | Act::Squeeze { reach } => Some(reach),
            Act::Hold(hold) => hold.reach.as_ref(),
            Act::Confirm | Act::Vented { .. } | Act::Strokes { .. } | Act::Reading(_) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::millimeter;

    #[test]
    fn a_pressure_is_reached_within_its_band_and_at_its_place() {
        let reach = Reach {
            chamber: Chamber::Cap,
            pressure: GaugePressure::from_bar(160.0),
            other: Some(GaugePressure::from_bar(15.0)),
            at: Some(Length::new::<millimeter>(200.0)),
        };
        let met = |own: f64, other: f64, x_mm: f64| {
            reach.is_met(Some(own * 1e5), Some(other * 1e5), Some(x_mm * 1e-3))
        };
        assert!(met(160.0, 15.0, 200.0) && met(152.0, 12.0, 209.0) && met(176.0, 18.9, 191.0));
        assert!(!met(151.9, 15.0, 200.0) && !met(176.1, 15.0, 200.0));
        assert!(!met(160.0, 10.9, 200.0) && !met(160.0, 15.0, 211.0));
        // What cannot be read was not reached.
        assert!(!reach.is_met(None, Some(15e5), Some(0.2)));
        assert!(!reach.is_met(Some(160e5), Some(15e5), None));
    }

    #[test]
    fn phases_of_a_step_carry_its_name() {
        assert_eq!(phase_name("", "hold"), "hold");
        assert_eq!(phase_name("seal-mid", "hold"), "seal-mid/hold");
    }
}
