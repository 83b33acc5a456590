//! One file for each screen: what it asks, and its template.

pub mod bench;
pub mod bench_live;
pub mod files;
pub mod job;
pub mod pair;
pub mod papers;
pub mod recording;
pub mod shop;
pub mod start;
pub mod story;
pub mod tag;
pub mod units;
pub mod walk;
pub mod zeros;

mod shared;
