//! One test from the events of the line: alarms of pressures and of the board.

use super::*;
use crate::link::replay;
use crate::recording::Ending;
use crate::recording::read_journal;
use crate::rehearsal::SHOP_TOML;
use crate::rehearsal::bench_bytes;
use crate::rehearsal::scenario;
use crate::settings::Shop;

/// The first sample over a rating warns in the very step that brings it; nothing is
/// stopped by that.
#[test]
fn a_pressure_over_its_rating_is_warned_of_with_the_sample_that_shows_it() {
    let scenario = scenario("piston-seal-bypass").expect("a scenario");
    let shop = Shop::parse("shop", SHOP_TOML).expect("a shop file");
    let low = scenario
        .setup_toml()
        .replace("[sensors.p_rod]", "[sensors.p_rod]\nrating = \"60 bar\"");
    let test = Test::parse("setup", &low, Some(&shop)).expect("a setup");
    let bytes = bench_bytes(&scenario).expect("physics that can be integrated");
    let mut events = replay(&bytes);
    let hello = events.find_map(|event| match event {
        LinkEvent::Hello(hello) => Some(hello),
        _ => None,
    });
    let heading = Heading {
        run_id: "alarm".into(),
        started_utc_ms: 0,
        time_zone: "UTC".into(),
        software: String::new(),
        source: String::new(),
        setup_toml: low.clone(),
        shop_toml: SHOP_TOML.into(),
        practice: "practice".into(),
    };
    let (mut run, _) = TestRun::begin(heading, &test, &hello.expect("a board")).expect("begins");
    let mut highest = 0.0f64;
    let mut warned_at = None;
    for event in events {
        let before = highest;
        let step = run.take(event, Loss::default()).expect("rows in order");
        let rod = run.latest().find(|(c, _)| c.role == Role::RodPressure);
        highest = highest.max(rod.and_then(|(_, pa)| pa).unwrap_or(0.0));
        if step.warnings.iter().any(|w| w.contains("OVER RATING")) {
            assert!(
                warned_at.is_none() || highest < 62e5,
                "one warning for one excursion"
            );
            warned_at.get_or_insert(before);
        }
        if step.is_over {
            break;
        }
    }
    assert!(highest > 62e5, "{highest}");
    assert!(warned_at.expect("a warning") <= 60e5, "{warned_at:?}");
}

/// Low supply and a faulty clock make readings worthless, however good they look.
#[test]
fn an_alarm_of_the_board_interrupts_the_recording() {
    let scenario = scenario("piston-seal-bypass").expect("a scenario");
    let shop = Shop::parse("shop", SHOP_TOML).expect("a shop file");
    let test = Test::parse("setup", &scenario.setup_toml(), Some(&shop)).expect("a setup");
    let bytes = bench_bytes(&scenario).expect("physics that can be integrated");
    for alarm in [BoardFlags::SUPPLY_LOW, BoardFlags::CLOCK_FAULT] {
        let heading = Heading {
            run_id: "alarm".into(),
            started_utc_ms: 0,
            time_zone: "UTC".into(),
            software: String::new(),
            source: String::new(),
            setup_toml: scenario.setup_toml(),
            shop_toml: SHOP_TOML.into(),
            practice: "practice".into(),
        };
        let hello = replay(&bytes).find_map(|event| match event {
            LinkEvent::Hello(hello) => Some(hello),
            _ => None,
        });
        let (mut run, mut journal) =
            TestRun::begin(heading, &test, &hello.expect("a board")).expect("begins");
        let mut is_over = false;
        for event in replay(&bytes).take(200) {
            let event = match event {
                LinkEvent::Status(status) if run.latest.is_some() => {
                    LinkEvent::Status(firmware_protocol::Status {
                        flags: status.flags.with(alarm),
                        ..status
                    })
                }
                other => other,
            };
            let step = run.take(event, Loss::default()).expect("rows in order");
            journal.extend(step.blocks);
            is_over |= step.is_over;
        }
        assert!(is_over, "{alarm:?}");
        let (parts, _) = read_journal(&journal).expect("a journal");
        assert!(
            matches!(parts.ending, Ending::Interrupted(_)),
            "{:?}",
            parts.ending
        );
    }
}
