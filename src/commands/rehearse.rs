//! `stillrod rehearse`: the whole job on the practice bench.

use super::report::report;
use super::report::report_inquiry;
use super::runtime;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::a_year::a_year;
use stillrod::daemon::inquire::inquire;
use stillrod::daemon::rehearse::Rehearse as Rehearsal;
use stillrod::daemon::rehearse::rehearse;
use stillrod::daemon::rehearse::scenario_list;
use stillrod::daemon::rehearse_by_eye::rehearse_by_eye;
use stillrod::daemon::rehearse_proof::rehearse_proof;
use stillrod::daemon::shop_file::shop_text;

/// What comes behind the options in the help.
pub const HELP: &str = "Examples:\n  \
stillrod rehearse                              a whole proof of a rebuilt cylinder, as fast as it can\n  \
stillrod rehearse --list                       all scenarios\n  \
stillrod rehearse piston-seal-bypass --speed 1 one hold, in real time\n  \
stillrod rehearse cap-plug-leak --json         the record as JSON on standard output\n  \
stillrod rehearse proof-scored-mid-stroke      a whole proof of a tube that is scored\n  \
stillrod rehearse gauge-and-cup                a test without electronics, read by eye\n  \
stillrod rehearse three-holds-valve            several holds: cylinder or valve?\n  \
stillrod rehearse a-year --data year           a year of the depot: 72 cylinders, 216 tests, their jobs\n\n\
Limits come from the example file of the invented Tarn Valley depot; no figure in it is a recommendation.";

/// The scenario that is a whole year.
const A_YEAR: &str = "a-year";

/// What is asked.
#[derive(Args)]
pub struct Rehearse {
    /// Name of the scenario.
    #[arg(default_value = "proof-sound")]
    scenario: String,
    /// List the scenarios and stop.
    #[arg(long)]
    list: bool,
    /// Times real time; as fast as it can without.
    #[arg(long, value_parser = speed)]
    speed: Option<f64>,
    /// Another seed: other noise and other sensors on the same cylinder.
    #[arg(long)]
    seed: Option<u64>,
    /// Folder for recordings, papers and the register.
    #[arg(long, default_value = "stillrod-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Limits of this file instead of the scenario's own.
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
    /// Print the record as JSON.
    #[arg(long)]
    json: bool,
}

fn speed(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(speed) if speed.is_finite() && speed > 0.0 => Ok(speed),
        _ => Err("must be a number above 0, for example 1 for real time".into()),
    }
}

/// Rehearses a scenario, or lists them; returns the exit status.
///
/// # Errors
/// If a file cannot be used, or the practice bench cannot be set up.
pub fn run(asked: Rehearse) -> anyhow::Result<u8> {
    if asked.list {
        return Ok(list_scenarios());
    }
    if asked.scenario == A_YEAR {
        return rehearse_year(&asked);
    }
    let shop = asked.shop.map(|path| shop_text(&path)).transpose()?;
    rehearse_one(&Rehearsal {
        scenario: asked.scenario,
        seed: asked.seed,
        speed: asked.speed,
        folder: asked.data,
        shop,
        quiet: asked.json,
    })
}

fn rehearse_year(asked: &Rehearse) -> anyhow::Result<u8> {
    if asked.speed.is_some() || asked.shop.is_some() || asked.json {
        anyhow::bail!(
            "a year has its own shop and goes as fast as it can; only --seed and --data can be chosen"
        );
    }
    let told = |sentence: String| println!("{sentence}");
    let year = a_year(&asked.data, asked.seed.unwrap_or(1), told);
    let year = runtime()?.block_on(year)?;
    let outcomes: Vec<String> = year
        .outcomes
        .iter()
        .map(|(word, n)| format!("{n} {word}"))
        .collect();
    println!(
        "{} cylinders, {} jobs, {} tests: {}; {} papers withdrawn",
        year.n_units,
        year.n_jobs,
        year.n_tests,
        outcomes.join(", "),
        year.n_withdrawn
    );
    println!("Register   {}", asked.data.join("register.db").display());
    Ok(0)
}

fn list_scenarios() -> u8 {
    let [of_one, of_rig, by_eye, of_several] = scenario_list();
    for (heading, list) in [
        ("One hold", of_one),
        ("A whole proof of a rebuilt cylinder", of_rig),
        (
            "Without electronics: a gauge, a dial, a thermometer and a cup",
            by_eye,
        ),
        ("Several holds: which way does the oil take?", of_several),
    ] {
        println!("{heading}");
        for (name, description) in list {
            println!("  {name:<32} {description}");
        }
    }
    println!("A year of the depot");
    println!("  {A_YEAR:<32} some 70 cylinders, their jobs and over 200 tests; takes minutes");
    0
}

fn rehearse_one(asked: &Rehearsal) -> anyhow::Result<u8> {
    let runtime = runtime()?;
    if let Some(inquired) = runtime.block_on(inquire(asked))? {
        return Ok(report_inquiry(inquired, asked.quiet));
    }
    let proof = runtime.block_on(rehearse_proof(asked))?;
    let by_eye = match proof {
        Some(conducted) => Some(conducted),
        None => runtime.block_on(rehearse_by_eye(asked))?,
    };
    let conducted = match by_eye {
        Some(conducted) => conducted,
        None => runtime.block_on(rehearse(asked))?,
    };
    Ok(report(conducted, &asked.folder, asked.quiet))
}
