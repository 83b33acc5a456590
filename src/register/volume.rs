//! Whether a folder lies on a network drive.
//!
//! The write-ahead log of the register needs memory shared between the programs
//! that have it open, which network file systems do not give: a lost connection
//! there ends in a damaged register. Reads the kernel's table of mounts; on a
//! system without that table nothing is known and nothing is refused.

use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt as _;
use std::path::Path;
use std::path::PathBuf;

/// File systems that live on another computer or on the host of a virtual machine.
const REMOTE: &[&str] = &[
    "afs",
    "ceph",
    "cifs",
    "davfs",
    "glusterfs",
    "gfs2",
    "lustre",
    "ncpfs",
    "nfs",
    "nfs4",
    "ocfs2",
    "prl_fs",
    "smb2",
    "smb3",
    "smbfs",
    "sshfs",
    "rclone",
    "vboxsf",
    "vmhgfs-fuse",
];

/// Kind of the remote file system that holds a folder, if it is one.
pub(super) fn remote(folder: &Path) -> Option<String> {
    let folder = folder.canonicalize().ok()?;
    let table = std::fs::read("/proc/self/mountinfo").ok()?;
    remote_in(&String::from_utf8_lossy(&table), &folder)
}

/// The same with the table handed in (format: Linux manual, proc_pid_mountinfo(5)).
fn remote_in(table: &str, folder: &Path) -> Option<String> {
    let mut nearest: Option<(usize, &str, &str)> = None;
    for line in table.lines() {
        let Some((before, after)) = line.split_once(" - ") else {
            continue;
        };
        let Some(point) = before.split(' ').nth(4).map(unescaped) else {
            continue;
        };
        let depth = point.components().count();
        // A later mount on the same place hides the earlier one.
        if folder.starts_with(&point) && nearest.is_none_or(|(found, ..)| depth >= found) {
            let mut rest = after.split(' ');
            let kind = rest.next().unwrap_or_default();
            nearest = Some((depth, kind, rest.next_back().unwrap_or_default()));
        }
    }
    let (_, kind, options) = nearest?;
    let name = kind.strip_prefix("fuse.").unwrap_or(kind);
    // 9p also carries the root of some containers, which is local; a mapped drive
    // letter of the host shows by its options.
    let is_drive_letter = kind == "9p" && options.contains("drvfs");
    (REMOTE.contains(&name) || is_drive_letter).then(|| kind.to_owned())
}

/// The kernel writes blank, tab, newline and backslash as `\` and three octal digits.
fn unescaped(text: &str) -> PathBuf {
    let bytes = text.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut index = 0;
    while let Some(&byte) = bytes.get(index) {
        let octal = (byte == b'\\')
            .then(|| text.get(index + 1..index + 4))
            .flatten()
            .and_then(|digits| u8::from_str_radix(digits, 8).ok());
        out.push(octal.unwrap_or(byte));
        index += if octal.is_some() { 4 } else { 1 };
    }
    PathBuf::from(OsStr::from_bytes(&out))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str = "\
27 1 254:0 / / rw,relatime - ext4 /dev/vda rw
40 27 0:50 / /mnt/depot\\040share rw - cifs //server/share rw,vers=3.0
41 40 254:1 / /mnt/depot\\040share/local rw - ext4 /dev/vdb rw
42 27 0:51 / /srv/nfs rw shared:7 - nfs4 server:/x rw
43 27 0:52 / /mnt/y rw - 9p Y:\\134 rw,aname=drvfs;path=Y:\\134
44 27 0:53 / /work rw - 9p none rw,trans=fd
45 27 0:54 / /home/bench/cloud rw - fuse.sshfs host: rw
46 27 0:55 / /covered rw - nfs host:/ rw
47 46 0:56 / /covered rw - tmpfs tmpfs rw
line that is cut off";

    #[test]
    fn a_folder_on_a_share_is_told_from_one_on_a_disk() {
        for (folder, kind) in [
            ("/var/lib/bench", None),
            ("/mnt/depot share", Some("cifs")),
            ("/mnt/depot share/data", Some("cifs")),
            ("/mnt/depot share/local/data", None),
            ("/mnt/depot", None),
            ("/srv/nfs/a/b", Some("nfs4")),
            ("/srv/nfsx", None),
            ("/mnt/y/bench", Some("9p")),
            ("/work", None),
            ("/home/bench/cloud", Some("fuse.sshfs")),
            ("/covered", None),
        ] {
            assert_eq!(
                remote_in(TABLE, Path::new(folder)).as_deref(),
                kind,
                "{folder}"
            );
        }
    }

    #[test]
    fn an_empty_table_refuses_nothing() {
        assert_eq!(remote_in("", Path::new("/srv/nfs")), None);
    }
}
