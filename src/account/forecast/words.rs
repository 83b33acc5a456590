//! The forecast as a fitter says it: one or two sentences, and the hazard first.
//!
//! Units of measure are the shop's. Ranges are rounded to what can be read off a ruler or a
//! gauge; the record has the digits.

use super::Cause;
use super::Forecast;
use super::Hazard;
use super::Outlook;
use super::PARKED_S;
use super::RATING_PART;
use super::Range;
use super::Way;
use crate::account::course::EMPTY_PA;
use crate::account::course::End;
use crate::account::met::is_met;
use crate::cylinder::Chamber;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;

/// A rest that is further off than this is not worth a time, s.
const SOON_S: f64 = 48.0 * 3600.0;

/// A pressure below this is none, Pa.
const GONE_PA: f64 = 1e5;

/// Movements below this are not worth words, m.
const SEEN_M: f64 = 1e-4;

impl Hazard {
    /// The warning in one sentence.
    pub fn sentence(&self, units: UnitSystem) -> String {
        self.of(&format!("the {} end", self.chamber.word()), units)
    }

    fn of(&self, end: &str, units: UnitSystem) -> String {
        let pressure = bar(self.pressure_pa, units);
        let rating = bar(self.rating_pa, units);
        let against = if self.pressure_pa > self.rating_pa {
            format!("over the rating of {rating}")
        } else {
            format!(
                "over {:.0} % of the rating of {rating}",
                100.0 * RATING_PART
            )
        };
        match self.cause {
            Cause::Leak => format!(
                "If it is left standing with its ports shut, {end} can climb to {pressure}, {against}: \
                 unload it before you leave it."
            ),
            Cause::Warming => format!(
                "Shut as it is, oil that warms by {} takes {end} to {pressure}, {against}: vent it before you \
                 leave it.",
                ten_kelvin(units)
            ),
        }
    }
}

impl Forecast {
    /// The warnings; one for both ends where they read alike.
    pub fn warnings(&self, units: UnitSystem) -> Vec<String> {
        if let [cap, rod] = &self.hazards[..] {
            let (one, other) = (cap.of("both ends", units), rod.of("both ends", units));
            if one == other {
                return vec![one];
            }
        }
        self.hazards.iter().map(|h| h.sentence(units)).collect()
    }

    /// What is to come, in plain sentences.
    pub fn sentences(&self, units: UnitSystem) -> Vec<String> {
        let found: Vec<&Outlook> = self.outlooks.iter().filter(|o| o.is_found).collect();
        let mut said: Vec<String> = Vec::new();
        match &found[..] {
            [] => said.extend(self.outlooks.first().map(|o| self.at_most(o, units))),
            [only] => {
                let course = self.course(only, units);
                let mut text = format!("If it is left standing and stays as warm, {course}");
                let more = self.outlooks.iter().any(|o| !o.is_found);
                if more && only.end == End::Rest && !self.is_locked {
                    text += ", unless a little oil leaves the cylinder too (this hold cannot exclude it)";
                }
                said.push(text + ".");
            }
            several => {
                for outlook in several {
                    let text = format!(
                        "{}, {}.",
                        self.condition(outlook),
                        self.course(outlook, units)
                    );
                    said.push(text);
                }
            }
        }
        said.extend(self.cooling(units));
        said
    }

    fn condition(&self, outlook: &Outlook) -> &'static str {
        match outlook.way {
            Way::Any => "Either way",
            Way::PastPiston => "If the oil passes the piston and stays inside",
            Way::CapPort => "If it leaves at the cap port",
            Way::OutOfRodSide => "If it leaves on the rod side (gland, port)",
        }
    }

    /// What comes of a leak that was found, without a full stop.
    fn course(&self, outlook: &Outlook, units: UnitSystem) -> String {
        if self.is_locked {
            return self.locked(outlook, units);
        }
        let hours = format!("{:.0} h", PARKED_S / 3600.0);
        let both = self.pressures(outlook, units);
        match outlook.end {
            End::Rest if outlook.sink_m.most.abs() < SEEN_M => {
                format!("the rod stays where it is, {both}")
            }
            End::Rest if outlook.time_s.most < SOON_S => format!(
                "the rod {} {} more and stops within about {}, {both}",
                self.verb(outlook.sink_m),
                moved(outlook.sink_m, units),
                duration(outlook.time_s.most)
            ),
            End::StrokeEnd => format!(
                "the rod {} without stopping, at about {}, to the end of its stroke in about {}",
                self.verb(outlook.speed_m_s),
                speed(outlook.speed_m_s, units),
                duration(outlook.time_s.least)
            ),
            End::GoesOn if is_steady(outlook) => format!(
                "the rod {} without stopping, at about {}: {} in {hours}",
                self.verb(outlook.speed_m_s),
                speed(outlook.speed_m_s, units),
                moved(outlook.parked_sink_m, units)
            ),
            End::Rest | End::GoesOn => format!(
                "the rod {} {} in {hours} and is slow to stop",
                self.verb(outlook.parked_sink_m),
                moved(outlook.parked_sink_m, units)
            ),
        }
    }

    fn locked(&self, outlook: &Outlook, units: UnitSystem) -> String {
        let hours = format!("{:.0} h", PARKED_S / 3600.0);
        let [cap, rod] = outlook.parked_pa;
        if cap.most.max(rod.most) < GONE_PA {
            return format!("its pressure is gone within {hours}");
        }
        format!(
            "after {hours} the cap end reads {} and the rod end {}",
            pressure(cap, units),
            pressure(rod, units)
        )
    }

    /// "sinks" for a rod that a load pushes in or out, "moves" for what is against the load.
    fn verb(&self, sink: Range) -> &'static str {
        let with_load = match self.holding {
            Chamber::Cap => sink.most,
            Chamber::Rod => -sink.least,
        };
        if with_load >= 0.0 {
            "sinks"
        } else {
            "creeps out"
        }
    }

    fn pressures(&self, outlook: &Outlook, units: UnitSystem) -> String {
        let (cap, rod) = (outlook.p_cap_pa, outlook.p_rod_pa);
        let middle = |r: Range| 0.5 * (r.least + r.most);
        if is_met(middle(cap), middle(rod)) {
            format!("with {} on both sides", pressure(cap, units))
        } else if middle(rod) <= 0.9 * EMPTY_PA {
            format!(
                "with {} on the cap side and the rod side drawn empty",
                pressure(cap, units)
            )
        } else {
            format!(
                "with {} on the cap side and {} on the rod side",
                pressure(cap, units),
                pressure(rod, units)
            )
        }
    }

    /// What a leak could do that was not found.
    fn at_most(&self, outlook: &Outlook, units: UnitSystem) -> String {
        let hours = format!("{:.0} h", PARKED_S / 3600.0);
        if self.is_locked {
            let [cap, _] = outlook.parked_pa;
            // Less than a bar is none: nothing is promised then.
            if cap.least < GONE_PA {
                return format!(
                    "No leak was found. What this hold cannot exclude could take all pressure from the cap side within {hours}."
                );
            }
            return format!(
                "No leak was found. Even with all that this hold cannot exclude, the cap side keeps at least {} for {hours}.",
                bar(cap.least, units)
            );
        }
        let sink = outlook.parked_sink_m;
        let most = sink.most.abs().max(sink.least.abs());
        format!(
            "No leak was found. Left standing for {hours}, the rod sinks {} at the most by what this hold cannot \
             exclude.",
            length(most, units)
        )
    }

    /// What cooling does beside the leaks.
    fn cooling(&self, units: UnitSystem) -> Option<String> {
        let kelvin = ten_kelvin(units);
        let each = format!("For each {kelvin} that the oil cools,");
        let mut text = if self.is_locked {
            let [cap, rod] = self.warmed_gain_pa;
            let (end, gain) = match self.holding {
                Chamber::Cap => ("cap", cap),
                Chamber::Rod => ("rod", rod),
            };
            format!(
                "For each {kelvin} that the oil warms, the {end} end gains about {}; cooling takes as much, as if it \
                 leaked.",
                bar(gain, units)
            )
        } else {
            let found = self.outlooks.iter().filter(|o| o.is_found);
            let by_way: Vec<f64> = found.map(|o| o.cooled_sink_m).collect();
            let (sinks, leak) = if by_way.is_empty() {
                (vec![self.cooled_sink_m], " without any leak")
            } else {
                (by_way, "")
            };
            let least = sinks.iter().copied().fold(f64::INFINITY, f64::min);
            let most = sinks.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            // At the end of its stroke it has nowhere to go.
            if least.abs().max(most.abs()) < SEEN_M {
                return None;
            }
            // Oil that shrinks draws the rod towards its chamber: with the load on the cap
            // side, against it where the load hangs.
            let sense = match self.holding {
                Chamber::Cap => "sinks another",
                Chamber::Rod => "rises by",
            };
            let size = moved(Range { least, most }, units);
            format!("{each} the rod {sense} {size}{leak}.").replace("about ", "")
        };
        if let Some(around) = self.around_k {
            let celsius = around - 273.15;
            let around = match units {
                UnitSystem::Metric => format!("{celsius:.0} °C"),
                UnitSystem::Inch => format!("{:.0} °F", celsius * 1.8 + 32.0),
            };
            text += &format!(" (Counted in above: down to the wall's {around}.)");
        }
        Some(text)
    }
}

/// Whether a course that goes on has its final speed.
fn is_steady(outlook: &Outlook) -> bool {
    let speed = 0.5 * (outlook.speed_m_s.least + outlook.speed_m_s.most);
    let mean = 0.5 * (outlook.parked_sink_m.least + outlook.parked_sink_m.most) / PARKED_S;
    speed.abs() > 0.6 * mean.abs()
}

fn ten_kelvin(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Metric => "10 °C",
        UnitSystem::Inch => "18 °F",
    }
}

/// With two significant digits.
fn two_digits(value: f64) -> String {
    number(value, value.abs())
}

/// "14 to 18 mm", or "about 15 mm" where both ends read alike.
fn range(range: Range, factor: f64, unit: &str) -> String {
    let [a, b] = [range.least, range.most].map(|v| two_digits(v.abs() * factor));
    if a == b || range.least * range.most <= 0.0 {
        let middle = 0.5 * (range.least + range.most);
        return format!("about {} {unit}", two_digits(middle.abs() * factor));
    }
    let (small, large) = if range.least.abs() < range.most.abs() {
        (a, b)
    } else {
        (b, a)
    };
    format!("{small} to {large} {unit}")
}

fn moved(of: Range, units: UnitSystem) -> String {
    let (factor, unit) = shown("mm", units);
    range(of, factor, unit)
}

fn speed(of: Range, units: UnitSystem) -> String {
    let (factor, unit) = shown("mm/min", units);
    range(of, factor, unit).replace("about ", "")
}

fn pressure(of: Range, units: UnitSystem) -> String {
    let (factor, unit) = shown("bar", units);
    let [least, most] = [of.least, of.most].map(|p| format!("{:.0}", p * factor));
    if least == most || (of.most - of.least) * 1e-5 < 0.03 * of.most.abs() * 1e-5 {
        return format!("about {:.0} {unit}", 0.5 * (of.least + of.most) * factor)
            .replace("-0", "0");
    }
    format!("{least} to {most} {unit}").replace('-', "−")
}

fn bar(pa: f64, units: UnitSystem) -> String {
    let (factor, unit) = shown("bar", units);
    format!("{:.0} {unit}", pa * factor)
}

fn length(m: f64, units: UnitSystem) -> String {
    let (factor, unit) = shown("mm", units);
    format!("{} {unit}", two_digits(m * factor))
}

fn duration(seconds: f64) -> String {
    let minutes = seconds / 60.0;
    if minutes < 1.5 {
        format!("{:.0} s", seconds.max(1.0))
    } else if minutes < 120.0 {
        let step = match minutes {
            m if m < 20.0 => 1.0,
            m if m < 60.0 => 5.0,
            _ => 10.0,
        };
        format!("{:.0} min", (minutes / step).ceil() * step)
    } else if minutes < 48.0 * 60.0 {
        format!("{:.0} h", (minutes / 60.0).ceil())
    } else {
        format!("{:.0} days", (minutes / 1440.0).ceil())
    }
}
