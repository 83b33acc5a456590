//! What can be wrong on the practice bench: with a sensor, with the cylinder, in the setup.
//!
//! Each fault of the list changes one sound or leaking test, so that what it does to the
//! figures can be held against the same test without it.

mod event;
mod list;
mod recorded;
mod sensor;

pub use event::Event;
pub use list::Injected;
pub use list::injected;
pub use recorded::Recorded;
pub use sensor::SensorFault;
