//! The one page: answer large, the ways, the phases side by side, what to do next.
//!
//! Laid out from top to bottom; the drawing of the ways takes what height is left.

use crate::certificate::compose::is_letter;
use crate::certificate::isolation::compose::IsolationPaper;
use crate::certificate::isolation::conclude::Tone;
use crate::certificate::isolation::facts::IsolationFacts;
use crate::certificate::isolation::phases::phases;
use crate::certificate::pdf::PdfError;
use crate::certificate::pictures::words_of;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Place;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::GREY;
use crate::certificate::typeset::Style;
use crate::chart::Size;
use crate::chart::WAYS_HEIGHT_PT;
use crate::chart::WaysPicture;
use crate::chart::ways_drawing;
use crate::circuit::RodHold;

/// How closely the page is set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Density {
    /// Size of running text.
    pub text: f32,
    /// Greatest width of the circuit of one phase.
    pub circuit: f32,
    /// Size of the sentence of the answer.
    answer: f32,
    /// Height of the drawing of the ways.
    ways: f32,
    /// Space between blocks.
    gap: f32,
}

const fn density(text: f32, circuit: f32, answer: f32, gap: f32) -> Density {
    Density {
        text,
        circuit,
        answer,
        ways: WAYS_HEIGHT_PT as f32,
        gap,
    }
}

/// From a sheet with little to say to one with much; what exceeds all goes over the page.
const DENSITIES: [Density; 5] = [
    density(8.8, 150.0, 11.5, 9.0),
    density(8.4, 136.0, 11.0, 7.0),
    density(8.0, 120.0, 10.5, 6.0),
    density(7.5, 108.0, 10.0, 5.0),
    density(7.5, 96.0, 9.0, 3.0),
];
const WAYS_MOST: f32 = 205.0;
const CAUTION: Style = Style::plain(7.5);

/// Lays out the page.
pub(super) fn lay_out(
    sheet: &mut Sheet,
    paper: &IsolationPaper,
    facts: &IsolationFacts,
) -> Result<(), PdfError> {
    let mut chosen = (DENSITIES[DENSITIES.len() - 1], 0.0);
    for density in DENSITIES {
        let mut scrap = Sheet::new(is_letter(facts.units));
        lay(&mut scrap, paper, facts, density)?;
        let left = scrap.foot() - scrap.y - foot_height(&scrap, paper)?;
        if scrap.pages.len() == 1 && left >= 0.0 {
            chosen = (density, left);
            break;
        }
    }
    let (density, left) = chosen;
    let ways = (density.ways + left).min(WAYS_MOST);
    // What the drawing does not need makes the page airier.
    let airier = (left - (ways - density.ways)) / N_GAPS;
    let gap = density.gap + airier.clamp(0.0, 6.0);
    lay(
        sheet,
        paper,
        facts,
        Density {
            ways,
            gap,
            ..density
        },
    )?;
    let block = foot_height(sheet, paper)?;
    sheet.ensure(block);
    sheet.y = sheet.y.max(sheet.foot() - block);
    cautions(sheet, paper)
}

/// Gaps of a page.
const N_GAPS: f32 = 6.0;

fn lay(
    sheet: &mut Sheet,
    paper: &IsolationPaper,
    facts: &IsolationFacts,
    density: Density,
) -> Result<(), PdfError> {
    head(sheet, paper)?;
    before(sheet, paper, density)?;
    answer(sheet, paper, density)?;
    ways(sheet, paper, facts, density)?;
    sheet.heading("Phases", 120.0)?;
    phases(sheet, paper, facts, density)?;
    note(sheet, &paper.uncertainty)?;
    sheet.y += density.gap;
    columns(sheet, paper, density)
}

fn head(sheet: &mut Sheet, paper: &IsolationPaper) -> Result<(), PdfError> {
    let node = sheet.node(Kind::Heading(1, paper.title.clone()), None);
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.y);
    sheet.line(&paper.title, Style::bold(19.0), (left, y), Some(node))?;
    if !paper.number.is_empty() {
        let node = sheet.node(Kind::Paragraph, None);
        let at = (right, y + 8.0);
        sheet.line_ending(&paper.number, Style::bold(11.0), at, Some(node))?;
    }
    sheet.y += 26.0;
    sheet.rule(1.6, 0x14);
    sheet.y += 4.0;
    let y = sheet.y;
    let node = sheet.node(Kind::Paragraph, None);
    let shop = format!("{} ", paper.shop);
    sheet.line(&shop, Style::bold(9.5), (left, y), Some(node))?;
    sheet.line_ending(&paper.date, Style::plain(9.5), (right, y), Some(node))?;
    sheet.y += 16.0;
    for mark in &paper.marks {
        let node = sheet.node(Kind::Paragraph, None);
        let at = (sheet.left(), sheet.y);
        sheet.y += sheet.text(&mark.line, Style::bold(10.0), at, sheet.width(), node)? + 3.0;
    }
    Ok(())
}

/// The piece at the left, what was asked before at the right.
fn before(sheet: &mut Sheet, paper: &IsolationPaper, density: Density) -> Result<(), PdfError> {
    const GAP: f32 = 18.0;
    let (left, top, size) = (sheet.left(), sheet.y, density.text);
    let half = (sheet.width() - GAP) / 2.0;
    let names = name_width(sheet, &paper.piece, size)?;
    let wide = if paper.asked.is_empty() {
        sheet.width()
    } else {
        half
    };
    let mut used = sheet.pairs(&paper.piece, size, (left, top), (names, wide - names))?;
    if !paper.asked.is_empty() {
        let names = name_width(sheet, &paper.asked, size)?;
        let at = (left + half + GAP, top);
        used = used.max(sheet.pairs(&paper.asked, size, at, (names, half - names))?);
    }
    sheet.y += used + density.gap;
    Ok(())
}

/// Width of the longest name, with the space behind it.
fn name_width(sheet: &Sheet, pairs: &[(String, String)], size: f32) -> Result<f32, PdfError> {
    let mut widest = 0.0f32;
    for (name, _) in pairs {
        widest = widest.max(sheet.faces.run(name, Style::plain(size))?.width);
    }
    Ok(widest + 8.0)
}

/// Dark enough for 7:1 on white; the words say it, the colour only helps.
fn colour(tone: Tone) -> (u8, u8, u8) {
    match tone {
        Tone::Leaks => (0x8C, 0x10, 0x10),
        Tone::Tight => (0x00, 0x50, 0x2B),
        Tone::Open => (0x14, 0x14, 0x14),
    }
}

fn answer(sheet: &mut Sheet, paper: &IsolationPaper, density: Density) -> Result<(), PdfError> {
    const QUESTION: &str = "Cylinder or valve?";
    const WORDS: f32 = 132.0;
    let conclusion = &paper.conclusion;
    let colour = colour(conclusion.tone);
    let word = Style::bold(21.0).in_colour(colour);
    let ask = Style::plain(8.5).in_colour(GREY);
    let sentences = &conclusion.sentences;
    let (first, rest) = sentences
        .split_first()
        .map_or(("", &[][..]), |(f, r)| (f, r));
    let rest = rest.join(" ");
    let (strong, plain) = (
        Style::bold(density.answer),
        Style::plain(density.answer - 0.5),
    );
    let text_left = sheet.left() + 18.0 + WORDS + 12.0;
    let width = sheet.right() - text_left - 10.0;
    let first_height = sheet.height(first, strong, width)?;
    let rest_height = match rest.is_empty() {
        true => 0.0,
        false => sheet.height(&rest, plain, width)? + 2.0,
    };
    let word_height = sheet.height(&conclusion.word, word, WORDS)?;
    let height = (first_height + rest_height).max(word_height + 12.0) + 12.0;
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
    sheet.draw(Piece::Block(bar, colour), None);
    let top = place.top + (height - word_height - 12.0) / 2.0;
    let node = sheet.node(Kind::Paragraph, None);
    let left = place.left + 16.0;
    sheet.line(&format!("{QUESTION} "), ask, (left, top), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    sheet.text(&conclusion.word, word, (left, top + 9.0), WORDS, node)?;
    let top = place.top + (height - first_height - rest_height) / 2.0;
    let node = sheet.node(Kind::Paragraph, None);
    sheet.text(first, strong, (text_left, top), width, node)?;
    if !rest.is_empty() {
        let node = sheet.node(Kind::Paragraph, None);
        let at = (text_left, top + first_height + 2.0);
        sheet.text(&rest, plain, at, width, node)?;
    }
    sheet.y += height + density.gap;
    Ok(())
}

fn ways(
    sheet: &mut Sheet,
    paper: &IsolationPaper,
    facts: &IsolationFacts,
    density: Density,
) -> Result<(), PdfError> {
    sheet.heading("Where the oil goes", density.ways)?;
    let free = |p: &&crate::certificate::isolation::facts::PhaseFacts| {
        !matches!(p.circuit.rod, RodHold::Locked | RodHold::Bottomed)
    };
    let shown = facts.phases.iter().find(free).or(facts.phases.first());
    let svg = ways_drawing(&WaysPicture {
        kind: facts.cylinder.kind(),
        rod: shown.map_or(RodHold::Locked, |p| p.circuit.rod),
        ways: &paper.ways,
        bare_ports: [&paper.bare_ports[0], &paper.bare_ports[1]],
        units: facts.units,
        size: Size {
            width_pt: f64::from(sheet.width()),
            height_pt: f64::from(density.ways),
        },
    });
    let node = sheet.node(Kind::Picture(words_of(&svg)), None);
    let place = Place {
        left: sheet.left(),
        top: sheet.y,
        width: sheet.width(),
        height: density.ways,
    };
    sheet.draw(Piece::Picture(svg, place), Some(node));
    sheet.y += density.ways + density.gap;
    Ok(())
}

/// A small paragraph over the text's width.
fn note(sheet: &mut Sheet, text: &str) -> Result<(), PdfError> {
    let (style, width) = (Style::plain(7.5).in_colour(GREY), sheet.width());
    sheet.ensure(sheet.height(text, style, width)?);
    let node = sheet.node(Kind::Paragraph, None);
    let at = (sheet.left(), sheet.y);
    sheet.y += sheet.text(text, style, at, width, node)?;
    Ok(())
}

/// What to do next and what the pattern says at the left, what was not tested at the right.
fn columns(sheet: &mut Sheet, paper: &IsolationPaper, density: Density) -> Result<(), PdfError> {
    const GAP: f32 = 18.0;
    const HEAD: f32 = 14.5;
    let wide = 0.56 * (sheet.width() - GAP);
    let narrow = sheet.width() - GAP - wide;
    let style = Style::plain(density.text);
    let stacks = [
        (
            wide,
            vec![
                ("What to do next", &paper.next_steps),
                ("What the pattern says", &paper.patterns),
            ],
        ),
        (narrow, vec![("Not tested", &paper.not_tested)]),
    ];
    let mut tallest = 0.0f32;
    for (width, blocks) in &stacks {
        let mut height = 0.0;
        for (_, items) in blocks.iter().filter(|b| !b.1.is_empty()) {
            height += HEAD + sheet.list_height(items, style, *width)? + 3.0;
        }
        tallest = tallest.max(height);
    }
    sheet.ensure(tallest);
    let (mut left, top) = (sheet.left(), sheet.y);
    for (width, blocks) in stacks {
        let mut y = top;
        for (title, items) in blocks.into_iter().filter(|b| !b.1.is_empty()) {
            let node = sheet.node(Kind::Heading(2, title.into()), None);
            sheet.line(title, Style::bold(10.5), (left, y), Some(node))?;
            y += HEAD + sheet.list(items, style, (left, y + HEAD), width)? + 3.0;
        }
        left += width + GAP;
    }
    sheet.y += tallest + density.gap;
    Ok(())
}

fn foot_height(sheet: &Sheet, paper: &IsolationPaper) -> Result<f32, PdfError> {
    let text = paper.cautions.join(" ");
    Ok(19.0 + sheet.height(&text, CAUTION, sheet.width())?)
}

fn cautions(sheet: &mut Sheet, paper: &IsolationPaper) -> Result<(), PdfError> {
    let (left, top, width) = (sheet.left(), sheet.y, sheet.width());
    sheet.rule(1.0, 0x14);
    let node = sheet.node(Kind::Heading(2, "Cautions".into()), None);
    sheet.line("Cautions", Style::bold(10.5), (left, top + 4.0), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    let text = paper.cautions.join(" ");
    sheet.y += 18.0 + sheet.text(&text, CAUTION, (left, top + 18.0), width, node)?;
    Ok(())
}
