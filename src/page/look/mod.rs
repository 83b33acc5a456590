//! How the page looks: a stylesheet, small scripts and a sign, all in the program.
//!
//! Their names have a hash of their content, so that a browser may keep them for ever and never
//! has an old one.

use crate::signature::Digest;
use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header;
use axum::response::IntoResponse;
use axum::response::Response;
use std::sync::LazyLock;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");
const BENCH: &str = include_str!("bench.js");
const RECORDING: &str = include_str!("recording.js");
const ICON: &str = include_str!("page.svg");

/// Addresses of the files.
pub(super) struct Look {
    /// The stylesheet.
    pub style: String,
    /// The script.
    pub script: String,
    /// The script of the bench.
    pub bench: String,
    /// The script of the recording's sheet.
    pub recording: String,
    /// The sign in the browser's bar.
    pub icon: String,
}

/// The addresses of this version.
pub(super) fn look() -> &'static Look {
    static LOOK: LazyLock<Look> = LazyLock::new(|| Look {
        style: format!("/look/{}.css", Digest::of(STYLE.as_bytes()).short()),
        script: format!("/look/{}.js", Digest::of(SCRIPT.as_bytes()).short()),
        bench: format!("/look/{}.js", Digest::of(BENCH.as_bytes()).short()),
        recording: format!("/look/{}.js", Digest::of(RECORDING.as_bytes()).short()),
        icon: format!("/look/{}.svg", Digest::of(ICON.as_bytes()).short()),
    });
    &LOOK
}

/// Hands out one of them.
pub(super) async fn hand_out(Path(name): Path<String>) -> Response {
    let look = look();
    let address = format!("/look/{name}");
    let (kind, text) = match address {
        address if address == look.style => ("text/css; charset=utf-8", STYLE),
        address if address == look.script => ("text/javascript; charset=utf-8", SCRIPT),
        address if address == look.bench => ("text/javascript; charset=utf-8", BENCH),
        address if address == look.recording => ("text/javascript; charset=utf-8", RECORDING),
        address if address == look.icon => ("image/svg+xml", ICON),
        _ => return StatusCode::NOT_FOUND.into_response(),
    };
    let headers = [
        (header::CONTENT_TYPE, kind),
        (header::CACHE_CONTROL, "public, max-age=31536000, immutable"),
    ];
    (headers, text).into_response()
}
