//! Copies of everything to another disk, made beside the page.

use super::ShopDesk;
use crate::daemon::clock;
use crate::daemon::folder::DataFolder;
use crate::daemon::moving::backup_of;
use crate::daemon::paper::chain;
use crate::page::Trouble;
use crate::page::view;
use crate::register::Register;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::Mutex;

/// Where copies go, and what the last one came to.
#[derive(Debug, Clone)]
pub struct Copies {
    to: Option<PathBuf>,
    state: Arc<Mutex<view::CopyState>>,
}

impl Copies {
    /// Copies to a folder on another disk; None if the program was not told of one.
    pub fn to(folder: Option<PathBuf>) -> Self {
        Self {
            to: folder,
            state: Arc::new(Mutex::new(view::CopyState::None)),
        }
    }

    fn now(&self) -> view::CopyState {
        let state = self.state.lock();
        state.map_or(view::CopyState::None, |state| state.clone())
    }

    fn set(&self, state: view::CopyState) {
        if let Ok(mut now) = self.state.lock() {
            *now = state;
        }
    }
}

pub(super) fn moving(desk: &ShopDesk) -> view::Moving {
    let shown = |path: &Path| {
        let whole = std::path::absolute(path);
        whole.map_or_else(
            |_| path.display().to_string(),
            |whole| whole.display().to_string(),
        )
    };
    view::Moving {
        data: shown(desk.folder.root()),
        copies: desk.copies.to.as_deref().map(shown),
        copy: desk.copies.now(),
    }
}

/// Begins a copy, if none is being made.
pub(super) fn begin(desk: &ShopDesk) -> Result<(), Trouble> {
    let Some(to) = desk.copies.to.clone() else {
        return Err(Trouble::no_copies());
    };
    let zone = desk.time_zone();
    let now = move || clock::local(clock::now_utc_ms(), &zone).0;
    {
        let state = desk.copies.state.lock();
        let mut state = state.map_err(|_| Trouble::copy_runs())?;
        if matches!(*state, view::CopyState::Runs(_)) {
            return Err(Trouble::copy_runs());
        }
        *state = view::CopyState::Runs(now());
    }
    let (copies, folder, register) = (
        desk.copies.clone(),
        desk.folder.clone(),
        desk.register.clone(),
    );
    tokio::spawn(async move {
        let made = copied(&folder, &register, &to).await;
        copies.set(match made {
            Ok((written, there)) => view::CopyState::Done(now(), written, there),
            Err(error) => view::CopyState::Failed(now(), chain(&error)),
        });
    });
    Ok(())
}

async fn copied(folder: &DataFolder, register: &Register, to: &Path) -> anyhow::Result<(i64, i64)> {
    // Without the secret key: what is pressed on a wall must not carry it away.
    let (copied, _) = backup_of(folder, register, to, false).await?;
    Ok((copied.n_written as i64, copied.n_there as i64))
}
