//! Adapters for the page, and looks at zeros through one of them.
//!
//! Names of setups are looked up in the listing of the folder and paths of adapters in the list
//! of the system: nothing that a browser sends becomes a path.

use super::ShopDesk;
use super::broken;
use super::setups::read;
use super::setups::setups;
use crate::daemon::clock;
use crate::daemon::paper::chain;
use crate::daemon::zero_check::ZeroRead;
use crate::daemon::zero_check::zero_check;
use crate::link::Access;
use crate::link::AdapterThere;
use crate::link::adapters_there;
use crate::page::Trouble;
use crate::page::view;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use std::path::Path;
use std::sync::Mutex;

/// The last look at zeros, and whether one is being taken.
#[derive(Debug, Default)]
pub(super) struct Zeros {
    last: Mutex<Option<view::ZeroTold>>,
    runs: tokio::sync::Mutex<()>,
}

/// Adapters of this computer, and those that the program was told of.
pub(super) async fn there(desk: &ShopDesk) -> Result<Vec<AdapterThere>, Trouble> {
    let more = desk.more_adapters.clone();
    let listed = tokio::task::spawn_blocking(move || adapters_there(&more));
    listed.await.map_err(|error| broken(error.into()))
}

pub(super) async fn adapters(desk: &ShopDesk) -> Result<Vec<view::AdapterLine>, Trouble> {
    Ok(there(desk).await?.into_iter().map(line).collect())
}

fn line(found: AdapterThere) -> view::AdapterLine {
    let own = std::process::id();
    let others = found.holders.iter().filter(|one| one.pid != own);
    let name = |text: &str| match text.is_empty() {
        true => view::some_program().to_owned(),
        false => text.to_owned(),
    };
    view::AdapterLine {
        path: found.path.display().to_string(),
        held_by: others.map(|one| (name(&one.name), one.pid)).collect(),
        is_ours: found.holders.iter().any(|one| one.pid == own),
        says: found.says,
        is_usb: found.is_usb,
        may: match found.access {
            Access::Yes => view::MayOpen::Yes,
            Access::WantsGroup { group, user } => view::MayOpen::WantsGroup(group, user),
            Access::WantsRule(owner) => view::MayOpen::WantsRule(owner),
            Access::Gone(why) => view::MayOpen::Gone(why),
        },
    }
}

/// One that another program has open is offered too: not every program keeps others out, and one
/// that does is said when it is opened.
pub(super) fn may_be_opened(found: &AdapterThere) -> bool {
    found.access == Access::Yes
}

pub(super) async fn zeros(desk: &ShopDesk) -> Result<view::ZeroSheet, Trouble> {
    let usable = there(desk).await?.into_iter().filter(may_be_opened);
    let last = desk.zeros.last.lock().map_err(|_| Trouble::zeros_wait())?;
    Ok(view::ZeroSheet {
        setups: setups(&desk.folder)
            .into_iter()
            .map(|(name, _)| name)
            .collect(),
        setups_folder: desk.folder.setups().display().to_string(),
        adapters: usable.map(|one| one.path.display().to_string()).collect(),
        last: last.clone(),
    })
}

pub(super) async fn look_at_zeros(
    desk: &ShopDesk,
    setup: &str,
    adapter: &str,
) -> Result<(), Trouble> {
    let Ok(_runs) = desk.zeros.runs.try_lock() else {
        return Err(Trouble::zeros_wait());
    };
    let known = setups(&desk.folder)
        .into_iter()
        .find(|(name, _)| name == setup);
    let (name, path) = known.ok_or_else(Trouble::not_there)?;
    let there = there(desk).await?;
    let found = there.iter().find(|one| one.path == Path::new(adapter));
    let found = found.ok_or_else(Trouble::not_there)?;
    let failed = |error: anyhow::Error| Trouble::no_zeros(&chain(&error));
    let text = read(&path).map_err(failed)?;
    // A link stays on one thread.
    let (file, port) = ((name.clone(), text), found.path.clone());
    let runtime = tokio::runtime::Handle::current();
    let look = move || runtime.block_on(zero_check(&file, &port));
    let read = tokio::task::spawn_blocking(look).await;
    let read = read
        .map_err(|error| broken(error.into()))?
        .map_err(failed)?;
    let system = desk
        .shop
        .as_ref()
        .map_or(UnitSystem::Metric, |shop| shop.units);
    let told = view::ZeroTold {
        at: clock::local(clock::now_utc_ms(), &desk.time_zone()).0,
        setup: name,
        adapter: found.path.display().to_string(),
        lines: read.iter().map(|one| zero_line(one, system)).collect(),
    };
    *desk.zeros.last.lock().map_err(|_| Trouble::zeros_wait())? = Some(told);
    Ok(())
}

fn zero_line(read: &ZeroRead, system: UnitSystem) -> view::ZeroLine {
    let (factor, unit) = shown("bar", system);
    view::ZeroLine {
        sensor: read.role.plain().into(),
        serial: read.serial.clone(),
        said: match &read.zero {
            None => view::ZeroSaid::Broken(read.n.1, read.n.0),
            Some(zero) => {
                let text = |si: f64, as_fine_as: f64| {
                    format!("{} {unit}", number(si * factor, as_fine_as * factor))
                };
                // A thousandth of a bar is below anything that a zero is used for.
                let fine = zero.scatter_si.max(100.0);
                let (mean, scatter) = (text(zero.mean_si, fine), text(zero.scatter_si, fine));
                let allowed = text(zero.allowed_si, zero.allowed_si);
                match zero.is_within {
                    true => view::ZeroSaid::Within(mean, scatter, allowed),
                    false => view::ZeroSaid::Off(mean, scatter, allowed),
                }
            }
        },
    }
}
