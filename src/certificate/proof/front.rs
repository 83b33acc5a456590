//! The page to hand over: outcome large, chart of the hold that decided, steps, what was not
//! tested.
//!
//! All steps stand on it if they fit, else the holds alone; the chart takes what height is
//! left. The signature stands at the foot.

use crate::certificate::blocks::Foot;
use crate::certificate::blocks::Head;
use crate::certificate::blocks::chart;
use crate::certificate::blocks::foot_block;
use crate::certificate::blocks::foot_height;
use crate::certificate::blocks::head;
use crate::certificate::blocks::note;
use crate::certificate::blocks::outcome;
use crate::certificate::blocks::piece;
use crate::certificate::facts::Standing;
use crate::certificate::front::DENSE_LEADING;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::Pictures;
use crate::certificate::proof::compose::ProofPaper;
use crate::certificate::proof::conclude::nearest;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepShown;
use crate::certificate::proof::layout::course;
use crate::certificate::proof::steps::StepRow;
use crate::certificate::sheet::Column;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::ROW;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Style;
use crate::verdict::Outcome;

/// How closely the page is set.
#[derive(Debug, Clone, Copy)]
struct Density {
    /// Size of running text.
    text: f32,
    /// Least height of a chart.
    chart: f32,
    /// What height the picture gets beyond its least.
    more: f32,
    /// Which steps stand on the page.
    table: Table,
    /// Whether what was tested and what was not stands in lines instead of columns.
    is_dense: bool,
}

/// Which rows a table has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Table {
    /// All steps.
    All,
    /// The holds alone.
    Holds,
    /// A line for each hold, and for what else did not pass.
    Lines,
    /// Lines of what did not pass, and of the first hold that did.
    Telling,
    /// None: there are too many.
    Nothing,
}

const fn density(text: f32, chart: f32, table: Table) -> Density {
    Density {
        text,
        chart,
        more: 0.0,
        table,
        is_dense: false,
    }
}

const fn dense(text: f32, chart: f32, table: Table) -> Density {
    Density {
        is_dense: true,
        ..density(text, chart, table)
    }
}

/// From a procedure of few steps to one of many; what exceeds all goes over the page.
const DENSITIES: [Density; 14] = [
    density(8.6, 140.0, Table::All),
    density(8.2, 120.0, Table::All),
    density(7.8, 112.0, Table::All),
    dense(7.8, 100.0, Table::All),
    dense(7.5, 88.0, Table::All),
    density(8.2, 125.0, Table::Holds),
    density(7.8, 112.0, Table::Holds),
    dense(7.8, 100.0, Table::Holds),
    density(7.8, 100.0, Table::Lines),
    dense(7.8, 100.0, Table::Lines),
    dense(7.5, 88.0, Table::Lines),
    dense(7.2, 88.0, Table::Lines),
    dense(7.5, 92.0, Table::Telling),
    dense(7.5, 112.0, Table::Nothing),
];
const PICTURE_MOST: f32 = 235.0;

/// Lays out the front.
pub(super) fn front(
    sheet: &mut Sheet,
    paper: &ProofPaper,
    facts: &ProofFacts<'_>,
) -> Result<(), PdfError> {
    let pictures = deciding(facts);
    let pictures = pictures.as_ref();
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
    let least = pictures.map_or(density.chart, |p| {
        p.front_height(sheet.width(), density.chart)
    });
    let more = left.min(PICTURE_MOST - least).max(0.0);
    let block = lay(sheet, paper, facts, pictures, Density { more, ..density })?;
    sheet.ensure(block);
    sheet.y = sheet.y.max(sheet.foot() - block);
    foot_block(
        sheet,
        &Foot {
            cautions: &paper.cautions,
            role: &paper.role,
            code_text: &paper.code_text,
        },
    )?;
    (sheet.leading, sheet.row) = (LEADING, ROW);
    Ok(())
}

/// The hold that decided; of a pass the one nearest to its limit. None without a hold.
fn worst(facts: &ProofFacts<'_>) -> Option<usize> {
    let nearest = nearest(facts).filter(|_| facts.outcome == Outcome::Pass);
    nearest.map(|(number, _, _)| number - 1).or(facts.deciding)
}

/// Pictures of that hold; None without one.
fn deciding<'a>(facts: &'a ProofFacts<'_>) -> Option<Pictures<'a>> {
    match &facts.steps.get(worst(facts)?)?.shown {
        StepShown::Held { facts: hold, .. } => Some(Pictures::new(hold)),
        _ => None,
    }
}

/// Everything but the block at the foot, whose height is given back.
fn lay(
    sheet: &mut Sheet,
    paper: &ProofPaper,
    facts: &ProofFacts<'_>,
    pictures: Option<&Pictures<'_>>,
    density: Density,
) -> Result<f32, PdfError> {
    (sheet.leading, sheet.row) = match density.is_dense {
        true => (DENSE_LEADING, 3.0),
        false => (LEADING, ROW),
    };
    head(
        sheet,
        &Head {
            title: &paper.title,
            below: &paper.procedure,
            number: &paper.number,
            shop: &paper.shop,
            letterhead: &facts.letterhead,
            date: &paper.date,
            marks: &paper.marks,
        },
    )?;
    let circuit = pictures.and_then(Pictures::circuit_on_front);
    piece(sheet, &paper.piece, circuit)?;
    let counts = !matches!(facts.standing, Standing::Withdrawn(_));
    let said = (paper.outcome_word, paper.outcome_sentence.as_str());
    outcome(sheet, counts.then_some(facts.outcome), said)?;
    match (pictures, worst(facts)) {
        (Some(pictures), Some(index)) => {
            let title = facts.steps.get(index).map_or("", |s| s.title.as_str());
            let title = format!("{}: step {}, {title}", pictures.main_title(), index + 1);
            let least = pictures.front_height(sheet.width(), density.chart);
            chart(sheet, &title, least + density.more, |size| {
                pictures.front(size)
            })?;
        }
        _ => chart(
            sheet,
            "What was recorded",
            density.chart + density.more,
            |size| course(facts, size),
        )?,
    }
    steps(sheet, paper, density)?;
    if density.is_dense {
        lines(sheet, paper, density.text)?;
    } else {
        remarks(sheet, paper, density.text)?;
        columns(sheet, paper, density.text)?;
    }
    foot_height(sheet, &paper.cautions)
}

fn steps(sheet: &mut Sheet, paper: &ProofPaper, density: Density) -> Result<(), PdfError> {
    let all = paper.steps.iter().map(|r| r.number).max().unwrap_or(0);
    let is_all = density.table == Table::All;
    let rows = chosen(paper, density.table);
    let title = match density.table {
        Table::All => "Steps",
        _ if rows.iter().all(|row| row.is_hold) => "Holds",
        _ => "Holds, and what did not pass",
    };
    if !rows.is_empty() {
        sheet.heading(title, 40.0)?;
        match density.table {
            Table::All | Table::Holds => step_table(sheet, &rows, density.text)?,
            Table::Lines | Table::Telling | Table::Nothing => {
                hold_lines(sheet, &rows, density.text)?;
            }
        }
        sheet.y += 3.0;
    }
    let mut notes = Vec::new();
    if !is_all {
        let shown: std::collections::BTreeSet<usize> = rows.iter().map(|r| r.number).collect();
        notes.push(match shown.len() {
            0 => format!("All {all} steps stand from page 2 on."),
            n => format!("{n} of {all} steps; all of them from page 2 on."),
        });
    }
    if !paper.limit_sources.is_empty() {
        notes.push(format!("Limits from: {}.", paper.limit_sources.join("; ")));
    }
    notes.push(format!("{} {}", paper.rule, paper.uncertainty));
    note(sheet, &notes.join(" "), density.text)?;
    sheet.y += 5.0;
    Ok(())
}

/// Whether a row says that something did not pass.
fn is_telling(row: &StepRow) -> bool {
    !row.outcome.is_empty() && row.outcome != Outcome::Pass.plain()
}

fn chosen(paper: &ProofPaper, table: Table) -> Vec<&StepRow> {
    let rows = paper.steps.iter();
    match table {
        Table::All => rows.collect(),
        Table::Holds | Table::Lines => rows.filter(|row| row.is_hold || is_telling(row)).collect(),
        Table::Nothing => Vec::new(),
        Table::Telling => {
            let passed = Outcome::Pass.plain();
            let mut holds = paper.steps.iter().filter(|row| row.is_hold);
            let first = holds
                .find(|row| row.outcome == passed)
                .map(|row| row.number);
            rows.filter(|row| {
                let is_first = Some(row.number) == first;
                is_first || is_telling(row)
            })
            .collect()
        }
    }
}

/// The table of steps, over pages if it must.
pub(super) fn step_table(sheet: &mut Sheet, rows: &[&StepRow], size: f32) -> Result<(), PdfError> {
    let width = sheet.width();
    let column = |name: &'static str, share: f32, bold: bool| Column {
        name,
        width: share * width,
        bold,
    };
    let columns = [
        column("", 0.036, false),
        column("step", 0.192, false),
        column("at", 0.15, false),
        column("stroke", 0.1, false),
        column("result", 0.235, true),
        column("limit", 0.177, false),
        column("outcome", 0.11, true),
    ];
    let cells: Vec<Vec<String>> = rows
        .iter()
        .enumerate()
        .map(|(index, row)| {
            let before = index.checked_sub(1).map(|i| rows[i].number);
            let is_further = row.is_further && before == Some(row.number);
            let once = |text: String| match is_further {
                true => String::new(),
                false => text,
            };
            vec![
                once(row.number.to_string()),
                once(row.title.clone()),
                row.at.clone(),
                once(row.place.clone()),
                row.result.clone(),
                match row.limit.is_empty() {
                    true => "–".into(),
                    false => row.limit.clone(),
                },
                match row.outcome {
                    "" => "–".into(),
                    outcome => outcome.to_owned(),
                },
            ]
        })
        .collect();
    sheet.table(&columns, &cells, size)
}

/// One line for each hold, as short as it can be said.
fn hold_lines(sheet: &mut Sheet, rows: &[&StepRow], size: f32) -> Result<(), PdfError> {
    let width = sheet.width();
    let column = |name: &'static str, share: f32, bold: bool| Column {
        name,
        width: share * width,
        bold,
    };
    // A limit in two units takes room from the names.
    let is_long = rows.iter().any(|row| row.limit.len() > 24);
    let (names, limits) = if is_long {
        (0.27, 0.175)
    } else {
        (0.33, 0.135)
    };
    let columns = [
        column("", 0.032, false),
        column("step", names, false),
        column("stroke", 0.078, false),
        column("result", 0.322, true),
        column("limit", limits, false),
        column("outcome", 0.103 + if is_long { 0.02 } else { 0.0 }, true),
    ];
    let cells: Vec<Vec<String>> = rows
        .iter()
        .map(|row| {
            vec![
                row.number.to_string(),
                row.title.clone(),
                row.place.split(" (").next().unwrap_or_default().to_owned(),
                short(&row.result),
                row.limit.clone(),
                row.outcome.to_owned(),
            ]
        })
        .collect();
    sheet.table(&columns, &cells, size)
}

/// "cap side lost 0.019 ± 0.022 mL/min": the table says that it is of oil.
fn short(result: &str) -> String {
    for (long, short) in [
        ("Oil lost from the cap side:", "cap side lost"),
        ("Oil gained on the cap side:", "cap side gained"),
        ("Oil gained on the rod side:", "rod side gained"),
        ("Oil lost from the rod side:", "rod side lost"),
    ] {
        if let Some(rest) = result.strip_prefix(long) {
            return format!("{short}{rest}");
        }
    }
    result.to_owned()
}

fn remarks(sheet: &mut Sheet, paper: &ProofPaper, size: f32) -> Result<(), PdfError> {
    if paper.remarks.is_empty() {
        return Ok(());
    }
    sheet.heading("To be read with it", 24.0)?;
    sheet.flowing_list(&paper.remarks, Style::plain(size))?;
    sheet.y += 5.0;
    Ok(())
}

/// A title with its items.
type Block<'a> = (&'static str, &'a [String]);

/// Where it was tested and the sensors at the left, what was not tested at the right.
fn columns(sheet: &mut Sheet, paper: &ProofPaper, size: f32) -> Result<(), PdfError> {
    const GAP: f32 = 18.0;
    const TITLE: f32 = 15.0;
    const BELOW: f32 = 4.0;
    let width = (sheet.width() - GAP) / 2.0;
    let style = Style::plain(size);
    let sensors: Vec<String> = paper.sensors.iter().map(|s| s.line.clone()).collect();
    let stacks: [Vec<Block<'_>>; 2] = [
        vec![
            ("Where in the stroke", &paper.places),
            (paper.sensors_title, &sensors),
        ],
        vec![("Not tested", &paper.not_tested)],
    ];
    let mut tallest = 0.0f32;
    for blocks in &stacks {
        let mut height = 0.0;
        for (_, items) in blocks.iter().filter(|b| !b.1.is_empty()) {
            height += TITLE + sheet.list_height(items, style, width)? + BELOW;
        }
        tallest = tallest.max(height);
    }
    sheet.ensure(tallest);
    let (mut left, top) = (sheet.left(), sheet.y);
    for blocks in stacks {
        let mut y = top;
        for (title, items) in blocks.into_iter().filter(|b| !b.1.is_empty()) {
            let node = sheet.node(Kind::Heading(2, title.into()), None);
            sheet.line(title, Style::bold(10.5), (left, y), Some(node))?;
            y += TITLE + sheet.list(items, style, (left, y + TITLE), width)? + BELOW;
        }
        left += width + GAP;
    }
    sheet.y += tallest;
    Ok(())
}

/// The same, with the remarks, in lines over the text's width.
fn lines(sheet: &mut Sheet, paper: &ProofPaper, size: f32) -> Result<(), PdfError> {
    const NAMES: f32 = 62.0;
    let sensors: Vec<String> = paper.sensors.iter().map(|s| s.line.clone()).collect();
    let lines: Vec<(String, String)> = [
        ("Read with it", &paper.remarks),
        ("In the stroke", &paper.places),
        ("Not tested", &paper.not_tested),
        (
            match paper.sensors_title {
                "Sensors" => "Sensors",
                _ => "Read by eye",
            },
            &sensors,
        ),
    ]
    .into_iter()
    .filter(|(_, items)| !items.is_empty())
    .map(|(name, items)| {
        // Remarks are sentences, the others are not.
        let between = if name == "Read with it" { " " } else { "; " };
        (name.to_owned(), items.join(between))
    })
    .collect();
    let widths = (NAMES, sheet.width() - NAMES);
    sheet.ensure(sheet.pairs_height(&lines, size, widths.1)?);
    let at = (sheet.left(), sheet.y);
    sheet.y += sheet.pairs(&lines, size, at, widths)? + 4.0;
    Ok(())
}
