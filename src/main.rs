//! The command line: what was asked, and the exit status.
//!
//! Exit status: pass 0, fail 10, undecided 20, not valid 30, measured 40, start refused
//! for a hazard 50, operating error 1, wrong usage 2.

mod commands;

use clap::Parser;
use clap::Subcommand;
use commands::report::OPERATING_ERROR;
use std::path::PathBuf;
use std::process::ExitCode;
use stillrod::daemon::paper::chain;

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
    #[command(after_help = commands::rehearse::HELP)]
    Rehearse(commands::rehearse::Rehearse),
    /// Show the page for the browser: units, jobs, papers.
    #[command(after_help = commands::serve::HELP)]
    Serve(commands::serve::Serve),
    /// Record and judge with a real board on a serial adapter, or by eye: one hold, or a procedure.
    #[command(after_help = commands::record::HELP)]
    Record(commands::record::Record),
    /// Fit the calibration of a sensor through points against a reference.
    #[command(after_help = commands::calibrate::HELP)]
    Calibrate(commands::calibrate::Calibrate),
    /// List the procedures that are built in, or print one to copy and change.
    #[command(after_help = commands::plan::PROCEDURES_HELP)]
    Procedures(commands::plan::Procedures),
    /// Plan which phases tell cylinder from valve, with the pressures they can come to.
    #[command(after_help = commands::plan::PLAN_HELP)]
    Plan(commands::plan::Plan),
    /// Say how long a hold must be for its limits, and what would shorten it.
    #[command(after_help = commands::plan::HOLD_LENGTH_HELP)]
    HoldLength(commands::plan::HoldLength),
    /// Evaluate finished recordings again: .h5, or .csv of any logger with --setup.
    #[command(after_help = commands::judge::HELP)]
    Judge(commands::judge::Judge),
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
    /// Enter a job sheet: why a unit is here, what was found, whether a rebuild pays.
    #[command(after_help = commands::job::JOB_HELP)]
    Job(commands::job::Job),
    /// Keep a photo or another file with a unit.
    #[command(after_help = commands::job::ATTACH_HELP)]
    Attach(commands::job::Attach),
    /// Find tests and jobs by words and days.
    #[command(after_help = commands::find::FIND_HELP)]
    Find(commands::find::Find),
    /// Tell the story of a unit: jobs, tests, and what changed.
    #[command(after_help = commands::find::HISTORY_HELP)]
    History(commands::find::History),
    /// List units, of a machine or with a kind of seal.
    Units(commands::find::Units),
    /// List sensors with the calibrations they were used with, the first due first.
    Sensors(commands::Data),
    /// Tell which rebuilds came back.
    #[command(after_help = commands::find::REBUILDS_HELP)]
    Rebuilds(commands::find::Rebuilds),
    /// Withdraw a paper, with the reason.
    #[command(after_help = commands::papers::WITHDRAW_HELP)]
    Withdraw(commands::papers::Withdraw),
    /// Make a paper again, marked as a duplicate.
    #[command(after_help = commands::papers::PAPER_HELP)]
    Paper(commands::papers::Paper),
    /// Make the label of a unit, with its tag as a QR code.
    #[command(after_help = commands::papers::LABEL_HELP)]
    Label(commands::papers::Label),
    /// Copy everything to another disk, checked.
    #[command(after_help = commands::moving::BACKUP_HELP)]
    Backup(commands::moving::Backup),
    /// Put such a copy in place on this computer.
    Restore(commands::moving::Restore),
    /// Write units, jobs, tests and figures as tables.
    #[command(after_help = commands::moving::EXPORT_HELP)]
    Export(commands::moving::Export),
    /// Take in units from a table, or tests with their recordings.
    #[command(after_help = commands::moving::IMPORT_HELP)]
    Import(commands::moving::Import),
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
        Command::Rehearse(asked) => commands::rehearse::run(asked),
        Command::Serve(asked) => commands::serve::run(asked),
        Command::Record(asked) => commands::record::run(asked),
        Command::Calibrate(asked) => commands::calibrate::run(asked),
        Command::Procedures(asked) => commands::plan::procedures(&asked),
        Command::Plan(asked) => commands::plan::phases(asked),
        Command::HoldLength(asked) => commands::plan::hold_length(&asked),
        Command::Judge(asked) => commands::judge::run(asked),
        Command::Verify(asked) => commands::verify::run(&asked),
        Command::Key { data, replace } => commands::key::key(&data, replace),
        Command::Job(asked) => commands::job::job(&asked),
        Command::Attach(asked) => commands::job::attach_files(&asked),
        Command::Find(asked) => commands::find::find(&asked),
        Command::History(asked) => commands::find::history_of(&asked),
        Command::Units(asked) => commands::find::units(&asked),
        Command::Sensors(asked) => commands::find::sensors(&asked),
        Command::Rebuilds(asked) => commands::find::rebuilds(&asked),
        Command::Withdraw(asked) => commands::papers::withdraw_paper(&asked),
        Command::Paper(asked) => commands::papers::paper(&asked),
        Command::Label(asked) => commands::papers::label_of(&asked),
        Command::Backup(asked) => commands::moving::backup_to(&asked),
        Command::Restore(asked) => commands::moving::restore_from(&asked),
        Command::Export(asked) => commands::moving::export_to(&asked),
        Command::Import(asked) => commands::moving::import_files(&asked),
    }
}
