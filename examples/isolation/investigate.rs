//! One investigation: drawn, held, attributed; then the phase that was advised, held too.

use super::bench::Held;
use super::bench::held;
use super::chance::Chance;
use super::machine::Machine;
use super::plan::Planned;
use super::plan::advised;
use super::plan::planned;
use super::score::Score;
use super::truth::is_told;
use super::truth::limit;
use super::truth::truth;
use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Attribution;
use stillrod::account::investigation::Next;
use stillrod::account::investigation::Phase;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Step;
use stillrod::account::investigation::Way;
use stillrod::account::investigation::attribute;

/// An answer beside the truth.
pub struct Scored {
    /// What was said.
    pub answer: Answer,
    /// What is true, m³/s.
    pub truth: f64,
    /// What it is worth.
    pub score: Score,
}

/// All answers of some phases.
pub struct Said {
    /// What was said of all.
    pub attribution: Attribution,
    /// Each answer.
    pub scored: Vec<Scored>,
}

/// What became of an advised phase.
pub enum Followed {
    /// It was held, and all phases say this.
    Said(Box<Held>, Said),
    /// Not a minute of it could be held, or nothing of it be believed.
    NotHeld,
    /// The program gave no answer.
    Fault(String),
}

/// An investigation.
pub struct Investigation {
    /// The machine.
    pub machine: Machine,
    /// How often it was drawn until its phases could be held.
    pub n_drawn: u32,
    /// Joined phases that could not be held.
    pub n_left_out: u32,
    /// Its phases.
    pub holds: Vec<Held>,
    /// What they say; None if no phase has a sum.
    pub said: Option<Said>,
    /// Why the program gave no answer where it should have, if it did not.
    pub fault: Option<String>,
    /// The phase that was advised, and what became of it.
    pub followed: Option<(Next, Followed)>,
}

/// How well the planned phases can tell of a way.
pub struct Limit {
    /// Whether sums without error would tell it.
    pub is_told: bool,
    /// The detection limit, m³/s; infinite without one.
    pub m3_per_s: f64,
}

impl Investigation {
    /// Number `index` of a campaign.
    pub fn of(seed: u64, index: u64) -> Self {
        let mut chance = Chance::of(seed, index);
        for n_drawn in 1.. {
            let machine = Machine::drawn(&mut chance);
            let plan = planned(&machine, &mut chance);
            let Some((holds, n_left_out)) = all_held(&machine, &plan, index, &mut chance) else {
                continue;
            };
            let (said, fault) = match said(&holds) {
                Ok(said) => (said, None),
                Err(fault) => (None, Some(fault)),
            };
            let followed = said.as_ref().and_then(|said| {
                let next = said.attribution.next.clone()?;
                let followed = follow(&machine, &holds, &next, index, &mut chance);
                Some((next, followed))
            });
            return Self {
                machine,
                n_drawn,
                n_left_out,
                holds,
                said,
                fault,
                followed,
            };
        }
        unreachable!("a domain without an investigation")
    }

    /// Holds that say something, as answers number them.
    pub fn valid(&self) -> Vec<&Held> {
        valid(&self.holds)
    }

    /// How well its phases can tell of a way.
    pub fn limit(&self, way: Way) -> Limit {
        let Some(said) = &self.said else {
            return Limit {
                is_told: false,
                m3_per_s: f64::INFINITY,
            };
        };
        let answers: Vec<(&Answer, f64)> =
            said.scored.iter().map(|s| (&s.answer, s.truth)).collect();
        let holds = self.valid();
        let is_told = is_told(&holds, &answers, way, said.attribution.small_m3_per_s);
        let m3_per_s = match is_told {
            true => limit(&holds, way, said.of(way).map_or(0.0, |s| s.truth)),
            false => f64::INFINITY,
        };
        Limit { is_told, m3_per_s }
    }
}

/// Phases of a plan; a joined one that cannot be held is left out and counted. None if
/// another cannot.
fn all_held(
    machine: &Machine,
    plan: &[Planned],
    index: u64,
    chance: &mut Chance,
) -> Option<(Vec<Held>, u32)> {
    let (mut holds, mut n_left_out) = (Vec::new(), 0);
    for (place, planned) in plan.iter().enumerate() {
        match held(machine, *planned, place, index, chance) {
            Some(held) => holds.push(held),
            None if planned.plumbing.joined => n_left_out += 1,
            None => return None,
        }
    }
    Some((holds, n_left_out))
}

fn valid<'a>(holds: impl IntoIterator<Item = &'a Held>) -> Vec<&'a Held> {
    let holds = holds.into_iter();
    holds.filter(|held| held.evaluation().is_some()).collect()
}

/// What phases say together, beside the truth.
///
/// # Errors
/// With its words, if the program fails at it.
fn said<'a>(holds: impl IntoIterator<Item = &'a Held>) -> Result<Option<Said>, String> {
    let holds = valid(holds);
    let phases: Vec<Phase<'_>> = holds.iter().filter_map(|held| held.phase()).collect();
    let attribution = attribute(&phases).map_err(|fault| fault.to_string())?;
    let Some(attribution) = attribution else {
        return Ok(None);
    };
    let scored = attribution.answers.iter().map(|answer| {
        let truth = truth(&holds, answer);
        Scored {
            answer: answer.clone(),
            truth,
            score: Score::of(answer, truth, attribution.small_m3_per_s),
        }
    });
    Ok(Some(Said {
        scored: scored.collect(),
        attribution,
    }))
}

/// Does what was advised: the phase it names again, or other plumbing after the phase with the
/// highest pressure of those with a free rod, if there are any.
fn follow(
    machine: &Machine,
    holds: &[Held],
    next: &Next,
    index: u64,
    chance: &mut Chance,
) -> Followed {
    let level = |held: &Held| {
        let counted = held.evaluation().and_then(|e| e.counted.as_ref());
        let mean = |p: &[f64]| p.iter().sum::<f64>() / p.len().max(1) as f64;
        counted.map_or(f64::NEG_INFINITY, |counted| {
            let rod = counted.drive.p_rod_pa.as_deref().map_or(0.0, mean);
            mean(&counted.drive.p_cap_pa).max(rod)
        })
    };
    let is_free = |held: &&Held| {
        let plumbing = held.planned.plumbing;
        !(plumbing.joined || plumbing.locked)
    };
    let highest = |a: &&Held, b: &&Held| level(a).total_cmp(&level(b));
    let base = match next.step {
        Step::Look { phase } | Step::HoldLonger { phase, .. } => valid(holds)[phase],
        _ => {
            let free = holds.iter().filter(is_free).max_by(highest);
            let base = free.or_else(|| holds.iter().max_by(highest));
            base.expect("advice comes from phases")
        }
    };
    let base = base.planned.plumbing;
    let planned = advised(next.step, next.hold_s, machine.sort, base);
    let Some(made) = held(machine, planned, holds.len(), index, chance) else {
        return Followed::NotHeld;
    };
    let has_sums = made
        .evaluation()
        .is_some_and(|e| e.counted.is_some() || e.met.is_some());
    match said(holds.iter().chain([&made])) {
        Ok(Some(said)) if has_sums => Followed::Said(Box::new(made), said),
        Ok(_) => Followed::NotHeld,
        Err(fault) => Followed::Fault(fault),
    }
}

impl Said {
    /// The answer for a way.
    pub fn of(&self, way: Way) -> Option<&Scored> {
        self.scored.iter().find(|s| s.answer.way == way)
    }
}

/// Whether a way can be told.
pub fn is_resolved(standing: &Standing) -> bool {
    !matches!(standing, Standing::Open { .. } | Standing::NotValid)
}
