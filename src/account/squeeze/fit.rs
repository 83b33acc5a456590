//! The share of air that fits a course of pressure and way best.
//!
//! Mass stays: V0·(1 + s·(p − p0)) − A·y = V0·r(p)/r(p0), with r the volume of oil and air by
//! that at the atmosphere and s what the enclosure gives way by. So the way y(p) follows from
//! the share; where the way counts from is left open, because no zero is known that well.

use crate::oil::AeratedOil;

/// One step of pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Mean pressure, Pa gauge.
    pub pressure_pa: f64,
    /// Mean way since the first, m.
    pub way_m: f64,
}

/// All but the share of air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Given {
    pub area_m2: f64,
    pub volume_m3: f64,
    pub wall_per_pa: f64,
    pub hose_per_pa: f64,
    /// The law; its share does not count.
    pub law: AeratedOil,
    /// What the pressure reads too little, Pa and relative.
    pub zero_pa: f64,
    pub span: f64,
}

impl Given {
    /// Way that a share of air would let the rod go between two pressures as read, m.
    fn way_m(&self, share: f64, from_pa: f64, to_pa: f64) -> f64 {
        let law = AeratedOil {
            air: share,
            ..self.law
        };
        let real = |pa: f64| pa * (1.0 + self.span) + self.zero_pa;
        let (from, to) = (real(from_pa), real(to_pa));
        let softness = self.wall_per_pa + self.hose_per_pa;
        let squeezed = 1.0 - law.volume_ratio(to) / law.volume_ratio(from);
        self.volume_m3 / self.area_m2 * (squeezed + softness * (to - from))
    }

    /// Ways of a share at all points, about their mean.
    fn course(&self, points: &[Point], share: f64) -> Vec<f64> {
        let from_pa = points.first().map_or(0.0, |p| p.pressure_pa);
        let ways = points
            .iter()
            .map(|p| self.way_m(share, from_pa, p.pressure_pa));
        centred(ways.collect())
    }

    /// Residuals of a share, and how they change with it.
    fn residuals(&self, points: &[Point], share: f64) -> (Vec<f64>, Vec<f64>) {
        let read = centred(points.iter().map(|p| p.way_m).collect());
        let (own, next) = (
            self.course(points, share),
            self.course(points, share + STEP),
        );
        let left = read.iter().zip(&own).map(|(y, m)| y - m).collect();
        let slope = next.iter().zip(&own).map(|(b, a)| (b - a) / STEP).collect();
        (left, slope)
    }
}

/// Step of the share for slopes.
const STEP: f64 = 1e-5;

/// Gauss-Newton steps: the way is nearly a line in the share.
const MOST_STEPS: usize = 8;

fn centred(mut values: Vec<f64>) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    values.iter_mut().for_each(|v| *v -= mean);
    values
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The share of least squares; below zero where the rod end is stiffer than its oil alone.
pub(super) fn share(points: &[Point], given: &Given) -> f64 {
    let mut share = 0.0;
    for _ in 0..MOST_STEPS {
        let (left, slope) = given.residuals(points, share);
        let step = dot(&left, &slope) / dot(&slope, &slope);
        share = f64::clamp(share + step, -0.2, 0.5);
        if step.abs() < 1e-9 {
            break;
        }
    }
    share
}

/// Standard uncertainty by the scatter of the points about the course, and its freedom.
pub(super) fn scatter(points: &[Point], given: &Given, share: f64) -> (f64, f64) {
    let (left, slope) = given.residuals(points, share);
    let freedom = (points.len() as f64 - 2.0).max(1.0);
    let variance = dot(&left, &left) / freedom / dot(&slope, &slope);
    (variance.sqrt(), freedom)
}
