//! An adapter that is gone must cost nothing; alone in its file, because it measures the process.
#![cfg(target_os = "linux")]

mod support {
    #[allow(dead_code, reason = "this file needs the greeting only")]
    pub mod board;
}

use std::time::Duration;
use stillrod::link::Adapter;
use stillrod::link::Link;
use stillrod::link::LinkEvent;
use support::board::ScriptedBoard;
use support::board::hello;

/// Processor time of this process in seconds, from proc(5); a tick is 1/100 s on Linux.
fn processor_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").expect("Linux has it");
    let fields: Vec<&str> = stat.split_whitespace().collect();
    let ticks = |index: usize| fields[index].parse::<f64>().expect("a number");
    (ticks(13) + ticks(14)) / 100.0
}

/// The two serial crates spun at over half a million reads a second when they were retried.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_unplugged_adapter_costs_no_processor_time() {
    let folder = tempfile::tempdir().expect("a folder");
    let name = folder.path().join("adapter");
    let mut board = ScriptedBoard::plug_in(&name);
    board.send(&hello(1));
    let (mut link, _) = Link::open(Adapter::new(&name), Duration::from_secs(60))
        .await
        .expect("a board");
    let before_s = processor_s();
    // The name goes with the adapter: what is left of it could lead to another that is plugged in.
    std::fs::remove_file(&name).expect("a link");
    drop(board);
    let lost = tokio::time::timeout(Duration::from_secs(2), link.next()).await;
    assert!(matches!(lost, Ok(LinkEvent::Lost(_))), "{lost:?}");
    let more = tokio::time::timeout(Duration::from_secs(4), link.next()).await;
    assert!(more.is_err(), "{more:?}");
    let used_s = processor_s() - before_s;
    assert!(used_s < 0.12, "{used_s} s of 4 s");
}
