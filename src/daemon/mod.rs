//! The shell: clock, files, adapters, screen. It decides nothing about a test.
//!
//! A test runs from bytes to paper here: the journal while it runs, then the archive
//! file, then the register row with the number, then the certificate file. Whatever
//! is missing of that after a power cut is made good at the next start.

pub mod clock;
pub mod folder;
pub mod keys;

pub mod closing;
pub mod journal_file;
pub mod looks;
pub mod strokes_live;
pub mod test_run;

pub mod found;
pub mod judgement;
pub mod screen;

mod letterhead;
pub mod live;
mod pairing;
pub mod paper;

pub mod conduct;
pub mod hand;
pub mod hold_length;
pub mod intended;
pub mod onlooker;
pub mod rig_operator;
pub mod session;
mod terminal;

pub mod a_year;
pub mod attach;
pub mod built;
pub mod by_chance;
pub mod by_eye;
pub mod calibrate;
pub mod calibrate_walk;
pub mod desk;
pub mod exchange;
pub mod find;
pub mod history;
pub mod inquire;
pub mod investigation;
pub mod jobs;
pub mod judge;
pub mod label;
pub mod moving;
pub mod plan;
pub mod procedures;
pub mod proof;
pub mod rehearse;
pub mod rehearse_by_eye;
pub mod rehearse_proof;
pub mod reissue;
pub mod serve;
pub mod setup_file;
pub mod shop_file;
pub mod story;
pub mod verify;
mod watch;
pub mod zero_check;
