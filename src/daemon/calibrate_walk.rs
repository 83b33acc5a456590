//! `stillrod calibrate --port`, and the same from the page: a walk along points with a reference,
//! the board reading the sensor.
//!
//! A person brings the reference to a value and types it; the readings of the next seconds make
//! the point. What a point is, `bench::Walk` says; the curve is fitted by the code that fits points
//! that were written by hand.

use super::calibrate::Calibrated;
use super::calibrate::calibrate;
use super::conduct::NamedText;
use super::terminal;
use crate::bench::Walk;
use crate::bench::WalkEffect;
use crate::channel::Channel;
use crate::channel::SensorInfo;
use crate::channel::from_board;
use crate::channel::read_out;
use crate::link::Adapter;
use crate::link::Link;
use crate::link::LinkEvent;
use crate::link::Request;
use crate::settings::PointsCalibration;
use crate::settings::SensorSetup;
use crate::settings::Untaken;
use crate::settings::in_unit;
use crate::settings::value_si;
use anyhow::bail;
use std::future::Future;
use std::path::Path;
use std::pin::Pin;
use std::time::Duration;
use tokio::sync::mpsc::UnboundedReceiver;

/// How long an adapter that was pulled is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// How the sensor's code becomes a reading as it is written.
struct ReadOut {
    /// Place of its code in a row.
    index: usize,
    /// What makes a reading of it.
    channel: Channel,
    /// Place of the supply it is read against, and its channel.
    supply: Option<(usize, Channel)>,
    /// SI value of zero and of one more, where readings are written in a unit of the quantity.
    unit: (f64, f64),
}

impl ReadOut {
    fn reading(&self, codes: &[i32]) -> Option<f64> {
        let code = *codes.get(self.index)?;
        let supply = self.supply.as_ref();
        let supply_v = supply.and_then(|(index, channel)| channel.value(*codes.get(*index)?));
        let reading = self.channel.value_at(code, supply_v)?;
        Some((reading - self.unit.0) / self.unit.1)
    }
}

/// What the person asked for with a line.
#[derive(Debug, PartialEq)]
enum Word {
    Reference(f64),
    Back,
    Done,
}

/// What whoever walks is told.
#[derive(Debug)]
pub enum Told<'a> {
    /// The board answered; this is the sensor.
    Begun(&'a Untaken, &'a PointsCalibration),
    /// Something was understood, read, or is wrong.
    Effect(&'a WalkEffect),
    /// Where it stands, with the latest reading.
    Stands(&'a Walk, Option<f64>),
    /// It ends without a curve; these are the points so far.
    Ends(&'a Walk),
}

/// Walks along the points of the one sensor of a file that has none yet, and fits them.
///
/// # Errors
/// If the file or the adapter cannot be used, the walk is given up, or its points make no curve
/// in the end; the points are printed all the same.
pub async fn calibrate_walk(
    file: &NamedText,
    port: &Path,
    sensor: Option<&str>,
) -> anyhow::Result<Vec<Calibrated>> {
    let Some(lines) = terminal::lines(|| ()) else {
        bail!("what is typed cannot be read");
    };
    let mut tell = |told: Told<'_>| match told {
        Told::Begun(untaken, points) => introduce(untaken, points),
        Told::Effect(effect) => print(effect),
        Told::Stands(..) => {}
        Told::Ends(walk) => print_points(walk),
    };
    walked(file, port, sensor, lines, None, &mut tell).await
}

/// The same with lines from anywhere; without a line for `patience` it ends, if that is given.
///
/// # Errors
/// As [`calibrate_walk`].
pub async fn walked(
    file: &NamedText,
    port: &Path,
    sensor: Option<&str>,
    mut lines: UnboundedReceiver<((), String)>,
    patience: Option<Duration>,
    tell: &mut (dyn FnMut(Told<'_>) + Send),
) -> anyhow::Result<Vec<Calibrated>> {
    let untaken = Untaken::of(&file.0, &file.1, sensor)?;
    let Some(points) = &untaken.sensor.calibration else {
        bail!("{} has no calibration to take points for", file.0);
    };
    let (mut link, hello) = Link::open(Adapter::new(port), PATIENCE).await?;
    let read_out = out_of(&untaken, points, &hello.channels)?;
    tell(Told::Begun(&untaken, points));
    let mut walk = Walk::new(&points.reference_in, &points.read_in);
    link.begin_recording();
    link.send(Request::Start);
    let mut said = lines_end_after(&mut lines, patience);
    let calibrated = loop {
        tokio::select! {
            event = link.next() => heard(&mut walk, &read_out, event, tell)?,
            line = &mut said => {
                drop(said);
                let Some(line) = line else {
                    tell(Told::Ends(&walk));
                    bail!("the input ended before `done`; the points so far are above");
                };
                match word(&untaken, points, &line) {
                    Err(why) => tell(Told::Effect(&WalkEffect::Warn(why))),
                    Ok(Word::Reference(value)) => tell(Told::Effect(&walk.reference(value))),
                    Ok(Word::Back) => tell(Told::Effect(&walk.back())),
                    Ok(Word::Done) => match fitted(&untaken, &walk) {
                        Ok(found) => break found,
                        Err(why) => tell(Told::Effect(&WalkEffect::Warn(format!("{why:#}. Take more points, or take some back")))),
                    },
                }
                tell(Told::Stands(&walk, None));
                said = lines_end_after(&mut lines, patience);
            }
        }
    };
    link.send(Request::Stop);
    link.close().await;
    Ok(calibrated)
}

/// The next line; None if the lines end, or none comes for so long.
fn lines_end_after<'a>(
    lines: &'a mut UnboundedReceiver<((), String)>,
    patience: Option<Duration>,
) -> Pin<Box<dyn Future<Output = Option<String>> + Send + 'a>> {
    Box::pin(async move {
        let next = lines.recv();
        let line = match patience {
            Some(patience) => tokio::time::timeout(patience, next).await.ok().flatten(),
            None => next.await,
        };
        line.map(|((), line)| line)
    })
}

fn out_of(
    untaken: &Untaken,
    points: &PointsCalibration,
    table: &firmware_protocol::ChannelTable,
) -> anyhow::Result<ReadOut> {
    let sensor = &untaken.sensor;
    let (own, index) = info(sensor)?;
    let channel = read_out(table, &own, &points.curve)?;
    let supply = match &untaken.supply {
        Some(supply) if sensor.is_against_supply => {
            let (own, index) = info(supply)?;
            let [channel] = <[Channel; 1]>::try_from(from_board(table, &[own])?)
                .map_err(|_other| anyhow::anyhow!("the board has no one supply"))?;
            Some((index, channel))
        }
        _ => None,
    };
    let unit = match points.read_in.as_str() {
        "counts" | "mA" | "V" => (0.0, 1.0),
        unit => in_unit(sensor.role, unit)?,
    };
    Ok(ReadOut {
        index,
        channel,
        supply,
        unit,
    })
}

/// A sensor as its board is asked for it, by its calibration but not at the load; and its place
/// in a row.
pub(super) fn info(sensor: &SensorSetup) -> anyhow::Result<(SensorInfo, usize)> {
    let Some(board_channel) = sensor.board_channel else {
        bail!(
            "sensors.{} does not say at which `channel` of the board it is",
            sensor.role.word()
        );
    };
    let info = SensorInfo {
        role: sensor.role,
        board_channel,
        errors: sensor.errors,
        papers: sensor.papers.clone(),
        motion_ratio: 1.0,
        signal: sensor.signal,
        is_against_supply: sensor.is_against_supply,
        curve: sensor.calibration.as_ref().map(|c| c.curve.clone()),
    };
    Ok((info, usize::from(board_channel)))
}

fn introduce(untaken: &Untaken, points: &PointsCalibration) {
    println!(
        "{} against {}, read in {}.\nPressure can inject oil through the skin and can kill: keep to what the maker of the \
         reference and local rules say.\n\nBring the reference to a value, let it rest, and type what it shows, as \
         \"50 {}\". Go up and down again, five points or more.\n\"back\" takes the last point back, \"done\" ends.",
        untaken.sensor.role.plain(),
        points.reference,
        points.read_in,
        points.reference_in
    );
}

/// What a line means.
fn word(untaken: &Untaken, points: &PointsCalibration, line: &str) -> Result<Word, String> {
    let typed = line.trim();
    match typed.to_lowercase().as_str() {
        "back" => return Ok(Word::Back),
        "done" => return Ok(Word::Done),
        _ => {}
    }
    let role = untaken.sensor.role;
    let has_unit = typed.chars().any(char::is_alphabetic);
    let whole = match has_unit {
        true => typed.to_owned(),
        false => format!("{typed} {}", points.reference_in),
    };
    let (zero, one) = in_unit(role, &points.reference_in).map_err(|e| e.to_string())?;
    let si = value_si(role, &whole).map_err(|e| e.to_string())?;
    let value = (si - zero) / one;
    // What was typed in the reference's own unit stays as it was typed.
    Ok(Word::Reference((value * 1e9).round() / 1e9))
}

fn heard(
    walk: &mut Walk,
    read_out: &ReadOut,
    event: LinkEvent,
    tell: &mut (dyn FnMut(Told<'_>) + Send),
) -> anyhow::Result<()> {
    match event {
        LinkEvent::Samples(rows) => {
            let mut latest = None;
            for row in rows {
                latest = read_out.reading(&row.codes);
                if let Some(effect) = walk.row(row.time_s, latest) {
                    tell(Told::Effect(&effect));
                }
            }
            tell(Told::Stands(walk, latest));
        }
        LinkEvent::Gap(_) => {
            if let Some(effect) = walk.gap() {
                tell(Told::Effect(&effect));
            }
        }
        LinkEvent::Lost(why) => tell(Told::Effect(&WalkEffect::Warn(format!(
            "adapter lost: {why}. Plug it in again; points that were taken stay"
        )))),
        LinkEvent::Silent => tell(Told::Effect(&WalkEffect::Warn(
            "no data for 2 s: check cable and supply of the board".into(),
        ))),
        LinkEvent::Refused(why) | LinkEvent::OtherVersion(why) => {
            tell(Told::Effect(&WalkEffect::Warn(why)));
        }
        LinkEvent::OtherBoard(_) => {
            tell(Told::Ends(walk));
            bail!("another board answered on the adapter; the points so far are above");
        }
        LinkEvent::GaveUp => {
            tell(Told::Ends(walk));
            bail!("the adapter was unplugged and did not come back; the points so far are above");
        }
        LinkEvent::Hello(_) | LinkEvent::Status(_) | LinkEvent::Back { .. } => {}
    }
    Ok(())
}

fn fitted(untaken: &Untaken, walk: &Walk) -> anyhow::Result<Vec<Calibrated>> {
    if walk.is_taking() {
        bail!("a point is being read; wait for it");
    }
    let role = untaken.sensor.role;
    let all = calibrate(&untaken.with_points(walk.points()))?;
    Ok(all.into_iter().filter(|found| found.role == role).collect())
}

fn print(effect: &WalkEffect) {
    match effect {
        WalkEffect::Say(text) => println!("{text}"),
        WalkEffect::Warn(text) => println!("! {text}."),
    }
}

fn print_points(walk: &Walk) {
    let pairs: Vec<String> = walk
        .points()
        .iter()
        .map(|(reference, reading)| format!("[{reference:?}, {reading:?}]"))
        .collect();
    println!("points = [{}]", pairs.join(", "));
}

#[cfg(test)]
mod tests;
