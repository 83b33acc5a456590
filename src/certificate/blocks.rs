//! Blocks that papers have in common: head, piece, outcome, pictures, cautions, the line to
//! sign on.
//!
//! Each is drawn from `sheet.y` on and leaves `sheet.y` below itself.

use crate::certificate::common::Mark;
use crate::certificate::letterhead::Letterhead;
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
use crate::verdict::Outcome;

/// Width of the code: half a millimetre to a square.
const CODE: f32 = 80.0;
/// What is set on a dark block.
const WHITE: (u8, u8, u8) = (0xFF, 0xFF, 0xFF);
const WARNING: &str = "WARNING";

/// What stands at the head of a paper.
pub(super) struct Head<'a> {
    /// What the paper is.
    pub title: &'a str,
    /// A line below that, of what; may be empty.
    pub below: &'a str,
    /// Its number.
    pub number: &'a str,
    /// The shop.
    pub shop: &'a str,
    /// What stands beside it.
    pub letterhead: &'a Letterhead,
    /// Date and time.
    pub date: &'a str,
    /// What is written across each page.
    pub marks: &'a [Mark],
}

/// What stands at the foot of the page to hand over.
pub(super) struct Foot<'a> {
    /// Cautions.
    pub cautions: &'a [String],
    /// Whose signature the line is for; empty for a blank.
    pub role: &'a str,
    /// Plain text of the QR code.
    pub code_text: &'a str,
}

/// Draws the head.
pub(super) fn head(sheet: &mut Sheet, head: &Head<'_>) -> Result<(), PdfError> {
    let node = sheet.node(Kind::Heading(1, head.title.into()), None);
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.y);
    sheet.line(head.title, Style::bold(19.0), (left, y), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    sheet.line_ending(head.number, Style::bold(11.0), (right, y + 8.0), Some(node))?;
    sheet.y += 26.0;
    if !head.below.is_empty() {
        let node = sheet.node(Kind::Paragraph, None);
        let at = (left, sheet.y - 1.0);
        sheet.y += sheet.text(head.below, Style::bold(12.0), at, sheet.width(), node)? + 3.0;
    }
    sheet.rule(1.6, 0x14);
    sheet.y += 4.0;
    shop(sheet, head.shop, head.letterhead, head.date)?;
    if !head.marks.is_empty() {
        let node = sheet.node(Kind::Paragraph, None);
        let said: Vec<&str> = head.marks.iter().map(|m| m.line.as_str()).collect();
        let (text, style) = (said.join("   ·   "), Style::bold(10.0));
        let at = (sheet.left(), sheet.y);
        sheet.y += sheet.text(&text, style, at, sheet.width(), node)? + 4.0;
    }
    Ok(())
}

/// Logo, shop and address at the left, the date at the right.
pub(super) fn shop(
    sheet: &mut Sheet,
    name: &str,
    letterhead: &Letterhead,
    date: &str,
) -> Result<(), PdfError> {
    const LOGO: (f32, f32) = (96.0, 27.0);
    let style = Style::bold(9.5);
    let (mut left, right, top) = (sheet.left(), sheet.right(), sheet.y);
    let node = sheet.node(Kind::Paragraph, None);
    let date_width = sheet.line_ending(date, Style::plain(9.5), (right, top), Some(node))?;
    let mut used = 0.0f32;
    if let Some(logo) = &letterhead.logo {
        let (width, height) = logo.size(LOGO)?;
        let place = Place {
            left,
            top,
            width,
            height,
        };
        logo.draw(sheet, place);
        left += width + 8.0;
        used = height + 4.0;
    }
    let room = right - date_width - 12.0 - left;
    let node = sheet.node(Kind::Paragraph, None);
    let mut text = sheet.text(&format!("{name} "), style, (left, top), room, node)?;
    if !letterhead.address.is_empty() {
        let node = sheet.node(Kind::Paragraph, None);
        let address = letterhead.address.join(", ");
        let at = (left, top + text + 1.0);
        text += sheet.text(&address, Style::plain(8.2), at, right - left, node)? + 1.0;
    }
    sheet.y += used.max(text + 4.6);
    Ok(())
}

/// Lines about the piece at the left, how it was plumbed at the right.
pub(super) fn piece(
    sheet: &mut Sheet,
    lines: &[(String, String)],
    circuit: Option<&(String, Size)>,
) -> Result<(), PdfError> {
    let (left, top) = (sheet.left(), sheet.y);
    let room = circuit.map_or(0.0, |(_, size)| size.width_pt as f32 + 12.0);
    let widths = (56.0, sheet.width() - 56.0 - room);
    let size = if sheet.leading < LEADING { 8.4 } else { 9.0 };
    let height = sheet.pairs(lines, size, (left, top), widths)?;
    let mut used = height;
    if let Some((svg, size)) = circuit {
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
pub(super) fn colour(outcome: Outcome) -> (u8, u8, u8) {
    match outcome {
        Outcome::Pass => (0x00, 0x50, 0x2B),
        Outcome::Fail => (0x8C, 0x10, 0x10),
        Outcome::Undecided | Outcome::NotValid | Outcome::Measured => (0x14, 0x14, 0x14),
    }
}

/// The outcome, large, with its sentence: none for a paper that counts no longer.
pub(super) fn outcome(
    sheet: &mut Sheet,
    outcome: Option<Outcome>,
    (word, said): (&str, &str),
) -> Result<(), PdfError> {
    // To be read from two metres. A long word leaves the sentence less room: it is set smaller.
    let size = if word.len() > 6 { 40.0 } else { 46.0 };
    let ink = colour(outcome.unwrap_or(Outcome::Measured));
    let is_broken = outcome == Some(Outcome::Fail);
    let word_style = Style::bold(size).in_colour(if is_broken { WHITE } else { ink });
    // A long sentence is set smaller where lines are set close.
    let is_long = sheet.leading < LEADING && said.len() > 150;
    let style = Style::plain(if is_long { 9.6 } else { 11.0 });
    let word_width = sheet.faces.run(word, word_style)?.width;
    let text_left = sheet.left() + 14.0 + word_width + 16.0;
    let text_width = sheet.right() - text_left - 12.0;
    let text_height = sheet.height(said, style, text_width)?;
    let height = (text_height + 15.0).max(58.0);
    let place = Place {
        left: sheet.left(),
        top: sheet.y,
        width: sheet.width(),
        height,
    };
    sheet.draw(Piece::Frame(place, 1.8), None);
    // Without colour, and from afar: a fail is white on dark, a pass dark on white beside a bar,
    // and what decides nothing has a double frame.
    let bar = Place {
        width: match is_broken {
            true => 24.0 + word_width,
            false => 6.0,
        },
        ..place
    };
    sheet.draw(Piece::Block(bar, ink), None);
    if !matches!(outcome, Some(Outcome::Pass | Outcome::Fail)) {
        let inner = Place {
            left: place.left + 9.0,
            top: place.top + 3.0,
            width: place.width - 12.0,
            height: place.height - 6.0,
        };
        sheet.draw(Piece::Frame(inner, 0.7), None);
    }
    let node = sheet.node(Kind::Paragraph, None);
    // The middle of the capitals stands in the middle of the frame.
    let top = place.top + height / 2.0 - size * 0.64;
    let word = format!("{word} ");
    let aside = if is_broken { 12.0 } else { 16.0 };
    sheet.line(&word, word_style, (place.left + aside, top), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    let top = place.top + (height - text_height) / 2.0 - 0.5;
    sheet.text(said, style, (text_left, top), text_width, node)?;
    sheet.y += height + 7.0;
    Ok(())
}

/// A block that cannot be overlooked, with a hazard of leaving the piece as it is.
pub(super) fn warnings(sheet: &mut Sheet, warnings: &[String]) -> Result<(), PdfError> {
    for warning in warnings {
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

/// A picture over the text's width under its heading.
pub(super) fn chart(
    sheet: &mut Sheet,
    title: &str,
    height: f32,
    drawn: impl FnOnce(Size) -> String,
) -> Result<(), PdfError> {
    sheet.heading(title, height)?;
    let size = Size {
        width_pt: f64::from(sheet.width()),
        height_pt: f64::from(height),
    };
    let svg = drawn(size);
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

/// A paragraph over the text's width.
pub(super) fn note(sheet: &mut Sheet, text: &str, size: f32) -> Result<(), PdfError> {
    let (style, width) = (Style::plain(size), sheet.width());
    sheet.ensure(sheet.height(text, style, width)?);
    let node = sheet.node(Kind::Paragraph, None);
    let at = (sheet.left(), sheet.y);
    sheet.y += sheet.text(text, style, at, width, node)? + 2.0;
    Ok(())
}

fn caution_width(sheet: &Sheet) -> f32 {
    sheet.width() - CODE - 20.0
}

const CAUTION: Style = Style::plain(7.8);

/// Height of the block at the foot of the front.
pub(super) fn foot_height(sheet: &Sheet, cautions: &[String]) -> Result<f32, PdfError> {
    let width = caution_width(sheet);
    let text = cautions.join(" ");
    let cautions = sheet.height(&text, CAUTION, width)?;
    // Rule, heading, cautions, space to sign, line and its words.
    Ok((5.0 + 14.0 + cautions + 24.0 + 12.0).max(CODE + 32.0))
}

/// Cautions, a line to sign on and the QR code, from `sheet.y` on.
pub(super) fn foot_block(sheet: &mut Sheet, foot: &Foot<'_>) -> Result<(), PdfError> {
    let (left, right, top) = (sheet.left(), sheet.right(), sheet.y);
    let height = foot_height(sheet, foot.cautions)?;
    let bottom = top + height;
    sheet.rule(1.0, 0x14);
    let node = sheet.node(Kind::Heading(2, "Cautions".into()), None);
    sheet.line("Cautions", Style::bold(10.5), (left, top + 5.0), Some(node))?;
    let node = sheet.node(Kind::Paragraph, None);
    let text = foot.cautions.join(" ");
    let width = caution_width(sheet);
    sheet.text(&text, CAUTION, (left, top + 19.0), width, node)?;
    let note = Style::plain(8.0).in_colour(GREY);
    let line_y = bottom - 12.0;
    let role = if foot.role.is_empty() {
        "role".to_string()
    } else {
        format!("role: {}", foot.role)
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
    code(sheet, foot.code_text, (right - CODE, top + 8.0), CODE)?;
    let node = sheet.node(Kind::Paragraph, None);
    let lines = ["number, outcome,", "hash of the recording"];
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

/// The QR code of a text; a third of it may be lost to grease.
pub(super) fn code(
    sheet: &mut Sheet,
    text: &str,
    at: (f32, f32),
    width: f32,
) -> Result<(), PdfError> {
    let code = qrcode::QrCode::with_error_correction_level(text.as_bytes(), qrcode::EcLevel::H)
        .map_err(|source| PdfError::Code {
            n_bytes: text.len(),
            source,
        })?;
    let words = format!("QR code that says: {}", text.replace('\n', "; "));
    let node = sheet.node(Kind::Picture(words), None);
    let dark = code
        .to_colors()
        .into_iter()
        .map(|c| c == qrcode::Color::Dark)
        .collect();
    let place = Place {
        left: at.0,
        top: at.1,
        width,
        height: width,
    };
    // Nothing that lies across the page comes near its squares.
    let quiet = 4.0 * width / code.width().max(1) as f32;
    let around = Place {
        left: at.0 - quiet,
        top: at.1 - quiet,
        width: width + 2.0 * quiet,
        height: width + 2.0 * quiet,
    };
    sheet.draw(Piece::Block(around, (0xFF, 0xFF, 0xFF)), None);
    sheet.draw(Piece::Code(code.width(), dark, place), Some(node));
    Ok(())
}
