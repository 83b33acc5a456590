//! A run of the practice bench judged by a table of limits, from file to paper.

use std::path::Path;
use stillrod::certificate::Record;
use stillrod::certificate::compose;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::paper::facts;
use stillrod::recording::Heading;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::rehearsal::LIMITS_TOML;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::scenario;
use stillrod::settings::SettingsError;
use stillrod::settings::with_files;
use stillrod::verdict::Judged;
use stillrod::verdict::Outcome;

#[path = "support/play.rs"]
mod play;

const FILE: &str = "limits/tarn-valley.toml";

/// The shop of the practice bench, naming a file of limits with that text.
fn shop_toml(limits: &str) -> String {
    let named = SHOP_TOML.replace("[shop]\n", &format!("[shop]\nlimits = [\"{FILE}\"]\n"));
    let read = |name: &str| {
        assert_eq!(name, FILE);
        Ok(limits.to_owned())
    };
    with_files("shop.toml", &named, read, |_| Err("no logo".into()))
        .expect("a shop with its limits")
}

/// The same recording with other settings stored in it.
fn stored(recording: &Recording, acceptance: &str, limits: &str) -> Recording {
    let heading = recording.heading();
    let (own, _) = heading
        .setup_toml
        .split_once("[acceptance]")
        .expect("limits of its own");
    Recording::new(Parts {
        heading: Heading {
            setup_toml: format!("{own}[acceptance]\n{acceptance}\n"),
            shop_toml: shop_toml(limits),
            ..heading.clone()
        },
        time_s: recording.time_s().to_vec(),
        tracks: recording.tracks().to_vec(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: Vec::new(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    })
    .expect("as whole as it was")
}

fn judgement(recording: &Recording) -> Result<Judgement, SettingsError> {
    judged(recording, None)
}

#[track_caller]
fn only(judgement: &Judgement) -> &Judged {
    let judged = &judgement.verdict.judged;
    assert_eq!(judged.len(), 1, "{judged:?}");
    &judged[0]
}

/// A tight cylinder, 63 mm, rebuilt, its oil at about 46 °C under 160 bar.
fn with(acceptance: &str, limits: &str) -> Recording {
    let plain = play::recording(&scenario("tight-rebuild").expect("in the catalogue"));
    stored(&plain, acceptance, limits)
}

const CAP_LOSS: &str = "limits = [\"depot-cap-loss\"]\nlevel = \"rebuilt\"";
const SINK: &str = "limits = [\"depot-plough-sink\"]\nlevel = \"rebuilt\"";

/// The example with its movements at the load.
fn at_the_load() -> String {
    LIMITS_TOML.replace(
        "figure = \"drift\"",
        "figure = \"drift\"\nmeasured_at = \"load\"",
    )
}

#[test]
fn a_rebuilt_cylinder_is_judged_by_its_row_and_the_paper_says_which() {
    let recording = with(CAP_LOSS, LIMITS_TOML);
    let found = judgement(&recording).expect("settings that can be used");
    let judged = only(&found);
    assert_eq!(judged.outcome, Outcome::Pass, "{judged:?}");
    let row = "row 4: rebuilt, bore 63 mm, oil 35 °C to 50 °C";
    assert_eq!(
        judged.limit.origin(),
        format!("depot worked example 2026, sheet 1; {row}")
    );
    // As typed, in the sentence, on the paper and in the record.
    assert!(
        judged.reason.contains("limit of 1.8 mL in 10 min"),
        "{judged:?}"
    );
    let facts = facts(&recording, &found, Path::new("run.h5"), "00", None);
    let line = &compose(&facts).results[0];
    assert!(
        line.limit.starts_with("1.8 mL in 10 min (0.180 mL/min)"),
        "{}",
        line.limit
    );
    assert!(
        line.source.contains("sheet 1") && line.source.contains(row),
        "{}",
        line.source
    );
    let record = Record::from_facts(&facts).to_json_pretty();
    for text in [
        "\"as_typed\": \"1.8 mL in 10 min\"",
        "\"limit_unit\": \"mL in 10 min\"",
        &format!("\"basis\": \"{row}\""),
    ] {
        assert!(record.contains(text), "{text}: {record}");
    }
}

/// The same hold, where the table has no row for oil as warm as it was.
#[test]
fn oil_outside_of_every_band_decides_nothing() {
    let colder = LIMITS_TOML.replace("35 °C to 50 °C", "60 °C to 70 °C");
    let found = judgement(&with(CAP_LOSS, &colder)).expect("settings that can be used");
    let judged = only(&found);
    assert_eq!(judged.outcome, Outcome::Undecided, "{judged:?}");
    for text in [
        "no row of the table is for",
        "row 4: rebuilt, bore 63 mm",
        "between rows",
    ] {
        assert!(judged.reason.contains(text), "{}", judged.reason);
    }
    assert_eq!(judged.limit.text, "a table, no row");
}

#[test]
fn a_rod_speed_is_compared_as_a_flow_over_the_bore_and_says_so() {
    let asked = "limits = [\"depot-rod-speed\"]\nlevel = \"rebuilt\"";
    let found = judgement(&with(asked, LIMITS_TOML)).expect("settings that can be used");
    let judged = only(&found);
    assert!(
        judged.reason.contains("rod speed × bore area of 31.17 cm²"),
        "{}",
        judged.reason
    );
    assert_eq!(judged.limit.text, "0.05 mm/min rod speed");
}

#[test]
fn at_a_load_that_moves_three_times_as_far_a_movement_is_three_times_as_large() {
    let asked = format!("{SINK}\nmotion_ratio = 3.0");
    let at_rod = judgement(&with(&asked, LIMITS_TOML)).expect("settings that can be used");
    let at_load = judgement(&with(&asked, &at_the_load())).expect("settings that can be used");
    let number = |found: &Judgement| only(found).number.expect("a movement");
    assert!((number(&at_load) / number(&at_rod) - 3.0).abs() < 1e-9);
    assert!(
        only(&at_load).reason.contains("3 times as far"),
        "{:?}",
        only(&at_load)
    );
}

#[test]
fn what_a_setup_has_to_say_is_asked_at_its_line() {
    let without_level = "limits = [\"depot-cap-loss\"]";
    let of_new = "limits = [\"depot-cap-loss\"]\nlevel = \"new\"";
    for (asked, limits, part) in [
        (SINK, &*at_the_load(), "`motion_ratio`"),
        (without_level, LIMITS_TOML, "goes by level"),
        (
            of_new,
            LIMITS_TOML,
            "no row for this unit (new, bore 63 mm)",
        ),
    ] {
        let recording = with(asked, limits);
        let error = judgement(&recording).expect_err(asked);
        assert!(error.message.contains(part), "{error}");
        let text = &recording.heading().setup_toml;
        let own = text.split("[acceptance]").next().unwrap_or_default();
        assert_eq!(error.line, own.matches('\n').count() + 1, "{error}");
    }
}
