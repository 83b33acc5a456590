//! Each fault, done to a tight cylinder and to one that leaks, beside the same test without.
//!
//! How far a fault moved a judged figure is the change of the figure's error (figure less
//! truth) against the same seed without the fault, by the uncertainty stated with the fault.

use super::play::judgement;
use stillrod::account::FigureName;
use stillrod::daemon::judgement::Judgement;
use stillrod::health::Weight;
use stillrod::rehearsal::Injected;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::physics::Leak;
use stillrod::rehearsal::physics::Truth;
use stillrod::rehearsal::scenario;

/// Past the piston of the leaking one at 96 bar, mL/min: surely over the limit of 0.12, and
/// not by much.
const LEAK_ML_MIN: f64 = 0.16;

/// What a single hold does not see, and why. Two looks at a sensor's zero, before the hold
/// and after it, see the drifts; a stroke to a known stop sees a position that crept.
pub const NEEDS_PROCEDURE: &[(&str, &str)] = &[
    (
        "cap-pressure-drifts",
        "a pressure that falls by 2 bar in the hold looks like a cylinder that cools or leaks a little: only the zero, \
         vented before and after, shows it",
    ),
    (
        "position-drifts-out-a-little",
        "a bracket that creeps steadily looks like a rod that moves: only a known stop, touched before and after, \
         shows it",
    ),
    (
        "all-readings-drift-out",
        "the same of a reference that drifts steadily, while pressures and temperature move by more of themselves: only \
         zero and stop, looked at before and after, show it",
    ),
];

/// One judged figure.
pub struct Moved {
    /// Its name.
    pub figure: &'static str,
    /// By how many of its expanded uncertainties it moved; None if it is not stated.
    pub by: Option<f64>,
}

/// One fault in one cylinder.
pub struct Played {
    /// What came out; `refused` if there was no judgement at all.
    pub outcome: String,
    /// What comes out without the fault.
    pub without: String,
    /// What each judged figure did.
    pub moved: Vec<Moved>,
    /// What was said, heavier flags first: of the measurement, then of the verdict.
    pub voids: Vec<String>,
    /// What is to be read beside it.
    pub remarks: Vec<String>,
    /// Whether its figure really is within each limit.
    pub is_sound: bool,
}

impl Played {
    /// The farthest that a figure moved; infinite if one is not stated.
    pub fn farthest(&self) -> Option<f64> {
        let moved = self.moved.iter().filter_map(|m| m.by);
        moved.max_by(f64::total_cmp)
    }

    /// Whether it passed though a figure moved further than it is sure.
    pub fn deceives(&self) -> bool {
        self.outcome == "pass" && (!self.is_sound || self.farthest().is_some_and(|by| by > 1.0))
    }
}

/// One fault.
pub struct Row {
    /// Which.
    pub name: &'static str,
    /// What is wrong.
    pub description: &'static str,
    /// In a tight cylinder.
    pub tight: Played,
    /// In one whose piston leaks.
    pub leaking: Played,
}

/// A sound test of five minutes.
pub fn tight() -> Scenario {
    let mut scenario = scenario("tight-rebuild").expect("a scenario");
    scenario.hold_s = 300.0;
    scenario
}

/// The same with a piston seal that leaks.
pub fn leaking() -> Scenario {
    let mut scenario = tight();
    scenario.specimen.ills.piston = Leak::laminar(LEAK_ML_MIN, 96.0);
    scenario
}

/// A test without a fault.
struct Base {
    scenario: Scenario,
    truth: Truth,
    judgement: Judgement,
}

/// Both cylinders, tested without a fault.
pub struct Bench {
    tight: Base,
    leaking: Base,
}

impl Bench {
    /// Tests both.
    pub fn new() -> Self {
        let base = |scenario: Scenario| Base {
            truth: scenario.truth().expect("physics that can be integrated"),
            judgement: judgement(&scenario).expect("a sound test"),
            scenario,
        };
        Self {
            tight: base(tight()),
            leaking: base(leaking()),
        }
    }

    /// The row of a fault.
    pub fn row(&self, fault: &Injected) -> Row {
        Row {
            name: fault.name,
            description: fault.description,
            tight: played(fault, &self.tight),
            leaking: played(fault, &self.leaking),
        }
    }
}

fn played(fault: &Injected, base: &Base) -> Played {
    let struck = fault.strike(base.scenario.clone());
    let truth = struck.truth().expect("physics that can be integrated");
    let truths = [base.truth, truth];
    let sound = &base.judgement;
    let without = sound.verdict.outcome.word().to_owned();
    let judged = match judgement(&struck) {
        Ok(judged) => judged,
        Err(why) => {
            return Played {
                outcome: "refused".into(),
                without,
                moved: Vec::new(),
                voids: vec![format!("{why:#}")],
                remarks: Vec::new(),
                is_sound: true,
            };
        }
    };
    let of_weight = |weight: Weight| {
        let flags = judged.flags.iter().filter(move |f| f.weight == weight);
        flags.map(|f| f.evidence.clone())
    };
    let reasons = judged.verdict.reasons.iter().cloned();
    let mut voids: Vec<String> = of_weight(Weight::Voids).collect();
    let others: Vec<String> = reasons.filter(|r| !voids.contains(r)).collect();
    voids.extend(others);
    voids.extend(judged.verdict.judged.iter().map(|j| j.reason.clone()));
    Played {
        outcome: judged.verdict.outcome.word().into(),
        without,
        moved: moved(&judged, sound, &truths),
        remarks: of_weight(Weight::Remark).collect(),
        is_sound: judged.verdict.judged.iter().all(|j| {
            let true_number = of(&truths[1], j.limit.figure) / j.limit.si_per_unit;
            true_number.abs() <= j.limit.number
        }),
        voids,
    }
}

fn moved(judged: &Judgement, sound: &Judgement, truths: &[Truth; 2]) -> Vec<Moved> {
    let pairs = judged.verdict.judged.iter().zip(&sound.verdict.judged);
    pairs
        .map(|(own, other)| {
            let error = |j: &stillrod::verdict::Judged, truth: &Truth| {
                let figure = of(truth, j.limit.figure) / j.limit.si_per_unit;
                // A movement counts by its size, whichever way.
                j.number.map(|number| number.abs() - figure.abs())
            };
            let by = error(own, &truths[1])
                .zip(error(other, &truths[0]))
                .zip(own.expanded)
                .map(|((own, other), expanded)| (own - other).abs() / expanded);
            Moved {
                figure: own.limit.figure.word(),
                by,
            }
        })
        .collect()
}

/// The truth of a figure, in SI units.
fn of(truth: &Truth, figure: FigureName) -> f64 {
    match figure {
        FigureName::Drift => truth.drift_m_per_s,
        FigureName::LeakDown => truth.leak_down_pa_per_s,
        FigureName::RodGain => truth.start.rod_gain,
        _ => truth.start.cap_loss,
    }
}

/// All rows as a table, with what was seen first.
pub fn markdown(rows: &[Row]) -> String {
    let mut text = String::from(
        "| fault | tight: moved by, U | outcome | leaking: moved by, U | outcome | what is said first |\n\
         |---|---|---|---|---|---|\n",
    );
    for row in rows {
        let first = row.tight.voids.first().or(row.tight.remarks.first());
        let said = first.map_or("–", String::as_str);
        text += &format!(
            "| {} | {} | {} | {} | {} | {said} |\n",
            row.name,
            cells(&row.tight),
            row.tight.outcome,
            cells(&row.leaking),
            row.leaking.outcome,
        );
    }
    text
}

fn cells(played: &Played) -> String {
    let cells = played.moved.iter().map(|m| match m.by {
        Some(by) => format!("{} {by:.1}", m.figure),
        None => format!("{} –", m.figure),
    });
    cells.collect::<Vec<_>>().join(", ")
}
