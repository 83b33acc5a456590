//! The shell: files, clock, tasks. It decides nothing about a test.
//!
//! Carries out what the pure rooms ask for and brings them what happened outside.
//!
//! Invariant: a full disk or a lost adapter ends a recording, never the daemon.

pub mod journal_file;
