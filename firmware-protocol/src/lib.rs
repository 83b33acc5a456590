//! The bytes between a stillrod board and its host.
//!
//! Nothing here does input or output, allocates, or needs `std`.
#![no_std]
