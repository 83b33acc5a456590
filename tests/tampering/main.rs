//! What was signed and then changed is found, and named: papers, records, recordings, registers.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

#[path = "../support/play.rs"]
mod play;

mod files;
mod program;
mod registers;
mod shop;
