//! The board on a real pseudo-terminal.
//!
//! No sleeping for luck: each wait is for something that must come.

use super::*;
use crate::rehearsal::VirtualBoard;
use crate::rehearsal::broadcast::bench_bytes;
use crate::rehearsal::scenario::Fault;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::scenario::scenario;
use std::fs::File;
use std::io::Read;
use std::io::Write;

fn there(name: &str) -> Scenario {
    scenario(name).expect("there")
}

fn open(board: &VirtualBoard) -> File {
    File::options()
        .read(true)
        .write(true)
        .open(board.port_path())
        .expect("opens")
}

fn ask(port: &mut File, requests: &[Message<'_>]) {
    let bytes: Vec<u8> = requests.iter().flat_map(frame).collect();
    port.write_all(&bytes).expect("writes");
}

/// Reads so many bytes, or until the port is gone.
fn read(port: &mut File, n_bytes: usize) -> Vec<u8> {
    let mut all = vec![0; n_bytes];
    let mut n_read = 0;
    while n_read < n_bytes {
        match port.read(&mut all[n_read..]) {
            Ok(0) | Err(_) => break,
            Ok(n) => n_read += n,
        }
    }
    all.truncate(n_read);
    all
}

/// Bytes of the bench before its adapter is pulled: those of a bench that ends there.
fn n_before_the_pull(scenario: &Scenario) -> usize {
    let mut ends = scenario.clone();
    for fault in &mut ends.faults {
        if let Fault::Unplugged { back_after_s, .. } = fault {
            *back_after_s = None;
        }
    }
    bench_bytes(&ends).expect("integrates").len()
}

#[test]
fn a_real_port_carries_the_bytes_of_the_bench() {
    let scenario = there("piston-seal-bypass");
    let expected = bench_bytes(&scenario).expect("integrates");
    let board = VirtualBoard::start(&scenario, Pace::AsFastAsItCan).expect("starts");
    let mut port = open(&board);
    ask(&mut port, &[Message::Identify, Message::Start]);
    assert!(read(&mut port, expected.len()) == expected);
}

#[test]
fn a_pulled_adapter_ends_the_port_after_its_last_byte() {
    let scenario = there("adapter-pulled");
    let expected = bench_bytes(&scenario).expect("integrates");
    let board = VirtualBoard::start(&scenario, Pace::AsFastAsItCan).expect("starts");
    let mut port = open(&board);
    ask(&mut port, &[Message::Identify, Message::Start]);
    assert!(read(&mut port, expected.len() + 1) == expected);
    while board.is_alive() {
        sleep(REST);
    }
    assert!(!board.port_path().exists());
}

#[test]
fn an_adapter_that_is_back_has_the_same_name_and_goes_on() {
    let scenario = there("adapter-pulled-and-back");
    let expected = bench_bytes(&scenario).expect("integrates");
    let board = VirtualBoard::start(&scenario, Pace::AsFastAsItCan).expect("starts");
    let mut port = open(&board);
    ask(&mut port, &[Message::Identify, Message::Start]);
    let before = read(&mut port, expected.len());
    assert!(before == expected[..n_before_the_pull(&scenario)]);
    drop(port);
    while !board.port_path().exists() {
        sleep(REST);
    }
    let mut port = open(&board);
    // A status greets the host that is back; then the bench goes on where it stands.
    let greeting = status(&Origin::default(), BoardFlags::RUNNING, 0).len();
    let rest = &expected[before.len()..];
    assert!(read(&mut port, greeting + rest.len()).ends_with(rest));
}

#[test]
fn a_stopped_board_starts_again_with_higher_numbers() {
    let board = VirtualBoard::start(&there("tight-rebuild"), Pace::Times(200.0)).expect("starts");
    let mut port = open(&board);
    let mut receiver = Receiver::new();
    let mut firsts = Vec::new();
    ask(&mut port, &[Message::Start]);
    while firsts.len() < 2 {
        for byte in read(&mut port, 1) {
            match receiver.push(byte) {
                Some(Event::Message(Message::Samples(samples))) => {
                    firsts.push(samples.first_sequence());
                    ask(&mut port, &[Message::Stop, Message::Start]);
                }
                Some(Event::Fault(fault)) => panic!("{fault:?}"),
                _ => {}
            }
        }
    }
    assert_eq!(firsts[0], 0);
    assert!(firsts[1] > 0);
}

#[test]
fn a_rate_it_does_not_have_is_refused() {
    let board = VirtualBoard::start(&there("tight-rebuild"), Pace::Times(1.0)).expect("starts");
    let mut port = open(&board);
    let rate = firmware_protocol::SampleRate::from_millihertz(7_000).expect("a rate");
    ask(&mut port, &[Message::SetRate(rate)]);
    let mut receiver = Receiver::new();
    loop {
        let byte = read(&mut port, 1)[0];
        if let Some(Event::Message(Message::Refused(refused))) = receiver.push(byte) {
            assert_eq!(refused.reason, Reason::RateUnsupported);
            return;
        }
    }
}
