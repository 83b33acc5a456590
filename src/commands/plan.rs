//! `stillrod plan`, `hold-length` and `procedures`: what to do, before anything is done.

use super::named_text;
use super::report::HAZARD;
use clap::Args;
use std::path::PathBuf;
use stillrod::daemon::hold_length::hold_lengths;
use stillrod::daemon::hold_length::hold_lengths_text;
use stillrod::daemon::plan::plan;
use stillrod::daemon::plan::plan_text;
use stillrod::daemon::procedures::procedure_list;
use stillrod::daemon::procedures::procedure_text;
use stillrod::daemon::setup_file::setup_text;
use stillrod::daemon::shop_file::shop_text;

/// What comes behind the options of `plan` in the help.
pub const PLAN_HELP: &str = "Example:\n  \
stillrod plan --setup as-found.toml --leak \"0.06 mL/min\"\n\n\
The setup describes cylinder, load and valve as they are found on the machine. Phases that could pass a\n\
rating are refused with the number; exit status 50 if none is left.";

/// What comes behind the options of `hold-length` in the help.
pub const HOLD_LENGTH_HELP: &str = "Example:\n  \
stillrod hold-length --setup setup.toml --shop shop.toml\n\n\
Looks ahead on paper; a setup with a [procedure] hold by hold. [hold] may say where the rod will stand (at = \"50 %\") and\n\
at what pressures (pressure, other_pressure); what is not said is assumed, and named.";

/// What comes behind the options of `procedures` in the help.
pub const PROCEDURES_HELP: &str = "Example:\n  \
stillrod procedures rebuild-proof-double-acting > our-proof.toml\n\n\
A setup names one: [procedure] name = \"rebuild-proof-double-acting\", or file = \"our-proof.toml\" beside the setup.";

/// What `plan` is asked for.
#[derive(Args)]
pub struct Plan {
    /// What is on the machine.
    #[arg(long, value_name = "FILE")]
    setup: PathBuf,
    /// The shop and its limits.
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
    /// Smallest leak that has to be seen; half the smallest limit without.
    #[arg(long, value_name = "FLOW", allow_hyphen_values = true)]
    leak: Option<String>,
}

/// Plans the phases; returns the exit status.
///
/// # Errors
/// If a file cannot be used.
pub fn phases(asked: Plan) -> anyhow::Result<u8> {
    let shop = asked.shop.map(|path| shop_text(&path)).transpose()?;
    let plan = plan(
        &named_text(asked.setup)?,
        shop.as_ref(),
        asked.leak.as_deref(),
    )?;
    print!("{}", plan_text(&plan));
    Ok(if plan.phases.is_empty() { HAZARD } else { 0 })
}

/// What `hold-length` is asked for.
#[derive(Args)]
pub struct HoldLength {
    /// What is on the bench.
    #[arg(long, value_name = "FILE")]
    setup: PathBuf,
    /// The shop and its limits; all that fit where the setup names none.
    #[arg(long, value_name = "FILE")]
    shop: Option<PathBuf>,
}

/// Says how long each hold must be.
///
/// # Errors
/// If a file cannot be used.
pub fn hold_length(asked: &HoldLength) -> anyhow::Result<u8> {
    let shop = asked.shop.as_deref().map(shop_text).transpose()?;
    let all = hold_lengths(&setup_text(&asked.setup)?, shop.as_ref())?;
    print!("{}", hold_lengths_text(&all));
    Ok(0)
}

/// What `procedures` is asked for.
#[derive(Args)]
pub struct Procedures {
    /// Name of the one to print.
    name: Option<String>,
}

/// Lists the procedures, or prints one.
///
/// # Errors
/// If there is none of this name.
pub fn procedures(asked: &Procedures) -> anyhow::Result<u8> {
    match asked.name.as_deref() {
        Some(name) => print!("{}", procedure_text(name)?),
        None => print!("{}", procedure_list()?),
    }
    Ok(0)
}
