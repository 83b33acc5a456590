//! What screens show, as plain values; filled in by the shell.
//!
//! Days and instants are texts as the shop writes them, figures are texts with as many digits as
//! they have. Empty texts are what nobody wrote down.

use crate::page::words::words;

mod adapter;
mod alarm;
mod bench;
mod job;
mod judged_again;
mod paper;
mod recording;
mod shop;
mod start;
mod story;
mod tag;
mod units;
mod walk;

pub use adapter::AdapterLine;
pub use adapter::MayOpen;
pub use adapter::ZeroLine;
pub use adapter::ZeroSaid;
pub use adapter::ZeroSheet;
pub use adapter::ZeroTold;
pub use alarm::Alarm;
pub use bench::Bench;
pub use bench::BenchAnswer;
pub use bench::BenchAsk;
pub use bench::BenchBegun;
pub use bench::BenchChoice;
pub use bench::BenchEnd;
pub use bench::BenchFree;
pub use bench::BenchMessage;
pub use bench::BenchNow;
pub use bench::BenchPicture;
pub use bench::BenchPiece;
pub use bench::BenchPlan;
pub use bench::BenchRating;
pub use bench::BenchReading;
pub use bench::BenchRig;
pub use bench::BenchSaid;
pub use bench::BenchStage;
pub use bench::BenchStep;
pub use bench::BenchWhen;
pub use bench::ReadingState;
pub use bench::Safety;
pub use bench::Sense;
pub use job::JobForm;
pub use job::JobSent;
pub use job::NewFile;
pub use job::Points;
pub use job::Sum;
pub use job::Worth;
pub use judged_again::AgainAsked;
pub use judged_again::JudgedLine;
pub use judged_again::Judging;
pub use judged_again::Judgings;
pub use judged_again::LimitChoice;
pub use paper::PaperFile;
pub use paper::PaperSheet;
pub use paper::Papers;
pub use recording::ChannelTick;
pub use recording::GapLine;
pub use recording::GapWhy;
pub use recording::Mark;
pub use recording::MarkWhat;
pub use recording::Plot;
pub use recording::ReadOut;
pub use recording::RecordingAsked;
pub use recording::RecordingSheet;
pub use recording::RecordingValues;
pub use recording::SaidLine;
pub use recording::Stretch;
pub use recording::ValueColumn;
pub use recording::ValueLane;
pub use shop::CopyState;
pub use shop::LimitLine;
pub use shop::Moving;
pub use shop::SensorLine;
pub use shop::ShopSheet;
pub use start::Start;
pub use story::Change;
pub use story::Compared;
pub use story::ComparedFigure;
pub use story::Course;
pub use story::Decision;
pub use story::FileLine;
pub use story::JobLine;
pub use story::JobState;
pub use story::Outcome;
pub use story::Stated;
pub use story::Story;
pub use story::TestLine;
pub use story::UnitFacts;
pub use story::Visit;
pub use tag::CodeSaid;
pub use tag::Unread;
pub use units::FoundIn;
pub use units::LastTest;
pub use units::UnitRow;
pub use units::Units;
pub use units::UnitsAsked;
pub use walk::WalkEnd;
pub use walk::WalkForm;
pub use walk::WalkNow;
pub use walk::WalkSaid;
pub use walk::WalkSheet;

/// Something that is wrong with one field of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Name of the field.
    pub field: String,
    /// What is wrong and what would be right, a sentence.
    pub what: String,
}

impl Fault {
    /// The field should hold a day.
    pub fn no_day(field: &str) -> Self {
        Self {
            field: field.into(),
            what: words().no_day.into(),
        }
    }
}

impl Fault {
    /// The form as a whole cannot be used; `what` says where and what to do.
    pub fn of_form(what: &str) -> Self {
        Self {
            field: "form".into(),
            what: what.into(),
        }
    }

    /// The cautions were not read.
    pub fn cautions_unread() -> Self {
        Self {
            field: "read".into(),
            what: words().bench.cautions_unread.into(),
        }
    }

    /// No adapter was chosen that is there.
    pub fn no_adapter() -> Self {
        Self {
            field: "adapter".into(),
            what: words().bench.choose_adapter.into(),
        }
    }

    /// Somebody else entered the sheet meanwhile.
    pub fn changed_meanwhile() -> Self {
        Self {
            field: "sheet".into(),
            what: words().changed_meanwhile.into(),
        }
    }
}

/// What is written at a limit in a chart.
pub fn limit_word() -> &'static str {
    words().limit
}

/// What a program is called that does not say its name.
pub fn some_program() -> &'static str {
    words().alarm_some_program
}
