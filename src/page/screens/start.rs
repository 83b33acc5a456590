//! The first screen.

use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::link;
use crate::page::routes::Shared;
use crate::page::view::Start;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::response::Response;

#[derive(Template)]
#[template(path = "start.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: Start,
}

/// Shows it.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Result<Response, Trouble> {
    Ok(shown(&Screen {
        v: page.desk.start().await?,
        f: Frame::new(&page, &visit, Here::Start),
    }))
}
