//! What a test will do, before it begins: steps, pressures, times, limits, what stands against it.

use super::begin::Found;
use super::begin::parsed;
use crate::cylinder::Chamber;
use crate::cylinder::Ratings;
use crate::daemon::conduct::NamedText;
use crate::daemon::hold_length::needs_told;
use crate::daemon::judgement::rule_of;
use crate::page::view;
use crate::page::view::BenchChoice;
use crate::procedure::Act;
use crate::procedure::HoldPlan;
use crate::quantity::GaugePressure;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::settings::PlannedStep;
use std::sync::Mutex;
use std::sync::PoisonError;

/// The plan of what was chosen.
///
/// # Errors
/// If its settings cannot be used, or it is read by eye.
pub(super) fn plan(
    found: &Found,
    chosen: BenchChoice,
    units: UnitSystem,
) -> anyhow::Result<view::BenchPlan> {
    let (_, test) = parsed(found)?;
    anyhow::ensure!(
        test.by_eye().is_none(),
        "instruments under [by_eye] are read at the terminal: stillrod record --setup FILE"
    );
    let unit = &test.first_setup().unit;
    let mut limits: Vec<(String, String)> = test
        .steps
        .iter()
        .filter_map(PlannedStep::own_setup)
        .flat_map(|setup| &setup.limits)
        .map(|limit| (limit.figure.plain().to_owned(), limit.text.clone()))
        .collect();
    let mut seen = Vec::new();
    limits.retain(|limit| {
        let is_new = !seen.contains(limit);
        seen.push(limit.clone());
        is_new
    });
    Ok(view::BenchPlan {
        tag: unit.tag.clone(),
        description: unit.description.clone(),
        title: test.title.clone(),
        about: test.about.clone(),
        is_practice: found.practice.is_some(),
        steps: test.steps.iter().map(|s| step(s, units)).collect(),
        limits,
        foreseen: Vec::new(),
        refused: test.hazards(),
        faults: Vec::new(),
        chosen,
    })
}

/// What was foreseen last, and of what: it takes seconds, and a plan is looked at more than once.
#[derive(Debug, Default)]
pub struct LastForeseen(Mutex<Option<Foreseen>>);

/// Setup, shop, and what was foreseen of them.
type Foreseen = (NamedText, Option<NamedText>, Vec<String>);

impl LastForeseen {
    /// How long each hold must be, in sentences; nothing where the settings cannot be used.
    pub(super) fn of(&self, found: &Found) -> Vec<String> {
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((setup, shop, told)) = &*last
            && (setup, shop) == (&found.setup, &found.shop)
        {
            return told.clone();
        }
        let Ok((shop, test)) = parsed(found) else {
            return Vec::new();
        };
        let told = needs_told(&test, rule_of(shop.as_ref()));
        *last = Some((found.setup.clone(), found.shop.clone(), told.clone()));
        told
    }
}

fn step(planned: &PlannedStep, units: UnitSystem) -> view::BenchStep {
    let ratings = planned
        .ratings
        .or(planned.own_setup().map(|setup| setup.ratings));
    let reach = planned.step.reach();
    let mut pressure = Vec::new();
    if let Some(reach) = reach {
        pressure.push(asked(reach.chamber, reach.pressure, ratings, units));
        let other = reach.other.filter(|other| other.pa() > 0.0);
        pressure.extend(other.map(|p| asked(reach.chamber.other(), p, ratings, units)));
    }
    view::BenchStep {
        title: planned.step.title.clone(),
        tell: planned.step.tell.clone(),
        pressure,
        takes: takes(&planned.step.act),
    }
}

/// A pressure that is asked for, beside what the weakest part bears.
fn asked(
    chamber: Chamber,
    pressure: GaugePressure,
    ratings: Option<Ratings>,
    units: UnitSystem,
) -> String {
    let text = |p: GaugePressure| {
        let (factor, unit) = shown("bar", units);
        format!("{} {unit}", number(p.pa() * factor, 10.0))
    };
    let end = match chamber {
        Chamber::Cap => "Cap end",
        Chamber::Rod => "Rod end",
    };
    match ratings.and_then(|ratings| ratings.weakest(chamber)) {
        Some(weakest) => format!(
            "{end} to {}; at most {} in this step ({}).",
            text(pressure),
            text(weakest.pressure),
            weakest.part.plain()
        ),
        None => format!("{end} to {}; no rating is written down.", text(pressure)),
    }
}

/// How long an act takes, in words; nothing where it takes as long as it takes.
fn takes(act: &Act) -> String {
    match act {
        Act::Hold(hold) => hold_takes(&hold.plan, hold.steady.map(|s| s.at_most.value)),
        Act::Dwell { length, .. } => format!("Kept for {}.", minutes(length.value)),
        Act::Vented { length, .. } => format!("Read for {}.", minutes(length.value)),
        Act::Strokes { count, .. } => format!("{count} full strokes."),
        Act::Confirm | Act::Squeeze { .. } | Act::Reading(_) => String::new(),
    }
}

fn hold_takes(plan: &HoldPlan, settles_at_most_s: Option<f64>) -> String {
    let (settle_s, length_s) = (plan.settle().value, plan.length().value);
    let settles = match settles_at_most_s {
        Some(most) if most > settle_s => {
            format!("Settles {} to {}", minutes(settle_s), minutes(most))
        }
        _ => format!("Settles {}", minutes(settle_s)),
    };
    match plan.ends_as_decided() {
        true => format!(
            "{settles}; counts {} at the longest, less if it is decided before.",
            minutes(length_s)
        ),
        false => format!("{settles}; counts {}.", minutes(length_s)),
    }
}

/// A time of a plan, "10 min", "45 s".
pub(super) fn minutes(s: f64) -> String {
    let whole = s.round();
    match whole {
        whole if whole < 120.0 => format!("{whole:.0} s"),
        whole if whole % 60.0 == 0.0 || whole >= 3600.0 => format!("{:.0} min", whole / 60.0),
        whole => format!("{:.0} min {:.0} s", (whole / 60.0).floor(), whole % 60.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_a_plan_are_said_as_people_say_them() {
        let said: Vec<String> = [45.0, 119.6, 150.0, 600.0, 7260.0].map(minutes).into();
        assert_eq!(said, ["45 s", "2 min", "2 min 30 s", "10 min", "121 min"]);
    }
}
