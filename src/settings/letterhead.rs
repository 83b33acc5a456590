//! What stands beside the shop's name at the head of its papers: address, logo, size of paper.
//!
//! The logo travels with the shop file as its limits files do: behind it, under a line that
//! says its name. An SVG stands there as it is, a PNG in base64.

use super::SettingsError;
use super::Source;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Deserialize;
use toml::Spanned;

/// Largest logo, in bytes; a larger one is refused with its line.
pub const LOGO_MOST_BYTES: usize = 256 * 1024;
/// Most lines of an address.
const LINES_MOST: usize = 4;
/// Most characters of such a line: more would take the head over.
const LINE_MOST: usize = 80;
/// Digits of base64 on a line.
const ROW: usize = 76;

/// What stands at the head of a paper beside the shop's name.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Letterhead {
    /// Lines of the address, at most four.
    pub address: Vec<String>,
    /// The logo.
    pub logo: Option<Logo>,
    /// Size of paper; None where the shop file does not say.
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

/// Size of the paper that a shop prints on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PaperSize {
    /// 210 mm × 297 mm.
    A4,
    /// 8.5 in × 11 in.
    Letter,
}

impl Logo {
    /// From the bytes of its file.
    ///
    /// # Errors
    /// If they are too many, or neither SVG nor PNG.
    pub fn from_file(bytes: Vec<u8>) -> Result<Self, String> {
        if bytes.len() > LOGO_MOST_BYTES {
            return Err("is larger than 256 KiB; make it smaller".into());
        }
        if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
            return Ok(Self::Png(bytes));
        }
        match String::from_utf8(bytes) {
            Ok(text) if text.contains("<svg") => Ok(Self::Svg(text)),
            _ => Err("is neither an SVG nor a PNG picture".into()),
        }
    }

    /// The text that travels with the shop file; it ends with a line end.
    pub(super) fn stored(&self) -> String {
        match self {
            Self::Svg(text) => format!("{}\n", text.trim_end()),
            Self::Png(bytes) => {
                let digits = STANDARD.encode(bytes);
                let rows = digits.as_bytes().chunks(ROW).map(String::from_utf8_lossy);
                rows.map(|row| format!("{row}\n")).collect()
            }
        }
    }

    /// From the text that travelled with the shop file.
    ///
    /// # Errors
    /// If it is not one.
    pub(super) fn from_stored(text: &str) -> Result<Self, String> {
        if text.trim_start().starts_with('<') {
            return Self::from_file(text.as_bytes().to_vec());
        }
        let digits: String = text.split_whitespace().collect();
        let bytes = STANDARD.decode(digits);
        Self::from_file(bytes.map_err(|error| format!("is damaged: {error}"))?)
    }
}

/// The letterhead of a shop file, with the logo that travelled behind it.
pub(super) fn letterhead(
    source: &Source<'_>,
    address: &[Spanned<String>],
    logo: Option<&Spanned<String>>,
    stored: Option<(&str, &str)>,
    paper: Option<PaperSize>,
) -> Result<Letterhead, SettingsError> {
    if let Some(fifth) = address.get(LINES_MOST) {
        return Err(source.error(fifth, "an address has at most 4 lines"));
    }
    for line in address {
        let text = line.get_ref();
        let n = text.chars().count();
        if text.trim().is_empty() || n > LINE_MOST || text.contains(char::is_control) {
            let message = "a line of the address has 1 to 80 characters, and no tabs or line ends";
            return Err(source.error(line, message));
        }
    }
    let logo = match logo {
        None => None,
        Some(named) => {
            let name = named.get_ref();
            let wrong = |why: &str| Err(source.error(named, format!("logo `{name}` {why}")));
            match stored.filter(|(known, _)| known == name) {
                None => return wrong("is named, and it is not there"),
                Some((_, text)) => match Logo::from_stored(text) {
                    Ok(logo) => Some(logo),
                    Err(why) => return wrong(&why),
                },
            }
        }
    };
    Ok(Letterhead {
        address: address.iter().map(|line| line.get_ref().clone()).collect(),
        logo,
        paper,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_logo_comes_back_from_its_text_as_it_was() {
        let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
        png.extend((0..200u8).cycle().take(5000));
        for logo in [
            Logo::Png(png),
            Logo::Svg("<svg xmlns=\"http://www.w3.org/2000/svg\"/>\n".into()),
        ] {
            let text = logo.stored();
            assert!(text.lines().all(|line| line.len() <= 80), "{text}");
            assert_eq!(Logo::from_stored(&text), Ok(logo));
        }
        assert!(Logo::from_stored("§§").is_err());
    }

    #[test]
    fn what_is_no_picture_or_too_large_is_refused() {
        let why = |bytes: Vec<u8>| Logo::from_file(bytes).expect_err("refused");
        assert!(why(b"GIF89a".to_vec()).contains("neither"));
        assert!(why(vec![b'<'; LOGO_MOST_BYTES + 1]).contains("256 KiB"));
    }
}
