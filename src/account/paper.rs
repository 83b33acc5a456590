//! A tight hold on paper: what the sensors would show of a piece that loses no oil.
//!
//! The course is that of the account's own model at its expected values: oil that gives its
//! heat to the wall, a wall that follows the room, and a rod or a pressure that follows both. Its
//! heat is as expected, or one of a few that stand for all that it may be (`heat`).
//! Sensors read it with their steps and a noise of a stated size. What is evaluated afterwards is
//! an ordinary recording, so a hold can be planned by the code that will judge it.
//!
//! Invariant: no leak, and nothing drawn but the sensors' noise; the same seed gives the same
//! recording.

mod heat;

pub use heat::HEAT_COURSES;

use super::Fluid;
use super::Subject;
use super::heat::SECOND_MODE;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::NOMINAL_SUPPLY_V;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::circuit::HOSE_STIFFNESS_PA;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::oil::PRESSING_HEAT_K_PER_PA;
use crate::oil::STEEL_EXPANSION_PER_K;
use crate::procedure::HOLD;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::recording::Track;
use heat::PaperHeat;

/// How long a wall goes on as fast as at first, s.
const ROOM_S: f64 = 2400.0;

/// Undissolved air, bare steel, stiffening: as the account expects them.
const AIR: f64 = 0.006;
const WALL_PA: f64 = 15e9;
const STIFFENING: f64 = 10.0;

/// Noise that remembers, as a part of the white one, and for how long, s.
const SLOW_PART: f64 = 0.25;
const MEMORY_S: f64 = 1.0;

/// Readings by second, and most rows of a hold: longer holds have fewer by second, which leaves
/// them a little too much noise.
const ROWS_PER_S: f64 = 10.0;
const MOST_ROWS: f64 = 6_000.0;

/// One sensor on paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PaperSensor {
    /// What it measures.
    pub role: Role,
    /// What is stated of its errors.
    pub errors: SensorErrors,
    /// Its step, SI units, zero or above.
    pub step_si: f64,
    /// Noise of one reading (one sigma), SI units.
    pub noise_si: f64,
}

/// How the piece stands when its hold begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PaperStart {
    /// Extension of the rod.
    pub x: Length,
    /// Cap-end pressure.
    pub cap: GaugePressure,
    /// Rod-end pressure.
    pub rod: GaugePressure,
    /// Temperature of the oil.
    pub oil: Temperature,
}

impl PaperStart {
    /// Pressure of a chamber.
    pub fn pressure(&self, chamber: Chamber) -> GaugePressure {
        match chamber {
            Chamber::Cap => self.cap,
            Chamber::Rod => self.rod,
        }
    }
}

/// A tight hold that is to be written down.
#[derive(Debug, Clone, Copy)]
pub struct PaperHold<'a> {
    /// What is known of the piece.
    pub subject: &'a Subject,
    /// Its sensors.
    pub sensors: &'a [PaperSensor],
    /// How it stands.
    pub start: PaperStart,
    /// Settling before the hold counts, s.
    pub settle_s: f64,
    /// Counted hold, s.
    pub length_s: f64,
    /// Seed of the sensors' noise.
    pub seed: u64,
    /// Which of the [`HEAT_COURSES`] its heat takes; None for that which is expected.
    pub course: Option<usize>,
}

/// What the sensors would show of a tight piece; None for a piece that is no cylinder filled with
/// oil.
pub fn tight_hold(hold: &PaperHold<'_>) -> Option<Recording> {
    let rows = (hold.length_s * ROWS_PER_S).clamp(2.0, MOST_ROWS).round();
    let step_s = hold.length_s / rows;
    let mut standing = Standing::of(hold)?;
    let mut now_s = 0.0;
    let mut states = vec![(0.0, standing.seen())];
    // The course is followed from the start, and written down from where the hold counts.
    while now_s < hold.settle_s {
        let step_s = step_s.clamp(0.1, 5.0).min(hold.settle_s - now_s);
        standing.step(now_s, step_s);
        now_s += step_s;
    }
    if hold.settle_s > 0.0 {
        states.push((hold.settle_s, standing.seen()));
    }
    for row in 1..=rows as usize {
        standing.step(now_s, step_s);
        now_s = hold.settle_s + row as f64 * step_s;
        states.push((now_s, standing.seen()));
    }
    let until_s = states.last()?.0;
    let tracks = hold.sensors.iter().enumerate();
    Recording::new(Parts {
        heading: heading(),
        time_s: states.iter().map(|(time_s, _)| *time_s).collect(),
        tracks: tracks
            .map(|(place, sensor)| track(sensor, &states, step_s, hold.seed ^ (place as u64 + 1)))
            .collect(),
        gaps: Vec::new(),
        phases: vec![PhaseMark {
            name: HOLD.into(),
            from_s: hold.settle_s,
            until_s,
        }],
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    })
    .ok()
}

/// Oil that a pascal more makes room for in one chamber as the account expects it, hose
/// included, m³/Pa, and that oil itself, m³; None for what is no cylinder filled with oil.
pub fn expected_softness(
    subject: &Subject,
    start: PaperStart,
    chamber: Chamber,
) -> Option<(f64, f64)> {
    let hold = PaperHold {
        subject,
        sensors: &[],
        start,
        settle_s: 0.0,
        length_s: 0.0,
        seed: 0,
        course: None,
    };
    let standing = Standing::of(&hold)?;
    Some((standing.softness(chamber), standing.volume(chamber)))
}

/// What is true at an instant.
#[derive(Debug, Clone, Copy)]
struct Seen {
    x_m: f64,
    cap_pa: f64,
    rod_pa: f64,
    probe_k: f64,
    wall_k: f64,
}

impl Seen {
    fn of(&self, role: Role) -> f64 {
        match role {
            Role::CapPressure => self.cap_pa,
            Role::RodPressure => self.rod_pa,
            Role::Position => self.x_m,
            Role::OilTemperature => self.probe_k,
            Role::WallTemperature => self.wall_k,
            Role::Supply => NOMINAL_SUPPLY_V,
        }
    }
}

/// One chamber on its way.
struct Side {
    area_m2: f64,
    is_shut: bool,
    pressure_pa: f64,
    /// Oil over the wall's first temperature by mode, K: slow, fast.
    modes_k: [f64; 2],
    /// Part of the heat in the fast mode.
    fast_part: f64,
}

impl Side {
    fn oil_k(&self) -> f64 {
        self.modes_k[0] * (1.0 - self.fast_part) + self.modes_k[1] * self.fast_part
    }

    fn press(&mut self, by_pa: f64) {
        self.pressure_pa += by_pa;
        for mode in &mut self.modes_k {
            *mode += PRESSING_HEAT_K_PER_PA * by_pa;
        }
    }
}

/// A tight cylinder on its way.
struct Standing<'a> {
    hold: &'a PaperHold<'a>,
    cylinder: &'a Cylinder,
    alpha: f64,
    stiffness_pa: f64,
    heat: PaperHeat,
    is_free: bool,
    x_m: f64,
    wall_k: f64,
    /// Cap, rod.
    sides: [Side; 2],
    probe_k: f64,
}

impl<'a> Standing<'a> {
    fn of(hold: &'a PaperHold<'a>) -> Option<Self> {
        let (Some(cylinder), Fluid::Oil(oil)) =
            (hold.subject.piece.cylinder(), &hold.subject.fluid)
        else {
            return None;
        };
        let circuit = &hold.subject.circuit;
        let heat = match hold.course {
            None => PaperHeat::expected(hold.subject, cylinder, &hold.start),
            Some(course) => PaperHeat::of_course(course, hold.subject, cylinder, &hold.start),
        };
        let sides = [Chamber::Cap, Chamber::Rod].map(|chamber| {
            let pressure_pa = hold.start.pressure(chamber).pa();
            let area_m2 = cylinder.area(chamber).value;
            Side {
                area_m2,
                is_shut: circuit.is_shut_in(chamber)
                    && cylinder.kind().chambers().contains(&chamber)
                    && area_m2 > 0.0,
                pressure_pa,
                modes_k: [heat.oil_k[usize::from(chamber == Chamber::Rod)]; 2],
                fast_part: heat.fast_part,
            }
        });
        let is_free = matches!(
            circuit.rod,
            RodHold::PushedIn { .. } | RodHold::PulledOut { .. }
        );
        Some(Self {
            hold,
            cylinder,
            alpha: oil.expansion().per_kelvin(),
            stiffness_pa: oil.stiffness_at(hold.start.oil).value,
            probe_k: heat.probe_k,
            heat,
            is_free,
            x_m: hold.start.x.get::<meter>(),
            wall_k: 0.0,
            sides,
        })
    }

    fn seen(&self) -> Seen {
        let first_k = self.hold.start.oil.get::<kelvin>();
        Seen {
            x_m: self.x_m,
            cap_pa: self.sides[0].pressure_pa,
            rod_pa: self.sides[1].pressure_pa,
            probe_k: first_k + self.probe_k,
            wall_k: first_k + self.wall_k,
        }
    }

    /// Oil that a pascal more makes room for in a chamber, m³/Pa.
    fn softness(&self, chamber: Chamber) -> f64 {
        let side = &self.sides[usize::from(chamber == Chamber::Rod)];
        let law = AeratedOil {
            stiffness_pa: self.stiffness_pa,
            stiffening: STIFFENING,
            air: AIR,
            air_exponent: AIR_IN_A_HOLD,
        };
        let oil = law.tangent(GaugePressure::from_pa(side.pressure_pa.max(0.0)));
        let wall_pa = self.cylinder.wall_stiffness().map_or(WALL_PA, |k| k.value);
        let hose = self.hold.subject.circuit.hose(chamber).value;
        self.volume(chamber) * (1.0 / oil.value + 1.0 / wall_pa) + hose / HOSE_STIFFNESS_PA
    }

    fn volume(&self, chamber: Chamber) -> f64 {
        let hose = self.hold.subject.circuit.hose(chamber);
        let x = Length::new::<meter>(self.x_m);
        (self.cylinder.volume(chamber, x) + hose).value
    }

    /// Goes on from `now_s` by `step_s`.
    fn step(&mut self, now_s: f64, step_s: f64) {
        let heat = self.heat;
        let wall = |t: f64| heat.wall_k_per_s * ROOM_S * (1.0 - (-t / ROOM_S).exp());
        let (before, after) = (wall(now_s), wall(now_s + step_s));
        let mut swell = [0.0; 2];
        for (place, chamber) in [Chamber::Cap, Chamber::Rod].into_iter().enumerate() {
            let volume = self.volume(chamber);
            let side = &mut self.sides[place];
            let taus = [heat.tau_s[place], heat.tau_s[place] / SECOND_MODE];
            let first_k = side.oil_k();
            for (mode, tau) in side.modes_k.iter_mut().zip(taus) {
                *mode = after + (*mode - before) * (-step_s / tau).exp();
            }
            let warmed_k = side.oil_k() - first_k;
            let steel = 3.0 * STEEL_EXPANSION_PER_K * (after - before);
            swell[place] = volume * (self.alpha * warmed_k - steel);
        }
        self.wall_k = after;
        self.give_way(swell);
        let circuit = &self.hold.subject.circuit;
        let probed = &self.sides[usize::from(circuit.probe == Some(Chamber::Rod))];
        let target = heat.probe_part * probed.oil_k() + (1.0 - heat.probe_part) * after;
        self.probe_k = target + (self.probe_k - target) * (-step_s / heat.lag_s).exp();
    }

    /// Pressures and rod follow oil that swells by so many m³, cap before rod.
    fn give_way(&mut self, swell: [f64; 2]) {
        let soft = [Chamber::Cap, Chamber::Rod].map(|chamber| self.softness(chamber));
        let shut = [self.sides[0].is_shut, self.sides[1].is_shut];
        let (cap, rod) = (self.sides[0].area_m2, self.sides[1].area_m2);
        let (by_cap, by_rod, moved) = match (self.is_free, shut) {
            (true, [true, true]) => {
                // Forces on the piston stay in balance.
                let times = cap / rod;
                let by_cap = (swell[0] + times * swell[1]) / (soft[0] + times.powi(2) * soft[1]);
                (by_cap, times * by_cap, (swell[0] - soft[0] * by_cap) / cap)
            }
            (true, [true, false]) => (0.0, 0.0, swell[0] / cap),
            (true, [false, true]) => (0.0, 0.0, -swell[1] / rod),
            (true, [false, false]) => (0.0, 0.0, 0.0),
            (false, _) => {
                let by = |place: usize| match shut[place] {
                    true => swell[place] / soft[place],
                    false => 0.0,
                };
                (by(0), by(1), 0.0)
            }
        };
        self.sides[0].press(by_cap);
        self.sides[1].press(by_rod);
        self.x_m += moved;
    }
}

/// What one sensor makes of the course.
fn track(sensor: &PaperSensor, states: &[(f64, Seen)], step_s: f64, seed: u64) -> Track {
    let mut noise = Noise::of(seed);
    let keep = (-step_s / MEMORY_S).exp();
    let mut slow = SLOW_PART * noise.next();
    let readings = states.iter().map(|(_, seen)| {
        slow = keep * slow + SLOW_PART * (1.0 - keep * keep).sqrt() * noise.next();
        let value = seen.of(sensor.role) + sensor.noise_si * (noise.next() + slow);
        match sensor.step_si > 0.0 {
            true => (value / sensor.step_si).round() * sensor.step_si,
            false => value,
        }
    });
    Track {
        codes: Codes::Si(readings.collect()),
        channel: Channel {
            role: sensor.role,
            label: sensor.role.word().into(),
            calibration: Calibration {
                si_at_zero_code: 0.0,
                si_per_code: sensor.step_si,
                si_per_code_squared: 0.0,
            },
            good_codes: (i32::MIN, i32::MAX),
            range_si: (f64::MIN, f64::MAX),
            errors: sensor.errors,
            papers: SensorPapers::default(),
            against_supply: None,
        },
    }
}

fn heading() -> Heading {
    Heading {
        run_id: "on-paper".into(),
        started_utc_ms: 0,
        time_zone: "UTC".into(),
        software: String::new(),
        source: "on paper".into(),
        setup_toml: String::new(),
        shop_toml: String::new(),
        practice: "on paper: not a measurement".into(),
    }
}

/// Standard normal noise from a seed: SplitMix64, made normal two by two (Box and Muller).
struct Noise {
    state: u64,
    spare: Option<f64>,
}

impl Noise {
    fn of(seed: u64) -> Self {
        Self {
            state: seed,
            spare: None,
        }
    }

    fn next(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * self.even().ln()).sqrt();
        let (sine, cosine) = (std::f64::consts::TAU * self.even()).sin_cos();
        self.spare = Some(radius * sine);
        radius * cosine
    }

    /// Even between 0 and 1, neither of them.
    fn even(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        ((z >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }
}
