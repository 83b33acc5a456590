//! Oil that was let off into a glass, against what the cylinder as the setup has it would give.
//!
//! Volume and softness of a locked side are what the setup says, and its loss is reckoned from
//! them. Where the oil that comes out is not what they give, no flow of that end can be believed.

use super::part::Part;
use super::part::Read;
use super::part::Shown;
use super::part::entry;
use super::part::pressure_role;
use crate::account::LetOff;
use crate::account::Measured;
use crate::account::let_off;
use crate::channel::Role;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::health::Flag;
use crate::health::Weight;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::procedure::HOLD;
use crate::procedure::PLACE_WITHIN_M;
use crate::procedure::Understood;
use crate::procedure::phase_name;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::recording::EntryKind;
use crate::recording::Recording;
use crate::settings::PlannedStep;
use crate::settings::Test;
use crate::verdict::Outcome;

/// Time that a pressure is read over, s: until it was let off, and until the word was typed.
const READ_S: f64 = 2.0;

/// What is left of a pressure that was let off is below this part of it.
const LEFT_BELOW: f64 = 0.6;

/// Joint standard uncertainties that reading and expectation may lie apart.
const SIGMAS: f64 = 3.0;

/// Oil that was let off, and what it ought to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OilLetOff {
    /// At which end.
    pub chamber: Chamber,
    /// From what, Pa gauge.
    pub from_pa: f64,
    /// To what, Pa gauge.
    pub to_pa: f64,
    /// What the glass showed, m³.
    pub read: Measured,
    /// What the cylinder as the setup has it would give, m³.
    pub expected: Measured,
}

impl OilLetOff {
    /// Whether it is too far from what it ought to be for chance.
    pub fn contradicts(&self) -> bool {
        let joint_si = self.read.standard_si.hypot(self.expected.standard_si);
        (self.read.value_si - self.expected.value_si).abs() > SIGMAS * joint_si
    }

    /// What it says of the holds of its end, if it contradicts the setup.
    pub(super) fn flag(&self) -> Option<Flag> {
        let (read, expected) = self.amounts(UnitSystem::Metric);
        let evidence = format!(
            "letting off the {} end {} gave {read}, where the cylinder as the setup has it gives {expected}: bore, hose, rod \
             place or air is not as written; put it right and test again",
            self.chamber.word(),
            self.between(UnitSystem::Metric)
        );
        self.contradicts().then_some(Flag {
            weight: Weight::Voids,
            evidence,
        })
    }

    /// Both amounts beside each other, in a line.
    fn line(&self, units: UnitSystem) -> String {
        let (read, expected) = self.amounts(units);
        let between = self.between(units);
        format!("oil let off {read} {between}; the setup gives {expected}")
    }

    /// "from 158 to 16 bar".
    fn between(&self, units: UnitSystem) -> String {
        let (factor, unit) = shown("bar", units);
        let whole = |pa: f64| number(pa * factor, 10.0);
        format!(
            "from {} to {} {unit}",
            whole(self.from_pa),
            whole(self.to_pa)
        )
    }

    /// What was read, and what was expected with its expanded uncertainty.
    fn amounts(&self, units: UnitSystem) -> (String, String) {
        let (factor, unit) = shown("mL", units);
        // Tenths of a millilitre, and as much of a cubic inch.
        let step = 1e-6 * factor;
        let two_sigma = 2.0 * self.expected.standard_si * factor;
        let amount = |si: f64| number(si * factor, step);
        let expected = format!(
            "{} ± {} {unit}",
            amount(self.expected.value_si),
            number(two_sigma, step)
        );
        (format!("{} {unit}", amount(self.read.value_si)), expected)
    }

    /// The step that showed it; `typed` as it was typed.
    pub(super) fn part(&self, asked: Asked, typed: &str, units: UnitSystem) -> Part {
        let reason = match self.contradicts() {
            true => "bore, hose, rod place or air is not as written".to_owned(),
            false => String::new(),
        };
        Part {
            shown: Shown::Read(Read {
                asked,
                typed: typed.into(),
                understood: Understood::Oil {
                    m3: self.read.value_si,
                    standard_m3: self.read.standard_si,
                },
                told: Some(self.line(units)),
            }),
            outcome: self.contradicts().then_some(Outcome::NotValid),
            reason,
        }
    }
}

/// What was let off at each step of a test that lets off, and was let off.
pub(super) fn let_offs(recording: &Recording, test: &Test) -> Vec<Option<OilLetOff>> {
    let places = 0..test.steps.len();
    places.map(|at| let_off_at(recording, test, at)).collect()
}

/// What the oil that was let off says of a hold.
pub(super) fn of_hold(planned: &PlannedStep, all: &[Option<OilLetOff>]) -> Vec<Flag> {
    let Some(setup) = planned.own_setup() else {
        return Vec::new();
    };
    if !matches!(planned.step.act, Act::Hold(_)) {
        return Vec::new();
    }
    let chamber = setup.subject.circuit.holding_chamber();
    let own = all
        .iter()
        .flatten()
        .filter(|found| found.chamber == chamber);
    own.filter_map(OilLetOff::flag).collect()
}

fn let_off_at(recording: &Recording, test: &Test, at: usize) -> Option<OilLetOff> {
    let planned = test.steps.get(at)?;
    let Act::Reading(asked @ Asked::LetOff { chamber, .. }) = planned.step.act else {
        return None;
    };
    let said = entry(recording, &planned.step.id, EntryKind::Reading)?;
    let Ok(Understood::Oil { m3, standard_m3 }) = asked.understood(&said.text) else {
        return None;
    };
    let held = test.let_off_from(at)?;
    let hold = recording.phase(&phase_name(&held.step.id, HOLD))?;
    // Who looked at something first let off after that.
    let looked = test.steps[..at]
        .iter()
        .filter_map(|before| entry(recording, &before.step.id, EntryKind::Reading));
    let from_s = looked.map(|e| e.at_s).fold(hold.until_s, f64::max);
    let role = pressure_role(chamber);
    let before = |role: Role| mean(recording, role, (from_s - READ_S, from_s));
    let from_pa = before(role)?;
    let to_pa = mean(recording, role, (said.at_s - READ_S, said.at_s))?.max(0.0);
    if to_pa > LEFT_BELOW * from_pa {
        return None;
    }
    let first_pa = mean(recording, role, (hold.from_s, hold.from_s + READ_S))?;
    let last_pa = mean(recording, role, (hold.until_s - READ_S, hold.until_s))?;
    let (x_m, x_standard_m) = place(recording, held, before(Role::Position))?;
    let course = LetOff {
        chamber,
        from_pa,
        to_pa,
        x_m,
        oil_k: before(Role::OilTemperature),
        took_s: said.at_s - from_s,
        falls_pa_per_s: (first_pa - last_pa) / (hold.until_s - hold.from_s),
        mean_part: mean(recording, role, (from_s, said.at_s))? / from_pa,
        pressure: recording.track(role)?.channel.errors,
        x_standard_m,
    };
    Some(OilLetOff {
        chamber,
        from_pa,
        to_pa,
        read: Measured {
            value_si: m3,
            standard_si: standard_m3,
        },
        expected: let_off(&held.own_setup()?.subject, &course)?,
    })
}

/// Where the rod stood and how well that is known, m: by its sensor, else where it was asked to
/// stand, else at the end that the pressure drives it to.
fn place(recording: &Recording, held: &PlannedStep, read_m: Option<f64>) -> Option<(f64, f64)> {
    let track = recording.track(Role::Position);
    if let Some((x_m, track)) = read_m.zip(track) {
        return Some((x_m, track.channel.errors.zero_si));
    }
    let asked = held.step.reach().and_then(|reach| reach.at);
    let subject = &held.own_setup()?.subject;
    let stroke_m = subject.piece.cylinder()?.size().stroke.value;
    match (
        asked,
        subject.circuit.rod,
        subject.circuit.holding_chamber(),
    ) {
        (Some(at), _, _) => Some((at.value, 0.5 * PLACE_WITHIN_M)),
        (None, RodHold::Bottomed, Chamber::Cap) => Some((stroke_m, 0.1 * PLACE_WITHIN_M)),
        (None, RodHold::Bottomed, Chamber::Rod) => Some((0.0, 0.1 * PLACE_WITHIN_M)),
        // Anywhere in the stroke.
        _ => Some((0.5 * stroke_m, stroke_m / 12f64.sqrt())),
    }
}

/// Mean of what was read in a time; None if nothing was.
fn mean(recording: &Recording, role: Role, (from_s, until_s): (f64, f64)) -> Option<f64> {
    let track = recording.track(role)?;
    let rows = recording.rows_within(from_s, until_s);
    let values: Vec<f64> = rows.filter_map(|row| track.value(row)).collect();
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(read_ml: f64) -> OilLetOff {
        OilLetOff {
            chamber: Chamber::Cap,
            from_pa: 158e5,
            to_pa: 16e5,
            read: Measured {
                value_si: read_ml * 1e-6,
                standard_si: 0.5e-6,
            },
            expected: Measured {
                value_si: 8.4e-6,
                standard_si: 0.95e-6,
            },
        }
    }

    /// hypot(0.5, 0.95) mL are 1.07 mL: three of them 3.22 (computed).
    #[test]
    fn what_is_three_joint_uncertainties_off_voids_and_less_is_a_line() {
        assert!(!found(8.4 + 3.2).contradicts() && found(8.4 + 3.3).contradicts());
        assert!(!found(8.4 - 3.2).contradicts() && found(8.4 - 3.3).contradicts());
        let flag = found(18.0).flag().expect("too much");
        assert_eq!(flag.weight, Weight::Voids);
        assert_eq!(
            flag.evidence,
            "letting off the cap end from 158 to 16 bar gave 18.0 mL, where the cylinder as the setup has it gives 8.4 ± \
             1.9 mL: bore, hose, rod place or air is not as written; put it right and test again"
        );
        assert_eq!(found(8.6).flag(), None);
        assert_eq!(
            found(8.6).line(UnitSystem::Metric),
            "oil let off 8.6 mL from 158 to 16 bar; the setup gives 8.4 ± 1.9 mL"
        );
        let part = found(18.0).part(asked(), "18 mL", UnitSystem::Metric);
        assert_eq!(part.outcome, Some(Outcome::NotValid));
        let part = found(8.6).part(asked(), "8,6 mL", UnitSystem::Metric);
        assert_eq!((part.outcome, part.reason.as_str()), (None, ""));
    }

    fn asked() -> Asked {
        Asked::LetOff {
            chamber: Chamber::Cap,
            standard: crate::quantity::Volume::default(),
        }
    }
}
