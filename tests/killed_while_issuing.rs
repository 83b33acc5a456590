//! A program that issues papers and is killed at random moments: there is never a paper without
//! its row, never a number given twice, and the next start does what was left undone.
//!
//! The program is this test itself, started again with a folder of recordings in the environment;
//! it writes down when it begins an issue and when it has ended one. `STILLROD_KILLS=200 cargo test
//! --release --test killed_while_issuing -- --nocapture` kills more often than the test does.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;
use std::io::Write as _;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use stillrod::archive;
use stillrod::daemon::folder::DataFolder;
use stillrod::daemon::keys::signing_key;
use stillrod::daemon::paper::enter;
use stillrod::daemon::paper::make_good;
use stillrod::daemon::paper::sha256_hex;
use stillrod::daemon::test_run::recording_from_capture;
use stillrod::recording::Heading;
use stillrod::register::Register;
use stillrod::register::audit;
use stillrod::rehearsal::SHOP_FILE_NAME;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::bench_bytes;
use stillrod::rehearsal::scenario;
use stillrod::settings::Shop;
use stillrod::settings::Test;

const FOLDER: &str = "STILLROD_TEST_FOLDER";
const N_RECORDINGS: usize = 4;
/// Kills without being asked for more.
const N_KILLS: usize = 24;
/// Longest time from the first issue to the kill, s: issuing all takes about as long.
const LONGEST_S: f64 = 0.8;

/// What a kill fell on.
#[derive(Debug, Default)]
struct Hits {
    n_between: usize,
    n_judging: usize,
    n_row_without_all_papers: usize,
    n_all_written: usize,
}

/// The body of the program that is killed; by itself there is nothing to issue.
#[test]
fn one_that_issues() {
    let Some(folder) = std::env::var_os(FOLDER).map(PathBuf::from) else {
        return;
    };
    let mut log = std::fs::File::create(folder.join("log")).unwrap();
    tokio::runtime::Runtime::new().unwrap().block_on(async {
        let data = DataFolder::open(&folder).unwrap();
        let register = Register::open(&data.register()).await.unwrap();
        for index in 0..N_RECORDINGS {
            let path = data.recordings().join(format!("run-{index}.h5"));
            let recording = archive::read(&path).unwrap();
            writeln!(log, "begins run-{index}").unwrap();
            enter(&data, &register, &path, &recording).await.unwrap();
            writeln!(log, "ended run-{index}").unwrap();
        }
        register.close().await;
    });
}

/// A data folder with recordings that nobody has entered.
fn made(folder: &Path) {
    let mut played = scenario("locked-rod-bypass").unwrap();
    (played.settle_s, played.hold_s, played.samples_per_s) = (20.0, 60.0, 10);
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).unwrap();
    let setup_toml = played.setup_toml();
    let test = Test::parse("setup.toml", &setup_toml, Some(&shop)).unwrap();
    let bytes = bench_bytes(&played).unwrap();
    let data = DataFolder::open(folder).unwrap();
    let key = signing_key(&data.keys()).unwrap();
    for index in 0..N_RECORDINGS {
        let heading = Heading {
            run_id: format!("run-{index}"),
            started_utc_ms: 1_785_571_200_000 + 600_000 * i64::try_from(index).unwrap(),
            time_zone: shop.time_zone.clone(),
            software: String::new(),
            source: String::new(),
            setup_toml: setup_toml.clone(),
            shop_toml: SHOP_TOML.into(),
            practice: "practice bench: not a measurement of a real cylinder".into(),
        };
        let path = data.recordings().join(format!("run-{index}.h5"));
        let recording = recording_from_capture(&bytes, heading, &test).unwrap();
        archive::write_signed(&recording, &path, &key).unwrap();
    }
}

fn copied(from: &Path, to: &Path) {
    for part in ["recordings", "keys", "papers"] {
        std::fs::create_dir_all(to.join(part)).unwrap();
        for entry in std::fs::read_dir(from.join(part)).unwrap() {
            let entry = entry.unwrap();
            // A copy keeps who may read the key.
            std::fs::copy(entry.path(), to.join(part).join(entry.file_name())).unwrap();
        }
    }
}

/// Lets a program issue for a while and kills it; what it wrote down.
fn killed(folder: &Path, wait: Duration) -> String {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "one_that_issues"])
        .env(FOLDER, folder)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let log = || std::fs::read_to_string(folder.join("log")).unwrap_or_default();
    while log().is_empty() {
        assert!(child.try_wait().unwrap().is_none(), "it issued nothing");
        std::thread::sleep(Duration::from_millis(1));
    }
    std::thread::sleep(wait);
    child.kill().unwrap();
    child.wait().unwrap();
    log()
}

fn papers(data: &DataFolder) -> BTreeSet<String> {
    let entries = std::fs::read_dir(data.papers()).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    names.filter(|name| !name.ends_with(".part")).collect()
}

/// Looks at what a kill left, and at what the next start makes of it.
async fn looked_at(folder: &Path, log: &str, hits: &mut Hits) {
    let data = DataFolder::open(folder).unwrap();
    let register = Register::open(&data.register()).await.unwrap();
    let of_rows = async || {
        let rows = register.latest(1000).await.unwrap();
        let numbers = rows.iter().map(|row| row.certificate_number.clone());
        let papers = numbers.flat_map(|n| [format!("{n}.json"), format!("{n}.pdf")]);
        (rows.len(), papers.collect::<BTreeSet<String>>())
    };
    let (n_rows, wanted) = of_rows().await;
    let found = papers(&data);
    assert!(found.is_subset(&wanted), "without a row: {found:?} {log}");
    let n_begun = log.matches("begins").count();
    match (
        log.lines()
            .last()
            .is_some_and(|line| line.starts_with("begins")),
        n_rows,
    ) {
        (false, _) => hits.n_between += 1,
        (true, n) if n < n_begun => hits.n_judging += 1,
        (true, _) if found != wanted => hits.n_row_without_all_papers += 1,
        (true, _) => hits.n_all_written += 1,
    }
    let done = make_good(&data, &register).await.unwrap();
    assert!(
        done.iter().all(|told| told.contains("is now entered as")),
        "{done:?}"
    );
    let (n_rows, wanted) = of_rows().await;
    assert_eq!(n_rows, N_RECORDINGS, "{done:?}");
    assert_eq!(papers(&data), wanted, "{done:?} {log}");
    assert_eq!(wanted.len(), 2 * N_RECORDINGS, "a number was given twice");
    for row in register.latest(1000).await.unwrap() {
        let path = data.recordings().join(&row.archive_file);
        assert_eq!(sha256_hex(&path).unwrap(), row.archive_sha256);
    }
    assert_eq!(
        make_good(&data, &register).await.unwrap(),
        Vec::<String>::new()
    );
    register.close().await;
    let audited = audit(&data.register()).await.unwrap();
    assert_eq!(audited.differs, Vec::<String>::new());
    let chain: Vec<&str> = audited
        .chain
        .iter()
        .map(|head| head.number.as_str())
        .collect();
    let expected: Vec<String> = (1..=N_RECORDINGS)
        .map(|n| format!("{}{n:04}", &chain[0][..chain[0].len() - 4]))
        .collect();
    assert_eq!(chain, expected, "numbers without gaps, in one chain");
}

#[tokio::test]
async fn whatever_a_kill_hits_the_next_start_makes_it_whole() {
    let asked = std::env::var("STILLROD_KILLS").ok();
    let n_kills = asked.map_or(N_KILLS, |n| n.parse().unwrap());
    let original = tempfile::tempdir().unwrap();
    made(original.path());
    let mut dice = ChaCha8Rng::seed_from_u64(9);
    let mut hits = Hits::default();
    for _ in 0..n_kills {
        let folder = tempfile::tempdir().unwrap();
        copied(original.path(), folder.path());
        let wait = Duration::from_secs_f64(dice.random_range(0.0..LONGEST_S));
        let log = killed(folder.path(), wait);
        looked_at(folder.path(), &log, &mut hits).await;
    }
    println!("{n_kills} kills: {hits:?}");
    let n_inside = n_kills - hits.n_between;
    assert!(
        n_inside * 4 >= n_kills,
        "only {n_inside} kills fell inside an issue"
    );
}
