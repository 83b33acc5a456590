//! The border: what the page asks of the shop, one method for each screen or deed.
//!
//! Names that come from a browser are handed on as texts to look up. Whoever answers looks them up
//! in the register and never makes a path of them.

use crate::page::view;
use crate::page::words::filled;
use crate::page::words::words;
use std::future::Future;

/// Why something could not be shown or done, in words for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// What sort of trouble it is.
    pub kind: Kind,
    /// What is wrong, a sentence.
    pub what: String,
    /// What to do about it, a sentence.
    pub what_to_do: String,
}

impl Trouble {
    /// There is no unit of this tag.
    pub fn no_unit(tag: &str) -> Self {
        let w = words();
        Self::of(Kind::NotThere, &filled(w.no_unit, &[tag]), w.no_unit_do)
    }

    /// There is no job of this number.
    pub fn no_job() -> Self {
        let w = words();
        Self::of(Kind::NotThere, w.no_job, w.no_job_do)
    }

    /// There is no paper of this number.
    pub fn no_paper(number: &str) -> Self {
        let w = words();
        let what = filled(w.no_paper, &[number]);
        Self::of(Kind::NotThere, &what, w.no_paper_do)
    }

    /// A file of a paper or unit is not where it should be; `name` is its name.
    pub fn file_gone(name: &str) -> Self {
        let w = words();
        Self::of(
            Kind::NotThere,
            &filled(w.file_gone, &[name]),
            w.file_gone_do,
        )
    }

    /// A file that is none of the kinds that are kept.
    pub fn no_picture() -> Self {
        let w = words();
        Self::of(Kind::Refused, w.no_picture, w.no_picture_do)
    }

    /// The register does not take something that was typed; `why` is what it says.
    pub fn not_taken(why: &str) -> Self {
        let w = words();
        Self::of(Kind::Refused, w.not_taken, why)
    }

    /// A copy is being made already.
    pub fn copy_runs() -> Self {
        let w = words();
        Self::of(Kind::Busy, w.copy_runs, w.copy_runs_do)
    }

    /// The program was not told where copies go.
    pub fn no_copies() -> Self {
        let w = words();
        Self::of(Kind::Refused, w.no_copies, w.no_copies_do)
    }

    /// A test is on the bench already.
    pub fn bench_taken() -> Self {
        let w = words();
        Self::of(Kind::Busy, w.bench.bench_taken, w.bench.bench_taken_do)
    }

    /// Nothing was chosen that can be put on the bench.
    pub fn nothing_chosen() -> Self {
        let w = words();
        Self::of(Kind::Refused, w.bench.choose_piece, w.bench.choose_piece_do)
    }

    /// Another browser answers.
    pub fn not_answering() -> Self {
        let w = words();
        Self::of(Kind::Busy, w.bench.not_answering, w.bench.not_answering_do)
    }

    /// A setup cannot be used; `why` says where and what to do.
    pub fn no_setup(why: &str) -> Self {
        Self::of(Kind::Refused, words().bench.no_setup, why)
    }

    /// Other photos are being looked at.
    pub fn photos_wait() -> Self {
        let w = words();
        Self::of(Kind::Busy, w.tag_waits, w.tag_waits_do)
    }

    /// A look at zeros is being taken.
    pub fn zeros_wait() -> Self {
        let w = words();
        Self::of(Kind::Busy, w.zero_waits, w.zero_waits_do)
    }

    /// Points are being taken already.
    pub fn walk_runs() -> Self {
        let w = words();
        Self::of(Kind::Busy, w.walk.runs, w.walk.runs_do)
    }

    /// A look at zeros could not be taken; `why` says why and what to do.
    pub fn no_zeros(why: &str) -> Self {
        Self::of(Kind::Refused, words().zero_failed, why)
    }

    /// A thing that a list on the page had is not there any more.
    pub fn not_there() -> Self {
        let w = words();
        Self::of(Kind::NotThere, w.not_there, w.not_there_do)
    }

    /// A recording without a reading.
    pub fn nothing_recorded() -> Self {
        let w = words();
        Self::of(Kind::NotThere, w.nothing_recorded, w.nothing_recorded_do)
    }

    /// A recording that cannot be read; `why` is what its reader says.
    pub fn recording_spoiled(why: &str) -> Self {
        Self::of(Kind::Broken, words().recording_spoiled, why)
    }

    /// A recording that has too many readings to be judged beside the page.
    pub fn too_long_to_judge(n_readings: &str, file: &str) -> Self {
        let w = words();
        let what = filled(w.too_long_to_judge, &[n_readings]);
        let what_to_do = filled(w.too_long_to_judge_do, &[file]);
        Self::of(Kind::Refused, &what, &what_to_do)
    }

    /// Another test is being judged again.
    pub fn judging_runs() -> Self {
        let w = words();
        Self::of(Kind::Busy, w.judging_runs, w.judging_runs_do)
    }

    /// The recording is not the one that was entered.
    pub fn other_recording() -> Self {
        let w = words();
        Self::of(Kind::Refused, w.other_recording, w.other_recording_do)
    }

    /// A stretch of a recording that cannot be shown; `why` is a sentence.
    pub fn no_stretch(why: &str) -> Self {
        Self::of(Kind::Refused, words().no_stretch, why)
    }

    /// Something failed that should not; `detail` is what the program says of it.
    pub fn broken(detail: &str) -> Self {
        Self::of(Kind::Broken, words().broken, detail)
    }

    fn of(kind: Kind, what: &str, what_to_do: &str) -> Self {
        Self {
            kind,
            what: what.into(),
            what_to_do: what_to_do.into(),
        }
    }
}

/// Sorts of trouble.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// What was asked for does not exist.
    NotThere,
    /// It cannot be done as it was asked.
    Refused,
    /// Something has to end first.
    Busy,
    /// Something is broken here.
    Broken,
}

/// A file to hand out.
#[derive(Debug)]
pub struct Download {
    /// Its name, without any folder.
    pub name: String,
    /// Its media type, "application/pdf".
    pub media_type: &'static str,
    /// Whether a browser may show it in a page; else it is saved.
    pub is_shown: bool,
    /// What is in it.
    pub content: Content,
}

/// What is in a file to hand out.
#[derive(Debug)]
pub enum Content {
    /// All of it.
    Bytes(Vec<u8>),
    /// An open file of so many bytes, read while it is handed out.
    File(std::fs::File, u64),
}

/// A future that may move between threads.
pub trait Answer<T>: Future<Output = Result<T, Trouble>> + Send {}

impl<T, F: Future<Output = Result<T, Trouble>> + Send> Answer<T> for F {}

/// What the page asks of the shop.
pub trait Desk: Send + Sync + 'static {
    /// Name of the shop; empty if there is no shop file.
    fn shop_name(&self) -> String;

    /// What the first screen shows.
    fn start(&self) -> impl Answer<view::Start>;

    /// The bench as a browser sees it; `who` is the browser's own mark, `tag` the unit that is meant,
    /// if one is.
    fn bench(&self, who: &str, tag: &str) -> impl Answer<view::Bench>;

    /// What a test would do, before it begins.
    fn bench_plan(&self, chosen: view::BenchChoice) -> impl Answer<view::BenchPlan>;

    /// Begins a test; whoever begins it answers. `is_read` is whether the cautions were.
    fn bench_begin(
        &self,
        chosen: view::BenchChoice,
        who: &str,
        is_read: bool,
    ) -> impl Answer<view::BenchBegun>;

    /// Says something to the test.
    fn bench_say(&self, who: &str, said: view::BenchSaid) -> impl Answer<()>;

    /// Waits until the test on the bench is another than it was at `last`; counts its changes.
    fn bench_changed(&self, last: u64) -> impl Future<Output = u64> + Send;

    /// A picture of the test on the bench, as SVG.
    fn bench_picture(&self, which: view::BenchPicture, wide: bool) -> impl Answer<String>;
    /// Somebody has read what happened to clock and computer, up to this mark.
    fn read_alarms(&self, last: i64) -> impl Answer<()>;

    /// The walk along points of a reference, or the form before it.
    fn walk(&self) -> impl Answer<view::WalkSheet>;

    /// Begins a walk; what is wrong with the form, or nothing once it has begun.
    fn walk_begin(&self, form: view::WalkForm) -> impl Answer<Vec<view::Fault>>;

    /// Says something on the way.
    fn walk_say(&self, said: view::WalkSaid) -> impl Answer<()>;

    /// Units, or those that have each of some words.
    fn units(&self, asked: view::UnitsAsked) -> impl Answer<view::Units>;

    /// The story of one unit.
    fn story(&self, tag: &str) -> impl Answer<view::Story>;

    /// A course of figures of a unit over the years, as SVG; `index` counts [`view::Story::courses`].
    fn years(&self, tag: &str, index: usize, wide: bool) -> impl Answer<String>;

    /// The sheet of a job as it stands.
    fn job(&self, number: i64) -> impl Answer<view::JobForm>;

    /// A new sheet for a unit; the tag may be empty or unknown.
    fn new_job(&self, tag: &str) -> impl Answer<view::JobForm>;

    /// A form that is being filled in, with what it comes to. Nothing is entered.
    fn weigh_job(&self, form: view::JobForm) -> impl Answer<view::JobForm>;

    /// Enters a sheet.
    fn enter_job(&self, form: view::JobForm) -> impl Answer<view::JobSent>;

    /// Keeps a photo or a PDF with a unit.
    fn keep_file(&self, file: view::NewFile) -> impl Answer<()>;

    /// A file of a unit, by its hash.
    fn file(&self, tag: &str, sha256: &str) -> impl Answer<Download>;

    /// The label of a unit.
    fn label(&self, tag: &str) -> impl Answer<Download>;

    /// What the code in a photo names.
    fn read_tag(&self, photo: Vec<u8>) -> impl Answer<view::CodeSaid>;

    /// Papers that have each of some words; the latest for none.
    fn papers(&self, words: &str) -> impl Answer<view::Papers>;

    /// One paper.
    fn paper(&self, number: &str) -> impl Answer<view::PaperSheet>;

    /// What belongs to a paper.
    fn paper_file(&self, number: &str, which: view::PaperFile) -> impl Answer<Download>;

    /// The recording behind a paper, a stretch of it.
    fn recording(&self, asked: view::RecordingAsked) -> impl Answer<view::RecordingSheet>;

    /// A stretch of a recording, as SVG.
    fn recording_picture(&self, asked: view::RecordingAsked, wide: bool) -> impl Answer<String>;

    /// Values of a stretch of a recording.
    fn recording_values(&self, asked: view::RecordingAsked) -> impl Answer<view::RecordingValues>;

    /// Judges a test again by other limits and keeps that; what is wrong with them, or nothing once it
    /// is done.
    fn judge_again(&self, asked: view::AgainAsked) -> impl Answer<Vec<view::Fault>>;

    /// Withdraws a paper, by role and reason; what is wrong with them, or nothing once it is done.
    fn withdraw(&self, number: &str, by: &str, reason: &str) -> impl Answer<Vec<view::Fault>>;

    /// Sensors with their calibrations, the first due first.
    fn sensors(&self) -> impl Answer<Vec<view::SensorLine>>;

    /// Adapters of the computer, seen from outside.
    fn adapters(&self) -> impl Answer<Vec<view::AdapterLine>>;

    /// What a look at zeros can be taken with, and what came of the last one.
    fn zeros(&self) -> impl Answer<view::ZeroSheet>;

    /// Looks at the zeros of the pressure sensors of a setup, through an adapter; both are looked
    /// up in lists. What came of it is in [`Desk::zeros`] then.
    fn look_at_zeros(&self, setup: &str, adapter: &str) -> impl Answer<()>;

    /// What the shop file says.
    fn shop(&self) -> impl Answer<view::ShopSheet>;

    /// Where everything lies.
    fn moving(&self) -> impl Answer<view::Moving>;

    /// Begins a copy of everything; it goes on by itself.
    fn begin_copy(&self) -> impl Answer<()>;
}
