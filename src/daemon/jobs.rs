//! Job sheets: from a file into the register, and what they say, in words.

use super::clock;
use super::conduct::NamedText;
use crate::register::Hundredths;
use crate::register::Item;
use crate::register::JobEntered;
use crate::register::NewJob;
use crate::register::Points;
use crate::register::Register;
use crate::register::Worth;
use crate::register::worth;
use crate::settings::JobSheet;
use std::fmt::Write as _;

/// A sheet to copy and fill in.
pub const EXAMPLE: &str = include_str!("../settings/job-example.toml");

/// Enters a sheet; returns where it stands, and in words what it says.
///
/// # Errors
/// With file, line, what is wrong and what would be right; or if the register refuses.
pub async fn enter_sheet(
    register: &Register,
    (file, text): &NamedText,
    time_zone: &str,
) -> anyhow::Result<(JobEntered, String)> {
    let sheet = JobSheet::parse(file, text)?;
    let job = new_job(&sheet, text, (time_zone, clock::now_utc_ms()));
    let entered = register.enter_job(&job).await?;
    Ok((entered, sheet_text(&sheet)))
}

/// A sheet as the register takes it, with its text, the shop's zone and when it is entered.
pub(super) fn new_job(
    sheet: &JobSheet,
    text: &str,
    (time_zone, entered_utc_ms): (&str, i64),
) -> NewJob {
    NewJob {
        number: sheet.number,
        unit: sheet.unit.clone(),
        entered_utc_ms,
        time_zone: time_zone.into(),
        role: sheet.role.clone(),
        state: sheet.state,
        reason: sheet.reason.clone(),
        came_in: sheet.came_in.clone(),
        went_out: sheet.went_out.clone(),
        symptom: sheet.symptom.clone(),
        decision: sheet.decision,
        findings: sheet.findings.clone(),
        parts: sheet.parts.clone(),
        sheet: text.into(),
    }
}

/// What a sheet comes to, in words.
pub fn sheet_text(sheet: &JobSheet) -> String {
    let mut text = String::new();
    for finding in &sheet.findings {
        let worn = match (finding.measured_m, finding.limit_m) {
            (Some(m), Some(l)) if finding.is_over() => {
                format!(": {} mm, more than {} mm", mm(m), mm(l))
            }
            (Some(m), Some(l)) => format!(": {} mm, up to {} mm is allowed", mm(m), mm(l)),
            (Some(m), None) => format!(": {} mm", mm(m)),
            (None, _) => String::new(),
        };
        let structural = match finding.structural {
            true => "  (structural)",
            false => "",
        };
        let _ = writeln!(
            text,
            "Found      {}, {}{worn}{structural}",
            finding.part, finding.condition
        );
    }
    for part in sheet.parts.iter().filter(|part| !part.from_kit) {
        let _ = writeln!(text, "Not in kit {} {}", part.count, part.part);
    }
    if let Some(costs) = &sheet.costs {
        let sum = worth(
            (&sheet.findings, &sheet.parts),
            &costs.rebuilding,
            &costs.replacing,
            &costs.rates,
        );
        text.push_str(&worth_text(&sum, &costs.money));
    } else if let Some(found) = sheet.findings.iter().find(|finding| finding.structural) {
        let _ = writeln!(text, "{}", structural(&found.part, &found.condition));
    }
    if let Some(decision) = sheet.decision {
        let _ = writeln!(
            text,
            "Decided    {} by {}: {}",
            decision.word(),
            sheet.role,
            sheet.reason
        );
    }
    text
}

fn structural(part: &str, condition: &str) -> String {
    format!(
        "Structural {part}, {condition}: that decides by itself. Ask the maker of the machine or a qualified \
         person before this cylinder carries anything again."
    )
}

/// The sum of rebuild or replace, in words.
pub fn worth_text(sum: &Worth, money: &str) -> String {
    let mut text = String::new();
    for (way, items) in [("Rebuild", &sum.rebuild), ("Replace", &sum.replace)] {
        let _ = writeln!(text, "{way:<10} {:>12} {money}", amount(total(items)));
        for item in items.iter().filter(|item| item.hundredths != 0) {
            let _ = writeln!(text, "  {:<20} {:>10}", item.what, amount(item.hundredths));
        }
    }
    let tips = |less: Hundredths| {
        let hours = sum.even_at_hours;
        let hours = hours.map(|h| format!("; both cost the same at {h:.1} h of rebuilding"));
        let days = sum.days_that_tip;
        let days = days.map(|d| format!("; {d:.1} more days of standing would make up for it"));
        format!(
            "{} {money} less{}{}",
            amount(less),
            hours.unwrap_or_default(),
            days.unwrap_or_default()
        )
    };
    let _ = match &sum.points {
        Points::ToRebuild(less) => writeln!(text, "Points to  rebuild: {}", tips(*less)),
        Points::ToReplace(less) => writeln!(text, "Points to  replace: {}", tips(*less)),
        Points::ToNeither => writeln!(text, "Points to  neither: both cost the same"),
        Points::Structural(found) => {
            let (part, condition) = found.split_once(": ").unwrap_or((found, ""));
            writeln!(text, "{}", structural(part, condition))
        }
    };
    text
}

pub(super) fn total(items: &[Item]) -> Hundredths {
    items.iter().map(|item| item.hundredths).sum()
}

pub(super) fn amount(hundredths: Hundredths) -> String {
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

/// Millimetres with no more places than they have, to a hundredth.
fn mm(metres: f64) -> String {
    let text = format!("{:.2}", metres * 1e3);
    text.trim_end_matches('0').trim_end_matches('.').into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_example_is_a_sheet_and_its_sum_is_that_of_a_slip_of_paper() {
        let sheet = JobSheet::parse("job-example.toml", EXAMPLE).expect("a sheet");
        let text = sheet_text(&sheet);
        // By hand: kit 84, two guide rings at 12.50, 3.5 h at 60, honing 95, half a day at 150: 489;
        // 640, 1 h and 4 days: 1300.
        for wanted in [
            "Rebuild          489.00 GBP",
            "Replace         1300.00 GBP",
            "Points to  rebuild: 811.00 GBP less; both cost the same at 17.0 h",
            "Found      piston seal, lip torn",
            "0.12 mm, more than 0.05 mm",
            "Not in kit 2 guide ring",
            "Decided    rebuild by fitter 2: tube and rod are sound",
        ] {
            assert!(text.contains(wanted), "{wanted}\n{text}");
        }
        let cracked = EXAMPLE.replace("structural = false", "structural = true");
        let sheet = JobSheet::parse("job-example.toml", &cracked).expect("a sheet");
        let text = sheet_text(&sheet);
        assert!(text.contains("that decides by itself"), "{text}");
        assert!(!text.contains("Points to"), "{text}");
    }
}
