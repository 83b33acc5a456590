//! The measured sums of all phases as rows of one linear problem in the ways' flows.
//!
//! Each way has one flow, stated at the highest pressure that drove it in any phase; a
//! power of the pressure and the oil's viscosity carry it to the others. How well that
//! carries, and how well a leak repeats itself from phase to phase, widens the rows.

use super::source::Source;
use super::way::Way;
use crate::circuit::Look;
use crate::fit::Matrix;
use crate::fit::Shares;
use crate::fit::SharesError;
use crate::fit::Vector;
use crate::fit::propagate::Draws;

/// Exponent of a leak's pressure (laminar 1, orifice 0.5), and how well it is known; as in
/// the account of one hold.
pub(super) const EXPONENT: f64 = 0.8;
const EXPONENT_SIGMA: f64 = 0.22;

/// Part by which a leak differs from one phase to the next at the same pressure: seals are
/// relieved and seated again (common practice of ours, no source).
const REPEATS: f64 = 0.05;

/// Part of a variance that keeps a covariance from losing its rank by rounding.
const RANK: f64 = 1e-9;

/// Part by which leaks differ between phases whose oil temperature nobody knows: 10 K at 4 %
/// of viscosity each, as far as a leak of exponent 0.8 follows it (common practice of ours, no
/// source).
const UNPROBED: f64 = 0.24;

/// Two drops of 20 to the millilitre (common practice, no source): less is not seen, m³.
pub(super) const SEEN_M3: f64 = 0.1e-6;

/// A flow that is not nothing, m³/s (1 mL/min).
const ANY_M3_PER_S: f64 = 1e-6 / 60.0;

/// A measured sum.
#[derive(Clone)]
struct Row {
    phase: usize,
    /// Whether the temperature of its oil is not known.
    unprobed: bool,
    measured: f64,
    /// By how much each way counts, and how that changes with its exponent.
    coefficients: Vec<f64>,
    by_exponent: Vec<f64>,
}

impl Row {
    /// What these flows make of it, m³/s.
    fn explained(&self, flows: &[f64]) -> f64 {
        let parts = self.coefficients.iter().zip(flows);
        parts.map(|(c, f)| c * f).sum()
    }
}

/// All sums of an investigation.
#[derive(Clone)]
pub(super) struct Sums {
    /// The unknowns.
    pub ways: Vec<Way>,
    /// The pressure that each way's flow is stated at, Pa.
    pub at_pa: Vec<f64>,
    /// Phases in which each way was driven.
    pub driven_in: Vec<Vec<usize>>,
    /// Least and most that each way can pass by what was seen, m³/s; zero and infinite where
    /// nobody looked.
    seen: Vec<(f64, f64)>,
    /// Oil temperature that flows are stated at, K: that of the first phase with a probe.
    at_k: Option<f64>,
    n_phases: usize,
    rows: Vec<Row>,
    /// Covariance of the measured sums alone.
    measured: Matrix,
}

impl Sums {
    /// Gathers the sums of all phases.
    pub fn of(sources: &[Source<'_>]) -> Self {
        let mut ways: Vec<Way> = sources.iter().flat_map(Source::ways).collect();
        ways.sort_unstable();
        ways.dedup();
        let mut sums = Self {
            ways,
            at_pa: Vec::new(),
            driven_in: Vec::new(),
            seen: Vec::new(),
            at_k: sources.iter().find_map(|s| s.drive.oil_k),
            n_phases: sources.len(),
            rows: Vec::new(),
            measured: Matrix::zeros(0, 0),
        };
        for way in &sums.ways {
            let driven = sources.iter().enumerate().filter_map(|(index, source)| {
                let takes = source.ways().contains(way);
                let mean = source.mean_drive(*way).filter(|_| takes)?;
                source.drives(*way).then_some((index, mean))
            });
            let driven: Vec<(usize, f64)> = driven.collect();
            sums.at_pa
                .push(driven.iter().map(|d| d.1).fold(0.0, f64::max));
            sums.driven_in.push(driven.iter().map(|d| d.0).collect());
        }
        let mut blocks = Vec::new();
        for (index, source) in sources.iter().enumerate() {
            sums.add(index, source, &mut blocks);
        }
        sums.measured = diagonal(&blocks);
        sums.seen = sums.looked_at(sources);
        sums
    }

    /// Whether oil was seen to come out along a way.
    pub fn is_wet(&self, index: usize) -> bool {
        self.seen[index].0 > 0.0
    }

    /// Number of sums.
    pub fn n_rows(&self) -> usize {
        self.rows.len()
    }

    /// The largest size of a sum, m³/s.
    pub fn largest(&self) -> f64 {
        let sizes = self.rows.iter().map(|r| r.measured.abs());
        sizes.fold(0.0, f64::max)
    }

    /// The problem, with the rows as wide as flows of this size make them.
    ///
    /// # Errors
    /// If the covariance of a phase is none.
    pub fn shares(&self, flows: &[f64]) -> Result<Shares, SharesError> {
        let (n, m) = (self.rows.len(), self.ways.len());
        let coefficients = Matrix::from_fn(n, m, |i, j| self.rows[i].coefficients[j]);
        let measured = Vector::from_iterator(n, self.rows.iter().map(|r| r.measured));
        let covariance = self.covariance(flows);
        Shares::new(&coefficients, &measured, &covariance, &self.seen)
    }

    /// Covariance of all rows if flows are of this size.
    fn covariance(&self, flows: &[f64]) -> Matrix {
        let n = self.rows.len();
        Matrix::from_fn(n, n, |i, k| {
            let (a, b) = (&self.rows[i], &self.rows[k]);
            let parts = flows.iter().enumerate().map(|(j, flow)| {
                let carried = a.by_exponent[j] * b.by_exponent[j] * EXPONENT_SIGMA.powi(2);
                let repeated = match a.phase == b.phase {
                    true => a.coefficients[j] * b.coefficients[j] * REPEATS.powi(2),
                    false => 0.0,
                };
                flow * flow * (carried + repeated)
            });
            // Oil of another temperature makes all leaks of a phase larger or smaller together.
            let warmth = match a.phase == b.phase && a.unprobed && self.n_phases > 1 {
                true => a.explained(flows) * b.explained(flows) * UNPROBED.powi(2),
                false => 0.0,
            };
            let whole = self.measured[(i, k)] + parts.sum::<f64>() + warmth;
            // Flows that are large beside the sums' own errors leave hardly anything else in a
            // covariance; it must keep its rank.
            if i == k { whole * (1.0 + RANK) } else { whole }
        })
    }

    /// Lets the sums of one phase be what these flows would make them, give or take errors of
    /// their size.
    pub fn suppose(&mut self, phase: usize, flows: &[f64], draws: &mut Draws) {
        let own: Vec<usize> = (0..self.rows.len())
            .filter(|index| self.rows[*index].phase == phase)
            .collect();
        let whole = self.covariance(flows);
        let block = Matrix::from_fn(own.len(), own.len(), |i, k| whole[(own[i], own[k])]);
        for (index, error) in own.iter().zip(drawn(block, draws)) {
            let row = &mut self.rows[*index];
            row.measured = row.explained(flows) + error;
        }
    }

    /// The sums as they might as well have been measured.
    pub fn disturbed(&self, flows: &[f64], draws: &mut Draws) -> Self {
        let mut disturbed = self.clone();
        let errors = drawn(self.covariance(flows), draws);
        for (row, error) in disturbed.rows.iter_mut().zip(errors) {
            row.measured += error;
        }
        disturbed
    }

    fn add(&mut self, index: usize, source: &Source<'_>, blocks: &mut Vec<Matrix>) {
        let sums: Vec<_> = source
            .chambers
            .iter()
            .map(|chamber| source.sum_of(*chamber))
            .collect();
        let mut known = sums.iter().flat_map(|s| s.gains.iter().chain(&s.losses));
        // A sum that is driven by a pressure nobody measured tells nothing.
        if !sums.is_empty() && known.all(|way| source.mean_drive(*way).is_some()) {
            for (sum, measured) in sums.iter().zip(&source.measured) {
                self.add_row(index, source, *measured, |way| {
                    if sum.gains.contains(way) {
                        1.0
                    } else if sum.losses.contains(way) {
                        -1.0
                    } else {
                        0.0
                    }
                });
            }
            blocks.push(source.covariance.clone());
        }
        if let Some((into, flow, standard)) = source.past_piston {
            let piston = Way::Piston(into.other());
            self.add_row(
                index,
                source,
                flow,
                |way| {
                    if *way == piston { 1.0 } else { 0.0 }
                },
            );
            blocks.push(Matrix::from_element(1, 1, standard.powi(2)));
        }
    }

    fn add_row(
        &mut self,
        phase: usize,
        source: &Source<'_>,
        measured: f64,
        sign: impl Fn(&Way) -> f64,
    ) {
        let at = |exponent: f64| -> Vec<f64> {
            let ways = self.ways.iter().zip(&self.at_pa);
            let by = ways.map(|(way, at_pa)| match sign(way) {
                0.0 => 0.0,
                sign => sign * source.carried(*way, *at_pa, self.at_k, exponent),
            });
            by.collect()
        };
        let step = 0.02;
        let ends = at(EXPONENT - step).into_iter().zip(at(EXPONENT + step));
        let row = Row {
            phase,
            unprobed: source.drive.oil_k.is_none(),
            measured,
            coefficients: at(EXPONENT),
            by_exponent: ends
                .map(|(low, high)| (high - low) / (2.0 * step))
                .collect(),
        };
        self.rows.push(row);
    }

    /// What stayed dry passes less than what is seen, what got wet more. Carried to the stated
    /// pressure by whatever exponent claims least; a place that hardly any pressure stood
    /// behind is wet with oil from before, and dry for no reason. Nothing drove oil along the
    /// others: any limit keeps the solver from following them to infinity.
    fn looked_at(&self, sources: &[Source<'_>]) -> Vec<(f64, f64)> {
        let any = self.largest().max(ANY_M3_PER_S);
        let of_way = |(index, way): (usize, &Way)| {
            if self.driven_in[index].is_empty() {
                return (0.0, any);
            }
            let (mut least, mut most) = (0.0f64, f64::INFINITY);
            for source in sources.iter().filter(|s| s.ways().contains(way)) {
                let Some(look) = source.look(*way).filter(|_| source.drives(*way)) else {
                    continue;
                };
                let seen = SEEN_M3 / source.drive.length_s;
                let carried = [-2.0, 0.0, 2.0].map(|sigmas| {
                    let exponent = EXPONENT + sigmas * EXPONENT_SIGMA;
                    source.carried(*way, self.at_pa[index], self.at_k, exponent)
                });
                let lowest = carried.into_iter().fold(f64::INFINITY, f64::min);
                let highest = carried.into_iter().fold(0.0, f64::max);
                let (less, more) = (1.0 - 3.0 * REPEATS, 1.0 + 3.0 * REPEATS);
                match look {
                    Look::Dry => most = most.min(more * seen / lowest),
                    Look::Wet => least = least.max(less * seen / highest),
                }
            }
            // Dry in one phase and wet in another: it cannot be both, so neither is counted.
            if least > most {
                (0.0, f64::INFINITY)
            } else {
                (least, most)
            }
        };
        self.ways.iter().enumerate().map(of_way).collect()
    }
}

/// Flows of the ways of one set of sums as those of another: at its pressures, nothing for
/// ways that the first does not know.
pub(super) fn translated(from: &Sums, flows: &[f64], to: &Sums) -> Vec<f64> {
    let of_way = |(way, at_pa): (&Way, &f64)| {
        let known = from.ways.iter().position(|w| w == way);
        known.map_or(0.0, |index| {
            let before = from.at_pa[index];
            if before > 0.0 {
                flows[index] * (at_pa / before).powf(EXPONENT)
            } else {
                0.0
            }
        })
    };
    to.ways.iter().zip(&to.at_pa).map(of_way).collect()
}

/// Errors of a covariance; none of one that is none.
fn drawn(covariance: Matrix, draws: &mut Draws) -> Vec<f64> {
    let n = covariance.nrows();
    let Some(root) = covariance.cholesky() else {
        return vec![0.0; n];
    };
    let units = Vector::from_iterator(n, (0..n).map(|_| draws.normal(0.0, 1.0)));
    (root.l() * units).iter().copied().collect()
}

/// Blocks along the diagonal, nothing between them.
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
