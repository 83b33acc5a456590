//! A journal's bytes to the parts of a recording, and what had to be cut off.
//!
//! The end of a journal may be torn: the power went while it was written. Reading stops
//! at the first block that is not whole and right, and says where and why.
//!
//! Invariant: for any bytes, the rows read from a shortened journal are the first rows
//! of those read from the whole one.

use super::JournalError;
use super::Kind;
use super::blocks::Blocks;
use super::blocks::Stopped;
use super::description;
use super::rows::Fields;
use super::rows::RowBlock;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use crate::recording::Form;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Lane;
use crate::recording::Loss;
use crate::recording::Outline;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Track;
use std::io::Read;

/// How much of a journal could be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TailReport {
    /// Bytes that were read.
    pub n_bytes_good: usize,
    /// Bytes behind them that were not believed.
    pub n_bytes_cut: usize,
    /// Why they were not; None if nothing was cut.
    pub cut: Option<Cut>,
    /// Whether the journal said how the recording ended.
    pub has_ending: bool,
}

/// Why reading stopped before the end of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Cut {
    /// The last block is not whole: writing was cut off.
    #[error("the last block was not written to its end")]
    Torn,
    /// A block has a wrong checksum, or a length that cannot be.
    #[error("a block is damaged")]
    Damaged,
    /// A block has a right checksum and contents that cannot be.
    #[error("a block says what cannot be")]
    Senseless,
    /// Something stands behind the ending.
    #[error("something follows the ending")]
    AfterEnding,
}

/// Reads a journal as far as it can be believed, all of it into memory.
///
/// # Errors
/// If the bytes are no journal of this version, or not even the heading is whole.
pub fn read_journal(bytes: &[u8]) -> Result<(Parts, TailReport), JournalError> {
    let mut time_s = Vec::new();
    let mut columns: Vec<Vec<i32>> = Vec::new();
    let (outline, report) = walk(bytes, |rows| {
        columns.resize(rows.n_channels, Vec::new());
        for row in rows.iter() {
            time_s.push(row.time_s());
            for (column, code) in columns.iter_mut().zip(row.codes()) {
                column.push(code);
            }
        }
    })?;
    columns.resize(outline.lanes.len(), Vec::new());
    let tracks = outline
        .lanes
        .into_iter()
        .zip(columns)
        .map(|(lane, codes)| Track {
            channel: lane.channel,
            codes: Codes::Raw(codes),
        });
    let parts = Parts {
        heading: outline.heading,
        time_s,
        tracks: tracks.collect(),
        gaps: outline.gaps,
        phases: outline.phases,
        entries: outline.entries,
        loss: outline.loss,
        ending: outline.ending,
    };
    Ok((parts, report))
}

/// Reads a journal as far as it can be believed, and keeps all but its rows.
///
/// # Errors
/// As [`read_journal`], and if the bytes cannot be had.
pub fn scan_journal(from: impl Read) -> Result<(Outline, TailReport), JournalError> {
    walk(from, |_rows| ())
}

/// Goes through a journal once, and shows its rows block by block.
fn walk(
    from: impl Read,
    mut show: impl FnMut(&RowBlock<'_>),
) -> Result<(Outline, TailReport), JournalError> {
    let broken = |cause| JournalError::Unreadable { cause };
    let mut blocks = Blocks::begin(from)?;
    let mut outline = begun(&mut blocks)?;
    let mut state = State::default();
    let (cut, n_good) = loop {
        let n_good = blocks.n_good();
        match blocks.next() {
            Ok(None) => break (None, n_good),
            Ok(Some(_)) if state.ending.is_some() => break (Some(Cut::AfterEnding), n_good),
            Ok(Some((Kind::Rows, payload))) => {
                let rows = RowBlock::new(payload, outline.lanes.len());
                let Some((rows, last_s)) = rows.and_then(|r| Some((r, r.rises(state.last_s)?)))
                else {
                    break (Some(Cut::Senseless), n_good);
                };
                state.last_s = last_s;
                outline.n_rows += rows.len();
                show(&rows);
            }
            Ok(Some((kind, payload))) => {
                if take_block(&mut outline, &mut state, kind, payload).is_none() {
                    break (Some(Cut::Senseless), n_good);
                }
            }
            Err(Stopped::Cut(cut)) => break (Some(cut), n_good),
            Err(Stopped::Broken(cause)) => return Err(broken(cause)),
        }
    };
    let report = TailReport {
        n_bytes_good: n_good,
        n_bytes_cut: blocks.n_all().map_err(broken)? - n_good,
        cut,
        has_ending: state.ending.is_some(),
    };
    close(&mut outline, state, &report);
    Ok((outline, report))
}

/// What the first block says.
pub(super) fn begun<R: Read>(blocks: &mut Blocks<R>) -> Result<Outline, JournalError> {
    let no_heading = |why: String| JournalError::NoHeading { why };
    let first = match blocks.next() {
        Ok(first) => first,
        Err(Stopped::Cut(cut)) => return Err(no_heading(cut.to_string())),
        Err(Stopped::Broken(cause)) => return Err(JournalError::Unreadable { cause }),
    };
    let Some((Kind::Heading, payload)) = first else {
        return Err(no_heading("it does not come first".into()));
    };
    let (heading, channels) = description::from_json(payload).map_err(no_heading)?;
    let lanes = channels.into_iter().map(|channel| Lane {
        channel,
        form: Form::Raw,
    });
    Ok(Outline {
        heading,
        lanes: lanes.collect(),
        n_rows: 0,
        gaps: Vec::new(),
        phases: Vec::new(),
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    })
}

/// What is known while reading and not part of a recording.
struct State {
    open_phases: Vec<(String, f64)>,
    ending: Option<Ending>,
    last_s: f64,
}

impl Default for State {
    fn default() -> Self {
        Self {
            open_phases: Vec::new(),
            ending: None,
            last_s: f64::NEG_INFINITY,
        }
    }
}

/// None if the block says what cannot be. Rows are taken elsewhere.
fn take_block(outline: &mut Outline, state: &mut State, kind: Kind, payload: &[u8]) -> Option<()> {
    let mut fields = Fields(payload);
    match kind {
        Kind::Heading | Kind::Rows => return None,
        Kind::Gap => {
            let (from_s, until_s) = (fields.f64()?, fields.f64()?);
            let cause = GapCause::from_word(fields.text()?)?;
            outline.gaps.push(Gap {
                from_s,
                until_s,
                cause,
            });
        }
        Kind::PhaseBegins => {
            let from_s = fields.f64()?;
            state.open_phases.push((fields.text()?.into(), from_s));
        }
        Kind::PhaseEnds => {
            let until_s = fields.f64()?;
            let name = fields.text()?;
            let at = state.open_phases.iter().rposition(|(n, _)| n == name)?;
            let (name, from_s) = state.open_phases.remove(at);
            outline.phases.push(PhaseMark {
                name,
                from_s,
                until_s,
            });
        }
        Kind::Entry => {
            let at_s = fields.f64()?;
            let mut lines = fields.text()?.splitn(3, '\n');
            outline.entries.push(Entry {
                at_s,
                kind: EntryKind::from_word(lines.next()?)?,
                step: lines.next()?.into(),
                text: lines.next()?.into(),
            });
        }
        Kind::Loss => {
            outline.loss = Loss {
                n_samples_lost: fields.u64()?,
                n_frames_bad: fields.u64()?,
                n_board_dropped: fields.u64()?,
                n_bytes_overrun: fields.u64()?,
            };
            return fields.0.is_empty().then_some(());
        }
        Kind::Ending => {
            let [code] = fields.take()?;
            let reason = fields.text()?;
            state.ending = Some(match code {
                0 => Ending::Complete,
                1 => Ending::Interrupted(reason.into()),
                _ => return None,
            });
        }
    }
    Some(())
}

/// Ends what was still open when the journal stopped.
fn close(outline: &mut Outline, state: State, report: &TailReport) {
    let last_s = match outline.n_rows {
        0 => 0.0,
        _ => state.last_s,
    };
    for (name, from_s) in state.open_phases {
        outline.phases.push(PhaseMark {
            name,
            from_s,
            until_s: last_s.max(from_s),
        });
    }
    outline.ending = match (state.ending, report.cut) {
        (Some(ending), _) => ending,
        (None, None | Some(Cut::Torn)) => Ending::Interrupted(format!(
            "recording stopped without an ending at {last_s:.1} s: the program or the computer was stopped"
        )),
        (None, Some(cut)) => Ending::Interrupted(format!(
            "journal ends at {last_s:.1} s: {cut} at byte {}, {} bytes behind it were not read",
            report.n_bytes_good, report.n_bytes_cut
        )),
    };
}
