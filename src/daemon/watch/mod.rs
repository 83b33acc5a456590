//! A look each few seconds at what goes wrong with a computer: its disk, its clock, its sleep, and
//! other programs in the same data folder.
//!
//! What is seen is found by pure functions from what was read; the reading is here. Nothing is
//! changed by a look, nothing is locked, and nothing that cannot be read is taken for trouble.

mod clocks;
mod others;
mod room;

use super::clock::Forward;
use super::clock::now_utc_ms;
use super::folder::DataFolder;
use crate::link::holders;
use clocks::Clocks;
pub(super) use clocks::Happened;
use clocks::Moment;
pub(super) use clocks::What;
pub(super) use others::Other;
use others::others;
pub(super) use room::Room;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::Mutex;
use std::time::Duration;

/// Time between two looks.
const EACH: Duration = Duration::from_secs(5);

/// Most journals that are looked at.
const MOST_JOURNALS: usize = 200;

/// What was seen.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seen {
    /// Room on the disk of the data folder; None if it cannot be told.
    pub room: Option<Room>,
    /// What happened to clock and computer and nobody has read yet, and how many earlier ones
    /// were left out.
    pub happened: (Vec<Happened>, usize),
    /// Other programs that use the data folder.
    pub others: Vec<Other>,
}

/// Looks, and keeps what it saw.
#[derive(Debug, Clone)]
pub(super) struct Watch {
    folder: DataFolder,
    kept: Arc<Mutex<Kept>>,
}

#[derive(Debug)]
struct Kept {
    clock: Forward,
    clocks: Clocks,
    /// Others of the look before: a program that comes and goes at once is not told of.
    before: Vec<Other>,
}

impl Watch {
    /// Begins to watch a data folder.
    pub fn of(folder: &DataFolder) -> Self {
        let clock = Forward::start();
        Self {
            folder: folder.clone(),
            kept: Arc::new(Mutex::new(Kept {
                clock,
                clocks: Clocks::from(moment(&clock)),
                before: Vec::new(),
            })),
        }
    }

    /// Looks each few seconds for as long as there is another than this copy.
    pub async fn go_on(self) {
        let mut each = tokio::time::interval(EACH);
        // After a sleep one look is enough.
        each.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
        while Arc::strong_count(&self.kept) > 1 {
            each.tick().await;
            self.look();
        }
    }

    /// Looks now.
    pub fn look(&self) -> Seen {
        let others = others(
            &holders(&self.files(), Path::new("/proc")),
            &self.folder.register(),
            std::process::id(),
        );
        // Somebody who panicked here left nothing half done.
        let mut kept = self.kept.lock().unwrap_or_else(|gone| gone.into_inner());
        let now = moment(&kept.clock);
        kept.clocks.look(now);
        let stay = others.iter().filter(|one| kept.before.contains(one));
        let stay = stay.cloned().collect();
        kept.before = others;
        Seen {
            room: self.room(),
            happened: kept.clocks.happened(),
            others: stay,
        }
    }

    /// Somebody has read what happened up to an instant, and that one.
    pub fn read_until(&self, utc_ms: i64) {
        let mut kept = self.kept.lock().unwrap_or_else(|gone| gone.into_inner());
        kept.clocks.read_until(utc_ms);
    }

    fn room(&self) -> Option<Room> {
        let disk = rustix::fs::statvfs(self.folder.root()).ok()?;
        Some(Room::of(disk.f_bavail.saturating_mul(disk.f_frsize)))
    }

    /// Files by which others are known: the register, and journals of running tests.
    fn files(&self) -> Vec<PathBuf> {
        let journals = std::fs::read_dir(self.folder.recordings()).into_iter();
        let journals = journals.flatten().flatten().map(|entry| entry.path());
        let journals = journals.filter(|path| path.extension().is_some_and(|end| end == "journal"));
        let register = std::iter::once(self.folder.register());
        register.chain(journals.take(MOST_JOURNALS)).collect()
    }
}

fn moment(clock: &Forward) -> Moment {
    Moment {
        wall_utc_ms: now_utc_ms(),
        awake_s: clock.seconds(),
        up_s: std::fs::read_to_string("/proc/uptime")
            .ok()
            .and_then(|text| clocks::up_s(&text)),
    }
}
