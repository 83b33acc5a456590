//! Every request passes here first, and every answer last.
//!
//! In this order: the address it was sent to, the page it comes from, the pairing of the browser.
//! The mark of a form is looked at where the form is read. What a request asks for runs to its
//! end even if the browser goes away; a fault in it is a page with a sentence.

mod head;
mod host;
mod pairing;
mod token;

use crate::page::desk::Desk;
use crate::page::desk::Kind;
use crate::page::desk::Trouble;
use crate::page::frame::refused;
use crate::page::frame::trouble;
use crate::page::link;
use crate::page::routes::Shared;
use crate::page::words::words;
use axum::extract::Request;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::http::HeaderValue;
use axum::http::Method;
use axum::http::StatusCode;
use axum::http::header;
use axum::middleware::Next;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;
pub(super) use host::Connection;
pub use pairing::Pairing;
pub(super) use pairing::Typed;
use std::net::IpAddr;
use std::time::Duration;
pub(super) use token::is_same;

/// Where random bytes come from; None if the system has none.
pub type Chance = fn() -> Option<[u8; 32]>;

/// Longest that something may take; then the browser is told so.
const LONGEST: Duration = Duration::from_secs(90);

/// How long a browser stays paired, s: a year.
const PAIRED_S: u32 = 365 * 86_400;

const FORM_COOKIE: &str = "stillrod-form";
const PAIRED_COOKIE: &str = "stillrod-paired";

/// Who asks.
#[derive(Debug, Clone)]
pub(super) struct Visit {
    /// What a form must send along to count.
    pub token: String,
    /// The address it comes from.
    pub peer: IpAddr,
}

/// Takes a request in, has it answered, and sends the answer out.
pub(super) async fn watched<D: Desk>(
    State(page): State<Shared<D>>,
    mut request: Request,
    next: Next,
) -> Response {
    let mut reply = match admitted(&page, &request) {
        Ok((visit, cookie)) => {
            request.extensions_mut().insert(visit);
            let mut reply = answered(request, next).await;
            if let Some(cookie) = cookie.and_then(|text| HeaderValue::from_str(&text).ok()) {
                reply.headers_mut().append(header::SET_COOKIE, cookie);
            }
            reply
        }
        Err(reply) => *reply,
    };
    head::put_on(&mut reply);
    reply
}

/// Who asks, and a cookie to set; or the answer that is none.
fn admitted<D: Desk>(
    page: &Shared<D>,
    request: &Request,
) -> Result<(Visit, Option<String>), Box<Response>> {
    let w = words();
    let no = |status, what: &str, what_to_do: &str| Box::new(refused(status, what, what_to_do));
    let Some(connection) = request.extensions().get::<Connection>() else {
        return Err(no(StatusCode::BAD_REQUEST, w.no_host, w.no_host_do));
    };
    let headers = request.headers();
    let host = one(headers, header::HOST.as_str()).unwrap_or_default();
    let named_twice = request.uri().authority().is_some_and(|named| named != host);
    if named_twice || !host::is_ours(host, connection.local) {
        return Err(no(StatusCode::MISDIRECTED_REQUEST, w.no_host, w.no_host_do));
    }
    if request.method() == Method::POST {
        let (origin, site) = (one(headers, "origin"), one(headers, "sec-fetch-site"));
        if !host::is_from_here(host, origin, site) {
            return Err(no(StatusCode::FORBIDDEN, w.foreign_form, w.foreign_form_do));
        }
    }
    let paired = match &page.pairing {
        None => "",
        Some(pairing) => {
            let cookie = cookie(headers, PAIRED_COOKIE).unwrap_or_default();
            let path = request.uri().path();
            match pairing.known(cookie) {
                Some(id) => id,
                None if path == "/pair" || path.starts_with("/look/") => "",
                None if request.method() == Method::POST => {
                    return Err(no(StatusCode::FORBIDDEN, w.not_paired, w.not_paired_do));
                }
                None => return Err(Box::new(Redirect::to("/pair").into_response())),
            }
        }
    };
    let known = cookie(headers, FORM_COOKIE).filter(|id| is_id(id));
    let (id, cookie) = match known {
        Some(id) => (id.to_owned(), None),
        None => {
            let id = new_id(page).map_err(|found| Box::new(trouble(&found)))?;
            let cookie = format!("{FORM_COOKIE}={id}; Path=/; HttpOnly; SameSite=Strict");
            (id, Some(cookie))
        }
    };
    let token = token::mark(&page.secret, "form", &format!("{id}:{paired}"));
    let peer = connection.peer.ip().to_canonical();
    Ok((Visit { token, peer }, cookie))
}

async fn answered(request: Request, next: Next) -> Response {
    let w = words();
    let task = tokio::spawn(next.run(request));
    match tokio::time::timeout(LONGEST, task).await {
        Ok(Ok(reply)) => reply,
        Ok(Err(_)) => refused(StatusCode::INTERNAL_SERVER_ERROR, w.fault, w.fault_do),
        Err(_) => refused(StatusCode::SERVICE_UNAVAILABLE, w.too_long, w.too_long_do),
    }
}

/// The cookie header of a browser that typed the code.
pub(super) fn paired_cookie<D: Desk>(
    page: &Shared<D>,
    pairing: &Pairing,
) -> Result<HeaderValue, Trouble> {
    let cookie = pairing.cookie(&new_id(page)?);
    let text =
        format!("{PAIRED_COOKIE}={cookie}; Path=/; Max-Age={PAIRED_S}; HttpOnly; SameSite=Strict");
    HeaderValue::from_str(&text).map_err(|_| no_chance())
}

fn new_id<D: Desk>(page: &Shared<D>) -> Result<String, Trouble> {
    let bytes = (page.chance)().ok_or_else(no_chance)?;
    Ok(token::hex(&bytes[..16]))
}

fn no_chance() -> Trouble {
    let w = words();
    Trouble {
        kind: Kind::Broken,
        what: w.no_chance.into(),
        what_to_do: w.no_chance_do.into(),
    }
}

fn is_id(text: &str) -> bool {
    text.len() == 32 && text.bytes().all(|b| b.is_ascii_hexdigit())
}

/// A header that stands there exactly once.
fn one<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let mut all = headers.get_all(name).iter();
    match (all.next(), all.next()) {
        (Some(value), None) => value.to_str().ok(),
        // Twice is as good as foreign.
        (Some(_), Some(_)) => Some("twice"),
        (None, _) => None,
    }
}

fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(known, _)| *known == name)
        .map(|(_, value)| value)
}

/// Back to a page after a deed, with a sentence of our own about it.
pub(super) fn back_to(path: &str, asked: &[(&str, &str)]) -> Response {
    Redirect::to(&link::to(path, asked)).into_response()
}
