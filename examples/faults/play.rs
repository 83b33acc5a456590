//! A scenario played from bytes to its judgement.

use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::test_run::recording_from_capture;
use stillrod::recording::Heading;
use stillrod::recording::Recording;
use stillrod::rehearsal::SHOP_FILE_NAME;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::bench_bytes;
use stillrod::settings::Setup;
use stillrod::settings::Shop;
use stillrod::settings::Test;

/// The recording that the scenario's bytes make, or why there is none.
pub fn recording(scenario: &Scenario) -> anyhow::Result<(Recording, Setup)> {
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML)?;
    let setup_toml = scenario.setup_toml();
    let setup = Setup::parse("setup.toml", &setup_toml, Some(&shop))?;
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
    let test = Test::one_hold(&heading.setup_toml, setup.clone());
    let bytes = bench_bytes(scenario)?;
    Ok((recording_from_capture(&bytes, heading, &test)?, setup))
}

/// What comes of it.
pub fn judgement(scenario: &Scenario) -> anyhow::Result<Judgement> {
    Ok(judged(&recording(scenario)?.0, None)?)
}
