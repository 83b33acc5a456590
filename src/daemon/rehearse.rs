//! `stillrod rehearse`: the whole job on the practice bench, without hardware.

use super::clock;
use super::folder::DataFolder;
use super::live;
use super::paper::Entered;
use super::paper::SOFTWARE;
use super::paper::chain;
use super::paper::enter;
use super::paper::make_good;
use super::paper::sha256_hex;
use super::screen::Screen;
use crate::link::Adapter;
use crate::procedure::hazards;
use crate::recording::Heading;
use crate::register::Register;
use crate::rehearsal::Pace;
use crate::rehearsal::SHOP_FILE_NAME;
use crate::rehearsal::SHOP_TOML;
use crate::rehearsal::Scenario;
use crate::rehearsal::VirtualBoard;
use crate::settings::Setup;
use crate::settings::Shop;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

/// How long an adapter that was pulled is waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// What is printed across the paper of a practice run.
const PRACTICE: &str = "practice bench: not a measurement of a real cylinder";

/// What a rehearsal was asked for.
#[derive(Debug, Clone)]
pub struct Rehearse {
    /// The scenario.
    pub scenario: Scenario,
    /// How fast bench time goes.
    pub pace: Pace,
    /// The data folder.
    pub folder: PathBuf,
    /// Another shop file instead of the scenario's own: its name and text.
    pub shop: Option<(String, String)>,
    /// Whether to show nothing while it runs.
    pub quiet: bool,
}

/// How a rehearsal ended.
#[derive(Debug)]
pub enum Rehearsed {
    /// It was not started, and why.
    Refused(Vec<String>),
    /// It ran, and is in the register.
    Done {
        /// The entry.
        entered: Box<Entered>,
        /// The recording.
        archive: PathBuf,
        /// Its hash.
        sha256: String,
    },
}

/// Runs a rehearsal from the first byte to the paper.
///
/// # Errors
/// If settings, disk, register or pseudo-terminal refuse.
pub async fn rehearse(asked: &Rehearse) -> anyhow::Result<Rehearsed> {
    let folder = DataFolder::open(&asked.folder)?;
    let register = Register::open(&folder.register()).await?;
    let screen = Screen::new(asked.quiet);
    for sentence in make_good(&folder, &register).await? {
        screen.warn(&sentence);
    }
    let (shop_file, shop_toml) = match &asked.shop {
        Some((file, text)) => (file.as_str(), text.as_str()),
        None => (SHOP_FILE_NAME, SHOP_TOML),
    };
    let shop = Shop::parse(shop_file, shop_toml)?;
    let setup_toml = asked.scenario.setup_toml();
    let setup = Setup::parse("setup of the scenario", &setup_toml, Some(&shop))?;
    let reasons = hazards(&setup.subject.piece, &setup.subject.circuit, &setup.ratings);
    if !reasons.is_empty() {
        return Ok(Rehearsed::Refused(reasons));
    }
    let started_utc_ms = clock::now_utc_ms();
    let heading = Heading {
        run_id: free_run_id(&folder.recordings(), started_utc_ms, asked.scenario.name),
        started_utc_ms,
        time_zone: shop.time_zone,
        software: SOFTWARE.into(),
        source: String::new(),
        setup_toml,
        shop_toml: shop_toml.into(),
        practice: PRACTICE.into(),
    };
    let board = VirtualBoard::start(&asked.scenario, asked.pace)?;
    let adapter = Adapter::new(board.port_path());
    let stored = live::record(adapter, PATIENCE, &folder.recordings(), heading, &setup, &screen).await?;
    let entered = enter(&folder, &register, &stored.path, &stored.recording).await?;
    register.close().await;
    let sha256 = sha256_hex(&stored.path)?;
    Ok(Rehearsed::Done { entered: Box::new(entered), archive: stored.path, sha256 })
}

/// A run identity that no file in the folder has.
fn free_run_id(folder: &Path, utc_ms: i64, word: &str) -> String {
    let first = clock::run_id(utc_ms, word);
    let is_free =
        |id: &String| !["h5", "journal", "journal.done"].iter().any(|end| folder.join(format!("{id}.{end}")).exists());
    let others = (2..1000).map(|n| format!("{first}-{n}"));
    std::iter::once(first.clone()).chain(others).find(is_free).unwrap_or(first)
}

/// An error as it is shown, in one line.
pub fn error_text(error: &anyhow::Error) -> String {
    chain(error)
}
