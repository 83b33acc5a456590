//! One look at the instruments: each is asked for, read and said back, one after the other.

use crate::channel::EyeInstrument;

/// What a look is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// Whether a pressure has been let off.
    LetOff,
    /// Whether a pressure is there.
    Reach,
    /// Whether it has settled.
    Settle,
    /// A reading that counts; the last of its hold or not.
    Hold {
        /// Whether the hold ends with it.
        is_last: bool,
    },
    /// A zero, or a pressure that is kept.
    End,
}

impl Purpose {
    /// Whether a reading ought to be near the one before.
    fn follows(self) -> bool {
        matches!(self, Self::Settle | Self::Hold { .. })
    }
}

/// A look, open or closed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Look {
    pub purpose: Purpose,
    /// When it was asked for, s.
    pub asked_s: f64,
    /// When it is given up, s.
    pub until_s: f64,
    /// When the last word came, s.
    pub said_s: f64,
    /// Places of the instruments that are asked for, in order.
    pub wanted: Vec<usize>,
    /// How many of them are through.
    pub n_through: usize,
    /// What was read of each instrument, SI.
    pub read: Vec<Option<f64>>,
    /// A reading that lay far off and was asked for again.
    doubted: Option<f64>,
}

/// What a typed reading led to.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Said {
    /// It stands.
    Taken(f64),
    /// It is asked for again, and why.
    Again(String),
}

impl Look {
    pub fn new(
        purpose: Purpose,
        (asked_s, until_s): (f64, f64),
        wanted: Vec<usize>,
        n_instruments: usize,
    ) -> Self {
        Self {
            purpose,
            asked_s,
            until_s,
            said_s: asked_s,
            wanted,
            n_through: 0,
            read: vec![None; n_instruments],
            doubted: None,
        }
    }

    /// Place of the instrument that is asked for now; None when all are through.
    pub fn now(&self) -> Option<usize> {
        self.wanted.get(self.n_through).copied()
    }

    /// Whether anything was read.
    pub fn is_empty(&self) -> bool {
        self.read.iter().all(Option::is_none)
    }

    /// Takes what was typed of the instrument that is asked for.
    pub fn typed(
        &mut self,
        instrument: &EyeInstrument,
        last_si: Option<f64>,
        text: &str,
        at_s: f64,
    ) -> Said {
        let si = match instrument.understood(text) {
            Ok(si) => si,
            Err(why) => return Said::Again(why),
        };
        let far = last_si
            .filter(|last| self.purpose.follows() && (si - last).abs() > instrument.leap_si(*last));
        if let Some(last) = far.filter(|_| self.doubted != Some(si)) {
            self.doubted = Some(si);
            return Said::Again(format!(
                "{} is far from the last, {}: is it the {} that was read? Type it once more if it is right",
                instrument.typed(si),
                instrument.typed(last),
                instrument.plain()
            ));
        }
        self.doubted = None;
        self.said_s = at_s;
        if let Some(place) = self.now() {
            self.read[place] = Some(si);
            self.n_through += 1;
        }
        Said::Taken(si)
    }

    /// Takes the last reading back; its place and value, if there is one.
    pub fn take_back(&mut self) -> Option<(usize, f64)> {
        let through = &self.wanted[..self.n_through];
        let last = through
            .iter()
            .rposition(|place| self.read[*place].is_some())?;
        let place = self.wanted[last];
        let si = self.read[place].take()?;
        self.n_through = last;
        self.doubted = None;
        Some((place, si))
    }

    /// Middle of the time in which it was read, s.
    pub fn middle_s(&self) -> f64 {
        0.5 * (self.asked_s + self.said_s)
    }
}
