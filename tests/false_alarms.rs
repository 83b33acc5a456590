//! Sound runs of the practice bench: nothing is said of sensors that are well.
//!
//! Sixty of the campaign that `cargo run --release --example faults -- --clean 2000` runs.

#![allow(dead_code, reason = "parts are shared with two campaigns")]

#[path = "../examples/coverage/chance.rs"]
mod chance;
#[path = "../examples/faults/clean.rs"]
mod clean;
#[path = "../examples/coverage/draw.rs"]
mod draw;
#[path = "../examples/coverage/draw_oil.rs"]
mod draw_oil;
#[path = "../examples/coverage/draw_sensors.rs"]
mod draw_sensors;
#[path = "../examples/faults/play.rs"]
mod play;
#[path = "../examples/coverage/play.rs"]
mod sampled;
#[path = "../examples/coverage/setup_text.rs"]
mod setup_text;

#[test]
fn sixty_sound_runs_are_not_told_of() {
    let told: Vec<String> = (0..60)
        .map(|index| clean::run(7, index))
        .filter(clean::Clean::is_told_of)
        .map(|run| format!("{}: {:?}", run.name, run.false_alarms))
        .collect();
    assert!(told.is_empty(), "{told:#?}");
}
