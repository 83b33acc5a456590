//! The course of a cylinder between the steps of the solver.
//!
//! Each step leaves the cylinder with its change by time; cubics through both give any
//! instant between. So a run can be sampled at any rate for the price of its steps.
//!
//! Invariant: at a step the course is what the solver found there.

use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::rehearsal::physics::instant::Instant;
use crate::rehearsal::physics::instant::N_NUMBERS;
use crate::rehearsal::physics::run::Run;

/// The cylinder at the end of a step.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    /// What it is.
    pub now: Instant,
    /// Change of its numbers, by second.
    pub by_second: [f64; N_NUMBERS],
}

/// What became of a specimen, at any time up to the last.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    nodes: Vec<Node>,
    kind: Kind,
}

impl Course {
    pub(super) fn new(nodes: Vec<Node>, kind: Kind) -> Self {
        Self { nodes, kind }
    }

    /// The steps of the solver, rising in time.
    pub fn steps(&self) -> impl Iterator<Item = &Instant> {
        self.nodes.iter().map(|node| &node.now)
    }

    /// The cylinder at each of `times_s`; before the first and after the last step it is
    /// as it was then.
    pub fn run(&self, times_s: &[f64], loaded: Chamber) -> Run {
        let instants = times_s.iter().map(|time_s| self.at(*time_s));
        Run {
            instants: instants.collect(),
            loaded,
            kind: self.kind,
        }
    }

    fn at(&self, time_s: f64) -> Instant {
        at(&self.nodes, time_s)
    }
}

/// The cylinder at a time, from steps that rise in time.
pub(super) fn at(nodes: &[Node], time_s: f64) -> Instant {
    let after = nodes.partition_point(|node| node.now.time_s < time_s);
    match (after.checked_sub(1), nodes.get(after)) {
        (Some(before), Some(after)) => between(&nodes[before], after, time_s),
        (None, Some(only)) => Instant { time_s, ..only.now },
        (Some(last), None) => Instant {
            time_s,
            ..nodes[last].now
        },
        (None, None) => Instant::from_numbers(time_s, &[0.0; N_NUMBERS]),
    }
}

/// Time, state and length of each step of the solver, s.
pub(super) fn with_step<const N: usize>(
    states: &[(f64, [f64; N])],
) -> impl Iterator<Item = (f64, &[f64; N], f64)> {
    let mut before_s = 0.0;
    states.iter().map(move |(time_s, state)| {
        let step_s = if *time_s > before_s {
            time_s - before_s
        } else {
            1e-3
        };
        before_s = *time_s;
        (*time_s, state, step_s)
    })
}

/// Cylinders at the end of a step of the solver, with their change by time.
pub(super) fn nodes<const N: usize, const M: usize>(
    time_s: f64,
    state: &[f64; N],
    step_s: f64,
    slope: &[f64; N],
    instants: impl Fn(f64, &[f64; N]) -> [Instant; M],
) -> [Node; M] {
    // Everything is a smooth function of the state, so its change along the slope of
    // the state is its change by time.
    let aside_s = (0.1 * step_s).min(1e-2);
    let beside = |by_s: f64| {
        let moved = std::array::from_fn(|i| state[i] + by_s * slope[i]);
        instants(time_s + by_s, &moved).map(|instant| instant.numbers())
    };
    let (later, earlier) = (beside(aside_s), beside(-aside_s));
    let now = instants(time_s, state);
    std::array::from_fn(|own| Node {
        now: now[own],
        by_second: std::array::from_fn(|i| (later[own][i] - earlier[own][i]) / (2.0 * aside_s)),
    })
}

/// Cubics through both ends with their slopes (Hermite).
fn between(from: &Node, to: &Node, time_s: f64) -> Instant {
    let length_s = to.now.time_s - from.now.time_s;
    let part = (time_s - from.now.time_s) / length_s;
    let rest = 1.0 - part;
    let (first, last) = (from.now.numbers(), to.now.numbers());
    let numbers = std::array::from_fn(|i| {
        let line = rest * first[i] + part * last[i];
        let chord = last[i] - first[i];
        let bend = rest * (length_s * from.by_second[i] - chord)
            - part * (length_s * to.by_second[i] - chord);
        line + part * rest * bend
    });
    Instant::from_numbers(time_s, &numbers)
}
