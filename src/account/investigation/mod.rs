//! Several holds, one question: which way does the oil take?
//!
//! Phases with different plumbing of one unit give sums of ways; one flow for each way
//! across all phases is fitted to them together. What the sums do not tell apart keeps a
//! range from nothing to all, and is said to be open, with the phase that would tell.
//!
//! Invariants: the time shape of a flow never decides its way, only plumbing does; a hold
//! with one live chamber gives a total only; intervals that overlap are no difference.

mod attribution;
mod next;
mod pattern;
mod phase;
mod source;
mod sums;
mod way;
mod wet;

pub use attribution::Answer;
pub use attribution::Attribution;
pub use attribution::Standing;
pub use attribution::attribute;
pub use next::Next;
pub use next::Step;
pub use pattern::Noticed;
pub use pattern::Pattern;
pub use phase::Phase;
pub use way::Way;
