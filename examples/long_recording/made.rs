//! The journal of an invented hold that lasts a day: 1 kHz, six channels.

use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use stillrod::channel::Calibration;
use stillrod::channel::Channel;
use stillrod::channel::Role;
use stillrod::channel::SensorErrors;
use stillrod::channel::SensorPapers;
use stillrod::daemon::journal_file::JournalFile;
use stillrod::recording::Ending;
use stillrod::recording::Gap;
use stillrod::recording::GapCause;
use stillrod::recording::Heading;
use stillrod::recording::JournalWriter;
use stillrod::recording::Loss;
use stillrod::recording::Row;

/// Its run.
pub const RUN: &str = "tv-0312-long";

const ROWS_PER_S: u64 = 1_000;

/// Rows that come together.
const ROWS_PER_BLOCK: u64 = 100;

/// A tenth of a second is lost each half hour.
const LOST_EACH_S: u64 = 1_800;

const SETUP: &str = include_str!("../../sample-runs/piston-seal-bypass/setup.toml");

/// SI value of code 0 and of one code, and noise in codes of one sigma.
fn scale(role: Role) -> (f64, f64, f64) {
    match role {
        Role::CapPressure | Role::RodPressure => (0.0, 625.0, 12.0),
        Role::Position => (0.0, 1e-6, 10.0),
        Role::OilTemperature | Role::WallTemperature => (273.15, 0.01, 3.0),
        Role::Supply => (0.0, 1e-4, 5.0),
    }
}

fn channel(role: Role) -> Channel {
    let (si_at_zero_code, si_per_code, _) = scale(role);
    Channel {
        role,
        label: format!("AI {}", role.word()),
        calibration: Calibration {
            si_at_zero_code,
            si_per_code,
            si_per_code_squared: 0.0,
        },
        good_codes: (-1_000, 1_000_000),
        range_si: (0.0, 4e7),
        errors: SensorErrors {
            zero_si: 5e3,
            span_relative: 1e-3,
            zero_si_per_k: 5e2,
        },
        papers: SensorPapers::default(),
        against_supply: None,
    }
}

/// What it would be without noise, in SI units.
fn value(role: Role, t_s: f64) -> f64 {
    let daily = (t_s * std::f64::consts::TAU / 86_400.0).sin();
    let settled = 1.0 - (-t_s / 7_200.0).exp();
    match role {
        Role::CapPressure => 150e5 + 60e5 * settled + 2e5 * daily,
        Role::RodPressure => 5e5 + 200e5 * settled + 2e5 * daily,
        Role::Position => 0.3 - 0.018 * settled,
        Role::OilTemperature => 293.15 + 18.0 * (-t_s / 5_000.0).exp() + 2.0 * daily,
        Role::WallTemperature => 293.15 + 15.0 * (-t_s / 6_000.0).exp() + 2.5 * daily,
        Role::Supply => 4.98 + 0.01 * daily,
    }
}

/// Makes it in a folder.
pub fn journal(folder: &Path, hours: f64) -> anyhow::Result<JournalFile> {
    let n_s = (hours * 3_600.0) as u64;
    let setup_toml = SETUP.replace("\"300 s\"", &format!("\"{} s\"", n_s.saturating_sub(90)));
    let heading = Heading {
        run_id: RUN.into(),
        started_utc_ms: 1_767_225_600_000,
        time_zone: "Europe/Oslo".into(),
        software: env!("CARGO_PKG_VERSION").into(),
        source: "made by an example".into(),
        setup_toml,
        shop_toml: String::new(),
        practice: "no cylinder: made to measure with".into(),
    };
    let channels = Role::ALL.map(channel);
    let (mut writer, start) = JournalWriter::begin(&heading, &channels)?;
    let mut file = JournalFile::create(folder, RUN, &start, 0.0)?;
    file.append(&writer.phase_begins("settle", 0.0))?;
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let mut n_lost = 0;
    for block in 0..n_s * ROWS_PER_S / ROWS_PER_BLOCK {
        let first = block * ROWS_PER_BLOCK;
        if first == 60 * ROWS_PER_S {
            file.append(&writer.phase_ends("settle", 60.0))?;
            file.append(&writer.phase_begins("hold", 60.0))?;
        }
        if first > 0 && first.is_multiple_of(LOST_EACH_S * ROWS_PER_S) {
            n_lost += ROWS_PER_BLOCK;
            let (from_s, until_s) = (seconds(first - 1), seconds(first + ROWS_PER_BLOCK));
            let cause = GapCause::Lost;
            file.append(&writer.gap(&Gap {
                from_s,
                until_s,
                cause,
            }))?;
            continue;
        }
        let rows: Vec<Row> = (first..first + ROWS_PER_BLOCK)
            .map(|row| made_row(seconds(row), &mut random))
            .collect();
        file.append(&writer.rows(&rows)?)?;
    }
    file.append(&writer.loss(&Loss {
        n_samples_lost: n_lost,
        ..Loss::default()
    }))?;
    file.append(&writer.phase_ends("hold", n_s as f64))?;
    file.append(&writer.ending(&Ending::Complete))?;
    file.sync()?;
    Ok(file)
}

fn seconds(row: u64) -> f64 {
    row as f64 / ROWS_PER_S as f64
}

fn made_row(time_s: f64, random: &mut ChaCha8Rng) -> Row {
    let code = |role: Role| {
        let (at_zero, per_code, noise) = scale(role);
        // The sum of two even draws is near enough to noise.
        let draw = random.random::<f64>() + random.random::<f64>() - 1.0;
        let codes = (value(role, time_s) - at_zero) / per_code + 2.45 * noise * draw;
        codes.round() as i32
    };
    Row {
        time_s,
        codes: Role::ALL.map(code).to_vec(),
    }
}
