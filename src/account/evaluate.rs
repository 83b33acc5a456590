//! From a recording to its figures.
//!
//! Decides which chambers carry readable pressure, fits the account, states totals
//! as values and single paths as bounds. The time shape of a flow never decides
//! which path it took; only plumbing does.

use super::Doubt;
use super::Evaluation;
use super::Fluid;
use super::METHOD_VERSION;
use super::Subject;
use super::balance::Balance;
use super::bounds::Across;
use super::bounds::across;
use super::bounds::both_sides;
use super::bounds::impossible;
use super::bounds::one_side;
use super::figure::Conditions;
use super::figure::Contribution;
use super::figure::Figure;
use super::figure::FigureName;
use super::figure::Measured;
use super::findings;
use super::layout::Layout;
use super::layout::P;
use super::lines::lines;
use super::rate;
use super::series::HoldSeries;
use super::solution::Solution;
use super::term::Term;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::fit::Vector;
use crate::oil::Oil;
use crate::procedure::HOLD;
use crate::procedure::SHORTEST_HOLD_S;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::number;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;
use crate::recording::Recording;

/// Expanded by this, a standard uncertainty covers 95 % (JCGM 100, 6.3.3).
pub(super) const COVERAGE_FACTOR: f64 = 2.0;

/// Below this gauge pressure air cannot be told from a leak, Pa.
const READABLE_PA: f64 = 2e5;

/// No account is known to better than this mean oil temperature over a hold, K (at
/// 95 %); found in simulation for long holds with good sensors.
const HEAT_FLOOR_K: f64 = 0.1;

/// A flow may vary this much with viscosity during a hold without being seen.
const FLOW_WANDER: f64 = 0.02;

/// Why a recording could not be evaluated, and what to do about it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EvaluationError {
    /// The test did not come to its hold.
    #[error("the recording has no counted hold (it ended while settling); run the test again")]
    NoHold,
    /// The hold holds fewer samples than the method needs.
    #[error(
        "hold from {from_s:.1} s to {until_s:.1} s is too short or too thin; \
         it needs at least {SHORTEST_HOLD_S} s and 32 rows with pressure"
    )]
    HoldTooSparse {
        /// Start of the hold, s.
        from_s: f64,
        /// End of the hold, s.
        until_s: f64,
    },
}

/// Evaluates the counted hold of a recording.
///
/// # Errors
/// If there is no hold, or hardly any data in it.
pub fn evaluate(recording: &Recording, subject: &Subject) -> Result<Evaluation, EvaluationError> {
    evaluate_without(None, recording, subject)
}

/// The same with one term left out: a wrong evaluation, to see what the term is there for.
///
/// # Errors
/// As [`evaluate`].
pub fn evaluate_without(
    without: Option<Term>,
    recording: &Recording,
    subject: &Subject,
) -> Result<Evaluation, EvaluationError> {
    let hold = recording.phase(HOLD).ok_or(EvaluationError::NoHold)?;
    let (from_s, until_s) = (hold.from_s, hold.until_s);
    let sparse = EvaluationError::HoldTooSparse { from_s, until_s };
    if until_s - from_s < SHORTEST_HOLD_S - 1e-6 {
        return Err(sparse);
    }
    let series = HoldSeries::cut(recording, from_s, until_s).ok_or(sparse)?;
    let mut evaluation = Evaluation {
        method_version: METHOD_VERSION,
        hold_s: (from_s, until_s),
        figures: Vec::new(),
        lines: Vec::new(),
        findings: Vec::new(),
        doubts: Vec::new(),
    };
    rates(&series, subject, &mut evaluation);
    if subject.fluid == Fluid::Gas {
        let sentence = "Filled with gas: a pressure loss can be stated, a volume of oil cannot.";
        evaluation.findings.push(sentence.into());
    }
    if let (Some(cylinder), Fluid::Oil(oil)) = (subject.piece.cylinder(), &subject.fluid) {
        account(without, &series, subject, cylinder, oil, &mut evaluation);
    }
    evaluation.figures.sort_by_key(|f| f.name);
    Ok(evaluation)
}

/// Drift and leak-down, each from one channel alone.
fn rates(series: &HoldSeries, subject: &Subject, evaluation: &mut Evaluation) {
    let at = conditions(series, subject, 0);
    if let Some(position) = series
        .signal(Role::Position)
        .filter(|_| subject.piece.cylinder().is_some())
    {
        let drift = rate::end_to_end(series, position);
        evaluation.figures.push(Figure::measured(
            FigureName::Drift,
            drift,
            COVERAGE_FACTOR,
            at,
        ));
    }
    let holding = pressure_role(subject.circuit.holding_chamber());
    let Some(found) = series
        .signal(holding)
        .filter(|_| subject.circuit.shows_leak_down())
        .and_then(|signal| rate::slope(series, signal))
    else {
        return;
    };
    let measured = Measured {
        value_si: -found.measured.value_si,
        ..found.measured
    };
    evaluation.figures.push(Figure::measured(
        FigureName::LeakDown,
        measured,
        COVERAGE_FACTOR,
        at,
    ));
    if found.is_curved {
        let bar_min = |pa_s: f64| number(-pa_s * 60e-5, found.measured.standard_si * 60e-5);
        evaluation.doubts.push(Doubt::Note {
            evidence: format!(
                "the pressure loss is not a straight line: {} bar/min in the first half of the hold, {} bar/min in \
                 the second; the interval spans both",
                bar_min(found.halves.0),
                bar_min(found.halves.1)
            ),
        });
    }
}

fn account(
    without: Option<Term>,
    series: &HoldSeries,
    subject: &Subject,
    cylinder: &Cylinder,
    oil: &Oil,
    evaluation: &mut Evaluation,
) {
    let live =
        [Chamber::Cap, Chamber::Rod].map(|chamber| is_live(series, subject, cylinder, chamber));
    let holding = subject.circuit.holding_chamber();
    let holding_is_live = live[usize::from(holding == Chamber::Rod)];
    if !holding_is_live || series.signal(Role::Position).is_none() {
        evaluation.doubts.push(Doubt::Note {
            evidence: why_no_account(series, &subject.circuit, holding, holding_is_live),
        });
        return;
    }
    // A hanging load leaves the cap side in vacuum; only the rod side is accounted for.
    let live = if holding == Chamber::Rod {
        [false, true]
    } else {
        live
    };
    let layout = Layout::new(cylinder, oil, &subject.circuit, series, live, without);
    let reference = reference_pressures(series);
    let balance = Balance {
        cylinder,
        oil,
        circuit: &subject.circuit,
        series,
        layout,
        reference,
    };
    match Solution::fit(balance) {
        Err(error) => evaluation.doubts.push(Doubt::NoFit {
            evidence: error.to_string(),
        }),
        Ok(solution) => {
            evaluation.lines = lines(&solution);
            match solution.misfit() {
                Some(evidence) => evaluation.doubts.push(Doubt::NoFit { evidence }),
                None => match figures(&solution, subject, evaluation) {
                    Err(doubt) => evaluation.doubts.push(doubt),
                    Ok(()) => findings::add(&solution, subject, evaluation),
                },
            }
        }
    }
}

fn why_no_account(
    series: &HoldSeries,
    circuit: &Circuit,
    holding: Chamber,
    holding_is_live: bool,
) -> String {
    if series.signal(Role::Position).is_none() {
        return "without position no oil volume can be stated; connect the position sensor".into();
    }
    if let Some(reason) = circuit.no_account(holding) {
        return reason.to_string();
    }
    let side = holding.word();
    match (series.signal(pressure_role(holding)), holding_is_live) {
        (None, _) => {
            format!("without {side}-end pressure no oil volume can be stated; connect the sensor")
        }
        _ => format!(
            "the {side} end stayed below {:.0} bar for part of the hold, where air cannot be told from a leak; \
             hold at a higher pressure",
            READABLE_PA / 1e5
        ),
    }
}

/// Whether a chamber is shut in and carries pressure that can be accounted for.
fn is_live(series: &HoldSeries, subject: &Subject, cylinder: &Cylinder, chamber: Chamber) -> bool {
    if !cylinder.kind().chambers().contains(&chamber) {
        return false;
    }
    let Some(signal) = series.signal(pressure_role(chamber)) else {
        return false;
    };
    let lowest = series
        .block_means(&signal.raw)
        .into_iter()
        .fold(f64::INFINITY, f64::min);
    subject.circuit.is_shut_in(chamber) && lowest > READABLE_PA + 3.0 * signal.errors.zero_si
}

fn pressure_role(chamber: Chamber) -> Role {
    match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    }
}

/// Mean sizes over the hold that the leak laws are counted from: across the piston,
/// cap, rod; at least 0.1 bar.
fn reference_pressures(series: &HoldSeries) -> [f64; 3] {
    let data = |role| {
        series
            .signal(role)
            .map(|s| s.smooth.clone())
            .unwrap_or_else(|| vec![0.0; series.t.len()])
    };
    let (cap, rod) = (data(Role::CapPressure), data(Role::RodPressure));
    let size =
        |v: Vec<f64>| (v.iter().map(|p| p.abs()).sum::<f64>() / v.len().max(1) as f64).max(1e4);
    let across = cap.iter().zip(&rod).map(|(c, r)| c - r).collect();
    [size(across), size(cap), size(rod)]
}

/// State of the piece at a fine bin.
fn conditions(series: &HoldSeries, subject: &Subject, bin: usize) -> Conditions {
    let at = |role| series.signal(role).and_then(|s| s.smooth.get(bin)).copied();
    Conditions {
        p_cap_pa: at(Role::CapPressure),
        p_rod_pa: at(Role::RodPressure),
        p_holding_pa: at(pressure_role(subject.circuit.holding_chamber())),
        t_oil_k: at(Role::OilTemperature),
        x_m: at(Role::Position),
    }
}

/// Totals as values, single paths as bounds; or why they cannot be.
fn figures(
    solution: &Solution<'_>,
    subject: &Subject,
    evaluation: &mut Evaluation,
) -> Result<(), Doubt> {
    let layout = &solution.balance.layout;
    let stated = stated(solution, subject);
    let floor = heat_floor(solution);
    let cap = layout
        .cap_live
        .then(|| total(solution, P::CapLoss, FigureName::CapLoss, &stated, floor));
    let rod = layout
        .rod_live
        .then(|| total(solution, P::RodGain, FigureName::RodGain, &stated, floor));
    let across = across(solution.balance.series);
    if let Some(doubt) = impossible(across, cap.as_ref(), rod.as_ref()) {
        return Err(doubt);
    }
    let ends = |figure: &Figure| (figure.lower_si, figure.upper_si);
    let bounds = match (&cap, &rod) {
        (Some(cap), Some(rod)) => {
            let (out, _) = solution.derive(&|theta| {
                stated.carried(solution, theta, P::CapLoss)
                    - stated.carried(solution, theta, P::RodGain)
            });
            let half = COVERAGE_FACTOR * out.standard_si.max(floor);
            both_sides(
                subject,
                across,
                [
                    ends(cap),
                    ends(rod),
                    (out.value_si - half, out.value_si + half),
                ],
            )
        }
        (Some(cap), None) if across != Across::Reversing => {
            one_side(subject, Chamber::Cap, ends(cap))
        }
        (None, Some(rod)) if across != Across::Reversing => {
            one_side(subject, Chamber::Rod, (-rod.upper_si, -rod.lower_si))
        }
        _ => Vec::new(),
    };
    if across == Across::Reversing {
        evaluation.doubts.push(Doubt::Note {
            evidence: "the pressure across the piston reversed during the hold, so no single path is stated".into(),
        });
    }
    for (name, lower, upper) in bounds {
        evaluation.figures.push(Figure::bounded(
            name,
            lower,
            upper,
            COVERAGE_FACTOR,
            stated.at,
        ));
    }
    evaluation.figures.extend(cap.into_iter().chain(rod));
    Ok(())
}

/// A measured total at the stated conditions, with its mean over the hold and its budget.
fn total(solution: &Solution<'_>, side: P, name: FigureName, stated: &At, floor: f64) -> Figure {
    let (mean, _) = solution.derive(&|theta| solution.mean_flow(theta, side));
    let (mut start, mut budget) = solution.derive(&|theta| stated.carried(solution, theta, side));
    let mut widen = |source, remedy, standard_si: f64| {
        if standard_si > 0.0 {
            start.standard_si = start.standard_si.hypot(standard_si);
            budget.push(Contribution {
                source,
                standard_si,
                remedy,
            });
        }
    };
    widen(
        "viscosity changing with temperature",
        "hold at steadier temperature",
        FLOW_WANDER * start.value_si.abs(),
    );
    let missing = (floor.powi(2) - start.standard_si.powi(2)).max(0.0).sqrt();
    if missing > 0.0 {
        start.standard_si = floor;
        let (source, remedy) = ("heat that nobody sees", "hold longer");
        budget.push(Contribution {
            source,
            standard_si: missing,
            remedy,
        });
    }
    let budget = condensed(budget, start.standard_si);
    let mut figure = Figure::measured(name, start, COVERAGE_FACTOR, stated.at);
    figure.mean_over_hold = Some(Measured {
        standard_si: mean.standard_si.max(floor),
        ..mean
    });
    figure.budget = budget;
    figure
}

/// The contributions that matter, the largest first; those below one part in a hundred of
/// the variance stand together in the last line.
fn condensed(budget: Vec<Contribution>, whole_si: f64) -> Vec<Contribution> {
    let matters = |c: &Contribution| c.standard_si.powi(2) >= 0.01 * whole_si.powi(2);
    let (mut large, small): (Vec<Contribution>, Vec<Contribution>) =
        budget.into_iter().partition(matters);
    large.sort_by(|a, b| b.standard_si.total_cmp(&a.standard_si));
    let together = small
        .iter()
        .map(|c| c.standard_si.powi(2))
        .sum::<f64>()
        .sqrt();
    if together > 0.0 {
        let (source, remedy) = ("all others together", "not worth the trouble");
        large.push(Contribution {
            source,
            standard_si: together,
            remedy,
        });
    }
    large
}

/// Conditions that flows are stated at, and the ratios that carry them there.
struct At {
    at: Conditions,
    pressure_ratio: f64,
    viscosity_ratio: f64,
}

impl At {
    fn carried(&self, solution: &Solution<'_>, theta: &Vector, side: P) -> f64 {
        solution.flow_at_start(theta, side, self.pressure_ratio, self.viscosity_ratio)
    }
}

/// How far a leak law may be carried in pressure, as a ratio, and in temperature, K.
const CARRIED_RATIO: std::ops::RangeInclusive<f64> = 0.8..=1.25;
const CARRIED_K: f64 = 15.0;

fn stated(solution: &Solution<'_>, subject: &Subject) -> At {
    let mut at = conditions(solution.balance.series, subject, 0);
    let (mut pressure_ratio, mut viscosity_ratio) = (1.0, 1.0);
    if let (Some(wanted), Some(found)) = (subject.stated.pressure, at.p_holding_pa) {
        let ratio = wanted.pa() / found;
        // Further off a leak law is a guess; the figure then stays where it was measured.
        if CARRIED_RATIO.contains(&ratio) {
            pressure_ratio = ratio;
            at.p_holding_pa = Some(wanted.pa());
            match subject.circuit.holding_chamber() {
                Chamber::Cap => at.p_cap_pa = Some(wanted.pa()),
                Chamber::Rod => at.p_rod_pa = Some(wanted.pa()),
            }
        }
    }
    if let (Some(wanted), Some(found)) = (subject.stated.temperature, at.t_oil_k) {
        let viscosity = |k: f64| {
            solution
                .balance
                .oil
                .viscosity(Temperature::new::<kelvin>(k))
                .mm2_per_s()
        };
        let wanted_k = wanted.get::<kelvin>();
        if (wanted_k - found).abs() <= CARRIED_K {
            viscosity_ratio = viscosity(wanted_k) / viscosity(found);
            at.t_oil_k = Some(wanted_k);
        }
    }
    At {
        at,
        pressure_ratio,
        viscosity_ratio,
    }
}

fn heat_floor(solution: &Solution<'_>) -> f64 {
    let balance = &solution.balance;
    let x = Length::new::<meter>(
        balance
            .series
            .signal(Role::Position)
            .and_then(|s| s.smooth.first())
            .copied()
            .unwrap_or(0.0),
    );
    let chamber = if balance.layout.cap_live {
        Chamber::Cap
    } else {
        Chamber::Rod
    };
    let volume = balance.cylinder.volume(chamber, x).value;
    volume * balance.oil.trapped_expansion_per_k() * HEAT_FLOOR_K
        / balance.series.length_s
        / COVERAGE_FACTOR
}
