//! A run that is killed at random moments: what was recorded is kept, what comes of it is
//! entered, and it never passes.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;
use stillrod::archive;
use stillrod::daemon::verify::Grade;
use stillrod::daemon::verify::KeyList;
use stillrod::daemon::verify::verify;
use stillrod::recording::Ending;
use stillrod::register::Register;

/// Bench time by time on the clock.
const SPEED: f64 = 60.0;
const N_KILLS: u64 = 20;
/// Settling and hold of the scenario, s of bench time.
const PLANNED_S: f64 = 660.0;

fn start(folder: &Path) -> Child {
    Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args([
            "rehearse",
            "tight-rebuild",
            "--json",
            "--speed",
            &SPEED.to_string(),
        ])
        .args(["--data", folder.to_str().unwrap()])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Length of the journal that is being written, if there is one.
fn journal_bytes(recordings: &Path) -> Option<u64> {
    let entries = std::fs::read_dir(recordings).ok()?;
    let journal = entries
        .flatten()
        .find(|e| e.path().extension().is_some_and(|end| end == "journal"))?;
    Some(journal.metadata().ok()?.len())
}

/// Kills a run after it recorded for a while; returns the seconds of recording, on the clock.
#[allow(
    clippy::disallowed_methods,
    reason = "the test measures how long it let the run go on"
)]
fn kill_after(folder: &Path, wait: Duration) -> f64 {
    let mut child = start(folder);
    let recordings = folder.join("recordings");
    let deadline = Instant::now() + Duration::from_secs(20);
    let first = loop {
        // The heading comes with the file; rows follow it.
        match journal_bytes(&recordings) {
            Some(length) => break length,
            None => assert!(Instant::now() < deadline, "no journal was begun"),
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    while journal_bytes(&recordings) == Some(first) {
        assert!(Instant::now() < deadline, "no rows came");
        std::thread::sleep(Duration::from_millis(2));
    }
    let begun = Instant::now();
    std::thread::sleep(wait);
    let recorded_s = begun.elapsed().as_secs_f64();
    child.kill().unwrap();
    child.wait().unwrap();
    recorded_s
}

#[test]
fn nothing_older_than_a_second_is_lost_and_nothing_interrupted_passes() {
    let n_interrupted: usize = std::thread::scope(|scope| {
        let halves: Vec<_> = (0..2)
            .map(|half| scope.spawn(move || killed(half)))
            .collect();
        halves.into_iter().map(|half| half.join().unwrap()).sum()
    });
    assert!(
        n_interrupted >= 10,
        "only {n_interrupted} runs were killed while recording"
    );
}

/// Every second kill; returns how many hit a run while it was recording.
fn killed(half: u64) -> usize {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let moments = (0..N_KILLS).skip(usize::try_from(half).unwrap()).step_by(2);
    moments
        .filter(|kill| {
            let folder = tempfile::tempdir().unwrap();
            // Moments spread by the golden ratio over the recording and what comes after it.
            let part = (*kill as f64 * 0.618_033_988_75).fract();
            let recorded_s = kill_after(folder.path(), Duration::from_secs_f64(0.05 + 13.5 * part));
            runtime.block_on(is_interrupted(folder.path(), recorded_s, *kill))
        })
        .count()
}

/// Checks what the next start makes of it; whether the recording was interrupted.
async fn is_interrupted(folder: &Path, recorded_s: f64, kill: u64) -> bool {
    let data = stillrod::daemon::folder::DataFolder::open(folder).unwrap();
    let register = Register::open(&data.register()).await.unwrap();
    let done = stillrod::daemon::paper::make_good(&data, &register)
        .await
        .unwrap();
    let entries = register.latest(10).await.unwrap();
    let [entry] = &entries[..] else {
        panic!("kill {kill}: one test: {entries:?}, {done:?}")
    };
    let path = data.recordings().join(&entry.archive_file);
    assert_eq!(
        stillrod::daemon::paper::sha256_hex(&path).unwrap(),
        entry.archive_sha256
    );
    let recording = archive::read(&path).unwrap();
    let is_interrupted = matches!(recording.ending(), Ending::Interrupted(_));
    let kept_s = recording.time_s().last().copied().unwrap_or(0.0) / SPEED;
    eprintln!(
        "kill {kill}: {recorded_s:.2} s recorded, {kept_s:.2} s kept, {}",
        entry.outcome.word()
    );
    if is_interrupted {
        assert_eq!(entry.outcome.word(), "not_valid", "kill {kill}");
        assert_eq!(done.len(), 1, "kill {kill}: {done:?}");
        assert!(
            kept_s > recorded_s - 1.0,
            "kill {kill}: {kept_s:.2} s kept of {recorded_s:.2} s"
        );
    } else {
        // It had come to its end before the kill, which only took the paper.
        assert!(kept_s >= PLANNED_S / SPEED, "kill {kill}: {kept_s:.2} s");
    }
    assert!(
        data.papers()
            .join(format!("{}.pdf", entry.certificate_number))
            .exists()
    );
    assert_eq!(journal_bytes(&data.recordings()), None);
    // A second start finds nothing left to do.
    assert_eq!(
        stillrod::daemon::paper::make_good(&data, &register)
            .await
            .unwrap(),
        Vec::<String>::new()
    );
    register.close().await;
    // Whatever the kill hit, what there is now is signed, chained and whole.
    let keys = KeyList::find(None, folder).unwrap();
    let paper = format!("{}.pdf", entry.certificate_number);
    for path in [data.register(), path, data.papers().join(paper)] {
        let told = verify(&path, &keys, None).await;
        assert_eq!(told.grade, Grade::Whole, "kill {kill}: {told:?}");
    }
    is_interrupted
}
