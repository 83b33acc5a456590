//! tmp
pub mod physics;
mod stiff;
