//! What can happen to a test, what shall be done about it, and where it stands.

use super::Ask;
use crate::cylinder::Chamber;
use crate::procedure::Reach;
use crate::recording::Ending;
use crate::recording::Entry;

/// What the sensors said at one instant; None for what is missing or outside its good band.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reading {
    /// Bench time, s.
    pub time_s: f64,
    /// Cap-end pressure, Pa gauge.
    pub cap_pa: Option<f64>,
    /// Rod-end pressure, Pa gauge.
    pub rod_pa: Option<f64>,
    /// Extension, m.
    pub x_m: Option<f64>,
}

/// All that can happen to a test.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// A row is on its way into the journal.
    Recorded(Reading),
    /// A person says that what was asked for is done.
    Done,
    /// A person typed something else.
    NotDone,
    /// A person typed a reading.
    Typed(String),
    /// A look at the hold so far decided it.
    Decided {
        /// Bench time of the look, s: there the hold ends.
        at_s: f64,
        /// Why, in words.
        why: String,
    },
    /// The adapter is gone, in words.
    Lost(String),
    /// The line is open and nothing comes.
    Silent,
    /// The board is there again.
    Back {
        /// Time without a word from it, s.
        away_s: f64,
    },
    /// The adapter did not come back in time.
    GaveUp,
    /// Another board answers on the adapter.
    OtherBoard,
    /// The board reports a fault that its readings cannot be trusted with, in words.
    BoardFault(String),
    /// Somebody ended the recording.
    Stopped,
    /// The journal cannot be written, in words.
    DiskFailed(String),
}

/// All that shall be done.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// A phase begins at a bench time in seconds.
    PhaseBegins(String, f64),
    /// A phase ends at a bench time in seconds.
    PhaseEnds(String, f64),
    /// Ask a person for something.
    Ask(Ask),
    /// Keep what a person said.
    Entry(Entry),
    /// Tell people now.
    Warn(String),
    /// Say back what was understood.
    Say(String),
    /// The test is over: end the journal with this.
    Finish(Ending),
}

/// Where a test stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Nothing recorded yet.
    Waiting,
    /// A person is asked to get the step ready.
    Asking,
    /// A person is bringing the pressure up and the rod to its place.
    Reaching,
    /// Settling; nothing counts yet.
    Settling,
    /// The counted hold.
    Holding,
    /// A pressure is kept.
    Dwelling,
    /// Both sides stand open.
    Vented,
    /// The rod goes its strokes.
    Stroking,
    /// A shut side is squeezed by the rod.
    Squeezing,
    /// A person is asked for a reading.
    Typing,
    /// Over.
    Over,
}

impl Reading {
    /// Pressure of one end, Pa gauge.
    pub(super) fn of(&self, chamber: Chamber) -> Option<f64> {
        match chamber {
            Chamber::Cap => self.cap_pa,
            Chamber::Rod => self.rod_pa,
        }
    }

    /// Whether it is what was to be reached.
    pub(super) fn meets(&self, reach: &Reach) -> bool {
        let own_pa = self.of(reach.chamber);
        reach.is_met(own_pa, self.of(reach.chamber.other()), self.x_m)
    }
}
