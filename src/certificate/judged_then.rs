//! What a stored record decided and why: each figure with the limit it was held against.

use crate::certificate::measured::MeasuredFigure;
use crate::certificate::measured::measured;
use crate::verdict::Outcome;
use serde::Deserialize;

/// What a record decided.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedThen {
    /// What came out.
    pub outcome: Option<Outcome>,
    /// Reasons that concern the whole test.
    pub reasons: Vec<String>,
    /// Its figures, each with the limits it was held against, if there were any.
    pub figures: Vec<(MeasuredFigure, Vec<HeldAgainst>)>,
}

/// A limit that a figure was held against.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldAgainst {
    /// The shop's name for it.
    pub id: String,
    /// As it was typed.
    pub text: String,
    /// Where it came from.
    pub source: String,
    /// What came out.
    pub outcome: Option<Outcome>,
    /// Why, as a sentence.
    pub reason: String,
}

#[derive(Deserialize)]
struct Sheet {
    outcome: String,
    #[serde(default)]
    conclusion: String,
    #[serde(default)]
    reasons: Vec<String>,
    #[serde(default)]
    limits: Vec<Limit>,
    #[serde(default)]
    steps: Vec<Step>,
}

#[derive(Deserialize)]
struct Step {
    id: String,
    shown: Shown,
}

#[derive(Deserialize)]
struct Shown {
    record: Option<Held>,
}

#[derive(Deserialize)]
struct Held {
    #[serde(default)]
    limits: Vec<Limit>,
}

#[derive(Deserialize)]
struct Limit {
    id: String,
    figure: String,
    as_typed: String,
    outcome: String,
    reason: String,
    source: String,
}

/// Reads what a record decided.
///
/// # Errors
/// If the text is no record.
pub fn judged_then(record_json: &str) -> Result<JudgedThen, serde_json::Error> {
    let sheet: Sheet = serde_json::from_str(record_json)?;
    let limits_of = |phase: &str| {
        let step = sheet.steps.iter().find(|step| step.id == phase);
        let of_step = step.and_then(|step| step.shown.record.as_ref());
        of_step.map_or(&sheet.limits, |held| &held.limits)
    };
    let figures = measured(record_json)?.into_iter().map(|figure| {
        let limits = limits_of(&figure.phase).iter();
        let own = limits.filter(|limit| limit.figure == figure.name.word());
        let against = own.map(held_against).collect();
        (figure, against)
    });
    let conclusion = Some(sheet.conclusion.clone()).filter(|text| !text.is_empty());
    Ok(JudgedThen {
        outcome: outcome(&sheet.outcome),
        figures: figures.collect(),
        reasons: conclusion
            .into_iter()
            .chain(sheet.reasons.clone())
            .collect(),
    })
}

fn held_against(limit: &Limit) -> HeldAgainst {
    HeldAgainst {
        id: limit.id.clone(),
        text: limit.as_typed.clone(),
        source: limit.source.clone(),
        outcome: outcome(&limit.outcome),
        reason: limit.reason.clone(),
    }
}

fn outcome(word: &str) -> Option<Outcome> {
    [
        Outcome::Pass,
        Outcome::Fail,
        Outcome::Undecided,
        Outcome::NotValid,
        Outcome::Measured,
    ]
    .into_iter()
    .find(|outcome| outcome.word() == word)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HELD: &str = r#""figures": [
        {"name": "cap_loss", "value": 0.6, "unit": "mL/min", "lower": 0.5, "upper": 0.7, "at": {}},
        {"name": "drift", "value": -0.1, "unit": "mm/min", "lower": -0.2, "upper": 0.0, "at": {}}],
        "limits": [{"id": "loss", "figure": "cap_loss", "limit_value": 0.12, "limit_unit": "mL/min",
        "as_typed": "0,12 mL/min", "value": 0.6, "outcome": "fail", "reason": "over", "source": "depot"}]"#;

    #[test]
    fn each_figure_stands_with_its_own_limit() {
        let text = format!(r#"{{"outcome": "fail", "reasons": ["it leaks"], {HELD}}}"#);
        let found = judged_then(&text).expect("a record");
        assert_eq!(found.outcome, Some(Outcome::Fail));
        assert_eq!(found.reasons, ["it leaks"]);
        assert_eq!(found.figures[0].1[0].outcome, Some(Outcome::Fail));
        assert_eq!(found.figures[0].1[0].text, "0,12 mL/min");
        assert!(found.figures[1].1.is_empty());
    }

    #[test]
    fn a_figure_of_a_step_stands_with_the_limits_of_that_step() {
        let text = format!(
            r#"{{"outcome": "pass", "conclusion": "sound", "steps": [
            {{"id": "a", "title": "A", "shown": {{"record": {{{HELD}}}}}}},
            {{"id": "b", "title": "B", "shown": {{"record": {{{}}}}}}}]}}"#,
            HELD.replace("\"id\": \"loss\"", "\"id\": \"other\"")
        );
        let found = judged_then(&text).expect("a record");
        let ids: Vec<Vec<&str>> = found
            .figures
            .iter()
            .map(|(_, limits)| limits.iter().map(|limit| limit.id.as_str()).collect())
            .collect();
        assert_eq!(ids, [vec!["loss"], vec![], vec!["other"], vec![]]);
        assert_eq!(found.reasons, ["sound"]);
    }
}
