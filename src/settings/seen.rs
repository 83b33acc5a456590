//! `seen.toml`: what eyes saw in an investigation, before it and phase by phase.
//!
//! A recording cannot know what was wiped dry and got wet, or what a vessel held; a person
//! writes it here. Nothing is assumed of what nobody looked at.

use super::SettingsError;
use super::Source;
use super::read;
use super::text::Text;
use crate::circuit::Collected;
use crate::circuit::Look;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::quantity::Quantity;
use crate::quantity::Volume;
use serde::Deserialize;
use toml::Spanned;

/// What was asked, and what could be told before anything was measured; empty where nobody
/// wrote it down.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Asked {
    /// What is to be found out.
    pub question: String,
    /// Oil outside: where, or none.
    pub external_oil: String,
    /// Damage at gland, rod or tube, or none.
    pub damage: String,
    /// How far it sinks, in what time.
    pub sinks: String,
    /// What should hold the load by the schematic.
    pub holds_by: String,
}

/// What was seen of one recording.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenPhase {
    /// The recording's file name.
    pub recording: String,
    /// What people call the phase; its letter by the order of the files without one.
    pub label: Option<String>,
    /// What was seen.
    pub seen: Seen,
}

/// A file of what was seen.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SeenFile {
    /// Before the investigation.
    pub asked: Asked,
    /// Phase by phase.
    pub phases: Vec<SeenPhase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    asked: AskedTable,
    #[serde(default)]
    phase: Vec<Spanned<PhaseTable>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct AskedTable {
    question: String,
    external_oil: String,
    damage: String,
    sinks: String,
    holds_by: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PhaseTable {
    recording: String,
    label: Option<String>,
    #[serde(default)]
    gland: LookWord,
    #[serde(default)]
    cap_port: LookWord,
    #[serde(default)]
    rod_port: LookWord,
    collected: Option<Text<Volume>>,
    collected_uncertainty: Option<Text<Volume>>,
    collected_from: Option<ChamberWord>,
}

#[derive(Deserialize, Default, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum LookWord {
    Dry,
    Wet,
    #[default]
    NotLooked,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum ChamberWord {
    Cap,
    Rod,
}

impl LookWord {
    fn look(self) -> Option<Look> {
        match self {
            Self::Dry => Some(Look::Dry),
            Self::Wet => Some(Look::Wet),
            Self::NotLooked => None,
        }
    }
}

impl SeenFile {
    /// Reads a file; `file` is its name in errors.
    ///
    /// # Errors
    /// With file, line, what is wrong and what would be right.
    pub fn parse(file: &str, text: &str) -> Result<Self, SettingsError> {
        let source = Source { file, text };
        let found: File = read(file, text)?;
        let mut phases: Vec<SeenPhase> = Vec::new();
        for table in &found.phase {
            let t = table.get_ref();
            if phases.iter().any(|p| p.recording == t.recording) {
                let message = format!("`{}` has two [[phase]] tables; write one", t.recording);
                return Err(source.error(table, message));
            }
            phases.push(SeenPhase {
                recording: t.recording.clone(),
                label: t.label.clone(),
                seen: Seen {
                    gland: t.gland.look(),
                    cap_port: t.cap_port.look(),
                    rod_port: t.rod_port.look(),
                    collected: collected(&source, table)?,
                },
            });
        }
        let asked = found.asked;
        Ok(Self {
            asked: Asked {
                question: asked.question,
                external_oil: asked.external_oil,
                damage: asked.damage,
                sinks: asked.sinks,
                holds_by: asked.holds_by,
            },
            phases,
        })
    }
}

fn collected(
    source: &Source<'_>,
    table: &Spanned<PhaseTable>,
) -> Result<Option<Collected>, SettingsError> {
    let t = table.get_ref();
    match (&t.collected, &t.collected_uncertainty, t.collected_from) {
        (None, None, None) => Ok(None),
        (Some(volume), Some(uncertainty), Some(from)) => {
            let standard_m3 = uncertainty.get().si();
            if standard_m3 <= 0.0 {
                let message = "`collected_uncertainty` (one sigma) must be above zero: nobody reads a vessel exactly";
                return Err(source.error(table, message));
            }
            Ok(Some(Collected {
                chamber: match from {
                    ChamberWord::Cap => Chamber::Cap,
                    ChamberWord::Rod => Chamber::Rod,
                },
                volume_m3: volume.get().si(),
                standard_m3,
            }))
        }
        _ => Err(source.error(
            table,
            "what was collected needs all three: `collected` (over the counted hold, negative if the vessel gave oil), \
             `collected_uncertainty` and `collected_from` (cap or rod)",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_eyes_saw_is_read() {
        let text = r#"
[asked]
question = "Cylinder or valve?"
sinks = "40 mm in 12 h"

[[phase]]
recording = "a.h5"
gland = "dry"
cap_port = "wet"
collected = "-1,5 mL"
collected_uncertainty = "0.1 mL"
collected_from = "rod"

[[phase]]
recording = "b.h5"
label = "plugged"
"#;
        let found = SeenFile::parse("seen.toml", text).expect("sound");
        assert_eq!(found.asked.sinks, "40 mm in 12 h");
        let first = &found.phases[0].seen;
        assert_eq!(
            (first.gland, first.cap_port, first.rod_port),
            (Some(Look::Dry), Some(Look::Wet), None)
        );
        let collected = first.collected.expect("there");
        assert!((collected.volume_m3 + 1.5e-6).abs() < 1e-12 && collected.chamber == Chamber::Rod);
        assert_eq!(found.phases[1].label.as_deref(), Some("plugged"));
        assert_eq!(found.phases[1].seen, Seen::default());
    }

    #[track_caller]
    fn check(lines: &str, line: usize, says: &str) {
        let text = format!("[[phase]]\nrecording = \"a.h5\"\n{lines}\n");
        let error = SeenFile::parse("seen.toml", &text).expect_err("wrong");
        assert_eq!(error.line, line, "{error}");
        assert!(error.message.contains(says), "{error}");
    }

    #[test]
    fn what_cannot_be_used_is_said_with_its_line() {
        check("gland = \"moist\"", 3, "moist");
        check("collected = \"3 mL\"", 1, "collected_from");
        check("[[phase]]\nrecording = \"a.h5\"", 3, "two [[phase]] tables");
        check(
            "collected = \"3 mL\"\ncollected_uncertainty = \"0 mL\"\ncollected_from = \"rod\"",
            1,
            "above zero",
        );
    }
}
