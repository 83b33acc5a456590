//! How often what was stated holds the truth, and how often a piece at its limit passes.

use super::play::ReadHold;
use stillrod::account::FigureName;
use stillrod::account::evaluate;
use stillrod::health::Weight;
use stillrod::health::examine_by_eye;

/// One figure of one hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// Which.
    pub name: FigureName,
    /// Value and half width of its interval, in its metric unit.
    pub value: f64,
    /// Half width of the interval.
    pub half: f64,
    /// What is true of it.
    pub truth: f64,
    /// Divisions of the gauge, bar.
    pub division_bar: f64,
    /// How it was plumbed.
    pub plumbing: &'static str,
    /// Whether the readings themselves voided it.
    pub is_void: bool,
}

impl Stated {
    /// Whether the interval holds the truth.
    pub fn holds(&self) -> bool {
        (self.value - self.truth).abs() <= self.half
    }

    /// Whether something leaks: more than a thousandth of what the interval is wide.
    pub fn leaks(&self) -> bool {
        self.truth > 1e-3 * self.half
    }

    /// Whether it would pass a limit that it lies at, under the guarded rule with 95 %.
    pub fn passes_at_its_limit(&self) -> bool {
        // The half width is 1.96 or more standard uncertainties.
        self.value + 1.645 / 1.96 * self.half <= self.truth
    }

    /// Whether it would pass that limit if the whole interval had to be below it.
    pub fn is_below_its_limit(&self) -> bool {
        self.value + self.half <= self.truth
    }
}

/// The figures that are stated of a hold.
pub fn stated(read: &ReadHold) -> Vec<Stated> {
    let subject = &read.setup.subject;
    let Ok(found) = evaluate(&read.recording, subject) else {
        return Vec::new();
    };
    let by_eye = subject.by_eye.as_ref().expect("read by eye");
    let flags = examine_by_eye(
        &read.recording,
        by_eye,
        (&subject.piece, &subject.circuit),
        &read.setup.ratings,
    );
    let is_void = flags.iter().any(|flag| flag.weight == Weight::Voids);
    let truth = |name| match name {
        FigureName::Drift => Some(read.truth.drift_m_per_s),
        FigureName::LeakDown => Some(read.truth.leak_down_pa_per_s),
        FigureName::CapLoss => Some(read.truth.start.cap_loss),
        FigureName::RodGain => Some(read.truth.start.rod_gain),
        _ => None,
    };
    let figures = found.figures.iter().filter_map(|figure| {
        let measured = figure.measured?;
        let unit = figure.name.si_per_metric_unit();
        Some(Stated {
            name: figure.name,
            value: measured.value_si / unit,
            half: figure.coverage_factor * measured.standard_si / unit,
            truth: truth(figure.name)? / unit,
            division_bar: read.division_bar,
            plumbing: read.hold.plumbing.word(),
            is_void,
        })
    });
    figures.collect()
}
