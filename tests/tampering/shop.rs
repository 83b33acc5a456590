//! A shop with three signed tests, made once, and looks at copies of what it wrote.

use crate::play;
use std::path::Path;
use std::path::PathBuf;
use std::sync::OnceLock;
use stillrod::daemon::folder::DataFolder;
use stillrod::daemon::journal_file::store_recording;
use stillrod::daemon::paper::enter;
use stillrod::daemon::verify::Grade;
use stillrod::daemon::verify::KeptHead;
use stillrod::daemon::verify::KeyList;
use stillrod::daemon::verify::Told;
use stillrod::daemon::verify::verify;
use stillrod::register::Register;
use stillrod::rehearsal::scenario;
use tempfile::TempDir;

/// Scenarios of the three tests, in the order of their numbers.
pub const TESTS: [&str; 3] = ["tight-rebuild", "cap-plug-leak", "no-limit-chosen"];

/// The data folder of the shop; nobody may change anything in it.
pub fn data() -> &'static Path {
    static SHOP: OnceLock<TempDir> = OnceLock::new();
    let shop = SHOP.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let runtime = tokio::runtime::Runtime::new().unwrap();
        runtime.block_on(fill(folder.path()));
        folder
    });
    shop.path()
}

async fn fill(root: &Path) {
    let folder = DataFolder::open(root).unwrap();
    let register = Register::open(&folder.register()).await.unwrap();
    let shelf = folder.shelf().unwrap();
    for (index, name) in TESTS.into_iter().enumerate() {
        let recording = play::recording(&scenario(name).unwrap());
        let archive = store_recording(&shelf.folder, &recording, shelf.key.as_ref()).unwrap();
        let entered = enter(&folder, &register, &archive, &recording).await;
        let ending = format!("-{:04}", index + 1);
        assert!(entered.unwrap().number.ends_with(&ending));
    }
    register.close().await;
}

/// Certificates carry the year of their issue; the paper of the test at a place from 1.
pub fn paper(place: usize, ending: &str) -> PathBuf {
    let wanted = format!("-{place:04}.{ending}");
    let papers = std::fs::read_dir(data().join("papers")).unwrap();
    let mut paths = papers.map(|entry| entry.unwrap().path());
    let found = paths.find(|path| path.to_str().unwrap().ends_with(&wanted));
    found.unwrap()
}

/// The recording of the test at a place from 1.
pub fn recording(place: usize) -> PathBuf {
    let name = format!("{}-1.h5", TESTS[place - 1]);
    data().join("recordings").join(name)
}

/// The keys of the shop.
pub fn keys() -> KeyList {
    KeyList::find(None, data()).unwrap()
}

/// A look at a file with the keys of the shop.
pub fn looked_at(path: &Path) -> Told {
    looked_at_with(path, &keys(), None)
}

/// A look at a file.
pub fn looked_at_with(path: &Path, keys: &KeyList, head: Option<&KeptHead>) -> Told {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(verify(path, keys, head))
}

/// Asserts that a file is changed, and that a line names each of some words.
#[track_caller]
pub fn is_changed(told: &Told, named: &[&str]) {
    assert_eq!(told.grade, Grade::Changed, "{told:?}");
    for words in named {
        let is_named = told.lines.iter().any(|line| line.contains(words));
        assert!(is_named, "{words} in {:#?}", told.lines);
    }
}
