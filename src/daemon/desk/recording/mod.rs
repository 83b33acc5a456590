//! A stored recording for the page: any stretch of it as a picture and as values, with what is
//! marked in it.
//!
//! The file is found by the register's row of a paper's number; nothing of it is read whole. What
//! reads from it runs beside the requests, as the library that reads it lets in one at a time.

mod again;
mod files;
mod marks;
mod read;
mod times;

use super::ShopDesk;
use super::broken;
use super::papers::entry;
use super::told::test_line;
use crate::archive::ArchiveError;
use crate::archive::Opened;
use crate::archive::SignedBlock;
use crate::channel::Role;
use crate::chart::RecordPicture;
use crate::chart::Size;
use crate::chart::window_chart;
use crate::chart::window_plot;
use crate::page::Trouble;
use crate::page::view;
use crate::quantity::UnitSystem;
use crate::register::Entry;
pub(super) use again::judge;
pub(super) use files::Recordings;
use marks::Marks;
use std::sync::Arc;
use times::Span;

/// As large as a screen on the wall shows it; text stays large when the picture is.
const WIDE: Size = Size {
    width_pt: 520.0,
    height_pt: 264.0,
};

/// On a phone or a narrow tablet.
const NARROW: Size = Size {
    width_pt: 236.0,
    height_pt: 290.0,
};

/// Columns of a wide picture; the screen has about as many.
const WIDE_COLUMNS: usize = 1_000;

/// Columns of a narrow picture.
const NARROW_COLUMNS: usize = 500;

/// Columns of the values under a finger: no finger is finer.
const VALUE_COLUMNS: usize = 400;

/// A recording that is looked at.
struct Looked {
    entry: Entry,
    opened: Arc<Opened>,
    whole: Span,
    units: UnitSystem,
}

async fn looked(desk: &ShopDesk, number: &str) -> Result<Looked, Trouble> {
    let entry = entry(desk, number).await?;
    let (recordings, folder) = (desk.recordings.clone(), desk.folder.recordings());
    let name = entry.archive_file.clone();
    let (opened, span_s) = beside(move || {
        let opened = recordings.open(&folder, &name)?;
        let span_s = opened.span_s().map_err(|error| spoiled(&error))?;
        Ok((opened, span_s))
    })
    .await?;
    let Some((from_s, until_s)) = span_s else {
        return Err(Trouble::nothing_recorded());
    };
    Ok(Looked {
        entry,
        opened,
        whole: Span::whole(from_s, until_s),
        units: desk.units_shown(),
    })
}

/// Runs what reads a recording where it keeps nobody waiting.
async fn beside<T: Send + 'static>(
    read: impl FnOnce() -> Result<T, Trouble> + Send + 'static,
) -> Result<T, Trouble> {
    let read = tokio::task::spawn_blocking(read).await;
    read.map_err(|error| broken(error.into()))?
}

fn spoiled(error: &ArchiveError) -> Trouble {
    Trouble::recording_spoiled(&error.to_string())
}

/// The stretch that is asked for, or a trouble for what is no page.
fn span(looked: &Looked, asked: &view::RecordingAsked) -> Result<Span, Trouble> {
    times::asked(asked, looked.whole).map_err(|faults| {
        let first = faults.into_iter().next();
        Trouble::no_stretch(&first.map(|fault| fault.what).unwrap_or_default())
    })
}

/// The channels that are asked for and were recorded; all of them if none is asked for.
fn roles(opened: &Opened, asked: &[String]) -> Vec<Role> {
    let lanes = opened.outline().lanes.iter();
    let recorded: Vec<Role> = lanes.map(|lane| lane.channel.role).collect();
    let is_asked = |role: &Role| asked.iter().any(|word| word == role.word());
    match recorded.iter().any(is_asked) {
        true => recorded.into_iter().filter(is_asked).collect(),
        false => recorded,
    }
}

/// The sheet.
pub(super) async fn sheet(
    desk: &ShopDesk,
    asked: &view::RecordingAsked,
) -> Result<view::RecordingSheet, Trouble> {
    let looked = looked(desk, &asked.number).await?;
    let record = desk.register.record_json(&asked.number).await;
    let record = record.map_err(|error| broken(error.into()))?;
    let record = record.unwrap_or_default();
    let judgings = again::judgings(desk, &looked, &record).await?;
    let asked = asked.clone();
    beside(move || shown(&looked, &record, judgings, &asked)).await
}

fn shown(
    looked: &Looked,
    record: &str,
    judgings: view::Judgings,
    asked: &view::RecordingAsked,
) -> Result<view::RecordingSheet, Trouble> {
    let (opened, whole) = (&looked.opened, looked.whole);
    let (span, mut faults) = match times::asked(asked, whole) {
        Ok(span) => (span, Vec::new()),
        Err(faults) => (whole, faults),
    };
    let outline = opened.outline();
    let on = roles(opened, &asked.channels);
    let read = match read::time(&asked.at, whole) {
        Ok(None) => None,
        Ok(Some(at_s)) => read::at(looked, at_s)?,
        Err(fault) => {
            faults.push(fault);
            None
        }
    };
    let tick = |role: Role| view::ChannelTick {
        word: role.word().into(),
        name: role.plain().into(),
        is_on: on.contains(&role),
    };
    let marks = Marks::of(outline, record);
    let (gaps, n_more_gaps) = marks::gaps(outline, whole);
    let stretch = |span: Option<Span>| span.map(Span::shown);
    Ok(view::RecordingSheet {
        test: test_line(&looked.entry),
        spoiled: match opened.block() {
            SignedBlock::Changed(what) => Some(what.clone()),
            SignedBlock::Genuine | SignedBlock::NotSigned => None,
        },
        shown: span.shown(),
        whole: whole.shown(),
        is_whole: span.is_all(whole),
        closer: stretch(span.closer(whole)),
        wider: stretch(span.wider(whole)),
        earlier: stretch(span.earlier(whole)),
        later: stretch(span.later(whole)),
        channels: outline
            .lanes
            .iter()
            .map(|lane| tick(lane.channel.role))
            .collect(),
        n_readings: grouped(outline.n_rows),
        marks: marks.lines(whole),
        gaps,
        n_more_gaps,
        said: marks.said(whole),
        read,
        judgings,
        plot: view::Plot {
            wide: thousandths(WIDE),
            narrow: thousandths(NARROW),
        },
        faults,
    })
}

fn thousandths(size: Size) -> (u32, u32) {
    let (left, right) = window_plot(size);
    let of = |part: f64| (1_000.0 * part).round() as u32;
    (of(left), of(right))
}

/// A count with a thin space at each thousand.
fn grouped(n: usize) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

/// The picture of a stretch, as SVG.
pub(super) async fn picture(
    desk: &ShopDesk,
    asked: &view::RecordingAsked,
    wide: bool,
) -> Result<String, Trouble> {
    let looked = looked(desk, &asked.number).await?;
    let span = span(&looked, asked)?;
    let record = desk.register.record_json(&asked.number).await;
    let record = record.map_err(|error| broken(error.into()))?;
    let roles = roles(&looked.opened, &asked.channels);
    let (size, n_columns) = match wide {
        true => (WIDE, WIDE_COLUMNS),
        false => (NARROW, NARROW_COLUMNS),
    };
    beside(move || {
        let opened = &looked.opened;
        let window = opened.window(span.from_s, span.until_s, n_columns, &roles);
        let window = window.map_err(|error| spoiled(&error))?;
        let picture = RecordPicture {
            hold_s: None,
            units: looked.units,
            size,
        };
        let marks = Marks::of(opened.outline(), &record.unwrap_or_default());
        Ok(window_chart(&window, picture, &marks.steps()))
    })
    .await
}

/// Values of a stretch.
pub(super) async fn values(
    desk: &ShopDesk,
    asked: &view::RecordingAsked,
) -> Result<view::RecordingValues, Trouble> {
    let looked = looked(desk, &asked.number).await?;
    let span = span(&looked, asked)?;
    let roles = roles(&looked.opened, &asked.channels);
    beside(move || {
        let window = looked
            .opened
            .window(span.from_s, span.until_s, VALUE_COLUMNS, &roles);
        let window = window.map_err(|error| spoiled(&error))?;
        Ok(read::values(&window, looked.units))
    })
    .await
}
