//! What stands beside the shop's name at the head of its papers: address, logo, size of paper.
//!
//! A logo is checked when the shop file is read, by drawing it, so that a paper never fails by it.

use krilla::image::Image;

use crate::certificate::bind::Binding;
use crate::certificate::bind::bind;
use crate::certificate::facts::Utc;
use crate::certificate::ink::reader;
use crate::certificate::pdf::PdfError;
use crate::certificate::sheet::Kind;
use crate::certificate::sheet::Piece;
use crate::certificate::sheet::Place;
use crate::certificate::sheet::Sheet;
use crate::quantity::UnitSystem;

/// What stands at the head of a paper beside the shop's name.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Letterhead {
    /// Lines of the address.
    pub address: Vec<String>,
    /// The logo.
    pub logo: Option<Logo>,
    /// Size of paper; None for that of the shop's units: Letter with inches, else A4.
    pub paper: Option<PaperSize>,
}

/// A shop's logo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Logo {
    /// A drawing, as its text.
    Svg(String),
    /// A picture, as the bytes of its file.
    Png(Vec<u8>),
}

/// Size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// 210 mm × 297 mm.
    A4,
    /// 8.5 in × 11 in.
    Letter,
}

/// Most pixels of a picture.
const PIXELS_MOST: u64 = 16_000_000;

impl Letterhead {
    /// The size of paper for a shop that reads these units.
    pub fn paper(&self, units: UnitSystem) -> PaperSize {
        self.paper.unwrap_or(match units {
            UnitSystem::Inch => PaperSize::Letter,
            UnitSystem::Metric => PaperSize::A4,
        })
    }
}

impl Logo {
    /// Width by height.
    fn aspect(&self) -> Result<f32, PdfError> {
        let (width, height) = match self {
            Self::Svg(text) => {
                let tree = usvg::Tree::from_str(text, &reader())
                    .map_err(|source| PdfError::Picture { source })?;
                (tree.size().width(), tree.size().height())
            }
            Self::Png(bytes) => {
                let image = image(bytes)?;
                (image.size().0 as f32, image.size().1 as f32)
            }
        };
        // A hair would have no width on paper.
        Ok((width / height.max(1e-3)).clamp(0.05, 50.0))
    }

    /// Its width and height in points, as large as fits.
    pub(super) fn size(&self, most: (f32, f32)) -> Result<(f32, f32), PdfError> {
        let aspect = self.aspect()?;
        let height = most.1.min(most.0 / aspect);
        Ok((height * aspect, height))
    }

    /// Draws it.
    pub(super) fn draw(&self, sheet: &mut Sheet, place: Place) {
        let node = sheet.node(Kind::Picture("Logo of the shop".into()), None);
        let piece = match self {
            Self::Svg(text) => Piece::Picture(text.clone(), place),
            Self::Png(bytes) => Piece::Image(bytes.clone(), place),
        };
        sheet.draw(piece, Some(node));
    }
}

/// A picture from the bytes of a PNG file.
pub(super) fn image(bytes: &[u8]) -> Result<Image, PdfError> {
    let image = Image::from_png(bytes.to_vec().into(), false);
    let image = image.map_err(|reason| PdfError::Image { reason })?;
    // A small file may unfold to more than any memory holds.
    match image.size() {
        (width, height) if u64::from(width) * u64::from(height) <= PIXELS_MOST => Ok(image),
        (width, height) => Err(PdfError::Image {
            reason: format!("{width} × {height} pixels are too many for a logo"),
        }),
    }
}

/// Whether papers can carry a logo: draws it on an empty page.
///
/// # Errors
/// If it is damaged, has characters that cannot be written, or what the archive format refuses.
pub fn check_logo(logo: &Logo) -> Result<(), PdfError> {
    let mut sheet = Sheet::new(PaperSize::A4);
    let (width, height) = logo.size((100.0, 100.0))?;
    let (left, top) = (sheet.left(), sheet.y);
    let place = Place {
        left,
        top,
        width,
        height,
    };
    logo.draw(&mut sheet, place);
    let binding = Binding {
        title: "Logo".into(),
        description: String::new(),
        author: String::new(),
        software: String::new(),
        document_id: "logo".into(),
        at: Utc::from_ms(0),
        outline: vec![("Logo".into(), 0)],
        record_of: "a logo",
        record: "{}".into(),
    };
    bind(&sheet, binding, None).map(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn svg(body: &str) -> Logo {
        Logo::Svg(format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"40\" height=\"20\">{body}</svg>"
        ))
    }

    #[test]
    fn a_drawing_with_words_in_any_face_can_be_carried() {
        for body in [
            "<rect width=\"40\" height=\"20\" fill-opacity=\"0.5\"/>",
            "<text y=\"10\" font-family=\"Some Face\">Depot</text>",
            "<image href=\"/etc/hostname.png\" width=\"4\" height=\"4\"/>",
        ] {
            check_logo(&svg(body)).expect(body);
        }
        let wide = svg("").size((60.0, 60.0)).expect("a size");
        assert_eq!(wide, (60.0, 30.0));
    }

    #[test]
    fn a_damaged_picture_is_refused_and_nothing_panics() {
        assert!(check_logo(&Logo::Svg("<svg".into())).is_err());
        assert!(check_logo(&svg("<text y=\"9\">泵</text>")).is_err());
        let head = b"\x89PNG\r\n\x1a\n".to_vec();
        assert!(check_logo(&Logo::Png(head.clone())).is_err());
        let mut cut = head;
        cut.extend(b"\0\0\0\rIHDR\0\0\0\x04\0\0\0\x04\x08\x02\0\0\0&\x93\t)");
        assert!(check_logo(&Logo::Png(cut)).is_err());
    }
}
