//! Adapters in folders that are laid out like those of the system.

use super::*;
use std::os::unix::fs::symlink;

const GROUPS: &str = "root:x:0:\ndialout:x:20:fitter2\nplugdev:x:46:\n:x:47:\n";
const USERS: &str = "root:x:0:0::/root:/bin/sh\nbench:x:1000:1000::/home/bench:/bin/sh\n";

fn me(uid: u32, gids: &[u32]) -> Me {
    Me {
        uid,
        gids: gids.to_vec(),
    }
}

fn wants(group: &str, user: &str) -> Access {
    Access::WantsGroup {
        group: group.into(),
        user: user.into(),
    }
}

#[test]
fn owner_group_and_mode_say_who_may_open_an_adapter() {
    let rule = |text: &str| Access::WantsRule(text.into());
    for (mode, owner, who, expected) in [
        (0o020_660, (0, 20), me(0, &[0]), Access::Yes),
        (0o020_600, (0, 0), me(0, &[0]), Access::Yes),
        (0o020_660, (0, 20), me(1000, &[1000, 20]), Access::Yes),
        (0o020_666, (0, 20), me(1000, &[1000]), Access::Yes),
        (0o020_620, (1000, 5), me(1000, &[1000]), Access::Yes),
        (
            0o020_660,
            (0, 20),
            me(1000, &[1000]),
            wants("dialout", "bench"),
        ),
        (
            0o020_660,
            (0, 46),
            me(1001, &[1001, 20]),
            wants("plugdev", "1001"),
        ),
        // The group may only read: being in it would not help.
        (
            0o020_640,
            (0, 20),
            me(1000, &[1000]),
            rule("owner root, group dialout, mode 0640"),
        ),
        (
            0o020_640,
            (0, 20),
            me(1000, &[20]),
            rule("owner root, group dialout, mode 0640"),
        ),
        (
            0o020_600,
            (0, 0),
            me(1000, &[1000]),
            rule("owner root, group root, mode 0600"),
        ),
        // Nobody is told to join the group of root.
        (
            0o020_660,
            (0, 0),
            me(1000, &[1000]),
            rule("owner root, group root, mode 0660"),
        ),
        (
            0o020_660,
            (7, 99),
            me(1000, &[1000]),
            rule("owner number 7, group number 99, mode 0660"),
        ),
        (
            0o020_660,
            (0, 47),
            me(1000, &[1000]),
            rule("owner root, group number 47, mode 0660"),
        ),
        // The owner counts as owner alone, even if the group might more.
        (
            0o020_060,
            (1000, 20),
            me(1000, &[20]),
            rule("owner bench, group dialout, mode 0060"),
        ),
    ] {
        assert_eq!(
            access(mode, owner, &who, GROUPS, USERS),
            expected,
            "{mode:o} {owner:?} {who:?}"
        );
    }
}

/// Folders as the system has them; nothing is in them.
fn places(root: &Path) -> Places {
    for name in ["by-id", "programs"] {
        fs::create_dir(root.join(name)).expect("made");
    }
    fs::write(root.join("groups"), GROUPS).expect("written");
    fs::write(root.join("users"), USERS).expect("written");
    Places {
        by_id: root.join("by-id"),
        programs: root.join("programs"),
        groups: root.join("groups"),
        users: root.join("users"),
    }
}

#[test]
fn plugged_in_ones_come_first_under_the_name_that_stays() {
    let folder = tempfile::tempdir().expect("a folder");
    let root = fs::canonicalize(folder.path()).expect("a path");
    let places = places(&root);
    let (built_in, usb) = (root.join("ttyS0"), root.join("ttyUSB1"));
    fs::write(&built_in, "").expect("written");
    fs::write(&usb, "").expect("written");
    let stays = places.by_id.join("usb-bench-board");
    symlink("../ttyUSB1", &stays).expect("linked");
    symlink("../ttyUSB9", places.by_id.join("usb-pulled")).expect("linked");
    let known = [
        (built_in.clone(), None),
        (usb.clone(), Some("bench board".to_owned())),
    ];
    let found = looked_at(&known, &places, &me(0, &[0]));
    let told: Vec<_> = found
        .iter()
        .map(|one| (&one.path, &one.device, one.says.as_str()))
        .collect();
    assert_eq!(
        told,
        [(&stays, &usb, "bench board"), (&built_in, &built_in, "")]
    );
    assert!(
        found
            .iter()
            .all(|one| one.access == Access::Yes && one.holders.is_empty())
    );
}

#[test]
fn one_that_was_pulled_meanwhile_is_gone_and_no_error() {
    let folder = tempfile::tempdir().expect("a folder");
    let places = places(folder.path());
    let known = [(folder.path().join("ttyUSB0"), Some(String::new()))];
    let found = looked_at(&known, &places, &me(1000, &[1000]));
    assert!(matches!(found[0].access, Access::Gone(_)), "{found:?}");
}

#[cfg(target_os = "linux")]
#[test]
fn a_terminal_that_this_program_has_open_is_held_by_it() {
    let board =
        rustix::pty::openpt(rustix::pty::OpenptFlags::RDWR | rustix::pty::OpenptFlags::NOCTTY);
    let board = board.expect("a terminal");
    rustix::pty::grantpt(&board).expect("granted");
    rustix::pty::unlockpt(&board).expect("unlocked");
    let name = rustix::pty::ptsname(&board, Vec::new()).expect("a name");
    let device = PathBuf::from(name.into_string().expect("text"));
    let known = [(device.clone(), None)];
    let own = std::process::id();
    let is_held = || {
        let found = looked_at(&known, &Places::default(), &super::me());
        found[0]
            .holders
            .iter()
            .any(|one| one.pid == own && one.writes)
    };
    assert!(!is_held());
    let host = fs::OpenOptions::new().read(true).write(true).open(&device);
    let host = host.expect("opened");
    assert!(is_held());
    drop(host);
    assert!(!is_held());
}
