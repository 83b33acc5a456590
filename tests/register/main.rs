//! The register as people use it: sheets, searches, histories, withdrawn papers, copies, tables.
//!
//! Everything goes through the program; what comes out is read by others: `pdftotext`, a CSV reader,
//! the program on another folder.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod bench;
mod jobs;
mod moved;
mod papers;
mod tables;
