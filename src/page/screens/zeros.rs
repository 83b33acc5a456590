//! A look at the zeros of pressure sensors while both sides are open.

use crate::page::desk::Desk;
use crate::page::desk::Kind;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::ZeroSaid;
use crate::page::view::ZeroSheet;
use crate::page::words::words;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::response::Response;

#[derive(Template)]
#[template(path = "zeros.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: ZeroSheet,
}

/// Asks for setup and adapter; shows what came of the last look.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Result<Response, Trouble> {
    Ok(shown(&Screen {
        v: page.desk.zeros().await?,
        f: Frame::new(&page, &visit, Here::Sensors),
    }))
}

/// Looks.
pub async fn look<D: Desk>(State(page): State<Shared<D>>, sent: Sent) -> Result<Response, Trouble> {
    let fields = &sent.fields;
    if fields.get("vented") != "yes" {
        let w = words();
        return Err(Trouble {
            kind: Kind::Refused,
            what: w.zero_not_vented.into(),
            what_to_do: w.zero_not_vented_do.into(),
        });
    }
    let (setup, adapter) = (fields.get("setup"), fields.get("adapter"));
    page.desk.look_at_zeros(setup, adapter).await?;
    Ok(back_to("/sensors/zero", &[]))
}
