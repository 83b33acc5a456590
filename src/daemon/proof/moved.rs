//! Steps in which the rod moved: what full strokes and a squeezed rod end showed, against the
//! limits of the shop.

use super::part::Part;
use super::part::Shown;
use crate::account::Conditions;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::SqueezeWatch;
use crate::account::Squeezed;
use crate::account::StrokePlan;
use crate::account::StrokeRow;
use crate::account::StrokeSummary;
use crate::account::StrokeWatch;
use crate::account::Travel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::cylinder::Cylinder;
use crate::daemon::judgement::rule_of;
use crate::daemon::screen::worst;
use crate::health::Flag;
use crate::health::examine_moving;
use crate::health::voided;
use crate::procedure::REACHED_FROM;
use crate::procedure::Reach;
use crate::procedure::SQUEEZE;
use crate::procedure::STROKES;
use crate::procedure::StrokeCount;
use crate::procedure::phase_name;
use crate::quantity::Length;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::settings::PlannedStep;
use crate::settings::Setup;
use crate::settings::Shop;
use crate::verdict::Judged;
use crate::verdict::Outcome;
use crate::verdict::judge_stated;

/// Full strokes that were done.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroked {
    /// How many.
    pub count: u32,
    /// From furthest in to furthest out, m; None without a position.
    pub seen_m: Option<f64>,
    /// What the drawing says, m.
    pub nominal_m: f64,
    /// What they told.
    pub summary: StrokeSummary,
    /// Mean oil temperature while they were run, K.
    pub t_oil_k: Option<f64>,
    /// What came out for each limit.
    pub judged: Vec<Judged>,
    /// What the data say about the measurement.
    pub flags: Vec<Flag>,
}

impl Stroked {
    /// Strokes that a person counted and nothing else read.
    pub(super) fn counted(count: u32, nominal: Length) -> Self {
        Self {
            count,
            seen_m: None,
            nominal_m: nominal.value,
            summary: StrokeSummary::default(),
            t_oil_k: None,
            judged: Vec::new(),
            flags: Vec::new(),
        }
    }
}

/// A rod end that was squeezed.
#[derive(Debug, Clone, PartialEq)]
pub struct SqueezedEnd {
    /// What the cap end was to be raised to, Pa gauge.
    pub asked_pa: f64,
    /// Highest rod-end pressure, Pa gauge; None if it was not read.
    pub highest_pa: Option<f64>,
    /// The share of free air, or why it cannot be stated.
    pub air: Result<Figure, String>,
    /// What came out for each limit.
    pub judged: Vec<Judged>,
    /// What the data say about the measurement.
    pub flags: Vec<Flag>,
}

/// What the sensors said in one row.
pub(in crate::daemon) fn stroke_row(recording: &Recording, row: usize) -> StrokeRow {
    let value = |role| recording.track(role).and_then(|track| track.value(row));
    StrokeRow {
        time_s: recording.time_s()[row],
        cap_pa: value(Role::CapPressure),
        rod_pa: value(Role::RodPressure),
        x_m: value(Role::Position),
    }
}

/// Everything about a stretch in which the rod moved.
struct Stretch<'a> {
    recording: &'a Recording,
    mark: &'a PhaseMark,
    setup: &'a Setup,
    cylinder: &'a Cylinder,
    shop: Option<&'a Shop>,
    /// Flags of the whole test that void what was measured.
    voiding: &'a [Flag],
}

impl<'a> Stretch<'a> {
    fn of(
        recording: &'a Recording,
        planned: &'a PlannedStep,
        phase: &str,
        (shop, voiding): (Option<&'a Shop>, &'a [Flag]),
    ) -> Option<Self> {
        let setup = planned.own_setup()?;
        Some(Self {
            recording,
            mark: recording.phase(&phase_name(&planned.step.id, phase))?,
            setup,
            cylinder: setup.subject.piece.cylinder()?,
            shop,
            voiding,
        })
    }

    fn window(&self) -> (f64, f64) {
        (self.mark.from_s, self.mark.until_s)
    }

    fn rows(&self) -> impl Iterator<Item = StrokeRow> + '_ {
        let rows = self
            .recording
            .rows_within(self.mark.from_s, self.mark.until_s);
        rows.map(|row| stroke_row(self.recording, row))
    }

    fn flags(&self, stretch: &str) -> Vec<Flag> {
        let circuit = &self.setup.subject.circuit;
        let own = examine_moving(
            self.recording,
            self.cylinder,
            circuit,
            self.window(),
            stretch,
        );
        own.into_iter()
            .chain(self.voiding.iter().cloned())
            .collect()
    }

    fn t_oil_k(&self) -> Option<f64> {
        let track = self.recording.track(Role::OilTemperature)?;
        let rows = self
            .recording
            .rows_within(self.mark.from_s, self.mark.until_s);
        let values = rows.filter_map(|row| track.value(row));
        let (sum, n) = values.fold((0.0, 0_u32), |(sum, n), value| (sum + value, n + 1));
        (n > 0).then(|| sum / f64::from(n))
    }

    fn errors(&self, role: Role) -> SensorErrors {
        let track = self.recording.track(role);
        track.map_or(
            SensorErrors {
                zero_si: 0.0,
                span_relative: 0.0,
                zero_si_per_k: 0.0,
            },
            |track| track.channel.errors,
        )
    }

    fn judged(
        &self,
        figures: &[(&str, &Figure)],
        at: Conditions,
        why_not: impl Fn(FigureName) -> Option<String>,
    ) -> Vec<Judged> {
        let rule = rule_of(self.shop);
        judge_stated(figures, at, &self.setup.limits, rule, why_not)
    }
}

/// Full strokes; not done unless all that were asked for were counted.
pub(super) fn strokes(
    recording: &Recording,
    planned: &PlannedStep,
    (asked, nominal): (u32, Length),
    known: (Option<&Shop>, &[Flag]),
) -> Part {
    let Some(stretch) = Stretch::of(recording, planned, STROKES, known) else {
        return Part::not_done();
    };
    let mut count = StrokeCount::new(nominal.value);
    let mut watch = StrokeWatch::new(StrokePlan::of(stretch.cylinder, |role| {
        recording.track(role).map(|track| &track.channel)
    }));
    for row in stretch.rows() {
        count.push(row.x_m);
        watch.push(&row);
    }
    if count.count() < asked {
        return Part::not_done();
    }
    let flags = stretch.flags("strokes");
    let at = Conditions {
        t_oil_k: stretch.t_oil_k(),
        ..Conditions::default()
    };
    let mut summary = match voided(&flags) {
        Some(why) => watch.summary().voided(why),
        None => watch.summary(),
    };
    for found in &mut summary.figures {
        found.figure.at = at;
    }
    let figures = summary.figures.iter();
    let figures: Vec<(&str, &Figure)> = figures
        .map(|found| (found.travel.map_or("", Travel::word), &found.figure))
        .collect();
    let judged = stretch.judged(&figures, at, |name| {
        summary.why_not(name).map(str::to_owned)
    });
    let (outcome, reason) = said(&judged);
    Part {
        shown: Shown::Strokes(Box::new(Stroked {
            count: count.count(),
            seen_m: count.seen_m().map(|(low, high)| high - low),
            nominal_m: nominal.value,
            t_oil_k: at.t_oil_k,
            summary,
            judged,
            flags,
        })),
        outcome,
        reason,
    }
}

/// A rod end that was squeezed up to what was asked for.
pub(super) fn squeeze(
    recording: &Recording,
    planned: &PlannedStep,
    reach: &Reach,
    known: (Option<&Shop>, &[Flag]),
) -> Part {
    let Some(stretch) = Stretch::of(recording, planned, SQUEEZE, known) else {
        return Part::not_done();
    };
    let asked_pa = reach.pressure.pa();
    let highest = |of: fn(StrokeRow) -> Option<f64>| stretch.rows().filter_map(of).reduce(f64::max);
    let is_there = |pa: f64| pa >= REACHED_FROM * asked_pa;
    if !highest(|row| row.cap_pa).is_some_and(is_there) {
        return Part::not_done();
    }
    let highest_pa = highest(|row| row.rod_pa);
    let mut watch = SqueezeWatch::new(stretch.cylinder, highest_pa.unwrap_or(asked_pa));
    stretch.rows().for_each(|row| watch.push(&row));
    let flags = stretch.flags("squeeze");
    let t_oil_k = stretch.t_oil_k();
    let air = match voided(&flags) {
        Some(why) => Err(why.to_owned()),
        None => watch.figure(&Squeezed {
            subject: &stretch.setup.subject,
            t_oil_k,
            pressure: stretch.errors(Role::RodPressure),
            position: stretch.errors(Role::Position),
        }),
    };
    let figures: Vec<(&str, &Figure)> = air.iter().map(|figure| ("", figure)).collect();
    let at = Conditions {
        t_oil_k,
        ..Conditions::default()
    };
    let judged = stretch.judged(&figures, at, |_| air.as_ref().err().cloned());
    let (outcome, reason) = said(&judged);
    Part {
        shown: Shown::Squeezed(Box::new(SqueezedEnd {
            asked_pa,
            highest_pa,
            air,
            judged,
            flags,
        })),
        outcome,
        reason,
    }
}

/// The outcome of a step by its limits, and why, if it did not pass.
fn said(judged: &[Judged]) -> (Option<Outcome>, String) {
    let Some(outcome) = worst(judged.iter().map(|j| j.outcome)) else {
        return (None, String::new());
    };
    let telling = judged
        .iter()
        .filter(|j| j.outcome == outcome && outcome != Outcome::Pass);
    let reasons: Vec<String> = telling
        .map(|j| format!("{}, {}", j.limit.figure.plain(), j.reason))
        .collect();
    (Some(outcome), reasons.join("; "))
}
