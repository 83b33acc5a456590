//! A sensor calibrated along points of a reference.

use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::fields::Fields;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::WalkEnd;
use crate::page::view::WalkForm;
use crate::page::view::WalkSaid;
use crate::page::view::WalkSheet;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use axum::response::Response;

const ADDRESS: &str = "/sensors/calibrate";

#[derive(Template)]
#[template(path = "walk.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: WalkSheet,
}

/// Shows the walk, or the form before it.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Result<Response, Trouble> {
    Ok(shown(&Screen {
        v: page.desk.walk().await?,
        f: Frame::new(&page, &visit, Here::Sensors),
    }))
}

/// Begins a walk, or says something on the way.
pub async fn sent<D: Desk>(State(page): State<Shared<D>>, sent: Sent) -> Result<Response, Trouble> {
    let fields = &sent.fields;
    let said = match fields.get("what") {
        "begin" => return begin(&page, &sent).await,
        "reference" => WalkSaid::Reference(fields.get("text").trim().to_owned()),
        "back" => WalkSaid::Back,
        "done" => WalkSaid::Done,
        "end" => WalkSaid::End,
        _ => return Err(Trouble::not_there()),
    };
    page.desk.walk_say(said).await?;
    Ok(back_to(ADDRESS, &[]))
}

async fn begin<D: Desk>(page: &Shared<D>, sent: &Sent) -> Result<Response, Trouble> {
    let form = form(&sent.fields);
    let faults = page.desk.walk_begin(form.clone()).await?;
    if faults.is_empty() {
        return Ok(back_to(ADDRESS, &[]));
    }
    let again = shown(&Screen {
        v: WalkSheet {
            form,
            faults,
            ..page.desk.walk().await?
        },
        f: Frame::new(page, &sent.visit, Here::Sensors),
    });
    Ok((StatusCode::UNPROCESSABLE_ENTITY, again).into_response())
}

fn form(fields: &Fields) -> WalkForm {
    let text = |name: &str| fields.get(name).trim().to_owned();
    WalkForm {
        setup: text("setup"),
        sensor: text("sensor"),
        adapter: text("adapter"),
        who: text("who"),
        reference: text("reference"),
        reference_certificate: text("reference_certificate"),
        reference_in: text("reference_in"),
        reference_uncertainty: text("reference_uncertainty"),
        read_in: text("read_in"),
        degree: text("degree"),
    }
}
