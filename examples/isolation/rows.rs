//! One row of the campaign's file: one answer of one investigation, with the truth beside
//! it and what became of it once the advice was followed. Flows in mL/min.

use super::investigate::Followed;
use super::investigate::Investigation;
use super::investigate::Scored;
use super::investigate::is_resolved;
use super::score::word;
use super::truth::ML_MIN;
use serde::Deserialize;
use serde::Serialize;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Step;

/// Score where the program gave no answer: worse than not telling.
pub const FAULT: &str = "wrong_fault";

/// An answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// Number of the investigation.
    pub number: u64,
    /// What stands on the bench.
    pub sort: String,
    /// Letters of its phases.
    pub phases: String,
    /// Phases that say nothing, because health voids them or they gave no sum.
    pub n_void: usize,
    /// Joined phases that could not be held.
    pub n_left_out: u32,
    /// Phases in which somebody looked.
    pub n_looked: usize,
    /// Quality of the sensors.
    pub sensors: String,
    /// What really leaks.
    pub leaks: String,
    /// The way; "-" where nothing was said.
    pub way: String,
    /// What is said of it.
    pub standing: String,
    /// Ways that it may be instead.
    pub with: String,
    /// What is true.
    pub truth: f64,
    /// What explains all sums best.
    pub best: f64,
    /// Lower end of its 95 % interval.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// What does not matter here.
    pub small: f64,
    /// Whether the planned phases, without error, would tell it.
    pub is_told: bool,
    /// Its detection limit.
    pub limit: f64,
    /// What the answer is worth.
    pub score: String,
    /// The step that was advised, [`PERHAPS`] before it if it is not sure; empty without one.
    pub step: String,
    /// Whether the advice promises to tell of this way.
    pub promised: bool,
    /// Whether the advised phase could be held.
    pub is_held: bool,
    /// What is said after it.
    pub after: String,
    /// Whether that tells.
    pub is_resolved: bool,
    /// What that is worth.
    pub after_score: String,
}

/// Before a step that tells in most trials only.
pub const PERHAPS: &str = "perhaps ";

/// All rows of an investigation.
pub fn rows(number: u64, investigation: &Investigation) -> Vec<Row> {
    let base = facts(number, investigation);
    let Some(said) = &investigation.said else {
        let score = match investigation.fault {
            Some(_) => FAULT,
            None => "not_asked",
        };
        let score = score.into();
        return vec![Row { score, ..base }];
    };
    let small = said.attribution.small_m3_per_s;
    let of = |scored: &Scored| row(investigation, scored, small, base.clone());
    said.scored.iter().map(of).collect()
}

fn row(investigation: &Investigation, scored: &Scored, small: f64, base: Row) -> Row {
    let answer = &scored.answer;
    let limit = investigation.limit(answer.way);
    let with = match &answer.standing {
        Standing::Open { with } => with.iter().map(|way| format!("{way:?}")).collect(),
        _ => Vec::new(),
    };
    let mut row = Row {
        way: format!("{:?}", answer.way),
        standing: word(&answer.standing).into(),
        with: with.join(" "),
        truth: scored.truth / ML_MIN,
        best: answer.best_m3_per_s / ML_MIN,
        lower: answer.lower_m3_per_s / ML_MIN,
        upper: answer.upper_m3_per_s / ML_MIN,
        small: small / ML_MIN,
        is_told: limit.is_told,
        limit: limit.m3_per_s / ML_MIN,
        score: scored.score.word().into(),
        ..base
    };
    if let Some((next, followed)) = &investigation.followed {
        let step = step_word(next.step);
        row.step = match next.is_sure {
            true => step,
            false => format!("{PERHAPS}{step}"),
        };
        row.promised = next.tells.contains(&answer.way);
        match followed {
            Followed::Said(_, said) => {
                row.is_held = true;
                if let Some(after) = said.of(answer.way) {
                    row.after = word(&after.answer.standing).into();
                    row.is_resolved = is_resolved(&after.answer.standing);
                    row.after_score = after.score.word().into();
                }
            }
            Followed::Fault(_) => {
                row.is_held = true;
                row.after_score = FAULT.into();
            }
            Followed::NotHeld => {}
        }
    }
    row
}

fn step_word(step: Step) -> String {
    match step {
        Step::Look { .. } => "look".into(),
        Step::HoldLonger { times, .. } => format!("hold {times} times as long"),
        Step::OpenToVessel(chamber) => format!("open {} port", chamber.word()),
        Step::PlugBoth => "plug both".into(),
        Step::SwapValve(_) => "swap the valve".into(),
        Step::JoinPorts => "join the ports".into(),
    }
}

/// A row with the facts of the investigation alone.
fn facts(number: u64, investigation: &Investigation) -> Row {
    let machine = &investigation.machine;
    let holds = &investigation.holds;
    let letters: Vec<&str> = holds.iter().map(|h| h.planned.plumbing.letter).collect();
    let leaks: Vec<String> = machine
        .leaks
        .iter()
        .map(|(spot, leak)| format!("{spot:?} {:.3}", leak.flow_m3_per_s / ML_MIN))
        .collect();
    let says_nothing = |held: &&super::bench::Held| {
        held.evaluation()
            .is_none_or(|e| e.counted.is_none() && e.met.is_none())
    };
    Row {
        number,
        sort: machine.sort.word().into(),
        phases: letters.join("+"),
        n_void: holds.iter().filter(says_nothing).count(),
        n_left_out: investigation.n_left_out,
        n_looked: holds.iter().filter(|h| h.planned.rags).count(),
        sensors: machine.quality.word().into(),
        leaks: leaks.join(", "),
        way: "-".into(),
        standing: String::new(),
        with: String::new(),
        truth: 0.0,
        best: 0.0,
        lower: 0.0,
        upper: 0.0,
        small: 0.0,
        is_told: false,
        limit: f64::INFINITY,
        score: "not_asked".into(),
        step: String::new(),
        promised: false,
        is_held: false,
        after: String::new(),
        is_resolved: false,
        after_score: String::new(),
    }
}
