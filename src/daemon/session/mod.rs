//! A test that runs within this program while others look: the bench of the page.
//!
//! The test has a thread of its own, so that judging a hold never keeps a page waiting; what it
//! is and how it stands is read from a [`Standing`], what people say goes to it through a channel.
//!
//! Invariants: one test at a time; whoever began it answers, others look on until they take it
//! over; a test is only over when its recording is kept.

mod page_hand;
mod practice;
mod running;
mod seen;
mod standing;
mod steady;

pub use page_hand::PageHand;
pub use page_hand::Said;
pub use practice::PracticePiece;
pub use practice::practice_pieces;
pub use practice::practice_setup;
pub use running::OnTheBench;
pub use running::Source;
pub use running::Wanted;
pub use standing::About;
pub use standing::Asked;
pub use standing::Message;
pub use standing::Over;
pub use standing::Phase;
pub use standing::ReadingNow;
pub use standing::RigState;
pub use standing::Standing;
pub use standing::StepNow;
pub use steady::ReadingState;
