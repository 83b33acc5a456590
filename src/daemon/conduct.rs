//! One test from its settings to its paper, on any adapter.
//!
//! The practice bench and a real board differ in who sends the bytes and in what is
//! written across the paper, in nothing else.

use super::by_eye::Person;
use super::by_eye::record_by_eye;
use super::clock;
use super::folder::DataFolder;
use super::hand::Hand;
use super::journal_file::Stored;
use super::live;
use super::onlooker::Onlooker;
use super::paper::Entered;
use super::paper::SOFTWARE;
use super::paper::enter;
use super::paper::make_good;
use super::paper::sha256_hex;
use super::screen::CAUTION;
use super::screen::Screen;
use crate::link::Adapter;
use crate::recording::Heading;
use crate::register::Register;
use crate::settings::SettingsError;
use crate::settings::Shop;
use crate::settings::Test;
use anyhow::bail;
use std::path::Path;
use std::path::PathBuf;
use std::time::Duration;

/// A settings file that was read: its name and its text.
pub type NamedText = (String, String);

/// A test that is to be done.
#[derive(Debug, Clone)]
pub struct Task {
    /// What is on the bench.
    pub setup: NamedText,
    /// The shop's file, if there is one.
    pub shop: Option<NamedText>,
    /// What is printed across the paper of a practice run; empty for a real one.
    pub practice: String,
    /// Word that the run is named after.
    pub word: String,
    /// How long an adapter that was pulled is waited for.
    pub patience: Duration,
    /// The data folder.
    pub folder: PathBuf,
    /// Whether to show nothing while it runs.
    pub quiet: bool,
}

/// How a test ended.
#[derive(Debug)]
pub enum Conducted {
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

impl Task {
    /// The settings, read and checked.
    ///
    /// # Errors
    /// If a file cannot be used.
    pub fn settings(&self) -> Result<(Option<Shop>, Test), SettingsError> {
        let shop = self
            .shop
            .as_ref()
            .map(|(file, text)| Shop::parse(file, text))
            .transpose()?;
        let test = Test::parse(&self.setup.0, &self.setup.1, shop.as_ref())?;
        Ok((shop, test))
    }
}

/// Does a test on an adapter. What an earlier run left undone is done first.
///
/// # Errors
/// If settings, adapter, disk or register refuse.
pub async fn conduct(task: &Task, adapter: Adapter, hand: Hand) -> anyhow::Result<Conducted> {
    conduct_seen(task, adapter, hand, &mut Screen::new(task.quiet)).await
}

/// As [`conduct`], told to whoever looks on.
///
/// # Errors
/// As [`conduct`].
pub async fn conduct_seen(
    task: &Task,
    adapter: Adapter,
    mut hand: Hand,
    onlooker: &mut dyn Onlooker,
) -> anyhow::Result<Conducted> {
    let (shop, test) = task.settings()?;
    if test.by_eye().is_some() {
        bail!("this setup is read by eye, [by_eye]: no board takes part, leave `--port` away");
    }
    let place = Place::open(task, onlooker).await?;
    let reasons = test.hazards();
    if !reasons.is_empty() {
        return Ok(Conducted::Refused(reasons));
    }
    let heading = place.heading(task, shop);
    let shelf = place.folder.shelf()?;
    let stored = live::record(
        adapter,
        task.patience,
        &shelf,
        heading,
        &test,
        &mut hand,
        onlooker,
    )
    .await?;
    place.entered(stored).await
}

/// Does a test whose instruments somebody reads.
///
/// # Errors
/// If settings, disk or register refuse, or a step cannot be done by eye.
pub async fn conduct_by_eye(task: &Task, mut person: Person) -> anyhow::Result<Conducted> {
    let (shop, test) = task.settings()?;
    let lacking = test.not_by_eye();
    if !lacking.is_empty() {
        bail!(
            "this cannot be done by eye with the instruments of this setup:\n  {}",
            lacking.join("\n  ")
        );
    }
    let mut screen = Screen::new(task.quiet);
    let place = Place::open(task, &mut screen).await?;
    let reasons = test.hazards();
    if !reasons.is_empty() {
        return Ok(Conducted::Refused(reasons));
    }
    let heading = place.heading(task, shop);
    let shelf = place.folder.shelf()?;
    let stored = record_by_eye(&shelf, heading, &test, &mut person, &mut screen).await?;
    place.entered(stored).await
}

/// Where a test is done: its folder, its register.
struct Place {
    folder: DataFolder,
    register: Register,
}

impl Place {
    /// Opens it, and does what an earlier run left undone.
    async fn open(task: &Task, onlooker: &mut dyn Onlooker) -> anyhow::Result<Self> {
        let folder = DataFolder::open(&task.folder)?;
        let register = Register::open(&folder.register()).await?;
        for sentence in make_good(&folder, &register).await? {
            onlooker.warn(&sentence);
        }
        Ok(Self { folder, register })
    }

    fn heading(&self, task: &Task, shop: Option<Shop>) -> Heading {
        let started_utc_ms = clock::now_utc_ms();
        Heading {
            run_id: free_run_id(&self.folder.recordings(), started_utc_ms, &task.word),
            started_utc_ms,
            time_zone: shop.map_or_else(|| "UTC".into(), |s| s.time_zone),
            software: SOFTWARE.into(),
            source: String::new(),
            setup_toml: task.setup.1.clone(),
            shop_toml: task
                .shop
                .as_ref()
                .map(|(_, text)| text.clone())
                .unwrap_or_default(),
            practice: task.practice.clone(),
        }
    }

    /// Enters what was recorded.
    async fn entered(self, stored: Stored) -> anyhow::Result<Conducted> {
        let recording = stored.recording()?;
        let entered = enter(&self.folder, &self.register, &stored.path, &recording).await?;
        self.register.close().await;
        let sha256 = sha256_hex(&stored.path)?;
        Ok(Conducted::Done {
            entered: Box::new(entered),
            archive: stored.path,
            sha256,
        })
    }
}

/// Does a test with a real board on a serial adapter, or without a port by a person's eyes.
///
/// # Errors
/// As [`conduct`] and [`conduct_by_eye`], and if a board needs a port that is not named.
pub async fn record(task: &Task, port: Option<&Path>) -> anyhow::Result<Conducted> {
    if !task.quiet {
        println!("{CAUTION}\n");
    }
    let (_, test) = task.settings()?;
    let Some(port) = port else {
        if test.by_eye().is_none() {
            bail!(
                "this setup has [sensors] on a board: name its adapter with `--port`, or write [by_eye] for a person"
            );
        }
        return conduct_by_eye(task, Person::at_the_terminal()).await;
    };
    let hand = match test.procedure {
        Some(_) => Hand::terminal(),
        None => Hand::Nobody,
    };
    conduct(task, Adapter::new(port), hand).await
}

/// A run identity that no file in the folder has.
fn free_run_id(folder: &Path, utc_ms: i64, word: &str) -> String {
    let first = clock::run_id(utc_ms, word);
    let is_free = |id: &String| {
        !["h5", "journal", "journal.done"]
            .iter()
            .any(|end| folder.join(format!("{id}.{end}")).exists())
    };
    let others = (2..1000).map(|n| format!("{first}-{n}"));
    std::iter::once(first.clone())
        .chain(others)
        .find(is_free)
        .unwrap_or(first)
}
