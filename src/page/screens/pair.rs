//! Pairing a browser: the code from the terminal is typed once.

use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::refused;
use crate::page::frame::shown;
use crate::page::guard::Typed;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::guard::paired_cookie;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::words::words;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::http::HeaderValue;
use axum::http::StatusCode;
use axum::http::header;
use axum::response::IntoResponse;
use axum::response::Response;

#[derive(Template)]
#[template(path = "pair.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    is_wrong: bool,
}

/// Asks for the code.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Response {
    if page.pairing.is_none() {
        return back_to("/", &[]);
    }
    screen(&page, &visit, false)
}

/// Looks at the code that was typed.
pub async fn typed<D: Desk>(
    State(page): State<Shared<D>>,
    sent: Sent,
) -> Result<Response, Trouble> {
    let Some(pairing) = &page.pairing else {
        return Ok(back_to("/", &[]));
    };
    match pairing.typed(sent.fields.get("code"), sent.visit.peer) {
        Typed::Right => {
            let cookie = paired_cookie(&page, pairing)?;
            let mut reply = back_to("/", &[]);
            reply.headers_mut().append(header::SET_COOKIE, cookie);
            Ok(reply)
        }
        Typed::Wrong => {
            let reply = screen(&page, &sent.visit, true);
            Ok((StatusCode::FORBIDDEN, reply).into_response())
        }
        Typed::Wait => {
            let w = words();
            let mut reply = refused(StatusCode::TOO_MANY_REQUESTS, w.wait_code, w.wait_code_do);
            let minute = HeaderValue::from_static("60");
            reply.headers_mut().insert(header::RETRY_AFTER, minute);
            Ok(reply)
        }
    }
}

fn screen<D: Desk>(page: &Shared<D>, visit: &Visit, is_wrong: bool) -> Response {
    shown(&Screen {
        f: Frame::new(page, visit, Here::Nowhere),
        is_wrong,
    })
}
