//! stillrod: a test bench for hydraulic cylinders.
//!
//! The rooms are listed in reading order; data flows one way through them.
//! DEVELOPERS.md has the picture, `tests/architecture.rs` keeps it true.

// uom's `unit!` needs its helper macros in scope; `quantity` alone uses them.
#[macro_use]
extern crate uom;

pub mod quantity;

pub mod fit;

pub mod cylinder;
pub mod oil;

pub mod circuit;
pub mod procedure;

pub mod channel;
pub mod link;

pub mod recording;

pub mod account;
pub mod health;
pub mod verdict;

pub mod foresight;

pub mod bench;

pub mod signature;

pub mod register;

pub mod import;
pub mod settings;

pub mod archive;

pub mod chart;

pub mod certificate;

pub mod exchange;

pub mod rehearsal;

pub mod tag_photo;

pub mod page;

pub mod daemon;
