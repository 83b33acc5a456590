//! A hold that a person read: few readings, each known to half a division and to the moment
//! it was read in.
//!
//! Movement and pressure loss are the last reading less the first, by the time between them,
//! which is the mean over the hold whatever course it took; the readings between show that
//! course to the account. The account has the same sums, priors and nuisances as for a hold
//! that a board read; only how its data scatter is another: errors of the readings, carried
//! to the bins through the weights that brought the readings there.
//!
//! Invariant: the zero of an instrument is the same in all its readings and cancels in a
//! difference; its span and its division do not.

use super::Subject;
use super::conditions::pressure_role;
use super::evaluate::EvaluationError;
use super::figure::Contribution;
use super::figure::FigureName;
use super::figure::Measured;
use super::rate::SPAN;
use super::rate::STEEL;
use super::rate::ZERO;
use super::rate::ambient_k;
use super::rate::part;
use super::rate::steel_apart;
use super::rate::summed;
use super::series::HoldSeries;
use super::series::Signal;
use super::term::Term;
use crate::channel::ByEye;
use crate::channel::EyeInstrument;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::fit::Matrix;
use crate::procedure::LEAST_READINGS;
use crate::procedure::PLACE_WITHIN_M;
use crate::recording::EntryKind;
use crate::recording::Recording;

/// Bins between two readings that the account is computed on.
const BINS_PER_BLOCK: usize = 10;

/// A course that bends is steeper at a reading than between it and its neighbour: by which the
/// moment counts more than that rate says.
const STEEPER: f64 = 2.0;

/// One reading of an instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct EyeReading {
    /// When, s since the first of the hold.
    pub t_s: f64,
    /// What was read, SI.
    pub value_si: f64,
    /// Half of the time in which it may have been read, s.
    pub within_s: f64,
}

/// The readings of a hold, brought to bins.
pub(super) fn held(
    recording: &Recording,
    subject: &Subject,
    by_eye: &ByEye,
    (from_s, until_s): (f64, f64),
) -> Result<HoldSeries, EvaluationError> {
    let holding = pressure_role(subject.circuit.holding_chamber());
    let read = |role| readings(recording, role, (from_s, until_s));
    let own = read(holding);
    let (Some(first), Some(last)) = (own.first(), own.last()) else {
        return Err(too_few(holding, own.len()));
    };
    if own.len() < LEAST_READINGS {
        return Err(too_few(holding, own.len()));
    }
    let (start_s, length_s) = (first.t_s, last.t_s - first.t_s);
    let n_blocks = own.len() - 1;
    let t: Vec<f64> = {
        let n = n_blocks * BINS_PER_BLOCK;
        let width = length_s / n as f64;
        (0..n).map(|i| (i as f64 + 0.5) * width).collect()
    };
    let mut signals = Vec::new();
    let mut all = Vec::new();
    for instrument in &by_eye.instruments {
        let mut own = read(instrument.role);
        own.iter_mut().for_each(|r| r.t_s -= start_s);
        if own.len() < LEAST_READINGS {
            continue;
        }
        let found = match instrument.role {
            Role::Position => extension(instrument, &own, &t, n_blocks),
            _ => signal(instrument, &own, &t, n_blocks),
        };
        signals.push((instrument.role, found));
        all.push((instrument.role, own));
    }
    let is_there = signals.iter().any(|(role, _)| *role == Role::Position);
    if let Some(standing) = standing(subject, by_eye).filter(|_| !is_there) {
        signals.push((Role::Position, still(standing, t.len(), n_blocks)));
    }
    let settled_s = recording.time_s().first().map_or(0.0, |t| start_s - t);
    Ok(HoldSeries::of_readings(
        (settled_s.max(0.0), length_s),
        (n_blocks, BINS_PER_BLOCK),
        signals,
        all,
    ))
}

fn too_few(role: Role, n_found: usize) -> EvaluationError {
    EvaluationError::TooFewReadings {
        plain: role.plain(),
        n_found,
    }
}

/// Readings of a role in a stretch of a recording, with the time of its own axis.
fn readings(recording: &Recording, role: Role, (from_s, until_s): (f64, f64)) -> Vec<EyeReading> {
    let Some(track) = recording.track(role) else {
        return Vec::new();
    };
    let times = recording.time_s();
    let rows = recording.rows_within(from_s, until_s);
    let read = rows.filter_map(|row| {
        Some(EyeReading {
            t_s: times[row],
            value_si: track.value(row)?,
            within_s: asked_before(recording, times[row]),
        })
    });
    read.collect()
}

/// Time between the question and the row that answers it, s: as much later it was all said.
fn asked_before(recording: &Recording, row_s: f64) -> f64 {
    let mut asked = recording
        .entries()
        .iter()
        .filter(|entry| entry.kind == EntryKind::Look && entry.at_s <= row_s);
    asked.next_back().map_or(0.0, |entry| row_s - entry.at_s)
}

/// One sigma of the reading at a place, in its value: of the scale, and of the moment at the
/// rate that is seen round it.
fn standard(instrument: &EyeInstrument, read: &[EyeReading], place: usize) -> f64 {
    instrument.reading_si().hypot(of_moment(read, place))
}

/// What the moment of the reading at a place does to its value, one sigma.
fn of_moment(read: &[EyeReading], place: usize) -> f64 {
    let rate = |from: usize| match (read.get(from), read.get(from + 1)) {
        (Some(a), Some(b)) if b.t_s > a.t_s => ((b.value_si - a.value_si) / (b.t_s - a.t_s)).abs(),
        _ => 0.0,
    };
    let near = place.checked_sub(1).map_or(0.0, rate).max(rate(place));
    let near = near.max(mean_rate(read).abs());
    STEEPER * near * read[place].within_s / 3f64.sqrt()
}

/// Readings brought to bins, with what their errors do to the means of blocks.
fn signal(instrument: &EyeInstrument, read: &[EyeReading], t: &[f64], n_blocks: usize) -> Signal {
    let weights = weights(read, t);
    let values = |row: usize| {
        let pairs = read.iter().enumerate();
        pairs
            .map(|(i, r)| weights[(row, i)] * r.value_si)
            .sum::<f64>()
    };
    let raw: Vec<f64> = (0..t.len()).map(values).collect();
    let per_block = t.len() / n_blocks;
    let by_block = Matrix::from_fn(n_blocks, read.len(), |block, i| {
        let bins = block * per_block..(block + 1) * per_block;
        bins.map(|bin| weights[(bin, i)]).sum::<f64>() / per_block as f64
    });
    let variances = Matrix::from_fn(read.len(), read.len(), |i, j| {
        if i == j {
            standard(instrument, read, i).powi(2)
        } else {
            0.0
        }
    });
    let covariance = &by_block * variances * by_block.transpose();
    Signal::by_eye(raw, instrument.errors(), covariance)
}

/// Weights of the readings at each time: a cubic through the four nearest ones, a flat course
/// beyond the first and the last.
fn weights(read: &[EyeReading], t: &[f64]) -> Matrix {
    let n = read.len();
    let last = n.saturating_sub(1);
    let mut weights = Matrix::zeros(t.len(), n);
    for (row, t) in t.iter().enumerate() {
        let t = t.clamp(read[0].t_s, read[last].t_s);
        let after = read.partition_point(|r| r.t_s < t).clamp(1, last.max(1));
        let from = after.saturating_sub(2).min(n.saturating_sub(4));
        let nodes = from..(from + 4).min(n);
        for i in nodes.clone() {
            let others = nodes.clone().filter(|j| *j != i);
            let ratio = |j: usize| (t - read[j].t_s) / (read[i].t_s - read[j].t_s);
            weights[(row, i)] = others.map(ratio).product();
        }
    }
    weights
}

fn mean_rate(read: &[EyeReading]) -> f64 {
    match (read.first(), read.last()) {
        (Some(first), Some(last)) if last.t_s > first.t_s => {
            (last.value_si - first.value_si) / (last.t_s - first.t_s)
        }
        _ => 0.0,
    }
}

/// How far out the rod stands, m: as somebody said it, or at its end.
fn standing(subject: &Subject, by_eye: &ByEye) -> Option<f64> {
    let circuit = &subject.circuit;
    let stroke = subject.piece.cylinder()?.size().stroke.value;
    let at_end = || match circuit.holding_chamber() {
        Chamber::Cap => stroke,
        Chamber::Rod => 0.0,
    };
    match circuit.rod {
        RodHold::Bottomed => by_eye.rod_out_m.or_else(|| Some(at_end())),
        RodHold::Locked => by_eye.rod_out_m,
        RodHold::PushedIn { .. } | RodHold::PulledOut { .. } => None,
    }
}

/// What is known of a place that somebody measured with a rule, or aimed at.
fn place_errors() -> SensorErrors {
    SensorErrors {
        zero_si: PLACE_WITHIN_M / 3f64.sqrt(),
        span_relative: 0.0,
        zero_si_per_k: 0.0,
    }
}

/// A rod that stands still.
fn still(out_m: f64, n_bins: usize, n_blocks: usize) -> Signal {
    let nothing = Matrix::zeros(n_blocks, n_blocks);
    Signal::by_eye(vec![out_m; n_bins], place_errors(), nothing)
}

/// The extension by bins. The dial's span is a part of the movement, not of the whole
/// extension.
fn extension(dial: &EyeInstrument, read: &[EyeReading], t: &[f64], n_blocks: usize) -> Signal {
    let shown = signal(dial, read, t, n_blocks);
    let per_block = t.len() / n_blocks;
    let first_m = read.first().map_or(0.0, |r| r.value_si);
    let moved: Vec<f64> = shown
        .raw
        .chunks_exact(per_block)
        .map(|block| block.iter().sum::<f64>() / per_block as f64 - first_m)
        .collect();
    let span = dial.errors().span_relative;
    let by_span = Matrix::from_fn(n_blocks, n_blocks, |i, j| {
        span.powi(2) * moved[i] * moved[j]
    });
    let by_block = match shown.of_reading() {
        Some(by_reading) => by_reading + by_span,
        None => by_span,
    };
    Signal::by_eye(shown.raw, place_errors(), by_block)
}

/// Movement and pressure loss over a hold: the last reading less the first, by their time.
pub(super) fn rates(
    series: &HoldSeries,
    subject: &Subject,
    by_eye: &ByEye,
) -> Vec<(FigureName, Measured, Vec<Contribution>)> {
    let mut found = Vec::new();
    let stroke_m = subject.piece.cylinder().map(|c| c.size().stroke.value);
    if let (Some(dial), Some(stroke_m)) = (by_eye.instrument(Role::Position), stroke_m) {
        let oil = series.signal(Role::OilTemperature).map(|s| &s.raw);
        let warmed = oil.and_then(|oil| Some(oil.last()? - oil.first()?));
        let extra = |span_s: f64| {
            let warmed_k = ambient_k(span_s).hypot(warmed.unwrap_or(0.0));
            part(
                STEEL.0,
                STEEL.1,
                steel_apart(stroke_m, warmed_k) / span_s,
                None,
            )
        };
        if let Some((value, budget)) = by_ends(series, dial, 1.0, extra) {
            found.push((FigureName::Drift, value, budget));
        }
    }
    let holding = pressure_role(subject.circuit.holding_chamber());
    let gauge = by_eye.instrument(holding);
    if let Some(gauge) = gauge.filter(|_| subject.circuit.shows_leak_down()) {
        let nothing = |_span_s: f64| part("", "", 0.0, None);
        if let Some((value, budget)) = by_ends(series, gauge, -1.0, nothing) {
            found.push((FigureName::LeakDown, value, budget));
        }
    }
    found
}

const DIVISION: (&str, &str) = (
    "reading the scale to half a division",
    "a finer scale, or hold longer",
);
const MOMENT: (&str, &str) = ("the moment it was read", "read at once when asked");

/// What noise and steps are where nobody but a person reads.
pub(super) fn renamed(budget: &mut [Contribution]) {
    let steps = Term::SlowNoise.source();
    for part in budget.iter_mut().filter(|part| part.source == steps) {
        (part.source, part.remedy) = DIVISION;
    }
}

/// `sign` times what an instrument went up by, by time.
fn by_ends(
    series: &HoldSeries,
    instrument: &EyeInstrument,
    sign: f64,
    extra: impl Fn(f64) -> Contribution,
) -> Option<(Measured, Vec<Contribution>)> {
    let (_, read) = series.read.iter().find(|(r, _)| *r == instrument.role)?;
    let (first, last) = (read.first()?, read.last()?);
    let span_s = last.t_s - first.t_s;
    let rate = sign * (last.value_si - first.value_si) / span_s;
    let errors = instrument.errors();
    let scale = 2f64.sqrt() * instrument.reading_si() / span_s;
    let moment = of_moment(read, 0).hypot(of_moment(read, read.len() - 1)) / span_s;
    let span = (rate * errors.span_relative).abs();
    let zero = errors.zero_si_per_k * ambient_k(span_s) / span_s;
    Some(summed(
        rate,
        [
            part(DIVISION.0, DIVISION.1, scale, None),
            part(MOMENT.0, MOMENT.1, moment, None),
            part(SPAN.0, SPAN.1, span, None),
            part(ZERO.0, ZERO.1, zero, None),
            extra(span_s),
        ],
    ))
}

#[cfg(test)]
mod tests;
