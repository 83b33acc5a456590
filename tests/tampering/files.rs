//! Papers, records and recordings with a bit turned, or a value written over.

use crate::shop;
use crate::shop::is_changed;
use crate::shop::looked_at;
use crate::shop::looked_at_with;
use std::path::Path;
use std::process::Command;
use stillrod::archive;
use stillrod::daemon::keys::signing_key;
use stillrod::daemon::verify::Grade;
use stillrod::daemon::verify::KeyList;

/// Places in each file where a bit is turned.
const N_PLACES: usize = 240;

#[test]
fn what_the_shop_wrote_is_whole() {
    for place in 1..=shop::TESTS.len() {
        for path in [
            shop::paper(place, "pdf"),
            shop::paper(place, "json"),
            shop::recording(place),
        ] {
            let told = looked_at(&path);
            assert_eq!(told.grade, Grade::Whole, "{told:?}");
            assert!(told.lines[0].starts_with("whole: "), "{told:?}");
        }
    }
}

/// Turns one bit at places spread evenly over a file, each another bit.
fn every_place_is_found(path: &Path) {
    let whole = std::fs::read(path).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy");
    for place in 0..N_PLACES {
        // From the first byte to the last.
        let at = place * (whole.len() - 1) / (N_PLACES - 1);
        let mut other = whole.clone();
        other[at] ^= 1 << (place % 8);
        std::fs::write(&copy, other).unwrap();
        let told = looked_at(&copy);
        assert_eq!(told.grade, Grade::Changed, "byte {at}: {told:?}");
        assert!(told.lines.iter().any(|l| l.starts_with("changed: ")));
    }
}

#[test]
fn a_turned_bit_anywhere_in_a_paper_is_found() {
    every_place_is_found(&shop::paper(1, "pdf"));
}

#[test]
fn a_turned_bit_anywhere_in_a_record_is_found() {
    every_place_is_found(&shop::paper(1, "json"));
}

#[test]
fn a_turned_bit_anywhere_in_a_recording_is_found() {
    every_place_is_found(&shop::recording(2));
}

/// A paper with some bytes written over by others.
fn rewritten(path: &Path, from: &[u8], to: &[u8]) -> tempfile::NamedTempFile {
    let bytes = std::fs::read(path).unwrap();
    let at = bytes.windows(from.len()).position(|found| found == from);
    let at = at.unwrap_or_else(|| panic!("{:?}", String::from_utf8_lossy(from)));
    let copy = tempfile::NamedTempFile::new().unwrap();
    let parts = [&bytes[..at], to, &bytes[at + from.len()..]];
    std::fs::write(copy.path(), parts.concat()).unwrap();
    copy
}

/// Place and length of a part as the keywords of the paper say them.
fn part_of(bytes: &[u8], word: &str, which: usize) -> (usize, usize) {
    let begins = b"stillrod signature 1 key ";
    let at = bytes.windows(begins.len()).position(|b| b == begins);
    let label = String::from_utf8_lossy(&bytes[at.unwrap()..][..1_000]).into_owned();
    let words: Vec<&str> = label.split(' ').collect();
    let mut places = (0..words.len()).filter(|i| words[*i] == word);
    let at = places.nth(which).unwrap();
    (
        words[at + 1].parse().unwrap(),
        words[at + 2].parse().unwrap(),
    )
}

#[test]
fn the_changed_page_of_a_paper_is_named() {
    let path = shop::paper(2, "pdf");
    let whole = std::fs::read(&path).unwrap();
    for (which, named) in [(0, "changed: page 1"), (1, "changed: page 2")] {
        let (start, length) = part_of(&whole, "page", which);
        let mut other = whole.clone();
        other[start + length / 2] ^= 4;
        let copy = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(copy.path(), other).unwrap();
        let told = looked_at(copy.path());
        is_changed(&told, &[named]);
        let n_pages = told.lines.iter().filter(|l| l.contains("page ")).count();
        assert_eq!(n_pages, 1, "{told:?}");
    }
}

#[test]
fn the_changed_section_is_named_in_the_record_and_in_the_paper() {
    for (from, to, named) in [
        (
            "\"outcome\": \"fail\"",
            "\"outcome\": \"pass\"",
            "section `outcome`",
        ),
        (
            "\"exit_status\": 10",
            "\"exit_status\": 00",
            "section `exit_status`",
        ),
        ("\"tag\": \"TV-", "\"tag\": \"TW-", "section `unit`"),
        ("\"unit\": {", "\"unit\": [", "section `unit`"),
    ] {
        let (from, to) = (from.as_bytes(), to.as_bytes());
        let record = rewritten(&shop::paper(2, "json"), from, to);
        is_changed(&looked_at(record.path()), &[named]);
        let paper = rewritten(&shop::paper(2, "pdf"), from, to);
        let told = looked_at(paper.path());
        is_changed(&told, &["the attached record", named]);
    }
}

#[test]
fn bytes_behind_the_end_of_a_paper_are_found() {
    let mut bytes = std::fs::read(shop::paper(1, "pdf")).unwrap();
    bytes.extend(b"\n1 0 obj\n<<>>\nendobj\n%%EOF");
    let copy = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(copy.path(), bytes).unwrap();
    is_changed(&looked_at(copy.path()), &["its length"]);
}

#[test]
fn the_record_comes_out_of_the_paper_signed() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("record.json");
    let done = Command::new("pdfdetach")
        .args(["-save", "1", "-o"])
        .arg(&out)
        .arg(shop::paper(1, "pdf"))
        .status()
        .expect("pdfdetach; install poppler-utils");
    assert!(done.success());
    assert_eq!(
        std::fs::read(&out).unwrap(),
        std::fs::read(shop::paper(1, "json")).unwrap()
    );
    assert_eq!(looked_at(&out).grade, Grade::Whole);
}

/// A copy of a recording, worked on with the library for such files.
fn worked_on(place: usize, work: impl FnOnce(&hdf5::File)) -> tempfile::NamedTempFile {
    let copy = tempfile::NamedTempFile::new().unwrap();
    std::fs::copy(shop::recording(place), copy.path()).unwrap();
    let file = hdf5::File::open_rw(copy.path()).unwrap();
    work(&file);
    file.close().unwrap();
    copy
}

#[test]
fn the_changed_part_of_a_recording_is_named() {
    let codes = worked_on(1, |file| {
        let data = file.dataset("entry/instrument/p_cap/data").unwrap();
        let mut codes: Vec<i32> = data.read_raw().unwrap();
        codes[1_000] += 1;
        data.write_raw(&codes).unwrap();
    });
    is_changed(&looked_at(codes.path()), &["the codes of channel p_cap"]);
    let calibration = worked_on(1, |file| {
        let data = file.dataset("entry/instrument/p_rod/data").unwrap();
        let attr = data.attr("si_per_code").unwrap();
        attr.write_scalar(&1e-3_f64).unwrap();
    });
    let told = looked_at(calibration.path());
    is_changed(&told, &["the calibration of channel p_rod"]);
    let n_named = told
        .lines
        .iter()
        .filter(|l| l.starts_with("changed"))
        .count();
    assert_eq!(n_named, 1, "{told:?}");
    let plot = worked_on(1, |file| {
        let data = file.dataset("entry/pressure/p_cap").unwrap();
        let values: Vec<f32> = data.read_raw().unwrap();
        data.write_raw(&vec![1.0_f32; values.len()]).unwrap();
    });
    is_changed(
        &looked_at(plot.path()),
        &["plotted values of channel p_cap"],
    );
    let time = worked_on(1, |file| {
        let data = file.dataset("entry/recording/time").unwrap();
        let mut times: Vec<f64> = data.read_raw().unwrap();
        times[5] += 1e-3;
        data.write_raw(&times).unwrap();
    });
    is_changed(&looked_at(time.path()), &["the times of its rows"]);
    let gone = worked_on(1, |file| {
        file.unlink("entry/recording/phases/name").unwrap()
    });
    is_changed(&looked_at(gone.path()), &["its phases (cannot be read)"]);
    let more = worked_on(1, |file| {
        file.create_group("entry/note").unwrap();
    });
    is_changed(&looked_at(more.path()), &["hold nothing of the recording"]);
}

#[test]
fn a_signed_recording_is_read_as_it_was_recorded() {
    let recording =
        crate::play::recording(&stillrod::rehearsal::scenario("tight-rebuild").unwrap());
    assert_eq!(archive::read(&shop::recording(1)).unwrap(), recording);
}

#[test]
fn files_from_before_there_were_signatures_are_not_signed() {
    let recording =
        crate::play::recording(&stillrod::rehearsal::scenario("tight-rebuild").unwrap());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("old.h5");
    archive::write(&recording, &path).unwrap();
    let told = looked_at(&path);
    assert_eq!(told.grade, Grade::Untold, "{told:?}");
    assert!(told.lines[0].starts_with("not signed: "), "{told:?}");
    let record = std::fs::read_to_string(shop::paper(1, "json")).unwrap();
    let at = record.find(",\n  \"signature\": {").unwrap();
    let path = folder.path().join("old.json");
    std::fs::write(&path, format!("{}\n}}\n", &record[..at])).unwrap();
    assert_eq!(looked_at(&path).grade, Grade::Untold);
}

#[test]
fn a_key_that_is_not_in_the_list_is_unknown() {
    let other = tempfile::tempdir().unwrap();
    signing_key(other.path()).unwrap();
    let others = KeyList::find(Some(&other.path().join("public-keys.txt")), other.path());
    for path in [
        shop::paper(1, "pdf"),
        shop::paper(1, "json"),
        shop::recording(1),
        shop::data().join("register.db"),
    ] {
        let told = looked_at_with(&path, others.as_ref().unwrap(), None);
        assert_eq!(told.grade, Grade::Untold, "{told:?}");
        let unknown = |line: &String| line.contains("anybody may have signed this");
        assert!(told.lines.iter().any(unknown), "{told:?}");
        let told = looked_at_with(&path, &KeyList::default(), None);
        assert_eq!(told.grade, Grade::Untold, "{told:?}");
        let plain = |line: &String| line.contains("does not tell whose key it is");
        assert!(told.lines.iter().any(plain), "{told:?}");
    }
}

#[test]
fn what_is_none_of_ours_cannot_be_read() {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in [
        ("a.pdf", &b"a shopping list"[..]),
        ("b.json", b"{\"milk\": 1}\n"),
        ("c.h5", b""),
        ("d.db", b"SQLite format 3\0garbage"),
    ] {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        let told = looked_at(&path);
        assert_eq!(told.grade, Grade::Unreadable, "{name}: {told:?}");
    }
    let told = looked_at(&folder.path().join("missing"));
    assert_eq!(told.grade, Grade::Unreadable, "{told:?}");
}
