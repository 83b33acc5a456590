//! Whether an answer is right.

use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Standing;

/// Less than this is no leak that anybody means, m³/s (0.003 mL/min).
const FILM_M3_PER_S: f64 = 0.003e-6 / 60.0;

/// An interval missed by more than this of itself is wrong.
const BESIDE: f64 = 1.5;

/// What an answer is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Score {
    /// It says what is so.
    Right,
    /// It says that it cannot tell.
    CannotTell,
    /// It blames a sound part.
    Blamed,
    /// It clears a part that leaks.
    Cleared,
    /// It says leaking, and is far beside how much.
    Beside,
    /// Nothing was asked.
    NotAsked,
}

impl Score {
    /// Its word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Right => "right",
            Self::CannotTell => "cannot_tell",
            Self::Blamed => "wrong_blamed",
            Self::Cleared => "wrong_cleared",
            Self::Beside => "wrong_beside",
            Self::NotAsked => "not_asked",
        }
    }

    /// That of an answer, with its true flow and the flow that does not matter, m³/s.
    pub fn of(answer: &Answer, truth: f64, small: f64) -> Self {
        match answer.standing {
            Standing::NotDriven => Self::NotAsked,
            Standing::Open { .. } | Standing::NotValid => Self::CannotTell,
            Standing::Tight if truth > small => Self::Cleared,
            Standing::Tight | Standing::AtSetting => Self::Right,
            Standing::Leaks if truth < 0.1 * small && truth < FILM_M3_PER_S => Self::Blamed,
            Standing::Leaks => {
                let best = answer.best_m3_per_s;
                let lower = best - BESIDE * (best - answer.lower_m3_per_s);
                let upper = best + BESIDE * (answer.upper_m3_per_s - best);
                match (lower..=upper).contains(&truth) {
                    true => Self::Right,
                    false => Self::Beside,
                }
            }
        }
    }
}

/// One word for a standing.
pub fn word(standing: &Standing) -> &'static str {
    match standing {
        Standing::Leaks => "leaks",
        Standing::Tight => "tight",
        Standing::Open { .. } => "open",
        Standing::NotDriven => "not_driven",
        Standing::AtSetting => "at_setting",
        Standing::NotValid => "not_valid",
    }
}
