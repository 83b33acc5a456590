//! Whole procedures on the practice rig, from bytes through a pseudo-terminal to the outcome.
//!
//! What was true is asked of the rig, not of the account: its physics keeps the mass of oil and
//! shares geometry and oil tables only. Limits are those of the invented depot.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod again;
mod strokes;
mod told;
mod units;

use stillrod::archive;
use stillrod::daemon::conduct::Conducted;
use stillrod::daemon::found::Found;
use stillrod::daemon::proof::Proof;
use stillrod::daemon::rehearse::Rehearse;
use stillrod::daemon::rehearse_proof::rehearse_proof;
use stillrod::recording::Recording;
use tempfile::TempDir;

/// A procedure that was played, with the folder that holds its files.
struct Played {
    proof: Proof,
    recording: Recording,
    archive: std::path::PathBuf,
    record: serde_json::Value,
    folder: TempDir,
}

fn played(unit: &str, seed: Option<u64>) -> Played {
    let folder = tempfile::tempdir().unwrap();
    let asked = Rehearse {
        scenario: unit.into(),
        seed,
        speed: None,
        folder: folder.path().into(),
        shop: None,
        quiet: true,
    };
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let conducted = runtime.block_on(rehearse_proof(&asked)).unwrap();
    let Some(Conducted::Done {
        entered, archive, ..
    }) = conducted
    else {
        panic!("{unit} is a unit of the rig, and nothing forbids its start");
    };
    let Found::Procedure(proof) = entered.found else {
        panic!("a procedure");
    };
    Played {
        proof: *proof,
        recording: archive::read(&archive).unwrap(),
        archive,
        record: serde_json::from_str(&entered.record_json).unwrap(),
        folder,
    }
}
