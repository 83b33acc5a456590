//! A rig that is worked by hand: a practice board whose cylinder is vented, stroked and
//! pressed by an operator while it streams.
//!
//! How long a test takes is decided by whoever runs it, so nothing is played ahead: the
//! board goes on as far as the host has seen and a little further, and each [`Handling`]
//! begins at a bench time that was not streamed yet.
//!
//! Invariant: the same handlings at the same bench times give the same samples, at any pace.

mod handling;
mod unit;
mod units;
mod valve;

mod world;

mod by_eye;
mod glass;
mod habits;
mod hands;
mod record;
mod source;

pub use crate::rehearsal::physics::Passed;
pub use by_eye::EyeRig;
pub use habits::Habits;
pub use habits::Scale;
pub use handling::Handling;
pub use hands::Hands;
pub use hands::LEAD_S;
pub use source::RigBoard;
pub use unit::RigUnit;
pub use unit::Trouble;
pub use units::eye_unit;
pub use units::eye_units;
pub use units::rig_unit;
pub use units::rig_units;

#[cfg(test)]
mod tests;
