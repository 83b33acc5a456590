//! A job sheet as a form. Whatever is wrong, all that was typed comes back.

use super::shared::asked;
use super::shared::number;
use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::link;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::sent::TOKEN;
use crate::page::view::JobForm;
use crate::page::view::JobSent;
use crate::page::view::Points;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::Uri;
use axum::response::IntoResponse;
use axum::response::Response;

#[derive(Template)]
#[template(path = "job.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: JobForm,
    is_entered: bool,
}

impl Screen {
    /// The name of a field of a row.
    fn row(&self, table: &str, index: &usize, key: &str) -> String {
        format!("{table}-{index}-{key}")
    }

    /// What is wrong with no field in particular.
    fn others(&self) -> Vec<&str> {
        let faults = self
            .v
            .faults
            .iter()
            .filter(|fault| !self.has_field(&fault.field));
        faults.map(|fault| fault.what.as_str()).collect()
    }

    fn has_field(&self, name: &str) -> bool {
        let fields = [
            "unit",
            "description",
            "machine",
            "serial",
            "seal",
            "came_in",
            "went_out",
            "symptom",
            "drifts",
            "outside_place",
            "outside_class",
            "by",
            "withdrawn",
            "rod_straightness",
            "torques",
            "plugs_fitted",
            "money",
            "an_hour",
            "a_day_standing",
            "rebuild_hours",
            "rebuild_outside_work",
            "rebuild_days",
            "replace_price",
            "replace_hours",
            "replace_days",
            "do",
            "reason",
        ];
        let row = |key: &str| {
            let keys = [
                "part",
                "condition",
                "measured",
                "limit",
                "what",
                "count",
                "price",
            ];
            keys.contains(&key)
        };
        fields.contains(&name)
            || name
                .rsplit('-')
                .next()
                .is_some_and(|key| name != key && row(key))
    }
}

/// Shows the sheet of a job.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let fields = asked(&uri)?;
    let v = page.desk.job(number(fields.get("number"))).await?;
    Ok(shown(&Screen {
        v,
        f: Frame::new(&page, &visit, Here::Units),
        is_entered: fields.get("said") == "entered",
    }))
}

/// Shows a new sheet.
pub async fn new<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let v = page.desk.new_job(asked(&uri)?.get("tag")).await?;
    Ok(screen(&page, &visit, v))
}

/// Takes a sheet: to enter it, to work out the sum, or to show more rows.
pub async fn sent<D: Desk>(State(page): State<Shared<D>>, sent: Sent) -> Result<Response, Trouble> {
    let fields = &sent.fields;
    let own = [TOKEN, "press", "n_findings", "n_parts"];
    let mut form = JobForm {
        values: fields
            .iter()
            .filter(|(name, _)| !own.contains(name))
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect(),
        n_findings: fields.get("n_findings").parse().unwrap_or(0),
        n_parts: fields.get("n_parts").parse().unwrap_or(0),
        ..JobForm::default()
    };
    match fields.get("press") {
        "finding" => form.n_findings += 1,
        "part" => form.n_parts += 1,
        "sum" => {}
        _ => {
            return Ok(match page.desk.enter_job(form).await? {
                JobSent::Entered(number) => {
                    let number = number.to_string();
                    back_to("/job", &[("number", &number), ("said", "entered")])
                }
                JobSent::Again(form) => {
                    let again = screen(&page, &sent.visit, *form);
                    (StatusCode::UNPROCESSABLE_ENTITY, again).into_response()
                }
            });
        }
    }
    let is_sum = fields.get("press") == "sum";
    let mut form = page.desk.weigh_job(form).await?;
    if !is_sum {
        // Somebody asked for a row; what is missing yet is no fault.
        form.faults.clear();
    }
    Ok(screen(&page, &sent.visit, form))
}

fn screen<D: Desk>(page: &Shared<D>, visit: &Visit, v: JobForm) -> Response {
    shown(&Screen {
        v,
        f: Frame::new(page, visit, Here::Units),
        is_entered: false,
    })
}
