//! A sheet, read and refused.

use super::*;

const SHEET: &str = r#"
[job]
unit = "TV-0312"
came_in = 2026-11-20
symptom = "plough sinks overnight"
drifts = "retracts"
outside_place = "rod gland"
outside_class = 2
by = "fitter 2"

[[finding]]
part = "piston seal"
condition = "lip torn"
measured = "0,12 mm"
limit = "0.05 mm"

[[part]]
what = "seal kit 63/36"
price = 84.00
from_kit = true

[[part]]
what = "guide ring"
count = 2
price = 12.50
from_kit = false

[cylinder]
bore = "63 mm"
rod = "1.4 in"
ports = "G 3/8"

[handover]
rod_straightness = "0.1 mm"
torques = ["gland nut 320 N m"]
plugs_fitted = true

[cost]
money = "GBP"
an_hour = 60
a_day_standing = 150
rebuild_hours = 3.5
rebuild_outside_work = 95
rebuild_days = 0.5
replace_price = 640
replace_hours = 1
replace_days = 4

[decision]
do = "rebuild"
reason = "tube and rod are sound"
"#;

#[test]
fn a_sheet_is_read_as_it_was_written() {
    let sheet = JobSheet::parse("job.toml", SHEET).expect("a sheet");
    assert_eq!(sheet.state, JobState::Open);
    assert_eq!(
        (sheet.came_in.as_str(), sheet.went_out.as_str()),
        ("2026-11-20", "")
    );
    assert_eq!(sheet.outside, Some(("rod gland".into(), 2)));
    let build = &sheet.unit.build;
    assert_eq!((build.bore_um, build.rod_um), (Some(63_000), Some(35_560)));
    assert_eq!((build.kind, build.ports.as_str()), (None, "G 3/8"));
    assert!(sheet.findings[0].is_over());
    assert_eq!(sheet.parts[1].price_hundredths, 1250);
    assert_eq!(sheet.decision, Some(Decision::Rebuild));
    let costs = sheet.costs.expect("costs");
    assert_eq!(costs.rates.hour_hundredths, 6000);
    assert_eq!(sheet.handover.rod_straightness_m, Some(0.1e-3));
    let done = SHEET.replace("symptom", "went_out = 2026-11-22\nsymptom");
    let done = JobSheet::parse("job.toml", &done).expect("a sheet");
    assert_eq!(done.state, JobState::Done);
    let gone = SHEET.replace("symptom", "withdrawn = \"entered twice\"\nsymptom");
    let gone = JobSheet::parse("job.toml", &gone).expect("a sheet");
    assert_eq!(
        (gone.state, gone.reason.as_str()),
        (JobState::Withdrawn, "entered twice")
    );
}

#[test]
fn what_is_wrong_is_said_at_its_line() {
    for (from, to, line, says) in [
        ("2026-11-20", "\"20 November\"", 4, "datetime"),
        ("2026-11-20", "2026-11-20T08:00:00", 4, "2026-11-20"),
        (
            "by = \"fitter 2\"",
            "by = \" \"",
            9,
            "`by` must not be empty",
        ),
        ("outside_class = 2", "outside_class = 6", 8, "0 to 5"),
        ("12.50", "12.505", 22, "two places"),
        ("12.50", "-1", 22, "two places"),
        ("count = 2", "count = 0", 22, "1 or more"),
        ("an_hour = 60", "an_hour = nan", 38, "`an_hour`"),
        (
            "rebuild_hours = 3.5",
            "rebuild_hours = -3",
            38,
            "`rebuild_hours`",
        ),
        (
            "symptom =",
            "went_out = 2026-11-19\nsymptom =",
            5,
            "before it came in",
        ),
        ("drifts = \"retracts\"", "drifts = \"down\"", 6, "down"),
        ("[handover]", "[handover]\nbolts = 3", 34, "bolts"),
    ] {
        let text = SHEET.replacen(from, to, 1);
        let error = JobSheet::parse("job.toml", &text).expect_err(to);
        assert!(error.message.contains(says), "{to}: {error}");
        assert_eq!(error.line, line, "{to}: {error}");
    }
}
