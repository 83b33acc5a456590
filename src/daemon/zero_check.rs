//! A look at the zeros of pressure sensors while both sides are open to the atmosphere.
//!
//! The board is started, read for ten seconds and stopped. What a zero may be is `health`'s rule,
//! the same that judges the looks of a procedure. Nothing is stored and nothing is changed.

use super::calibrate_walk::info;
use super::conduct::NamedText;
use super::proof::mean_of;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::from_board;
use crate::health::ZeroLook;
use crate::health::zero_allowed_si;
use crate::health::zero_off;
use crate::health::zero_repeats_si;
use crate::link::Adapter;
use crate::link::Link;
use crate::link::LinkEvent;
use crate::link::Request;
use crate::recording::Row;
use crate::settings::SensorSetup;
use crate::settings::sensors_of;
use anyhow::bail;
use std::path::Path;
use std::time::Duration;

/// How long is read, s of bench time.
pub const LOOK_S: f64 = 10.0;

/// How long that may take.
const LONGEST: Duration = Duration::from_secs(30);

/// Readings that a look needs at least.
const N_LEAST: usize = 10;

/// The zero of one sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct ZeroRead {
    /// What it measures.
    pub role: Role,
    /// Its serial number.
    pub serial: String,
    /// Readings that were taken, and those outside what a sound sensor sends.
    pub n: (usize, usize),
    /// What came of it; None where any reading was broken.
    pub zero: Option<Zero>,
}

/// What a vented sensor read, SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zero {
    /// Mean of its readings.
    pub mean_si: f64,
    /// Standard deviation of single readings.
    pub scatter_si: f64,
    /// How far from zero its papers allow.
    pub allowed_si: f64,
    /// Whether it is within that.
    pub is_within: bool,
}

/// Reads the pressure sensors of a setup for ten seconds.
///
/// # Errors
/// If the file or the adapter cannot be used, or readings were lost meanwhile.
pub async fn zero_check(file: &NamedText, port: &Path) -> anyhow::Result<Vec<ZeroRead>> {
    let sensors = sensors_of(&file.0, &file.1)?;
    let is_pressure =
        |sensor: &&SensorSetup| matches!(sensor.role, Role::CapPressure | Role::RodPressure);
    let mut wanted: Vec<&SensorSetup> = sensors.iter().filter(is_pressure).collect();
    if wanted.is_empty() {
        bail!(
            "{} has no pressure sensor: write [sensors.p_cap] with its channel",
            file.0
        );
    }
    if wanted.iter().any(|sensor| sensor.is_against_supply) {
        wanted.extend(sensors.iter().find(|sensor| sensor.role == Role::Supply));
    }
    let of_board = wanted.iter().map(|sensor| info(sensor));
    let (infos, places): (Vec<_>, Vec<_>) = of_board
        .collect::<anyhow::Result<Vec<_>>>()?
        .into_iter()
        .unzip();
    let (mut link, hello) = Link::open(Adapter::new(port), Duration::ZERO).await?;
    let read = match from_board(&hello.channels, &infos) {
        Ok(channels) => {
            let rows = tokio::time::timeout(LONGEST, rows_of(&mut link)).await;
            rows.map_err(anyhow::Error::from)
                .and_then(|rows| Ok((channels, rows?)))
        }
        Err(error) => Err(error.into()),
    };
    link.send(Request::Stop);
    link.close().await;
    let (channels, rows) = read?;
    let table: Vec<(&Channel, usize)> = channels.iter().zip(places).collect();
    let supply = table
        .iter()
        .find(|(channel, _)| channel.role == Role::Supply)
        .copied();
    let pressures = table
        .iter()
        .filter(|(channel, _)| channel.role != Role::Supply);
    pressures
        .zip(&wanted)
        .map(|((channel, place), sensor)| {
            let readings = rows
                .iter()
                .map(|row| reading((channel, *place), supply, row));
            let readings: Vec<Option<f64>> = readings.collect();
            judged(channel, &sensor.papers.serial, &readings)
        })
        .collect()
}

/// Rows of ten seconds without a gap.
async fn rows_of(link: &mut Link) -> anyhow::Result<Vec<Row>> {
    link.begin_recording();
    link.send(Request::Start);
    let mut all: Vec<Row> = Vec::new();
    loop {
        match link.next().await {
            LinkEvent::Samples(rows) => all.extend(rows),
            LinkEvent::Gap(_) | LinkEvent::Silent | LinkEvent::Lost(_) | LinkEvent::GaveUp => {
                bail!(
                    "readings were lost meanwhile: look at cable and supply of the board, and look again"
                )
            }
            LinkEvent::OtherBoard(_) => bail!("another board answered: look again"),
            LinkEvent::Refused(why) | LinkEvent::OtherVersion(why) => bail!("{why}"),
            LinkEvent::Hello(_) | LinkEvent::Status(_) | LinkEvent::Back { .. } => {}
        }
        let span_s = all
            .first()
            .zip(all.last())
            .map(|(first, last)| last.time_s - first.time_s);
        if span_s.is_some_and(|span_s| span_s >= LOOK_S) {
            return Ok(all);
        }
    }
}

fn reading(
    (channel, place): (&Channel, usize),
    supply: Option<(&Channel, usize)>,
    row: &Row,
) -> Option<f64> {
    let supply_v = supply.and_then(|(channel, place)| channel.value(*row.codes.get(place)?));
    channel.value_at(*row.codes.get(place)?, supply_v)
}

/// What readings of a vented sensor say of its zero. One that was broken says nothing of it.
fn judged(channel: &Channel, serial: &str, readings: &[Option<f64>]) -> anyhow::Result<ZeroRead> {
    let values: Vec<f64> = readings.iter().copied().flatten().collect();
    let n_broken = readings.len() - values.len();
    let zero = match n_broken {
        0 => Some(zero(channel, &values)?),
        _ => None,
    };
    Ok(ZeroRead {
        role: channel.role,
        serial: serial.into(),
        n: (readings.len(), n_broken),
        zero,
    })
}

fn zero(channel: &Channel, values: &[f64]) -> anyhow::Result<Zero> {
    let mean = mean_of(values).filter(|_| values.len() >= N_LEAST);
    let Some((mean_si, standard_si)) = mean else {
        bail!(
            "only {} readings came in {LOOK_S:.0} s; the board is too slow for this",
            values.len()
        );
    };
    let look = ZeroLook {
        mean_si,
        standard_si: standard_si.hypot(channel.resolution_si() / 12.0_f64.sqrt()),
        ambient_k: None,
        repeats_si: zero_repeats_si(channel.role),
    };
    let squares: f64 = values.iter().map(|value| (value - mean_si).powi(2)).sum();
    Ok(Zero {
        mean_si,
        scatter_si: (squares / (values.len() - 1) as f64).sqrt(),
        allowed_si: zero_allowed_si(&look, &channel.errors),
        is_within: zero_off(channel.role, &look, &channel.errors).is_none(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::Calibration;
    use crate::channel::SensorErrors;
    use crate::channel::SensorPapers;

    /// A sensor of 0.05 bar at its zero, read in steps of 0.001 bar.
    fn sensor() -> Channel {
        Channel {
            role: Role::CapPressure,
            label: "cap".into(),
            calibration: Calibration::through((0, 0.0), (1, 100.0)).expect("two codes"),
            good_codes: (-1_000, 100_000),
            range_si: (0.0, 250e5),
            errors: SensorErrors {
                zero_si: 0.05e5,
                span_relative: 1e-3,
                zero_si_per_k: 0.0,
            },
            papers: SensorPapers::default(),
            against_supply: None,
        }
    }

    /// Fifty readings about a mean, one up and one down by the scatter, bar.
    fn readings(mean_bar: f64, scatter_bar: f64) -> Vec<Option<f64>> {
        let sign = |at: usize| if at.is_multiple_of(2) { 1.0 } else { -1.0 };
        let one = |at| Some((mean_bar + sign(at) * scatter_bar) * 1e5);
        (0..50).map(one).collect()
    }

    /// √(0.05² + 0.01²) = 0.0510 bar, three of it 0.153.
    #[test]
    fn a_zero_is_within_its_papers_up_to_three_sigma_and_off_beyond() {
        for (bar, is_within) in [
            (0.0, true),
            (0.15, true),
            (-0.15, true),
            (0.156, false),
            (-3.0, false),
        ] {
            let read = judged(&sensor(), "P-1", &readings(bar, 0.004)).expect("judged");
            let zero = read.zero.expect("a zero");
            assert_eq!(zero.is_within, is_within, "{bar} bar");
            assert!((zero.mean_si - bar * 1e5).abs() < 1.0, "{zero:?}");
            assert!((zero.allowed_si - 0.153e5).abs() < 50.0, "{zero:?}");
            // Fifty readings: s is √(50/49) of what each is off.
            assert!((zero.scatter_si - 404.1).abs() < 0.1, "{zero:?}");
        }
    }

    #[test]
    fn one_broken_reading_leaves_no_zero() {
        let mut all = readings(0.0, 0.0);
        all[7] = None;
        let read = judged(&sensor(), "P-1", &all).expect("judged");
        assert_eq!((read.n, read.zero), ((50, 1), None));
    }

    #[test]
    fn too_few_readings_are_said_to_be() {
        let few = readings(0.0, 0.0)[..9].to_vec();
        let error = judged(&sensor(), "P-1", &few).expect_err("too few");
        assert!(error.to_string().contains("only 9 readings"), "{error}");
        assert!(judged(&sensor(), "P-1", &[]).is_err());
    }
}
