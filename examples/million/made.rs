//! Tests and jobs of 25 years, entered one after another as they came.

use crate::depot;
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use stillrod::register::Bench;
use stillrod::register::Decision;
use stillrod::register::Finding;
use stillrod::register::JobState;
use stillrod::register::NewJob;
use stillrod::register::NewTest;
use stillrod::register::NumberPrefix;
use stillrod::register::PaperKind;
use stillrod::register::PartUsed;
use stillrod::register::Register;
use stillrod::register::Unit;
use stillrod::verdict::Outcome;

/// 1 January 2001 and 1 January 2026, UTC ms since 1970.
pub const FIRST_UTC_MS: i64 = 978_307_200_000;
const END_UTC_MS: i64 = 1_767_225_600_000;

/// Milliseconds of a day.
pub const DAY_MS: i64 = 86_400_000;

/// Rows in one transaction, about.
const PORTION: u32 = 5_000;

/// Enters that many tests, and a job for every four of them.
pub async fn fill(register: &Register, n_tests: u32, record_bytes: usize) -> anyhow::Result<()> {
    let mut dice = depot::dice(2001);
    let mut many = register.many().await?;
    let mut index: u32 = 0;
    while index < n_tests {
        let unit = depot::unit(dice.random_range(0..depot::N_UNITS));
        let n_here = dice.random_range(1..=7).min(n_tests - index);
        let at = |index| at_utc_ms(index, n_tests);
        let opened = job(&unit, at(index), &mut dice);
        let entered;
        (many, entered) = many.enter_job(&opened).await?;
        for place in 0..n_here {
            let test = test(index, unit.clone(), at(index), place, &mut dice);
            let text = |number: &str| record(number, record_bytes);
            (many, _) = many.record_test(&test, text).await?;
            index += 1;
            if index.is_multiple_of(PORTION) {
                many.finish().await?;
                many = register.many().await?;
            }
            if index.is_multiple_of(100_000) {
                println!("{index} tests");
            }
        }
        let done = done(opened, entered.number, at(index), &mut dice);
        (many, _) = many.enter_job(&done).await?;
    }
    Ok(many.finish().await?)
}

fn at_utc_ms(index: u32, n_tests: u32) -> i64 {
    FIRST_UTC_MS + (END_UTC_MS - FIRST_UTC_MS) / i64::from(n_tests) * i64::from(index)
}

/// A test of a unit.
pub fn test(index: u32, unit: Unit, at_utc_ms: i64, place: u32, dice: &mut ChaCha8Rng) -> NewTest {
    let outcome = match (place, dice.random_range(0..10)) {
        (0, 0..=7) => Outcome::Fail,
        (_, 8) => Outcome::Undecided,
        (_, 9) => Outcome::NotValid,
        _ => Outcome::Pass,
    };
    let run_id = format!("{at_utc_ms}-{index}");
    NewTest {
        archive_file: format!("{run_id}.h5"),
        run_id,
        unit,
        started_utc_ms: at_utc_ms + dice.random_range(0..600_000),
        time_zone: "Europe/London".into(),
        outcome,
        headline: format!(
            "cap loss {:.3} mL/min, limit 0.120 mL/min at 96 bar",
            f64::from(dice.random_range(0..2_000)) / 1000.0
        ),
        archive_sha256: format!("{:064x}", dice.random::<u128>()),
        software: "stillrod 0.1.0".into(),
        method_version: 1,
        sensors: Vec::new(),
        bench: Bench::Shop,
        kind: PaperKind::Certificate,
        prefix: NumberPrefix::new("TV").expect("capitals"),
        issued_utc_ms: at_utc_ms + 700_000,
        issued_utc_offset_s: 0,
    }
}

/// A JSON text as long as a record.
pub fn record(number: &str, bytes: usize) -> String {
    let mut text = format!("{{\n  \"number\": \"{number}\",\n  \"figures\": [\n");
    let mut value = 0.0;
    while text.len() < bytes {
        value += 0.618_034;
        text.push_str(&format!(
            "    {{ \"name\": \"cap_loss\", \"value\": {value} }},\n"
        ));
    }
    text.push_str("    null\n  ]\n}\n");
    text
}

/// A job as it is opened.
pub fn job(unit: &Unit, at_utc_ms: i64, dice: &mut ChaCha8Rng) -> NewJob {
    let symptom = depot::symptom(dice);
    let day = day(at_utc_ms);
    NewJob {
        number: None,
        unit: unit.clone(),
        entered_utc_ms: at_utc_ms,
        time_zone: "Europe/London".into(),
        role: format!("fitter {}", dice.random_range(1..6)),
        state: JobState::Open,
        reason: String::new(),
        sheet: format!(
            "[job]\nunit = \"{}\"\ncame_in = {day}\nsymptom = \"{symptom}\"\nby = \"fitter 2\"\n",
            unit.tag
        ),
        came_in: day,
        went_out: String::new(),
        symptom,
        decision: None,
        findings: Vec::new(),
        parts: Vec::new(),
    }
}

/// The same when the unit goes out.
fn done(opened: NewJob, number: i64, at_utc_ms: i64, dice: &mut ChaCha8Rng) -> NewJob {
    let (part, condition) = depot::found(dice);
    let price = dice.random_range(800..12_000);
    NewJob {
        number: Some(number),
        entered_utc_ms: at_utc_ms,
        state: JobState::Done,
        went_out: day(at_utc_ms),
        decision: Some(Decision::Rebuild),
        reason: "tube and rod are sound".into(),
        findings: vec![Finding {
            part: part.into(),
            condition: condition.into(),
            structural: false,
            measured_m: Some(0.12e-3),
            limit_m: Some(0.05e-3),
        }],
        parts: vec![PartUsed {
            part: "seal kit".into(),
            count: 1,
            price_hundredths: price,
            from_kit: true,
        }],
        sheet: format!(
            "{}\n[[finding]]\npart = \"{part}\"\ncondition = \"{condition}\"\n\n[[part]]\n\
             what = \"seal kit\"\nprice = {}\nfrom_kit = true\n",
            opened.sheet,
            f64::from(price) / 100.0
        ),
        ..opened
    }
}

/// The day of an instant in UTC, "2026-11-20".
fn day(utc_ms: i64) -> String {
    stillrod::daemon::clock::utc_date(utc_ms)
}
