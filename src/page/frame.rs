//! What stands around every screen, and pages that say what went wrong.

use crate::page::desk::Desk;
use crate::page::desk::Kind;
use crate::page::desk::Trouble;
use crate::page::guard::Visit;
use crate::page::look::look;
use crate::page::routes::Shared;
use crate::page::words::Words;
use crate::page::words::words;
use askama::Template;
use axum::http::StatusCode;
use axum::response::Html;
use axum::response::IntoResponse;
use axum::response::Response;

/// Which part of the page a screen belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Here {
    Start,
    Units,
    Papers,
    Sensors,
    Shop,
    Moving,
    Nowhere,
}

/// What every template has beside its own.
pub(super) struct Frame {
    /// Words.
    pub w: &'static Words,
    /// Name of the shop; may be empty.
    pub shop: String,
    /// The mark that forms send along.
    pub token: String,
    /// Where we are.
    pub here: Here,
    /// Address of the stylesheet.
    pub style: &'static str,
    /// Address of the script.
    pub script: &'static str,
    /// Address of the sign in the browser's bar.
    pub icon: &'static str,
}

impl Frame {
    /// Around a screen.
    pub fn new<D: Desk>(page: &Shared<D>, visit: &Visit, here: Here) -> Self {
        Self {
            shop: page.desk.shop_name(),
            token: visit.token.clone(),
            ..Self::bare(here)
        }
    }

    /// For texts that are no sheet.
    pub fn of_no_sheet() -> Self {
        Self::bare(Here::Nowhere)
    }

    fn bare(here: Here) -> Self {
        let look = look();
        Self {
            w: words(),
            shop: String::new(),
            token: String::new(),
            here,
            style: &look.style,
            script: &look.script,
            icon: &look.icon,
        }
    }

    /// The places one can go to: word, address, whether we are there.
    pub fn places(&self) -> [(&'static str, &'static str, bool); 6] {
        let place = |word, address, here| (word, address, self.here == here);
        [
            place(self.w.start, "/", Here::Start),
            place(self.w.units, "/units", Here::Units),
            place(self.w.papers, "/papers", Here::Papers),
            place(self.w.sensors, "/sensors", Here::Sensors),
            place(self.w.shop, "/shop", Here::Shop),
            place(self.w.moving, "/moving", Here::Moving),
        ]
    }
}

/// A template as an answer.
pub(super) fn shown(template: &impl Template) -> Response {
    match template.render() {
        Ok(text) => Html(text).into_response(),
        // Nothing of ours writes to anything but memory.
        Err(_) => StatusCode::INTERNAL_SERVER_ERROR.into_response(),
    }
}

#[derive(Template)]
#[template(path = "trouble.html", config = "src/page/askama.toml")]
struct TroublePage<'a> {
    f: Frame,
    what: &'a str,
    what_to_do: &'a str,
}

/// A page that says what went wrong.
pub(super) fn refused(status: StatusCode, what: &str, what_to_do: &str) -> Response {
    let page = TroublePage {
        f: Frame::bare(Here::Nowhere),
        what,
        what_to_do,
    };
    (status, shown(&page)).into_response()
}

/// A page about a trouble.
pub(super) fn trouble(found: &Trouble) -> Response {
    let status = match found.kind {
        Kind::NotThere => StatusCode::NOT_FOUND,
        Kind::Refused => StatusCode::BAD_REQUEST,
        Kind::Busy => StatusCode::CONFLICT,
        Kind::Broken => StatusCode::INTERNAL_SERVER_ERROR,
    };
    refused(status, &found.what, &found.what_to_do)
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        trouble(&self)
    }
}
