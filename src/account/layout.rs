//! Which parameters a balance has, and what is known of each beforehand.
//!
//! Priors are Gaussian with one sigma; their reasons stand beside them. They were
//! found in simulation over a wide domain of cylinders and sensors, none is fitted
//! to the practice bench.

use super::rate::ambient_k;
use super::series::HoldSeries;
use super::term::Term;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::fit::Prior;
use crate::fit::Vector;
use crate::oil::Oil;
use crate::oil::PRESSING_HEAT_K_PER_PA;
use crate::oil::SOFTENING_PER_K;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;

/// Thermal diffusivity of mineral oil, m²/s (from memory).
const DIFFUSIVITY_M2_S: f64 = 7.9e-8;

/// Part of the heat of pressing that is still there, beside what has relaxed since the
/// recording began: anything from none to all.
pub(super) const PRESSED_MEAN: f64 = 0.5;
pub(super) const PRESSED_SIGMA: f64 = 0.35;

/// By which oil and wall differ beside that, and by which one end's oil differs from the other's, K.
pub(super) const HOT_K: f64 = 2.0;
pub(super) const APART_K: f64 = 0.5;

/// Time in which most of the heat goes, in its logarithm; that of the rod end by it, likewise.
pub(super) const LN_TAU_SIGMA: f64 = 0.55;
pub(super) const LN_TAU_ROD: (f64, f64) = (-0.12, 0.35);

/// Part of the heat that goes fast.
pub(super) const FAST_PART: (f64, f64) = (0.2, 0.12);

/// By which walls warm or cool, K/s.
pub(super) const WALL_K_PER_S: f64 = 0.065 / 60.0;

/// Part of the oil's temperature in what a probe shows: it sits in the port, not in the bulk.
pub(super) const PROBE_PART: (f64, f64) = (0.85, 0.12);

/// Lag of an oil probe in a port, s (from memory: 20 to 90 s).
pub(super) const PROBE_LAG_S: f64 = 45.0;
pub(super) const LN_LAG_SIGMA: f64 = 0.35;

/// By which a probe is off its later self at the start of a recording, K, beside what
/// pressing has done.
pub(super) const PROBE_START_K: f64 = 0.7;

/// Rise of the oil's stiffness with pressure, and how well that is known.
pub(super) const STIFFENING: (f64, f64) = (10.0, 3.0);

/// How well the stiffness of a wall of known thickness is known, in its logarithm; stiffness in Pa
/// of one that is not, likewise.
pub(super) const LN_WALL_SIGMA: f64 = 0.15;
pub(super) const BARE_WALL: (f64, f64) = (15e9, 0.35);

/// How well the stiffness of a hose is known, in its logarithm.
pub(super) const LN_HOSE_SIGMA: f64 = 0.45;

/// Undissolved air at the atmosphere after bleeding: 0 to 2 %.
pub(super) const AIR: (f64, f64) = (0.006, 0.0065);

/// How well a dead volume is known, relative: it is an estimate.
pub(super) const DEAD_PART: f64 = 0.2;

/// By which grades differ in how their stiffness falls with temperature, 1/K, and the
/// temperature that a data sheet states it for.
const SOFTENING_DIFFERS_PER_K: f64 = 0.0015;
const SHEET_K: f64 = 313.15;

/// By which heat is less known without an oil probe: a machine that came in warm cools by
/// 10 K in an hour (common practice, no source).
pub(super) const UNSEEN: f64 = 2.0;

/// A parameter of the balance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum P {
    CapLoss,
    RodGain,
    EarlyCap,
    EarlyRod,
    Share,
    OffsetCap,
    OffsetRod,
    OffsetProbe,
    PistonExponent,
    PortExponent,
    LnStiffness,
    Stiffening,
    LnWall,
    LnHose,
    Air,
    AirRod,
    Expansion,
    DeadCap,
    DeadRod,
    ZeroCap,
    ZeroRod,
    SpanCap,
    SpanRod,
    DriftCap,
    DriftRod,
    SpanX,
    LnTau,
    LnTauRod,
    SecondMode,
    Hot,
    HotRod,
    HotSecond,
    WallRate,
    WallBend,
    ProbePart,
    ProbeStart,
    LnLag,
}

/// The parameters of one evaluation, in order, with their priors.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    pub cap_live: bool,
    pub rod_live: bool,
    /// Chamber of the oil probe, if its data take part.
    pub probe: Option<Chamber>,
    parameters: Vec<(P, Prior)>,
    /// Parameters of the term that is left out, at their expected values.
    fixed: Vec<(P, f64)>,
    without: Option<Term>,
}

impl Layout {
    /// Value of a parameter; zero for one that does not take part.
    pub fn get(&self, theta: &Vector, parameter: P) -> f64 {
        let fixed = || self.fixed.iter().find(|(p, _)| *p == parameter);
        match self.index(parameter) {
            Some(index) => theta[index],
            None => fixed().map_or(0.0, |(_, value)| *value),
        }
    }

    /// The term that is left out, if any.
    pub fn without(&self) -> Option<Term> {
        self.without
    }

    /// Whether `term` is left out.
    pub fn is_without(&self, term: Term) -> bool {
        self.without == Some(term)
    }

    /// Place of a parameter.
    pub fn index(&self, parameter: P) -> Option<usize> {
        self.parameters.iter().position(|(p, _)| *p == parameter)
    }

    /// Priors in order.
    pub fn priors(&self) -> Vec<Prior> {
        self.parameters.iter().map(|(_, prior)| *prior).collect()
    }

    /// Parameters in order.
    pub fn parameters(&self) -> impl Iterator<Item = P> + '_ {
        self.parameters.iter().map(|(p, _)| *p)
    }

    /// The same with flows before a turn, beside those of the whole hold; `flow` is their
    /// size in m³/s.
    pub fn with_early_flows(mut self, flow: f64) -> Self {
        let sides = [(self.cap_live, P::EarlyCap), (self.rod_live, P::EarlyRod)];
        for (_, early) in sides.into_iter().filter(|(live, _)| *live) {
            self.flat(early, flow);
        }
        self
    }

    /// Lays out the parameters for a hold.
    pub fn new(
        cylinder: &Cylinder,
        oil: &Oil,
        circuit: &Circuit,
        series: &HoldSeries,
        live: [bool; 2],
        without: Option<Term>,
    ) -> Self {
        let [cap_live, rod_live] = live;
        let probe = circuit
            .probe
            .filter(|_| series.signal(Role::OilTemperature).is_some())
            // Without heat there is nothing that the probe could tell of.
            .filter(|_| without != Some(Term::Heat));
        let mut layout = Self {
            cap_live,
            rod_live,
            probe,
            parameters: Vec::new(),
            fixed: Vec::new(),
            without,
        };
        let volume = cylinder.volume(Chamber::Cap, cylinder.size().stroke).value;
        let flow = volume * 1e-3 / series.length_s;
        if cap_live {
            layout.flat(P::CapLoss, flow);
            layout.flat(P::OffsetCap, volume * 1e-5);
        }
        if rod_live {
            layout.flat(P::RodGain, flow);
            layout.flat(P::OffsetRod, volume * 1e-5);
        }
        // Which of two laws a loss follows is not known; both shapes are within one sigma.
        layout.known(P::Share, 0.5, 0.35, (0.0, 1.0));
        // Laminar 1, orifice 0.5.
        layout.known(P::PistonExponent, 0.8, 0.22, (0.2, 1.6));
        layout.known(P::PortExponent, 0.8, 0.22, (0.2, 1.6));
        layout.stiffness(cylinder, oil, circuit, series);
        layout.sensors(cylinder, series);
        layout.heat(cylinder, series);
        layout
    }

    fn stiffness(
        &mut self,
        cylinder: &Cylinder,
        oil: &Oil,
        circuit: &Circuit,
        series: &HoldSeries,
    ) {
        // Grades differ, and so does how K falls with temperature.
        let (oil_k, unknown_k) = series.oil_k();
        let expected = oil.stiffness_at(Temperature::new::<kelvin>(oil_k));
        let sigma = ln_stiffness_sigma(oil_k, unknown_k);
        self.around(P::LnStiffness, expected.value.ln(), sigma);
        self.known(P::Stiffening, STIFFENING.0, STIFFENING.1, (0.0, 25.0));
        match cylinder.wall_stiffness() {
            Some(wall) => self.around(P::LnWall, wall.value.ln(), LN_WALL_SIGMA),
            None => self.around(P::LnWall, BARE_WALL.0.ln(), BARE_WALL.1),
        }
        if circuit.cap_hose.value + circuit.rod_hose.value > 0.0 {
            self.around(P::LnHose, 0.0, LN_HOSE_SIGMA);
        }
        self.known(P::Air, AIR.0, AIR.1, (0.0, 0.1));
        if self.rod_live && self.cap_live {
            self.known(P::AirRod, 0.0, 0.004, (-0.05, 0.05));
        }
        self.around(P::Expansion, 0.0, 0.05);
    }

    fn sensors(&mut self, cylinder: &Cylinder, series: &HoldSeries) {
        let errors = |role: Role| series.signal(role).map_or(NO_ERRORS, |s| s.errors);
        let position = errors(Role::Position);
        // A wrong zero of the position acts like a dead volume.
        let dead =
            |dead: f64, area: f64| (DEAD_PART * dead).hypot(area * position.zero_si).max(1e-9);
        let size = cylinder.size();
        self.around(
            P::DeadCap,
            0.0,
            dead(size.cap_dead_volume.value, cylinder.cap_area().value),
        );
        if self.rod_live {
            self.around(
                P::DeadRod,
                0.0,
                dead(size.rod_dead_volume.value, cylinder.annulus_area().value),
            );
        }
        self.around(P::SpanX, 0.0, position.span_relative);
        let sides = [
            (
                self.cap_live,
                Role::CapPressure,
                P::ZeroCap,
                P::SpanCap,
                P::DriftCap,
            ),
            (
                self.rod_live,
                Role::RodPressure,
                P::ZeroRod,
                P::SpanRod,
                P::DriftRod,
            ),
        ];
        for (_, role, zero, span, drift) in sides.into_iter().filter(|(live, ..)| *live) {
            let errors = errors(role);
            self.around(zero, 0.0, errors.zero_si);
            self.around(span, 0.0, errors.span_relative);
            self.around(
                drift,
                0.0,
                errors.zero_si_per_k * ambient_k(series.length_s),
            );
        }
    }

    fn heat(&mut self, cylinder: &Cylinder, series: &HoldSeries) {
        let tau_s = relaxation_s(cylinder);
        self.around(P::LnTau, tau_s.ln(), LN_TAU_SIGMA);
        // Both chambers take part, the second perhaps only as the place of the probe.
        let own = if self.cap_live {
            Chamber::Cap
        } else {
            Chamber::Rod
        };
        let both = (self.rod_live && self.cap_live) || self.probe.is_some_and(|p| p != own);
        if both {
            self.around(P::LnTauRod, LN_TAU_ROD.0, LN_TAU_ROD.1);
        }
        self.known(P::SecondMode, FAST_PART.0, FAST_PART.1, (0.0, 0.8));
        // Oil and wall differ by a few kelvin; more if the probe is seen to drift. Pressing
        // has warmed the oil, and nobody knows how long before the recording began.
        let drift_k = series.signal(Role::OilTemperature).map_or(0.0, |s| {
            (s.smooth.last().copied().unwrap_or(0.0) - s.smooth.first().copied().unwrap_or(0.0))
                .abs()
        });
        let pressed_k = |role: Role| {
            let first = series.signal(role).and_then(|s| s.smooth.first());
            let heat = PRESSING_HEAT_K_PER_PA * first.copied().unwrap_or(0.0).max(0.0);
            heat * (-series.settled_s / tau_s).exp()
        };
        let (cap_k, rod_k) = (pressed_k(Role::CapPressure), pressed_k(Role::RodPressure));
        let own_k = if self.cap_live || both { cap_k } else { rod_k };
        // Where nobody looks, oil and wall may do more than a room with a thermometer has.
        let unseen = if self.probe.is_none() { UNSEEN } else { 1.0 };
        let sigma_k = (unseen * HOT_K + 3.0 * drift_k).hypot(PRESSED_SIGMA * own_k);
        self.known(P::Hot, PRESSED_MEAN * own_k, sigma_k, (-60.0, 60.0));
        if both {
            let apart_k = rod_k - cap_k;
            let sigma_k = (APART_K + drift_k).hypot(PRESSED_SIGMA * apart_k);
            self.known(P::HotRod, PRESSED_MEAN * apart_k, sigma_k, (-60.0, 60.0));
        }
        // While settling the fast mode has lost more of its heat than the slow one.
        self.known(P::HotSecond, 0.7, 0.3, (0.0, 1.3));
        self.known(P::WallRate, 0.0, unseen * WALL_K_PER_S, (-0.05, 0.05));
        self.known(P::WallBend, 0.0, unseen * 0.025 / 60.0, (-0.05, 0.05));
        if self.probe.is_some() {
            self.flat(P::OffsetProbe, 0.05);
            self.known(P::ProbePart, PROBE_PART.0, PROBE_PART.1, (0.1, 1.2));
            // At the start it may still be on its way to the oil after pressing.
            let late_k = match self.probe {
                Some(Chamber::Rod) => rod_k,
                _ => cap_k,
            } * (-series.settled_s / PROBE_LAG_S).exp();
            let sigma_k = PROBE_START_K.hypot(PRESSED_SIGMA * late_k);
            self.known(
                P::ProbeStart,
                -PRESSED_MEAN * late_k,
                sigma_k,
                (-10.0, 10.0),
            );
            self.around(P::LnLag, PROBE_LAG_S.ln(), LN_LAG_SIGMA);
        }
    }

    fn flat(&mut self, parameter: P, scale: f64) {
        let range = (f64::NEG_INFINITY, f64::INFINITY);
        self.parameters.push((
            parameter,
            Prior {
                mean: 0.0,
                sigma: f64::INFINITY,
                scale,
                range,
            },
        ));
    }

    fn known(&mut self, parameter: P, mean: f64, sigma: f64, range: (f64, f64)) {
        if self.without.is_some() && self.without == term(parameter) {
            self.fixed.push((parameter, mean));
            return;
        }
        self.parameters.push((
            parameter,
            Prior {
                mean,
                sigma,
                scale: sigma,
                range,
            },
        ));
    }

    /// A parameter that may wander as far as its prior lets it; none if it is exact.
    fn around(&mut self, parameter: P, mean: f64, sigma: f64) {
        if sigma > 0.0 || mean != 0.0 {
            let sigma = sigma.max(1e-12);
            self.known(
                parameter,
                mean,
                sigma,
                (mean - 8.0 * sigma, mean + 8.0 * sigma),
            );
        }
    }
}

/// How well the stiffness of an oil is known at a temperature, K, that is itself known to
/// `unknown_k`; in its logarithm.
pub(super) fn ln_stiffness_sigma(oil_k: f64, unknown_k: f64) -> f64 {
    0.08f64
        .hypot(SOFTENING_DIFFERS_PER_K * (oil_k - SHEET_K))
        .hypot(SOFTENING_PER_K * unknown_k)
}

const NO_ERRORS: SensorErrors = SensorErrors {
    zero_si: 0.0,
    span_relative: 0.0,
    zero_si_per_k: 0.0,
};

/// Time in which most of the heat of a cylinder's oil goes to its wall, s: conduction in a
/// round column, shortened by convection to 1 … 0.3 of itself.
pub(super) fn relaxation_s(cylinder: &Cylinder) -> f64 {
    let radius = 0.5 * cylinder.size().bore.value;
    0.55 * radius * radius / (5.78 * DIFFUSIVITY_M2_S)
}

/// The term that a parameter belongs to; None for what is wanted, and for what must
/// always be free.
pub(super) fn term(parameter: P) -> Option<Term> {
    match parameter {
        P::LnTau
        | P::LnTauRod
        | P::SecondMode
        | P::Hot
        | P::HotRod
        | P::HotSecond
        | P::WallRate
        | P::WallBend => Some(Term::Heat),
        P::ProbePart | P::ProbeStart | P::LnLag => Some(Term::Probe),
        P::Expansion => Some(Term::Expansion),
        P::LnStiffness | P::Stiffening | P::LnWall | P::LnHose => Some(Term::Stiffness),
        P::Air | P::AirRod => Some(Term::Air),
        P::DeadCap | P::DeadRod => Some(Term::Volumes),
        P::ZeroCap | P::ZeroRod | P::SpanCap | P::SpanRod | P::DriftCap | P::DriftRod => {
            Some(Term::PressureSensors)
        }
        P::SpanX => Some(Term::PositionSensor),
        P::Share | P::PistonExponent | P::PortExponent => Some(Term::LeakLaw),
        P::CapLoss | P::RodGain | P::EarlyCap | P::EarlyRod => None,
        P::OffsetCap | P::OffsetRod | P::OffsetProbe => None,
    }
}
