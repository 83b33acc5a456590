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
use crate::certificate::facts::Facts;
use crate::certificate::facts::Standing;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::Pictures;
use crate::certificate::rows::ResultRow;
use crate::certificate::sheet::Column;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::ROW;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Style;

/// How closely the page is set.
#[derive(Debug, Clone, Copy)]
struct Density {
    /// Size of running text.
    text: f32,
    /// Least height of a chart.
    chart: f32,
    /// What height the picture gets beyond its least.
    more: f32,
    /// Whether what was not tested and the sensors stand in lines instead of columns.
    is_dense: bool,
}

const fn density(text: f32, chart: f32, is_dense: bool) -> Density {
    Density {
        text,
        chart,
        more: 0.0,
        is_dense,
    }
}

/// From an ordinary test to one with more to say; what exceeds all goes over the page.
const DENSITIES: [Density; 6] = [
    density(8.6, 140.0, false),
    density(8.2, 125.0, false),
    density(7.8, 116.0, false),
    density(7.8, 100.0, true),
    density(7.5, 84.0, true),
    density(7.2, 78.0, true),
];
/// Height of a line by size of its text where there is much to say.
pub(super) const DENSE_LEADING: f32 = 1.2;
const PICTURE_MOST: f32 = 235.0;

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
        let mut scrap = Sheet::new(facts.letterhead.paper(facts.units));
        let block = lay(&mut scrap, paper, facts, pictures, density)?;
        // Half a point is kept for what rounding adds.
        let left = scrap.foot() - scrap.y - block - 0.5;
        if scrap.pages.len() == 1 && left >= 0.0 {
            chosen = (density, left);
            break;
        }
    }
    let (density, left) = chosen;
    let least = pictures.front_height(sheet.width(), density.chart);
    let more = left.min(PICTURE_MOST - least).max(0.0);
    let block = lay(sheet, paper, facts, pictures, Density { more, ..density })?;
    sheet.ensure(block);
    sheet.y = sheet.y.max(sheet.foot() - block);
    foot_block(sheet, &foot_of(paper))?;
    (sheet.leading, sheet.row) = (LEADING, ROW);
    Ok(())
}

/// Everything but the block at the foot, whose height is given back.
fn lay(
    sheet: &mut Sheet,
    paper: &Paper,
    facts: &Facts<'_>,
    pictures: &Pictures<'_>,
    density: Density,
) -> Result<f32, PdfError> {
    (sheet.leading, sheet.row) = match density.is_dense {
        true => (DENSE_LEADING, 3.0),
        false => (LEADING, ROW),
    };
    let head_of = Head {
        title: &paper.title,
        below: "",
        number: &paper.number,
        shop: &paper.shop,
        letterhead: &facts.letterhead,
        date: &paper.date,
        marks: &paper.marks,
    };
    head(sheet, &head_of)?;
    piece(sheet, &paper.piece, pictures.circuit_on_front())?;
    let counts = !matches!(facts.standing, Standing::Withdrawn(_));
    let outcome_now = counts.then_some(facts.verdict.outcome);
    let said = (paper.outcome_word, paper.outcome_sentence.as_str());
    outcome(sheet, outcome_now, said)?;
    warnings(sheet, &paper.warnings)?;
    let height = pictures.front_height(sheet.width(), density.chart) + density.more;
    chart(sheet, pictures.main_title(), height, |size| {
        pictures.front(size)
    })?;
    results(sheet, paper, pictures, density.text)?;
    if density.is_dense {
        in_lines(sheet, paper, density.text)?;
    } else {
        outlook(sheet, paper, density.text)?;
        remarks(sheet, paper, density.text)?;
        columns(sheet, paper, density.text)?;
    }
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

fn results(
    sheet: &mut Sheet,
    paper: &Paper,
    pictures: &Pictures<'_>,
    size: f32,
) -> Result<(), PdfError> {
    let (judged, mut free): (Vec<&ResultRow>, Vec<&ResultRow>) = paper
        .results
        .iter()
        .partition(|row| !row.outcome.is_empty());
    // What stands in the picture with its figure is not said again.
    let drawn = pictures.went.as_ref().map_or(&[][..], |went| &went.names);
    let in_picture = free
        .iter()
        .filter(|row| drawn.contains(&row.figure.as_str()));
    if in_picture.count() < free.len() || !judged.is_empty() {
        free.retain(|row| !drawn.contains(&row.figure.as_str()));
    }
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

/// All that stands below the results, in lines over the text's width.
fn in_lines(sheet: &mut Sheet, paper: &Paper, size: f32) -> Result<(), PdfError> {
    const NAMES: f32 = 62.0;
    let sensors: Vec<String> = paper.sensors.iter().map(|s| s.line.clone()).collect();
    let sensors_title = match paper.sensors_title {
        "Sensors" => "Sensors",
        _ => "Read by eye",
    };
    // Sentences stand behind one another, names are parted.
    let lines: Vec<(String, String)> = [
        ("To come", &paper.outlook, " "),
        ("Read with it", &paper.remarks, " "),
        ("Not tested", &paper.not_tested, "; "),
        (sensors_title, &sensors, "; "),
    ]
    .into_iter()
    .filter(|(_, items, _)| !items.is_empty())
    .map(|(name, items, between)| (name.to_owned(), items.join(between)))
    .collect();
    let widths = (NAMES, sheet.width() - NAMES);
    sheet.ensure(sheet.pairs_height(&lines, size, widths.1)?);
    let at = (sheet.left(), sheet.y);
    sheet.y += sheet.pairs(&lines, size, at, widths)? + 4.0;
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
