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
use super::by_heat::movement_by_heat;
use super::conditions::conditions;
use super::conditions::over_hold;
use super::conditions::pressure_role;
use super::conditions::thinning_per_k;
use super::counted::counted;
use super::evened::evened;
use super::figure::Contribution;
use super::figure::Figure;
use super::figure::FigureName;
use super::figure::Measured;
use super::figure::coverage_factor;
use super::findings;
use super::layout::Layout;
use super::lines::lines;
use super::looked;
use super::met::Met;
use super::met::met;
use super::misfit::misfit;
use super::rate;
use super::rigid;
use super::series::HoldSeries;
use super::series::Signal;
use super::settling;
use super::solution::Solution;
use super::term::Term;
use super::totals::figures;
use super::turn::turn;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::oil::Oil;
use crate::procedure::HOLD;
use crate::procedure::LEAST_READINGS;
use crate::procedure::SHORTEST_HOLD_S;
use crate::quantity::number;
use crate::recording::Recording;

/// Below this gauge pressure air cannot be told from a leak, Pa.
const READABLE_PA: f64 = 2e5;

/// Pressures that their sensors cannot tell apart at all, and those that stand far enough
/// apart to say how a flow between them went, in standard uncertainties.
const APART_AT_ALL: f64 = 3.0;
const APART_ENOUGH: f64 = 6.0;

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
    /// A person read too little of a hold.
    #[error(
        "readings of the {plain} in the hold: {n_found}, and a hold that is read by eye needs {LEAST_READINGS}; hold again"
    )]
    TooFewReadings {
        /// What was to be read.
        plain: &'static str,
        /// How many there are.
        n_found: usize,
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
    let (series, hold_s) = held(recording, subject)?;
    let met = met(recording, &series, subject);
    let told = Told::Whole(without);
    Ok(evaluated(told, &series, hold_s, subject, met))
}

/// What a verdict asks for, and nothing else: no lines, no findings, no forecast.
///
/// # Errors
/// As [`evaluate`].
pub fn evaluate_to_judge(
    recording: &Recording,
    subject: &Subject,
) -> Result<Evaluation, EvaluationError> {
    let (series, hold_s) = held(recording, subject)?;
    let met = met(recording, &series, subject);
    Ok(evaluated(Told::ToJudge, &series, hold_s, subject, met))
}

/// What is told of a hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Told {
    /// All of it, with a term left out or not.
    Whole(Option<Term>),
    /// What a verdict asks for.
    ToJudge,
}

impl Told {
    fn without(self) -> Option<Term> {
        match self {
            Self::Whole(without) => without,
            Self::ToJudge => None,
        }
    }
}

/// The counted hold of a recording, cut into bins, with its start and end in s.
pub(super) fn held(
    recording: &Recording,
    subject: &Subject,
) -> Result<(HoldSeries, (f64, f64)), EvaluationError> {
    let hold = recording.phase(HOLD).ok_or(EvaluationError::NoHold)?;
    let (from_s, until_s) = (hold.from_s, hold.until_s);
    let sparse = EvaluationError::HoldTooSparse { from_s, until_s };
    if until_s - from_s < SHORTEST_HOLD_S - 1e-6 {
        return Err(sparse);
    }
    let series = match &subject.by_eye {
        Some(by_eye) => looked::held(recording, subject, by_eye, (from_s, until_s))?,
        None => HoldSeries::cut(recording, from_s, until_s).ok_or(sparse)?,
    };
    Ok((series, (from_s, until_s)))
}

/// The evaluation of a hold that was cut into bins.
pub(super) fn evaluated(
    told: Told,
    series: &HoldSeries,
    hold_s: (f64, f64),
    subject: &Subject,
    met: Option<Met>,
) -> Evaluation {
    let mut evaluation = Evaluation {
        method_version: METHOD_VERSION,
        hold_s,
        over_hold: over_hold(series, subject),
        figures: Vec::new(),
        lines: Vec::new(),
        findings: Vec::new(),
        doubts: left_out(series),
        met,
        shares_load: subject.circuit.beside.is_some(),
        by_heat_m_per_s: None,
        turn: None,
        evened: None,
        counted: None,
        forecast: None,
    };
    rates(series, subject, &mut evaluation);
    if subject.fluid == Fluid::Gas {
        let sentence = "Filled with gas: a pressure loss can be stated, a volume of oil cannot.";
        evaluation.findings.push(sentence.into());
    }
    if let (Some(cylinder), Fluid::Oil(oil)) = (subject.piece.cylinder(), &subject.fluid) {
        account(told, series, subject, cylinder, oil, &mut evaluation);
    }
    let loss = evaluation.figure(FigureName::LeakDown);
    if let Some(rig) = loss.and_then(|loss| rigid::counted(series, subject, loss)) {
        evaluation.counted = Some(rig);
    }
    if subject.by_eye.is_some() {
        let figures = evaluation.figures.iter_mut();
        figures.for_each(|figure| looked::renamed(&mut figure.budget));
    }
    findings::of_met(&mut evaluation);
    findings::of_turn(&mut evaluation);
    evaluation.figures.sort_by_key(|f| f.name);
    evaluation
}

/// A note on readings that stood out from their neighbours.
fn left_out(series: &HoldSeries) -> Vec<Doubt> {
    let n_outliers: usize = series.signals().map(|s| s.n_outliers).sum();
    let note = |evidence| Doubt::Note { evidence };
    match n_outliers {
        0 => Vec::new(),
        1 => vec![note(
            "one reading stood out from its neighbours and was left out".into(),
        )],
        n => vec![note(format!(
            "{n} readings stood out from their neighbours and were left out"
        ))],
    }
}

/// Drift and leak-down, each from one channel alone.
fn rates(series: &HoldSeries, subject: &Subject, evaluation: &mut Evaluation) {
    let at = conditions(series, subject, 0);
    if let Some(by_eye) = &subject.by_eye {
        let found = looked::rates(series, subject, by_eye);
        let found = found.into_iter();
        evaluation
            .figures
            .extend(found.map(|(name, value, budget)| Figure::measured(name, value, budget, at)));
        return;
    }
    if let (Some(position), Some(cylinder)) =
        (series.signal(Role::Position), subject.piece.cylinder())
    {
        let (drift, budget) = rate::movement(series, position, cylinder.size().stroke.value);
        let drift = Figure::measured(FigureName::Drift, drift, budget, at);
        evaluation.figures.push(drift);
    }
    let holding = pressure_role(subject.circuit.holding_chamber());
    let Some(found) = series
        .signal(holding)
        .filter(|_| subject.circuit.shows_leak_down())
        .and_then(|signal| rate::slope(series, signal))
    else {
        return;
    };
    let mut measured = Measured {
        value_si: -found.measured.value_si,
        ..found.measured
    };
    let mut budget = found.budget.clone();
    if found.is_curved {
        spanning(&mut measured, &mut budget, [found.halves.0, found.halves.1]);
    }
    // Where oil can be accounted for, the account says what of it has leaked.
    let has_account = subject.piece.cylinder().is_some() && subject.fluid != Fluid::Gas;
    if !has_account && settling::is_settling(&found, series, &subject.circuit) {
        settling::widen(&mut measured, &mut budget);
        evaluation.doubts.push(Doubt::Note {
            evidence: settling::SENTENCE.into(),
        });
    }
    evaluation
        .figures
        .push(Figure::measured(FigureName::LeakDown, measured, budget, at));
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

/// Lets the interval of a loss reach what both halves of its hold say by themselves.
fn spanning(loss: &mut Measured, budget: &mut Vec<Contribution>, halves: [f64; 2]) {
    let furthest = halves
        .into_iter()
        .map(|half| (-half - loss.value_si).abs())
        .fold(0.0, f64::max);
    let lacking = (furthest / coverage_factor(None)).powi(2) - loss.standard_si.powi(2);
    if lacking > 0.0 {
        loss.standard_si = loss.standard_si.hypot(lacking.sqrt());
        budget.push(Contribution {
            source: "halves of the hold that differ",
            standard_si: lacking.sqrt(),
            degrees_of_freedom: None,
            remedy: "let it settle longer, or hold longer",
        });
        budget.sort_by(|a, b| b.standard_si.total_cmp(&a.standard_si));
    }
}

fn account(
    told: Told,
    series: &HoldSeries,
    subject: &Subject,
    cylinder: &Cylinder,
    oil: &Oil,
    evaluation: &mut Evaluation,
) {
    let balance = match balance(told.without(), series, subject, cylinder, oil) {
        Ok(balance) => balance,
        Err(evidence) => return evaluation.doubts.push(Doubt::Note { evidence }),
    };
    let on_purpose = subject.circuit.joined;
    // Between looks of a person nobody sees how fast pressures come together.
    let may_have_met = evaluation.met.is_some() || subject.by_eye.is_some();
    if may_have_met && !on_purpose && apart_by_sensors(series) < APART_ENOUGH {
        let evidence = "for nearly the whole hold the pressures on both sides of the piston stood closer together than \
                        their sensors can tell apart, so no flow is stated";
        return evaluation.doubts.push(Doubt::Note {
            evidence: evidence.into(),
        });
    }
    match Solution::fit(balance) {
        Err(error) => evaluation.doubts.push(Doubt::NoFit {
            evidence: error.to_string(),
        }),
        Ok(solution) => {
            let is_whole = told != Told::ToJudge;
            if is_whole {
                evaluation.lines = lines(&solution);
            }
            if evaluation.met.is_none() && told.without().is_none() {
                evaluation.turn = turn(&solution);
            }
            match misfit(&solution) {
                Some(evidence) => evaluation.doubts.push(Doubt::NoFit { evidence }),
                None => match figures(&solution, subject, evaluation) {
                    Err(doubt) => evaluation.doubts.push(doubt),
                    Ok(()) => {
                        evaluation.by_heat_m_per_s = movement_by_heat(&solution);
                        if is_whole {
                            evaluation.evened = evened(&solution);
                            evaluation.counted = counted(&solution, subject, &evaluation.figures);
                            findings::add(&solution, subject, evaluation);
                        }
                    }
                },
            }
        }
    }
}

/// The balance of a hold, or why no oil can be accounted for.
pub(super) fn balance<'a>(
    without: Option<Term>,
    series: &'a HoldSeries,
    subject: &'a Subject,
    cylinder: &'a Cylinder,
    oil: &'a Oil,
) -> Result<Balance<'a>, String> {
    let live =
        [Chamber::Cap, Chamber::Rod].map(|chamber| is_live(series, subject, cylinder, chamber));
    let holding = subject.circuit.holding_chamber();
    let holding_is_live = live[usize::from(holding == Chamber::Rod)];
    if !holding_is_live || series.signal(Role::Position).is_none() {
        return Err(why_no_account(
            series,
            &subject.circuit,
            holding,
            holding_is_live,
        ));
    }
    // A hanging load leaves the cap side in vacuum; only the rod side is accounted for.
    let live = if holding == Chamber::Rod {
        [false, true]
    } else {
        live
    };
    let layout = Layout::new(cylinder, oil, &subject.circuit, series, live, without);
    let reference = reference_pressures(series);
    Ok(Balance {
        cylinder,
        oil,
        circuit: &subject.circuit,
        series,
        layout,
        is_met: apart_by_sensors(series) < APART_AT_ALL,
        turn_s: None,
        thinning_per_k: thinning_per_k(series, oil),
        reference,
    })
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

/// How far apart the pressures on both sides of the piston ever were after the first two blocks
/// (a twentieth of the hold: what is over by then is no course that a flow could be read from),
/// in standard uncertainties of that by their sensors; infinite where a side is not measured.
fn apart_by_sensors(series: &HoldSeries) -> f64 {
    let (Some(cap), Some(rod)) = (
        series.signal(Role::CapPressure),
        series.signal(Role::RodPressure),
    ) else {
        return f64::INFINITY;
    };
    let pairs = cap.smooth.iter().zip(&rod.smooth);
    let later = pairs.skip(2 * series.bins_per_block);
    let apart = later.map(|(c, r)| (c - r).abs()).fold(0.0, f64::max);
    let level = cap.smooth.iter().fold(0.0f64, |a, p| a.max(p.abs()));
    let error = |s: &Signal| s.errors.zero_si.hypot(s.errors.span_relative * level);
    apart / error(cap).hypot(error(rod))
}
