//! What shall be kept and said of a test: effects of the bench to blocks of its journal.
//!
//! The same for a test that a board reads and for one that a person does.
//!
//! Invariant: nothing is kept behind an ending.

use crate::bench::Ask;
use crate::bench::Effect;
use crate::channel::Channel;
use crate::recording::Gap;
use crate::recording::Heading;
use crate::recording::JournalError;
use crate::recording::JournalWriter;
use crate::recording::Loss;
use crate::recording::Row;

/// What one event led to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Step {
    /// Blocks to append to the journal.
    pub blocks: Vec<u8>,
    /// Sentences to tell people now.
    pub warnings: Vec<String>,
    /// What is said back to them.
    pub said: Vec<String>,
    /// What people are asked for now; the last one counts.
    pub ask: Option<Ask>,
    /// Whether the test is over; nothing follows.
    pub is_over: bool,
}

/// The journal of a test that runs.
#[derive(Debug)]
pub struct Keeper(Option<JournalWriter>);

impl Keeper {
    /// Begins a journal; the bytes are its start.
    ///
    /// # Errors
    /// If the journal refuses the heading.
    pub fn begin(heading: &Heading, channels: &[Channel]) -> Result<(Self, Vec<u8>), JournalError> {
        let (writer, start) = JournalWriter::begin(heading, channels)?;
        Ok((Self(Some(writer)), start))
    }

    /// Rows as blocks; None once the test is over.
    ///
    /// # Errors
    /// If a row has another number of codes, or its time does not follow the one before.
    pub fn rows(&mut self, rows: &[Row]) -> Result<Option<Vec<u8>>, JournalError> {
        let writer = self.0.as_mut().filter(|_| !rows.is_empty());
        writer.map(|writer| writer.rows(rows)).transpose()
    }

    /// A gap as a block.
    pub fn gap(&self, gap: &Gap) -> Vec<u8> {
        self.0
            .as_ref()
            .map(|writer| writer.gap(gap))
            .unwrap_or_default()
    }

    /// Takes an effect of the bench into a step; `loss` is what was lost so far.
    pub fn keep(&mut self, effect: Effect, loss: Loss, step: &mut Step) {
        match (effect, &self.0) {
            (Effect::Warn(text), _) => step.warnings.push(text),
            (Effect::Say(text), _) => step.said.push(text),
            (Effect::Ask(ask), _) => step.ask = Some(ask),
            (Effect::Entry(entry), Some(writer)) => step.blocks.extend(writer.entry(&entry)),
            (Effect::PhaseBegins(name, at_s), Some(writer)) => {
                step.blocks.extend(writer.phase_begins(&name, at_s));
            }
            (Effect::PhaseEnds(name, at_s), Some(writer)) => {
                step.blocks.extend(writer.phase_ends(&name, at_s));
            }
            (Effect::Finish(ending), _) => {
                if let Some(writer) = self.0.take() {
                    step.blocks.extend(writer.loss(&loss));
                    step.blocks.extend(writer.ending(&ending));
                }
                step.is_over = true;
            }
            (Effect::PhaseBegins(..) | Effect::PhaseEnds(..) | Effect::Entry(_), None) => {}
        }
    }
}
