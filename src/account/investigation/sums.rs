//! The measured sums of all phases as rows of one linear problem in the ways' flows.
//!
//! Each way has one flow, stated at the highest pressure that drove it in any phase; a
//! power of the pressure and the oil's viscosity carry it to the others. How well that
//! carries, and how well a leak repeats itself from phase to phase, widens the rows.

use super::phase::Look;
use super::phase::Phase;
use super::way::Way;
use super::way::outlets;
use super::way::sum_of;
use crate::account::leaks::laminar;
use crate::cylinder::Chamber;
use crate::fit::Matrix;
use crate::fit::Shares;
use crate::fit::SharesError;
use crate::fit::Vector;
use crate::oil::Oil;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;

/// Exponent of a leak's pressure (laminar 1, orifice 0.5), and how well it is known; as in
/// the account of one hold.
const EXPONENT: f64 = 0.8;
const EXPONENT_SIGMA: f64 = 0.22;

/// Part by which a leak differs from one phase to the next at the same pressure: seals are
/// relieved and seated again (common practice of ours, no source).
const REPEATS: f64 = 0.05;

/// Two drops of 20 to the millilitre (common practice, no source): less is not seen, m³.
const SEEN_M3: f64 = 0.1e-6;

/// Below this mean pressure nothing is driven that could be told of, Pa.
const DRIVEN_PA: f64 = 0.5e5;

/// A measured sum.
struct Row {
    phase: usize,
    measured: f64,
    /// By how much each way counts, and how that changes with its exponent.
    coefficients: Vec<f64>,
    by_exponent: Vec<f64>,
}

/// All sums of an investigation.
pub(super) struct Sums {
    /// The unknowns.
    pub ways: Vec<Way>,
    /// The pressure that each way's flow is stated at, Pa.
    pub at_pa: Vec<f64>,
    /// Phases in which each way was driven.
    pub driven_in: Vec<Vec<usize>>,
    /// Most that each way can pass by what was seen, m³/s; infinite where nobody looked.
    pub most: Vec<f64>,
    rows: Vec<Row>,
    /// Covariance of the measured sums alone.
    measured: Matrix,
}

impl Sums {
    /// Gathers the sums of all phases that have any.
    pub fn of(phases: &[Phase<'_>]) -> Self {
        let mut sums = Self {
            ways: ways(phases),
            at_pa: Vec::new(),
            driven_in: Vec::new(),
            most: Vec::new(),
            rows: Vec::new(),
            measured: Matrix::zeros(0, 0),
        };
        for way in sums.ways.clone() {
            let means: Vec<(usize, f64)> = (0..phases.len())
                .filter(|index| takes(&phases[*index], way))
                .filter_map(|index| Some((index, mean_drive(&phases[index], way)?)))
                .filter(|(_, mean)| *mean > DRIVEN_PA)
                .collect();
            sums.at_pa
                .push(means.iter().map(|m| m.1).fold(0.0, f64::max));
            sums.driven_in.push(means.iter().map(|m| m.0).collect());
        }
        let mut blocks = Vec::new();
        for index in 0..phases.len() {
            sums.add_phase(phases, index, &mut blocks);
        }
        sums.measured = diagonal(&blocks);
        sums.most = sums.seen(phases);
        sums
    }

    /// The largest size of a sum, m³/s.
    pub fn largest(&self) -> f64 {
        self.rows
            .iter()
            .map(|r| r.measured.abs())
            .fold(0.0, f64::max)
    }

    /// Number of sums.
    pub fn n_rows(&self) -> usize {
        self.rows.len()
    }

    /// The problem, with the rows as wide as flows of this size make them.
    pub fn shares(&self, flows: &[f64]) -> Result<Shares, SharesError> {
        let (n, m) = (self.rows.len(), self.ways.len());
        let coefficients = Matrix::from_fn(n, m, |i, j| self.rows[i].coefficients[j]);
        let measured = Vector::from_iterator(n, self.rows.iter().map(|r| r.measured));
        let covariance = Matrix::from_fn(n, n, |i, k| {
            let (a, b) = (&self.rows[i], &self.rows[k]);
            let parts = flows.iter().enumerate().map(|(j, flow)| {
                let carried = a.by_exponent[j] * b.by_exponent[j] * EXPONENT_SIGMA.powi(2);
                let repeated = a.coefficients[j] * b.coefficients[j] * REPEATS.powi(2);
                flow * flow * (carried + if a.phase == b.phase { repeated } else { 0.0 })
            });
            self.measured[(i, k)] + parts.sum::<f64>()
        });
        Shares::new(&coefficients, &measured, &covariance, &self.most)
    }

    fn add_phase(&mut self, phases: &[Phase<'_>], index: usize, blocks: &mut Vec<Matrix>) {
        let phase = &phases[index];
        let Some(counted) = &phase.evaluation.counted else {
            return;
        };
        let mut added = 0;
        for (chamber, measured) in counted.chambers.iter().zip(&counted.mean_m3_per_s) {
            let sum = sum_of(phase.circuit(), phase.kind(), *chamber);
            let known = sum.gains.iter().chain(&sum.losses);
            if known.clone().any(|way| mean_drive(phase, *way).is_none()) {
                continue;
            }
            let sign = |way: &Way| {
                f64::from(u8::from(sum.gains.contains(way)))
                    - f64::from(u8::from(sum.losses.contains(way)))
            };
            self.add_row(phases, index, *measured, sign);
            added += 1;
        }
        if added == counted.chambers.len() {
            blocks.push(counted.covariance.clone());
        } else {
            // A sum whose drive nobody measured is left away with its covariance.
            self.rows.truncate(self.rows.len() - added);
        }
        if let Some((into, flow, standard)) = phase.past_piston() {
            let piston = Way::Piston(into.other());
            self.add_row(phases, index, flow, |way| {
                f64::from(u8::from(*way == piston))
            });
            blocks.push(Matrix::from_element(1, 1, standard.powi(2)));
        }
    }

    fn add_row(
        &mut self,
        phases: &[Phase<'_>],
        index: usize,
        measured: f64,
        sign: impl Fn(&Way) -> f64,
    ) {
        let at = |exponent: f64| -> Vec<f64> {
            let ways = self.ways.iter().zip(&self.at_pa);
            ways.map(|(way, at_pa)| match sign(way) {
                0.0 => 0.0,
                sign => sign * carried(phases, index, *way, *at_pa, exponent),
            })
            .collect()
        };
        let step = 0.02;
        let (low, high) = (at(EXPONENT - step), at(EXPONENT + step));
        let row = Row {
            phase: index,
            measured,
            coefficients: at(EXPONENT),
            by_exponent: low
                .iter()
                .zip(&high)
                .map(|(l, h)| (h - l) / (2.0 * step))
                .collect(),
        };
        self.rows.push(row);
    }

    /// What was seen to stay dry passes less than what is seen.
    fn seen(&self, phases: &[Phase<'_>]) -> Vec<f64> {
        let ways = self.ways.iter().zip(&self.at_pa);
        ways.map(|(way, at_pa)| {
            let dry = phases
                .iter()
                .enumerate()
                .filter(|(_, phase)| takes(phase, *way) && look(phase, *way) == Some(Look::Dry));
            dry.filter_map(|(index, phase)| {
                let carried = carried(phases, index, *way, *at_pa, EXPONENT);
                let (from, until) = phase.evaluation.hold_s;
                (carried > 1e-3).then(|| SEEN_M3 / (until - from) / carried)
            })
            .fold(f64::INFINITY, f64::min)
        })
        .collect()
    }
}

fn look(phase: &Phase<'_>, way: Way) -> Option<Look> {
    match way {
        Way::Gland => phase.seen.gland,
        Way::Plug(Chamber::Cap) => phase.seen.cap_port,
        Way::Plug(Chamber::Rod) => phase.seen.rod_port,
        Way::Piston(_) | Way::Valve(..) => None,
    }
}

/// All ways of all phases, sorted.
fn ways(phases: &[Phase<'_>]) -> Vec<Way> {
    let mut ways: Vec<Way> = phases.iter().flat_map(ways_of).collect();
    ways.sort_unstable();
    ways.dedup();
    ways
}

/// Ways that oil can take in a phase.
fn ways_of(phase: &Phase<'_>) -> Vec<Way> {
    let kind = phase.kind();
    let mut ways = Vec::new();
    if kind.has_piston_seal() {
        ways.extend([Way::Piston(Chamber::Cap), Way::Piston(Chamber::Rod)]);
    }
    for chamber in kind.chambers() {
        ways.extend(outlets(phase.circuit(), kind, *chamber));
    }
    ways
}

fn takes(phase: &Phase<'_>, way: Way) -> bool {
    phase.evaluation.counted.is_some() && ways_of(phase).contains(&way)
}

/// Mean pressure that drives a way over a phase, Pa; None where it was not measured.
fn mean_drive(phase: &Phase<'_>, way: Way) -> Option<f64> {
    let drive = &phase.evaluation.counted.as_ref()?.drive;
    let driven = way.driven_by(phase.kind(), drive)?;
    Some(driven.iter().sum::<f64>() / driven.len().max(1) as f64)
}

/// A way's mean flow over a phase by its flow at the stated pressure.
fn carried(phases: &[Phase<'_>], index: usize, way: Way, at_pa: f64, exponent: f64) -> f64 {
    let phase = &phases[index];
    let Some(counted) = &phase.evaluation.counted else {
        return 0.0;
    };
    let Some(driven) = way.driven_by(phase.kind(), &counted.drive) else {
        return 0.0;
    };
    let shape = driven.iter().map(|p| (p / at_pa.max(1.0)).powf(exponent));
    let mean = shape.sum::<f64>() / driven.len().max(1) as f64;
    mean * thinner(phases, counted.drive.oil_k, phase.oil()).powf(laminar(exponent))
}

/// Viscosity in the first phase with a probe by that in this one.
fn thinner(phases: &[Phase<'_>], oil_k: Option<f64>, oil: Option<&Oil>) -> f64 {
    let drives = phases.iter().filter_map(|p| p.evaluation.counted.as_ref());
    let first = drives.filter_map(|c| c.drive.oil_k).next();
    let (Some(first), Some(now), Some(oil)) = (first, oil_k, oil) else {
        return 1.0;
    };
    let at = |k: f64| oil.viscosity(Temperature::new::<kelvin>(k)).mm2_per_s();
    at(first) / at(now)
}

fn diagonal(blocks: &[Matrix]) -> Matrix {
    let n = blocks.iter().map(|b| b.nrows()).sum();
    let mut whole = Matrix::zeros(n, n);
    let mut from = 0;
    for block in blocks {
        let size = block.nrows();
        whole.view_mut((from, from), (size, size)).copy_from(block);
        from += size;
    }
    whole
}
