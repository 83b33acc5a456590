//! A recording from captured bytes, by the code that records live.

use super::TestRun;
use super::TestRunError;
use crate::bench::Event;
use crate::link::LinkEvent;
use crate::link::replay;
use crate::recording::Heading;
use crate::recording::Recording;
use crate::recording::read_journal;
use crate::settings::Test;

/// A recording from the captured bytes of a board, by the code that records live. A
/// capture that ends before its hold does becomes an interrupted recording.
///
/// # Errors
/// If the bytes have no board, or one that does not fit the setup.
pub fn recording_from_capture(
    bytes: &[u8],
    heading: Heading,
    test: &Test,
) -> Result<Recording, TestRunError> {
    let mut events = replay(bytes);
    let hello = events
        .find_map(|event| match event {
            LinkEvent::Hello(hello) => Some(hello),
            _ => None,
        })
        .ok_or(TestRunError::NoHello)?;
    let (mut run, mut journal) = TestRun::begin(heading, test, &hello)?;
    let mut is_over = false;
    while let Some(event) = events.next().filter(|_| !is_over) {
        let step = run.take(event, events.loss())?;
        journal.extend(step.blocks);
        is_over = step.is_over;
    }
    if !is_over {
        journal.extend(run.end(Event::GaveUp, events.loss()).blocks);
    }
    let (parts, _) = read_journal(&journal)?;
    Ok(Recording::new(parts)?)
}
