//! Whether a hold of one length is enough for a limit: a tight unit passes, and a unit at twice
//! the limit fails, by the very judgement that real holds get.

use super::Intended;
use super::curve::half_width;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::expected_softness;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::fit::normal_cdf;
use crate::verdict::EarlyRule;
use crate::verdict::HoldEnd;
use crate::verdict::Judged;
use crate::verdict::Limit;
use crate::verdict::Outcome;
use crate::verdict::judge;

/// A unit so many times over its limit has to fail.
const OVER: f64 = 2.0;

/// Luck that is as good as never, in standard uncertainties, and how finely it is looked for.
const NO_LUCK: f64 = 4.0;
const FINE: f64 = 0.05;

/// What becomes of tight units, and of leaking ones, at a limit.
pub(super) struct Asked<'a> {
    /// The hold.
    pub intended: &'a Intended,
    /// Limits that are one question.
    pub question: &'a [Limit],
    /// What a tight hold shows.
    pub evaluation: &'a Evaluation,
    /// Its length, s.
    pub length_s: f64,
}

impl Asked<'_> {
    /// Whether a tight unit passes; else what comes out of it.
    pub fn passes(&self) -> Result<(), Box<Judged>> {
        self.is(Outcome::Pass, 0.0, 0.0)
    }

    /// Whether a tight unit passes and one at twice the limit fails, each with a measured value
    /// `luck` standard uncertainties on the wrong side; else what comes out of the one in doubt.
    pub fn tells(&self, luck: f64) -> Result<(), Box<Judged>> {
        let (warm, sinks) = (self.own_sign(), self.leak_sign());
        self.is(Outcome::Pass, 0.0, warm * luck)?;
        if !self.shows_leaks() {
            return Ok(());
        }
        self.is(Outcome::Fail, self.over_si(), -sinks * luck)
    }

    /// Part of tight units that pass, 0 to 1. What is chance in it is the error of the measured
    /// value.
    pub fn part_passing(&self) -> f64 {
        let passes = |luck: f64| self.is(Outcome::Pass, 0.0, luck).is_ok();
        let middle = self.luck_to_nothing();
        match passes(middle) {
            true => {
                normal_cdf(last(&passes, middle, NO_LUCK))
                    - normal_cdf(last(&passes, middle, -NO_LUCK))
            }
            false => 0.0,
        }
    }

    /// Part of units at twice the limit that fail, likewise; all of them where a leak does not show
    /// in the figure.
    pub fn part_failing(&self) -> f64 {
        if !self.shows_leaks() {
            return 1.0;
        }
        let (leak_si, sinks) = (self.over_si(), self.leak_sign());
        let fails = |luck: f64| self.is(Outcome::Fail, leak_si, sinks * luck).is_ok();
        match fails(NO_LUCK) {
            true => normal_cdf(-last(&fails, NO_LUCK, -NO_LUCK)),
            false => 0.0,
        }
    }

    /// What a free rod's pressure loses says nothing of how much oil left: its load makes it.
    fn shows_leaks(&self) -> bool {
        self.question[0].figure != FigureName::LeakDown || !is_free(self.intended)
    }

    fn over_si(&self) -> f64 {
        let limit = &self.question[0];
        OVER * limit.number * limit.si_per_unit
    }

    /// Whether an outcome comes out of a unit with a leak of `leak_si` whose measured value is
    /// `luck` standard uncertainties too large; else what does.
    fn is(&self, wanted: Outcome, leak_si: f64, luck: f64) -> Result<(), Box<Judged>> {
        let found = judged(
            self.intended,
            self.question,
            self.evaluation,
            self.length_s,
            (leak_si, luck),
        );
        match found.outcome == wanted {
            true => Ok(()),
            false => Err(Box::new(found)),
        }
    }

    fn figure(&self) -> Option<&Figure> {
        self.evaluation.figure(self.question[0].figure)
    }

    /// Luck with which a tight unit would show nothing at all.
    fn luck_to_nothing(&self) -> f64 {
        let shown = self.figure().filter(|figure| keeps(figure));
        let shown = shown.and_then(|figure| figure.measured);
        shown.map_or(0.0, |m| -m.value_si / m.standard_si.max(f64::MIN_POSITIVE))
    }

    /// The way on which heat alone has moved the figure of a tight unit.
    fn own_sign(&self) -> f64 {
        match self.luck_to_nothing() > 0.0 {
            true => -1.0,
            false => 1.0,
        }
    }

    /// The way on which a leak moves it.
    fn leak_sign(&self) -> f64 {
        match self.figure() {
            Some(figure) => leak_sign(self.intended, figure),
            None => 1.0,
        }
    }
}

/// The last luck on the way from one at which something is so to `end` at which it still is; `end`
/// counts as infinitely far.
fn last(is_so: &dyn Fn(f64) -> bool, from: f64, end: f64) -> f64 {
    if is_so(end) {
        return end.signum() * f64::INFINITY;
    }
    let (mut good, mut bad) = (from, end);
    while (good - bad).abs() > FINE {
        let middle = 0.5 * (good + bad);
        match is_so(middle) {
            true => good = middle,
            false => bad = middle,
        }
    }
    0.5 * (good + bad)
}

/// Why not even a figure without any ± would pass, if so.
pub(super) fn never(
    intended: &Intended,
    question: &[Limit],
    evaluation: &Evaluation,
    length_s: f64,
) -> Option<String> {
    let mut sure = evaluation.clone();
    for figure in &mut sure.figures {
        narrow(figure);
    }
    let tight = judged(intended, question, &sure, length_s, (0.0, 0.0));
    (tight.outcome != Outcome::Pass).then_some(tight.reason)
}

/// How a hold would be judged that shows a leak of `leak_si` in the figure of a question, with a
/// value that is `luck` standard uncertainties too large.
fn judged(
    intended: &Intended,
    question: &[Limit],
    evaluation: &Evaluation,
    length_s: f64,
    (leak_si, luck): (f64, f64),
) -> Judged {
    let mut made = evaluation.clone();
    // A doubt about paper is none about a real hold.
    made.doubts.clear();
    let name = question[0].figure;
    for figure in &mut made.figures {
        if figure.name == name {
            let leak_si = leak_sign(intended, figure) * leak_si;
            show(figure, leak_si, luck);
        } else if let Some(flow) = flow_of(intended, name, leak_si, figure.name) {
            show(figure, flow, 0.0);
        }
    }
    let verdict = match intended.plan.ends_as_decided() {
        true => {
            let early = EarlyRule::new(intended.rule, length_s);
            early.judge(Ok(&made), &[], question, HoldEnd::Whole)
        }
        false => judge(Ok(&made), &[], question, intended.rule),
    };
    let mut all = verdict.judged.into_iter();
    all.next().expect("each question is answered")
}

/// Movement and pressure keep what heat does to them.
fn keeps(figure: &Figure) -> bool {
    matches!(figure.name, FigureName::Drift | FigureName::LeakDown)
}

fn is_free(intended: &Intended) -> bool {
    let rod = &intended.subject.circuit.rod;
    matches!(rod, RodHold::PushedIn { .. } | RodHold::PulledOut { .. })
}

/// The way on which a leak moves a figure: a load that sinks draws a hanging rod out, and pushes
/// another in.
fn leak_sign(intended: &Intended, figure: &Figure) -> f64 {
    match (figure.name, intended.subject.circuit.holding_chamber()) {
        (FigureName::Drift, Chamber::Cap) => -1.0,
        _ => 1.0,
    }
}

/// Lets a figure show a leak, off by its luck.
fn show(figure: &mut Figure, leak_si: f64, luck: f64) {
    let keeps = keeps(figure);
    let standard = half_width(figure) / figure.coverage_factor;
    match figure.measured.as_mut() {
        Some(measured) => {
            let own = if keeps { measured.value_si } else { 0.0 };
            measured.value_si = own + leak_si + luck * standard;
            let half = figure.coverage_factor * standard;
            figure.lower_si = measured.value_si - half;
            figure.upper_si = measured.value_si + half;
        }
        None => {
            figure.lower_si += leak_si;
            figure.upper_si += leak_si;
        }
    }
}

/// A figure with hardly any ±.
fn narrow(figure: &mut Figure) {
    let keeps = keeps(figure);
    let (middle, half) = match figure.measured.as_mut() {
        Some(measured) => {
            if keeps {
                measured.value_si = 0.0;
            }
            measured.standard_si *= 1e-9;
            (
                measured.value_si,
                figure.coverage_factor * measured.standard_si,
            )
        }
        None => (0.0, 1e-9 * half_width(figure)),
    };
    figure.lower_si = middle - half;
    figure.upper_si = middle + half;
}

/// What the account would show beside a leak that moves the rod or lets the pressure fall: m³/s
/// out of the side that holds.
fn flow_of(intended: &Intended, name: FigureName, leak_si: f64, other: FigureName) -> Option<f64> {
    let subject = &intended.subject;
    let cylinder = subject.piece.cylinder()?;
    let holding = subject.circuit.holding_chamber();
    let side = match holding {
        Chamber::Cap => FigureName::CapLoss,
        Chamber::Rod => FigureName::RodGain,
    };
    if other != side || leak_si == 0.0 {
        return None;
    }
    match name {
        FigureName::Drift => Some(leak_si * cylinder.area(holding).value),
        FigureName::LeakDown if is_free(intended) => None,
        FigureName::LeakDown => {
            let (softness, _) = expected_softness(subject, intended.start, holding)?;
            Some(leak_si * softness)
        }
        _ => None,
    }
}
