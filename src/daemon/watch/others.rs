//! Other programs in the data folder: whoever has the register open, and whoever writes a journal.
//!
//! Invariant: pure; who has what open is handed in.

use crate::link::Holder;
use std::path::Path;

/// Most programs that are told of.
const MOST_TOLD: usize = 8;

/// Another program in the data folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Other {
    /// Its number.
    pub pid: u32,
    /// What it calls itself; may be empty.
    pub name: String,
    /// The run that it records, if it does.
    pub run: Option<String>,
}

/// Other programs than `own`, each once; whoever records stands first.
pub fn others(holders: &[Holder], register: &Path, own: u32) -> Vec<Other> {
    let mut found: Vec<Other> = Vec::new();
    for holder in holders.iter().filter(|holder| holder.pid != own) {
        let is_register = holder.path == register;
        // Whoever only reads a journal does not record.
        if !is_register && !holder.writes {
            continue;
        }
        let stem = holder.path.file_stem().filter(|_| !is_register);
        let run = stem.map(|stem| stem.to_string_lossy().into_owned());
        let n_found = found.len();
        match found.iter_mut().find(|other| other.pid == holder.pid) {
            Some(other) => other.run = other.run.take().or(run),
            None if n_found < MOST_TOLD => found.push(Other {
                pid: holder.pid,
                name: holder.name.clone(),
                run,
            }),
            None => {}
        }
    }
    found.sort_by_key(|other| (other.run.is_none(), other.pid));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    const REGISTER: &str = "/data/register.db";
    const JOURNAL: &str = "/data/recordings/20261127-tight.journal";

    fn holder(pid: u32, path: &str, writes: bool) -> Holder {
        Holder {
            pid,
            name: format!("program-{pid}"),
            path: path.into(),
            writes,
        }
    }

    #[track_caller]
    fn check(holders: &[Holder], expected: &[(u32, Option<&str>)]) {
        let found = others(holders, Path::new(REGISTER), 1);
        let found: Vec<_> = found
            .iter()
            .map(|one| (one.pid, one.run.as_deref()))
            .collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn whoever_records_or_has_the_register_open_is_told_of_and_never_ourselves() {
        check(&[], &[]);
        check(&[holder(1, REGISTER, true), holder(1, JOURNAL, true)], &[]);
        check(
            &[
                holder(3, REGISTER, true),
                holder(4, REGISTER, false),
                holder(4, JOURNAL, true),
            ],
            &[(4, Some("20261127-tight")), (3, None)],
        );
    }

    #[test]
    fn whoever_only_reads_a_journal_does_not_record() {
        check(&[holder(5, JOURNAL, false)], &[]);
        check(
            &[holder(5, JOURNAL, false), holder(5, REGISTER, true)],
            &[(5, None)],
        );
    }

    #[test]
    fn many_are_told_in_part() {
        let all: Vec<Holder> = (2..100).map(|pid| holder(pid, REGISTER, true)).collect();
        assert_eq!(others(&all, Path::new(REGISTER), 1).len(), MOST_TOLD);
    }
}
