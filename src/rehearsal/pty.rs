//! The adapter of the practice board: a pseudo-terminal that can be pulled out.
//!
//! A link in a folder of its own gives the port a name that stays when a new
//! pseudo-terminal takes the place of an old one. Nothing here knows what is sent.
//!
//! Invariant: dropping an adapter closes its port and removes its name.

use std::fs;
use std::io;
use std::os::fd::OwnedFd;
use std::os::unix::ffi::OsStringExt;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicU32;
use std::sync::atomic::Ordering;

use rustix::fs::Mode;
use rustix::fs::OFlags;
use rustix::io::Errno;
use rustix::pty::OpenptFlags;
use rustix::termios::OptionalActions;

/// Folders tried before giving up; each number is used once in a process.
const MOST_FOLDERS: u32 = 1000;

static NEXT_FOLDER: AtomicU32 = AtomicU32::new(0);

/// A folder of its own for the name of the port; removed when dropped.
#[derive(Debug)]
pub(super) struct Socket {
    folder: PathBuf,
}

/// A plugged-in adapter.
#[derive(Debug)]
pub(super) struct Adapter {
    board_side: OwnedFd,
    /// Kept open so that the board does not see an error when the host lets go.
    host_side: OwnedFd,
    name: PathBuf,
}

impl Socket {
    /// Makes the folder.
    pub(super) fn new() -> io::Result<Self> {
        let base = std::env::temp_dir();
        for _ in 0..MOST_FOLDERS {
            let number = NEXT_FOLDER.fetch_add(1, Ordering::Relaxed);
            let folder = base.join(format!("stillrod-practice-{}-{number}", std::process::id()));
            match fs::create_dir(&folder) {
                Ok(()) => return Ok(Self { folder }),
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Err(io::ErrorKind::AlreadyExists.into())
    }

    /// Name of the port, plugged in or not.
    pub(super) fn port_path(&self) -> PathBuf {
        self.folder.join("adapter")
    }

    /// Plugs an adapter in.
    pub(super) fn plug_in(&self) -> io::Result<Adapter> {
        Adapter::new(&self.port_path())
    }
}

impl Drop for Socket {
    fn drop(&mut self) {
        // Nothing to be done about a folder that cannot be removed.
        let _ = fs::remove_dir(&self.folder);
    }
}

impl Adapter {
    fn new(name: &Path) -> io::Result<Self> {
        let board_side = rustix::pty::openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        rustix::pty::grantpt(&board_side)?;
        rustix::pty::unlockpt(&board_side)?;
        let device = rustix::pty::ptsname(&board_side, Vec::new())?;
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let host_side = rustix::fs::open(&device, flags, Mode::empty())?;
        let mut line = rustix::termios::tcgetattr(&host_side)?;
        line.make_raw();
        rustix::termios::tcsetattr(&host_side, OptionalActions::Now, &line)?;
        rustix::io::fcntl_setfd(&board_side, rustix::io::FdFlags::CLOEXEC)?;
        rustix::fs::fcntl_setfl(&board_side, OFlags::RDWR | OFlags::NONBLOCK)?;
        let device = std::ffi::OsString::from_vec(device.into_bytes());
        symlink(device, name)?;
        Ok(Self {
            board_side,
            host_side,
            name: name.to_owned(),
        })
    }

    /// Bytes from the host; none if there are none now.
    pub(super) fn read(&self) -> io::Result<Vec<u8>> {
        let mut bytes = [0; 256];
        match rustix::io::read(&self.board_side, &mut bytes) {
            Ok(n) => Ok(bytes[..n].to_vec()),
            Err(Errno::AGAIN | Errno::INTR) => Ok(Vec::new()),
            Err(error) => Err(error.into()),
        }
    }

    /// Writes what the line takes now; returns how many bytes that were.
    pub(super) fn write(&self, bytes: &[u8]) -> io::Result<usize> {
        match rustix::io::write(&self.board_side, bytes) {
            Ok(n) => Ok(n),
            Err(Errno::AGAIN | Errno::INTR) => Ok(0),
            Err(error) => Err(error.into()),
        }
    }

    /// Whether the host has read all that was written.
    pub(super) fn is_read_empty(&self) -> io::Result<bool> {
        Ok(rustix::io::ioctl_fionread(&self.host_side)? == 0)
    }
}

impl Drop for Adapter {
    fn drop(&mut self) {
        // A name somebody removed already is gone as it should be.
        let _ = fs::remove_file(&self.name);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Read;
    use std::io::Write;

    #[test]
    fn all_byte_values_pass_in_both_directions() {
        let socket = Socket::new().expect("a folder");
        let adapter = socket.plug_in().expect("a port");
        let all: Vec<u8> = (0..=255).collect();
        let mut host = fs::File::options()
            .read(true)
            .write(true)
            .open(socket.port_path())
            .expect("opens");
        assert_eq!(adapter.write(&all).expect("writes"), 256);
        let mut got = [0; 256];
        host.read_exact(&mut got).expect("reads");
        assert_eq!(got[..], all[..]);
        assert!(adapter.is_read_empty().expect("asks"));
        host.write_all(&all).expect("writes");
        let mut back = Vec::new();
        while back.len() < 256 {
            back.extend(adapter.read().expect("reads"));
        }
        assert_eq!(back, all);
    }

    #[test]
    fn a_pulled_adapter_leaves_no_port_and_a_new_one_has_the_old_name() {
        let socket = Socket::new().expect("a folder");
        let adapter = socket.plug_in().expect("a port");
        drop(adapter);
        assert!(!socket.port_path().exists());
        let again = socket.plug_in().expect("a port");
        assert!(socket.port_path().exists());
        drop(again);
        let folder = socket.port_path().parent().expect("a folder").to_owned();
        drop(socket);
        assert!(!folder.exists());
    }
}
