//! `stillrod judge`: finished recordings, evaluated again.

use super::named_text;
use super::report::OPERATING_ERROR;
use clap::Args;
use std::path::Path;
use std::path::PathBuf;
use stillrod::daemon::by_chance::Trials;
use stillrod::daemon::by_chance::USUAL;
use stillrod::daemon::by_chance::trials;
use stillrod::daemon::conduct::NamedText;
use stillrod::daemon::investigation::check_sheet;
use stillrod::daemon::investigation::together;
use stillrod::daemon::judge::JudgedAny;
use stillrod::daemon::judge::JudgedFile;
use stillrod::daemon::judge::judge_file;
use stillrod::daemon::screen::worst;
use stillrod::daemon::shop_file::shop_text;

/// What comes behind the options in the help.
pub const HELP: &str = "Examples:\n  \
stillrod judge stillrod-data/recordings/*.h5\n  \
stillrod judge run.h5 --shop shop.toml --json\n  \
stillrod judge log.csv --setup setup.toml --shop shop.toml\n  \
stillrod judge run.h5 --by-chance\n  \
stillrod judge a.h5 b.h5 e.h5 --seen seen.toml --sheet sheet.pdf\n\n\
Recordings of one unit with other plumbing, within a week, are also judged together: which way the oil takes.\n\
Columns of a .csv: t_s, p_cap_bar, p_rod_bar, x_mm, t_oil_degc, t_wall_degc (also _psi, _mpa, _in, _degf).\n\
With several files the exit status is that of the worst; --json prints a list then, at its end the isolation\n\
record if they were judged together.";

/// What is asked.
#[derive(Args)]
pub struct Judge {
    /// Recordings.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// What a .csv is a recording of.
    #[arg(long, value_name = "FILE")]
    setup: Option<PathBuf>,
    /// Limits of this file instead of the stored ones.
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
    /// Check the stated intervals by the Monte Carlo method (JCGM 101); changes no figure.
    #[arg(long, value_name = "TRIALS", num_args = 0..=1, default_missing_value = USUAL, value_parser = trials)]
    by_chance: Option<Trials>,
    /// What eyes saw, phase by phase; the recordings are one investigation then.
    #[arg(long, value_name = "FILE")]
    seen: Option<PathBuf>,
    /// Write the isolation sheet of an investigation, with its record beside it.
    #[arg(long, value_name = "FILE.pdf")]
    sheet: Option<PathBuf>,
    /// Print records as JSON.
    #[arg(long)]
    json: bool,
}

/// What was asked for, with the texts of the files.
struct Again {
    files: Vec<PathBuf>,
    setup: Option<NamedText>,
    shop: Option<NamedText>,
    by_chance: Option<Trials>,
    seen: Option<NamedText>,
    sheet: Option<PathBuf>,
    json: bool,
}

/// Judges all files again; returns the exit status.
///
/// # Errors
/// If a file cannot be used, or the sheet cannot be written.
pub fn run(asked: Judge) -> anyhow::Result<u8> {
    judge_again(&Again {
        files: asked.files,
        setup: asked.setup.map(named_text).transpose()?,
        shop: asked.shop.map(|path| shop_text(&path)).transpose()?,
        by_chance: asked.by_chance,
        seen: asked.seen.map(named_text).transpose()?,
        sheet: asked.sheet,
        json: asked.json,
    })
}

fn judge_again(asked: &Again) -> anyhow::Result<u8> {
    if let Some(sheet) = &asked.sheet {
        let settings = [&asked.setup, &asked.shop, &asked.seen];
        let settings = settings
            .into_iter()
            .flatten()
            .map(|(name, _)| Path::new(name));
        let inputs: Vec<&Path> = asked
            .files
            .iter()
            .map(PathBuf::as_path)
            .chain(settings)
            .collect();
        check_sheet(sheet, &inputs)?;
    }
    let mut all = Vec::new();
    for path in &asked.files {
        let judged = judge_file(
            path,
            asked.setup.as_ref(),
            asked.shop.as_ref(),
            asked.by_chance,
        )?;
        if !asked.json {
            println!("{}", path.display());
            let practice = &judged.recording().heading().practice;
            if !practice.is_empty() {
                println!("({practice})");
            }
            println!("{}", judged.text());
        }
        all.push(judged);
    }
    let mut records: Vec<String> = all.iter().map(|j| j.record_json().to_owned()).collect();
    let outcomes: Vec<_> = all.iter().map(JudgedAny::outcome).collect();
    let is_procedure = |judged: &&JudgedAny| matches!(judged, JudgedAny::Procedure(_));
    let of_procedures: Vec<_> = all
        .iter()
        .filter(is_procedure)
        .map(JudgedAny::outcome)
        .collect();
    let (paths, holds): (Vec<PathBuf>, Vec<JudgedFile>) = asked
        .files
        .iter()
        .cloned()
        .zip(all)
        .filter_map(|(path, judged)| match judged {
            JudgedAny::Hold(file) => Some((path, *file)),
            JudgedAny::Procedure(_) => None,
        })
        .unzip();
    let together = together(&paths, &holds, asked.seen.as_ref(), asked.sheet.as_deref())?;
    let outcome = match &together {
        Some(found) => {
            records.push(found.record_json());
            worst(of_procedures.into_iter().chain([found.outcome]))
        }
        None => worst(outcomes.into_iter()),
    };
    match (asked.json, records.as_slice(), &together) {
        (true, [one], _) => println!("{one}"),
        (true, several, _) => println!("[\n{}\n]", several.join(",\n")),
        (false, _, Some(found)) => println!("{}", found.text()),
        (false, ..) => {}
    }
    Ok(outcome.map_or(OPERATING_ERROR, |o| o.exit_status()))
}
