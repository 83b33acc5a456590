//! Which phases tell cylinder from valve: in which order, how long each, and what pressures
//! they can come to.
//!
//! Each phase is planned for the cylinder's kind and load. One that could pass a rating is
//! not planned: it is named with the number, and another takes its place where there is
//! one. Nothing is planned that would open the side that carries the load.

mod beside;
mod charge;
mod phases;
mod words;

use self::charge::Charge;
use self::words::Words;
use super::hazard::RATING_PART;
use crate::circuit::Beside;
use crate::circuit::Circuit;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Ratings;
use crate::oil::Oil;
use crate::quantity::GaugePressure;
use crate::quantity::Time;
use crate::quantity::VolumeRate;
use crate::quantity::unit::cubic_meter_per_second;
use crate::quantity::unit::milliliter_per_minute;
use crate::quantity::unit::second;

/// Mean oil temperature of an unsettled hold is known to this, K (90 of 100 simulated holds;
/// own computation): what a hold can see is trapped oil times this by its length.
const HEAT_K: f64 = 0.37;

/// Shortest hold that is planned, s.
const SHORTEST_S: f64 = 300.0;

/// Longest hold that is planned, s: after that the oil has another temperature, and the load
/// has stood too long.
const LONGEST_S: f64 = 14_400.0;

/// Pressure of the load below which a hold hardly shows a leak, bar (common practice, no source).
const LIGHT_BAR: f64 = 5.0;

/// A phase to be held.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPhase {
    /// Its letter.
    pub label: char,
    /// How it is plumbed.
    pub circuit: Circuit,
    /// What to do, as sentences.
    pub instruction: String,
    /// What it tells, as a sentence.
    pub tells: &'static str,
    /// How long to count.
    pub hold: Time,
    /// Pressure that the load alone makes, where there is one and it is known.
    pub load_makes: Option<GaugePressure>,
    /// What the other side is charged to, where it is charged.
    pub charge: Option<GaugePressure>,
    /// Pressure of the holding side at the start, with the charge, where the load is known.
    pub starts_at: Option<GaugePressure>,
    /// Highest pressure that a leak can bring, with its end, where it can be said.
    pub can_reach: Option<(Chamber, GaugePressure)>,
    /// What it can do to people.
    pub caution: String,
}

/// The phases of an investigation.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct IsolationPlan {
    /// What to hold, in order.
    pub phases: Vec<PlannedPhase>,
    /// What was left out, and why: a rating with its number.
    pub refused: Vec<String>,
    /// What could not be reckoned or checked, for want of a rating or a load.
    pub unchecked: Vec<String>,
    /// What no phase here can tell, and why.
    pub outside: Vec<String>,
}

/// Why there is no plan: the leak that is wanted is too small.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "a leak of {wanted} mL/min would need a hold of {hours:.0} h: it is too small for this method on this cylinder. The \
     smallest leak that a hold of {most:.0} h would see: {smallest:.5} mL/min",
    wanted = (.wanted.get::<milliliter_per_minute>() * 1e9).round() / 1e9,
    hours = .needs.get::<second>() / 3600.0,
    most = LONGEST_S / 3600.0,
    smallest = (.smallest.get::<milliliter_per_minute>() * 1e5).ceil() / 1e5
)]
pub struct TooSmall {
    /// What is wanted.
    pub wanted: VolumeRate,
    /// How long a hold it would need.
    pub needs: Time,
    /// What the longest hold would see.
    pub smallest: VolumeRate,
}

/// What is planned for.
struct Task<'a> {
    cylinder: &'a Cylinder,
    /// As found; a rod on the end of its stroke is moved off it, to a stop.
    found: Circuit,
    words: Words,
    ratings: &'a Ratings,
    hold: Time,
}

/// Plans the phases for a cylinder as it is found on its machine. `wanted` is the smallest
/// leak that has to be seen.
///
/// # Errors
/// If that leak is too small for a hold of four hours.
pub fn isolation_plan(
    cylinder: &Cylinder,
    found: &Circuit,
    ratings: &Ratings,
    oil: &Oil,
    wanted: VolumeRate,
) -> Result<IsolationPlan, TooSmall> {
    let holding = found.holding_chamber();
    let volume = [Chamber::Cap, Chamber::Rod].map(|chamber| {
        let ends = [Default::default(), cylinder.size().stroke];
        let volumes = ends.map(|x| (cylinder.volume(chamber, x) + found.hose(chamber)).value);
        volumes[0].max(volumes[1])
    });
    let trapped = volume[usize::from(holding == Chamber::Rod)];
    // A leak is seen from twice the expanded uncertainty.
    let seen_s = trapped * oil.expansion().per_kelvin() * HEAT_K / (0.5 * wanted.value);
    if seen_s > LONGEST_S {
        let smallest = wanted.value * seen_s / LONGEST_S;
        return Err(TooSmall {
            wanted,
            needs: Time::new::<second>(seen_s),
            smallest: VolumeRate::new::<cubic_meter_per_second>(smallest),
        });
    }
    let whole_minutes = (seen_s / 60.0).ceil() * 60.0;
    let task = Task {
        cylinder,
        found: Circuit {
            rod: match found.rod {
                RodHold::Bottomed => RodHold::Locked,
                rod => rod,
            },
            ..*found
        },
        words: words::of(found.rod, holding),
        ratings,
        hold: Time::new::<second>(whole_minutes.max(SHORTEST_S)),
    };
    let mut plan = IsolationPlan::default();
    task.rig(&mut plan);
    task.as_found(&mut plan);
    task.swapped(&mut plan);
    task.plugged(&mut plan);
    task.vessel(&mut plan);
    task.joined(&mut plan);
    task.pumped(&mut plan);
    task.unchecked(&mut plan);
    task.outside(&mut plan);
    for (phase, letter) in plan.phases.iter_mut().zip('A'..='Z') {
        phase.label = letter;
    }
    Ok(plan)
}

impl Task<'_> {
    fn has_rod_side(&self) -> bool {
        self.cylinder.kind().chambers().contains(&Chamber::Rod)
    }

    /// Another cylinder on the load, once this one's oil is apart from it.
    fn apart(&self) -> Option<Beside> {
        self.found.beside.map(|_| Beside::Apart)
    }

    fn load_pressure(&self) -> Option<GaugePressure> {
        let (RodHold::PushedIn { load } | RodHold::PulledOut { load }) = self.found.rod else {
            return None;
        };
        self.cylinder
            .holding_pressure(self.found.holding_chamber(), load?)
    }

    /// Which part of which end the load's pressure would bring near its rating.
    fn over_rating(&self) -> Option<String> {
        let pressure = self.load_pressure()?;
        [Chamber::Cap, Chamber::Rod]
            .into_iter()
            .find_map(|chamber| {
                let rating = self.ratings.weakest(chamber)?;
                (pressure.pa() > RATING_PART * rating.pressure.pa()).then(|| {
                    let how = match pressure.pa() > rating.pressure.pa() {
                        true => "is above",
                        false => "comes near",
                    };
                    format!(
                        "{:.0} bar {how} the rating of the {} of the {} end, {:.0} bar",
                        pressure.bar(),
                        rating.part.plain(),
                        chamber.word(),
                        rating.pressure.bar()
                    )
                })
            })
    }

    /// What no number stands behind.
    fn unchecked(&self, plan: &mut IsolationPlan) {
        let unrated: Vec<&str> = self
            .cylinder
            .kind()
            .chambers()
            .iter()
            .filter(|chamber| self.ratings.weakest(**chamber).is_none())
            .map(|chamber| chamber.word())
            .collect();
        if unrated.len() == self.cylinder.kind().chambers().len() {
            plan.unchecked
                .push("No rating is given, so nothing was checked against one.".into());
        } else if let [side] = unrated[..] {
            plan.unchecked.push(format!(
                "No rating of the {side} end is given, so nothing there was checked against one."
            ));
        }
        match self.load_pressure() {
            Some(pressure) if pressure.bar() < LIGHT_BAR => plan.unchecked.push(format!(
                "The load makes less than {LIGHT_BAR:.0} bar: a hold under it can hardly show a leak. Hold under a heavier one."
            )),
            Some(_) => {}
            None if self.words.loaded => plan.unchecked.push(
                "No load is given, so no pressure could be reckoned or checked: weigh it, or read the gauge with the load up."
                    .into(),
            ),
            None => plan.unchecked.push(
                "The rod is held and carries no load, so no pressure could be reckoned: the test pressure is the one that is \
                 pumped, below every rating."
                    .into(),
            ),
        }
    }

    fn outside(&self, plan: &mut IsolationPlan) {
        if self.has_rod_side() {
            plan.outside.push(
                "Gland and rod-port plug lie on one side: no pressure tells them apart, only eyes. Look at both.".into(),
            );
        }
        plan.outside.push(
            "An accumulator or a float position on the line gives or takes oil that no account here knows of: shut it off, \
             or nothing can be said."
                .into(),
        );
        if self.cylinder.kind().has_piston_seal() {
            plan.outside.push(
                "A cylinder that re-phases passes oil at the end of its stroke on purpose, and a check valve in a piston lets it \
                 pass one way: hold away from the ends, loaded the way that the piston shuts."
                    .into(),
            );
        }
        plan.outside.push(beside::outside(&self.found));
    }
}

#[cfg(test)]
mod tests;
