//! What templates say of plain values, in the words of the page.

use crate::page::frame::Frame;
use crate::page::view::Change;
use crate::page::view::Decision;
use crate::page::view::Fault;
use crate::page::view::Outcome;
use crate::page::view::Stated;
use crate::page::words::counted;
use crate::page::words::filled;

impl Frame {
    /// A sentence with its places filled.
    pub fn filled(&self, sentence: &str, parts: &[&str]) -> String {
        filled(sentence, parts)
    }

    /// A number with the word for one or for several.
    pub fn counted(&self, n: &i64, words: &(&str, &str)) -> String {
        counted(n, *words)
    }

    /// What came out, in a word.
    pub fn outcome(&self, outcome: &Outcome) -> &'static str {
        let w = self.w;
        match outcome {
            Outcome::Pass => w.pass,
            Outcome::Fail => w.fail,
            Outcome::Undecided => w.undecided,
            Outcome::NotValid => w.not_valid,
            Outcome::Measured => w.measured,
        }
    }

    /// How an outcome is drawn: a class of the stylesheet.
    pub fn outcome_class(&self, outcome: &Outcome) -> &'static str {
        match outcome {
            Outcome::Pass => "pass",
            Outcome::Fail => "fail",
            Outcome::Undecided => "undecided",
            Outcome::NotValid => "not-valid",
            Outcome::Measured => "measured",
        }
    }

    /// A decision in a word.
    pub fn decision(&self, decision: &Decision) -> &'static str {
        let w = self.w;
        match decision {
            Decision::Rebuild => w.rebuild,
            Decision::Replace => w.replace,
            Decision::Leave => w.leave,
        }
    }

    /// What changed, in words; `unit` is the unit of measure.
    pub fn change(&self, change: &Change, unit: &str) -> String {
        let w = self.w;
        match change {
            Change::More(from, to) => filled(w.more_by, &[from, to, unit]),
            Change::Less(from, to) => filled(w.less_by, &[from, to, unit]),
            Change::NotShown(most) => filled(w.no_change, &[most, unit]),
            Change::NotComparable(reason) => filled(w.not_comparable, &[reason]),
        }
    }

    /// A figure as it is known.
    pub fn stated(&self, stated: &Stated) -> String {
        let w = self.w;
        match stated {
            Stated::Is(text) => text.clone(),
            Stated::AtMost(text) => filled(w.at_most, &[text]),
            Stated::NotKnown => w.not_known.into(),
        }
    }

    /// What is wrong with a field, if anything.
    pub fn fault<'a>(&self, faults: &'a [Fault], field: &str) -> Option<&'a str> {
        let found = faults.iter().find(|fault| fault.field == field);
        found.map(|fault| fault.what.as_str())
    }
}
