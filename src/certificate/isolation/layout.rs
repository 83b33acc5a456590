//! The one page: answer large, the ways, the phases side by side, what to do next.
//!
//! Laid out from top to bottom; the drawing of the ways takes what height is left.

use crate::certificate::blocks::shop;
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
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Style;
use crate::chart::Size;
use crate::chart::WaysPicture;
use crate::chart::ways_drawing;
use crate::chart::ways_height_pt;
use crate::circuit::RodHold;

/// How closely the page is set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Density {
    /// Size of running text.
    pub text: f32,
    /// Greatest width of the circuit of one phase.
    pub circuit: f32,
    /// Space in each row of the table.
    pub row: f32,
    /// Size of the sentence of the answer.
    answer: f32,
    /// Height of the drawing of the ways.
    ways: f32,
    /// Space between blocks.
    gap: f32,
    /// Height of a line by size of its text.
    leading: f32,
    /// Space at the left and at the right of the text.
    side: f32,
}

const fn density(text: f32, circuit: f32, row: f32, answer: f32, gap: f32) -> Density {
    Density {
        text,
        circuit,
        row,
        answer,
        ways: 0.0,
        gap,
        leading: LEADING,
        side: 46.0,
    }
}

/// From a sheet with little to say to one with much; what exceeds all goes over the page.
const DENSITIES: [Density; 6] = [
    density(9.0, 156.0, 4.0, 12.0, 9.0),
    density(8.6, 150.0, 3.4, 11.5, 7.0),
    density(8.2, 136.0, 3.0, 11.0, 6.0),
    density(7.8, 120.0, 2.6, 10.5, 5.0),
    density(7.5, 104.0, 2.2, 9.6, 4.0),
    Density {
        leading: 1.2,
        side: 34.0,
        ..density(7.5, 96.0, 1.4, 8.6, 3.0)
    },
];
const WAYS_MOST: f32 = 205.0;
const CAUTION: Style = Style::plain(7.5);

impl Density {
    /// With as much height as the drawing of the ways needs.
    fn for_ways(self, sheet: &Sheet, paper: &IsolationPaper) -> Self {
        let width = f64::from(sheet.size.0 - 2.0 * self.side);
        let ways = ways_height_pt(&paper.ways, width) as f32;
        Self { ways, ..self }
    }
}

/// Lays out the page.
pub(super) fn lay_out(
    sheet: &mut Sheet,
    paper: &IsolationPaper,
    facts: &IsolationFacts,
) -> Result<(), PdfError> {
    let mut chosen = None;
    for density in DENSITIES {
        let mut scrap = Sheet::new(facts.letterhead.paper(facts.units));
        let density = density.for_ways(&scrap, paper);
        lay(&mut scrap, paper, facts, density)?;
        // Half a point is kept for what rounding adds.
        let left = scrap.foot() - scrap.y - foot_height(&scrap, paper)? - 0.5;
        let fits = scrap.pages.len() == 1 && left >= 0.0;
        chosen = Some((density, left.max(0.0)));
        if fits {
            break;
        }
    }
    let Some((density, left)) = chosen else {
        return Ok(());
    };
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
    (sheet.leading, sheet.side) = (density.leading, density.side);
    head(sheet, paper, facts)?;
    before(sheet, paper, density)?;
    answer(sheet, paper, density)?;
    ways(sheet, paper, facts, density)?;
    phases(sheet, paper, facts, density)?;
    if density.leading < LEADING {
        note(sheet, &paper.notes.join(" "))?;
    } else {
        for text in &paper.notes {
            note(sheet, text)?;
        }
    }
    sheet.y += density.gap;
    columns(sheet, paper, density)
}

fn head(sheet: &mut Sheet, paper: &IsolationPaper, facts: &IsolationFacts) -> Result<(), PdfError> {
    let node = sheet.node(Kind::Heading(1, paper.title.clone()), None);
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.y);
    // A full page has less room for its title.
    let size = if sheet.leading < LEADING { 16.0 } else { 19.0 };
    sheet.line(&paper.title, Style::bold(size), (left, y), Some(node))?;
    if !paper.number.is_empty() {
        let node = sheet.node(Kind::Paragraph, None);
        let at = (right, y + size - 11.0);
        sheet.line_ending(&paper.number, Style::bold(11.0), at, Some(node))?;
    }
    sheet.y += size + 7.0;
    sheet.rule(1.6, 0x14);
    sheet.y += 4.0;
    shop(sheet, &paper.shop, &facts.letterhead, &paper.date)?;
    sheet.y -= 3.0;
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
    let conclusion = &paper.conclusion;
    let colour = colour(conclusion.tone);
    // A long word is set smaller and leaves the sentences as much room.
    let (size, words) = match conclusion.word.chars().count() {
        ..=11 => (22.0, 122.0),
        _ => (15.0, 118.0),
    };
    let word = Style::bold(size).in_colour(colour);
    let ask = Style::plain(8.5).in_colour(GREY);
    let sentences = &conclusion.sentences;
    let (first, rest) = sentences
        .split_first()
        .map_or(("", &[][..]), |(f, r)| (f, r));
    let rest = rest.join(" ");
    let (strong, plain) = (
        Style::bold(density.answer),
        Style::plain((density.answer - 0.8).max(7.8)),
    );
    let text_left = sheet.left() + 18.0 + words + 8.0;
    let width = sheet.right() - text_left - 10.0;
    let first_height = sheet.height(first, strong, width)?;
    let rest_height = match rest.is_empty() {
        true => 0.0,
        false => sheet.height(&rest, plain, width)? + 2.0,
    };
    let word_height = sheet.height(&conclusion.word, word, words)?;
    let height = (first_height + rest_height).max(word_height + 12.0) + 8.0 + density.gap;
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
    sheet.text(&conclusion.word, word, (left, top + 9.0), words, node)?;
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
        sides: [&[], &[]],
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

/// A title with the items of its list; one without items is not printed.
type Block<'a> = (&'static str, &'a [String]);

/// Space of a block's title, and below its list.
const TITLE: f32 = 14.5;
const BELOW: f32 = 3.0;

/// What to do next at the left, what was not tested at the right, and what the pattern says
/// where there is more room.
fn columns(sheet: &mut Sheet, paper: &IsolationPaper, density: Density) -> Result<(), PdfError> {
    const GAP: f32 = 18.0;
    let (room, third) = (sheet.width() - GAP, (sheet.width() - 2.0 * GAP) / 3.0);
    let (wide, narrow) = (0.54 * room, 0.46 * room);
    let style = Style::plain(density.text);
    let next: Block<'_> = ("What to do next", &paper.next_steps);
    let pattern: Block<'_> = ("What the pattern says", &paper.patterns);
    let not_tested: Block<'_> = ("Not tested", &paper.not_tested);
    let mut chosen = None;
    for stacks in [
        vec![(wide, vec![next, pattern]), (narrow, vec![not_tested])],
        vec![(wide, vec![next]), (narrow, vec![pattern, not_tested])],
        vec![
            (third, vec![next]),
            (third, vec![pattern]),
            (third, vec![not_tested]),
        ],
    ] {
        let mut tallest = 0.0f32;
        for (width, blocks) in &stacks {
            tallest = tallest.max(stack_height(sheet, blocks, style, *width)?);
        }
        match &chosen {
            // Fewer and wider columns read better; more must be worth it.
            Some((least, _)) if *least <= tallest + 10.0 => {}
            _ => chosen = Some((tallest, stacks)),
        }
    }
    let Some((tallest, stacks)) = chosen else {
        return Ok(());
    };
    sheet.ensure(tallest);
    let (mut left, top) = (sheet.left(), sheet.y);
    for (width, blocks) in stacks {
        let mut y = top;
        for (title, items) in blocks.into_iter().filter(|b| !b.1.is_empty()) {
            let node = sheet.node(Kind::Heading(2, title.into()), None);
            sheet.line(title, Style::bold(10.5), (left, y), Some(node))?;
            y += TITLE + sheet.list(items, style, (left, y + TITLE), width)? + BELOW;
        }
        left += width + GAP;
    }
    sheet.y += tallest + density.gap;
    Ok(())
}

fn stack_height(
    sheet: &Sheet,
    blocks: &[Block<'_>],
    style: Style,
    width: f32,
) -> Result<f32, PdfError> {
    let mut height = 0.0;
    for (_, items) in blocks.iter().filter(|b| !b.1.is_empty()) {
        height += TITLE + sheet.list_height(items, style, width)? + BELOW;
    }
    Ok(height)
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
