//! The page on the wall: turns a request into a typed question, and the answer into HTML.
//!
//! What is asked and what comes back stands in [`Desk`] and [`view`]: plain values. The room knows
//! nothing of the register, of files or of how a test is judged; the shell answers. Every screen
//! is one file in `screens` with one template; every word a person reads is in `words`; every
//! check of a request is in `guard`.
//!
//! Invariants: no screen needs a script; nothing is fetched from anywhere else; every error is a
//! page with a sentence; nothing that was typed is shown without being escaped.

mod desk;
pub mod view;

mod server;

mod fields;
mod guard;
mod link;
mod looking;
mod routes;
mod sent;

mod frame;
mod look;
mod screens;
mod speech;
mod speech_bench;
mod words;

pub use desk::Content;
pub use desk::Desk;
pub use desk::Download;
pub use desk::Kind;
pub use desk::Trouble;
pub use guard::Chance;
pub use guard::Pairing;
pub use routes::Page;
pub use server::serve;
