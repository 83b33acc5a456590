//! `stillrod rehearse` with a unit of the practice rig: a whole procedure, worked by hands.

use super::conduct::Conducted;
use super::conduct::Task;
use super::conduct::conduct;
use super::hand::Hand;
use super::rehearse::PATIENCE;
use super::rehearse::PRACTICE;
use super::rehearse::Rehearse;
use super::rehearse::introduce;
use super::rig_operator::RigOperator;
use crate::link::Adapter;
use crate::rehearsal::Pace;
use crate::rehearsal::SHOP_FILE_NAME;
use crate::rehearsal::SHOP_TOML;
use crate::rehearsal::rig::RigBoard;
use crate::rehearsal::rig::RigUnit;
use crate::rehearsal::rig::rig_unit;
use crate::settings::with_procedure;

/// The procedure that units of the rig are proven by, and the limits.
const PLAN: &str = "\n[procedure]\nname = \"rebuild-proof-double-acting\"\n\n\
    [acceptance]\nlimits = [\"rebuilt-63-cap-loss\", \"rebuilt-63-rod-gain\", \"rebuilt-63-breakaway\", \
    \"rebuilt-stick-slip\", \"rebuilt-free-air\"]\n";

/// Plays a whole procedure on a unit of the rig; None if no unit has the name.
///
/// # Errors
/// If settings, disk, register or pseudo-terminal refuse.
pub async fn rehearse_proof(asked: &Rehearse) -> anyhow::Result<Option<Conducted>> {
    let Some(named) = rig_unit(&asked.scenario) else {
        return Ok(None);
    };
    let unit = match asked.seed {
        Some(seed) => named.with_seed(seed),
        None => named,
    };
    introduce(asked.quiet, unit.description, asked.shop.as_ref());
    let own_shop = || (SHOP_FILE_NAME.to_owned(), SHOP_TOML.to_owned());
    let task = Task {
        setup: (format!("setup of {}", unit.name), setup_toml(&unit)?),
        shop: Some(asked.shop.clone().unwrap_or_else(own_shop)),
        practice: PRACTICE.into(),
        word: unit.name.into(),
        patience: PATIENCE,
        folder: asked.folder.clone(),
        quiet: asked.quiet,
    };
    let (_, test) = task.settings()?;
    let pace = asked.speed.map_or(Pace::AsFastAsItCan, Pace::Times);
    let (board, hands) = RigBoard::start(&unit, pace)?;
    let hand = Hand::Rig(Box::new(RigOperator::new(hands, test)));
    conduct(&task, Adapter::new(board.port_path()), hand)
        .await
        .map(Some)
}

/// The setup of a unit of the rig, with its procedure behind it.
///
/// # Errors
/// If it is none, which a test would have shown.
pub fn setup_toml(unit: &RigUnit) -> anyhow::Result<String> {
    let text = format!("{}{PLAN}", unit.setup_toml_without_plan());
    Ok(with_procedure(unit.name, &text, |_| {
        Err("nothing stands beside it".into())
    })?)
}
