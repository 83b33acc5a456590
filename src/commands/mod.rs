//! Commands whose bodies are longer than a line of the table in `main`.

pub mod key;
pub mod verify;
