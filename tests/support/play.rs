//! Plays a scenario of the practice bench, from bytes to recording, for any test.

use stillrod::daemon::test_run::recording_from_capture;
use stillrod::recording::Heading;
use stillrod::recording::Recording;
use stillrod::rehearsal::SHOP_FILE_NAME;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::bench_bytes;
use stillrod::settings::Shop;
use stillrod::settings::Test;

/// The recording that the scenario's bytes make.
pub fn recording(scenario: &Scenario) -> Recording {
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).expect("a shop file");
    let setup_toml = scenario.setup_toml();
    let test = Test::parse("setup.toml", &setup_toml, Some(&shop)).expect("a setup file");
    let heading = Heading {
        run_id: format!("{}-1", scenario.name),
        started_utc_ms: 1_767_225_600_000,
        time_zone: shop.time_zone,
        software: env!("CARGO_PKG_VERSION").into(),
        source: String::new(),
        setup_toml,
        shop_toml: SHOP_TOML.into(),
        practice: "practice bench: not a measurement of a real cylinder".into(),
    };
    let bytes = bench_bytes(scenario).expect("physics that can be integrated");
    recording_from_capture(&bytes, heading, &test).expect("a recording")
}
