//! The stated intervals checked by chance: the Monte Carlo method (JCGM 101).
//!
//! A figure's interval is carried through slopes (JCGM 100). Here each trial draws what the
//! evaluation does not know, carries it through the linear estimator of the fit, and through
//! the formula of the figure as it is, which is bent: exponent of the leak law, viscosity,
//! flow at the start. JCGM 101 clause 8 says when the two agree.
//!
//! Invariants: nothing that is stated changes; the same recording, number of trials and seed
//! give the same digits.

mod draw;

use super::Evaluation;
use super::EvaluationError;
use super::Fluid;
use super::Subject;
use super::conditions::pressure_role;
use super::conditions::stated;
use super::evaluate::balance;
use super::evaluate::held;
use super::figure::Contribution;
use super::figure::Figure;
use super::figure::FigureName;
use super::layout::P;
use super::rate;
use super::series::HoldSeries;
use super::solution::Solution;
use super::term::Term;
use super::totals::widening;
use crate::channel::Role;
use crate::fit::propagate::Draws;
use crate::fit::propagate::Sampled;
use crate::fit::propagate::monte_carlo;
use crate::fit::propagate::monte_carlo_of;
use crate::recording::Recording;
use draw::Errors;

/// Part of the outputs that an interval holds.
const COVERED: f64 = 0.95;

/// Standard errors of an end that a difference must stand out by: seldom by chance.
const STANDS_OUT: f64 = 3.0;

/// How many trials are drawn, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trials {
    n: usize,
    seed: u64,
}

/// Why a number of trials is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TrialsError {
    /// Too few for the ends of an interval.
    #[error(
        "{n} trials are too few to see the ends of a 95 % interval; take {least} or more, \
         {usual} without a reason for another number",
        least = Trials::LEAST,
        usual = Trials::USUAL
    )]
    TooFew {
        /// What was asked for.
        n: usize,
    },
    /// More than memory and patience allow.
    #[error("{n} trials are more than are ever needed; take {most} or fewer", most = Trials::MOST)]
    TooMany {
        /// What was asked for.
        n: usize,
    },
}

impl Trials {
    /// Fewest trials: JCGM 101 7.9.4 a.
    pub const LEAST: usize = 10_000;
    /// Trials where no number is asked for: some seconds. Ten thousand times 1/(1 − 0.95)
    /// would be better (200 000, JCGM 101 7.2.2) and takes four times as long.
    pub const USUAL: usize = 50_000;
    /// Most trials.
    pub const MOST: usize = 2_000_000;
    /// The seed, always the same.
    const SEED: u64 = 1;

    /// As many as usual.
    pub fn usual() -> Self {
        Self {
            n: Self::USUAL,
            seed: Self::SEED,
        }
    }

    /// A number of trials.
    ///
    /// # Errors
    /// If it is below [`Trials::LEAST`] or above [`Trials::MOST`].
    pub fn new(n: usize) -> Result<Self, TrialsError> {
        match n {
            n if n < Self::LEAST => Err(TrialsError::TooFew { n }),
            n if n > Self::MOST => Err(TrialsError::TooMany { n }),
            n => Ok(Self {
                n,
                seed: Self::SEED,
            }),
        }
    }
}

/// How an interval by chance compares with the stated one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Agreement {
    /// Both ends agree to two digits of the standard uncertainty, the scatter of the trials
    /// included.
    Agrees,
    /// No difference at either end stands out of the scatter of the trials, which is too
    /// large to say that both agree.
    TooFewTrials,
    /// The stated interval reaches further than it need.
    StatedWider,
    /// The stated interval does not reach as far as it should.
    StatedNarrower,
    /// Further at one end and less far at the other.
    StatedAside,
}

impl Agreement {
    /// Its name in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Agrees => "agrees",
            Self::TooFewTrials => "too_few_trials",
            Self::StatedWider => "stated_wider",
            Self::StatedNarrower => "stated_narrower",
            Self::StatedAside => "stated_aside",
        }
    }
}

/// A figure by the Monte Carlo method, in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByChance {
    /// Trials drawn.
    pub n_trials: usize,
    /// Seed they came from.
    pub seed: u64,
    /// Mean of the outputs.
    pub mean_si: f64,
    /// Their standard deviation. With few degrees of freedom it is larger than the standard
    /// uncertainty, which is expanded by a larger factor instead (JCGM 101 6.4.9.4).
    pub standard_si: f64,
    /// Lower end of the interval with as much below as above.
    pub lower_si: f64,
    /// Upper end of it.
    pub upper_si: f64,
    /// By which the ends may be wrong because trials are not endless, one sigma; the larger.
    pub end_error_si: f64,
    /// Difference of the lower ends, by size.
    pub lower_apart_si: f64,
    /// Difference of the upper ends, by size.
    pub upper_apart_si: f64,
    /// By which ends may differ: half the last of two digits of the standard uncertainty in
    /// the figure's unit (JCGM 101 7.9.2).
    pub tolerance_si: f64,
    /// What follows.
    pub agreement: Agreement,
}

/// Checks the interval of each measured figure of `evaluation`, which was made of the same
/// recording, and enters what was found there ([`Figure::by_chance`]).
///
/// # Errors
/// As [`evaluate`](super::evaluate).
pub fn check_by_chance(
    recording: &Recording,
    subject: &Subject,
    trials: Trials,
    evaluation: &mut Evaluation,
) -> Result<(), EvaluationError> {
    if subject.by_eye.is_some() {
        // A handful of readings has no noise to draw from: its parts stand in the budget.
        return Ok(());
    }
    let (series, _) = held(recording, subject)?;
    let mut sampled = sampled_rates(&series, subject, trials);
    let is_stated = |name| evaluation.figure(name).is_some();
    if is_stated(FigureName::CapLoss) || is_stated(FigureName::RodGain) {
        sampled.extend(sampled_totals(&series, subject, trials));
    }
    for (name, sampled) in sampled {
        let figure = evaluation.figures.iter_mut().find(|f| f.name == name);
        if let Some(figure) = figure {
            figure.by_chance = compared(figure, &sampled, trials);
        }
    }
    Ok(())
}

/// Drift and pressure loss: sums of what stands in their budgets.
fn sampled_rates(
    series: &HoldSeries,
    subject: &Subject,
    trials: Trials,
) -> Vec<(FigureName, Sampled)> {
    let mut sampled = Vec::new();
    if let (Some(position), Some(cylinder)) =
        (series.signal(Role::Position), subject.piece.cylinder())
    {
        let stroke_m = cylinder.size().stroke.value;
        let (drift, budget) = rate::movement(series, position, stroke_m);
        let sum = sampled_sum(drift.value_si, &budget, trials);
        sampled.push((FigureName::Drift, sum));
    }
    let holding = series.signal(pressure_role(subject.circuit.holding_chamber()));
    if let Some(found) = holding.and_then(|signal| rate::slope(series, signal)) {
        let sum = sampled_sum(-found.measured.value_si, &found.budget, trials);
        sampled.push((FigureName::LeakDown, sum));
    }
    sampled
}

fn sampled_sum(value_si: f64, budget: &[Contribution], trials: Trials) -> Sampled {
    monte_carlo(trials.n, trials.seed, &|draws| {
        let errors = budget
            .iter()
            .map(|part| part.standard_si * unit(part, draws));
        value_si + errors.sum::<f64>()
    })
}

/// A draw of a contribution, in its standard uncertainties.
fn unit(part: &Contribution, draws: &mut Draws) -> f64 {
    let half = 3f64.sqrt();
    match part.degrees_of_freedom {
        _ if part.source == rate::CURVED.0 => draws.rectangular(-half, half),
        freedom => student(draws, freedom),
    }
}

fn student(draws: &mut Draws, freedom: Option<f64>) -> f64 {
    draws.student_factor(freedom.unwrap_or(f64::INFINITY)) * draws.normal(0.0, 1.0)
}

/// Both totals from the same draws, through the formula of what is stated.
fn sampled_totals(
    series: &HoldSeries,
    subject: &Subject,
    trials: Trials,
) -> Vec<(FigureName, Sampled)> {
    let (Some(cylinder), Fluid::Oil(oil)) = (subject.piece.cylinder(), &subject.fluid) else {
        return Vec::new();
    };
    // It was fitted before, to the same digits.
    let solution = balance(None, series, subject, cylinder, oil)
        .ok()
        .and_then(|balance| Solution::fit(balance).ok());
    let Some(solution) = solution else {
        return Vec::new();
    };
    let stated = stated(&solution, subject);
    let sides = [P::CapLoss, P::RodGain];
    let beside = sides.map(|side| widening(&solution, &stated, side));
    let errors = Errors::of(&solution);
    let freedom = Term::Discrepancy.degrees_of_freedom();
    let sampled = monte_carlo_of(trials.n, trials.seed, &|draws| {
        let theta = errors.draw(draws);
        let mut totals = stated.carried_both(&solution, &theta);
        for (total, beside) in totals.iter_mut().zip(beside) {
            *total += beside
                .iter()
                .map(|u| u * student(draws, freedom))
                .sum::<f64>();
        }
        totals
    });
    let names = [FigureName::CapLoss, FigureName::RodGain];
    names.into_iter().zip(sampled).collect()
}

/// What trials say of a figure; None for one without a value, or without outputs.
fn compared(figure: &Figure, sampled: &Sampled, trials: Trials) -> Option<ByChance> {
    let measured = figure.measured?;
    let (lower_si, upper_si) = sampled.symmetric(COVERED);
    let (lower_error, upper_error) = sampled.symmetric_errors(COVERED);
    let unit = figure.name.si_per_metric_unit();
    let tolerance_si = unit * tolerance(measured.standard_si / unit);
    // Positive where the stated interval reaches further.
    let beyond = [
        (lower_si - figure.lower_si, lower_error),
        (figure.upper_si - upper_si, upper_error),
    ];
    let found = ByChance {
        n_trials: trials.n,
        seed: trials.seed,
        mean_si: sampled.mean,
        standard_si: sampled.standard,
        lower_si,
        upper_si,
        end_error_si: lower_error.max(upper_error),
        lower_apart_si: beyond[0].0.abs(),
        upper_apart_si: beyond[1].0.abs(),
        tolerance_si,
        agreement: agreement(beyond, tolerance_si),
    };
    lower_si.is_finite().then_some(found)
}

/// By which each end reaches beyond that by chance, with its error, against the tolerance.
fn agreement(beyond: [(f64, f64); 2], tolerance: f64) -> Agreement {
    let is_wider = beyond
        .iter()
        .any(|(by, error)| by - STANDS_OUT * error > tolerance);
    let is_narrower = beyond
        .iter()
        .any(|(by, error)| -by - STANDS_OUT * error > tolerance);
    let is_close = |(by, error): &(f64, f64)| by.abs() + STANDS_OUT * error <= tolerance;
    match (is_wider, is_narrower) {
        (true, true) => Agreement::StatedAside,
        (true, false) => Agreement::StatedWider,
        (false, true) => Agreement::StatedNarrower,
        (false, false) if beyond.iter().all(is_close) => Agreement::Agrees,
        (false, false) => Agreement::TooFewTrials,
    }
}

/// Half of the last digit where `standard` is written with two (JCGM 101 7.9.2).
fn tolerance(standard: f64) -> f64 {
    let exponent = standard.log10().floor();
    // 0.0996 is written 0.10.
    let rounds_up = (standard / 10f64.powf(exponent - 1.0)).round() >= 100.0;
    let last = exponent - if rounds_up { 0.0 } else { 1.0 };
    0.5 * 10f64.powf(last)
}

#[cfg(test)]
mod tests;
