//! `stillrod rehearse` with an inquiry: several holds of one practice cylinder, one after the
//! other, and the isolation sheet at their end.

use super::conduct::Conducted;
use super::investigation::Investigated;
use super::investigation::together;
use super::judge::judge_hold;
use super::paper::write_whole;
use super::rehearse::Rehearse;
use super::rehearse::hold;
use super::rehearse::introduce;
use crate::circuit::Look;
use crate::circuit::Seen;
use crate::rehearsal::Inquiry;
use crate::rehearsal::inquiry;
use anyhow::Context;
use std::fmt::Write;
use std::path::PathBuf;

/// How an inquiry ended.
#[derive(Debug)]
pub enum Inquired {
    /// A phase was not started, and why.
    Refused(Vec<String>),
    /// All phases were held.
    Done {
        /// What they came to together.
        found: Box<Investigated>,
        /// Their recordings.
        recordings: Vec<PathBuf>,
        /// What eyes saw, as a file.
        seen: PathBuf,
        /// The sheet.
        sheet: PathBuf,
    },
}

/// Holds all phases of an inquiry and judges them together; None if no inquiry has the name.
///
/// # Errors
/// If settings, disk, register or pseudo-terminal refuse.
pub async fn inquire(asked: &Rehearse) -> anyhow::Result<Option<Inquired>> {
    let Some(named) = inquiry(&asked.scenario) else {
        return Ok(None);
    };
    let inquiry = match asked.seed {
        Some(seed) => named.with_seed(seed),
        None => named,
    };
    introduce(asked.quiet, inquiry.description, asked.shop.as_ref());
    let mut recordings = Vec::new();
    for phase in &inquiry.phases {
        if !asked.quiet {
            println!("Phase {}  {}", phase.label, phase.what);
        }
        let word = format!("{}-{}", inquiry.name, phase.label.to_lowercase());
        match hold(asked, &phase.scenario, &word).await? {
            Conducted::Refused(reasons) => return Ok(Some(Inquired::Refused(reasons))),
            Conducted::Done { archive, .. } => recordings.push(archive),
        }
    }
    let names = recordings.iter().filter_map(|path| path.file_name());
    let names: Vec<String> = names.map(|n| n.to_string_lossy().into_owned()).collect();
    let seen = seen_toml(&inquiry, &names)?;
    let first = recordings.first().context("an inquiry has phases")?;
    let stem = first
        .file_stem()
        .map(|s| s.to_string_lossy().into_owned())
        .unwrap_or_default();
    let seen_path = first.with_file_name(format!("{stem}-seen.toml"));
    write_whole(&seen_path, seen.as_bytes())?;
    let sheet = asked
        .folder
        .join("papers")
        .join(format!("{stem}-isolation.pdf"));
    let shop = asked.shop.as_ref();
    let mut judged = Vec::new();
    for path in &recordings {
        judged.push(judge_hold(path, None, shop)?);
    }
    let named = (seen_path.display().to_string(), seen);
    let found = together(&recordings, &judged, Some(&named), Some(&sheet))?;
    Ok(Some(Inquired::Done {
        found: Box::new(found.context("phases of one inquiry are of one unit")?),
        recordings,
        seen: seen_path,
        sheet,
    }))
}

/// What eyes saw of the phases, as a person would have written it; `recordings` are the names
/// of their files.
///
/// # Errors
/// If the physics of a phase cannot be integrated.
pub fn seen_toml(inquiry: &Inquiry, recordings: &[String]) -> anyhow::Result<String> {
    let mut text = String::from(
        "# Practice bench: what somebody with a rag and a glass saw.\n[asked]\nquestion = \"Which way does the oil go?\"\n",
    );
    for (phase, recording) in inquiry.phases.iter().zip(recordings) {
        let eyes = phase.scenario.eyes()?;
        // Writing to a String cannot fail.
        let _ = write!(
            text,
            "\n[[phase]]                  # {}\nrecording = \"{}\"\nlabel = \"{}\"\n{}",
            phase.what,
            recording,
            phase.label,
            eyes_toml(&eyes)
        );
    }
    Ok(text)
}

fn eyes_toml(eyes: &Seen) -> String {
    let word = |look: Option<Look>| match look {
        Some(Look::Dry) => "dry",
        Some(Look::Wet) => "wet",
        None => "not_looked",
    };
    let mut text = format!(
        "gland = \"{}\"\ncap_port = \"{}\"\nrod_port = \"{}\"\n",
        word(eyes.gland),
        word(eyes.cap_port),
        word(eyes.rod_port)
    );
    if let Some(collected) = &eyes.collected {
        let _ = write!(
            text,
            "collected = \"{:.2} mL\"\ncollected_uncertainty = \"{:.2} mL\"\ncollected_from = \"{}\"\n",
            collected.volume_m3 * 1e6,
            collected.standard_m3 * 1e6,
            collected.chamber.word()
        );
    }
    text
}
