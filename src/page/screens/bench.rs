//! The bench: what is put on it, the plan, and the test that runs.

use super::shared::asked;
use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::fields::Fields;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::link;
use crate::page::look::look;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::Bench;
use crate::page::view::BenchAnswer;
use crate::page::view::BenchBegun;
use crate::page::view::BenchChoice;
use crate::page::view::BenchEnd;
use crate::page::view::BenchFree;
use crate::page::view::BenchNow;
use crate::page::view::BenchPicture;
use crate::page::view::BenchPlan;
use crate::page::view::BenchRig;
use crate::page::view::BenchSaid;
use crate::page::view::BenchStage;
use askama::Template;
use axum::Extension;
use axum::extract::Path;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::Uri;
use axum::http::header;
use axum::response::IntoResponse;
use axum::response::Response;

#[derive(Template)]
#[template(path = "bench_free.html", config = "src/page/askama.toml")]
struct Free {
    f: Frame,
    v: BenchFree,
}

#[derive(Template)]
#[template(path = "bench_plan.html", config = "src/page/askama.toml")]
struct Plan {
    f: Frame,
    v: BenchPlan,
}

#[derive(Template)]
#[template(path = "bench.html", config = "src/page/askama.toml")]
struct Running {
    f: Frame,
    v: BenchNow,
    script: &'static str,
}

/// The part of the sheet that changes while a test runs.
#[derive(Template)]
#[template(path = "bench_live.html", config = "src/page/askama.toml")]
pub(super) struct Live {
    pub f: Frame,
    pub v: BenchNow,
}

/// Shows what is on the bench, or what can be put on it.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let asked = asked(&uri)?;
    let bench = page.desk.bench(&visit.token, asked.get("tag")).await?;
    let f = Frame::new(&page, &visit, Here::Start);
    Ok(match bench {
        Bench::Free(v) => shown(&Free { f, v: *v }),
        Bench::Taken(v) => shown(&Running {
            f,
            v: *v,
            script: &look().bench,
        }),
    })
}

/// Shows the plan of what was chosen; without a piece the choice again.
pub async fn plan<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let v = page.desk.bench_plan(chosen(&asked(&uri)?)).await?;
    let f = Frame::new(&page, &visit, Here::Start);
    Ok(shown(&Plan { f, v }))
}

/// Begins a test.
pub async fn begin<D: Desk>(
    State(page): State<Shared<D>>,
    sent: Sent,
) -> Result<Response, Trouble> {
    let (fields, who) = (&sent.fields, &sent.visit.token);
    let is_read = fields.get("read") == "yes";
    match page.desk.bench_begin(chosen(fields), who, is_read).await? {
        BenchBegun::Begun => Ok(back_to("/bench", &[])),
        BenchBegun::NotYet(v) => {
            let f = Frame::new(&page, &sent.visit, Here::Start);
            let again = shown(&Plan { f, v: *v });
            Ok((StatusCode::UNPROCESSABLE_ENTITY, again).into_response())
        }
    }
}

/// Says something to the test.
pub async fn say<D: Desk>(State(page): State<Shared<D>>, sent: Sent) -> Result<Response, Trouble> {
    let said = said(&sent.fields).ok_or_else(Trouble::not_there)?;
    page.desk.bench_say(&sent.visit.token, said).await?;
    Ok(back_to("/bench", &[]))
}

/// A picture of the test on the bench.
pub async fn picture<D: Desk>(
    State(page): State<Shared<D>>,
    Path(which): Path<String>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let which = match which.as_str() {
        "account" => BenchPicture::Account,
        "circuit" => BenchPicture::Circuit,
        _ => return Err(Trouble::not_there()),
    };
    let is_wide = asked(&uri)?.get("width") != "narrow";
    let svg = page.desk.bench_picture(which, is_wide).await?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response())
}

fn chosen(fields: &Fields) -> BenchChoice {
    let text = |name: &str| fields.get(name).trim().to_owned();
    BenchChoice {
        piece: text("piece"),
        procedure: text("procedure"),
        adapter: text("adapter"),
        pace: text("pace"),
    }
}

fn said(fields: &Fields) -> Option<BenchSaid> {
    let number = || fields.get("number").parse::<u64>().ok();
    Some(match fields.get("what") {
        "done" => BenchSaid::Done(number()?),
        "typed" => BenchSaid::Typed(number()?, fields.get("text").trim().to_owned()),
        "stop" => BenchSaid::Stop,
        "read" => BenchSaid::Read(number()?),
        "take" => BenchSaid::TakeOver,
        "clear" => BenchSaid::Clear,
        _ => return None,
    })
}
