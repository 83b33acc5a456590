//! `stillrod rehearse`: the whole job on the practice bench, without hardware.

use super::conduct::Conducted;
use super::conduct::NamedText;
use super::conduct::Task;
use super::conduct::conduct;
use crate::link::Adapter;
use crate::rehearsal::Pace;
use crate::rehearsal::SHOP_FILE_NAME;
use crate::rehearsal::SHOP_TOML;
use crate::rehearsal::Scenario;
use crate::rehearsal::VirtualBoard;
use std::path::PathBuf;
use std::time::Duration;

/// How long an adapter that was pulled is waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// What is printed across the paper of a practice run.
const PRACTICE: &str = "practice bench: not a measurement of a real cylinder";

/// What a rehearsal was asked for.
#[derive(Debug, Clone)]
pub struct Rehearse {
    /// The scenario.
    pub scenario: Scenario,
    /// How fast bench time goes.
    pub pace: Pace,
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
    let own_shop = || (SHOP_FILE_NAME.to_owned(), SHOP_TOML.to_owned());
    let task = Task {
        setup: (
            format!("setup of scenario {}", asked.scenario.name),
            asked.scenario.setup_toml(),
        ),
        shop: Some(asked.shop.clone().unwrap_or_else(own_shop)),
        practice: PRACTICE.into(),
        word: asked.scenario.name.into(),
        patience: PATIENCE,
        folder: asked.folder.clone(),
        quiet: asked.quiet,
    };
    let board = VirtualBoard::start(&asked.scenario, asked.pace)?;
    conduct(&task, Adapter::new(board.port_path())).await
}
