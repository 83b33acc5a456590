//! What a form sends, read as a whole and only if it has the mark of a page of ours.

use crate::page::desk::Kind;
use crate::page::desk::Trouble;
use crate::page::fields::Fields;
use crate::page::frame::refused;
use crate::page::frame::trouble;
use crate::page::guard::Visit;
use crate::page::guard::is_same;
use crate::page::words::words;
use axum::body::Bytes;
use axum::extract::FromRequest;
use axum::extract::Multipart;
use axum::extract::Request;
use axum::extract::multipart::Field;
use axum::http::StatusCode;
use axum::http::header;
use axum::response::Response;

/// Longest text in a form with a file, bytes.
const LONGEST_WORDS: usize = 16 * 1024;

/// Name of the field with the mark.
pub(super) const TOKEN: &str = "token";

/// A form that was sent.
#[derive(Debug)]
pub(super) struct Sent {
    /// Its fields.
    pub fields: Fields,
    /// The file in it, if there is one.
    pub file: Option<SentFile>,
    /// Who sent it.
    pub visit: Visit,
}

/// A file that was sent.
#[derive(Debug)]
pub(super) struct SentFile {
    /// Its name where it came from.
    pub name: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

impl<S: Send + Sync> FromRequest<S> for Sent {
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let w = words();
        let Some(visit) = request.extensions().get::<Visit>().cloned() else {
            return Err(refused(
                StatusCode::FORBIDDEN,
                w.stale_form,
                w.stale_form_do,
            ));
        };
        let kind = request.headers().get(header::CONTENT_TYPE);
        let kind = kind.and_then(|kind| kind.to_str().ok()).unwrap_or_default();
        let kind = kind
            .split(';')
            .next()
            .unwrap_or_default()
            .trim()
            .to_ascii_lowercase();
        match kind.as_str() {
            "application/x-www-form-urlencoded" => plain(request, state, visit).await,
            "multipart/form-data" => in_parts(request, state, visit).await,
            _ => Err(refused(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                w.no_form,
                w.no_form_do,
            )),
        }
    }
}

async fn plain<S: Send + Sync>(
    request: Request,
    state: &S,
    visit: Visit,
) -> Result<Sent, Response> {
    let bytes = Bytes::from_request(request, state)
        .await
        .map_err(|error| unread(error.status()))?;
    let text = std::str::from_utf8(&bytes).ok();
    let fields = text.and_then(Fields::read);
    let fields = fields.ok_or_else(|| unread(StatusCode::BAD_REQUEST))?;
    is_ours(&fields, &visit).then_some(()).ok_or_else(stale)?;
    Ok(Sent {
        fields,
        file: None,
        visit,
    })
}

async fn in_parts<S: Send + Sync>(
    request: Request,
    state: &S,
    visit: Visit,
) -> Result<Sent, Response> {
    let mut parts = Multipart::from_request(request, state)
        .await
        .map_err(|error| unread(error.status()))?;
    let mut fields = Fields::default();
    let mut file = None;
    loop {
        let part = parts
            .next_field()
            .await
            .map_err(|error| unread(error.status()))?;
        let Some(part) = part else {
            break;
        };
        let name = part.name().unwrap_or_default().to_owned();
        match part.file_name().map(str::to_owned) {
            Some(file_name) => {
                // Nothing large is read for whoever has no mark.
                is_ours(&fields, &visit).then_some(()).ok_or_else(stale)?;
                let bytes = part.bytes().await.map_err(|error| unread(error.status()))?;
                file = Some(SentFile {
                    name: file_name,
                    bytes: bytes.to_vec(),
                });
            }
            None => {
                let value = words_of(part).await?;
                if !fields.push(name, value) {
                    return Err(unread(StatusCode::BAD_REQUEST));
                }
            }
        }
    }
    is_ours(&fields, &visit).then_some(()).ok_or_else(stale)?;
    Ok(Sent {
        fields,
        file,
        visit,
    })
}

/// The text of a part. A form with a file has little of it, whatever the file may have.
async fn words_of(mut part: Field<'_>) -> Result<String, Response> {
    let mut bytes = Vec::new();
    loop {
        let piece = part.chunk().await;
        let Some(piece) = piece.map_err(|error| unread(error.status()))? else {
            break;
        };
        if bytes.len() + piece.len() > LONGEST_WORDS {
            return Err(unread(StatusCode::PAYLOAD_TOO_LARGE));
        }
        bytes.extend_from_slice(&piece);
    }
    String::from_utf8(bytes).map_err(|_| unread(StatusCode::BAD_REQUEST))
}

fn is_ours(fields: &Fields, visit: &Visit) -> bool {
    is_same(fields.get(TOKEN), &visit.token)
}

fn stale() -> Response {
    let w = words();
    refused(StatusCode::FORBIDDEN, w.stale_form, w.stale_form_do)
}

fn unread(status: StatusCode) -> Response {
    let w = words();
    match status {
        StatusCode::PAYLOAD_TOO_LARGE => refused(status, w.too_large, w.too_large_do),
        _ => trouble(&Trouble {
            kind: Kind::Refused,
            what: w.unreadable.into(),
            what_to_do: w.unreadable_do.into(),
        }),
    }
}
