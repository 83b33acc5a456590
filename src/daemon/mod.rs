//! The shell: files, clock, tasks. It decides nothing about a test.

pub mod journal_file;
