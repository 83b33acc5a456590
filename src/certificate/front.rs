//! The page to hand over: outcome large, chart, results, what was not tested.
//!
//! Laid out from top to bottom; the chart takes what height is left, so that an
//! ordinary test fills exactly one page. The signature stands at the foot.

use crate::certificate::compose::Paper;
use crate::certificate::compose::is_letter;
use crate::certificate::facts::Facts;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::Pictures;
use crate::certificate::pictures::words_of;
use crate::certificate::rows::ResultRow;
use crate::certificate::sheet::Column;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Place;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::GREY;
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Style;
use crate::chart::Size;
use crate::verdict::Outcome;

/// How closely the page is set.
#[derive(Debug, Clone, Copy)]
struct Density {
    /// Size of running text.
    text: f32,
    /// Least height of the chart.
    chart: f32,
}

/// From an ordinary test to one with more to say; what exceeds all goes over the page.
const DENSITIES: [Density; 4] = [
    Density {
        text: 8.6,
        chart: 140.0,
    },
    Density {
        text: 8.2,
        chart: 125.0,
    },
    Density {
        text: 7.8,
        chart: 116.0,
    },
    Density {
        text: 7.5,
        chart: 84.0,
    },
];
const CHART_MOST: f32 = 235.0;
const CODE: f32 = 68.0;
const WARNING: &str = "WARNING";

/// Lays out the front.
pub(super) fn front(
    sheet: &mut Sheet,
    paper: &Paper,
    facts: &Facts<'_>,
    pictures: &Pictures<'_>,
) -> Result<(), PdfError> {
    // Tries on scrap paper say which density fits and how much height is left.
    let mut chosen = (DENSITIES[DENSITIES.len() - 1], 0.0);
    for density in DENSITIES {
        let mut scrap = Sheet::new(is_letter(facts.units));
        let block = lay(&mut scrap, paper, facts, pictures, density)?;
        let left = scrap.foot() - scrap.y - block;
        if scrap.pages.len() == 1 && left >= 0.0 {
            chosen = (density, left);
            break;
        }
    }
    let (density, left) = chosen;
    let chart = (density.chart + left).min(CHART_MOST);
    let block = lay(sheet, paper, facts, pictures, Density { chart, ..density })?;
    sheet.ensure(block);
    sheet.y = sheet.y.max(sheet.foot() - block);
    foot_block(sheet, paper)
}

/// Everything but the block at the foot, whose height is given back.
fn lay(
    sheet: &mut Sheet,
    paper: &Paper,
    facts: &Facts<'_>,
    pictures: &Pictures<'_>,
    density: Density,
) -> Result<f32, PdfError> {
    head(sheet, paper)?;
    piece(sheet, paper, pictures)?;
    outcome(sheet, paper, facts.verdict.outcome)?;
    warnings(sheet, paper)?;
    chart(sheet, pictures, density.chart)?;
    results(sheet, paper, density.text)?;
    outlook(sheet, paper, density.text)?;
    remarks(sheet, paper, density.text)?;
    columns(sheet, paper, density.text)?;
    foot_height(sheet, paper)
}

fn head(sheet: &mut Sheet, paper: &Paper) -> Result<(), PdfError> {
    let node = sheet.node(Kind::Heading(1, paper.title.clone()), None);
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.y);
    sheet.line(&paper.title, Style::bold(19.0), (left, y), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    sheet.line_ending(
        &paper.number,
        Style::bold(11.0),
        (right, y + 8.0),
        Some(node),
    )?;
    sheet.y += 26.0;
    sheet.rule(1.6, 0x14);
    sheet.y += 4.0;
    let y = sheet.y;
    let node = sheet.node(Kind::Paragraph, None);
    sheet.line(
        &format!("{} ", paper.shop),
        Style::bold(9.5),
        (left, y),
        Some(node),
    )?;
    sheet.line_ending(&paper.date, Style::plain(9.5), (right, y), Some(node))?;
    sheet.y += 17.0;
    if !paper.marks.is_empty() {
        let node = sheet.node(Kind::Paragraph, None);
        let said: Vec<&str> = paper.marks.iter().map(|m| m.line.as_str()).collect();
        let (text, style) = (said.join("   ·   "), Style::bold(10.0));
        let at = (sheet.left(), sheet.y);
        sheet.y += sheet.text(&text, style, at, sheet.width(), node)? + 4.0;
    }
    Ok(())
}

fn piece(sheet: &mut Sheet, paper: &Paper, pictures: &Pictures<'_>) -> Result<(), PdfError> {
    let (left, top) = (sheet.left(), sheet.y);
    let room = pictures
        .circuit
        .as_ref()
        .map_or(0.0, |(_, size)| size.width_pt as f32 + 12.0);
    let widths = (56.0, sheet.width() - 56.0 - room);
    let height = sheet.pairs(&paper.piece, 9.0, (left, top), widths)?;
    let mut used = height;
    if let Some((svg, size)) = &pictures.circuit {
        let (width, height) = (size.width_pt as f32, size.height_pt as f32);
        let node = sheet.node(Kind::Picture(words_of(svg)), None);
        let place = Place {
            left: sheet.right() - width,
            top,
            width,
            height,
        };
        sheet.draw(Piece::Picture(svg.clone(), place), Some(node));
        used = used.max(height);
    }
    sheet.y += used + 5.0;
    Ok(())
}

/// Dark enough for 7:1 on white; the word says it, the colour only helps.
fn colour(outcome: Outcome) -> (u8, u8, u8) {
    match outcome {
        Outcome::Pass => (0x00, 0x50, 0x2B),
        Outcome::Fail => (0x8C, 0x10, 0x10),
        Outcome::Undecided | Outcome::NotValid | Outcome::Measured => (0x14, 0x14, 0x14),
    }
}

fn outcome(sheet: &mut Sheet, paper: &Paper, outcome: Outcome) -> Result<(), PdfError> {
    // A long word leaves the sentence less room: it is set smaller.
    let size = if paper.outcome_word.len() > 6 {
        30.0
    } else {
        37.0
    };
    let word_style = Style::bold(size).in_colour(colour(outcome));
    let style = Style::plain(11.0);
    let word_width = sheet.faces.run(paper.outcome_word, word_style)?.width;
    let text_left = sheet.left() + 14.0 + word_width + 16.0;
    let text_width = sheet.right() - text_left - 12.0;
    let text_height = sheet.height(&paper.outcome_sentence, style, text_width)?;
    let height = (text_height + 15.0).max(58.0);
    let place = Place {
        left: sheet.left(),
        top: sheet.y,
        width: sheet.width(),
        height,
    };
    sheet.draw(Piece::Frame(place, 1.8), None);
    let bar = Place {
        width: 6.0,
        ..place
    };
    sheet.draw(Piece::Block(bar, colour(outcome)), None);
    let node = sheet.node(Kind::Paragraph, None);
    // The middle of the capitals stands in the middle of the frame.
    let top = place.top + height / 2.0 - size * 0.64;
    let word = format!("{} ", paper.outcome_word);
    sheet.line(&word, word_style, (place.left + 16.0, top), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    let top = place.top + (height - text_height) / 2.0 - 0.5;
    sheet.text(
        &paper.outcome_sentence,
        style,
        (text_left, top),
        text_width,
        node,
    )?;
    sheet.y += height + 7.0;
    Ok(())
}

/// A block that cannot be overlooked, with a hazard of leaving the piece as it is.
fn warnings(sheet: &mut Sheet, paper: &Paper) -> Result<(), PdfError> {
    for warning in &paper.warnings {
        let (word, style) = (Style::bold(13.0), Style::bold(10.0));
        let word_width = sheet.faces.run(WARNING, word)?.width + 14.0;
        let width = sheet.width() - word_width - 20.0;
        let text_height = sheet.height(warning, style, width)?;
        let height = (text_height + 10.0).max(26.0);
        let place = Place {
            left: sheet.left(),
            top: sheet.y,
            width: sheet.width(),
            height,
        };
        sheet.draw(Piece::Frame(place, 2.6), None);
        let node = sheet.node(Kind::Paragraph, None);
        let middle = place.top + height / 2.0;
        let at = (place.left + 10.0, middle - 13.0 * 0.64);
        sheet.line(&format!("{WARNING} "), word, at, Some(node))?;
        let at = (
            place.left + 10.0 + word_width,
            place.top + (height - text_height) / 2.0,
        );
        sheet.text(warning, style, at, width, node)?;
        sheet.y += height + 7.0;
    }
    Ok(())
}

fn outlook(sheet: &mut Sheet, paper: &Paper, size: f32) -> Result<(), PdfError> {
    if paper.outlook.is_empty() {
        return Ok(());
    }
    sheet.heading("What is to come", 24.0)?;
    note(sheet, &paper.outlook.join(" "), size)?;
    sheet.y += 5.0;
    Ok(())
}

fn chart(sheet: &mut Sheet, pictures: &Pictures<'_>, height: f32) -> Result<(), PdfError> {
    sheet.heading(pictures.main_title(), height)?;
    let size = Size {
        width_pt: f64::from(sheet.width()),
        height_pt: f64::from(height),
    };
    let svg = pictures.main(size);
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

fn results(sheet: &mut Sheet, paper: &Paper, size: f32) -> Result<(), PdfError> {
    let (judged, free): (Vec<&ResultRow>, Vec<&ResultRow>) = paper
        .results
        .iter()
        .partition(|row| !row.outcome.is_empty());
    let rows = if judged.is_empty() { &free } else { &judged };
    if rows.is_empty() {
        return Ok(());
    }
    let width = sheet.width();
    let column = |name: &'static str, share: f32, bold: bool| Column {
        name,
        width: share * width,
        bold,
    };
    let columns = [
        column("what was tested", 0.15, false),
        column("at", 0.155, false),
        column("stroke", 0.085, false),
        column("result", 0.205, true),
        column("limit and its source", 0.297, false),
        column("outcome", 0.108, true),
    ];
    let cells: Vec<Vec<String>> = rows.iter().map(|row| cells(row)).collect();
    sheet.table(&columns, &cells, size)?;
    sheet.y += 3.0;
    if !judged.is_empty() && !free.is_empty() {
        let said: Vec<String> = free
            .iter()
            .map(|row| format!("{}: {}", row.figure, row.result))
            .collect();
        let text = format!("Also measured, no limit chosen. {}.", said.join(". "));
        note(sheet, &text, size)?;
    }
    note(
        sheet,
        &format!("{} {}", paper.rule, paper.uncertainty),
        size,
    )?;
    sheet.y += 5.0;
    Ok(())
}

/// A paragraph over the text's width.
fn note(sheet: &mut Sheet, text: &str, size: f32) -> Result<(), PdfError> {
    let (style, width) = (Style::plain(size), sheet.width());
    sheet.ensure(sheet.height(text, style, width)?);
    let node = sheet.node(Kind::Paragraph, None);
    let at = (sheet.left(), sheet.y);
    sheet.y += sheet.text(text, style, at, width, node)? + 2.0;
    Ok(())
}

fn cells(row: &ResultRow) -> Vec<String> {
    let limit = if row.limit.is_empty() {
        "no limit chosen".to_string()
    } else {
        format!("{}; {}", row.limit, row.source)
    };
    vec![
        row.figure.clone(),
        row.conditions.clone(),
        row.position.clone(),
        row.result.clone(),
        limit,
        row.outcome.to_string(),
    ]
}

fn remarks(sheet: &mut Sheet, paper: &Paper, size: f32) -> Result<(), PdfError> {
    if paper.remarks.is_empty() {
        return Ok(());
    }
    sheet.heading("To be read with it", 24.0)?;
    sheet.flowing_list(&paper.remarks, Style::plain(size))?;
    sheet.y += 5.0;
    Ok(())
}

/// Not tested at the left, the sensors at the right.
fn columns(sheet: &mut Sheet, paper: &Paper, size: f32) -> Result<(), PdfError> {
    let gap = 18.0;
    let width = (sheet.width() - gap) / 2.0;
    let style = Style::plain(size);
    let sensors: Vec<String> = paper.sensors.iter().map(|s| s.line.clone()).collect();
    let blocks = [("Not tested", &paper.not_tested), ("Sensors", &sensors)];
    let mut height = 0.0f32;
    for (_, items) in blocks {
        height = height.max(15.0 + sheet.list_height(items, style, width)?);
    }
    sheet.ensure(height);
    let (mut left, top) = (sheet.left(), sheet.y);
    for (title, items) in blocks {
        let node = sheet.node(Kind::Heading(2, title.into()), None);
        sheet.line(title, Style::bold(10.5), (left, top), Some(node))?;
        sheet.list(items, style, (left, top + 15.0), width)?;
        left += width + gap;
    }
    sheet.y += height + 4.0;
    Ok(())
}

fn caution_width(sheet: &Sheet) -> f32 {
    sheet.width() - CODE - 20.0
}

const CAUTION: Style = Style::plain(7.8);

fn foot_height(sheet: &Sheet, paper: &Paper) -> Result<f32, PdfError> {
    let width = caution_width(sheet);
    let text = paper.cautions.join(" ");
    let cautions = sheet.height(&text, CAUTION, width)?;
    // Rule, heading, cautions, space to sign, line and its words.
    Ok((5.0 + 14.0 + cautions + 24.0 + 12.0).max(CODE + 32.0))
}

fn foot_block(sheet: &mut Sheet, paper: &Paper) -> Result<(), PdfError> {
    let (left, right, top) = (sheet.left(), sheet.right(), sheet.y);
    let height = foot_height(sheet, paper)?;
    let bottom = top + height;
    sheet.rule(1.0, 0x14);
    let node = sheet.node(Kind::Heading(2, "Cautions".into()), None);
    sheet.line("Cautions", Style::bold(10.5), (left, top + 5.0), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    let text = paper.cautions.join(" ");
    let width = caution_width(sheet);
    sheet.text(&text, CAUTION, (left, top + 19.0), width, node)?;
    let note = Style::plain(8.0).in_colour(GREY);
    let line_y = bottom - 12.0;
    let role = if paper.role.is_empty() {
        "role".to_string()
    } else {
        format!("role: {}", paper.role)
    };
    let date_left = left + width * 0.70;
    let role_left = left + width * 0.42;
    for (from, until, words) in [
        (left, role_left - 12.0, "signature"),
        (role_left, date_left - 12.0, role.as_str()),
        (date_left, left + width, "date"),
    ] {
        sheet.draw(
            Piece::Rule((from, line_y), (until, line_y), 0.8, 0x14),
            None,
        );
        let node = sheet.node(Kind::Paragraph, None);
        sheet.line(words, note, (from, line_y + 2.0), Some(node))?;
    }
    code(sheet, paper, (right - CODE, top + 8.0))?;
    let node = sheet.node(Kind::Paragraph, None);
    let lines = ["run, number,", "outcome, hash"];
    for (index, words) in lines.into_iter().enumerate() {
        let y = top + 8.0 + CODE + 6.0 + index as f32 * 6.6 * LEADING;
        sheet.line(
            &format!("{words} "),
            Style::plain(6.6).in_colour(GREY),
            (right - CODE, y),
            Some(node),
        )?;
    }
    sheet.y = bottom;
    Ok(())
}

fn code(sheet: &mut Sheet, paper: &Paper, at: (f32, f32)) -> Result<(), PdfError> {
    let code =
        qrcode::QrCode::with_error_correction_level(paper.code_text.as_bytes(), qrcode::EcLevel::M)
            .map_err(|source| PdfError::Code {
                n_bytes: paper.code_text.len(),
                source,
            })?;
    let words = format!("QR code that says: {}", paper.code_text.replace('\n', "; "));
    let node = sheet.node(Kind::Picture(words), None);
    let dark = code
        .to_colors()
        .into_iter()
        .map(|c| c == qrcode::Color::Dark)
        .collect();
    let place = Place {
        left: at.0,
        top: at.1,
        width: CODE,
        height: CODE,
    };
    sheet.draw(Piece::Code(code.width(), dark, place), Some(node));
    Ok(())
}
