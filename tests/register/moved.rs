//! A shop on another computer.

use crate::bench::done;
use crate::bench::numbers;
use crate::bench::own_shop;
use crate::bench::refused;
use crate::bench::stillrod;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use stillrod::register::Build;
use stillrod::register::Register;
use stillrod::register::Unit;

#[test]
fn a_shop_moves_in_two_commands_and_goes_on_with_its_key_and_numbers() {
    let old = own_shop();
    std::fs::write(old.path().join("photo.jpg"), b"x").unwrap();
    done(
        old.path(),
        &["attach", "TV-0312", "photo.jpg", "--by", "fitter 2"],
    );
    done(old.path(), &["backup", "stick", "--with-key"]);
    // A stick knows no permissions.
    let key = old.path().join("stick/keys/signing-key");
    std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o644)).unwrap();
    let new = tempfile::tempdir().unwrap();
    let stick = old.path().join("stick");
    done(new.path(), &["restore", stick.to_str().unwrap()]);
    let own = new.path().join("stillrod-data/keys/signing-key");
    assert_eq!(own.metadata().unwrap().permissions().mode() & 0o777, 0o600);
    for ask in [&["find"][..], &["history", "TV-0312"], &["key"]] {
        assert_eq!(done(old.path(), ask), done(new.path(), ask));
    }
    done(new.path(), &["verify", "stillrod-data/register.db"]);
    let (_, record, _) = stillrod(new.path(), &["rehearse", "tight-rebuild", "--json"]);
    let next = numbers()[2].replace("0003", "0004");
    assert!(record.contains(&next), "{record}");
    done(new.path(), &["verify", "stillrod-data/register.db"]);
    let error = refused(new.path(), &["restore", stick.to_str().unwrap()]);
    assert!(error.contains("is in use already"), "{error}");
}

#[test]
fn a_copy_has_no_secret_key_unless_asked_and_is_brought_up_to_date() {
    let shop = own_shop();
    let said = done(shop.path(), &["backup", "stick"]);
    assert!(said.contains("without the secret key"), "{said}");
    assert!(!shop.path().join("stick/keys/signing-key").exists());
    stillrod(shop.path(), &["rehearse", "tight-rebuild", "--json"]);
    let said = done(shop.path(), &["backup", "stick"]);
    // The register, one recording, paper and record are new; all others are there.
    assert!(said.contains("4 files written"), "{said}");
    done(
        shop.path(),
        &[
            "verify",
            "stick/register.db",
            "--key",
            "stick/keys/public-keys.txt",
        ],
    );
    // Without the key the other computer makes one of its own; old papers stay known there.
    let new = tempfile::tempdir().unwrap();
    let stick = shop.path().join("stick");
    done(new.path(), &["restore", stick.to_str().unwrap()]);
    stillrod(new.path(), &["rehearse", "tight-rebuild", "--json"]);
    done(new.path(), &["verify", "stillrod-data/register.db"]);
}

#[test]
fn a_copy_that_is_not_whole_is_refused() {
    let shop = own_shop();
    let here = shop.path();
    done(here, &["backup", "stick"]);
    let mut recordings = std::fs::read_dir(here.join("stick/recordings")).unwrap();
    let recording = recordings.next().unwrap().unwrap().path();
    let mut bytes = std::fs::read(&recording).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&recording, bytes).unwrap();
    let error = refused(here, &["restore", "stick", "--data", "new"]);
    assert!(
        error.contains("is another file than was entered"),
        "{error}"
    );
    assert!(!here.join("new").exists());
    let error = refused(here, &["restore", "nowhere", "--data", "new"]);
    assert!(error.contains("is no copy of a shop"), "{error}");
    // The next backup mends it.
    done(here, &["backup", "stick"]);
    done(here, &["restore", "stick", "--data", "new"]);
}

#[test]
fn what_lies_in_the_log_beside_a_register_is_neither_lost_nor_mixed_up() {
    let shop = own_shop();
    let here = shop.path();
    // A data folder as a power cut leaves it: the last rows are in the log.
    let cut = here.join("cut");
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        let data = here.join("stillrod-data");
        let register = Register::open(&data.join("register.db")).await.unwrap();
        let unit = Unit {
            tag: "TV-0999".into(),
            description: "entered last".into(),
            machine: String::new(),
            serial: String::new(),
            seal: String::new(),
            build: Build::default(),
        };
        register.enter_unit(&unit, "fitter 2", 0).await.unwrap();
        copy_folder(&data, &cut);
        register.close().await;
    });
    assert!(cut.join("register.db-wal").metadata().unwrap().len() > 0);
    let error = refused(here, &["backup", "cut"]);
    assert!(error.contains("register.db-wal"), "{error}");
    done(here, &["restore", "cut", "--data", "new"]);
    let units = done(here, &["units", "--data", "new"]);
    assert!(units.contains("entered last"), "{units}");
    done(here, &["verify", "new/register.db"]);
}

fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        match path.is_dir() {
            true => copy_folder(&path, &target),
            false => drop(std::fs::copy(&path, &target).unwrap()),
        }
    }
}
