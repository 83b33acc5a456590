//! Papers: the list, one of them with its files, and withdrawing it.

use super::files::handed_out;
use super::shared::asked;
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
use crate::page::view::PaperFile;
use crate::page::view::PaperSheet;
use crate::page::view::Papers;
use askama::Template;
use axum::Extension;
use axum::extract::Path;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::Uri;
use axum::response::IntoResponse;
use axum::response::Response;

#[derive(Template)]
#[template(path = "papers.html", config = "src/page/askama.toml")]
struct List {
    f: Frame,
    words: String,
    v: Papers,
}

#[derive(Template)]
#[template(path = "paper.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: PaperSheet,
    by: String,
    reason: String,
}

impl Screen {
    fn file(&self, which: &PaperFile) -> (String, &'static str) {
        let w = self.f.w;
        let (path, word) = match which {
            PaperFile::Pdf => ("/paper/pdf", w.file_pdf),
            PaperFile::Record => ("/paper/record", w.file_record),
            PaperFile::Recording => ("/paper/recording", w.file_recording),
        };
        (link::to(path, &[("number", &self.v.test.number)]), word)
    }
}

/// Shows the list.
pub async fn list<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let words = asked(&uri)?.get("words").trim().to_owned();
    Ok(shown(&List {
        v: page.desk.papers(&words).await?,
        f: Frame::new(&page, &visit, Here::Papers),
        words,
    }))
}

/// Shows one paper.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    Ok(shown(&Screen {
        v: page.desk.paper(asked(&uri)?.get("number")).await?,
        f: Frame::new(&page, &visit, Here::Papers),
        by: String::new(),
        reason: String::new(),
    }))
}

/// Hands out a file of a paper.
pub async fn file<D: Desk>(
    State(page): State<Shared<D>>,
    Path(which): Path<String>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let which = match which.as_str() {
        "pdf" => PaperFile::Pdf,
        "record" => PaperFile::Record,
        "recording" => PaperFile::Recording,
        _ => return Err(Trouble::not_there()),
    };
    let fields = asked(&uri)?;
    Ok(handed_out(
        page.desk.paper_file(fields.get("number"), which).await?,
    ))
}

/// Withdraws a paper.
pub async fn withdraw<D: Desk>(
    State(page): State<Shared<D>>,
    sent: Sent,
) -> Result<Response, Trouble> {
    let fields = &sent.fields;
    let (number, by, reason) = (fields.get("number"), fields.get("by"), fields.get("reason"));
    let faults = page.desk.withdraw(number, by, reason).await?;
    if faults.is_empty() {
        return Ok(back_to("/paper", &[("number", number)]));
    }
    let again = shown(&Screen {
        v: PaperSheet {
            faults,
            ..page.desk.paper(number).await?
        },
        f: Frame::new(&page, &sent.visit, Here::Papers),
        by: by.into(),
        reason: reason.into(),
    });
    Ok((StatusCode::UNPROCESSABLE_ENTITY, again).into_response())
}
