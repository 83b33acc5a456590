//! The paper of a procedure: one outcome over many steps, each with what it showed.

mod facts;

pub use facts::ProofFacts;
pub use facts::StepFacts;
pub use facts::StepShown;
pub use facts::ZeroRead;
