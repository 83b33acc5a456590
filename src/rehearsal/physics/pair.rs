//! Two cylinders on one load.
//!
//! A rigid beam gives both rods one movement; pressures of both carry the load together. Each
//! has its own oil, heat and leaks. Both ports on one valve means two hoses that lead to each
//! other: what goes through one leaves the one cylinder by its port and comes in at the other's.
//!
//! Invariant: oil that crosses is lost by the one and gained by the other, to the last digit.

use crate::rehearsal::physics::course::Course;
use crate::rehearsal::physics::course::nodes;
use crate::rehearsal::physics::course::with_step;
use crate::rehearsal::physics::instant::Instant;
use crate::rehearsal::physics::motion::on_one_beam;
use crate::rehearsal::physics::motion::speed;
use crate::rehearsal::physics::run::ABSOLUTE;
use crate::rehearsal::physics::run::Equations;
use crate::rehearsal::physics::run::N_STATES;
use crate::rehearsal::physics::run::State;
use crate::rehearsal::physics::specimen::RodNature;
use crate::rehearsal::physics::specimen::Specimen;
use crate::rehearsal::stiff::StiffError;
use crate::rehearsal::stiff::integrate;

/// Flow of a line between two ports, m³/(s·Pa): one litre a minute for each bar.
const LINE_M3_PER_S_PA: f64 = 1e-3 / 60.0 / 1e5;

const N_BOTH: usize = 2 * N_STATES;

/// How the ports of two cylinders are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lines {
    /// Not at all: at least one of the two is plugged at its ports.
    Apart,
    /// Cap port with cap port and rod port with rod port, as on a common valve. What the
    /// valve itself loses is a leak of either one's port.
    Joined,
}

/// The other cylinder on the same load.
#[derive(Debug, Clone, PartialEq)]
pub struct Partner {
    /// The cylinder. What its motion says of load and friction adds to that of the measured one.
    pub specimen: Specimen,
    /// Its lines.
    pub lines: Lines,
}

impl Course {
    /// Lets time pass for two cylinders on one load, from the start at 0 s until `until_s`:
    /// the measured one, then its partner.
    ///
    /// # Errors
    /// If the equations cannot be integrated.
    pub fn of_pair(
        measured: &Specimen,
        partner: &Partner,
        until_s: f64,
    ) -> Result<[Self; 2], StiffError> {
        let pair = Pair {
            own: Equations::new(measured),
            other: Equations::new(&partner.specimen),
            motion: on_one_beam(&measured.motion, &partner.specimen.motion),
            lines: partner.lines,
        };
        let slope = |t: f64, y: &[f64; N_BOTH], dydt: &mut [f64; N_BOTH]| *dydt = pair.slope(t, y);
        let start = joined(pair.own.start(), pair.other.start());
        let states = integrate(slope, start, until_s, [ABSOLUTE; N_BOTH])?;
        let both = with_step(&states).map(|(time_s, state, step_s)| {
            let slope = pair.slope(time_s, state);
            let [own, other] = nodes(time_s, state, step_s, &slope, |t, y| pair.instants(t, y).0);
            (own, other)
        });
        let (own, other) = both.unzip();
        Ok([
            Self::new(own, measured.cylinder.kind()),
            Self::new(other, partner.specimen.cylinder.kind()),
        ])
    }
}

/// The equations of two specimens.
struct Pair<'a> {
    own: Equations<'a>,
    other: Equations<'a>,
    motion: RodNature,
    lines: Lines,
}

impl Pair<'_> {
    /// Both cylinders at this instant, and the speed of the beam in m/s.
    fn instants(&self, time_s: f64, state: &[f64; N_BOTH]) -> ([Instant; 2], f64) {
        let [own_state, other_state] = apart(state);
        let (mut own, own_n) = self.own.instant(time_s, &own_state);
        let (mut other, other_n) = self.other.instant(time_s, &other_state);
        if self.lines == Lines::Joined {
            let cap = crossing_kg_per_s(
                [own.p_cap_pa, other.p_cap_pa],
                [own.density_cap, other.density_cap],
            );
            let rod = crossing_kg_per_s(
                [own.p_rod_pa, other.p_rod_pa],
                [own.density_rod, other.density_rod],
            );
            own.going_kg_per_s.cap_valve += cap;
            other.going_kg_per_s.cap_valve -= cap;
            own.going_kg_per_s.rod_valve += rod;
            other.going_kg_per_s.rod_valve -= rod;
        }
        let stroke_m = self.own.specimen.cylinder.size().stroke.value;
        let speed_m_per_s = speed(&self.motion, own_n + other_n, own.x_m, stroke_m);
        ([own, other], speed_m_per_s)
    }

    fn slope(&self, time_s: f64, state: &[f64; N_BOTH]) -> [f64; N_BOTH] {
        let ([own, other], speed_m_per_s) = self.instants(time_s, state);
        let [own_state, other_state] = apart(state);
        joined(
            self.own.slope_at(&own, &own_state, speed_m_per_s),
            self.other.slope_at(&other, &other_state, speed_m_per_s),
        )
    }
}

/// Mass flow through a line from the first to the second, kg/s, by their pressures and
/// densities.
fn crossing_kg_per_s([from_pa, to_pa]: [f64; 2], [from, to]: [f64; 2]) -> f64 {
    let upstream = if from_pa > to_pa { from } else { to };
    upstream * LINE_M3_PER_S_PA * (from_pa - to_pa)
}

fn joined(own: State, other: State) -> [f64; N_BOTH] {
    std::array::from_fn(|i| match i.checked_sub(N_STATES) {
        None => own[i],
        Some(i) => other[i],
    })
}

fn apart(state: &[f64; N_BOTH]) -> [State; 2] {
    [
        std::array::from_fn(|i| state[i]),
        std::array::from_fn(|i| state[N_STATES + i]),
    ]
}
