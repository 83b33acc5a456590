//! What every answer says to the browser: show nothing of elsewhere, guess nothing, keep nothing.

use axum::http::HeaderName;
use axum::http::HeaderValue;
use axum::http::header;
use axum::response::Response;

/// Everything is forbidden but what our pages use.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; \
    connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// For what is no page of ours: it may do nothing at all.
const FILE_POLICY: &str = "default-src 'none'; sandbox";

/// Puts the headers on that are not there yet.
pub(super) fn put_on(reply: &mut Response) {
    let kind = reply.headers().get(header::CONTENT_TYPE);
    let is_page = kind.is_none_or(|kind| kind.as_bytes().starts_with(b"text/html"));
    // A form without a referrer has no origin either, and could not be told from a foreign one.
    let (policy, referrer) = match is_page {
        true => (POLICY, "same-origin"),
        false => (FILE_POLICY, "no-referrer"),
    };
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, policy),
        (header::REFERRER_POLICY, referrer),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::CACHE_CONTROL, "no-store"),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("permissions-policy"),
            "camera=(), microphone=(), geolocation=()",
        ),
    ] {
        if !reply.headers().contains_key(&name) {
            reply
                .headers_mut()
                .insert(name, HeaderValue::from_static(value));
        }
    }
}
