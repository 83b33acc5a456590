//! Text to glyphs: shaping, measuring, wrapping, in the two faces the paper carries.
//!
//! The same glyphs that are measured are drawn. Nothing is looked up on the host.
//!
//! Invariant: a character without a glyph is an error, never an empty box.

use krilla::text::Font;
use krilla::text::GlyphId;
use krilla::text::KrillaGlyph;
use rustybuzz::UnicodeBuffer;

use crate::certificate::pdf::PdfError;

/// Height of a line by size of its text.
pub(super) const LEADING: f32 = 1.3;

/// Which of the two faces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Face {
    /// For reading.
    Regular,
    /// For what is read first.
    Bold,
}

/// Face, size in points and colour of a text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    /// Its face.
    pub face: Face,
    /// Its size in points.
    pub size: f32,
    /// Red, green, blue.
    pub colour: (u8, u8, u8),
}

/// Ink of all text that must be read.
pub(super) const BLACK: (u8, u8, u8) = (0x14, 0x14, 0x14);
/// Ink of names and notes; 7:1 on white.
pub(super) const GREY: (u8, u8, u8) = (0x50, 0x50, 0x50);

impl Style {
    /// Plain black text.
    pub(super) const fn plain(size: f32) -> Self {
        Self {
            face: Face::Regular,
            size,
            colour: BLACK,
        }
    }

    /// Bold black text.
    pub(super) const fn bold(size: f32) -> Self {
        Self {
            face: Face::Bold,
            ..Self::plain(size)
        }
    }

    /// The same in another colour.
    pub(super) const fn in_colour(self, colour: (u8, u8, u8)) -> Self {
        Self { colour, ..self }
    }
}

/// A line of text, ready to be drawn.
#[derive(Debug, Clone)]
pub(super) struct Run {
    /// What it says.
    pub text: String,
    /// Its glyphs, scaled to a size of one.
    pub glyphs: Vec<KrillaGlyph>,
    /// Its look.
    pub style: Style,
    /// Its width in points.
    pub width: f32,
}

struct Loaded {
    shaper: rustybuzz::Face<'static>,
    font: Font,
}

/// The faces of the paper.
pub(super) struct Type {
    regular: Loaded,
    bold: Loaded,
}

impl Type {
    /// Loads the faces the program carries.
    pub(super) fn new() -> Self {
        let load = |bytes: &'static [u8]| Loaded {
            shaper: rustybuzz::Face::from_slice(bytes, 0).expect("the face is part of the program"),
            font: Font::new(bytes.into(), 0).expect("the face is part of the program"),
        };
        Self {
            regular: load(notosans::REGULAR_TTF),
            bold: load(notosans::BOLD_TTF),
        }
    }

    /// The font of a face, for drawing.
    pub(super) fn font(&self, face: Face) -> Font {
        self.loaded(face).font.clone()
    }

    fn loaded(&self, face: Face) -> &Loaded {
        match face {
            Face::Regular => &self.regular,
            Face::Bold => &self.bold,
        }
    }

    /// Shapes one line.
    ///
    /// # Errors
    /// If a character has no glyph.
    pub(super) fn run(&self, text: &str, style: Style) -> Result<Run, PdfError> {
        // Line ends and tabs of typed text have no glyph and no meaning here.
        let text: String = text
            .chars()
            .map(|c| {
                if c.is_whitespace() || c.is_control() {
                    ' '
                } else {
                    c
                }
            })
            .collect();
        let shaper = &self.loaded(style.face).shaper;
        let per_em = shaper.units_per_em() as f32;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(&text);
        buffer.guess_segment_properties();
        let shaped = rustybuzz::shape(shaper, &[], buffer);
        let infos = shaped.glyph_infos();
        let mut glyphs = Vec::with_capacity(infos.len());
        let mut width = 0.0;
        for (index, (info, position)) in infos.iter().zip(shaped.glyph_positions()).enumerate() {
            let start = info.cluster as usize;
            let later = infos[index..].iter().map(|i| i.cluster as usize);
            let end = later.filter(|c| *c > start).min().unwrap_or(text.len());
            if info.glyph_id == 0 {
                return Err(missing(&text, start));
            }
            let advance = position.x_advance as f32 / per_em;
            width += advance * style.size;
            glyphs.push(KrillaGlyph::new(
                GlyphId::new(info.glyph_id),
                advance,
                position.x_offset as f32 / per_em,
                position.y_offset as f32 / per_em,
                0.0,
                start..end,
                None,
            ));
        }
        Ok(Run {
            text,
            glyphs,
            style,
            width,
        })
    }

    /// Breaks a text into lines no wider than `width` points.
    ///
    /// # Errors
    /// If a character has no glyph.
    pub(super) fn wrap(&self, text: &str, style: Style, width: f32) -> Result<Vec<Run>, PdfError> {
        let mut lines: Vec<String> = vec![String::new()];
        for word in words(text) {
            let line = lines.last_mut().expect("there is always a line");
            let tried = if line.is_empty() {
                word.clone()
            } else {
                format!("{line} {word}")
            };
            if self.run(&tried, style)?.width <= width {
                *line = tried;
            } else if line.is_empty() {
                self.split(&word, style, width, &mut lines)?;
            } else {
                lines.push(String::new());
                self.split(&word, style, width, &mut lines)?;
            }
        }
        let n_lines = lines.len();
        lines
            .into_iter()
            .enumerate()
            .map(|(index, line)| {
                // The blank at a line's end keeps words apart when text is copied.
                let end = if index + 1 < n_lines { " " } else { "" };
                let width = self.run(&line, style)?.width;
                let run = self.run(&format!("{line}{end}"), style)?;
                Ok(Run { width, ..run })
            })
            .collect()
    }

    /// Puts a word on the last line, which is empty, cutting it where it is wider than a line.
    fn split(
        &self,
        word: &str,
        style: Style,
        width: f32,
        lines: &mut Vec<String>,
    ) -> Result<(), PdfError> {
        if self.run(word, style)?.width <= width {
            lines
                .last_mut()
                .expect("there is always a line")
                .push_str(word);
            return Ok(());
        }
        // A number too wide for its column leaves its unit to the next line.
        if let Some((first, last)) = word.rsplit_once(' ') {
            self.split(first, style, width, lines)?;
            lines.push(String::new());
            return self.split(last, style, width, lines);
        }
        for c in word.chars() {
            let line = lines.last_mut().expect("there is always a line");
            line.push(c);
            if self.run(line, style)?.width > width && line.chars().count() > 1 {
                line.pop();
                lines.push(c.to_string());
            }
        }
        Ok(())
    }

    /// Checks that all text of a picture can be drawn.
    ///
    /// # Errors
    /// If a character has no glyph.
    pub(super) fn check_picture(&self, svg: &str) -> Result<(), PdfError> {
        let drawable = |c: char| c.is_ascii() || self.regular.shaper.glyph_index(c).is_some();
        match svg.char_indices().find(|(_, c)| !drawable(*c)) {
            None => Ok(()),
            Some((at, _)) => Err(missing(svg, at)),
        }
    }
}

fn missing(text: &str, at: usize) -> PdfError {
    let character = text[at..].chars().next().unwrap_or('\u{fffd}');
    let around: String = text[..at].chars().rev().take(20).collect();
    let around: String = around.chars().rev().collect();
    PdfError::Glyph {
        character,
        code: character as u32,
        after: around,
    }
}

/// Words of a text; a number stays with its "±" and its unit of measure.
fn words(text: &str) -> Vec<String> {
    const UNITS: [&str; 19] = [
        "mL/min", "mL", "mm/min", "mm", "bar/min", "bar", "°C", "in³/min", "in³", "in/min", "in",
        "psi/min", "psi", "°F", "%", "s", "min", "kN", "K",
    ];
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_end_matches(['.', ',', ';', ':', ')']);
        let after_number = words
            .last()
            .is_some_and(|w| w.ends_with(|c: char| c.is_ascii_digit()) || w.ends_with('±'));
        let number = bare.starts_with(|c: char| c.is_ascii_digit());
        let joins = after_number && (UNITS.contains(&bare) || bare == "±")
            || number && words.last().is_some_and(|w| w.ends_with('±'));
        match words.last_mut() {
            Some(last) if joins => {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_string()),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_not_torn_from_its_uncertainty_and_unit() {
        let found = words("lost: 0.060 ± 0.020 mL/min at 160 bar, 46 °C. In time");
        assert_eq!(
            found,
            [
                "lost:",
                "0.060 ± 0.020 mL/min",
                "at",
                "160 bar,",
                "46 °C.",
                "In",
                "time"
            ]
        );
    }

    #[test]
    fn a_character_without_a_glyph_is_an_error_that_names_it() {
        let error = Type::new().run("Pump 泵", Style::plain(9.0)).unwrap_err();
        assert!(error.to_string().contains("泵"), "{error}");
        assert!(error.to_string().contains("U+6CF5"), "{error}");
    }

    #[test]
    fn no_line_is_wider_than_it_may_be() {
        let hash = "0123456789abcdef".repeat(4);
        for text in [hash.as_str(), "one two three four five six seven"] {
            let lines = Type::new().wrap(text, Style::plain(9.0), 60.0).unwrap();
            assert!(lines.len() > 1);
            assert!(lines.iter().all(|l| l.width <= 60.0));
            let joined: String = lines.iter().map(|l| l.text.as_str()).collect();
            assert_eq!(joined.replace(' ', ""), text.replace(' ', ""));
        }
    }
}
