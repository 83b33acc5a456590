//! Which programs have a file or an adapter open, as the system lists it (`/proc`).
//!
//! Nothing is opened or tried: a lock or an adapter that was only tried would be kept from its owner
//! for that moment. Programs of other users are seen only by root; what cannot be read is left out.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

/// Most programs that are looked at; more are those of a large server.
const MOST_PROGRAMS: usize = 20_000;

/// Most open files of a program that are looked at.
const MOST_OPEN: usize = 5_000;

/// A program that has something open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// Its number.
    pub pid: u32,
    /// What it calls itself; may be empty.
    pub name: String,
    /// What it has open.
    pub path: PathBuf,
    /// Whether it may write to it.
    pub writes: bool,
}

/// Programs that have one of these open, each once for each; `system` is `/proc`.
pub fn holders(paths: &[PathBuf], system: &Path) -> Vec<Holder> {
    // Links of the system name what a link leads to in the end.
    let ends: Vec<(PathBuf, &PathBuf)> = paths
        .iter()
        .filter_map(|path| Some((fs::canonicalize(path).ok()?, path)))
        .collect();
    if ends.is_empty() {
        return Vec::new();
    }
    let mut found = Vec::new();
    for program in fs::read_dir(system)
        .into_iter()
        .flatten()
        .flatten()
        .take(MOST_PROGRAMS)
    {
        let Some(pid) = program
            .file_name()
            .to_str()
            .and_then(|name| name.parse().ok())
        else {
            continue;
        };
        let folder = program.path();
        let open = fs::read_dir(folder.join("fd"))
            .into_iter()
            .flatten()
            .flatten();
        let mut own: Vec<Holder> = Vec::new();
        for entry in open.take(MOST_OPEN) {
            let Ok(end) = fs::read_link(entry.path()) else {
                continue;
            };
            let Some((_, path)) = ends.iter().find(|(known, _)| *known == end) else {
                continue;
            };
            let info = fs::read_to_string(folder.join("fdinfo").join(entry.file_name()));
            let writes = may_write(&info.unwrap_or_default());
            match own.iter_mut().find(|one| one.path == **path) {
                Some(one) => one.writes |= writes,
                None => own.push(Holder {
                    pid,
                    name: name_of(&folder),
                    path: (*path).clone(),
                    writes,
                }),
            }
        }
        found.append(&mut own);
    }
    found.sort_by_key(|one| one.pid);
    found
}

/// What a program calls itself.
fn name_of(folder: &Path) -> String {
    let name = fs::read_to_string(folder.join("comm")).unwrap_or_default();
    name.trim().to_owned()
}

/// Whether a file was opened to be written: a line `flags: 0100002`, whose last digit is octal.
fn may_write(info: &str) -> bool {
    let flags = info.lines().find_map(|line| line.strip_prefix("flags:"));
    let last = flags.and_then(|flags| flags.trim().chars().last()?.to_digit(8));
    last.is_some_and(|last| last & 0b11 != 0)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    /// A folder like `/proc` in which a program has files open, each with its flags.
    fn program(system: &Path, pid: &str, open: &[(&Path, &str)]) {
        let folder = system.join(pid);
        fs::create_dir_all(folder.join("fd")).expect("made");
        fs::create_dir_all(folder.join("fdinfo")).expect("made");
        fs::write(folder.join("comm"), format!("name-{pid}\n")).expect("written");
        for (index, (path, flags)) in open.iter().enumerate() {
            let name = (index + 3).to_string();
            symlink(path, folder.join("fd").join(&name)).expect("linked");
            let info = format!("pos:\t0\nflags:\t{flags}\nmnt_id:\t1\n");
            fs::write(folder.join("fdinfo").join(name), info).expect("written");
        }
    }

    #[test]
    fn who_has_a_file_open_is_named_with_what_it_may_do() {
        let folder = tempfile::tempdir().expect("a folder");
        let root = fs::canonicalize(folder.path()).expect("a path");
        let (one, other, link) = (root.join("one"), root.join("other"), root.join("link"));
        fs::write(&one, "").expect("written");
        fs::write(&other, "").expect("written");
        symlink(&one, &link).expect("linked");
        let system = root.join("system");
        let writing = [(one.as_path(), "0100002"), (one.as_path(), "0100000")];
        program(&system, "41", &writing);
        program(&system, "7", &[(&one, "0100000"), (&other, "01")]);
        program(&system, "8", &[(Path::new("socket:[1]"), "02")]);
        program(&system, "self", &[(&one, "02")]);
        // Whoever asks by a link gets the link's name back.
        let found = holders(&[link.clone(), root.join("gone")], &system);
        let told: Vec<_> = found
            .iter()
            .map(|one| (one.pid, one.name.as_str(), one.writes))
            .collect();
        assert_eq!(told, [(7, "name-7", false), (41, "name-41", true)]);
        assert!(found.iter().all(|one| one.path == link));
        assert_eq!(holders(&[root.join("gone")], &system), []);
        assert_eq!(holders(&[other], Path::new("/nowhere")), []);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn this_program_is_found_at_its_own_file() {
        let file = tempfile::NamedTempFile::new().expect("a file");
        let found = holders(&[file.path().to_owned()], Path::new("/proc"));
        let own = found.iter().find(|one| one.pid == std::process::id());
        assert!(own.is_some_and(|own| own.writes), "{found:?}");
    }
}
