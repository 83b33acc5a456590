//! One file for each screen: what it asks, and its template.

pub mod pair;
pub mod start;
pub mod story;
pub mod units;

mod shared;
