//! What is asked, and how long the answer takes.

#![allow(
    clippy::disallowed_methods,
    reason = "a benchmark reads the clock; the core still does not"
)]

use crate::depot;
use crate::made;
use crate::made::DAY_MS;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rustix::fs::Advice;
use std::path::Path;
use std::time::Instant;
use stillrod::register::Period;
use stillrod::register::Register;
use stillrod::register::RegisterError;

/// Rows that a list shows.
const N_SHOWN: u32 = 50;

/// Days of the 25 years.
const N_DAYS: i64 = 9_131;

/// A search: what is typed, and in what time.
type Search = (&'static str, fn(&mut ChaCha8Rng) -> (String, Period));

const SEARCHES: [Search; 11] = [
    ("a tag", |dice| (tag(dice), Period::ALWAYS)),
    ("a machine", |dice| (depot::machine(dice), Period::ALWAYS)),
    ("a week, without words", |dice| {
        (String::new(), days(dice, 7))
    }),
    ("words and a month", |dice| {
        (format!("{} tilt", depot::machine(dice)), days(dice, 30))
    }),
    ("a word and a day", |dice| {
        ("cylinder".into(), days(dice, 1))
    }),
    ("part of a number", |dice| {
        let year = dice.random_range(2001..2026);
        let start = dice.random_range(10..400);
        (format!("TV-{year}-{start}"), Period::ALWAYS)
    }),
    ("only the end of a number", |dice| {
        (dice.random_range(1_000..40_000).to_string(), Period::ALWAYS)
    }),
    ("a word of nearly every row", |dice| {
        let words = ["cylinder", "TV", "cyl", "c", "tv-", "cylinder tv", "t"];
        (
            words[dice.random_range(0..words.len())].into(),
            Period::ALWAYS,
        )
    }),
    ("a word of no row", |dice| {
        let words = ["excavator", "zz", "crane 7", "TV-9999-1", "cylinder xyz"];
        (
            words[dice.random_range(0..words.len())].into(),
            Period::ALWAYS,
        )
    }),
    ("two frequent words of no row together", |dice| {
        let words = ["plough loader", "sweeper boom", "mower tilt brush"];
        (
            words[dice.random_range(0..words.len())].into(),
            Period::ALWAYS,
        )
    }),
    ("the beginning of a word", |dice| {
        let words = [
            "plou",
            "spread",
            "sweepe",
            "polyuretha",
            "carri",
            "gul",
            "winter ca",
        ];
        (
            words[dice.random_range(0..words.len())].into(),
            Period::ALWAYS,
        )
    }),
];

fn tag(dice: &mut ChaCha8Rng) -> String {
    depot::unit(dice.random_range(0..depot::N_UNITS)).tag
}

fn days(dice: &mut ChaCha8Rng, n: i64) -> Period {
    let from_utc_ms = made::FIRST_UTC_MS + dice.random_range(0..N_DAYS - n) * DAY_MS;
    Period {
        from_utc_ms,
        until_utc_ms: from_utc_ms + n * DAY_MS - 1,
    }
}

/// Opens the file with nothing of it in memory, and asks once.
pub async fn cold(path: &Path) -> anyhow::Result<()> {
    let size_gb = std::fs::metadata(path)?.len() as f64 / 1e9;
    println!("{}: {size_gb:.2} GB", path.display());
    for (told, is_forgotten) in [("cold", true), ("warm", false)] {
        if is_forgotten {
            // Pages that were read of this file leave memory; those of other programs stay.
            let file = std::fs::File::open(path)?;
            file.sync_all()?;
            rustix::fs::fadvise(&file, 0, None, Advice::DontNeed)?;
        }
        let begun = Instant::now();
        let register = Register::open(path).await?;
        let open_ms = ms(begun);
        let found = register
            .matching("TV-0312", Period::ALWAYS, N_SHOWN)
            .await?;
        let (answer_ms, n) = (ms(begun), found.len());
        println!(
            "{told}: open after {open_ms:.1} ms, first answer of {n} rows after {answer_ms:.1} ms"
        );
        register.close().await;
    }
    Ok(())
}

/// Asks what people ask, in many forms.
pub async fn questions(register: &Register, n: u32) -> anyhow::Result<()> {
    println!(
        "\n{:<42} {:>8} {:>8} {:>8}   rows",
        "ms", "median", "95 %", "worst"
    );
    for (told, draw) in SEARCHES {
        let mut dice = depot::dice(7);
        let mut times = Times::default();
        for _ in 0..n {
            let (text, period) = draw(&mut dice);
            let begun = Instant::now();
            let found = register.matching(&text, period, N_SHOWN).await?;
            times.take(begun, found.len(), &text);
        }
        times.tell(told);
    }
    for told in [
        "words of a symptom",
        "a frequent word of a symptom",
        "history of a unit",
        "latest tests",
        "a number",
        "latest jobs",
    ] {
        let mut dice = depot::dice(8);
        let mut times = Times::default();
        for _ in 0..n {
            let (begun, n_rows, text) = other(register, told, &mut dice).await?;
            times.take(begun, n_rows, &text);
        }
        times.tell(told);
    }
    Ok(())
}

/// Questions that are no search for tests.
async fn other(
    register: &Register,
    told: &str,
    dice: &mut ChaCha8Rng,
) -> Result<(Instant, usize, String), RegisterError> {
    let tag = tag(dice);
    let words = depot::words_of_a_symptom(dice);
    let number = format!(
        "TV-{}-{}",
        dice.random_range(2001..2026),
        dice.random_range(1000..39_000)
    );
    let begun = Instant::now();
    Ok(match told {
        "words of a symptom" => {
            let found = register.jobs_matching(&words, N_SHOWN).await?;
            (begun, found.len(), words)
        }
        "a frequent word of a symptom" => {
            let word = words.split(' ').next().unwrap_or_default();
            let found = register.jobs_matching(word, N_SHOWN).await?;
            (begun, found.len(), word.into())
        }
        "history of a unit" => {
            let n_tests = register.tests_of_unit(&tag).await?.len();
            let n_jobs = register.jobs_of_unit(&tag).await?.len();
            (begun, n_tests + n_jobs, tag)
        }
        "latest tests" => (begun, register.latest(N_SHOWN).await?.len(), String::new()),
        "a number" => {
            let found = register.find_by_number(&number).await?;
            (begun, usize::from(found.is_some()), number)
        }
        _ => {
            let found = register.jobs_matching("", N_SHOWN).await?;
            (begun, found.len(), String::new())
        }
    })
}

/// Enters more tests, one after another.
pub async fn entering(register: &Register, n: u32, record_bytes: usize) -> anyhow::Result<()> {
    let mut dice = depot::dice(9);
    let mut times = Times::default();
    // Rows of an earlier measurement have the same runs, and would be known again.
    let already = register
        .latest(1)
        .await?
        .first()
        .map_or(0, |entry| entry.test_id);
    let first = u32::try_from(already)?;
    for index in first..first + n {
        let unit = depot::unit(dice.random_range(0..depot::N_UNITS));
        let at_utc_ms = 1_767_225_600_000 + i64::from(index) * 60_000;
        let test = made::test(index, unit, at_utc_ms, 0, &mut dice);
        let begun = Instant::now();
        let text = |number: &str| made::record(number, record_bytes);
        register.record_test(&test, text).await?;
        times.take(begun, 1, "");
    }
    times.tell("entering a test");
    Ok(())
}

/// Checks every page of the file.
pub async fn whole(path: &Path) -> anyhow::Result<()> {
    let register = Register::open(path).await?;
    let begun = Instant::now();
    register.check().await?;
    println!(
        "\nthe whole file is whole; to check it took {:.1} s",
        ms(begun) / 1e3
    );
    register.close().await;
    Ok(())
}

fn ms(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1e3
}

/// How long answers took.
#[derive(Default)]
struct Times {
    ms: Vec<f64>,
    n_rows: usize,
    slowest: (f64, String),
}

impl Times {
    fn take(&mut self, begun: Instant, n_rows: usize, text: &str) {
        let took = ms(begun);
        self.ms.push(took);
        self.n_rows += n_rows;
        if took > self.slowest.0 {
            self.slowest = (took, text.into());
        }
    }

    fn tell(mut self, told: &str) {
        self.ms.sort_by(f64::total_cmp);
        let at = |part: f64| self.ms[((self.ms.len() - 1) as f64 * part).round() as usize];
        println!(
            "{told:<42} {:>8.2} {:>8.2} {:>8.2}   {:.1}   {}",
            at(0.5),
            at(0.95),
            at(1.0),
            self.n_rows as f64 / self.ms.len() as f64,
            self.slowest.1
        );
    }
}
