//! Which adapters this computer has, and whether they can be used: seen from outside, nothing is
//! opened and nothing is sent.
//!
//! Whether the user may open one is worked out from owner, group and mode as the system lists them;
//! rules beyond that are known only to the system, and an adapter that is opened says them.

use super::adapter::known;
use super::held::Holder;
use super::held::holders;
use std::fs;
use std::path::Path;
use std::path::PathBuf;

/// Most adapters that are listed.
const MOST_ADAPTERS: usize = 64;

/// Where the system lists what it knows.
#[derive(Debug, Clone)]
pub struct Places {
    /// Names that stay when an adapter is plugged in again, `/dev/serial/by-id`.
    pub by_id: PathBuf,
    /// Programs, `/proc`.
    pub programs: PathBuf,
    /// Names of groups, `/etc/group`.
    pub groups: PathBuf,
    /// Names of users, `/etc/passwd`.
    pub users: PathBuf,
}

impl Default for Places {
    fn default() -> Self {
        Self {
            by_id: "/dev/serial/by-id".into(),
            programs: "/proc".into(),
            groups: "/etc/group".into(),
            users: "/etc/passwd".into(),
        }
    }
}

/// Who asks to open something.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Me {
    /// Number of the user.
    pub uid: u32,
    /// Numbers of the groups that it is in now; one that it was put into since is not yet among them.
    pub gids: Vec<u32>,
}

/// An adapter as it is seen from outside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AdapterThere {
    /// The path to use: the name that stays, where there is one.
    pub path: PathBuf,
    /// The device.
    pub device: PathBuf,
    /// What it says it is; empty if it says nothing.
    pub says: String,
    /// Whether it is plugged in rather than built in.
    pub is_usb: bool,
    /// Whether it may be opened.
    pub access: Access,
    /// Programs that have it open, as far as can be seen.
    pub holders: Vec<Holder>,
}

/// Whether an adapter may be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Access {
    /// It may.
    Yes,
    /// Being in a group would open it: its name, and that of the user.
    WantsGroup {
        /// The group.
        group: String,
        /// The user; its number where it has no name.
        user: String,
    },
    /// No group would: owner, group and mode, in words.
    WantsRule(String),
    /// It is gone, or nothing can be seen of it, in the words of the system.
    Gone(String),
}

/// The adapters of this computer, those that are plugged in first; and `more` that the system does
/// not list.
pub fn adapters_there(more: &[PathBuf]) -> Vec<AdapterThere> {
    let known = known().into_iter().take(MOST_ADAPTERS);
    let mut known: Vec<_> = known
        .map(|(path, says)| (PathBuf::from(path), says))
        .collect();
    known.sort();
    known.extend(more.iter().map(|path| (path.clone(), Some(String::new()))));
    looked_at(&known, &Places::default(), &me())
}

/// Adapters by their devices, each with what it says it is (None if it is built in).
pub fn looked_at(
    known: &[(PathBuf, Option<String>)],
    places: &Places,
    me: &Me,
) -> Vec<AdapterThere> {
    let devices: Vec<PathBuf> = known.iter().map(|(device, _)| device.clone()).collect();
    let held = holders(&devices, &places.programs);
    let groups = fs::read_to_string(&places.groups).unwrap_or_default();
    let users = fs::read_to_string(&places.users).unwrap_or_default();
    let stable = names_that_stay(&places.by_id);
    let there = known.iter().map(|(device, says)| {
        let end = fs::canonicalize(device).unwrap_or_else(|_| device.clone());
        let by_id = stable.iter().find(|(_, leads_to)| *leads_to == end);
        AdapterThere {
            path: by_id.map_or_else(|| device.clone(), |(name, _)| name.clone()),
            device: device.clone(),
            says: says.clone().unwrap_or_default(),
            is_usb: says.is_some() || by_id.is_some(),
            access: access_of(device, me, &groups, &users),
            holders: held
                .iter()
                .filter(|one| one.path == *device)
                .cloned()
                .collect(),
        }
    });
    let mut there: Vec<AdapterThere> = there.collect();
    there.sort_by_key(|one| !one.is_usb);
    there
}

/// Names in a folder and the devices they lead to.
fn names_that_stay(folder: &Path) -> Vec<(PathBuf, PathBuf)> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let names = entries.take(MOST_ADAPTERS).map(|entry| entry.path());
    let mut names: Vec<_> = names
        .filter_map(|name| Some((name.clone(), fs::canonicalize(name).ok()?)))
        .collect();
    names.sort();
    names
}

#[cfg(unix)]
fn me() -> Me {
    let own = rustix::process::getegid().as_raw();
    let others = rustix::process::getgroups().unwrap_or_default();
    Me {
        uid: rustix::process::geteuid().as_raw(),
        gids: others.iter().map(|gid| gid.as_raw()).chain([own]).collect(),
    }
}

#[cfg(not(unix))]
fn me() -> Me {
    Me {
        uid: 0,
        gids: Vec::new(),
    }
}

#[cfg(unix)]
fn access_of(device: &Path, me: &Me, groups: &str, users: &str) -> Access {
    use std::os::unix::fs::MetadataExt;
    match fs::metadata(device) {
        Ok(found) => access(found.mode(), (found.uid(), found.gid()), me, groups, users),
        Err(error) => Access::Gone(error.to_string()),
    }
}

#[cfg(not(unix))]
fn access_of(_: &Path, _: &Me, _: &str, _: &str) -> Access {
    Access::Yes
}

/// Whether a device of this mode, user and group may be read and written.
#[cfg(unix)]
fn access(mode: u32, (uid, gid): (u32, u32), me: &Me, groups: &str, users: &str) -> Access {
    let is_member = me.gids.contains(&gid);
    // The first that fits counts, as the system has it: an owner is not asked as a member.
    let bits = match () {
        () if me.uid == uid => mode >> 6,
        () if is_member => mode >> 3,
        () => mode,
    };
    if me.uid == 0 || bits & 0o6 == 0o6 {
        return Access::Yes;
    }
    let group = named(groups, gid);
    match group {
        Some(group) if mode & 0o060 == 0o060 && gid != 0 && !is_member && me.uid != uid => {
            Access::WantsGroup {
                group: group.into(),
                user: named(users, me.uid).map_or_else(|| me.uid.to_string(), str::to_owned),
            }
        }
        _ => {
            let name = |text: Option<&str>, number: u32| {
                text.map_or_else(|| format!("number {number}"), str::to_owned)
            };
            Access::WantsRule(format!(
                "owner {}, group {}, mode {:04o}",
                name(named(users, uid), uid),
                name(group, gid),
                mode & 0o7777
            ))
        }
    }
}

/// The name that a list such as `/etc/group` has for a number.
#[cfg(unix)]
fn named(list: &str, number: u32) -> Option<&str> {
    let number = number.to_string();
    list.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)? == number && !name.is_empty()).then_some(name)
    })
}

#[cfg(all(test, unix))]
mod tests;
