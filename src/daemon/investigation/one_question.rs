//! Whether recordings are one question: one unit, other plumbing, within days, each once.

use super::File;
use crate::circuit::Port;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::daemon::paper::sha256_hex;
use crate::settings::SeenFile;
use crate::settings::SeenPhase;
use anyhow::bail;
use std::path::Path;

/// Holds further apart than this are not combined unless somebody says so, days: there may
/// have been a repair between them.
pub(super) const TOGETHER_DAYS: i64 = 7;

pub(super) fn name(path: &Path) -> Option<&str> {
    path.file_name().and_then(|name| name.to_str())
}

/// Why recordings cannot be combined.
pub(super) fn why_apart(files: &[File<'_>]) -> Option<String> {
    let setups = || files.iter().map(|f| (&f.judged.judgement.setup, f.path));
    let (first, first_path) = setups().next()?;
    for (setup, path) in setups() {
        let (a, b) = (first_path.display(), path.display());
        if (&setup.unit.tag, &setup.unit.serial) != (&first.unit.tag, &first.unit.serial) {
            return Some(format!(
                "{a} is of unit {} {}, {b} of {} {}",
                first.unit.tag, first.unit.serial, setup.unit.tag, setup.unit.serial
            ));
        }
    }
    let cylinders =
        || setups().filter_map(|(s, path)| Some((s.subject.piece.cylinder()?, s, path)));
    let (cylinder, own, own_path) = cylinders().next()?;
    for (other, setup, path) in cylinders() {
        if other != cylinder || setup.subject.fluid != own.subject.fluid {
            return Some(format!(
                "{} and {} describe another cylinder or another oil under the same tag",
                own_path.display(),
                path.display()
            ));
        }
    }
    None
}

/// Whether recordings look like one question: other plumbing, within days.
pub(super) fn is_asked(files: &[File<'_>]) -> bool {
    let plumbing = |file: &File<'_>| {
        let subject = &file.judged.judgement.setup.subject;
        let c = &subject.circuit;
        (
            [c.cap_port, c.rod_port],
            [c.cap_holding_valve, c.rod_holding_valve],
            c.joined,
            c.beside,
            subject.piece.cylinder().is_some(),
        )
    };
    let started = || {
        files
            .iter()
            .map(|f| f.judged.recording.heading().started_utc_ms)
    };
    let within_ms = started()
        .max()
        .zip(started().min())
        .map_or(0, |(last, first)| last - first);
    let differs = files
        .iter()
        .any(|file| plumbing(file) != plumbing(&files[0]));
    files.len() > 1 && differs && within_ms <= TOGETHER_DAYS * 86_400_000
}

/// What was seen must be of recordings that are there, each once, and what was collected must
/// come from a port that is open.
pub(super) fn known(files: &[File<'_>], seen: &SeenFile) -> anyhow::Result<()> {
    let mut known: Vec<(&File<'_>, String)> = Vec::new();
    for file in files {
        // A copy may differ in a byte that nobody reads.
        let hash = sha256_hex(file.path)?;
        let is_same = |(other, h): &&(&File<'_>, String)| {
            *h == hash || other.judged.recording == file.judged.recording
        };
        if let Some((first, _)) = known.iter().find(is_same) {
            bail!(
                "{} is the same hold as {}; it counts once",
                file.path.display(),
                first.path.display()
            );
        }
        known.push((file, hash));
    }
    for phase in &seen.phases {
        let named = files
            .iter()
            .filter(|f| name(f.path) == Some(&phase.recording));
        if named.clone().count() > 1 {
            bail!(
                "two of the files are called `{}`; rename one, so that it is clear which was seen",
                phase.recording
            );
        }
        for file in named {
            collected_where_it_is_open(file, phase)?;
        }
        if !files.iter().any(|f| name(f.path) == Some(&phase.recording)) {
            let names: Vec<&str> = files.iter().filter_map(|f| name(f.path)).collect();
            bail!(
                "what was seen names the recording `{}`, which is not among those given: {}",
                phase.recording,
                names.join(", ")
            );
        }
    }
    Ok(())
}

fn collected_where_it_is_open(file: &File<'_>, seen: &SeenPhase) -> anyhow::Result<()> {
    let Some(collected) = seen.seen.collected else {
        return Ok(());
    };
    let subject = &file.judged.judgement.setup.subject;
    let vented = subject
        .piece
        .cylinder()
        .is_some_and(|c| c.kind() == Kind::SingleActing);
    let is_breather = vented && collected.chamber == Chamber::Rod;
    if subject.circuit.port(collected.chamber) != Port::OpenToVessel && !is_breather {
        bail!(
            "{}: oil is said to be collected from the {} side, but that port is not open; what drips from a plug or the \
             gland is said by `cap_port`, `rod_port` or `gland`",
            seen.recording,
            collected.chamber.word()
        );
    }
    Ok(())
}
