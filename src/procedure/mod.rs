//! What a test asks for: the steps of a procedure, how long to settle, how long to hold.
//!
//! A plan is plain data, checked when it is made. Carrying it out is the state
//! machine of `bench`; reading it from a file is `settings`.

mod hazard;
mod isolation;
mod looks;
mod reading;
mod step;
mod steps;
mod strokes;

pub use hazard::driven_hazards;
pub use hazard::hazards;
pub use isolation::IsolationPlan;
pub use isolation::PlannedPhase;
pub use isolation::TooSmall;
pub use isolation::isolation_plan;
pub use looks::LEAST_READINGS;
pub use looks::SHORTEST_BY_EYE_S;
pub use looks::WINDOWS_BY_EYE;
pub use looks::eye_window_s;
pub use looks::looks_s;
pub use reading::Asked;
pub use reading::CLASSES;
pub use reading::Understood;
pub use step::Act;
pub use step::ENDS_BELOW;
pub use step::Hold;
pub use step::PLACE_WITHIN_M;
pub use step::REACHED_FROM;
pub use step::REACHED_TO;
pub use step::Reach;
pub use step::Steady;
pub use step::Step;
pub use step::phase_name;
pub use steps::STEPS_TO_CROSS;
pub use steps::needed_hold;
pub use strokes::StrokeCount;

use crate::quantity::Time;
use crate::quantity::unit::second;

/// Shortest hold that is evaluated; below it no figure is given, s.
pub const SHORTEST_HOLD_S: f64 = 10.0;

/// Longest hold that is planned, s (two days).
pub const LONGEST_HOLD_S: f64 = 172_800.0;

/// Name of the phase before the hold counts.
pub const SETTLE: &str = "settle";

/// Name of the phase that counts.
pub const HOLD: &str = "hold";

/// Name of a phase in which both sides stand open to the atmosphere.
pub const VENTED: &str = "vented";

/// Name of a phase of full strokes.
pub const STROKES: &str = "strokes";

/// Name of a phase in which a shut side is squeezed by the rod.
pub const SQUEEZE: &str = "squeeze";

/// Name of a phase in which a pressure is kept.
pub const DWELL: &str = "dwell";

/// One hold: settle first, then count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldPlan {
    settle: Time,
    length: Time,
    until_decided: bool,
}

/// Why times make no plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// The hold is too short or too long.
    #[error(
        "a hold of {length_s} s cannot be evaluated; choose {SHORTEST_HOLD_S} s to {LONGEST_HOLD_S} s"
    )]
    Length {
        /// Length asked for, s.
        length_s: f64,
    },
    /// The settling time is negative or too long.
    #[error("a settling time of {settle_s} s makes no sense; choose 0 s to {LONGEST_HOLD_S} s")]
    Settle {
        /// Settling time asked for, s.
        settle_s: f64,
    },
}

impl HoldPlan {
    /// Checks the two times.
    ///
    /// # Errors
    /// If the hold is shorter than [`SHORTEST_HOLD_S`] or either time is out of reason.
    pub fn new(settle: Time, length: Time) -> Result<Self, PlanError> {
        let (settle_s, length_s) = (settle.get::<second>(), length.get::<second>());
        if !(SHORTEST_HOLD_S..=LONGEST_HOLD_S).contains(&length_s) {
            return Err(PlanError::Length { length_s });
        }
        if !(0.0..=LONGEST_HOLD_S).contains(&settle_s) {
            return Err(PlanError::Settle { settle_s });
        }
        Ok(Self {
            settle,
            length,
            until_decided: false,
        })
    }

    /// The same, but the hold may end before its length as soon as it is decided.
    #[must_use]
    pub fn ending_as_decided(self) -> Self {
        Self {
            until_decided: true,
            ..self
        }
    }

    /// Whether the hold ends as soon as it is decided; its length is the longest then.
    pub fn ends_as_decided(&self) -> bool {
        self.until_decided
    }

    /// Time from the start of the recording to the start of the hold.
    pub fn settle(&self) -> Time {
        self.settle
    }

    /// Length of the counted hold; the longest where it ends as decided.
    pub fn length(&self) -> Time {
        self.length
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hold_of_ten_seconds_is_the_shortest() {
        let plan = |s: f64| HoldPlan::new(Time::new::<second>(0.0), Time::new::<second>(s));
        assert!(plan(10.0).is_ok());
        assert!(plan(9.9).is_err());
        assert!(plan(f64::NAN).is_err());
    }
}
