//! Files in and out: photos of units, labels, and how any file is handed out.

use super::shared::asked;
use crate::page::desk::Content;
use crate::page::desk::Desk;
use crate::page::desk::Download;
use crate::page::desk::Trouble;
use crate::page::guard::back_to;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::NewFile;
use axum::body::Body;
use axum::body::HttpBody;
use axum::extract::State;
use axum::http::HeaderValue;
use axum::http::Uri;
use axum::http::header;
use axum::response::IntoResponse;
use axum::response::Response;
use hyper::body::Bytes;
use hyper::body::Frame;
use hyper::body::SizeHint;
use std::io;
use std::pin::Pin;
use std::task::Context;
use std::task::Poll;
use std::task::ready;
use tokio::io::AsyncRead;
use tokio::io::ReadBuf;

/// Bytes that are read from a file at a time.
const PIECE: usize = 64 * 1024;

/// Keeps a photo.
pub async fn keep<D: Desk>(State(page): State<Shared<D>>, sent: Sent) -> Result<Response, Trouble> {
    let fields = &sent.fields;
    let Some(file) = sent.file else {
        return Err(Trouble::no_picture());
    };
    let tag = fields.get("tag").to_owned();
    page.desk
        .keep_file(NewFile {
            tag: tag.clone(),
            job: fields.get("job").parse().ok(),
            about: fields.get("about").trim().into(),
            by: fields.get("by").trim().into(),
            name: file.name,
            bytes: file.bytes,
        })
        .await?;
    Ok(back_to("/unit", &[("tag", &tag), ("said", "kept")]))
}

/// Shows or hands out a file of a unit.
pub async fn show<D: Desk>(State(page): State<Shared<D>>, uri: Uri) -> Result<Response, Trouble> {
    let fields = asked(&uri)?;
    let file = page
        .desk
        .file(fields.get("tag"), fields.get("sha256"))
        .await?;
    let mut reply = handed_out(file);
    // Its name is its content.
    let kept = HeaderValue::from_static("private, max-age=86400, immutable");
    reply.headers_mut().insert(header::CACHE_CONTROL, kept);
    Ok(reply)
}

/// Hands out the label of a unit.
pub async fn label<D: Desk>(State(page): State<Shared<D>>, uri: Uri) -> Result<Response, Trouble> {
    Ok(handed_out(page.desk.label(asked(&uri)?.get("tag")).await?))
}

/// A file as an answer.
pub(super) fn handed_out(file: Download) -> Response {
    let safe = |c: char| match c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_') {
        true => c,
        false => '-',
    };
    let name: String = file.name.chars().map(safe).collect();
    let how = match file.is_shown {
        true => "inline",
        false => "attachment",
    };
    let body = match file.content {
        Content::Bytes(bytes) => Body::from(bytes),
        Content::File(file, left) => Body::new(FileBody {
            file: tokio::fs::File::from_std(file),
            left,
        }),
    };
    let headers = [
        (header::CONTENT_TYPE, file.media_type.to_owned()),
        (
            header::CONTENT_DISPOSITION,
            format!("{how}; filename=\"{name}\""),
        ),
    ];
    (headers, body).into_response()
}

/// A file that is read while it is sent.
struct FileBody {
    file: tokio::fs::File,
    left: u64,
}

impl HttpBody for FileBody {
    type Data = Bytes;
    type Error = io::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, io::Error>>> {
        if self.left == 0 {
            return Poll::Ready(None);
        }
        let mut piece = vec![0; PIECE.min(usize::try_from(self.left).unwrap_or(PIECE))];
        let mut buffer = ReadBuf::new(&mut piece);
        if let Err(error) = ready!(Pin::new(&mut self.file).poll_read(context, &mut buffer)) {
            return Poll::Ready(Some(Err(error)));
        }
        let n_read = buffer.filled().len();
        if n_read == 0 {
            // It became shorter meanwhile; the browser sees that something is missing.
            return Poll::Ready(Some(Err(io::ErrorKind::UnexpectedEof.into())));
        }
        piece.truncate(n_read);
        self.left -= n_read as u64;
        Poll::Ready(Some(Ok(Frame::data(piece.into()))))
    }

    fn size_hint(&self) -> SizeHint {
        SizeHint::with_exact(self.left)
    }
}
