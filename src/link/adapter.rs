//! Opening an adapter, and saying why it cannot be opened.
//!
//! Ports are opened with the kernel's exclusive flag and an advisory lock, so that no
//! second program steals half of the bytes.
//!
//! Invariant: "not found", "no permission" and "in use" are never mistaken for each other.

use super::LinkError;
use std::path::Path;
use std::path::PathBuf;
use tokio_serial::ErrorKind;
use tokio_serial::SerialPortBuilderExt;
use tokio_serial::SerialPortType;
use tokio_serial::SerialStream;

/// Most adapters that a message lists.
const MAX_LISTED: usize = 12;

/// Which adapter to use, and how fast its line is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Adapter {
    /// Its path. A name under `/dev/serial/by-id` stays the same when it is plugged in again.
    pub path: PathBuf,
    /// Baud rate of the line; without meaning for a board on USB.
    pub baud: u32,
}

impl Adapter {
    /// Baud rate of a board whose papers do not say otherwise.
    pub const BAUD: u32 = 115_200;

    /// An adapter with the usual baud rate.
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Self {
            path: path.into(),
            baud: Self::BAUD,
        }
    }

    pub(super) fn open(&self) -> Result<SerialStream, LinkError> {
        let path = self.path.to_string_lossy();
        tokio_serial::new(path, self.baud)
            .open_native_async()
            .map_err(|error| self.explained(&error))
    }

    fn explained(&self, error: &tokio_serial::Error) -> LinkError {
        let path = self.path.clone();
        match error.kind() {
            ErrorKind::Io(std::io::ErrorKind::NotFound) => LinkError::NotFound {
                path,
                there: in_words(&adapters()),
            },
            ErrorKind::Io(std::io::ErrorKind::PermissionDenied) => permission(path),
            // The library's word for both the kernel's flag and the lock.
            ErrorKind::NoDevice => LinkError::Busy { path },
            _ => LinkError::Other {
                path,
                what: error.to_string(),
            },
        }
    }
}

/// Paths of the adapters of this computer, those on USB first.
pub fn adapters() -> Vec<String> {
    let mut names: Vec<String> = known().into_iter().map(|(name, _)| name).collect();
    names.sort_by_key(|name| (name.contains("ttyS"), name.clone()));
    names
}

/// Adapters and what each says it is; None for one that is built in.
pub(super) fn known() -> Vec<(String, Option<String>)> {
    // Without the folder, as in some containers, the library panics.
    if cfg!(target_os = "linux") && !Path::new("/sys/class/tty").exists() {
        return Vec::new();
    }
    let ports = tokio_serial::available_ports().unwrap_or_default();
    let told = ports.into_iter().map(|port| {
        let says = match port.port_type {
            SerialPortType::UsbPort(info) => {
                let parts = [info.manufacturer, info.product, info.serial_number];
                Some(parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
            }
            _ => None,
        };
        // Without libudev some names are folders of the kernel instead of devices.
        (port.port_name.replace("/sys/class/tty/", "/dev/"), says)
    });
    told.collect()
}

fn in_words(names: &[String]) -> String {
    match names {
        [] => {
            "no adapter is there at all: plug it in, and look whether the cable carries data".into()
        }
        _ => {
            let listed = names[..names.len().min(MAX_LISTED)].join(", ");
            format!("there are {listed}; choose one of them")
        }
    }
}

#[cfg(unix)]
fn permission(path: PathBuf) -> LinkError {
    use std::os::unix::fs::MetadataExt;
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    let (owner, fix) = match std::fs::metadata(&path) {
        Ok(found) => permission_in_words(found.mode(), found.gid(), &groups),
        Err(error) => (
            error.to_string(),
            "ask whoever looks after this computer".into(),
        ),
    };
    LinkError::Permission { path, owner, fix }
}

#[cfg(not(unix))]
fn permission(path: PathBuf) -> LinkError {
    LinkError::Permission {
        path,
        owner: "the system gives no owner".into(),
        fix: "close other programs, unplug the adapter and plug it in again".into(),
    }
}

/// Group and mode of a device, and what lets its user in.
#[cfg(unix)]
fn permission_in_words(mode: u32, gid: u32, groups: &str) -> (String, String) {
    let group = groups
        .lines()
        .filter_map(|line| {
            let mut fields = line.split(':');
            let name = fields.next()?;
            (fields.nth(1)? == gid.to_string()).then_some(name)
        })
        .next();
    let name = group.map_or_else(
        || format!("group number {gid}"),
        |name| format!("group {name}"),
    );
    let owner = format!("{name}, mode {:04o}", mode & 0o7777);
    let fix = match group {
        Some(group) if mode & 0o060 == 0o060 && gid != 0 => format!(
            "add the user that runs stillrod to the group: sudo usermod -aG {group} USER, then log out and in again \
             (restart the service)"
        ),
        _ => "its group may not use it: a udev rule must give it to a group such as dialout that you belong to; then \
              plug the adapter in again"
            .into(),
    };
    (owner, fix)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    const GROUPS: &str = "root:x:0:\ndialout:x:20:fitter2\nplugdev:x:46:\n";

    #[test]
    fn the_group_that_would_let_one_in_is_named() {
        let (owner, fix) = permission_in_words(0o020_660, 46, GROUPS);
        assert_eq!(owner, "group plugdev, mode 0660");
        assert!(fix.contains("usermod -aG plugdev"), "{fix}");
    }

    #[test]
    fn a_device_of_root_alone_needs_a_rule() {
        let (owner, fix) = permission_in_words(0o020_600, 0, GROUPS);
        assert_eq!(owner, "group root, mode 0600");
        assert!(fix.contains("udev rule"), "{fix}");
        let (owner, _) = permission_in_words(0o020_600, 999, GROUPS);
        assert_eq!(owner, "group number 999, mode 0600");
    }

    #[tokio::test]
    async fn a_name_that_is_not_there_is_not_found() {
        let error = Adapter::new("/dev/no-such-adapter").open();
        assert!(matches!(error, Err(LinkError::NotFound { .. })));
    }

    #[tokio::test]
    async fn a_plain_file_is_no_adapter() {
        let file = tempfile::NamedTempFile::new().expect("a file");
        let error = Adapter::new(file.path()).open();
        assert!(matches!(error, Err(LinkError::Other { .. })));
    }
}
