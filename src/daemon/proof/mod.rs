//! From the recording of a procedure to its outcome: each hold by itself, then all together.
//!
//! Each hold is cut out and judged as if it had been the only one, by the code that judges a
//! test of one hold. What the steps say of each other comes on top: zeros that moved, repeats
//! that do not agree, steps that were not done.
//!
//! Invariant: a step that was not done to its end never passes, and nothing that was found
//! over its limit is taken back by what came after.

mod asked;
mod by_eye;
mod let_off;
mod moved;
mod paper_facts;
mod part;
mod text;
mod zeros;

pub use let_off::OilLetOff;
pub use moved::SqueezedEnd;
pub use moved::Stroked;
pub use paper_facts::proof_facts;
pub use part::Held;
pub use part::Part;
pub use part::Read;
pub use part::Shown;
pub(super) use part::unsettled;
pub use text::proof_text;
pub(in crate::daemon) use text::told_lines;
pub use zeros::SensorZero;
pub(in crate::daemon) use zeros::mean_of;
pub(super) use zeros::unseen_as_planned;

use super::judgement::shop_of;
use super::screen::worst;
use crate::health::Flag;
use crate::health::Weight;
use crate::recording::Ending;
use crate::recording::Recording;
use crate::settings::SettingsError;
use crate::settings::Shop;
use crate::settings::Test;
use crate::verdict::DecisionRule;
use crate::verdict::Outcome;
use crate::verdict::Verdict;
use crate::verdict::disagreement;
use part::Beside;
use zeros::Zeros;

/// Everything that was made of the recording of a procedure.
#[derive(Debug, Clone)]
pub struct Proof {
    /// The steps as they were planned.
    pub test: Test,
    /// The shop, if limits came from one.
    pub shop: Option<Shop>,
    /// What each step showed, in the order of the test's steps.
    pub parts: Vec<Part>,
    /// What the steps say of sensors and of each other.
    pub flags: Vec<Flag>,
    /// What came out.
    pub outcome: Outcome,
    /// Why, as sentences.
    pub reasons: Vec<String>,
    /// The rule of the shop.
    pub rule: DecisionRule,
}

/// Judges the recording of a procedure. `shop_toml` replaces the stored shop file: its name and
/// its text.
///
/// # Errors
/// If a settings file cannot be used.
pub fn proved(
    recording: &Recording,
    shop_toml: Option<(&str, &str)>,
) -> Result<Proof, SettingsError> {
    proved_by(recording, &recording.heading().setup_toml, shop_toml)
}

/// As [`proved`], by another setup, with its procedure behind it.
///
/// # Errors
/// As there.
pub fn proved_by(
    recording: &Recording,
    text: &str,
    shop_toml: Option<(&str, &str)>,
) -> Result<Proof, SettingsError> {
    let shop = shop_of(recording, shop_toml)?;
    let test = Test::parse("stored setup.toml", text, shop.as_ref())?;
    let zeros = Zeros::of(recording, &test);
    let flags = zeros.flags();
    let voiding: Vec<Flag> = flags
        .iter()
        .filter(|flag| flag.weight == Weight::Voids)
        .cloned()
        .collect();
    let let_offs = let_off::let_offs(recording, &test);
    let mut parts = Vec::new();
    for (at, planned) in test.steps.iter().enumerate() {
        let mut voiding = voiding.clone();
        voiding.extend(let_off::of_hold(planned, &let_offs));
        let beside = Beside {
            voiding: &voiding,
            unseen: zeros.unseen(at),
            let_off: let_offs[at].as_ref(),
        };
        let with = (shop.as_ref(), test.by_eye());
        parts.push(part::shown(recording, planned, with, &beside));
    }
    let mut reasons: Vec<String> = Vec::new();
    let mut outcomes: Vec<Outcome> = parts.iter().filter_map(|part| part.outcome).collect();
    // What concerns one step is told with it; what it is to be read with, beside all.
    let own = parts.iter().flat_map(Part::remarks).cloned();
    let flags: Vec<Flag> = flags.into_iter().chain(own).collect();
    let missing = not_done(&test, &parts);
    if let Ending::Interrupted(why) = recording.ending() {
        reasons.push(format!("the recording was interrupted: {why}"));
        outcomes.push(Outcome::NotValid);
    }
    if !missing.is_empty() {
        reasons.push(format!("not done: {}", missing.join(", ")));
        outcomes.push(Outcome::NotValid);
    }
    reasons.extend(voiding.into_iter().map(|flag| flag.evidence));
    let not_as_written = let_offs.iter().flatten().filter_map(OilLetOff::flag);
    reasons.extend(not_as_written.map(|flag| flag.evidence));
    let apart = repeats_apart(&test, &parts);
    if !apart.is_empty() {
        outcomes.push(Outcome::Undecided);
        reasons.extend(apart);
    }
    let rule = shop.as_ref().map_or(DecisionRule::Simple, |s| s.rule);
    let outcome = match worst(outcomes.into_iter()) {
        // A look at the outside alone passes no cylinder.
        Some(Outcome::Pass) if !parts.iter().any(is_judged_hold) => {
            reasons.push("no hold was judged: nothing was measured against a limit".into());
            Outcome::Measured
        }
        found => found.unwrap_or(Outcome::Measured),
    };
    Ok(Proof {
        outcome,
        test,
        shop,
        parts,
        flags,
        reasons,
        rule,
    })
}

impl Proof {
    /// Its holds with their steps, in order.
    pub fn holds(&self) -> impl Iterator<Item = (&crate::settings::PlannedStep, &Held)> {
        let steps = self.test.steps.iter().zip(&self.parts);
        steps.filter_map(|(planned, part)| match &part.shown {
            Shown::Held(held) => Some((planned, held.as_ref())),
            _ => None,
        })
    }

    /// Titles of the steps with an outcome.
    pub fn titles_with(&self, outcome: Outcome) -> Vec<&str> {
        let steps = self.test.steps.iter().zip(&self.parts);
        let with = steps.filter(|(_, part)| part.outcome == Some(outcome));
        with.map(|(planned, _)| planned.step.title.as_str())
            .collect()
    }

    /// The sentence that decided, for lists; `of_hold` says it for a hold.
    pub fn headline(&self, of_hold: impl Fn(&Held) -> String) -> String {
        if let Some(reason) = self.reasons.first() {
            return reason.clone();
        }
        let steps = self.test.steps.iter().zip(&self.parts);
        let of_outcome = steps.filter(|(_, part)| part.outcome == Some(self.outcome));
        let said = of_outcome.map(|(planned, part)| match &part.shown {
            Shown::Held(held) => (true, planned, of_hold(held)),
            _ => (false, planned, part.reason.clone()),
        });
        // A step that has its outcome by a reading alone may say nothing of its own; a hold says most.
        let mut said: Vec<_> = said.filter(|(_, _, reason)| !reason.is_empty()).collect();
        said.sort_by_key(|(is_hold, ..)| !is_hold);
        let first = said.first();
        first.map_or(String::new(), |(_, planned, reason)| {
            format!("{}: {reason}", planned.step.title)
        })
    }

    /// The hold that shows best why the outcome is what it is: the first with the worst outcome.
    pub fn deciding(&self) -> Option<(&crate::settings::PlannedStep, &Held)> {
        let of = |held: &Held| held.judgement.verdict.outcome;
        let worst = worst(self.holds().map(|(_, held)| of(held)))?;
        self.holds().find(|(_, held)| of(held) == worst)
    }
}

fn is_judged_hold(part: &Part) -> bool {
    matches!(&part.shown, Shown::Held(held) if !held.judgement.verdict.judged.is_empty())
}

/// Titles of steps that were not done to their end.
fn not_done(test: &Test, parts: &[Part]) -> Vec<String> {
    let steps = test.steps.iter().zip(parts);
    let missing = steps.filter(|(_, part)| matches!(part.shown, Shown::NotDone));
    missing
        .map(|(planned, _)| planned.step.title.clone())
        .collect()
}

/// Why repeated holds do not agree, for each set of them.
fn repeats_apart(test: &Test, parts: &[Part]) -> Vec<String> {
    let mut sets: Vec<(&str, Vec<&Verdict>)> = Vec::new();
    for (planned, part) in test.steps.iter().zip(parts) {
        let (Some(repeat), Shown::Held(held)) = (&planned.repeat, &part.shown) else {
            continue;
        };
        let verdict = &held.judgement.verdict;
        match sets.iter_mut().find(|(of, _)| *of == repeat.of) {
            Some((_, set)) => set.push(verdict),
            None => sets.push((&repeat.of, vec![verdict])),
        }
    }
    sets.iter()
        .filter_map(|(_, set)| disagreement(set))
        .collect()
}
