//! A photo of a tag or a paper: straight to what its code names, or what helps.

use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::link;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::CodeSaid;
use crate::page::view::Unread;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use axum::response::Response;

/// Letters of a strange text that are shown.
const MOST_SHOWN: usize = 60;

#[derive(Template)]
#[template(path = "tag.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: Option<CodeSaid>,
}

impl Screen {
    /// What was read, what it means and what to do.
    fn sentences(&self, said: &CodeSaid) -> (String, &'static str) {
        let w = self.f.w;
        let say = |sentence: &str, what: &str| self.f.filled(sentence, &[&short(what)]);
        match said {
            CodeSaid::Unit(tag) | CodeSaid::NoUnit(tag) => {
                (say(w.tag_no_unit, tag), w.tag_no_unit_do)
            }
            CodeSaid::Paper(number) | CodeSaid::NoPaper(number) => {
                (say(w.tag_no_paper, number), w.tag_no_paper_do)
            }
            CodeSaid::OtherPaper(number) => (say(w.tag_other_paper, number), w.tag_other_paper_do),
            CodeSaid::Strange(text) => (say(w.tag_strange, text), w.tag_strange_do),
            CodeSaid::Unread(Unread::NoFile) => (w.tag_no_file.into(), w.tag_no_file_do),
            CodeSaid::Unread(Unread::NoPicture) => (w.tag_no_picture.into(), w.tag_no_picture_do),
            CodeSaid::Unread(Unread::TooLarge(size)) => {
                (say(w.tag_too_large, size), w.tag_too_large_do)
            }
            CodeSaid::Unread(Unread::Damaged) => (w.tag_damaged.into(), w.tag_damaged_do),
            CodeSaid::Unread(Unread::NoCode) => (w.tag_no_code.into(), w.tag_no_code_do),
            CodeSaid::Unread(Unread::NotInTime) => (w.tag_not_in_time.into(), w.tag_no_code_do),
        }
    }
}

/// As much of a text as fits a line, in one line.
fn short(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let mut shown: String = text.chars().map(plain).take(MOST_SHOWN).collect();
    if text.chars().nth(MOST_SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

/// Asks for a photo.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Response {
    shown(&Screen {
        f: Frame::new(&page, &visit, Here::Units),
        v: None,
    })
}

/// Looks at a photo.
pub async fn sent<D: Desk>(State(page): State<Shared<D>>, sent: Sent) -> Result<Response, Trouble> {
    // A browser sends an empty file where none was chosen.
    let bytes = sent.file.map(|file| file.bytes).unwrap_or_default();
    let said = match bytes.is_empty() {
        true => CodeSaid::Unread(Unread::NoFile),
        false => page.desk.read_tag(bytes).await?,
    };
    Ok(match said {
        CodeSaid::Unit(tag) => back_to("/unit", &[("tag", &tag)]),
        CodeSaid::Paper(number) => back_to("/paper", &[("number", &number)]),
        said => {
            let again = shown(&Screen {
                f: Frame::new(&page, &sent.visit, Here::Units),
                v: Some(said),
            });
            (StatusCode::UNPROCESSABLE_ENTITY, again).into_response()
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_text_is_cut_and_stays_in_one_line() {
        assert_eq!(short("TV-0312"), "TV-0312");
        assert_eq!(short("a\nb\u{7}c"), "a b c");
        let long = short(&"ä".repeat(61));
        assert_eq!(long, format!("{}…", "ä".repeat(60)));
        assert_eq!(short(&"ä".repeat(60)).chars().count(), 60);
    }
}
