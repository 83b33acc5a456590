//! What a stored record says of its recording: the steps with their names, and what was said of the
//! readings, each with the stretch it was said of.
//!
//! Leaves the phases themselves to the recording.

use serde::Deserialize;

/// A step of a procedure as its record names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepThen {
    /// Its name in data, "seal-mid".
    pub id: String,
    /// Its name for people.
    pub title: String,
}

/// Something that was said of the readings.
#[derive(Debug, Clone, PartialEq)]
pub struct SaidOf {
    /// Whether no figure of that stretch could be believed.
    pub voids: bool,
    /// The sentence.
    pub evidence: String,
    /// The step it was said of, an index of [`Marked::steps`]; None for a hold alone, and for what
    /// was said of the whole.
    pub step: Option<usize>,
    /// From when to when the readings were looked at for it, s; None for the whole recording.
    pub stretch_s: Option<(f64, f64)>,
}

/// What a record says of its recording.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Marked {
    /// The steps of a procedure, in order; none for a hold alone.
    pub steps: Vec<StepThen>,
    /// What was said of the readings.
    pub said: Vec<SaidOf>,
}

#[derive(Deserialize)]
struct Sheet {
    #[serde(default)]
    flags: Vec<Flag>,
    hold: Option<Stretch>,
    #[serde(default)]
    steps: Vec<Step>,
}

#[derive(Deserialize)]
struct Flag {
    weight: String,
    evidence: String,
}

#[derive(Deserialize)]
struct Stretch {
    from_s: Option<f64>,
    until_s: Option<f64>,
}

#[derive(Deserialize)]
struct Step {
    id: String,
    title: String,
    from_s: Option<f64>,
    until_s: Option<f64>,
    shown: Shown,
}

#[derive(Deserialize)]
struct Shown {
    counted_from_s: Option<f64>,
    record: Option<Held>,
}

#[derive(Deserialize)]
struct Held {
    #[serde(default)]
    flags: Vec<Flag>,
}

/// Reads what a record says of its recording.
///
/// # Errors
/// If the text is no record.
pub fn marked(record_json: &str) -> Result<Marked, serde_json::Error> {
    let sheet: Sheet = serde_json::from_str(record_json)?;
    let hold_s = sheet.hold.and_then(|hold| hold.from_s.zip(hold.until_s));
    let of_all = sheet.flags.iter().map(|flag| said(flag, None, hold_s));
    let of_steps = sheet.steps.iter().enumerate().flat_map(|(index, step)| {
        let from_s = step.shown.counted_from_s.or(step.from_s);
        let stretch_s = from_s.zip(step.until_s);
        let flags = step.shown.record.iter().flat_map(|held| &held.flags);
        flags.map(move |flag| said(flag, Some(index), stretch_s))
    });
    Ok(Marked {
        said: of_all.chain(of_steps).collect(),
        steps: sheet
            .steps
            .iter()
            .map(|step| StepThen {
                id: step.id.clone(),
                title: step.title.clone(),
            })
            .collect(),
    })
}

fn said(flag: &Flag, step: Option<usize>, stretch_s: Option<(f64, f64)>) -> SaidOf {
    SaidOf {
        voids: flag.weight == "voids",
        evidence: flag.evidence.clone(),
        step,
        stretch_s,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_said_of_a_hold_belongs_to_the_counted_hold() {
        let found = marked(
            r#"{"hold": {"from_s": 60.0, "until_s": 360.0}, "flags": [
            {"weight": "voids", "evidence": "the position jumped"}, {"weight": "remark", "evidence": "noise"}]}"#,
        )
        .expect("a record");
        assert!(found.steps.is_empty());
        let voids: Vec<bool> = found.said.iter().map(|said| said.voids).collect();
        assert_eq!(voids, [true, false]);
        assert_eq!(found.said[0].stretch_s, Some((60.0, 360.0)));
    }

    #[test]
    fn what_was_said_of_a_step_belongs_to_its_counted_time() {
        let found = marked(
            r#"{"flags": [{"weight": "remark", "evidence": "of all"}], "steps": [
            {"id": "zero", "title": "Zero", "from_s": 0.0, "until_s": 5.0, "shown": {"what": "vented"}},
            {"id": "seal-mid", "title": "Piston seal", "from_s": 20.0, "until_s": 400.0, "shown": {"what": "held",
             "counted_from_s": 100.0, "record": {"flags": [{"weight": "voids", "evidence": "stuck"}]}}}]}"#,
        )
        .expect("a record");
        assert_eq!(found.steps.len(), 2);
        assert_eq!(found.said[0].stretch_s, None);
        assert_eq!(found.said[1].step, Some(1));
        assert_eq!(found.said[1].stretch_s, Some((100.0, 400.0)));
        assert!(marked("[]").is_err());
    }
}
