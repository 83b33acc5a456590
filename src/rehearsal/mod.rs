//! The practice bench: a cylinder that does not exist, on a board that does not exist.
//!
//! It has its own physics, a stiff equation that keeps the mass of oil, its own
//! sensors with their errors, a set of named scenarios, and a board that speaks the
//! real bytes through a pseudo-terminal. It shares geometry and oil tables with the
//! rest of the house, and nothing of how a test is evaluated: so a test of one by
//! the other is a test.
//!
//! Invariant: the same scenario with the same seed gives the same bytes.

pub mod physics;
pub mod rig;
pub mod sensors;
pub mod year;

mod catalogue;
mod eyes;
mod fault;
mod inquiry;
mod scenario;
mod setup_text;
mod stiff;
mod stock;

mod board;
mod broadcast;
mod played;
mod pty;

pub use board::BoardError;
pub use board::Pace;
pub use broadcast::bench_bytes;
pub use broadcast::channel_table;
pub use eyes::seen_of;
pub use fault::Event;
pub use fault::Injected;
pub use fault::Recorded;
pub use fault::SensorFault;
pub use fault::injected;
pub use inquiry::Inquiry;
pub use inquiry::InquiryPhase;
pub use inquiry::inquiries;
pub use inquiry::inquiry;
pub use played::VirtualBoard;
pub use scenario::Expected;
pub use scenario::Fault;
pub use scenario::Rehearsal;
pub use scenario::Scenario;
pub use scenario::Unit;
pub use scenario::scenario;
pub use scenario::scenarios;
pub use setup_text::LIMITS_TOML;
pub use setup_text::SHOP_FILE_NAME;
pub use setup_text::SHOP_TOML;
pub use stiff::StiffError;
