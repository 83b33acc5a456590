//! What several screens need: reading the address.

use crate::page::desk::Kind;
use crate::page::desk::Trouble;
use crate::page::fields::Fields;
use crate::page::words::words;
use axum::http::Uri;

/// What stands behind the `?` of an address.
pub fn asked(uri: &Uri) -> Result<Fields, Trouble> {
    Fields::read(uri.query().unwrap_or_default()).ok_or_else(|| {
        let w = words();
        Trouble {
            kind: Kind::Refused,
            what: w.unreadable.into(),
            what_to_do: w.no_page_do.into(),
        }
    })
}

/// A number that an address names; what is none is the number of nothing.
pub fn number(text: &str) -> i64 {
    text.parse().unwrap_or(-1)
}
