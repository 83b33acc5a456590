//! One hold of ten minutes, looked at as it grows, against several limits.

use crate::draw::hold;
use crate::draw::usable;
use crate::play::Played;
use crate::play::played;
use crate::setup_text::setup_toml;
use serde::Deserialize;
use serde::Serialize;
use stillrod::account::Evaluation;
use stillrod::account::FigureName;
use stillrod::account::evaluate;
use stillrod::health::Flag;
use stillrod::health::examine;
use stillrod::procedure::HOLD;
use stillrod::procedure::SETTLE;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Loss;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::rehearsal::physics::Course;
use stillrod::verdict::Basis;
use stillrod::verdict::DecisionRule;
use stillrod::verdict::EarlyRule;
use stillrod::verdict::HoldEnd;
use stillrod::verdict::Limit;
use stillrod::verdict::Outcome;
use stillrod::verdict::ends_the_hold;
use stillrod::verdict::judge;

/// The longest hold, s.
pub const LONGEST_S: f64 = 600.0;

/// The rule of the shop: a risk of 2.5 %.
const RULE: DecisionRule = DecisionRule::Guarded { probability: 0.975 };

/// True leak by limit, for holds that leak.
const RATIOS: [f64; 8] = [0.1, 0.3, 0.5, 0.8, 1.0, 1.2, 2.0, 5.0];

/// Limit by the expanded uncertainty of the whole hold, for tight holds.
const TIMES_EXPANDED: [f64; 4] = [1.5, 3.0, 6.0, 12.0];

/// A hold against a limit.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Row {
    /// Its number.
    pub hold: u64,
    /// The figure.
    pub figure: String,
    /// True leak by limit.
    pub ratio: f64,
    /// Expanded uncertainty of the whole hold by limit, 95 %.
    pub expanded_by_limit: f64,
    /// How it is plumbed.
    pub plumbing: String,
    /// What came out with looks.
    pub early: String,
    /// When that ended it, s of counted hold.
    pub ended_s: f64,
    /// What came out of the whole hold at the same risk.
    pub fixed: String,
}

/// What a look saw.
struct Look {
    end: HoldEnd,
    held_s: f64,
    evaluation: Result<Evaluation, String>,
    flags: Vec<Flag>,
}

/// A flow below this is none, m³/s (1e-9 mL/min).
const NO_FLOW: f64 = 1e-9 * 1e-6 / 60.0;

/// Rows of a hold; none where it cannot last ten minutes or has nothing to be judged, or where it
/// is tight and only leaking ones are wanted.
pub fn looked(seed: u64, index: u64, leaking: bool) -> Vec<Row> {
    let (mut drawn, _) = hold(seed, index);
    drawn.hold_s = LONGEST_S;
    drawn.samples_per_s = 10;
    let Ok(course) = Course::of(&drawn.specimen, drawn.settle_s + LONGEST_S) else {
        return Vec::new();
    };
    if usable(&drawn, &course).is_none_or(|(_, why)| why != "plan") {
        return Vec::new();
    }
    drawn.setup_toml = setup_toml(&drawn);
    let played = played(drawn, &course);
    let start = &played.truth.start;
    if leaking && start.cap_loss.abs().max(start.rod_gain.abs()) <= NO_FLOW {
        return Vec::new();
    }
    let early = EarlyRule::new(RULE, LONGEST_S);
    let looks = looks(&played, &early);
    let Some(Ok(whole)) = looks.last().map(|look| &look.evaluation) else {
        return Vec::new();
    };
    let name = [FigureName::CapLoss, FigureName::RodGain]
        .into_iter()
        .find_map(|name| whole.figure(name));
    let Some((figure, measured)) = name.and_then(|f| Some((f, f.measured?))) else {
        return Vec::new();
    };
    let expanded = figure.coverage_factor * measured.standard_si;
    let truth = &played.truth;
    let true_si = match figure.name {
        FigureName::CapLoss => truth.start.cap_loss,
        _ => truth.start.rod_gain,
    };
    let limits: Vec<(f64, f64)> = match true_si.abs() > NO_FLOW {
        true => RATIOS.iter().map(|r| (*r, true_si.abs() / r)).collect(),
        false => TIMES_EXPANDED.iter().map(|t| (0.0, t * expanded)).collect(),
    };
    limits
        .into_iter()
        .map(|(ratio, limit_si)| {
            let limit = limit(figure.name, limit_si);
            let (outcome, ended_s) = with_looks(&looks, &early, &limit);
            let last = &looks[looks.len() - 1];
            let fixed = judge(
                last.evaluation.as_ref().map_err(Clone::clone),
                &last.flags,
                &[limit],
                RULE,
            );
            Row {
                hold: index,
                figure: figure.name.word().into(),
                ratio,
                expanded_by_limit: expanded / limit_si,
                plumbing: played.hold.plumbing.word().into(),
                early: outcome.word().into(),
                ended_s,
                fixed: fixed.outcome.word().into(),
            }
        })
        .collect()
}

fn with_looks(looks: &[Look], early: &EarlyRule, limit: &Limit) -> (Outcome, f64) {
    let mut last = (Outcome::NotValid, LONGEST_S);
    for look in looks {
        let evaluation = look.evaluation.as_ref().map_err(Clone::clone);
        let verdict = early.judge(
            evaluation,
            &look.flags,
            std::slice::from_ref(limit),
            look.end,
        );
        last = (verdict.outcome, look.held_s);
        if ends_the_hold(&verdict) {
            break;
        }
    }
    last
}

/// All looks of a hold and its end.
fn looks(played: &Played, early: &EarlyRule) -> Vec<Look> {
    let settle_s = played.hold.settle_s;
    let at_looks = early.looks_s().iter().map(|t| (HoldEnd::Decided(*t), *t));
    at_looks
        .chain([(HoldEnd::Whole, LONGEST_S)])
        .map(|(end, held_s)| {
            let part = until(&played.recording, settle_s, settle_s + held_s);
            let subject = &played.setup.subject;
            Look {
                end,
                held_s,
                evaluation: evaluate(&part, subject).map_err(|e| e.to_string()),
                flags: examine(
                    &part,
                    &subject.piece,
                    &subject.circuit,
                    &played.setup.ratings,
                ),
            }
        })
        .collect()
}

/// The recording as it would be if its hold had ended here.
fn until(recording: &Recording, from_s: f64, until_s: f64) -> Recording {
    let n_rows = recording.rows_within(0.0, until_s).len();
    let tracks = recording.tracks().iter().map(|track| Track {
        channel: track.channel.clone(),
        codes: match &track.codes {
            Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
                Codes::Raw(codes[..n_rows].to_vec())
            }
            Codes::Si(values) => Codes::Si(values[..n_rows].to_vec()),
        },
    });
    let phase = |name: &str, from_s, until_s| PhaseMark {
        name: name.into(),
        from_s,
        until_s,
    };
    let settle = (from_s > 0.0).then(|| phase(SETTLE, 0.0, from_s));
    let parts = Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s()[..n_rows].to_vec(),
        tracks: tracks.collect(),
        gaps: Vec::new(),
        phases: settle
            .into_iter()
            .chain([phase(HOLD, from_s, until_s)])
            .collect(),
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    };
    Recording::new(parts).expect("rows in order stay in order")
}

fn limit(figure: FigureName, si: f64) -> Limit {
    let number = si / figure.si_per_metric_unit();
    Limit {
        id: "about the truth".into(),
        figure,
        number,
        unit: figure.metric_unit().into(),
        si_per_unit: figure.si_per_metric_unit(),
        text: format!("{number} {}", figure.metric_unit()),
        at_pressure: None,
        at_temperature: None,
        source: "campaign".into(),
        basis: Basis::default(),
    }
}
