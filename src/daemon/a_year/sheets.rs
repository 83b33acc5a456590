//! The job sheets of the year, written as a fitter writes them and read as any other.

use crate::daemon::clock;
use crate::daemon::jobs::new_job;
use crate::register::Points;
use crate::register::Register;
use crate::register::worth;
use crate::rehearsal::year::Becomes;
use crate::rehearsal::year::Visit;
use crate::settings::JobSheet;
use anyhow::Context;
use anyhow::ensure;
use std::fmt::Write as _;

/// What an hour of a fitter and a day of a standing machine cost, money.
const AN_HOUR: f64 = 60.0;
const A_DAY_STANDING: f64 = 150.0;

/// Opens the job of a visit; its number.
pub(super) async fn comes_in(
    register: &Register,
    visit: &Visit,
    at_utc_ms: i64,
) -> anyhow::Result<i64> {
    let sheet = head(visit, None);
    enter(register, sheet, at_utc_ms).await
}

/// Enters what was found, used and decided. Decided is by the sum, and a structural finding goes
/// before it.
pub(super) async fn goes_out(
    register: &Register,
    visit: &Visit,
    number: i64,
    at_utc_ms: i64,
) -> anyhow::Result<()> {
    let mut sheet = head(visit, Some(number));
    sheet.push_str(&body(visit));
    let (word, reason) = match visit.becomes {
        Becomes::NeverCame(_) => {
            enter(register, sheet, at_utc_ms).await?;
            return Ok(());
        }
        Becomes::Left(why) => ("leave", why.to_owned()),
        Becomes::Rebuilt | Becomes::Replaced => decided(&sheet)?,
    };
    let is_meant = match visit.becomes {
        Becomes::Rebuilt => word == "rebuild",
        Becomes::Replaced => word == "replace",
        _ => true,
    };
    // What was tested afterwards must be what was decided.
    ensure!(is_meant, "{}: {word}, {reason}", visit.unit.tag);
    let _ = write!(
        sheet,
        "\n[decision]\ndo = \"{word}\"\nreason = \"{reason}\"\n"
    );
    enter(register, sheet, at_utc_ms).await?;
    Ok(())
}

/// What the sum of a sheet points to, and why.
fn decided(sheet: &str) -> anyhow::Result<(&'static str, String)> {
    let read = JobSheet::parse("sheet of the year", sheet)?;
    let costs = read.costs.context("a sheet with costs")?;
    let pieces = (read.findings.as_slice(), read.parts.as_slice());
    let sums = worth(pieces, &costs.rebuilding, &costs.replacing, &costs.rates);
    let money = |hundredths: i64| hundredths as f64 / 100.0;
    Ok(match sums.points {
        Points::ToRebuild(less) => (
            "rebuild",
            format!("costs {:.2} less than a new one", money(less)),
        ),
        Points::ToReplace(less) => (
            "replace",
            format!("costs {:.2} less than a rebuild", money(less)),
        ),
        Points::ToNeither => ("rebuild", "costs the same as a new one".into()),
        Points::Structural(what) => ("replace", format!("structural: {what}")),
    })
}

/// Unit, days and why it came; with a number it goes out.
fn head(visit: &Visit, number: Option<i64>) -> String {
    let unit = visit.unit;
    let (comes_in, goes_out) = visit.in_and_out_utc_ms;
    let (drifts, class) = visit.drifts_and_class;
    let mut sheet = format!(
        "# Practice: a year of the Tarn Valley road depot.\n[job]\nunit = \"{}\"\n\
         description = \"{}\"\nmachine = \"{}\"\nserial = \"practice\"\nseal = \"{}\"\n\
         came_in = {}\nsymptom = \"{}\"\ndrifts = \"{drifts}\"\noutside_place = \"rod gland\"\n\
         outside_class = {class}\nby = \"{}\"\n",
        unit.tag,
        unit.description,
        unit.machine,
        unit.seal,
        clock::utc_date(comes_in),
        visit.symptom,
        visit.role,
    );
    if let Some(number) = number {
        let _ = writeln!(sheet, "number = {number}");
        let _ = match visit.becomes {
            Becomes::NeverCame(why) => writeln!(sheet, "withdrawn = \"{why}\""),
            _ => writeln!(sheet, "went_out = {}", clock::utc_date(goes_out)),
        };
    }
    sheet
}

/// What was found and used, and what either way costs.
fn body(visit: &Visit) -> String {
    let mut sheet = String::new();
    for seen in &visit.seen {
        let _ = write!(
            sheet,
            "\n[[finding]]\npart = \"{}\"\ncondition = \"{}\"\nstructural = {}\n",
            seen.part, seen.condition, seen.structural
        );
        if let Some((measured, limit)) = seen.wear_mm {
            let _ = writeln!(
                sheet,
                "measured = \"{measured} mm\"\nlimit = \"{limit} mm\""
            );
        }
    }
    for (what, price, from_kit) in &visit.used {
        let _ = write!(
            sheet,
            "\n[[part]]\nwhat = \"{what}\"\nprice = {price:.2}\nfrom_kit = {from_kit}\n"
        );
    }
    if let Some(sums) = visit.sums {
        let _ = write!(
            sheet,
            "\n[cost]\nmoney = \"GBP\"\nan_hour = {AN_HOUR}\na_day_standing = {A_DAY_STANDING}\n\
             rebuild_hours = {}\nrebuild_outside_work = {:.2}\nrebuild_days = {}\n\
             replace_price = {:.2}\nreplace_hours = 1\nreplace_days = {}\n",
            sums.rebuild_hours,
            sums.outside_work,
            sums.rebuild_days,
            sums.replace_price,
            sums.replace_days
        );
    }
    sheet
}

/// Reads a sheet and enters it; the number of its job.
async fn enter(register: &Register, sheet: String, at_utc_ms: i64) -> anyhow::Result<i64> {
    let read = JobSheet::parse("sheet of the year", &sheet)?;
    let job = new_job(&read, &sheet, ("Europe/London", at_utc_ms));
    Ok(register.enter_job(&job).await?.number)
}
