//! Laid-out pages to a PDF/A-3 file: feet, marks across each page, record inside.
//!
//! Draws everything with krilla and attaches the JSON record. Dates are inputs, so equal
//! sheets give equal bytes.

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

use crate::certificate::common::Mark;
use crate::certificate::facts::Utc;
use crate::certificate::ink::Painter;
use crate::certificate::pdf::PdfError;
use crate::certificate::record::RECORD_FILE;
use crate::certificate::sheet::Drawn;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Sheet;
use crate::certificate::signing::Signing;
use crate::certificate::typeset::GREY;
use crate::certificate::typeset::Run;
use crate::certificate::typeset::Style;

/// What a file says of itself beside its pages.
pub(super) struct Binding {
    /// Title of the document.
    pub title: String,
    /// What came out, in a sentence.
    pub description: String,
    /// The shop.
    pub author: String,
    /// Version of the program.
    pub software: String,
    /// What tells it from all other documents.
    pub document_id: String,
    /// When what it tells of happened.
    pub at: Utc,
    /// Entries of the outline, each with its page from 0.
    pub outline: Vec<(String, usize)>,
    /// What the record is of.
    pub record_of: &'static str,
    /// The JSON record; a paper without one has nothing attached.
    pub record: String,
}

/// What stands below the text of each page.
pub(super) fn feet(sheet: &mut Sheet, words: &str, marks: &[Mark]) -> Result<(), PdfError> {
    let style = Style::plain(7.5).in_colour(GREY);
    let n_pages = sheet.pages.len();
    let (left, right, y) = (sheet.left(), sheet.right(), sheet.foot() + 15.0);
    let bold = Style::bold(7.5);
    for page in 0..n_pages {
        let number = format!("page {} of {n_pages}", page + 1);
        let number = sheet.faces.run(&number, style)?;
        let number_left = right - number.width;
        let room = number_left - left - 12.0;
        let words_run = sheet.faces.run(words, style)?;
        let marked = marks_line(sheet, marks, bold)?;
        let mut drawn = vec![(number, (number_left, y))];
        if marked.width + words_run.width <= room {
            drawn.push((words_run, (left + marked.width, y)));
            drawn.push((marked, (left, y)));
        } else {
            // What the paper is not has a line of its own over that of what it is of.
            drawn.push((shortened(sheet, words, style, room)?, (left, y)));
            drawn.push((marked, (left, y - 8.0)));
        }
        for (run, at) in drawn {
            sheet.pages[page].push(Drawn {
                piece: Piece::Text(run, at, 0.0),
                real: false,
            });
        }
    }
    Ok(())
}

/// All marks in a line no wider than the text: the longest, which has a reason in it, is cut.
fn marks_line(sheet: &Sheet, marks: &[Mark], style: Style) -> Result<Run, PdfError> {
    let lines: Vec<String> = marks.iter().map(|m| format!("{} · ", m.line)).collect();
    let whole = sheet.faces.run(&lines.concat(), style)?;
    if whole.width <= sheet.width() {
        return Ok(whole);
    }
    let longest = (0..lines.len())
        .max_by_key(|i| lines[*i].len())
        .unwrap_or(0);
    let mut others = 0.0;
    for (_, line) in lines.iter().enumerate().filter(|(i, _)| *i != longest) {
        others += sheet.faces.run(line, style)?.width;
    }
    let mut kept = lines;
    if let Some(line) = kept.get_mut(longest) {
        *line = shortened(sheet, line, style, sheet.width() - others)?.text;
    }
    sheet.faces.run(&kept.concat(), style)
}

/// A line cut off with "…" where it is wider than its room.
fn shortened(sheet: &Sheet, text: &str, style: Style, room: f32) -> Result<Run, PdfError> {
    let whole = sheet.faces.run(text, style)?;
    if whole.width <= room {
        return Ok(whole);
    }
    let mut kept: Vec<char> = text.chars().collect();
    while kept.pop().is_some() {
        let cut: String = kept.iter().collect();
        let run = sheet.faces.run(&format!("{}… ", cut.trim_end()), style)?;
        if run.width <= room {
            return Ok(run);
        }
    }
    sheet.faces.run("", style)
}

/// Words across each page, drawn first so that they hide nothing.
pub(super) fn marks(sheet: &mut Sheet, marks: &[Mark]) -> Result<(), PdfError> {
    // Light enough that figures over it keep 13:1, dark enough for a grey copy of a copy.
    const LIGHT: (u8, u8, u8) = (0xDE, 0xDE, 0xDE);
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

/// Writes the file, and signs it if there is something to sign with.
pub(super) fn bind(
    sheet: &Sheet,
    binding: Binding,
    signing: Option<&Signing<'_>>,
) -> Result<Vec<u8>, PdfError> {
    bind_as(paper_form(), sheet, binding, signing)
}

/// The same pages without attachment and signature in the form of PDF/A-1b, which more checkers know.
pub(super) fn bind_twin(sheet: &Sheet, binding: Binding) -> Result<Vec<u8>, PdfError> {
    let form = ConfigurationBuilder::new().with_archival_validator(Archival::A1_B);
    let pages_alone = Binding {
        record: String::new(),
        // Its places are objects of their own, which PDF allows and Preflight 2.0 does not follow.
        outline: Vec::new(),
        ..binding
    };
    bind_as(form, sheet, pages_alone, None)
}

fn bind_as(
    form: ConfigurationBuilder,
    sheet: &Sheet,
    binding: Binding,
    signing: Option<&Signing<'_>>,
) -> Result<Vec<u8>, PdfError> {
    let mut document = Document::new_with(SerializeSettings {
        configuration: form.finish().map_err(refused)?,
        enable_tagging: true,
        ..SerializeSettings::default()
    });
    let date = date(binding.at);
    let n_pages = sheet.pages.len();
    let keywords = signing.map(|signing| signing.label(n_pages));
    document.set_metadata(metadata(&binding, date).keywords(keywords.into_iter().collect()));
    let mut painter = Painter::new(sheet);
    for page in 0..n_pages {
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
    for (title, page) in binding.outline {
        let place = XyzDestination::new(page, Point::from_xy(0.0, 0.0));
        outline.push_child(OutlineNode::new(title, place));
    }
    document.set_outline(outline);
    let record = signing.map_or(binding.record, |signing| signing.record.to_owned());
    if let Some(record) = (!record.is_empty()).then_some(record) {
        document.embed_file(EmbeddedFile {
            path: RECORD_FILE.into(),
            mime_type: MimeType::new("application/json"),
            description: Some(format!("Record of {}, for programs", binding.record_of)),
            association_kind: AssociationKind::Data,
            data: record.into_bytes().into(),
            modification_date: Some(date),
            // A signed record stands in plain text: a damaged file still shows what was changed.
            compress: Some(signing.is_none()),
            location: None,
        });
    }
    let bytes = document.finish().map_err(refused)?;
    match signing {
        Some(signing) => Ok(signing.sign(bytes, n_pages)?),
        None => Ok(bytes),
    }
}

fn paper_form() -> ConfigurationBuilder {
    ConfigurationBuilder::new()
        .with_archival_validator(Archival::A3_B)
        .with_accessibility_validator(Accessibility::UA1)
}

fn refused(error: impl std::fmt::Debug) -> PdfError {
    PdfError::Refused {
        reason: format!("{error:?}"),
    }
}

fn date(at: Utc) -> DateTime {
    DateTime::new(at.year.clamp(0, 9999) as u16)
        .month(at.month)
        .day(at.day)
        .hour(at.hour)
        .minute(at.minute)
        .second(at.second)
        .utc_offset_hour(0)
        .utc_offset_minute(0)
}

fn metadata(binding: &Binding, date: DateTime) -> Metadata {
    Metadata::new()
        .title(binding.title.clone())
        .description(binding.description.clone())
        .language("en".into())
        .creator(format!("stillrod {}", binding.software))
        .authors(vec![binding.author.clone()])
        .document_id(binding.document_id.clone())
        .creation_date(date)
}
