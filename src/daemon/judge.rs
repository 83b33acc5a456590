//! `stillrod judge`: finished recordings evaluated again.
//!
//! An archive brings its own setup and limits; a table of another logger needs them.
//! Nothing is entered anywhere.

use super::clock;
use super::conduct::NamedText;
use super::judgement::Judgement;
use super::judgement::judged;
use super::paper::SOFTWARE;
use super::paper::facts;
use super::paper::sha256_hex;
use crate::account::Trials;
use crate::account::check_by_chance;
use crate::archive;
use crate::certificate::Record;
use crate::import::ColumnSensor;
use crate::import::table;
use crate::recording::Heading;
use crate::recording::Recording;
use crate::settings::Setup;
use crate::settings::Shop;
use anyhow::Context;
use anyhow::bail;
use std::path::Path;

/// A file that was judged.
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
) -> anyhow::Result<JudgedFile> {
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
    let mut judgement = judged(&recording, shop)?;
    if let (Some(trials), Ok(evaluation)) = (trials, &mut judgement.evaluation) {
        check_by_chance(&recording, &judgement.setup.subject, trials, evaluation)?;
    }
    let hash = sha256_hex(path)?;
    let record_json =
        Record::from_facts(&facts(&recording, &judgement, path, &hash, None)).to_json_pretty();
    Ok(JudgedFile {
        judgement,
        record_json,
        recording,
    })
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
