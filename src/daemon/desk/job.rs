//! Job sheets through the form of the page, entered exactly as from a file.

use super::ShopDesk;
use super::broken;
use crate::daemon::clock;
use crate::daemon::jobs::amount;
use crate::daemon::jobs::new_job;
use crate::daemon::jobs::total;
use crate::page::Trouble;
use crate::page::view;
use crate::register::Item;
use crate::register::JobState;
use crate::register::Points;
use crate::register::RegisterError;
use crate::register::UnitsOf;
use crate::register::worth;
use crate::settings::JobSheet;
use crate::settings::MOST_ROWS;
use crate::settings::WrittenSheet;
use crate::settings::sheet_fields;
use crate::settings::write_sheet;

/// What a sheet from the form is called in errors.
const FORM: &str = "job sheet";

/// The sheet of a job as it stands.
pub(super) async fn job(desk: &ShopDesk, number: i64) -> Result<view::JobForm, Trouble> {
    let versions = desk.register.job(number).await.map_err(failed)?;
    let job = versions.first().ok_or_else(Trouble::no_job)?;
    let fields = sheet_fields(FORM, &job.sheet).map_err(|error| broken(error.into()))?;
    let mut form = view::JobForm {
        values: fields.into_iter().collect(),
        entered: format!(
            "{}, {}",
            clock::local(job.entered_utc_ms, &job.time_zone).0,
            job.role
        ),
        is_withdrawn: job.state == JobState::Withdrawn,
        ..view::JobForm::default()
    };
    form.set("number", &job.number.to_string());
    form.set("version", &job.version.to_string());
    form.set("unit", &job.tag);
    // Whoever goes on with it says who they are.
    form.set("by", "");
    if let Ok(sheet) = JobSheet::parse(FORM, &job.sheet) {
        weigh(&mut form, &sheet);
    }
    Ok(with_rows(form))
}

/// A new sheet for a unit.
pub(super) async fn new_sheet(desk: &ShopDesk, tag: &str) -> Result<view::JobForm, Trouble> {
    let mut form = view::JobForm::default();
    let known = desk
        .register
        .units(UnitsOf::Tag(tag), "")
        .await
        .map_err(failed)?;
    if let Some(now) = known.first() {
        for (name, value) in [
            ("description", &now.unit.description),
            ("machine", &now.unit.machine),
            ("serial", &now.unit.serial),
            ("seal", &now.unit.seal),
        ] {
            form.set(name, value);
        }
    }
    form.set("unit", tag);
    let today = clock::local(clock::now_utc_ms(), &desk.time_zone()).0;
    form.set("came_in", &today.chars().take(10).collect::<String>());
    Ok(with_rows(form))
}

/// A form that is being filled in, with what it comes to.
pub(super) fn weighed(mut form: view::JobForm) -> view::JobForm {
    if let Ok((_, sheet)) = read(&mut form) {
        weigh(&mut form, &sheet);
    }
    with_rows(form)
}

/// Enters a form.
pub(super) async fn enter(
    desk: &ShopDesk,
    mut form: view::JobForm,
) -> Result<view::JobSent, Trouble> {
    let again = |form| Ok(view::JobSent::Again(Box::new(with_rows(form))));
    let Ok((written, sheet)) = read(&mut form) else {
        return again(form);
    };
    weigh(&mut form, &sheet);
    if let Some(number) = sheet.number {
        let versions = desk.register.job(number).await.map_err(failed)?;
        let now = versions.first().ok_or_else(Trouble::no_job)?;
        if now.version.to_string() != form.value("version") {
            form.faults.push(view::Fault::changed_meanwhile());
            return again(form);
        }
    }
    let job = new_job(
        &sheet,
        &written.text,
        (&clock::own_zone(), clock::now_utc_ms()),
    );
    match desk.register.enter_job(&job).await {
        Ok(entered) => Ok(view::JobSent::Entered(entered.number)),
        Err(error) => match field_of(&error) {
            Some(field) => {
                form.faults.push(view::Fault {
                    field: field.into(),
                    what: error.to_string(),
                });
                again(form)
            }
            None => Err(failed(error)),
        },
    }
}

/// The sheet of a form; what is wrong with it is put into the form.
fn read(form: &mut view::JobForm) -> Result<(WrittenSheet, JobSheet), ()> {
    let written = write_sheet(|name| form.value(name));
    let faults = written.faults.iter().map(|(field, what)| view::Fault {
        field: field.clone(),
        what: what.clone(),
    });
    let faults: Vec<view::Fault> = faults.collect();
    form.faults.extend(faults);
    if !form.faults.is_empty() {
        return Err(());
    }
    match JobSheet::parse(FORM, &written.text) {
        Ok(sheet) => Ok((written, sheet)),
        Err(error) => {
            form.faults.push(view::Fault {
                field: written.field_of(&error),
                what: error.message,
            });
            Err(())
        }
    }
}

/// The field that the register does not take.
fn field_of(error: &RegisterError) -> Option<&'static str> {
    match error {
        RegisterError::JobOpen { .. } => Some("unit"),
        RegisterError::Unfit { field, .. } => Some(match *field {
            "unit tag" => "unit",
            "role" => "by",
            "description" | "machine" | "serial" | "seal" | "symptom" | "reason" | "came_in"
            | "went_out" => field,
            _ => "sheet",
        }),
        _ => None,
    }
}

fn weigh(form: &mut view::JobForm, sheet: &JobSheet) {
    let structural = sheet.findings.iter().find(|finding| finding.structural);
    form.structural = structural.map(|found| format!("{}, {}", found.part, found.condition));
    form.worth = sheet.costs.as_ref().map(|costs| {
        let found = worth(
            (&sheet.findings, &sheet.parts),
            &costs.rebuilding,
            &costs.replacing,
            &costs.rates,
        );
        let sum = |items: &[Item]| view::Sum {
            total: amount(total(items)),
            items: items
                .iter()
                .filter(|item| item.hundredths != 0)
                .map(|item| (item.what.into(), amount(item.hundredths)))
                .collect(),
        };
        let one_place = |number: f64| format!("{number:.1}");
        view::Worth {
            money: costs.money.clone(),
            rebuild: sum(&found.rebuild),
            replace: sum(&found.replace),
            points: match found.points {
                Points::ToRebuild(less) => view::Points::Rebuild(amount(less)),
                Points::ToReplace(less) => view::Points::Replace(amount(less)),
                Points::ToNeither => view::Points::Neither,
                Points::Structural(_) => view::Points::Structural,
            },
            even_at_hours: found.even_at_hours.map(one_place),
            days_that_tip: found.days_that_tip.map(one_place),
        }
    });
}

/// As many rows as are filled in, and one or more to fill in.
fn with_rows(mut form: view::JobForm) -> view::JobForm {
    let filled = |start: &str| {
        let numbers = form.values.iter().filter_map(|(name, value)| {
            let rest = name.strip_prefix(start)?;
            let (index, key) = rest.split_once('-')?;
            let counts = !value.trim().is_empty() && key != "from_kit" && key != "count";
            index.parse::<usize>().ok().filter(|_| counts)
        });
        numbers.max().map_or(0, |last| last + 1)
    };
    let (n_findings, n_parts) = (filled("finding-"), filled("part-"));
    form.n_findings = form.n_findings.max(n_findings + 1).min(MOST_ROWS);
    form.n_parts = form.n_parts.max(n_parts + 1).min(MOST_ROWS);
    form
}

fn failed(error: RegisterError) -> Trouble {
    broken(error.into())
}
