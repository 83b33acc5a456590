//! What the bench's templates and events say of plain values.

use crate::page::frame::Frame;
use crate::page::view::BenchRating;
use crate::page::view::BenchStage;
use crate::page::view::BenchWhen;
use crate::page::view::ReadingState;
use crate::page::view::Safety;
use crate::page::view::Sense;
use crate::page::words::filled;

impl Frame {
    /// Where a test stands, in words.
    pub fn stage(&self, stage: &BenchStage) -> &'static str {
        let w = self.w.bench;
        match stage {
            BenchStage::Starting => w.stage_starting,
            BenchStage::Asking => w.stage_asking,
            BenchStage::Reaching => w.stage_reaching,
            BenchStage::Settling => w.stage_settling,
            BenchStage::Holding => w.stage_holding,
            BenchStage::Dwelling => w.stage_dwelling,
            BenchStage::Vented => w.stage_vented,
            BenchStage::Stroking => w.stage_stroking,
            BenchStage::Squeezing => w.stage_squeezing,
            BenchStage::Typing => w.stage_typing,
            BenchStage::Storing => w.stage_storing,
            BenchStage::Over => w.stage_over,
        }
    }

    /// What a person does while nothing is asked.
    pub fn meanwhile(&self, stage: &BenchStage) -> &'static str {
        let w = self.w.bench;
        match stage {
            BenchStage::Starting => w.do_starting,
            BenchStage::Dwelling => w.do_dwell,
            BenchStage::Stroking => w.do_strokes,
            BenchStage::Storing => w.do_storing,
            _ => w.do_nothing,
        }
    }

    /// What is read, in words.
    pub fn sense(&self, sense: &Sense) -> &'static str {
        let w = self.w.bench;
        match sense {
            Sense::Cap => w.sense_cap,
            Sense::Rod => w.sense_rod,
            Sense::Position => w.sense_position,
            Sense::Oil => w.sense_oil,
            Sense::Wall => w.sense_wall,
            Sense::Supply => w.sense_supply,
        }
    }

    /// Its name in data.
    pub fn sense_key(&self, sense: &Sense) -> &'static str {
        match sense {
            Sense::Cap => "cap",
            Sense::Rod => "rod",
            Sense::Position => "position",
            Sense::Oil => "oil",
            Sense::Wall => "wall",
            Sense::Supply => "supply",
        }
    }

    /// How a reading is, in a word.
    pub fn reading_state(&self, state: &ReadingState) -> &'static str {
        let w = self.w.bench;
        match state {
            ReadingState::Steady => w.steady,
            ReadingState::Settling => w.is_settling,
            ReadingState::Doubtful => w.doubtful,
            ReadingState::Lost => w.lost,
        }
    }

    /// The same as a class of the stylesheet.
    pub fn reading_state_key(&self, state: &ReadingState) -> &'static str {
        match state {
            ReadingState::Steady => "steady",
            ReadingState::Settling => "settling",
            ReadingState::Doubtful => "doubtful",
            ReadingState::Lost => "lost",
        }
    }

    /// How near a pressure is to its rating, in words.
    pub fn safety(&self, rating: &BenchRating) -> String {
        let w = self.w.bench;
        let sentence = match rating.safety {
            Safety::Within => w.safe_within,
            Safety::Near => w.safe_near,
            Safety::Over => w.safe_over,
            Safety::Unknown => w.safe_unknown,
        };
        filled(sentence, &[&rating.rating])
    }

    /// The same as a class of the stylesheet.
    pub fn safety_key(&self, safety: &Safety) -> &'static str {
        match safety {
            Safety::Within => "within",
            Safety::Near => "near",
            Safety::Over => "over",
            Safety::Unknown => "unknown",
        }
    }

    /// When it will be decided, in words.
    pub fn when(&self, when: &BenchWhen) -> String {
        let w = self.w.bench;
        let (one, range) = match when.is_settling {
            true => (w.counts_in, w.counts_in_range),
            false => (w.ends_in, w.ends_in_range),
        };
        match when.until.is_empty() {
            true => filled(one, &[&when.from]),
            false => filled(range, &[&when.from, &when.until]),
        }
    }
}
