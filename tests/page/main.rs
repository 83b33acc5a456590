//! The page as a browser sees it: the real program on a port that the system chose, asked in plain
//! HTTP. The register is that of the other tests: one unit that came in leaking, was rebuilt and came back.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

#[allow(
    dead_code,
    reason = "the bench of the register's tests has more than is used here"
)]
#[path = "../register/bench.rs"]
mod bench;
mod browser;

mod alarms;
mod bench_test;
mod calibration;
mod deeds;
mod guard;
mod judged_again;
mod recordings;
mod sheets;
mod sheets_typed;
mod tag;
mod zeros;
