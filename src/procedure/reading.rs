//! What a person reads or sees during a procedure, and how it is typed.
//!
//! What was understood is always said back with its unit. Nothing is guessed: a number
//! without a unit, or one that mixes comma and point, is asked for again.

use crate::cylinder::Chamber;
use crate::quantity::Quantity;
use crate::quantity::Time;
use crate::quantity::Volume;
use crate::quantity::parse;

/// What is asked of a person.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Asked {
    /// Oil caught in a cup over a time, with the one-sigma uncertainty of reading it.
    Collected {
        /// How well the cup is read.
        standard: Volume,
    },
    /// Drops over a time, each of a size that was stated with its one-sigma uncertainty.
    Drops {
        /// Size of a drop.
        drop: Volume,
        /// How well that is known.
        standard: Volume,
    },
    /// Oil that comes out into a glass while the pressure of an end that was held is let off, with
    /// the one-sigma uncertainty of reading the glass.
    LetOff {
        /// Which end.
        chamber: Chamber,
        /// How well the glass is read.
        standard: Volume,
    },
    /// How wet the outside is, by the scale of ISO/TR 11340.
    OutsideClass,
    /// Words.
    Note,
}

/// What was understood.
#[derive(Debug, Clone, PartialEq)]
pub enum Understood {
    /// A flow, mean over the time, with its standard uncertainty, m³/s.
    Flow {
        /// The flow.
        m3_per_s: f64,
        /// One sigma.
        standard_m3_per_s: f64,
    },
    /// An amount of oil with its standard uncertainty, m³.
    Oil {
        /// The amount.
        m3: f64,
        /// One sigma.
        standard_m3: f64,
    },
    /// A class of [`CLASSES`].
    Class(u8),
    /// Words.
    Note(String),
}

/// External leakage by what is seen (ISO/TR 11340, from a secondary copy, in our words).
pub const CLASSES: [&str; 6] = [
    "dry",
    "moist once, does not come again",
    "moist again after wiping, no drop forms",
    "a drop forms and does not fall",
    "a drop forms and falls",
    "drops so often that they run",
];

/// How well a person starts and stops a watch, s, one sigma (common practice, no source).
const WATCH_S: f64 = 0.5;

impl Asked {
    /// How it is typed, as an example.
    pub fn example(self) -> &'static str {
        match self {
            Self::Collected { .. } => "3,2 mL in 5 min",
            Self::Drops { .. } => "12 drops in 60 s",
            Self::LetOff { .. } => "8,5 mL",
            Self::OutsideClass => "2",
            Self::Note => "seal lip nicked",
        }
    }

    /// Reads what was typed.
    ///
    /// # Errors
    /// With what is wrong and how to type it.
    pub fn understood(self, text: &str) -> Result<Understood, String> {
        let text = text.trim();
        match self {
            Self::Collected { standard } => {
                let (amount, time_s) = amount_and_time(text, self.example())?;
                let volume = parse::<Volume>(amount).map_err(|e| e.to_string())?;
                flow(volume.quantity.si(), standard.si(), time_s, text)
            }
            Self::Drops { drop, standard } => {
                let (amount, time_s) = amount_and_time(text, self.example())?;
                let bare = amount.strip_suffix("drops").or(amount.strip_suffix("drop"));
                let count = bare.map(str::trim).and_then(|n| n.parse::<u32>().ok());
                let count =
                    count.ok_or_else(|| format!("`{text}`: type it as \"{}\"", self.example()))?;
                let count = f64::from(count);
                // A drop more or less hangs at either end of the time.
                let one_more = drop.si();
                let sizes = count * standard.si();
                flow(count * drop.si(), sizes.hypot(one_more), time_s, text)
            }
            Self::LetOff { standard, .. } => {
                let volume = parse::<Volume>(text).map_err(|e| e.to_string())?;
                let m3 = volume.quantity.si();
                match m3 >= 0.0 {
                    true => Ok(Understood::Oil {
                        m3,
                        standard_m3: standard.si(),
                    }),
                    false => Err(below_zero(text)),
                }
            }
            Self::OutsideClass => {
                let class = text
                    .parse::<u8>()
                    .ok()
                    .filter(|c| usize::from(*c) < CLASSES.len());
                class.map(Understood::Class).ok_or_else(|| {
                    let all: Vec<String> = CLASSES
                        .iter()
                        .enumerate()
                        .map(|(class, words)| format!("{class} {words}"))
                        .collect();
                    format!(
                        "`{text}` is no class; type one number of: {}",
                        all.join("; ")
                    )
                })
            }
            Self::Note if text.is_empty() => Err("a note needs words".into()),
            Self::Note => Ok(Understood::Note(text.into())),
        }
    }
}

/// The two sides of "in".
fn amount_and_time<'a>(text: &'a str, example: &str) -> Result<(&'a str, f64), String> {
    let again = || format!("`{text}`: type the amount and the time, as \"{example}\"");
    let (amount, time) = text.rsplit_once(" in ").ok_or_else(again)?;
    let time = parse::<Time>(time).map_err(|e| e.to_string())?;
    let time_s = time.quantity.si();
    match time_s > 0.0 {
        true => Ok((amount.trim(), time_s)),
        false => Err(format!("`{text}`: the time must be above zero")),
    }
}

fn below_zero(text: &str) -> String {
    format!("`{text}`: an amount cannot be below zero")
}

fn flow(m3: f64, standard_m3: f64, time_s: f64, text: &str) -> Result<Understood, String> {
    if m3 < 0.0 {
        return Err(below_zero(text));
    }
    let m3_per_s = m3 / time_s;
    Ok(Understood::Flow {
        m3_per_s,
        standard_m3_per_s: (standard_m3 / time_s).hypot(m3_per_s * WATCH_S / time_s),
    })
}

impl Understood {
    /// Said back to who typed it, with units.
    pub fn said_back(&self) -> String {
        match self {
            Self::Flow {
                m3_per_s,
                standard_m3_per_s,
            } => format!(
                "{:.3} mL/min, ± {:.3} mL/min",
                m3_per_s * 60e6,
                1.96 * standard_m3_per_s * 60e6
            ),
            Self::Oil { m3, standard_m3 } => {
                format!("{:.1} mL, ± {:.1} mL", m3 * 1e6, 1.96 * standard_m3 * 1e6)
            }
            Self::Class(class) => format!("class {class}: {}", CLASSES[usize::from(*class)]),
            Self::Note(words) => words.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::milliliter;

    const CUP: fn() -> Asked = || Asked::Collected {
        standard: Volume::new::<milliliter>(0.1),
    };

    /// 3.2 mL in 5 min are 0.64 mL/min; 0.1 mL of reading are 0.02, and half a second of 300
    /// another 0.001: ± 0.039 for 95 % (computed).
    #[test]
    fn a_cup_is_read_with_comma_or_point_and_said_back() {
        for text in ["3,2 mL in 5 min", "3.2 ml in 300 s", " 3.2mL in 5min "] {
            let found = CUP().understood(text).expect(text);
            assert_eq!(found.said_back(), "0.640 mL/min, ± 0.039 mL/min", "{text}");
        }
    }

    const GLASS: fn() -> Asked = || Asked::LetOff {
        chamber: Chamber::Cap,
        standard: Volume::new::<milliliter>(0.5),
    };

    /// Half a millilitre of reading is ± 0.98 for 95 % (computed).
    #[test]
    fn a_glass_is_read_with_comma_or_point_and_said_back() {
        for text in ["8,5 mL", "8.5 ml", " 8.5mL "] {
            let found = GLASS().understood(text).expect(text);
            assert_eq!(found.said_back(), "8.5 mL, ± 1.0 mL", "{text}");
        }
        let none = GLASS().understood("0 mL").expect("none");
        assert_eq!(none.said_back(), "0.0 mL, ± 1.0 mL");
    }

    /// Twelve drops of 0.05 mL in a minute are 0.6 mL/min; sizes known to 20 % and one drop
    /// more or less: u = hypot(12·0.01, 0.05) mL = 0.13 (computed), the watch adds 0.005.
    #[test]
    fn drops_have_the_size_that_was_stated() {
        let drops = Asked::Drops {
            drop: Volume::new::<milliliter>(0.05),
            standard: Volume::new::<milliliter>(0.01),
        };
        let Ok(Understood::Flow {
            m3_per_s,
            standard_m3_per_s,
        }) = drops.understood("12 drops in 60 s")
        else {
            panic!("a flow");
        };
        assert!((m3_per_s * 60e6 - 0.6).abs() < 1e-12);
        assert!((standard_m3_per_s * 60e6 - 0.1301).abs() < 1e-4);
        // No drop at all is still one more or less.
        let none = drops.understood("0 drops in 60 s").expect("none");
        assert_eq!(none.said_back(), "0.000 mL/min, ± 0.098 mL/min");
    }

    #[track_caller]
    fn refused(asked: Asked, text: &str, part: &str) {
        let error = asked.understood(text).expect_err(text);
        assert!(error.contains(part), "{text}: {error}");
    }

    #[test]
    fn what_would_be_a_guess_is_asked_for_again() {
        refused(CUP(), "3.2", "amount and the time");
        refused(CUP(), "3.2 mL", "amount and the time");
        refused(CUP(), "3.2 in 5 min", "unit");
        refused(CUP(), "1.234,5 mL in 5 min", "decimal sign");
        refused(CUP(), "3.2 mL in 0 s", "above zero");
        refused(CUP(), "-1 mL in 5 min", "below zero");
        refused(GLASS(), "8.5", "unit");
        refused(GLASS(), "8.5 bar", "bar");
        refused(GLASS(), "-1 mL", "below zero");
        refused(GLASS(), "1.234,5 mL", "decimal sign");
        refused(Asked::OutsideClass, "6", "no class");
        refused(
            Asked::OutsideClass,
            "wet",
            "3 a drop forms and does not fall",
        );
        refused(Asked::Note, "  ", "words");
    }

    #[test]
    fn a_class_is_said_back_in_words() {
        let class = Asked::OutsideClass.understood("4").expect("a class");
        assert_eq!(class.said_back(), "class 4: a drop forms and falls");
    }
}
