//! The page to hand over: outcome large, chart, results, what was not tested.
//!
//! Laid out from top to bottom; the chart takes what height is left, so that an
//! ordinary test fills exactly one page. The signature stands at the foot.

use crate::certificate::blocks::Foot;
use crate::certificate::blocks::Head;
use crate::certificate::blocks::chart;
use crate::certificate::blocks::foot_block;
use crate::certificate::blocks::foot_height;
use crate::certificate::blocks::head;
use crate::certificate::blocks::note;
use crate::certificate::blocks::outcome;
use crate::certificate::blocks::piece;
use crate::certificate::blocks::warnings;
use crate::certificate::compose::Paper;
use crate::certificate::compose::is_letter;
use crate::certificate::facts::Facts;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::Pictures;
use crate::certificate::rows::ResultRow;
use crate::certificate::sheet::Column;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::Style;

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
    foot_block(sheet, &foot_of(paper))
}

/// Everything but the block at the foot, whose height is given back.
fn lay(
    sheet: &mut Sheet,
    paper: &Paper,
    facts: &Facts<'_>,
    pictures: &Pictures<'_>,
    density: Density,
) -> Result<f32, PdfError> {
    let head_of = Head {
        title: &paper.title,
        below: "",
        number: &paper.number,
        shop: &paper.shop,
        date: &paper.date,
        marks: &paper.marks,
    };
    head(sheet, &head_of)?;
    piece(sheet, &paper.piece, pictures.circuit.as_ref())?;
    outcome(sheet, facts.verdict.outcome, &paper.outcome_sentence)?;
    warnings(sheet, &paper.warnings)?;
    chart(sheet, pictures.main_title(), density.chart, |size| {
        pictures.main(size)
    })?;
    results(sheet, paper, density.text)?;
    outlook(sheet, paper, density.text)?;
    remarks(sheet, paper, density.text)?;
    columns(sheet, paper, density.text)?;
    foot_height(sheet, &paper.cautions)
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
    let blocks = [
        ("Not tested", &paper.not_tested),
        (paper.sensors_title, &sensors),
    ];
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

fn foot_of(paper: &Paper) -> Foot<'_> {
    Foot {
        cautions: &paper.cautions,
        role: &paper.role,
        code_text: &paper.code_text,
    }
}
