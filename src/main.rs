//! The command line: what was asked, and the exit status.
//!
//! Exit status: pass 0, fail 10, undecided 20, not valid 30, measured 40, start refused
//! for a hazard 50, operating error 1, wrong usage 2.

mod commands;

use anyhow::Context;
use clap::Parser;
use clap::Subcommand;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;
use stillrod::daemon::by_chance::Trials;
use stillrod::daemon::by_chance::USUAL;
use stillrod::daemon::by_chance::trials;
use stillrod::daemon::calibrate::Calibrated;
use stillrod::daemon::calibrate::calibrate;
use stillrod::daemon::calibrate_walk::calibrate_walk;
use stillrod::daemon::conduct::Conducted;
use stillrod::daemon::conduct::NamedText;
use stillrod::daemon::conduct::Task;
use stillrod::daemon::conduct::record;
use stillrod::daemon::hold_length::hold_lengths;
use stillrod::daemon::hold_length::hold_lengths_text;
use stillrod::daemon::inquire::Inquired;
use stillrod::daemon::inquire::inquire;
use stillrod::daemon::investigation::check_sheet;
use stillrod::daemon::investigation::together;
use stillrod::daemon::judge::JudgedAny;
use stillrod::daemon::judge::JudgedFile;
use stillrod::daemon::judge::judge_file;
use stillrod::daemon::paper::chain;
use stillrod::daemon::plan::plan;
use stillrod::daemon::plan::plan_text;
use stillrod::daemon::procedures::procedure_list;
use stillrod::daemon::procedures::procedure_text;
use stillrod::daemon::rehearse::Rehearse;
use stillrod::daemon::rehearse::rehearse;
use stillrod::daemon::rehearse::scenario_list;
use stillrod::daemon::rehearse_by_eye::rehearse_by_eye;
use stillrod::daemon::rehearse_proof::rehearse_proof;
use stillrod::daemon::screen::worst;
use stillrod::daemon::setup_file::setup_text;
use stillrod::daemon::shop_file::shop_text;

/// How long an adapter that was pulled is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

const HAZARD: u8 = 50;
const OPERATING_ERROR: u8 = 1;

/// Test bench for hydraulic cylinders: where the oil went, and how sure that is.
#[derive(Parser)]
#[command(
    version,
    after_help = "Exit status: pass 0, fail 10, undecided 20, not valid 30, measured 40,\n\
start refused for a hazard 50, operating error 1, wrong usage 2.\n\n\
General cautions only; not a procedure. A pass is no lifting approval."
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Do the whole job on the practice bench, without hardware.
    #[command(after_help = "Examples:\n  \
stillrod rehearse                              a whole proof of a rebuilt cylinder, as fast as it can\n  \
stillrod rehearse --list                       all scenarios\n  \
stillrod rehearse piston-seal-bypass --speed 1 one hold, in real time\n  \
stillrod rehearse cap-plug-leak --json         the record as JSON on standard output\n  \
stillrod rehearse proof-scored-mid-stroke      a whole proof of a tube that is scored\n  \
stillrod rehearse gauge-and-cup                a test without electronics, read by eye\n  \
stillrod rehearse three-holds-valve            several holds: cylinder or valve?\n\n\
Limits come from the example file of the invented Tarn Valley depot; no figure in it is a recommendation.")]
    Rehearse {
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
    },
    /// Record and judge with a real board on a serial adapter, or by eye: one hold, or a procedure.
    #[command(after_help = "Examples:\n  \
stillrod record --port /dev/serial/by-id/usb-board --setup setup.toml --shop shop.toml\n  \
stillrod record --setup by-eye.toml --shop shop.toml      gauge, dial, thermometer and cup, no board\n\n\
For one hold set pressure and plumbing first; recording begins at once. A setup with a [procedure]\n\
is gone through step by step, with answers typed here. Instruments under [by_eye] are asked for when it is\n\
time to read them; `wrong` takes the last reading back. A name under /dev/serial/by-id stays the same\n\
when the adapter is plugged in again. Ctrl-C ends the recording as interrupted, and nothing else.")]
    Record {
        /// The serial adapter; none for a setup whose instruments you read yourself.
        #[arg(long, value_name = "PORT")]
        port: Option<PathBuf>,
        /// What is on the bench.
        #[arg(long, value_name = "FILE")]
        setup: PathBuf,
        /// The shop and its limits.
        #[arg(long, value_name = "FILE")]
        shop: Option<PathBuf>,
        /// Folder for recordings, papers and the register.
        #[arg(long, default_value = "stillrod-data", value_name = "FOLDER")]
        data: PathBuf,
        /// Print the record as JSON.
        #[arg(long)]
        json: bool,
    },
    /// Fit the calibration of a sensor through points against a reference.
    #[command(after_help = "Examples:\n  \
stillrod calibrate points.toml --write p-11.toml\n  \
stillrod calibrate points.toml --port /dev/serial/by-id/usb-board --write p-11.toml\n\n\
The points stand in a table [sensors.p_cap.calibration], in a file of their own or in a setup. What is written\n\
goes below [sensors.p_cap] of the setup; the curve is fitted again from its points each time a hold is judged.\n\
With --port they are taken now: leave `points` away, bring the reference to each value and type what it shows.")]
    Calibrate {
        /// Points, or a setup with points.
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// Write the tables for a setup to this new file.
        #[arg(long, value_name = "FILE")]
        write: Option<PathBuf>,
        /// Take the points now: the serial adapter of the board that reads the sensor.
        #[arg(long, value_name = "PORT")]
        port: Option<PathBuf>,
        /// Which sensor, where several have no points yet.
        #[arg(long, value_name = "SENSOR", requires = "port")]
        sensor: Option<String>,
    },
    /// List the procedures that are built in, or print one to copy and change.
    #[command(after_help = "Example:\n  \
stillrod procedures rebuild-proof-double-acting > our-proof.toml\n\n\
A setup names one: [procedure] name = \"rebuild-proof-double-acting\", or file = \"our-proof.toml\" beside the setup.")]
    Procedures {
        /// Name of the one to print.
        name: Option<String>,
    },
    /// Plan which phases tell cylinder from valve, with the pressures they can come to.
    #[command(after_help = "Example:\n  \
stillrod plan --setup as-found.toml --leak \"0.06 mL/min\"\n\n\
The setup describes cylinder, load and valve as they are found on the machine. Phases that could pass a\n\
rating are refused with the number; exit status 50 if none is left.")]
    Plan {
        /// What is on the machine.
        #[arg(long, value_name = "FILE")]
        setup: PathBuf,
        /// The shop and its limits.
        #[arg(long, value_name = "FILE")]
        shop: Option<PathBuf>,
        /// Smallest leak that has to be seen; half the smallest limit without.
        #[arg(long, value_name = "FLOW", allow_hyphen_values = true)]
        leak: Option<String>,
    },
    /// Say how long a hold must be for its limits, and what would shorten it.
    #[command(after_help = "Example:\n  \
stillrod hold-length --setup setup.toml --shop shop.toml\n\n\
Looks ahead on paper; a setup with a [procedure] hold by hold. [hold] may say where the rod will stand (at = \"50 %\") and\n\
at what pressures (pressure, other_pressure); what is not said is assumed, and named.")]
    HoldLength {
        /// What is on the bench.
        #[arg(long, value_name = "FILE")]
        setup: PathBuf,
        /// The shop and its limits; all that fit where the setup names none.
        #[arg(long, value_name = "FILE")]
        shop: Option<PathBuf>,
    },
    /// Evaluate finished recordings again: .h5, or .csv of any logger with --setup.
    #[command(after_help = "Examples:\n  \
stillrod judge stillrod-data/recordings/*.h5\n  \
stillrod judge run.h5 --shop shop.toml --json\n  \
stillrod judge log.csv --setup setup.toml --shop shop.toml\n  \
stillrod judge run.h5 --by-chance\n  \
stillrod judge a.h5 b.h5 e.h5 --seen seen.toml --sheet sheet.pdf\n\n\
Recordings of one unit with other plumbing, within a week, are also judged together: which way the oil takes.\n\
Columns of a .csv: t_s, p_cap_bar, p_rod_bar, x_mm, t_oil_degc, t_wall_degc (also _psi, _mpa, _in, _degf).\n\
With several files the exit status is that of the worst; --json prints a list then, at its end the isolation\n\
record if they were judged together.")]
    Judge {
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
    },
    /// Check that papers, records, recordings and the register are as they were signed.
    #[command(after_help = commands::verify::HELP)]
    Verify(commands::verify::Verify),
    /// Show the public key of this shop, with which others check its papers.
    Key {
        /// Folder for recordings, papers, the register and the keys.
        #[arg(long, default_value = "stillrod-data", value_name = "FOLDER")]
        data: PathBuf,
        /// Make a new key in the place of the old one, whose secret is gone then.
        #[arg(long)]
        replace: bool,
    },
}

fn speed(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(speed) if speed.is_finite() && speed > 0.0 => Ok(speed),
        _ => Err("must be a number above 0, for example 1 for real time".into()),
    }
}

fn main() -> ExitCode {
    match run(Arguments::parse().command) {
        Ok(status) => ExitCode::from(status),
        Err(error) => {
            eprintln!("stillrod: {}", chain(&error));
            ExitCode::from(OPERATING_ERROR)
        }
    }
}

fn run(command: Command) -> anyhow::Result<u8> {
    match command {
        Command::Rehearse { list: true, .. } => Ok(list_scenarios()),
        Command::Rehearse {
            scenario,
            speed,
            seed,
            data,
            shop,
            json,
            ..
        } => {
            let shop = shop.map(|path| shop_text(&path)).transpose()?;
            rehearse_one(&Rehearse {
                scenario,
                seed,
                speed,
                folder: data,
                shop,
                quiet: json,
            })
        }
        Command::Record {
            port,
            setup,
            shop,
            data,
            json,
        } => {
            let task = Task {
                setup: setup_text(&setup)?,
                shop: shop.map(|path| shop_text(&path)).transpose()?,
                practice: String::new(),
                word: "hold".into(),
                patience: PATIENCE,
                folder: data,
                quiet: json,
            };
            let conducted = runtime()?.block_on(record(&task, port.as_deref()))?;
            Ok(report(conducted, &task.folder, json))
        }
        Command::Calibrate {
            file,
            write,
            port,
            sensor,
        } => calibrate_one(file, write.as_deref(), port.as_deref(), sensor.as_deref()),
        Command::Procedures { name } => show_procedures(name.as_deref()),
        Command::Plan { setup, shop, leak } => plan_phases(setup, shop.as_deref(), leak.as_deref()),
        Command::Verify(asked) => commands::verify::run(&asked),
        Command::Key { data, replace } => commands::key::key(&data, replace),
        Command::HoldLength { setup, shop } => foresee_holds(&setup, shop.as_deref()),
        Command::Judge {
            files,
            setup,
            shop,
            by_chance,
            seen,
            sheet,
            json,
        } => judge_again(&Again {
            files,
            setup: setup.map(named_text).transpose()?,
            shop: shop.map(|path| shop_text(&path)).transpose()?,
            by_chance,
            seen: seen.map(named_text).transpose()?,
            sheet,
            json,
        }),
    }
}

fn plan_phases(setup: PathBuf, shop: Option<&Path>, leak: Option<&str>) -> anyhow::Result<u8> {
    let shop = shop.map(shop_text).transpose()?;
    let plan = plan(&named_text(setup)?, shop.as_ref(), leak)?;
    print!("{}", plan_text(&plan));
    Ok(if plan.phases.is_empty() { HAZARD } else { 0 })
}

fn calibrate_one(
    file: PathBuf,
    write: Option<&Path>,
    port: Option<&Path>,
    sensor: Option<&str>,
) -> anyhow::Result<u8> {
    let file = named_text(file)?;
    if let Some(path) = write.filter(|path| path.exists()) {
        anyhow::bail!("{} is there already; name a new file", path.display());
    }
    let found = match port {
        Some(port) => runtime()?.block_on(calibrate_walk(&file, port, sensor)),
        None => calibrate(&file),
    };
    write_calibrated(&found?, write)
}

fn foresee_holds(setup: &Path, shop: Option<&Path>) -> anyhow::Result<u8> {
    let shop = shop.map(shop_text).transpose()?;
    let all = hold_lengths(&setup_text(setup)?, shop.as_ref())?;
    print!("{}", hold_lengths_text(&all));
    Ok(0)
}

fn show_procedures(name: Option<&str>) -> anyhow::Result<u8> {
    match name {
        Some(name) => print!("{}", procedure_text(name)?),
        None => print!("{}", procedure_list()?),
    }
    Ok(0)
}

fn write_calibrated(found: &[Calibrated], write: Option<&Path>) -> anyhow::Result<u8> {
    for sensor in found {
        println!("{}", sensor.text);
    }
    if let Some(path) = write {
        let blocks: Vec<&str> = found.iter().map(|sensor| sensor.block.as_str()).collect();
        // A calibration that stands is not written over.
        let made = std::fs::File::create_new(path);
        made.and_then(|mut file| file.write_all(blocks.join("\n").as_bytes()))
            .with_context(|| format!("{} cannot be written; name a new file", path.display()))?;
        println!("Written    {}", path.display());
    }
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
    0
}

fn rehearse_one(asked: &Rehearse) -> anyhow::Result<u8> {
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

fn runtime() -> anyhow::Result<tokio::runtime::Runtime> {
    tokio::runtime::Runtime::new().context("the task runtime of this program cannot be started")
}

fn named_text(path: PathBuf) -> anyhow::Result<NamedText> {
    let text = std::fs::read_to_string(&path)
        .with_context(|| format!("{} cannot be read; check the path", path.display()))?;
    Ok((path.display().to_string(), text))
}

/// Shows how a test ended; returns the exit status.
fn report(conducted: Conducted, folder: &Path, json: bool) -> u8 {
    match conducted {
        Conducted::Refused(reasons) => refused(&reasons),
        Conducted::Done {
            entered,
            archive,
            sha256,
        } => {
            if json {
                println!("{}", entered.record_json);
            } else {
                println!("{}", entered.found.text());
                println!(
                    "Paper      {}  ({})",
                    entered.pdf_path.display(),
                    entered.number
                );
                println!("Recording  {}", archive.display());
                println!("           sha256 {sha256}");
                println!("Register   {}", folder.join("register.db").display());
            }
            entered.found.outcome().exit_status()
        }
    }
}

/// Shows how an inquiry ended; returns the exit status.
fn report_inquiry(inquired: Inquired, json: bool) -> u8 {
    match inquired {
        Inquired::Refused(reasons) => refused(&reasons),
        Inquired::Done {
            found,
            recordings,
            seen,
            sheet,
        } => {
            if json {
                println!("{}", found.record_json());
            } else {
                println!("\n{}\n", found.text());
                println!("Sheet      {}", sheet.display());
                println!("Seen       {}", seen.display());
                for recording in recordings {
                    println!("Recording  {}", recording.display());
                }
            }
            found.outcome.exit_status()
        }
    }
}

fn refused(reasons: &[String]) -> u8 {
    eprintln!("start refused:");
    reasons.iter().for_each(|reason| eprintln!("  {reason}"));
    HAZARD
}

/// What `judge` was asked for.
struct Again {
    files: Vec<PathBuf>,
    setup: Option<NamedText>,
    shop: Option<NamedText>,
    by_chance: Option<Trials>,
    seen: Option<NamedText>,
    sheet: Option<PathBuf>,
    json: bool,
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
