//! `stillrod rehearse`: the whole job on the practice bench, without hardware.

use super::conduct::Conducted;
use super::conduct::NamedText;
use super::conduct::Task;
use super::conduct::conduct;
use super::hand::Hand;
use super::screen::CAUTION;
use crate::link::Adapter;
use crate::rehearsal::Pace;
use crate::rehearsal::SHOP_FILE_NAME;
use crate::rehearsal::SHOP_TOML;
use crate::rehearsal::Scenario;
use crate::rehearsal::VirtualBoard;
use crate::rehearsal::inquiries;
use crate::rehearsal::rig::eye_units;
use crate::rehearsal::rig::rig_units;
use crate::rehearsal::scenario;
use crate::rehearsal::scenarios;
use anyhow::Context;
use std::path::PathBuf;
use std::time::Duration;

/// How long an adapter that was pulled is waited for.
pub(super) const PATIENCE: Duration = Duration::from_secs(5);

/// What is printed across the paper of a practice run.
pub(super) const PRACTICE: &str = "practice bench: not a measurement of a real cylinder";

/// What a rehearsal was asked for.
#[derive(Debug, Clone)]
pub struct Rehearse {
    /// Name of the scenario.
    pub scenario: String,
    /// Another seed than the scenario's own.
    pub seed: Option<u64>,
    /// Times real time; as fast as it can without.
    pub speed: Option<f64>,
    /// The data folder.
    pub folder: PathBuf,
    /// Another shop file instead of the scenario's own.
    pub shop: Option<NamedText>,
    /// Whether to show nothing while it runs.
    pub quiet: bool,
}

/// Runs a rehearsal from the first byte to the paper.
///
/// # Errors
/// If settings, disk, register or pseudo-terminal refuse.
pub async fn rehearse(asked: &Rehearse) -> anyhow::Result<Conducted> {
    let named = scenario(&asked.scenario).with_context(|| {
        let known: Vec<&str> = scenario_list().concat().iter().map(|s| s.0).collect();
        format!(
            "there is no scenario `{}`; there are: {}",
            asked.scenario,
            known.join(", ")
        )
    })?;
    let scenario = match asked.seed {
        Some(seed) => named.with_seed(seed),
        None => named,
    };
    introduce(asked.quiet, scenario.description, asked.shop.as_ref());
    hold(asked, &scenario, scenario.name).await
}

/// Holds one scenario on a virtual board.
pub(super) async fn hold(
    asked: &Rehearse,
    scenario: &Scenario,
    word: &str,
) -> anyhow::Result<Conducted> {
    let own_shop = || (SHOP_FILE_NAME.to_owned(), SHOP_TOML.to_owned());
    let task = Task {
        setup: (
            format!("setup of scenario {}", scenario.name),
            scenario.setup_toml(),
        ),
        shop: Some(asked.shop.clone().unwrap_or_else(own_shop)),
        practice: PRACTICE.into(),
        word: word.into(),
        patience: PATIENCE,
        folder: asked.folder.clone(),
        quiet: asked.quiet,
    };
    let board = VirtualBoard::start(
        scenario,
        asked.speed.map_or(Pace::AsFastAsItCan, Pace::Times),
    )?;
    conduct(&task, Adapter::new(board.port_path()), Hand::Nobody).await
}

/// Name and description of each scenario, of each unit of the rig, of each
/// that is read by eye, and of each inquiry.
pub fn scenario_list() -> [Vec<(&'static str, &'static str)>; 4] {
    let of_one = scenarios()
        .iter()
        .map(|s| (s.name, s.description))
        .collect();
    let of_several = inquiries()
        .iter()
        .map(|i| (i.name, i.description))
        .collect();
    let of_rig = rig_units()
        .iter()
        .map(|u| (u.name, u.description))
        .collect();
    let by_eye = eye_units()
        .iter()
        .map(|u| (u.name, u.description))
        .collect();
    [of_one, of_rig, by_eye, of_several]
}

/// What a person reads before a practice run.
pub(super) fn introduce(quiet: bool, description: &str, shop: Option<&NamedText>) {
    if !quiet {
        let shop = shop.map_or(SHOP_FILE_NAME, |(file, _)| file);
        println!("PRACTICE BENCH: {description}");
        println!("Limits come from {shop}. The cylinder, its oil and its sensors are invented.\n");
        println!("{CAUTION}\n");
    }
}
