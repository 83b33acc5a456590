//! One row of the campaign's file: one figure of one hold, with the truth beside it.
//!
//! Numbers are in the figure's unit of measure in data files. All rows of a hold are
//! written together, and each says how many there are, so a hold that is cut off is seen.

use super::draw::Hold;
use super::play::Played;
use super::risk::decisions;
use super::see::Seen;
use serde::Deserialize;
use serde::Serialize;
use stillrod::account::Doubt;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::cylinder::Chamber;
use stillrod::health::Weight;
use stillrod::quantity::unit::millimeter;
use stillrod::rehearsal::physics::Leak;
use stillrod::rehearsal::physics::PathFlows;
use stillrod::rehearsal::physics::WayOut;

/// Figures of a hold that has no evaluation at all are still rows.
const PATHS: [FigureName; 6] = [
    FigureName::PistonBypass,
    FigureName::GlandLeakage,
    FigureName::CapPortLeakage,
    FigureName::RodPortLeakage,
    FigureName::CapValveLeakage,
    FigureName::RodValveLeakage,
];

/// One figure of one hold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// Number of the hold.
    pub hold: u64,
    /// Number of this row in its hold, from 1.
    pub row: usize,
    /// Rows of the hold.
    pub n_rows: usize,
    /// Name of the figure.
    pub figure: String,
    /// Its unit.
    pub unit: String,
    /// "value", "bounds", "no_fit" or "none".
    pub state: String,
    /// Why there is no figure.
    pub reason: String,
    /// Why the whole hold is void, if it is.
    pub voided: String,
    /// The truth at the start of the hold (drift, leak-down: the mean rate).
    pub truth: f64,
    /// The mean over the hold.
    pub truth_mean: f64,
    /// Drift between middles of the first and last block, leak-down as slope of a line.
    pub truth_as_read: Option<f64>,
    /// The figure.
    pub value: Option<f64>,
    /// Its standard uncertainty.
    pub standard: Option<f64>,
    /// Lower end of the 95 % interval or of what is possible.
    pub lower: Option<f64>,
    /// Upper end.
    pub upper: Option<f64>,
    /// Its mean over the hold.
    pub mean: Option<f64>,
    /// The standard uncertainty of that.
    pub mean_standard: Option<f64>,
    /// Factor that expands a standard uncertainty to 95 %.
    pub factor: Option<f64>,
    /// Whether the evaluation saw that the pressures have met: then another rule decides.
    pub met: bool,
    /// What is decided at limits about the truth, a letter each; see `risk`.
    pub decisions: String,
    /// Facts of the hold.
    pub plumbing: String,
    /// Bore, mm.
    pub bore_mm: f64,
    /// Rod, mm.
    pub rod_mm: f64,
    /// Settling, s.
    pub settle_s: f64,
    /// Hold, s.
    pub hold_s: f64,
    /// What ended it.
    pub ended: String,
    /// How often it was drawn.
    pub n_drawn: u32,
    /// Loss of the load-holding chamber at the start, mL/min.
    pub leak_ml_min: f64,
    /// Exponent of its largest leak; none without a leak.
    pub exponent: Option<f64>,
    /// Air in its oil, %.
    pub air_percent: f64,
    /// Its oil above the wall at the start of the hold, K.
    pub oil_wall_k: f64,
    /// Change of the surroundings, K/min.
    pub ambient_k_min: f64,
    /// Quality of the sensors.
    pub sensors: String,
    /// Bits of the converter.
    pub bits: u8,
    /// Pressure of the load-holding chamber at the start, bar.
    pub pressure_bar: f64,
    /// Pressure of the other at the start, bar.
    pub other_bar: f64,
    /// Friction by load, %.
    pub friction_percent: f64,
    /// Whether there is a hose.
    pub hose: bool,
    /// Whether the probe is in the chamber that carries.
    pub probe_loaded: bool,
    /// Whether the setup knows the wall.
    pub wall_known: bool,
    /// Whether it states a stiffness that was measured.
    pub stiffness_measured: bool,
    /// Samples each second.
    pub samples_per_s: u32,
}

/// All rows of a hold.
pub fn rows(played: &Played, seen: &Seen) -> Vec<Row> {
    let names = FigureName::ALL.into_iter().filter(|name| {
        !PATHS.contains(name)
            || seen
                .evaluation
                .as_ref()
                .is_ok_and(|e| e.figure(*name).is_some())
            || *name == FigureName::PistonBypass
    });
    let facts = facts(played);
    let mut rows: Vec<Row> = names
        .map(|name| row(name, played, seen, facts.clone()))
        .collect();
    let n_rows = rows.len();
    for (index, row) in rows.iter_mut().enumerate() {
        (row.row, row.n_rows) = (index + 1, n_rows);
    }
    rows
}

/// Truth of a figure in SI: at the start, mean over the hold, and as it is read where
/// that is something else.
pub fn truth(name: FigureName, played: &Played) -> (f64, f64, Option<f64>) {
    let truth = &played.truth;
    let both = |of: fn(&PathFlows) -> f64| (of(&truth.start), of(&truth.mean), None);
    match name {
        FigureName::Drift => {
            let mean = truth.drift_m_per_s;
            (mean, mean, Some(played.drift_inside_m_per_s))
        }
        FigureName::LeakDown => {
            // The figure is the slope of a line through the hold.
            let slope = played.leak_down_line_pa_per_s;
            (slope, truth.leak_down_pa_per_s, None)
        }
        FigureName::CapLoss => both(|f| f.cap_loss),
        FigureName::RodGain => both(|f| f.rod_gain),
        FigureName::PistonBypass => both(|f| f.bypass),
        FigureName::GlandLeakage => both(|f| f.gland),
        FigureName::CapPortLeakage => both(|f| f.cap_plug),
        FigureName::RodPortLeakage => both(|f| f.rod_plug),
        FigureName::CapValveLeakage => both(|f| f.cap_valve),
        FigureName::RodValveLeakage => both(|f| f.rod_valve),
        // No hold shows what strokes do.
        FigureName::StrokeLength
        | FigureName::Breakaway
        | FigureName::RunningPressure
        | FigureName::Friction
        | FigureName::StickSlip
        | FigureName::FreeAir => (f64::NAN, f64::NAN, None),
    }
}

fn row(name: FigureName, played: &Played, seen: &Seen, facts: Row) -> Row {
    let unit_si = name.si_per_metric_unit();
    let (start, mean, as_read) = truth(name, played);
    let figure = seen.evaluation.as_ref().ok().and_then(|e| e.figure(name));
    let (state, reason) = state(figure, seen);
    let voided = seen.flags.iter().find(|f| f.weight == Weight::Voids);
    Row {
        figure: name.word().into(),
        unit: name.metric_unit().into(),
        state: state.into(),
        reason,
        voided: voided.map_or(String::new(), |f| f.evidence.clone()),
        truth: start / unit_si,
        truth_mean: mean / unit_si,
        truth_as_read: as_read.map(|si| si / unit_si),
        value: figure
            .and_then(|f| f.measured)
            .map(|m| m.value_si / unit_si),
        standard: figure
            .and_then(|f| f.measured)
            .map(|m| m.standard_si / unit_si),
        lower: figure.map(|f| f.lower_si / unit_si),
        upper: figure.map(|f| f.upper_si / unit_si),
        mean: figure
            .and_then(|f| f.mean_over_hold)
            .map(|m| m.value_si / unit_si),
        mean_standard: figure
            .and_then(|f| f.mean_over_hold)
            .map(|m| m.standard_si / unit_si),
        factor: figure.map(|f| f.coverage_factor),
        met: seen.evaluation.as_ref().is_ok_and(|e| e.met.is_some()),
        decisions: decisions(name, start, seen),
        ..facts
    }
}

/// What there is of a figure, and why there is no more.
fn state(figure: Option<&Figure>, seen: &Seen) -> (&'static str, String) {
    match figure {
        Some(figure) if figure.measured.is_some() => return ("value", String::new()),
        Some(_) => return ("bounds", String::new()),
        None => {}
    }
    let doubts = match &seen.evaluation {
        Ok(evaluation) => &evaluation.doubts,
        Err(error) => return ("none", error.to_string()),
    };
    let misfit = doubts.iter().find_map(|doubt| match doubt {
        Doubt::NoFit { evidence } => Some(evidence.clone()),
        Doubt::Note { .. } => None,
    });
    // Where one side has its total the other simply has no pressure to read it from.
    let has_account = seen.evaluation.as_ref().is_ok_and(|e| {
        e.figure(FigureName::CapLoss).is_some() || e.figure(FigureName::RodGain).is_some()
    });
    let note = doubts.iter().rev().find_map(|doubt| match doubt {
        Doubt::Note { evidence } if !has_account => Some(evidence.clone()),
        Doubt::Note { .. } | Doubt::NoFit { .. } => None,
    });
    match (misfit, note) {
        (Some(misfit), _) => ("no_fit", misfit),
        (None, Some(note)) => ("none", note),
        (None, None) => (
            "none",
            "this side is not accounted for: no pressure to read it from, or its port is open"
                .into(),
        ),
    }
}

/// A row with the facts of the hold alone.
fn facts(played: &Played) -> Row {
    let Hold {
        specimen, plumbing, ..
    } = &played.hold;
    let hold = &played.hold;
    let start = &played.ends[0];
    let size = specimen.cylinder.size();
    let (air, oil_wall_k, pressure_pa, other_pa, loss) = match hold.loaded() {
        Chamber::Cap => (
            specimen.cap.air,
            start.oil_cap_k - start.wall_cap_k,
            start.p_cap_pa,
            start.p_rod_pa,
            played.truth.start.cap_loss,
        ),
        Chamber::Rod => (
            specimen.rod.air,
            start.oil_rod_k - start.wall_rod_k,
            start.p_rod_pa,
            start.p_cap_pa,
            -played.truth.start.rod_gain,
        ),
    };
    Row {
        hold: hold.index,
        row: 0,
        n_rows: 0,
        figure: String::new(),
        unit: String::new(),
        state: String::new(),
        reason: String::new(),
        voided: String::new(),
        truth: 0.0,
        truth_mean: 0.0,
        truth_as_read: None,
        value: None,
        standard: None,
        lower: None,
        upper: None,
        mean: None,
        mean_standard: None,
        factor: None,
        met: false,
        decisions: String::new(),
        plumbing: plumbing.word().into(),
        bore_mm: size.bore.get::<millimeter>().round(),
        rod_mm: size.rod.get::<millimeter>().round(),
        settle_s: hold.settle_s,
        hold_s: hold.hold_s,
        ended: hold.ended.into(),
        n_drawn: hold.n_drawn,
        leak_ml_min: loss * 60e6,
        exponent: exponent(played),
        air_percent: air * 100.0,
        oil_wall_k,
        ambient_k_min: specimen.heat.wall_k_per_s * 60.0,
        sensors: hold.quality.word().into(),
        bits: hold.senses.loops[0].bits,
        pressure_bar: pressure_pa / 1e5,
        other_bar: other_pa / 1e5,
        friction_percent: hold.friction_share * 100.0,
        hose: hold.circuit.cap_hose.value + hold.circuit.rod_hose.value > 0.0,
        probe_loaded: hold.senses.probe.chamber == hold.loaded(),
        wall_known: hold.wall_known,
        stiffness_measured: hold.circuit.stiffness.is_some(),
        samples_per_s: hold.samples_per_s,
    }
}

/// Exponent of the largest leak of the load-holding chamber.
fn exponent(played: &Played) -> Option<f64> {
    let ills = &played.hold.specimen.ills;
    let start = &played.truth.start;
    let out = |way: &WayOut| match way {
        WayOut::Plug(plug) => [*plug, Leak::NONE],
        WayOut::Valve { fitting, valve, .. } => [*fitting, *valve],
        WayOut::Vessel | WayOut::Line { .. } => [Leak::NONE; 2],
    };
    let (own, flows) = match played.hold.loaded() {
        Chamber::Cap => {
            let [plug, valve] = out(&ills.cap_port);
            (
                [ills.piston, plug, valve],
                [start.bypass, start.cap_plug, start.cap_valve],
            )
        }
        Chamber::Rod => (
            [ills.piston, ills.gland, out(&ills.rod_port)[0]],
            [start.bypass, start.gland, start.rod_plug],
        ),
    };
    own.iter()
        .zip(flows)
        .filter(|(leak, _)| leak.flow_m3_per_s > 0.0)
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
        .map(|(leak, _)| leak.exponent)
}

impl Row {
    /// Error by standard uncertainty.
    pub fn z(&self) -> Option<f64> {
        Some((self.value? - self.truth) / self.standard?)
    }

    /// The same of the mean over the hold.
    pub fn z_mean(&self) -> Option<f64> {
        Some((self.mean? - self.truth_mean) / self.mean_standard?)
    }

    /// The same against the truth as it is read.
    pub fn z_as_read(&self) -> Option<f64> {
        Some((self.value? - self.truth_as_read?) / self.standard?)
    }

    /// Whether the stated interval, or the bounds, hold the truth; None without either.
    pub fn holds_truth(&self) -> Option<bool> {
        let (lower, upper) = (self.lower?, self.upper?);
        // What cannot leak is zero, and a bound may be zero too.
        let rounding = 1e-9 * (upper - lower).abs().max(1e-6);
        Some((lower - rounding..=upper + rounding).contains(&self.truth))
    }

    /// The same for the mean over the hold.
    pub fn holds_mean(&self) -> Option<bool> {
        Some(self.z_mean()?.abs() <= self.factor?)
    }

    /// Expanded uncertainty of a value, half the width of bounds.
    pub fn expanded(&self) -> Option<f64> {
        Some(0.5 * (self.upper? - self.lower?))
    }
}
