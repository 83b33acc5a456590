//! How far the data of a balance scatter round its model: the covariance.
//!
//! Sensor noise and steps come from the data themselves. Beyond them the model is
//! never perfect: slow discrepancies of stated size keep long holds with good
//! sensors from claiming more than the model knows.

use super::balance::Balance;
use super::balance::Copy;
use super::balance::State;
use super::series::Signal;
use super::term::Term;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::fit::Matrix;
use crate::fit::Vector;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::unit::meter;

/// Movement and squeeze are modelled to this part of themselves.
const MODEL_PART: f64 = 3e-4;
/// Volume is modelled to this part of itself.
const VOLUME_PART: f64 = 1e-7;
/// Mean oil temperature is modelled to 8 mK and 3 % of what the probe moved.
const HEAT_K: f64 = 8e-3;
const HEAT_PART: f64 = 0.03;
/// The probe is modelled to 10 mK.
const PROBE_K: f64 = 0.01;

/// Covariance of all residuals near `theta`, and of it the part that is sensor noise.
pub(super) fn covariance(balance: &Balance<'_>, theta: &Vector) -> (Matrix, Matrix) {
    let series = balance.series;
    let n = series.n_blocks;
    let state = balance.state(theta, Copy::Smooth);
    let live = [
        (balance.layout.cap_live, Chamber::Cap),
        (balance.layout.rod_live, Chamber::Rod),
    ];
    let chambers: Vec<Chamber> = live
        .into_iter()
        .filter_map(|(live, chamber)| live.then_some(chamber))
        .collect();
    let with_probe = balance.layout.probe.is_some();
    let squeeze = balance.squeeze_variance(theta);
    let size = n * (chambers.len() + usize::from(with_probe)) + usize::from(squeeze.is_some());
    let (mut noise, mut model) = (Matrix::zeros(size, size), Matrix::zeros(size, size));
    // How each chamber's residual answers to position, by block.
    let mut by_position = Matrix::zeros(size, n);
    for (place, chamber) in chambers.iter().enumerate() {
        let answers = answers(balance, theta, *chamber, &state);
        if let Some(signal) = series.signal(answers.pressure) {
            let k = series.noise_covariance(signal, balance.layout.without());
            let of_pressure = Matrix::from_fn(n, n, |i, j| {
                answers.to_pressure[i] * k[(i, j)] * answers.to_pressure[j]
            });
            noise
                .view_mut((place * n, place * n), (n, n))
                .copy_from(&of_pressure);
        }
        for i in 0..n {
            by_position[(place * n + i, i)] = answers.to_position[i];
        }
        slow(&mut model, place * n, balance, answers.model_variance);
    }
    if let Some(signal) = series.signal(Role::Position) {
        // The same position noise acts on both chambers.
        noise += &by_position
            * series.noise_covariance(signal, balance.layout.without())
            * by_position.transpose();
    }
    if let Some(signal) = series.signal(Role::OilTemperature).filter(|_| with_probe) {
        let at = chambers.len() * n;
        add_probe(&mut noise, at, balance, signal);
        slow(&mut model, at, balance, PROBE_K * PROBE_K);
    }
    if balance.layout.is_without(Term::Discrepancy) {
        // What keeps the matrix positive definite stays.
        model *= 1e-4;
    }
    if let Some(variance) = squeeze {
        model[(size - 1, size - 1)] = variance;
    }
    (&noise + &model, noise)
}

/// How a chamber's oil answers to errors of its data, by block.
struct Answers {
    pressure: Role,
    /// m³ by pascal.
    to_pressure: Vec<f64>,
    /// m³ by metre.
    to_position: Vec<f64>,
    /// Variance of what the model leaves out, m⁶.
    model_variance: f64,
}

fn answers(balance: &Balance<'_>, theta: &Vector, chamber: Chamber, state: &State) -> Answers {
    let series = balance.series;
    let (data, pressure, sign) = match chamber {
        Chamber::Cap => (&state.p_cap, Role::CapPressure, 1.0),
        Chamber::Rod => (&state.p_rod, Role::RodPressure, -1.0),
    };
    let area = balance.cylinder.area(chamber).value;
    let law = balance.aerated(theta, chamber);
    let volume = balance
        .cylinder
        .volume(chamber, Length::new::<meter>(state.x[0]))
        .value;
    let softness = |p: &f64| {
        let oil = 1.0 / law.tangent(GaugePressure::from_pa(*p)).value;
        balance.softness(theta, chamber, volume, oil)
    };
    let to_pressure: Vec<f64> = series.block_means(data).iter().map(softness).collect();
    let density = series.block_means(&balance.oil(theta, chamber, Copy::Smooth).density);
    let probe_moved = series
        .signal(Role::OilTemperature)
        .map_or(0.0, |s| span(&s.smooth));
    let model_variance = [
        MODEL_PART * (area * span(&state.x) + to_pressure[0] * span(data)),
        VOLUME_PART * volume,
        volume * balance.oil.trapped_expansion_per_k() * (HEAT_K + HEAT_PART * probe_moved),
    ]
    .iter()
    .map(|sd| sd * sd)
    .sum();
    let to_position = density.iter().map(|d| sign * area * d).collect();
    Answers {
        pressure,
        to_pressure,
        to_position,
        model_variance,
    }
}

fn add_probe(noise: &mut Matrix, at: usize, balance: &Balance<'_>, signal: &Signal) {
    let k = balance
        .series
        .noise_covariance(signal, balance.layout.without());
    let n = balance.series.n_blocks;
    noise.view_mut((at, at), (n, n)).copy_from(&k);
}

/// Adds a discrepancy that wanders with a correlation time of a fifth of the hold.
fn slow(model: &mut Matrix, at: usize, balance: &Balance<'_>, variance: f64) {
    let t = balance.series.block_times();
    let length = balance.series.length_s / 5.0;
    for (i, a) in t.iter().enumerate() {
        for (j, b) in t.iter().enumerate() {
            model[(at + i, at + j)] += variance * (-(a - b).abs() / length).exp();
        }
    }
    // A trace of white keeps the matrix positive definite for noise-free data.
    for i in 0..t.len() {
        model[(at + i, at + i)] += 1e-4 * variance;
    }
}

fn span(values: &[f64]) -> f64 {
    match (values.first(), values.last()) {
        (Some(first), Some(last)) => (last - first).abs(),
        _ => 0.0,
    }
}
