//! The pages for the expert: all steps, the whole test over time, data, then each hold.
//!
//! Blocks flow; a hold that would be torn apart begins on a new page if it fits on one.

use crate::certificate::back::budgets;
use crate::certificate::back::data;
use crate::certificate::back::looks;
use crate::certificate::back::sensors;
use crate::certificate::back::words;
use crate::certificate::blocks::chart;
use crate::certificate::blocks::colour;
use crate::certificate::blocks::note;
use crate::certificate::blocks::warnings;
use crate::certificate::facts::Facts;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::Pictures;
use crate::certificate::pictures::words_of;
use crate::certificate::proof::compose::HoldPart;
use crate::certificate::proof::compose::ProofPaper;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::front::step_table;
use crate::certificate::proof::seen::marks;
use crate::certificate::proof::steps::StepRow;
use crate::certificate::proof::strokes::StrokeTable;
use crate::certificate::sheet::Column;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Place;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::GREY;
use crate::certificate::typeset::Style;
use crate::chart::RecordPicture;
use crate::chart::Size;
use crate::chart::course_chart;

const TEXT: f32 = 7.5;
/// Greatest and least height of the picture of the whole test.
const COURSE: f32 = 250.0;
const COURSE_LEAST: f32 = 118.0;
/// What stands over and below that picture.
const AROUND_COURSE: f32 = 46.0;
const HOLD_CHART: f32 = 96.0;
/// Two holds of one figure share a page.
const BUDGET: f32 = 7.4;
const HEADLINE: f32 = 28.0;
/// Part of a circuit's size in which it stands beside a hold.
const CIRCUIT_PART: f32 = 0.8;

/// On which page, from 0, what begins.
pub(super) struct Starts {
    /// The table of all steps.
    pub steps: usize,
    /// The data.
    pub data: usize,
    /// Each hold.
    pub holds: Vec<usize>,
}

/// Lays out all pages behind the front.
pub(super) fn further(
    sheet: &mut Sheet,
    paper: &ProofPaper,
    facts: &ProofFacts<'_>,
) -> Result<Starts, PdfError> {
    sheet.turn();
    let steps = last_page(sheet);
    headline(sheet, "All steps, for the expert", paper)?;
    let rows: Vec<&StepRow> = paper.steps.iter().collect();
    step_table(sheet, &rows, TEXT)?;
    sheet.y += 3.0;
    if !paper.limit_sources.is_empty() {
        let text = format!("Limits from: {}.", paper.limit_sources.join("; "));
        note(sheet, &text, TEXT)?;
    }
    sheet.y += 5.0;
    strokes(sheet, &paper.strokes)?;
    words(
        sheet,
        "Where the steps come from",
        &paper.step_sources,
        TEXT,
    )?;
    if !marks(facts).is_empty() {
        let left = sheet.foot() - sheet.y - AROUND_COURSE;
        // As low as it may be if sensors and data then end on the same page.
        let with_data = left - data_height(paper, facts)?;
        let height = match (with_data >= COURSE_LEAST, left >= COURSE_LEAST) {
            (true, _) => with_data.min(COURSE),
            (false, true) => left.min(COURSE),
            (false, false) => COURSE,
        };
        chart(sheet, "The whole test over time", height, |size| {
            course(facts, size)
        })?;
        let text = "Numbers are those of the table, thick bars are counted holds, hatched is settling. \
                    Steps that a person only confirmed or read have no stretch.";
        note(sheet, text, TEXT)?;
        sheet.y += 5.0;
    }
    sensors(sheet, paper.sensors_title, &paper.sensors, TEXT)?;
    data(sheet, ("How it ran", &paper.run), &paper.provenance)?;
    let data = last_page(sheet);
    let holds = holds(sheet, paper, facts)?;
    Ok(Starts { steps, data, holds })
}

/// Height of sensors and data.
fn data_height(paper: &ProofPaper, facts: &ProofFacts<'_>) -> Result<f32, PdfError> {
    let mut scrap = Sheet::new(facts.letterhead.paper(facts.units));
    let top = scrap.y;
    sensors(&mut scrap, paper.sensors_title, &paper.sensors, TEXT)?;
    data(&mut scrap, ("How it ran", &paper.run), &paper.provenance)?;
    Ok(match scrap.pages.len() {
        1 => scrap.y - top,
        _ => f32::MAX,
    })
}

/// What strokes told: a small table, and what is to be read with it.
fn strokes(sheet: &mut Sheet, table: &StrokeTable) -> Result<(), PdfError> {
    if table.lines.is_empty() && table.notes.is_empty() {
        return Ok(());
    }
    sheet.heading("Strokes", 40.0)?;
    let width = sheet.width();
    let column = |name: &'static str, share: f32| Column {
        name,
        width: share * width,
        bold: false,
    };
    let columns = [column("", 0.3), column("out", 0.38), column("in", 0.32)];
    let cells: Vec<Vec<String>> = table
        .lines
        .iter()
        .map(|line| vec![line.name.clone(), line.out.clone(), line.back.clone()])
        .collect();
    if !cells.is_empty() {
        sheet.table(&columns, &cells, TEXT)?;
        sheet.y += 3.0;
    }
    if !table.notes.is_empty() {
        note(sheet, &table.notes.join(" "), TEXT)?;
    }
    sheet.y += 5.0;
    Ok(())
}

fn last_page(sheet: &Sheet) -> usize {
    sheet.pages.len() - 1
}

fn headline(sheet: &mut Sheet, text: &str, paper: &ProofPaper) -> Result<(), PdfError> {
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.y);
    let node = sheet.node(Kind::Heading(1, text.into()), None);
    sheet.line(text, Style::bold(15.0), (left, y), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    let note = Style::plain(9.0).in_colour(GREY);
    let title = format!("{}, {}", paper.title, paper.number);
    sheet.line_ending(&title, note, (right, y + 6.0), Some(node))?;
    sheet.y += 22.0;
    sheet.rule(1.2, 0x14);
    sheet.y += 6.0;
    Ok(())
}

/// The whole recording with the steps over it.
pub(super) fn course(facts: &ProofFacts<'_>, size: Size) -> String {
    let picture = RecordPicture {
        hold_s: None,
        units: facts.units,
        size,
    };
    course_chart(facts.recording, picture, &marks(facts))
}

fn holds(
    sheet: &mut Sheet,
    paper: &ProofPaper,
    facts: &ProofFacts<'_>,
) -> Result<Vec<usize>, PdfError> {
    let mut starts = Vec::new();
    for (part, (_, hold)) in paper.holds.iter().zip(facts.holds()) {
        let mut scrap = Sheet::new(facts.letterhead.paper(facts.units));
        headline(&mut scrap, "Hold by hold", paper)?;
        let top = scrap.y;
        one(&mut scrap, part, hold)?;
        let fits_alone = scrap.pages.len() == 1;
        let height = if fits_alone { scrap.y - top } else { f32::MAX };
        let over = if starts.is_empty() {
            HEADLINE + 10.0
        } else {
            0.0
        };
        if sheet.y + over + height > sheet.foot() {
            sheet.turn();
        } else if starts.is_empty() {
            sheet.y += 10.0;
        }
        if starts.is_empty() {
            headline(sheet, "Hold by hold", paper)?;
        }
        starts.push(last_page(sheet));
        one(sheet, part, hold)?;
        sheet.y += 8.0;
    }
    Ok(starts)
}

/// One hold: outcome, how it was plumbed, chart, budgets, remarks.
fn one(sheet: &mut Sheet, part: &HoldPart, hold: &Facts<'_>) -> Result<(), PdfError> {
    let (left, top, right) = (sheet.left(), sheet.y, sheet.right());
    let style = Style::bold(12.0);
    let outcome = style.in_colour(colour(hold.verdict.outcome));
    let node = sheet.node(Kind::Heading(2, part.heading.clone()), None);
    let room = sheet.width() - 90.0;
    let height = sheet.text(&part.heading, style, (left, top), room, node)?;
    let node = sheet.node(Kind::Paragraph, None);
    sheet.line_ending(part.paper.outcome_word, outcome, (right, top), Some(node))?;
    sheet.y += height + 1.0;
    sheet.rule(0.8, 0x14);
    sheet.y += 4.0;
    let pictures = Pictures::new(hold);
    said(sheet, part, &pictures)?;
    warnings(sheet, &part.paper.warnings)?;
    let size = Size {
        width_pt: f64::from(sheet.width()),
        height_pt: f64::from(HOLD_CHART),
    };
    let svg = pictures.main(size);
    sheet.ensure(HOLD_CHART);
    let node = sheet.node(Kind::Picture(words_of(&svg)), None);
    let place = Place {
        left: sheet.left(),
        top: sheet.y,
        width: sheet.width(),
        height: HOLD_CHART,
    };
    sheet.draw(Piece::Picture(svg, place), Some(node));
    sheet.y += HOLD_CHART + 5.0;
    looks(sheet, &part.paper.looks, TEXT)?;
    budgets(sheet, &part.paper.budgets, BUDGET)
}

/// What came out in words at the left, how it was plumbed at the right.
fn said(sheet: &mut Sheet, part: &HoldPart, pictures: &Pictures<'_>) -> Result<(), PdfError> {
    let (left, top) = (sheet.left(), sheet.y);
    let mut used = 0.0f32;
    let mut room = 0.0;
    if let Some((svg, size)) = &pictures.circuit {
        let width = size.width_pt as f32 * CIRCUIT_PART;
        let height = size.height_pt as f32 * CIRCUIT_PART;
        let node = sheet.node(Kind::Picture(words_of(svg)), None);
        let place = Place {
            left: sheet.right() - width,
            top,
            width,
            height,
        };
        sheet.draw(Piece::Picture(svg.clone(), place), Some(node));
        used = height;
        room = width + 12.0;
    }
    let mut said = part.paper.sentences.clone();
    let also = match said.is_empty() {
        true => "Measured",
        false => "Also measured",
    };
    if part.paper.results.is_empty() {
        said.push(part.paper.outcome_sentence.clone());
    }
    let free = part.paper.results.iter().filter(|r| r.outcome.is_empty());
    let free: Vec<String> = free
        .map(|r| format!("{}: {}", r.figure, r.result))
        .collect();
    if !free.is_empty() {
        said.push(format!("{also}, no limit chosen. {}.", free.join(". ")));
    }
    said.extend(part.paper.findings.iter().cloned());
    said.extend(part.paper.remarks.iter().cloned());
    let width = sheet.width() - room;
    let height = sheet.list(&said, Style::plain(TEXT), (left, top), width)?;
    sheet.y += used.max(height) + 5.0;
    Ok(())
}
