//! What full strokes tell besides their number: length, breakaway, running pressure, friction,
//! stick-slip.
//!
//! Readings come one by one and nothing is kept of them but sums: a [`StrokeWatch`] is as large
//! after an hour as after a minute. [`StrokeWatch::summary`] makes figures of it at any time.
//!
//! It stands here because a figure has its name, its interval and its budget in this room; the
//! oil account itself is not asked.
//!
//! Invariant: what was not read is never stated; a way with a hole in it does not count.

mod bins;
mod figures;
mod mean;
mod paces;
mod rest;
mod summary;
mod watch;
mod way;

pub use figures::StrokeFigure;
pub use summary::StrokeSide;
pub use summary::StrokeSummary;
pub use watch::StrokePlan;
pub use watch::StrokeRow;
pub use watch::StrokeWatch;
pub use way::OneWay;
pub use way::Travel;

#[cfg(test)]
mod tests;
