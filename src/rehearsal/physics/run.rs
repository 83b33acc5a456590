//! The cylinder in time: the equations put together and integrated.
//!
//! States are the oil that went each way (in gram), the way of the rod (in
//! millimetre), two modes of heat for each chamber (oil above wall in kelvin, less what
//! the present pressure adds, so that no derivative of a pressure is needed), what the oil
//! has warmed its wall by, and how far what creeps has given way (in millilitre). What a chamber holds is what it held less what went: mass
//! is kept by construction.

use crate::cylinder::Chamber as Side;
use crate::cylinder::Kind;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;
use crate::rehearsal::physics::chamber::Around;
use crate::rehearsal::physics::chamber::Chamber;
use crate::rehearsal::physics::course::Course;
use crate::rehearsal::physics::course::Node;
use crate::rehearsal::physics::course::nodes;
use crate::rehearsal::physics::course::with_step;
use crate::rehearsal::physics::instant::Instant;
use crate::rehearsal::physics::instant::Passed;
use crate::rehearsal::physics::leak::Leak;
use crate::rehearsal::physics::motion::speed;
use crate::rehearsal::physics::specimen::Specimen;
use crate::rehearsal::physics::specimen::WayOut;
use crate::rehearsal::physics::warmth::Warmth;
use crate::rehearsal::physics::warmth::warming;
use crate::rehearsal::physics::wear::Wear;
use crate::rehearsal::stiff::StiffError;
use crate::rehearsal::stiff::integrate;
use std::cell::Cell;

/// Flow of the open hose into a vessel, m³/(s·Pa): one litre a minute for each bar.
const VESSEL_M3_PER_S_PA: f64 = 1e-3 / 60.0 / 1e5;

pub(super) const N_STATES: usize = 15;
pub(super) const X: usize = 6;
const CAP_HEAT: usize = 7;
const ROD_HEAT: usize = 9;
const CAP_WARMTH: usize = 11;
const ROD_WARMTH: usize = 12;
const CAP_CREPT: usize = 13;
const ROD_CREPT: usize = 14;

pub(super) type State = [f64; N_STATES];

/// Tolerances: a nanogram of oil (0.002 Pa in a litre), a picometre, a nanokelvin, a
/// picolitre of room.
pub(super) const ABSOLUTE: f64 = 1e-9;

/// What became of a specimen.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// One entry for each time asked for.
    pub instants: Vec<Instant>,
    /// The chamber that carries the load.
    pub loaded: Side,
    /// How the cylinder is built.
    pub kind: Kind,
}

impl Run {
    /// Lets time pass: the cylinder at each of `times_s`, rising from the start at 0 s.
    ///
    /// # Errors
    /// If the equations cannot be integrated.
    pub fn of(specimen: &Specimen, times_s: &[f64], loaded: Side) -> Result<Self, StiffError> {
        let course = Course::of(specimen, times_s.last().copied().unwrap_or(0.0))?;
        Ok(course.run(times_s, loaded))
    }
}

impl Course {
    /// Lets time pass from the start at 0 s until `until_s`.
    ///
    /// # Errors
    /// If the equations cannot be integrated.
    pub fn of(specimen: &Specimen, until_s: f64) -> Result<Self, StiffError> {
        let equations = Equations::new(specimen);
        let slope = |t: f64, y: &State, dydt: &mut State| *dydt = equations.slope(t, y);
        let states = integrate(slope, equations.start(), until_s, [ABSOLUTE; N_STATES])?;
        let nodes =
            with_step(&states).map(|(time_s, state, step_s)| equations.node(time_s, state, step_s));
        Ok(Self::new(nodes.collect(), specimen.cylinder.kind()))
    }
}

/// How a specimen stands when it is left alone, besides its pressures and its rod.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Begin {
    /// When, s; the surroundings change from 0 s on.
    pub at_s: f64,
    /// Heat of the cap and of the rod end.
    pub warmth: [Warmth; 2],
}

/// The equations of one specimen.
pub(super) struct Equations<'a> {
    pub(super) specimen: &'a Specimen,
    cap: Chamber,
    rod: Chamber,
    cap_start_kg: f64,
    rod_start_kg: f64,
    begin: Begin,
    wear: Wear,
    /// Pressures found last, cap and rod, Pa: the next are near them.
    latest_pa: Cell<[f64; 2]>,
    /// Reference of the viscosity: the wall at the start, mm²/s.
    viscosity_mm2_per_s: f64,
}

impl<'a> Equations<'a> {
    pub(super) fn new(specimen: &'a Specimen) -> Self {
        // Pressed just now, so all heat of compression is still in the oil.
        let begin = Begin {
            at_s: 0.0,
            warmth: [
                Warmth::fresh(specimen.cap.fresh_heat_k),
                Warmth::fresh(specimen.rod.fresh_heat_k),
            ],
        };
        Self::beginning(specimen, begin, Wear::default())
    }

    /// The equations of a specimen that was warmed before it was left alone.
    pub(super) fn beginning(specimen: &'a Specimen, begin: Begin, wear: Wear) -> Self {
        let cap = Chamber::new(&specimen.oil, &specimen.cap, specimen.wall_pa);
        let rod = Chamber::new(&specimen.oil, &specimen.rod, specimen.wall_pa);
        let mut equations = Self {
            specimen,
            cap,
            rod,
            cap_start_kg: 0.0,
            rod_start_kg: 0.0,
            begin,
            wear,
            latest_pa: Cell::new([specimen.start.p_cap_pa, specimen.start.p_rod_pa]),
            viscosity_mm2_per_s: 1.0,
        };
        equations.viscosity_mm2_per_s = equations.viscosity(specimen.heat.wall_k);
        let start = equations.start();
        equations.cap_start_kg = cap.mass(
            specimen.start.p_cap_pa,
            &equations.around(Side::Cap, begin.at_s, &start),
        );
        equations.rod_start_kg = rod.mass(
            specimen.start.p_rod_pa,
            &equations.around(Side::Rod, begin.at_s, &start),
        );
        equations
    }

    pub(super) fn start(&self) -> State {
        let [cap, rod] = &self.begin.warmth;
        let mut state = [0.0; N_STATES];
        state[CAP_HEAT..CAP_HEAT + 2].copy_from_slice(&cap.oil_k);
        state[ROD_HEAT..ROD_HEAT + 2].copy_from_slice(&rod.oil_k);
        state[CAP_WARMTH] = cap.wall_k;
        state[ROD_WARMTH] = rod.wall_k;
        state
    }

    /// What a state says of the heat, cap and rod.
    pub(super) fn warmth(state: &State) -> [Warmth; 2] {
        [(CAP_HEAT, CAP_WARMTH), (ROD_HEAT, ROD_WARMTH)].map(|(first, warmth)| Warmth {
            oil_k: [state[first], state[first + 1]],
            wall_k: state[warmth],
        })
    }

    fn surroundings_k(&self, time_s: f64) -> f64 {
        self.specimen.heat.wall_k + self.specimen.heat.wall_k_per_s * time_s
    }

    fn around(&self, side: Side, time_s: f64, state: &State) -> Around {
        let (first, warmth, crept) = match side {
            Side::Cap => (CAP_HEAT, CAP_WARMTH, CAP_CREPT),
            Side::Rod => (ROD_HEAT, ROD_WARMTH, ROD_CREPT),
        };
        let share = self.specimen.heat.fast_share;
        let x = Length::new::<meter>(self.x_m(state));
        Around {
            rigid_m3: self.specimen.cylinder.volume(side, x).value + 1e-6 * state[crept],
            wall_k: self.surroundings_k(time_s) + state[warmth],
            heat_k: (1.0 - share) * state[first] + share * state[first + 1],
        }
    }

    fn x_m(&self, state: &State) -> f64 {
        self.specimen.start.x_m + 1e-3 * state[X]
    }

    fn viscosity(&self, oil_k: f64) -> f64 {
        self.specimen.oil.viscosity.as_ref().map_or(1.0, |oil| {
            oil.viscosity(Temperature::new::<kelvin>(oil_k)).mm2_per_s()
        })
    }

    /// Reads a state: the cylinder at this instant, and what its pressures push outwards, N.
    pub(super) fn instant(&self, time_s: f64, state: &State) -> (Instant, f64) {
        let passed_kg = Passed::from_grams(state);
        let around_cap = self.around(Side::Cap, time_s, state);
        let around_rod = self.around(Side::Rod, time_s, state);
        let kind = self.specimen.cylinder.kind();
        let cap_kg = self.cap_start_kg - passed_kg.out_of_cap(kind);
        let rod_kg = self.rod_start_kg - passed_kg.out_of_rod(kind);
        let [cap_pa, rod_pa] = self.latest_pa.get();
        let p_cap_pa = self.cap.pressure(cap_kg, &around_cap, cap_pa);
        let p_rod_pa = match kind.chambers().contains(&Side::Rod) {
            true => self.rod.pressure(rod_kg, &around_rod, rod_pa),
            false => 0.0,
        };
        self.latest_pa.set([p_cap_pa, p_rod_pa]);
        let oil_cap_k = self.cap.oil_k(p_cap_pa, &around_cap);
        let oil_rod_k = self.rod.oil_k(p_rod_pa, &around_rod);
        let mut now = Instant {
            time_s,
            p_cap_pa,
            p_rod_pa,
            x_m: self.x_m(state),
            oil_cap_k,
            oil_rod_k,
            wall_cap_k: around_cap.wall_k,
            wall_rod_k: around_rod.wall_k,
            surroundings_k: self.surroundings_k(time_s),
            density_cap: self.cap.density(p_cap_pa, oil_cap_k),
            density_rod: self.rod.density(p_rod_pa, oil_rod_k),
            passed_kg,
            going_kg_per_s: Passed::default(),
        };
        now.going_kg_per_s = self.going(&now);
        let cylinder = &self.specimen.cylinder;
        let push_n =
            p_cap_pa * cylinder.cap_area().value - p_rod_pa * cylinder.annulus_area().value;
        (now, push_n)
    }

    /// Mass flow of each path: its volume flow at the density it comes from.
    fn going(&self, now: &Instant) -> Passed {
        let ills = &self.specimen.ills;
        let kind = self.specimen.cylinder.kind();
        let thin_cap = self.viscosity_mm2_per_s / self.viscosity(now.oil_cap_k);
        let thin_rod = self.viscosity_mm2_per_s / self.viscosity(now.oil_rod_k);
        let difference_pa = now.p_cap_pa - now.p_rod_pa;
        let (density, thinner) = if difference_pa > 0.0 {
            (now.density_cap, thin_cap)
        } else {
            (now.density_rod, thin_rod)
        };
        let past_piston = |flow: &dyn Fn(&Leak) -> f64| self.wear.flow(now.x_m, &ills.piston, flow);
        let (cap_plug, cap_valve) = out_at(&ills.cap_port, now.p_cap_pa, thin_cap);
        let (rod_plug, rod_valve) = out_at(&ills.rod_port, now.p_rod_pa, thin_rod);
        if !kind.chambers().contains(&Side::Rod) {
            let (piston, gland) = match kind.has_piston_seal() {
                true => (
                    past_piston(&|leak| leak.flow_out(now.p_cap_pa, thin_cap)),
                    0.0,
                ),
                false => (0.0, ills.gland.flow_out(now.p_cap_pa, thin_cap)),
            };
            return Passed {
                piston: now.density_cap * piston,
                gland: now.density_cap * gland,
                cap_plug: now.density_cap * cap_plug,
                cap_valve: now.density_cap * cap_valve,
                rod_plug: 0.0,
                rod_valve: now.density_cap * piston,
            };
        }
        Passed {
            piston: density * past_piston(&|leak| leak.flow(difference_pa, thinner)),
            gland: now.density_rod * ills.gland.flow_out(now.p_rod_pa, thin_rod),
            cap_plug: now.density_cap * cap_plug,
            cap_valve: now.density_cap * cap_valve,
            rod_plug: now.density_rod * rod_plug,
            rod_valve: now.density_rod * rod_valve,
        }
    }

    /// The cylinder at the end of a step of the solver, with its change by time.
    pub(super) fn node(&self, time_s: f64, state: &State, step_s: f64) -> Node {
        let slope = self.slope(time_s, state);
        let [node] = nodes(time_s, state, step_s, &slope, |t, y| [self.instant(t, y).0]);
        node
    }

    pub(super) fn slope(&self, time_s: f64, state: &State) -> State {
        let (now, push_n) = self.instant(time_s, state);
        let stroke_m = self.specimen.cylinder.size().stroke.value;
        let speed_m_per_s = speed(&self.specimen.motion, push_n, now.x_m, stroke_m);
        self.slope_at(&now, state, speed_m_per_s)
    }

    /// Change of a state by time, from the cylinder as it is then and the speed of its rod.
    pub(super) fn slope_at(&self, now: &Instant, state: &State, speed_m_per_s: f64) -> State {
        let heat = &self.specimen.heat;
        let mut slope = [0.0; N_STATES];
        slope[..X].copy_from_slice(&now.going_kg_per_s.to_grams());
        slope[X] = 1e3 * speed_m_per_s;
        for (crept, creep, p_pa) in [
            (CAP_CREPT, self.specimen.cap.creep, now.p_cap_pa),
            (ROD_CREPT, self.specimen.rod.creep, now.p_rod_pa),
        ] {
            slope[crept] = (1e6 * creep.m3_per_pa * p_pa - state[crept]) / creep.slow_s;
        }
        for (side, first, warmth, p_pa) in [
            (Side::Cap, CAP_HEAT, CAP_WARMTH, now.p_cap_pa),
            (Side::Rod, ROD_HEAT, ROD_WARMTH, now.p_rod_pa),
        ] {
            let own = Warmth {
                oil_k: [state[first], state[first + 1]],
                wall_k: state[warmth],
            };
            let by_second = warming(heat, &self.specimen.oil, side, &own, p_pa);
            slope[first] = by_second.oil_k[0];
            slope[first + 1] = by_second.oil_k[1];
            slope[warmth] = by_second.wall_k;
        }
        slope
    }
}

/// Volume flow of plug and valve at a port, m³/s at the chamber's state.
fn out_at(way: &WayOut, p_pa: f64, thinner: f64) -> (f64, f64) {
    match way {
        WayOut::Plug(leak) => (leak.flow_out(p_pa, thinner), 0.0),
        WayOut::Valve {
            fitting,
            valve,
            relief,
        } => {
            let opened = relief.map_or(0.0, |relief| relief.flow(p_pa));
            (
                fitting.flow_out(p_pa, thinner),
                valve.flow(p_pa, thinner) + opened,
            )
        }
        WayOut::Vessel => (0.0, VESSEL_M3_PER_S_PA * p_pa),
        WayOut::Line { line_pa, through } => (0.0, through.flow(p_pa - line_pa, thinner)),
    }
}
