//! `stillrod rehearse` without electronics: somebody reads the instruments of the practice
//! cylinder, through the same state machine as at a terminal.

use super::by_eye::Person;
use super::by_eye::PracticePerson;
use super::conduct::Conducted;
use super::conduct::Task;
use super::conduct::conduct_by_eye;
use super::rehearse::PATIENCE;
use super::rehearse::PRACTICE;
use super::rehearse::Rehearse;
use super::rehearse::introduce;
use crate::rehearsal::SHOP_FILE_NAME;
use crate::rehearsal::SHOP_TOML;
use crate::rehearsal::rig::EyeRig;
use crate::rehearsal::rig::Habits;
use crate::rehearsal::rig::RigUnit;
use crate::rehearsal::rig::Scale;
use crate::rehearsal::rig::eye_unit;
use crate::settings::Test;
use crate::settings::with_procedure;
use anyhow::Context;

/// The procedure and the limits of a shop without electronics.
const PLAN: &str = "\n[procedure]\nname = \"gauge-and-cup\"\n\n\
    [acceptance]\nlimits = [\"in-service-63-cap-loss\", \"in-service-63-bypass\"]\n";

/// Plays a test that is read by eye; None if no unit has the name.
///
/// # Errors
/// If settings, disk or register refuse.
pub async fn rehearse_by_eye(asked: &Rehearse) -> anyhow::Result<Option<Conducted>> {
    let Some(named) = eye_unit(&asked.scenario) else {
        return Ok(None);
    };
    let unit = match asked.seed {
        Some(seed) => named.with_seed(seed),
        None => named,
    };
    introduce(asked.quiet, unit.description, asked.shop.as_ref());
    let own_shop = || (SHOP_FILE_NAME.to_owned(), SHOP_TOML.to_owned());
    let task = Task {
        setup: (format!("setup of {}", unit.name), setup_by_eye(&unit)?),
        shop: Some(asked.shop.clone().unwrap_or_else(own_shop)),
        practice: PRACTICE.into(),
        word: unit.name.into(),
        patience: PATIENCE,
        folder: asked.folder.clone(),
        quiet: asked.quiet,
    };
    let (_, test) = task.settings()?;
    let person = somebody(&unit, &test)?.at_speed(asked.speed);
    conduct_by_eye(&task, Person::Practice(Box::new(person)))
        .await
        .map(Some)
}

/// Somebody who reads a unit of the rig for a test.
///
/// # Errors
/// If the test is read by a board.
pub fn somebody(unit: &RigUnit, test: &Test) -> anyhow::Result<PracticePerson> {
    let by_eye = test
        .by_eye()
        .context("this test is read by a board")?
        .clone();
    let scales: Vec<Scale> = by_eye
        .instruments
        .iter()
        .map(|own| Scale {
            range_si: own.range_si,
            division_si: own.division_si,
            error_si: own.error_si,
        })
        .collect();
    let habits = Habits::new(&scales, unit.seed);
    Ok(PracticePerson::new(
        EyeRig::new(unit),
        habits,
        test.clone(),
        by_eye,
    ))
}

/// The setup of a unit that is read by eye, with its procedure behind it.
///
/// # Errors
/// If it is none, which a test would have shown.
pub fn setup_by_eye(unit: &RigUnit) -> anyhow::Result<String> {
    let text = format!("{}{PLAN}", unit.setup_toml_by_eye());
    Ok(with_procedure(unit.name, &text, |_| {
        Err("nothing stands beside it".into())
    })?)
}
