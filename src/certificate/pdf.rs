//! How the paper looks: facts to a PDF/A-3 file with the record inside it.
//!
//! Lays out front and back, writes the marks across each page, draws everything
//! with krilla and attaches the JSON record. Dates are inputs, so equal facts give
//! equal bytes.
//!
//! Leaves what is said to `compose` and the layout to `front`, `back` and `sheet`.

use krilla::Document;
use krilla::SerializeSettings;
use krilla::configure::Accessibility;
use krilla::configure::Archival;
use krilla::configure::ConfigurationBuilder;
use krilla::destination::XyzDestination;
use krilla::embed::AssociationKind;
use krilla::embed::EmbeddedFile;
use krilla::embed::MimeType;
use krilla::geom::Point;
use krilla::metadata::DateTime;
use krilla::metadata::Metadata;
use krilla::outline::Outline;
use krilla::outline::OutlineNode;
use krilla::page::PageSettings;

use crate::certificate::back::back;
use crate::certificate::compose::Mark;
use crate::certificate::compose::Paper;
use crate::certificate::compose::compose;
use crate::certificate::compose::is_letter;
use crate::certificate::facts::Facts;
use crate::certificate::front::front;
use crate::certificate::ink::Painter;
use crate::certificate::pictures::Pictures;
use crate::certificate::record::RECORD_FILE;
use crate::certificate::record::Record;
use crate::certificate::sheet::Drawn;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::GREY;
use crate::certificate::typeset::Style;

/// Why a certificate could not be made, and what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The paper's font has no glyph for a character.
    #[error(
        "the paper's font has no `{character}` (U+{code:04X}, after `{after}`); \
         write it with Latin or Greek letters in the setup or shop file"
    )]
    Glyph {
        /// The character.
        character: char,
        /// Its number.
        code: u32,
        /// The text before it.
        after: String,
    },
    /// The text of the QR code is too long.
    #[error("{n_bytes} bytes do not fit into a QR code; shorten the run's identity or the number")]
    Code {
        /// Length of its text.
        n_bytes: usize,
        /// What the encoder says.
        #[source]
        source: qrcode::types::QrError,
    },
    /// A picture could not be read back.
    #[error("a picture of the certificate is no SVG; this is a fault of the program, report it")]
    Picture {
        /// What the reader says.
        #[source]
        source: usvg::Error,
    },
    /// The writer refuses the document.
    #[error(
        "the certificate is no valid PDF/A-3: {reason}; this is a fault of the program, report it"
    )]
    Refused {
        /// What the writer says.
        reason: String,
    },
}

/// The certificate as a PDF/A-3b file, tagged, with the JSON record attached.
///
/// # Errors
/// If a text cannot be set, see [`PdfError`].
pub fn pdf(facts: &Facts<'_>) -> Result<Vec<u8>, PdfError> {
    let paper = compose(facts);
    let pictures = Pictures::new(facts);
    let mut sheet = Sheet::new(is_letter(facts.units));
    front(&mut sheet, &paper, facts, &pictures)?;
    let n_front = sheet.pages.len();
    back(&mut sheet, &paper, facts, &pictures)?;
    feet(&mut sheet, facts, &paper.marks)?;
    marks(&mut sheet, &paper.marks)?;
    write(&sheet, &paper, facts, n_front)
}

/// What stands below the text of each page.
fn feet(sheet: &mut Sheet, facts: &Facts<'_>, marks: &[Mark]) -> Result<(), PdfError> {
    let style = Style::plain(7.5).in_colour(GREY);
    let n_pages = sheet.pages.len();
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.foot() + 15.0);
    let run = &facts.recording.heading().run_id;
    let marks: String = marks.iter().map(|m| format!("{} · ", m.line)).collect();
    let text = format!("{marks}run {run}");
    for page in 0..n_pages {
        let one = sheet.faces.run(&text, style)?;
        let two = sheet
            .faces
            .run(&format!("page {} of {n_pages}", page + 1), style)?;
        let two_left = right - two.width;
        for (run, x) in [(one, left), (two, two_left)] {
            sheet.pages[page].push(Drawn {
                piece: Piece::Text(run, (x, y), 0.0),
                real: false,
            });
        }
    }
    Ok(())
}

/// Words across each page, drawn first so that they hide nothing.
fn marks(sheet: &mut Sheet, marks: &[Mark]) -> Result<(), PdfError> {
    const LIGHT: (u8, u8, u8) = (0xE6, 0xE6, 0xE6);
    let (width, height) = sheet.size;
    let diagonal = width.hypot(height);
    let turn = -height.atan2(width);
    let n_marks = marks.len() as f32;
    let mut pieces = Vec::new();
    for (index, mark) in marks.iter().enumerate() {
        // Each mark has its own band along the diagonal; one beside it meets two
        // sides of the page at unequal distances, so its middle moves along too.
        let off = (index as f32 - (n_marks - 1.0) / 2.0) * 200.0;
        let (rise, fall) = (height / width, width / height);
        let along = -off * (rise - fall) / 2.0;
        let middle = (
            width / 2.0 - off * turn.sin() + along * turn.cos(),
            height / 2.0 + off * turn.cos() + along * turn.sin(),
        );
        let room = diagonal * 0.62 - off.abs() * (rise + fall) * 0.45;
        for (text, most, down) in [(&mark.big, 118.0, 0.0), (&mark.small, 30.0, 38.0)] {
            if text.is_empty() {
                continue;
            }
            let probe = sheet.faces.run(text, Style::bold(10.0).in_colour(LIGHT))?;
            let size = (10.0 * room / probe.width.max(1.0)).min(most);
            let run = sheet.faces.run(text, Style::bold(size).in_colour(LIGHT))?;
            let half = run.width / 2.0;
            let at = (
                middle.0 - half * turn.cos() - down * turn.sin(),
                middle.1 - half * turn.sin() + down * turn.cos(),
            );
            pieces.push(Piece::Text(run, at, turn.to_degrees()));
        }
    }
    let n_pieces = pieces.len();
    for page in &mut sheet.pages {
        let drawn = pieces
            .iter()
            .cloned()
            .map(|piece| Drawn { piece, real: false });
        page.splice(0..0, drawn);
    }
    sheet.shift_places(n_pieces);
    Ok(())
}

fn write(
    sheet: &Sheet,
    paper: &Paper,
    facts: &Facts<'_>,
    n_front: usize,
) -> Result<Vec<u8>, PdfError> {
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A3_B)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|e| PdfError::Refused {
            reason: format!("{e:?}"),
        })?;
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        enable_tagging: true,
        ..SerializeSettings::default()
    });
    let date = date(facts);
    document.set_metadata(metadata(paper, facts, date));
    let mut painter = Painter::new(sheet);
    for page in 0..sheet.pages.len() {
        let settings = PageSettings::from_wh(sheet.size.0, sheet.size.1)
            .expect("both page sizes are above zero");
        let mut page_of_document = document.start_page_with(settings);
        let mut surface = page_of_document.surface();
        painter.paint(&mut surface, page)?;
        surface.finish();
        page_of_document.finish();
    }
    document.set_tag_tree(painter.tag_tree());
    let mut outline = Outline::new();
    for (title, page) in [(paper.title.as_str(), 0), ("For the expert", n_front)] {
        let place = XyzDestination::new(page, Point::from_xy(0.0, 0.0));
        outline.push_child(OutlineNode::new(title.into(), place));
    }
    document.set_outline(outline);
    document.embed_file(EmbeddedFile {
        path: RECORD_FILE.into(),
        mime_type: MimeType::new("application/json"),
        description: Some("Record of the test, for programs".into()),
        association_kind: AssociationKind::Data,
        data: Record::from_facts(facts)
            .to_json_pretty()
            .into_bytes()
            .into(),
        modification_date: Some(date),
        compress: Some(true),
        location: None,
    });
    document.finish().map_err(|e| PdfError::Refused {
        reason: format!("{e:?}"),
    })
}

fn date(facts: &Facts<'_>) -> DateTime {
    let at = facts.started();
    DateTime::new(at.year.clamp(0, 9999) as u16)
        .month(at.month)
        .day(at.day)
        .hour(at.hour)
        .minute(at.minute)
        .second(at.second)
        .utc_offset_hour(0)
        .utc_offset_minute(0)
}

fn metadata(paper: &Paper, facts: &Facts<'_>, date: DateTime) -> Metadata {
    let run = &facts.recording.heading().run_id;
    let title = format!("{} {}: {}", paper.title, paper.number, paper.outcome_word);
    Metadata::new()
        .title(title)
        .description(paper.outcome_sentence.clone())
        .language("en".into())
        .creator(format!("stillrod {}", facts.software))
        .authors(vec![facts.shop_name.clone()])
        .document_id(format!("{run} {}", facts.sha256_hex))
        .creation_date(date)
}
