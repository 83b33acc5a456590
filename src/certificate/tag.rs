//! The label of a unit: its tag large, and a code that says the tag.
//!
//! One label of 62 mm × 29 mm, for a roll of that width; it says which cylinder this is, and never
//! what came out: a label outlives a result.

use crate::certificate::bind::Binding;
use crate::certificate::bind::bind;
use crate::certificate::blocks::code;
use crate::certificate::facts::Utc;
use crate::certificate::pdf::PdfError;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::Sheet;
use crate::certificate::typeset::LEADING;
use crate::certificate::typeset::Style;

/// What a label says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TagLabel {
    /// Tag of the unit; the code says it too.
    pub tag: String,
    /// What the unit is; may be empty.
    pub description: String,
    /// Name of the shop.
    pub shop: String,
    /// Number and day of the last certificate, as the shop writes days.
    pub last: Option<(String, String)>,
}

const PT_PER_MM: f32 = 72.0 / 25.4;
/// Size of the label.
const SIZE: (f32, f32) = (62.0 * PT_PER_MM, 29.0 * PT_PER_MM);
/// What printers of labels leave blank.
const MARGIN: f32 = 1.5 * PT_PER_MM;
/// Width of the code; beside it stands the text.
const CODE: f32 = 17.0 * PT_PER_MM;
const TAG_MOST: f32 = 21.0;
/// A longer tag takes two lines rather than smaller letters.
const TAG_LEAST: f32 = 12.0;
const TEXT: f32 = 7.2;

/// The label as a PDF/A-3 file of one page, without an attachment. Equal labels give equal bytes.
///
/// # Errors
/// If a text cannot be set or is too long for a code, see [`PdfError`].
pub fn tag_label(label: &TagLabel) -> Result<Vec<u8>, PdfError> {
    let mut sheet = Sheet::of_size(SIZE, MARGIN);
    let (left, right) = (sheet.left(), sheet.right());
    let code_left = right - CODE - 4.0;
    code(&mut sheet, &label.tag, (code_left, MARGIN + 5.0), CODE)?;
    let room = code_left - left - 10.0;
    let node = sheet.node(Kind::Heading(1, label.tag.clone()), None);
    let probe = sheet.faces.run(&label.tag, Style::bold(10.0))?.width;
    let size = (10.0 * room / probe.max(1.0)).clamp(TAG_LEAST, TAG_MOST);
    let at = (left, MARGIN + 1.0);
    sheet.leading = 1.15;
    let mut y = at.1 + sheet.text(&label.tag, Style::bold(size), at, room, node)?;
    sheet.leading = LEADING;
    let style = Style::plain(TEXT);
    let last = label.last.as_ref();
    let last = last.map(|(number, day)| format!("last paper: {number}, {day}"));
    let last_height = match &last {
        Some(text) => sheet.height(text, style, room)?,
        None => 0.0,
    };
    // The description takes the lines that are left above the shop.
    let foot = sheet.size.1 - MARGIN - TEXT * 1.4;
    let left_over = foot - y - last_height;
    let n_lines = (left_over / (TEXT * sheet.leading)).max(0.0) as usize;
    let lines = sheet.faces.wrap(&label.description, style, room)?;
    let mut said: Vec<String> = lines.iter().map(|run| run.text.trim().to_owned()).collect();
    if said.len() > n_lines {
        said.truncate(n_lines);
        if let Some(last) = said.last_mut() {
            last.push('…');
        }
    }
    for text in said.iter().filter(|text| !text.is_empty()) {
        y += line(&mut sheet, text, y, room)?;
    }
    if let Some(text) = &last {
        line(&mut sheet, text, y, room)?;
    }
    let width = sheet.width();
    let shop = sheet.faces.wrap(&label.shop, style, width)?;
    let shop = shop.first().map_or("", |run| run.text.trim()).to_owned();
    line(&mut sheet, &shop, foot, width)?;
    let binding = Binding {
        title: format!("Label {}", label.tag),
        description: label.description.clone(),
        author: label.shop.clone(),
        software: env!("CARGO_PKG_VERSION").into(),
        document_id: format!("label {}", label.tag),
        at: Utc::from_ms(0),
        outline: vec![(label.tag.clone(), 0)],
        record_of: "a label",
        record: String::new(),
    };
    bind(&sheet, binding, None)
}

/// A small line of its own; gives its height.
fn line(sheet: &mut Sheet, text: &str, y: f32, width: f32) -> Result<f32, PdfError> {
    let node = sheet.node(Kind::Paragraph, None);
    let at = (sheet.left(), y);
    sheet.text(text, Style::plain(TEXT), at, width, node)
}
