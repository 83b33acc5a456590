//! What the page asks, answered from the register, the recordings and the papers of this shop.
//!
//! Each screen or deed of the page has one file here. Names from a browser are looked up in the
//! register; files are named by what the register says, never by what was asked.
//!
//! Invariant: there is one open register, and all writing goes through it.

mod bench;
mod bench_ports;
mod copying;
mod files;
mod job;
mod papers;
mod recording;
mod setups;
mod shop;
mod start;
mod tag;
mod told;
mod unit_story;
mod units;
mod walking;

use super::clock;
use super::conduct::NamedText;
use super::folder::DataFolder;
use super::paper::chain;
use super::watch::Watch;
use crate::page::Desk;
use crate::page::Download;
use crate::page::Trouble;
use crate::page::view;
use crate::quantity::UnitSystem;
use crate::register::Register;
use crate::settings::Shop;
pub use bench::Bench;
pub use copying::Copies;
use std::future::Future;
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::Mutex;

/// The shop that the page is about.
#[derive(Debug)]
pub struct ShopDesk {
    folder: DataFolder,
    register: Register,
    shop: Option<Shop>,
    copies: Copies,
    bench: Bench,
    recordings: recording::Recordings,
    /// Name and text of the shop file, to judge by.
    shop_text: Option<NamedText>,
    /// Held by whoever judges again.
    judging: Arc<Mutex<()>>,
    watch: Watch,
    zeros: bench_ports::Zeros,
    more_adapters: Vec<PathBuf>,
    walking: walking::Walking,
}

impl ShopDesk {
    /// The desk of a data folder, its open register, the shop if its file is known, where copies
    /// go, and the bench.
    pub fn new(
        folder: DataFolder,
        register: Register,
        shop: Option<Shop>,
        copies: Copies,
        bench: Bench,
    ) -> Self {
        Self {
            watch: Watch::of(&folder),
            folder,
            register,
            shop,
            copies,
            bench,
            recordings: recording::Recordings::default(),
            shop_text: None,
            judging: Arc::default(),
            zeros: bench_ports::Zeros::default(),
            more_adapters: Vec::new(),
            walking: walking::Walking::default(),
        }
    }

    /// The same, which can judge again by this shop file, with the files it names behind it.
    pub fn judging_by(self, shop_text: Option<NamedText>) -> Self {
        Self { shop_text, ..self }
    }

    /// The same with adapters that the system does not list.
    pub fn with_adapters(self, more: Vec<PathBuf>) -> Self {
        Self {
            more_adapters: more,
            ..self
        }
    }

    /// Looks at the computer each few seconds, for as long as there is this desk.
    pub fn watching(&self) -> impl Future<Output = ()> + Send + use<> {
        self.watch.clone().go_on()
    }

    /// The units of measure that the shop reads.
    fn units_shown(&self) -> UnitSystem {
        self.shop
            .as_ref()
            .map_or(UnitSystem::Metric, |shop| shop.units)
    }

    /// The shop's time zone; this computer's if there is no shop file.
    fn time_zone(&self) -> String {
        match &self.shop {
            Some(shop) => shop.time_zone.clone(),
            None => clock::own_zone(),
        }
    }
}

impl Desk for ShopDesk {
    fn shop_name(&self) -> String {
        self.shop
            .as_ref()
            .map(|shop| shop.name.clone())
            .unwrap_or_default()
    }

    async fn start(&self) -> Result<view::Start, Trouble> {
        start::start(self).await.map_err(broken)
    }

    async fn bench(&self, who: &str, tag: &str) -> Result<view::Bench, Trouble> {
        bench::bench(self, who, tag).await
    }

    async fn bench_plan(&self, chosen: view::BenchChoice) -> Result<view::BenchPlan, Trouble> {
        bench::plan_of(self, chosen).await
    }

    async fn bench_begin(
        &self,
        chosen: view::BenchChoice,
        who: &str,
        is_read: bool,
    ) -> Result<view::BenchBegun, Trouble> {
        bench::begin(self, chosen, who, is_read).await
    }

    async fn bench_say(&self, who: &str, said: view::BenchSaid) -> Result<(), Trouble> {
        bench::say(self, who, said)
    }

    async fn bench_changed(&self, last: u64) -> u64 {
        bench::changed(self, last).await
    }

    async fn bench_picture(
        &self,
        which: view::BenchPicture,
        wide: bool,
    ) -> Result<String, Trouble> {
        bench::picture(self, which, wide)
    }

    async fn read_alarms(&self, last: i64) -> Result<(), Trouble> {
        self.watch.read_until(last);
        Ok(())
    }

    async fn walk(&self) -> Result<view::WalkSheet, Trouble> {
        walking::sheet(self).await
    }

    async fn walk_begin(&self, form: view::WalkForm) -> Result<Vec<view::Fault>, Trouble> {
        walking::begin(self, form).await
    }

    async fn walk_say(&self, said: view::WalkSaid) -> Result<(), Trouble> {
        walking::say(self, said);
        Ok(())
    }

    async fn units(&self, asked: view::UnitsAsked) -> Result<view::Units, Trouble> {
        units::units(self, &asked).await.map_err(broken)
    }

    async fn story(&self, tag: &str) -> Result<view::Story, Trouble> {
        unit_story::shown(self, tag).await
    }

    async fn years(&self, tag: &str, index: usize, wide: bool) -> Result<String, Trouble> {
        unit_story::years(self, tag, index, wide).await
    }

    async fn job(&self, number: i64) -> Result<view::JobForm, Trouble> {
        job::job(self, number).await
    }

    async fn new_job(&self, tag: &str) -> Result<view::JobForm, Trouble> {
        job::new_sheet(self, tag).await
    }

    async fn weigh_job(&self, form: view::JobForm) -> Result<view::JobForm, Trouble> {
        Ok(job::weighed(form))
    }

    async fn enter_job(&self, form: view::JobForm) -> Result<view::JobSent, Trouble> {
        job::enter(self, form).await
    }

    async fn keep_file(&self, file: view::NewFile) -> Result<(), Trouble> {
        files::keep_file(self, file).await
    }

    async fn file(&self, tag: &str, sha256: &str) -> Result<Download, Trouble> {
        files::file(self, tag, sha256).await
    }

    async fn label(&self, tag: &str) -> Result<Download, Trouble> {
        files::label(self, tag).await
    }

    async fn read_tag(&self, photo: Vec<u8>) -> Result<view::CodeSaid, Trouble> {
        tag::read_tag(self, photo).await
    }

    async fn papers(&self, words: &str) -> Result<view::Papers, Trouble> {
        papers::papers(self, words).await.map_err(broken)
    }

    async fn paper(&self, number: &str) -> Result<view::PaperSheet, Trouble> {
        papers::paper(self, number).await
    }

    async fn paper_file(&self, number: &str, which: view::PaperFile) -> Result<Download, Trouble> {
        papers::paper_file(self, number, which).await
    }

    async fn recording(
        &self,
        asked: view::RecordingAsked,
    ) -> Result<view::RecordingSheet, Trouble> {
        recording::sheet(self, &asked).await
    }

    async fn recording_picture(
        &self,
        asked: view::RecordingAsked,
        wide: bool,
    ) -> Result<String, Trouble> {
        recording::picture(self, &asked, wide).await
    }

    async fn recording_values(
        &self,
        asked: view::RecordingAsked,
    ) -> Result<view::RecordingValues, Trouble> {
        recording::values(self, &asked).await
    }

    async fn judge_again(&self, asked: view::AgainAsked) -> Result<Vec<view::Fault>, Trouble> {
        recording::judge(self, &asked).await
    }

    async fn withdraw(
        &self,
        number: &str,
        by: &str,
        reason: &str,
    ) -> Result<Vec<view::Fault>, Trouble> {
        papers::withdraw(self, (number, by, reason)).await
    }

    async fn sensors(&self) -> Result<Vec<view::SensorLine>, Trouble> {
        shop::sensors(self).await.map_err(broken)
    }

    async fn adapters(&self) -> Result<Vec<view::AdapterLine>, Trouble> {
        bench_ports::adapters(self).await
    }

    async fn zeros(&self) -> Result<view::ZeroSheet, Trouble> {
        bench_ports::zeros(self).await
    }

    async fn look_at_zeros(&self, setup: &str, adapter: &str) -> Result<(), Trouble> {
        bench_ports::look_at_zeros(self, setup, adapter).await
    }

    async fn shop(&self) -> Result<view::ShopSheet, Trouble> {
        Ok(shop::shop(self.shop.as_ref()))
    }

    async fn moving(&self) -> Result<view::Moving, Trouble> {
        Ok(copying::moving(self))
    }

    async fn begin_copy(&self) -> Result<(), Trouble> {
        copying::begin(self)
    }
}

/// An error that nobody at the page can have caused.
fn broken(error: anyhow::Error) -> Trouble {
    Trouble::broken(&chain(&error))
}
