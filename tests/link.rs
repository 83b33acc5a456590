//! The link against a pseudo-terminal: pieces, foreign text, silence, unplugging.
#![cfg(target_os = "linux")]

mod support {
    pub mod board;
}

use firmware_protocol::BoardFlags;
use firmware_protocol::Kind;
use std::path::PathBuf;
use std::time::Duration;

use stillrod::link::Adapter;
use stillrod::link::Link;
use stillrod::link::LinkError;
use stillrod::link::LinkEvent;
use stillrod::link::Request;
use stillrod::recording::Gap;
use stillrod::recording::GapCause;
use stillrod::recording::Row;
use support::board::ScriptedBoard;
use support::board::hello;
use support::board::samples;
use support::board::status;
use tempfile::TempDir;
use tokio::time::Instant;

const PATIENCE: Duration = Duration::from_secs(20);

struct Bench {
    board: ScriptedBoard,
    link: Link,
    name: PathBuf,
    _folder: TempDir,
}

/// A board that has just been powered up, and an open link to it.
async fn bench(patience: Duration) -> Bench {
    let folder = tempfile::tempdir().expect("a folder");
    let name = folder.path().join("adapter");
    let mut board = ScriptedBoard::plug_in(&name);
    board.send(b"boot v3\r\n");
    board.send(&hello(1));
    let (link, _) = Link::open(Adapter::new(&name), patience)
        .await
        .expect("a board");
    Bench {
        board,
        link,
        name,
        _folder: folder,
    }
}

impl Bench {
    /// The next event but greetings and statuses, within `seconds`.
    async fn next(&mut self, seconds: f64) -> LinkEvent {
        let wanted = async {
            loop {
                match self.link.next().await {
                    LinkEvent::Hello(_) | LinkEvent::Status(_) => {}
                    event => return event,
                }
            }
        };
        tokio::time::timeout(Duration::from_secs_f64(seconds), wanted)
            .await
            .expect("something should have happened")
    }

    async fn rows(&mut self) -> Vec<Row> {
        match self.next(5.0).await {
            LinkEvent::Samples(rows) => rows,
            other => panic!("{other:?}"),
        }
    }
}

fn times_s(rows: &[Row]) -> Vec<f64> {
    rows.iter().map(|row| row.time_s).collect()
}

#[tokio::test]
async fn rows_come_whole_from_pieces_between_foreign_text() {
    let mut bench = bench(PATIENCE).await;
    bench.board.send(b"AT\r\nAT\r\n");
    for byte in samples(0, 3, 7_000_000) {
        bench.board.send(&[byte]);
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    let rows = bench.rows().await;
    assert_eq!(times_s(&rows), [0.0, 0.1, 0.2]);
    assert_eq!(rows[2].codes, [2, -2]);
    bench.board.send(&samples(3, 1, 7_300_000));
    assert_eq!(times_s(&bench.rows().await), [0.3]);
    assert_eq!(bench.link.loss().n_frames_bad, 1, "the AT text");
    bench.link.begin_recording();
    bench.board.send(&samples(4, 1, 7_400_000));
    assert_eq!(times_s(&bench.rows().await), [0.0]);
    assert_eq!(bench.link.loss().n_frames_bad, 0);
}

#[tokio::test]
async fn a_second_program_is_refused() {
    let bench = bench(PATIENCE).await;
    let second = Link::open(Adapter::new(&bench.name), PATIENCE).await;
    let error = second.expect_err("it is taken");
    assert!(matches!(error, LinkError::Busy { .. }), "{error}");
    bench.link.close().await;
    // The hold of the board keeps the line; the host's lock is gone.
    let mut board = bench.board;
    board.send(&hello(1));
    let again = Link::open(Adapter::new(&bench.name), PATIENCE).await;
    again.expect("it is free");
}

#[tokio::test]
async fn a_board_that_falls_silent_is_noticed_after_two_seconds() {
    let mut bench = bench(PATIENCE).await;
    bench.board.send(&samples(0, 2, 0));
    bench.rows().await;
    let from = Instant::now();
    assert_eq!(bench.next(4.0).await, LinkEvent::Silent);
    let after_s = from.elapsed().as_secs_f64();
    assert!((1.9..2.5).contains(&after_s), "{after_s} s");
    bench.board.send(&samples(30, 1, 3_000_000));
    let LinkEvent::Back { away_s } = bench.next(1.0).await else {
        panic!("the board is back")
    };
    assert!((2.0..3.0).contains(&away_s), "{away_s} s");
    let gap = Gap {
        from_s: 0.1,
        until_s: 3.0,
        cause: GapCause::Silent,
    };
    assert_eq!(bench.next(1.0).await, LinkEvent::Gap(gap));
    assert_eq!(times_s(&bench.rows().await), [3.0]);
    assert_eq!(bench.link.loss().n_samples_lost, 28);
}

#[tokio::test]
async fn after_a_replug_time_goes_on_by_the_ticks_of_the_board() {
    let mut bench = bench(PATIENCE).await;
    bench.link.send(Request::Start);
    bench.board.send(&samples(0, 2, 0));
    bench.rows().await;
    bench.board = {
        drop(bench.board);
        let mut board = ScriptedBoard::plug_in(&bench.name);
        board.send(&samples(19, 1, 1_900_000));
        board.send(&hello(1));
        board
    };
    let from = Instant::now();
    assert!(matches!(bench.next(2.0).await, LinkEvent::Lost(_)));
    assert!(matches!(bench.next(3.0).await, LinkEvent::Back { .. }));
    assert!(from.elapsed() < Duration::from_secs(3));
    // The block before the greeting might have been another board's: it counts as lost.
    bench.board.send(&samples(20, 1, 2_000_000));
    let gap = Gap {
        from_s: 0.1,
        until_s: 2.0,
        cause: GapCause::Unplugged,
    };
    assert_eq!(bench.next(1.0).await, LinkEvent::Gap(gap));
    assert_eq!(times_s(&bench.rows().await), [2.0]);
    assert_eq!(bench.link.loss().n_samples_lost, 18);
}

#[tokio::test]
async fn a_board_that_restarted_is_started_again_and_the_host_bridges_the_time() {
    let mut bench = bench(PATIENCE).await;
    bench.link.send(Request::Start);
    bench.board.send(&samples(0, 2, 50_000_000));
    bench.rows().await;
    let from = Instant::now();
    tokio::time::sleep(Duration::from_millis(1_100)).await;
    assert_eq!(bench.board.asked(), [Kind::Identify, Kind::Start]);
    bench.board.send(&hello(1));
    bench.board.send(&status(10_000, BoardFlags::NONE, 0));
    while !matches!(bench.link.next().await, LinkEvent::Status(_)) {}
    tokio::time::sleep(Duration::from_millis(100)).await;
    assert_eq!(bench.board.asked(), [Kind::Start]);
    bench.board.send(&samples(0, 1, 20_000));
    let LinkEvent::Gap(gap) = bench.next(1.0).await else {
        panic!("a gap")
    };
    assert_eq!((gap.from_s, gap.cause), (0.1, GapCause::Restarted));
    let away_s = from.elapsed().as_secs_f64();
    let error_s = gap.until_s - 0.1 - away_s;
    assert!(error_s.abs() < 0.1, "{gap:?} after {away_s} s");
    assert_eq!(times_s(&bench.rows().await), [gap.until_s]);
}

#[tokio::test]
async fn another_board_on_the_same_adapter_gives_no_rows() {
    let mut bench = bench(Duration::from_secs(3)).await;
    drop(bench.board);
    bench.board = ScriptedBoard::plug_in(&bench.name);
    bench.board.send(&hello(2));
    bench.board.send(&samples(0, 2, 0));
    assert!(matches!(bench.next(2.0).await, LinkEvent::Lost(_)));
    assert!(matches!(bench.next(3.0).await, LinkEvent::OtherBoard(_)));
    assert_eq!(bench.next(4.0).await, LinkEvent::GaveUp);
}

#[tokio::test]
async fn patience_ends() {
    let mut bench = bench(Duration::from_millis(2_500)).await;
    std::fs::remove_file(&bench.name).expect("our name");
    drop(bench.board);
    let from = Instant::now();
    assert!(matches!(bench.link.next().await, LinkEvent::Lost(_)));
    assert!(from.elapsed() < Duration::from_secs(2));
    assert_eq!(bench.link.next().await, LinkEvent::GaveUp);
    assert!(from.elapsed() < Duration::from_millis(3_000));
    let nothing = tokio::time::timeout(Duration::from_millis(200), bench.link.next()).await;
    assert!(nothing.is_err(), "nothing comes after giving up");
}

#[tokio::test]
async fn a_line_without_a_board_is_told_from_a_dead_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let [dead, text] = ["dead", "text"].map(|name| folder.path().join(name));
    let _dead = ScriptedBoard::plug_in(&dead);
    let mut chatty = ScriptedBoard::plug_in(&text);
    chatty.send(b"$00042,201.35\r\n");
    let (dead, text) = tokio::join!(
        Link::open(Adapter::new(&dead), PATIENCE),
        Link::open(Adapter::new(&text), PATIENCE)
    );
    let dead = dead.expect_err("no board").to_string();
    assert!(dead.contains("nothing came"), "{dead}");
    let text = text.expect_err("no board").to_string();
    assert!(text.contains("15 bytes came"), "{text}");
}
