//! A played hold as the program sees it: its evaluation, and what health says of it.

use super::play::Played;
use stillrod::account::Evaluation;
use stillrod::account::EvaluationError;
use stillrod::account::Term;
use stillrod::account::evaluate_without;
use stillrod::health::Flag;
use stillrod::health::examine;

/// A hold evaluated as the program would.
pub struct Seen {
    /// The evaluation, or why there is none.
    pub evaluation: Result<Evaluation, EvaluationError>,
    /// What the data say about the measurement.
    pub flags: Vec<Flag>,
}

/// Evaluates a played hold.
pub fn see(played: &Played, without: Option<Term>) -> Seen {
    let subject = &played.setup.subject;
    Seen {
        evaluation: evaluate_without(without, &played.recording, subject),
        flags: examine(
            &played.recording,
            &subject.piece,
            &subject.circuit,
            &played.setup.ratings,
        ),
    }
}
