//! A rig that is worked by hand, through its pseudo-terminal and the link: the rows a host gets.
#![cfg(target_os = "linux")]

use std::time::Duration;

use stillrod::circuit::Circuit;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::link::Adapter;
use stillrod::link::Link;
use stillrod::link::LinkEvent;
use stillrod::link::Request;
use stillrod::recording::Row;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::rig::Handling;
use stillrod::rehearsal::rig::Hands;
use stillrod::rehearsal::rig::RigBoard;
use stillrod::rehearsal::rig::rig_unit;
use stillrod::rehearsal::rig::rig_units;
use stillrod::settings::Setup;
use tokio::time::timeout;

const PATIENCE: Duration = Duration::from_secs(20);

/// Time that an operator takes from being asked to beginning, bench s.
const REACTS_S: f64 = 3.0;

struct Host {
    link: Link,
    hands: Hands,
    rows: Vec<Row>,
    _board: RigBoard,
}

impl Host {
    async fn start(name: &str, pace: Pace) -> Self {
        let unit = rig_unit(name).expect("a unit of the rig");
        let (board, hands) = RigBoard::start(&unit, pace).expect("a port");
        let (mut link, _) = Link::open(Adapter::new(board.port_path()), PATIENCE)
            .await
            .expect("a board");
        link.begin_recording();
        link.send(Request::Start);
        Self {
            link,
            hands,
            rows: Vec::new(),
            _board: board,
        }
    }

    /// Time of the newest row, s; 0 before the first.
    fn latest_s(&self) -> f64 {
        self.rows.last().map_or(0.0, |row| row.time_s)
    }

    /// Waits for the next thing on the line and keeps its rows; whether it had any.
    async fn next(&mut self) -> bool {
        let event = timeout(PATIENCE, self.link.next()).await.expect("in time");
        match event {
            LinkEvent::Samples(rows) => self.rows.extend(rows),
            LinkEvent::Hello(_) | LinkEvent::Status(_) => return false,
            other => panic!("{other:?}"),
        }
        true
    }

    /// Takes rows and says so, until one is there of this time, s.
    async fn until(&mut self, until_s: f64) {
        while self.latest_s() < until_s {
            if self.next().await {
                self.hands.seen(self.latest_s());
            }
        }
    }

    /// Asks the operator now, who takes a while to begin; until the rig is left alone.
    async fn asks(&mut self, handling: Handling) {
        let begins_s = self.latest_s() + REACTS_S;
        self.hands.act(begins_s, handling);
        self.until(begins_s + handling.takes_s()).await;
    }
}

fn cap_shut(x_m: f64, bar: f64) -> Handling {
    Handling::Press {
        circuit: Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Locked),
        x_m,
        holding_pa: bar * 1e5,
        other_pa: 0.0,
    }
}

/// Code of a pressure of the rig's sensors, bar of 0 to 400 on 4 to 20 of 25 mA of 18 bits.
fn code_of_bar(bar: f64) -> f64 {
    f64::from((1 << 18) - 1) * (4.0 + 16.0 * bar / 400.0) / 25.0
}

/// A test whose host decides by what it sees: it leaves a hold when the pressure has fallen to
/// 98 bar, and says nothing of rows it has not got.
async fn tested(pace: Pace) -> Host {
    let mut host = Host::start("proof-scored-mid-stroke", pace).await;
    host.asks(Handling::Vent).await;
    host.asks(Handling::Strokes {
        count: 2,
        low_pa: 8e5,
        x_m: 0.2,
    })
    .await;
    for x_m in [0.2, 0.05] {
        host.asks(cap_shut(x_m, 100.0)).await;
        let begun_s = host.latest_s();
        let low = (code_of_bar(98.0)) as i32;
        while host.rows.last().is_some_and(|row| row.codes[0] > low)
            && host.latest_s() < begun_s + 120.0
        {
            let next_s = host.latest_s() + 0.5;
            host.until(next_s).await;
        }
    }
    host.asks(Handling::Vent).await;
    host
}

#[tokio::test]
async fn the_same_decisions_give_the_same_rows_at_any_pace() {
    let first = tested(Pace::AsFastAsItCan).await;
    assert_eq!(first.link.loss().n_samples_lost, 0);
    assert_eq!(first.link.loss().n_frames_bad, 0);
    // One row every tenth of a second, none twice.
    for (index, row) in first.rows.iter().enumerate() {
        assert!(
            (row.time_s - 0.1 * index as f64).abs() < 1e-6,
            "{}",
            row.time_s
        );
    }
    for pace in [Pace::AsFastAsItCan, Pace::Times(40.0)] {
        let again = tested(pace).await;
        assert!(first.rows == again.rows, "{pace:?}");
    }
}

#[tokio::test]
async fn a_rig_streams_two_seconds_beyond_what_was_seen_and_stays_heard() {
    let mut host = Host::start("proof-sound", Pace::AsFastAsItCan).await;
    for (seen_s, last_s) in [
        (0.0, 1.9),
        (0.9, 2.9),
        (17.3, 18.9),
        (18.0, 19.9),
        (5.0, 19.9),
    ] {
        host.hands.seen(seen_s);
        while host.latest_s() < last_s - 1e-6 {
            host.next().await;
        }
        // A status is sent when nothing else was for a second.
        assert!(!host.next().await, "a row too many after {seen_s} s");
        while host.next().await {}
        assert!(
            (host.latest_s() - last_s).abs() < 1e-6,
            "{seen_s}: {}",
            host.latest_s()
        );
    }
}

#[tokio::test]
async fn rows_show_what_is_done_at_the_rig() {
    let mut host = Host::start("proof-sound", Pace::AsFastAsItCan).await;
    host.asks(cap_shut(0.2, 120.0)).await;
    let pressed_s = host.latest_s();
    host.until(pressed_s + 30.0).await;
    host.asks(Handling::Vent).await;
    let vented_s = host.latest_s();
    let truth = |at_s: f64| host.hands.instant(at_s).expect("streamed");
    assert!((truth(pressed_s).p_cap_pa / 120e5 - 1.0).abs() < 0.01);
    assert_eq!(truth(vented_s).p_cap_pa, 0.0);
    // A sensor's zero and span are good to 0.17 bar at 120 bar, its noise to 0.02: four sigma.
    for row in host.rows.iter().filter(|row| row.time_s.fract() < 1e-6) {
        let bar = truth(row.time_s).p_cap_pa / 1e5;
        let by_bar = code_of_bar(1.0) - code_of_bar(0.0);
        let read_bar = (f64::from(row.codes[0]) - code_of_bar(0.0)) / by_bar;
        assert!(
            (read_bar - bar).abs() < 0.6,
            "{} s: {read_bar} {bar}",
            row.time_s
        );
    }
}

/// What is measured goes on where it was when the host stops and starts it again.
#[tokio::test]
async fn a_stopped_rig_stands_still_and_goes_on() {
    let mut host = Host::start("proof-sound", Pace::AsFastAsItCan).await;
    host.asks(cap_shut(0.2, 120.0)).await;
    let streamed_s = host.hands.streamed_s().expect("streamed");
    host.link.send(Request::Stop);
    // Statuses of a stopped board: nothing else comes.
    let mut n_silent = 0;
    while n_silent < 3 {
        n_silent = if host.next().await { 0 } else { n_silent + 1 };
    }
    assert!(host.hands.streamed_s().expect("streamed") <= streamed_s + 2.0);
    let seen_s = host.latest_s();
    host.link.begin_recording();
    host.rows.clear();
    host.link.send(Request::Start);
    host.hands.seen(seen_s + 10.0);
    while host.rows.is_empty() {
        host.next().await;
    }
    let read = f64::from(host.rows[0].codes[0]);
    assert!(
        (read - code_of_bar(119.0)).abs() < code_of_bar(3.0) - code_of_bar(0.0),
        "{read}"
    );
}

#[test]
fn setups_of_the_rig_are_read_once_a_hold_is_added() {
    for unit in rig_units() {
        let text = unit.setup_toml_without_plan();
        assert!(!text.contains('@'), "{text}");
        for absent in ["[hold]", "[acceptance]", "cap_port", "rod_port"] {
            assert!(!text.contains(absent), "{absent}: {text}");
        }
        let plan = "cap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"locked\"\n\
                    [hold]\nsettle = \"10 s\"\nlength = \"60 s\"\n";
        let setup = Setup::parse("setup.toml", &format!("{text}{plan}"), None)
            .unwrap_or_else(|error| panic!("{error}\n{text}"));
        for rating in [setup.ratings.cap, setup.ratings.rod] {
            assert_eq!(rating.expect("rated").pressure.bar(), 160.0);
        }
    }
}
