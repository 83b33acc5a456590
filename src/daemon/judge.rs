//! `stillrod judge`: finished recordings evaluated again.
//!
//! An archive brings its own setup and limits; a table of another logger needs them.
//! Nothing is entered anywhere.

use super::clock;
use super::conduct::NamedText;
use super::found::Filed;
use super::found::Found;
use super::found::found;
use super::judgement::Judgement;
use super::paper::SOFTWARE;
use super::paper::sha256_hex;
use super::proof::Proof;
use super::proof::proof_text;
use super::screen::result_text;
use crate::account::Trials;
use crate::account::check_by_chance;
use crate::archive;
use crate::import::ColumnSensor;
use crate::import::table;
use crate::recording::Heading;
use crate::recording::Recording;
use crate::settings::Setup;
use crate::settings::Shop;
use crate::verdict::Outcome;
use anyhow::Context;
use anyhow::bail;
use std::path::Path;

/// A file that was judged.
#[derive(Debug)]
pub enum JudgedAny {
    /// One hold.
    Hold(Box<JudgedFile>),
    /// The steps of a procedure.
    Procedure(Box<ProvedFile>),
}

/// A file with the steps of a procedure that was judged.
#[derive(Debug)]
pub struct ProvedFile {
    /// What came out, and why.
    pub proof: Proof,
    /// The record as JSON.
    pub record_json: String,
    /// The recording.
    pub recording: Recording,
}

impl JudgedAny {
    /// What came out.
    pub fn outcome(&self) -> Outcome {
        match self {
            Self::Hold(file) => file.judgement.verdict.outcome,
            Self::Procedure(file) => file.proof.outcome,
        }
    }

    /// The result as text.
    pub fn text(&self) -> String {
        match self {
            Self::Hold(file) => result_text(&file.judgement),
            Self::Procedure(file) => proof_text(&file.proof),
        }
    }

    /// The record as JSON.
    pub fn record_json(&self) -> &str {
        match self {
            Self::Hold(file) => &file.record_json,
            Self::Procedure(file) => &file.record_json,
        }
    }

    /// The recording.
    pub fn recording(&self) -> &Recording {
        match self {
            Self::Hold(file) => &file.recording,
            Self::Procedure(file) => &file.recording,
        }
    }
}

/// A file with one hold that was judged.
#[derive(Debug)]
pub struct JudgedFile {
    /// What came out, and why.
    pub judgement: Judgement,
    /// The record as JSON.
    pub record_json: String,
    /// The recording.
    pub recording: Recording,
}

/// Judges one file by its ending: `.h5` or `.csv`. With `trials` the intervals of its figures
/// are checked by chance as well; that changes none of them.
///
/// # Errors
/// If file or settings cannot be used.
pub fn judge_file(
    path: &Path,
    setup: Option<&NamedText>,
    shop: Option<&NamedText>,
    trials: Option<Trials>,
) -> anyhow::Result<JudgedAny> {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    let recording = match ending.as_deref() {
        Some("h5") => {
            if setup.is_some() {
                bail!(
                    "{} brings its own setup; --setup is for .csv files",
                    path.display()
                );
            }
            archive::read(path)?
        }
        Some("csv") => {
            let setup = setup.with_context(|| {
                format!(
                    "{} does not say what was measured; give --setup setup.toml",
                    path.display()
                )
            })?;
            from_table(path, setup, shop)?
        }
        _ => bail!(
            "{} is neither a recording (.h5) nor a table (.csv)",
            path.display()
        ),
    };
    let shop = shop.map(|(file, text)| (file.as_str(), text.as_str()));
    let hash = sha256_hex(path)?;
    let filed = Filed {
        path,
        sha256_hex: &hash,
        number: None,
    };
    let mut found = found(&recording, shop)?;
    if let Found::Hold(judgement) = &mut found {
        by_chance(&recording, judgement, trials)?;
    }
    let record_json = found.record_json(&recording, filed)?;
    Ok(match found {
        Found::Hold(judgement) => JudgedAny::Hold(Box::new(JudgedFile {
            judgement: *judgement,
            record_json,
            recording,
        })),
        Found::Procedure(proof) => JudgedAny::Procedure(Box::new(ProvedFile {
            proof: *proof,
            record_json,
            recording,
        })),
    })
}

/// As [`judge_file`], for a file that has one hold.
///
/// # Errors
/// As there, and if it has the steps of a procedure.
pub fn judge_hold(
    path: &Path,
    setup: Option<&NamedText>,
    shop: Option<&NamedText>,
) -> anyhow::Result<JudgedFile> {
    match judge_file(path, setup, shop, None)? {
        JudgedAny::Hold(file) => Ok(*file),
        JudgedAny::Procedure(_) => bail!("{} has the steps of a procedure", path.display()),
    }
}

fn by_chance(
    recording: &Recording,
    judgement: &mut Judgement,
    trials: Option<Trials>,
) -> anyhow::Result<()> {
    if let (Some(trials), Ok(evaluation)) = (trials, &mut judgement.evaluation) {
        check_by_chance(recording, &judgement.setup.subject, trials, evaluation)?;
    }
    Ok(())
}

fn from_table(
    path: &Path,
    setup: &NamedText,
    shop: Option<&NamedText>,
) -> anyhow::Result<Recording> {
    let file = path.display().to_string();
    let bytes = std::fs::read(path).with_context(|| format!("{file} cannot be read"))?;
    let text = String::from_utf8(bytes)
        .with_context(|| format!("{file} is no plain text; export it as UTF-8"))?;
    let shop_read = shop
        .map(|(file, text)| Shop::parse(file, text))
        .transpose()?;
    let setup_read = Setup::parse(&setup.0, &setup.1, shop_read.as_ref())?;
    if let Some(own) = setup_read.sensors.iter().find(|s| s.is_against_supply) {
        anyhow::bail!(
            "sensors.{} is read against the measured supply, and a table of values is not; leave `supply` away if its \
             logger saw to it",
            own.role.word()
        );
    }
    let sensors: Vec<ColumnSensor> = setup_read
        .sensors
        .iter()
        .map(|s| ColumnSensor {
            role: s.role,
            errors: s.errors,
            papers: s.papers.clone(),
            resolution_si: s.resolution_si,
            motion_ratio: s.motion_ratio,
            curve: s.calibration.as_ref().map(|c| c.curve.clone()),
        })
        .collect();
    let modified = std::fs::metadata(path).and_then(|m| m.modified()).ok();
    let started_utc_ms = modified.map_or(0, clock::utc_ms);
    let heading = Heading {
        run_id: path
            .file_stem()
            .map(|s| s.to_string_lossy().into_owned())
            .unwrap_or_default(),
        started_utc_ms,
        time_zone: shop_read.map_or_else(|| "UTC".into(), |s| s.time_zone),
        software: SOFTWARE.into(),
        source: format!("table {file}; the date is that of the file"),
        setup_toml: setup.1.clone(),
        shop_toml: shop.map(|(_, text)| text.clone()).unwrap_or_default(),
        practice: String::new(),
    };
    Ok(table(&file, &text, &sensors, &setup_read.plan, heading)?)
}
