//! The story of one unit, and its charts.

use super::shared::asked;
use super::shared::number;
use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::link;
use crate::page::routes::Shared;
use crate::page::view::Compared;
use crate::page::view::JobState;
use crate::page::view::Story;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::http::Uri;
use axum::http::header;
use axum::response::IntoResponse;
use axum::response::Response;

#[derive(Template)]
#[template(path = "story.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: Story,
    is_kept: bool,
}

impl Screen {
    fn file(&self, sha256: &str) -> String {
        link::to("/file", &[("tag", &self.v.unit.tag), ("sha256", sha256)])
    }

    fn has_bounds(&self) -> bool {
        self.v.courses.iter().any(|course| !course.has_values)
    }

    fn years(&self, index: &usize, width: &str) -> String {
        let index = index.to_string();
        let asked = [
            ("tag", self.v.unit.tag.as_str()),
            ("index", &index),
            ("width", width),
        ];
        link::to("/unit/years", &asked)
    }
}

/// Two tests beside each other, as a table.
#[derive(Template)]
#[template(path = "compared.html", config = "src/page/askama.toml")]
struct ComparedTable<'a> {
    f: &'a Frame,
    heading: &'a str,
    c: &'a Compared,
}

impl Screen {
    fn compared<'a>(&'a self, heading: &'a str, c: &'a Compared) -> ComparedTable<'a> {
        ComparedTable {
            f: &self.f,
            heading,
            c,
        }
    }
}

/// Shows the story.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let fields = asked(&uri)?;
    Ok(shown(&Screen {
        v: page.desk.story(fields.get("tag")).await?,
        f: Frame::new(&page, &visit, Here::Units),
        is_kept: fields.get("said") == "kept",
    }))
}

/// A chart over the years.
pub async fn years<D: Desk>(State(page): State<Shared<D>>, uri: Uri) -> Result<Response, Trouble> {
    let fields = asked(&uri)?;
    let index = usize::try_from(number(fields.get("index"))).unwrap_or(usize::MAX);
    let is_wide = fields.get("width") != "narrow";
    let svg = page.desk.years(fields.get("tag"), index, is_wide).await?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response())
}
