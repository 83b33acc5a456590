//! The measured sums of all phases as rows of one linear problem in the ways' flows.
//!
//! Each way has one flow, stated at the highest pressure that drove it in any phase; a
//! power of the pressure and the oil's viscosity carry it to the others. How well that
//! carries, and how well a leak repeats itself from phase to phase, widens the rows.

use super::phase::Look;
use super::source::Source;
use super::way::Way;
use super::way::sum_of;
use crate::fit::Best;
use crate::fit::End;
use crate::fit::Matrix;
use crate::fit::Shares;
use crate::fit::SharesError;
use crate::fit::Vector;
use crate::fit::Which;

/// Exponent of a leak's pressure (laminar 1, orifice 0.5), and how well it is known; as in
/// the account of one hold.
pub(super) const EXPONENT: f64 = 0.8;
const EXPONENT_SIGMA: f64 = 0.22;

/// Part by which a leak differs from one phase to the next at the same pressure: seals are
/// relieved and seated again (common practice of ours, no source).
const REPEATS: f64 = 0.05;

/// Two drops of 20 to the millilitre (common practice, no source): less is not seen, m³.
pub(super) const SEEN_M3: f64 = 0.1e-6;

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

/// Flows above those that were seen, of the ways that are in some sum.
pub(super) struct Above {
    shares: Shares,
    ways: Vec<usize>,
    least: Vec<f64>,
    most: Vec<f64>,
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
    most: Vec<f64>,
    /// Least that each way passes by what was seen, m³/s; nothing where it was not seen wet.
    least: Vec<f64>,
    /// Oil temperature that flows are stated at, K: that of the first phase with a probe.
    at_k: Option<f64>,
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
            most: Vec::new(),
            least: Vec::new(),
            at_k: sources.iter().find_map(|s| s.drive.oil_k),
            rows: Vec::new(),
            measured: Matrix::zeros(0, 0),
        };
        for way in &sums.ways {
            let driven = sources.iter().enumerate().filter_map(|(index, source)| {
                let takes = source.ways().contains(way);
                let mean = source.mean_drive(*way).filter(|_| takes)?;
                (mean > DRIVEN_PA).then_some((index, mean))
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
        sums.most = sums.seen_dry(sources);
        sums.least = sums.seen_wet(sources);
        sums
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
    pub fn shares(&self, flows: &[f64]) -> Result<Above, SharesError> {
        let (n, m) = (self.rows.len(), self.ways.len());
        let coefficients = Matrix::from_fn(n, m, |i, j| self.rows[i].coefficients[j]);
        let measured = Vector::from_iterator(n, self.rows.iter().map(|r| r.measured));
        let covariance = Matrix::from_fn(n, n, |i, k| {
            let (a, b) = (&self.rows[i], &self.rows[k]);
            let parts = flows.iter().enumerate().map(|(j, flow)| {
                let carried = a.by_exponent[j] * b.by_exponent[j] * EXPONENT_SIGMA.powi(2);
                let repeated = match a.phase == b.phase {
                    true => a.coefficients[j] * b.coefficients[j] * REPEATS.powi(2),
                    false => 0.0,
                };
                flow * flow * (carried + repeated)
            });
            self.measured[(i, k)] + parts.sum::<f64>()
        });
        let sure = Vector::from_column_slice(&self.least);
        let rest = measured - &coefficients * sure;
        // What is in no sum is limited by none, and a solver would follow it to infinity.
        let is_in = |way: &usize| coefficients.column(*way).amax() > 0.0;
        let mut ways: Vec<usize> = (0..m).filter(is_in).collect();
        if ways.is_empty() {
            ways = (0..m).collect();
        }
        let room = ways.iter().map(|way| self.most[*way] - self.least[*way]);
        let room: Vec<f64> = room.collect();
        let coefficients = coefficients.select_columns(&ways);
        Ok(Above {
            shares: Shares::new(&coefficients, &rest, &covariance, &room)?,
            ways,
            least: self.least.clone(),
            most: self.most.clone(),
        })
    }

    /// Lets the sums of one phase be what these flows would make them.
    pub fn suppose(&mut self, phase: usize, flows: &[f64]) {
        for row in self.rows.iter_mut().filter(|row| row.phase == phase) {
            let parts = row.coefficients.iter().zip(flows);
            row.measured = parts.map(|(c, f)| c * f).sum();
        }
    }

    fn add(&mut self, index: usize, source: &Source<'_>, blocks: &mut Vec<Matrix>) {
        let sums: Vec<_> = source
            .chambers
            .iter()
            .map(|chamber| sum_of(&source.circuit, source.kind, *chamber))
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
            measured,
            coefficients: at(EXPONENT),
            by_exponent: ends
                .map(|(low, high)| (high - low) / (2.0 * step))
                .collect(),
        };
        self.rows.push(row);
    }

    /// What was seen to stay dry passes less than what is seen, whatever its exponent.
    fn seen_dry(&self, sources: &[Source<'_>]) -> Vec<f64> {
        let of_way = |index| {
            let seen = self.looked(sources, index, Look::Dry);
            let most = seen.map(|(seen, [low, high])| seen / low.min(high));
            most.fold(f64::INFINITY, f64::min)
        };
        (0..self.ways.len()).map(of_way).collect()
    }

    /// What was seen to get wet passes what is seen, whatever its exponent, less what it may
    /// pass less in another phase; never more than what it passes by having been dry in one.
    fn seen_wet(&self, sources: &[Source<'_>]) -> Vec<f64> {
        let of_way = |index| {
            let seen = self.looked(sources, index, Look::Wet);
            let least = seen.map(|(seen, [low, high])| seen / low.max(high));
            let repeated = 1.0 - 3.0 * REPEATS;
            (repeated * least.fold(0.0, f64::max)).min(self.most[index])
        };
        (0..self.ways.len()).map(of_way).collect()
    }

    /// Phases in which a way was driven and looked like this: the flow that is just seen, m³/s,
    /// and what carries it to the pressure that is stated, as an orifice and as a gap. Where
    /// hardly anything drives it, its look says nothing of other pressures.
    fn looked(
        &self,
        sources: &[Source<'_>],
        index: usize,
        look: Look,
    ) -> impl Iterator<Item = (f64, [f64; 2])> {
        let (way, at_pa) = (self.ways[index], self.at_pa[index]);
        let driven = self.driven_in[index].iter().map(|phase| &sources[*phase]);
        driven
            .filter(move |source| source.look(way) == Some(look))
            .map(move |source| {
                let by = |exponent| source.carried(way, at_pa, self.at_k, exponent);
                (SEEN_M3 / source.drive.length_s, [by(0.5), by(1.0)])
            })
    }
}

impl Above {
    /// Flows that explain the sums best, with χ².
    ///
    /// # Errors
    /// If the solver finds none.
    pub fn best(&self) -> Result<Best, SharesError> {
        let found = self.shares.best()?;
        Ok(Best {
            parts: self.whole(&found.parts),
            ..found
        })
    }

    /// An end of what way `index` can be while χ² stays below `chi_squared`.
    ///
    /// # Errors
    /// If no flows reach that χ² at all.
    pub fn end(&self, index: usize, which: Which, chi_squared: f64) -> Result<End, SharesError> {
        let Some(place) = self.ways.iter().position(|way| *way == index) else {
            return self.unsummed(index, which);
        };
        let found = self.shares.end(place, which, chi_squared)?;
        Ok(End {
            value: found.value + self.least[index],
            parts: found.parts.map(|parts| self.whole(&parts)),
        })
    }

    /// An end of a way that is in no sum: only eyes limit it.
    fn unsummed(&self, index: usize, which: Which) -> Result<End, SharesError> {
        let value = match which {
            Which::Least => self.least[index],
            Which::Most => self.most[index],
        };
        let mut parts = self.best()?.parts;
        parts[index] = value;
        let parts = value.is_finite().then_some(parts);
        Ok(End { value, parts })
    }

    /// All flows by those of the ways that are in some sum.
    fn whole(&self, parts: &[f64]) -> Vec<f64> {
        let mut flows = self.least.clone();
        for (way, part) in self.ways.iter().zip(parts) {
            flows[*way] += part;
        }
        flows
    }
}

/// Flows of the ways of one set of sums as those of another: at its pressures, nothing for
/// ways that the first does not know or that nothing drove in it.
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
