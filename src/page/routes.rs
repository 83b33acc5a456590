//! Which address is answered by which screen, and how much each takes.

use crate::page::desk::Desk;
use crate::page::frame::refused;
use crate::page::guard::Chance;
use crate::page::guard::Pairing;
use crate::page::guard::watched;
use crate::page::look;
use crate::page::screens::bench;
use crate::page::screens::bench_live;
use crate::page::screens::files;
use crate::page::screens::job;
use crate::page::screens::pair;
use crate::page::screens::papers;
use crate::page::screens::recording;
use crate::page::screens::shop;
use crate::page::screens::start;
use crate::page::screens::story;
use crate::page::screens::tag;
use crate::page::screens::units;
use crate::page::screens::walk;
use crate::page::screens::zeros;
use crate::page::words::words;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware::from_fn_with_state;
use axum::response::Response;
use axum::routing::get;
use axum::routing::post;
use std::sync::Arc;

/// Largest small form, bytes.
const SMALL_FORM: usize = 16 * 1024;

/// Largest job sheet, bytes: more than the register takes, so that it can say so.
const JOB_FORM: usize = 1024 * 1024;

/// Largest form with a photo, bytes.
const PHOTO_FORM: usize = 21 * 1024 * 1024;

/// The page and what it is shown with.
pub struct Page<D> {
    /// Who answers.
    pub desk: D,
    /// Pairing; None where only this computer can ask.
    pub pairing: Option<Pairing>,
    /// What marks of forms are made with, another at each start.
    pub secret: [u8; 32],
    /// Where random bytes come from.
    pub chance: Chance,
}

/// The page as the screens share it.
pub(super) type Shared<D> = Arc<Page<D>>;

/// All addresses, behind the guard.
pub(super) fn router<D: Desk>(page: Shared<D>) -> Router {
    Router::new()
        .route("/", get(start::show::<D>))
        .route("/bench", get(bench::show::<D>))
        .route("/bench/plan", get(bench::plan::<D>))
        .route("/bench/begin", post(bench::begin::<D>))
        .route("/bench/say", post(bench::say::<D>))
        .route("/bench/live", get(bench_live::live::<D>))
        .route("/bench/picture/{which}", get(bench::picture::<D>))
        .route("/alarms", post(start::read::<D>))
        .route("/units", get(units::show::<D>))
        .route("/unit", get(story::show::<D>))
        .route("/unit/years", get(story::years::<D>))
        .route(
            "/job",
            get(job::show::<D>)
                .post(job::sent::<D>)
                .layer(DefaultBodyLimit::max(JOB_FORM)),
        )
        .route("/job/new", get(job::new::<D>))
        .route(
            "/photo",
            post(files::keep::<D>).layer(DefaultBodyLimit::max(PHOTO_FORM)),
        )
        .route(
            "/tag",
            get(tag::show::<D>)
                .post(tag::sent::<D>)
                .layer(DefaultBodyLimit::max(PHOTO_FORM)),
        )
        .route("/file", get(files::show::<D>))
        .route("/label", get(files::label::<D>))
        .route("/papers", get(papers::list::<D>))
        .route("/paper", get(papers::show::<D>))
        .route("/paper/{which}", get(papers::file::<D>))
        .route("/recording", get(recording::show::<D>))
        .route("/recording/picture", get(recording::picture::<D>))
        .route("/recording/values", get(recording::values::<D>))
        .route("/recording/judge", post(recording::judge::<D>))
        .route("/withdraw", post(papers::withdraw::<D>))
        .route("/sensors", get(shop::sensors::<D>))
        .route(
            "/sensors/calibrate",
            get(walk::show::<D>).post(walk::sent::<D>),
        )
        .route(
            "/sensors/zero",
            get(zeros::show::<D>).post(zeros::look::<D>),
        )
        .route("/shop", get(shop::show::<D>))
        .route("/moving", get(shop::moving::<D>))
        .route("/copy", post(shop::begin_copy::<D>))
        .route("/pair", get(pair::show::<D>).post(pair::typed::<D>))
        .route("/look/{name}", get(look::hand_out))
        .fallback(not_there)
        .method_not_allowed_fallback(wrong_method)
        .layer(DefaultBodyLimit::max(SMALL_FORM))
        .layer(from_fn_with_state(Arc::clone(&page), watched::<D>))
        .with_state(page)
}

async fn not_there() -> Response {
    let w = words();
    refused(StatusCode::NOT_FOUND, w.no_page, w.no_page_do)
}

async fn wrong_method() -> Response {
    let w = words();
    refused(StatusCode::METHOD_NOT_ALLOWED, w.wrong_method, w.no_page_do)
}
