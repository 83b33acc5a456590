//! The page for the expert: recording, uncertainty, phases, sensors, data.
//!
//! Blocks flow; what does not fit on one page goes on to the next.

use crate::certificate::blocks::chart;
use crate::certificate::by_eye::LookRow;
use crate::certificate::compose::Paper;
use crate::certificate::facts::Facts;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::Pictures;
use crate::certificate::pictures::words_of;
use crate::certificate::rows::FigureBudget;
use crate::certificate::rows::SensorRow;
use crate::certificate::sheet::Column;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Place;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::GREY;
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Style;
use crate::chart::Size;

/// How closely the page is set.
#[derive(Debug, Clone, Copy)]
struct Density {
    /// Size of running text.
    text: f32,
    /// Height of the account over time.
    account: f32,
    /// Height of the recording.
    record: f32,
    /// Height of a line by size of its text.
    leading: f32,
}

/// From a test with little to say to one with much.
const DENSITIES: [Density; 3] = [
    Density {
        text: 8.2,
        account: 116.0,
        record: 140.0,
        leading: LEADING,
    },
    Density {
        text: 7.6,
        account: 94.0,
        record: 112.0,
        leading: 1.22,
    },
    Density {
        text: 7.2,
        account: 84.0,
        record: 98.0,
        leading: 1.2,
    },
];
/// Small enough for a hash on one line.
const PAIRS: f32 = 7.8;
const RECORD_MOST: f32 = 290.0;

/// Lays out the back, from a new page on.
pub(super) fn back(
    sheet: &mut Sheet,
    paper: &Paper,
    facts: &Facts<'_>,
    pictures: &Pictures<'_>,
) -> Result<(), PdfError> {
    let mut chosen = DENSITIES[0];
    for density in DENSITIES {
        let mut scrap = Sheet::new(facts.letterhead.paper(facts.units));
        lay(&mut scrap, paper, pictures, density)?;
        if scrap.pages.len() == 1 {
            let left = (scrap.foot() - scrap.y).max(0.0);
            let record = (density.record + left).min(RECORD_MOST);
            chosen = Density { record, ..density };
            break;
        }
    }
    sheet.turn();
    lay(sheet, paper, pictures, chosen)
}

fn lay(
    sheet: &mut Sheet,
    paper: &Paper,
    pictures: &Pictures<'_>,
    density: Density,
) -> Result<(), PdfError> {
    sheet.leading = density.leading;
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.y);
    let node = sheet.node(Kind::Heading(1, "For the expert".into()), None);
    sheet.line("For the expert", Style::bold(15.0), (left, y), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    let note = Style::plain(9.0).in_colour(GREY);
    let title = format!("{}, {}", paper.title, paper.number);
    sheet.line_ending(&title, note, (right, y + 6.0), Some(node))?;
    sheet.y += 22.0;
    sheet.rule(1.2, 0x14);
    sheet.y += 6.0;
    account(sheet, pictures, density.account)?;
    record(sheet, pictures, density.record)?;
    words(sheet, "In words", &paper.sentences, density.text)?;
    words(
        sheet,
        "What the pattern says",
        &paper.findings,
        density.text,
    )?;
    budgets(sheet, &paper.budgets, density.text)?;
    looks(sheet, &paper.looks, density.text)?;
    sensors(sheet, paper.sensors_title, &paper.sensors, density.text)?;
    data(sheet, ("Phases", &paper.phases), &paper.provenance)
}

/// The account over time, where the front has a picture that needs no reading of charts.
fn account(sheet: &mut Sheet, pictures: &Pictures<'_>, height: f32) -> Result<(), PdfError> {
    let size = Size {
        width_pt: f64::from(sheet.width()),
        height_pt: f64::from(height),
    };
    match pictures.account(size) {
        None => Ok(()),
        Some(svg) => chart(sheet, "Where the oil went, over time", height, |_| svg),
    }
}

fn record(sheet: &mut Sheet, pictures: &Pictures<'_>, height: f32) -> Result<(), PdfError> {
    let Some(svg) = pictures.record(Size {
        width_pt: f64::from(sheet.width()),
        height_pt: f64::from(height),
    }) else {
        return Ok(());
    };
    sheet.heading("What was recorded", height)?;
    let node = sheet.node(Kind::Picture(words_of(&svg)), None);
    let place = Place {
        left: sheet.left(),
        top: sheet.y,
        width: sheet.width(),
        height,
    };
    sheet.draw(Piece::Picture(svg, place), Some(node));
    sheet.y += height + 7.0;
    Ok(())
}

/// A list under its heading; nothing without sentences.
pub(super) fn words(
    sheet: &mut Sheet,
    title: &str,
    sentences: &[String],
    size: f32,
) -> Result<(), PdfError> {
    if sentences.is_empty() {
        return Ok(());
    }
    sheet.heading(title, 14.0)?;
    sheet.flowing_list(sentences, Style::plain(size))?;
    sheet.y += 6.0;
    Ok(())
}

/// Where the uncertainty of each figure comes from.
pub(super) fn budgets(
    sheet: &mut Sheet,
    budgets: &[FigureBudget],
    size: f32,
) -> Result<(), PdfError> {
    let width = sheet.width();
    let columns = [
        Column {
            name: "uncertainty from",
            width: 0.33 * width,
            bold: false,
        },
        Column {
            name: "standard",
            width: 0.17 * width,
            bold: false,
        },
        Column {
            name: "share",
            width: 0.09 * width,
            bold: false,
        },
        Column {
            name: "what would shrink it",
            width: 0.41 * width,
            bold: false,
        },
    ];
    for (index, budget) in budgets.iter().enumerate() {
        if index == 0 {
            sheet.heading("Uncertainty budget", 60.0)?;
        }
        sheet.ensure(50.0);
        let node = sheet.node(Kind::Paragraph, None);
        let at = (sheet.left(), sheet.y);
        sheet.y += sheet.text(&budget.title, Style::bold(size), at, width, node)? + 2.0;
        let rows: Vec<Vec<String>> = budget
            .rows
            .iter()
            .map(|r| {
                vec![
                    r.source.into(),
                    r.standard.clone(),
                    r.share.clone(),
                    r.remedy.into(),
                ]
            })
            .collect();
        sheet.table(&columns, &rows, size)?;
        sheet.y += 6.0;
    }
    Ok(())
}

/// What a person read during the hold, look by look.
pub(super) fn looks(sheet: &mut Sheet, looks: &[LookRow], size: f32) -> Result<(), PdfError> {
    if looks.is_empty() {
        return Ok(());
    }
    let width = sheet.width();
    let column = |name: &'static str, share: f32| Column {
        name,
        width: share * width,
        bold: false,
    };
    let columns = [
        column("asked at", 0.12),
        column("read by eye, as it was said", 0.88),
    ];
    let rows: Vec<Vec<String>> = looks
        .iter()
        .map(|look| vec![look.at.clone(), look.said.clone()])
        .collect();
    sheet.heading("Readings of the hold", 50.0)?;
    sheet.table(&columns, &rows, size)?;
    sheet.y += 8.0;
    Ok(())
}

/// The sensors with their papers.
pub(super) fn sensors(
    sheet: &mut Sheet,
    title: &str,
    sensors: &[SensorRow],
    size: f32,
) -> Result<(), PdfError> {
    if sensors.is_empty() {
        return Ok(());
    }
    let width = sheet.width();
    let column = |name: &'static str, share: f32| Column {
        name,
        width: share * width,
        bold: false,
    };
    let columns = [
        column("sensor", 0.155),
        column("serial", 0.095),
        column("calibration", 0.28),
        column("range and step", 0.24),
        column("standard uncertainty", 0.23),
    ];
    let rows: Vec<Vec<String>> = sensors
        .iter()
        .map(|s| {
            vec![
                s.role.into(),
                s.serial.clone(),
                s.calibration.clone(),
                s.range.clone(),
                s.uncertainty.clone(),
            ]
        })
        .collect();
    sheet.heading(title, 50.0)?;
    sheet.table(&columns, &rows, size)?;
    sheet.y += 8.0;
    Ok(())
}

/// Phases at the left, data and versions at the right.
pub(super) fn data(
    sheet: &mut Sheet,
    (title, phases): (&str, &[(String, String)]),
    provenance: &[(String, String)],
) -> Result<(), PdfError> {
    let gap = 18.0;
    let left_width = sheet.width() * 0.27;
    let right_width = sheet.width() - gap - left_width;
    let left_widths = (46.0, left_width - 46.0);
    let right_widths = (58.0, right_width - 58.0);
    let one = sheet.pairs_height(phases, PAIRS, left_widths.1)?;
    let two = sheet.pairs_height(provenance, PAIRS, right_widths.1)?;
    let height = 15.0 + one.max(two);
    sheet.ensure(height);
    let (left, top) = (sheet.left(), sheet.y);
    let right = left + left_width + gap;
    let heading = Style::bold(10.5);
    let node = sheet.node(Kind::Heading(2, title.into()), None);
    sheet.line(title, heading, (left, top), Some(node))?;
    sheet.pairs(phases, PAIRS, (left, top + 15.0), left_widths)?;
    let node = sheet.node(Kind::Heading(2, "Data and versions".into()), None);
    sheet.line("Data and versions", heading, (right, top), Some(node))?;
    sheet.pairs(provenance, PAIRS, (right, top + 15.0), right_widths)?;
    sheet.y += height;
    Ok(())
}
