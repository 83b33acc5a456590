//! The domain of the campaign: what a hold on the practice bench may be.
//!
//! Everything is drawn about what the setup says, never equal to it: stiffness, expansion,
//! dead volumes, walls, hoses, sensors. A hold that comes to the end of the stroke, to the
//! range of a sensor or, with a locked rod, to half its pressure is ended before that;
//! where less than a minute is left the hold is drawn again.
//!
//! Invariant: hold number i depends on the seed and on i alone.

use super::chance::Chance;
use super::draw_oil::Oils;
use super::draw_oil::air;
use super::draw_oil::heat;
use super::draw_oil::measured_stiffness;
use super::draw_oil::oil;
use super::draw_oil::warmed;
use super::draw_sensors::Quality;
use super::draw_sensors::senses;
use super::setup_text::setup_toml;
use stillrod::circuit::Circuit;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Cylinder;
use stillrod::cylinder::Dimensions;
use stillrod::cylinder::Kind;
use stillrod::quantity::Force;
use stillrod::quantity::Length;
use stillrod::quantity::Volume;
use stillrod::quantity::unit::meter;
use stillrod::quantity::unit::milliliter;
use stillrod::quantity::unit::millimeter;
use stillrod::quantity::unit::newton;
use stillrod::rehearsal::physics::ChamberOil;
use stillrod::rehearsal::physics::Course;
use stillrod::rehearsal::physics::Ills;
use stillrod::rehearsal::physics::Instant;
use stillrod::rehearsal::physics::Leak;
use stillrod::rehearsal::physics::RodNature;
use stillrod::rehearsal::physics::Specimen;
use stillrod::rehearsal::physics::Start;
use stillrod::rehearsal::physics::WayOut;
use stillrod::rehearsal::sensors::Senses;

/// Version of what may be drawn; a file of another cannot be continued.
pub const DOMAIN_VERSION: u32 = 4;

/// Shortest hold, s.
const SHORTEST_S: f64 = 60.0;
/// No test goes closer to an end of the stroke, m: a fitter reads his sensor with its zero.
const FROM_THE_END_M: f64 = 5e-3;
/// No test goes above this, Pa: what the cylinders are rated for.
const RATED_PA: f64 = 350e5;

/// Bores with the rods of ISO 3320 that are 0.45 to 0.7 of them, mm.
pub const SIZES_MM: [(f64, &[f64]); 7] = [
    (32.0, &[16.0, 18.0, 20.0, 22.0]),
    (40.0, &[18.0, 20.0, 22.0, 25.0, 28.0]),
    (50.0, &[25.0, 28.0, 32.0]),
    (63.0, &[32.0, 36.0, 40.0]),
    (80.0, &[36.0, 40.0, 45.0, 50.0, 56.0]),
    (100.0, &[45.0, 50.0, 56.0, 63.0, 70.0]),
    (125.0, &[63.0, 70.0, 80.0]),
];

/// How a hold is plumbed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plumbing {
    /// Both ports blocked under a load that pushes in.
    BothBlocked,
    /// The rod port open to a vessel.
    RodOpen,
    /// The rod locked.
    Locked,
    /// A load that hangs on the rod.
    Hanging,
    /// The cap port on its valve.
    OnValve,
}

impl Plumbing {
    /// Its name.
    pub fn word(self) -> &'static str {
        match self {
            Self::BothBlocked => "both blocked",
            Self::RodOpen => "rod port open",
            Self::Locked => "locked rod",
            Self::Hanging => "hanging load",
            Self::OnValve => "cap port on valve",
        }
    }

    fn drawn(chance: &mut Chance) -> Self {
        match chance.even(0.0, 1.0) {
            v if v < 0.60 => Self::BothBlocked,
            v if v < 0.70 => Self::RodOpen,
            v if v < 0.80 => Self::Locked,
            v if v < 0.90 => Self::Hanging,
            _ => Self::OnValve,
        }
    }
}

/// One hold: the truth, and what its setup says of it.
#[derive(Debug, Clone)]
pub struct Hold {
    /// Its number.
    pub index: u64,
    /// How it is plumbed.
    pub plumbing: Plumbing,
    /// The cylinder as it really is.
    pub specimen: Specimen,
    /// The sensors as they really are.
    pub senses: Senses,
    /// How good they are.
    pub quality: Quality,
    /// Seed of their errors and noise.
    pub seed: u64,
    /// Samples each second.
    pub samples_per_s: u32,
    /// Settling, s.
    pub settle_s: f64,
    /// Counted hold, s.
    pub hold_s: f64,
    /// What ended it.
    pub ended: &'static str,
    /// How often it was drawn until a minute could be held.
    pub n_drawn: u32,
    /// The plumbing as declared.
    pub circuit: Circuit,
    /// Friction by load, 0 to 0.05.
    pub friction_share: f64,
    /// Whether the setup knows the wall.
    pub wall_known: bool,
    /// The table of the cylinder in it.
    pub drawing_toml: String,
    /// The setup, as a user would have written it.
    pub setup_toml: String,
}

impl Hold {
    /// The chamber that carries.
    pub fn loaded(&self) -> Chamber {
        self.circuit.holding_chamber()
    }
}

/// Hold number `index` of a campaign, with what became of its cylinder.
pub fn hold(seed: u64, index: u64) -> (Hold, Course) {
    let mut chance = Chance::of(seed, index);
    for n_drawn in 1.. {
        let mut hold = candidate(index, &mut chance);
        hold.n_drawn = n_drawn;
        let Ok(course) = Course::of(&hold.specimen, hold.settle_s + hold.hold_s) else {
            continue;
        };
        if let Some((hold_s, ended)) = usable(&hold, &course) {
            hold.hold_s = hold_s;
            hold.ended = ended;
            hold.setup_toml = setup_toml(&hold);
            return (hold, course);
        }
    }
    unreachable!("a domain without a hold of a minute")
}

/// How long a hold can be, and what ends it; None for less than a minute.
pub fn usable(hold: &Hold, course: &Course) -> Option<(f64, &'static str)> {
    let mut last_s = 0.0;
    for now in course.steps() {
        if let Some(why) = stops(hold, now) {
            let hold_s = (last_s - hold.settle_s).floor();
            return (hold_s >= SHORTEST_S).then_some((hold_s, why));
        }
        last_s = now.time_s;
    }
    Some((hold.hold_s, "plan"))
}

fn stops(hold: &Hold, now: &Instant) -> Option<&'static str> {
    let stroke_m = hold.specimen.cylinder.size().stroke.get::<meter>();
    let inside = FROM_THE_END_M..=stroke_m - FROM_THE_END_M;
    let highest_pa = RATED_PA.min(0.95 * hold.senses.loops[0].range.1);
    let is_held = hold.specimen.motion == RodNature::Held;
    if !inside.contains(&now.x_m) {
        Some("end of stroke")
    } else if now.p_cap_pa.max(now.p_rod_pa) > highest_pa {
        Some("pressure too high")
    } else if is_held && now.p_cap_pa < 0.5 * hold.specimen.start.p_cap_pa {
        Some("half the pressure")
    } else {
        None
    }
}

fn candidate(index: u64, chance: &mut Chance) -> Hold {
    let plumbing = Plumbing::drawn(chance);
    let (declared, cylinder, wall_known) = cylinder(chance);
    let wall_pa = cylinder.wall_stiffness().expect("its wall is known").value;
    let hoses = hoses(chance);
    let (start, load_n) = start(plumbing, &cylinder, chance);
    let friction_share = if chance.happens(0.2) {
        0.0
    } else {
        chance.even(0.0, 0.05)
    };
    let friction_n = friction_share * load_n.abs();
    let motion = match plumbing {
        Plumbing::Locked => RodNature::Held,
        _ => RodNature::Free {
            load_n,
            friction_n,
            viscous_n_s_per_m: chance.even_in_log(5e3, 5e4),
        },
    };
    let mut specimen = Specimen {
        cylinder,
        // Tube and ends: ends and rod make it a little softer than a tube alone.
        wall_pa: wall_pa * (chance.normal(0.12) - 0.05).exp(),
        oil: oil(chance),
        cap: no_oil(),
        rod: no_oil(),
        heat: heat(&cylinder, chance),
        motion,
        ills: ills(plumbing, &start, chance),
        start,
    };
    specimen.oil = warmed(specimen.oil, specimen.heat.wall_k, chance);
    let [cap, rod] = air(chance);
    specimen.cap = chamber_oil(cap, hoses[0], chance);
    specimen.rod = chamber_oil(rod, hoses[1], chance);
    if plumbing != Plumbing::Locked {
        balance(&mut specimen, load_n, friction_n * chance.even(-1.0, 1.0));
    }
    let quality = Quality::drawn(chance);
    let probe = match plumbing {
        Plumbing::Hanging => Chamber::Rod,
        Plumbing::BothBlocked | Plumbing::OnValve if chance.happens(0.25) => Chamber::Rod,
        _ => Chamber::Cap,
    };
    let mut circuit = circuit(plumbing, &specimen, hoses, probe, chance);
    circuit.stiffness = chance
        .happens(0.2)
        .then(|| measured_stiffness(&specimen, circuit.holding_chamber(), chance));
    Hold {
        index,
        plumbing,
        senses: senses(quality, &specimen, probe, chance),
        quality,
        seed: chance.seed(),
        samples_per_s: chance.one_of(&[10, 12, 15, 20]),
        settle_s: if chance.happens(0.2) {
            0.0
        } else {
            chance.even(0.0, 600.0).round()
        },
        hold_s: chance.even_in_log(60.0, 1800.0).round(),
        ended: "",
        n_drawn: 0,
        circuit,
        friction_share,
        wall_known,
        drawing_toml: declared,
        setup_toml: String::new(),
        specimen,
    }
}

/// A cylinder as its drawing says (in words of the setup), as it really is, and whether
/// the drawing says its wall.
fn cylinder(chance: &mut Chance) -> (String, Cylinder, bool) {
    let (bore, rods) = chance.one_of(&SIZES_MM);
    let rod = chance.one_of(rods);
    built(Kind::DoubleActing, bore, rod, chance)
}

/// A cylinder of a kind, bore and rod in mm: as `cylinder` says it.
pub fn built(kind: Kind, bore: f64, rod: f64, chance: &mut Chance) -> (String, Cylinder, bool) {
    let stroke = (chance.even(200.0, 600.0) / 10.0).round() * 10.0;
    let wall = (2.0 * bore * chance.even(0.07, 0.13)).round().max(7.0) / 2.0;
    let mut dead = || {
        // Port, cushion and plug: some millilitres and a few millimetres of the bore.
        let stated = (chance.even(4.0, 12.0) + bore * bore * 1e-3 * chance.even(1.0, 5.0)).round();
        let really = stated * (1.0 + chance.normal(0.2)).max(0.2);
        (stated, really)
    };
    let (cap, rod_end) = (dead(), dead());
    let mm = Length::new::<millimeter>;
    let size = Dimensions {
        bore: mm(bore),
        rod: mm(rod),
        stroke: mm(stroke),
        wall: Some(mm(wall)),
        cap_dead_volume: Volume::new::<milliliter>(cap.1),
        rod_dead_volume: Volume::new::<milliliter>(rod_end.1),
    };
    let cylinder = Cylinder::new(kind, size).expect("a rod thinner than its bore");
    let wall_known = chance.happens(0.5);
    let wall = if wall_known {
        format!("wall = \"{wall} mm\"\n")
    } else {
        String::new()
    };
    let declared = format!(
        "[cylinder]\nkind = \"{}\"\nbore = \"{bore} mm\"\nrod = \"{rod} mm\"\n\
         stroke = \"{stroke} mm\"\n{wall}cap_dead_volume = \"{} mL\"\nrod_dead_volume = \"{} mL\"\n",
        kind_word(kind),
        cap.0,
        rod_end.0
    );
    (declared, cylinder, wall_known)
}

fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::DoubleActing => "double_acting",
        Kind::DoubleRod => "double_rod",
        Kind::SingleActing => "single_acting",
        Kind::Plunger => "plunger",
        Kind::TelescopicStage => "telescopic_stage",
    }
}

/// Oil in hoses between port and plug as declared, mL: cap end, rod end; zero for none.
pub fn hoses(chance: &mut Chance) -> [f64; 2] {
    if chance.happens(0.8) {
        return [0.0; 2];
    }
    let mut one = || chance.even_in_log(15.0, 120.0).round();
    let both = [one(), one()];
    match chance.one_of(&[0, 1, 2]) {
        0 => [both[0], 0.0],
        1 => [0.0, both[1]],
        _ => both,
    }
}

/// Start without friction, and the load in N, positive inwards.
fn start(plumbing: Plumbing, cylinder: &Cylinder, chance: &mut Chance) -> (Start, f64) {
    let stroke_m = cylinder.size().stroke.get::<meter>();
    let holding_pa = chance.even_in_log(20.0, 250.0) * 1e5;
    let charged_pa = chance.even(5.0, 30.0) * 1e5;
    let is_charged = match plumbing {
        Plumbing::BothBlocked | Plumbing::OnValve | Plumbing::Locked => chance.happens(0.5),
        Plumbing::Hanging => chance.happens(0.3),
        Plumbing::RodOpen => false,
    };
    let areas = [cylinder.cap_area().value, cylinder.annulus_area().value];
    // A charged side never carries more than half of what holds the load.
    let other_pa = |own: f64, other: f64| match is_charged {
        true => charged_pa.min(0.5 * holding_pa * own / other),
        false => 0.0,
    };
    let x_m = stroke_m * chance.even(0.1, 0.9);
    let (p_cap_pa, p_rod_pa) = match plumbing {
        Plumbing::Hanging => (other_pa(areas[1], areas[0]), holding_pa),
        _ => (holding_pa, other_pa(areas[0], areas[1])),
    };
    let start = Start {
        x_m,
        p_cap_pa,
        p_rod_pa,
    };
    (start, p_cap_pa * areas[0] - p_rod_pa * areas[1])
}

/// Lets friction carry a part of the load: the holding pressure is that much off.
pub fn balance(specimen: &mut Specimen, load_n: f64, by_friction_n: f64) {
    let cylinder = &specimen.cylinder;
    if load_n > 0.0 {
        specimen.start.p_cap_pa += by_friction_n / cylinder.cap_area().value;
    } else {
        specimen.start.p_rod_pa += by_friction_n / cylinder.annulus_area().value;
    }
}

/// A chamber before its oil is drawn.
pub fn no_oil() -> ChamberOil {
    ChamberOil::PLAIN
}

/// Oil of a chamber with a hose of so many mL as declared.
pub fn chamber_oil(own: Oils, hose_ml: f64, chance: &mut Chance) -> ChamberOil {
    ChamberOil {
        air: own.air,
        hose_m3: hose_ml * 1e-6 * (1.0 + chance.normal(0.05)),
        // Rubber hoses, 0.07 to 0.5 GPa (from memory).
        hose_pa: 0.2e9 * chance.normal(0.4).exp(),
        fresh_heat_k: own.fresh_heat_k,
        ..ChamberOil::PLAIN
    }
}

/// Leaks: none at all, or some of the ways, each with its own size and law.
fn ills(plumbing: Plumbing, start: &Start, chance: &mut Chance) -> Ills {
    let across_pa = (start.p_cap_pa - start.p_rod_pa).abs();
    let at_pa = [
        across_pa,
        start.p_rod_pa.max(10e5),
        start.p_cap_pa.max(10e5),
        start.p_rod_pa.max(10e5),
        start.p_cap_pa.max(10e5),
    ];
    let likely = match chance.even(0.0, 1.0) {
        v if v < 0.22 => [0.0; 5],
        v if v < 0.45 => [1.0, 0.0, 0.0, 0.0, 0.0],
        v if v < 0.52 => [0.0, 1.0, 0.0, 0.0, 0.0],
        v if v < 0.59 => [0.0, 0.0, 1.0, 0.0, 0.0],
        _ => [0.7, 0.45, 0.45, 0.15, 0.0],
    };
    let mut leaks = [Leak::NONE; 5];
    for (index, leak) in leaks.iter_mut().enumerate() {
        let valve = if plumbing == Plumbing::OnValve {
            0.7
        } else {
            0.0
        };
        let probability = if index == 4 { valve } else { likely[index] };
        let size = chance.even_in_log(0.003, 20.0);
        let exponent = exponent(chance);
        if chance.happens(probability) {
            *leak = Leak::with_exponent(size, at_pa[index] / 1e5, exponent);
        }
    }
    let [piston, gland, cap_plug, rod_plug, valve] = leaks;
    let rod_end_open = match plumbing {
        Plumbing::RodOpen => true,
        Plumbing::Locked => start.p_rod_pa == 0.0 && chance.happens(0.7),
        _ => false,
    };
    Ills {
        piston,
        gland,
        cap_port: match plumbing {
            Plumbing::OnValve => WayOut::Valve {
                fitting: cap_plug,
                valve,
                relief: None,
            },
            _ => WayOut::Plug(cap_plug),
        },
        rod_port: if rod_end_open {
            WayOut::Vessel
        } else {
            WayOut::Plug(rod_plug)
        },
    }
}

/// Exponent of a leak's pressure: gap, orifice or between.
pub fn exponent(chance: &mut Chance) -> f64 {
    match chance.even(0.0, 1.0) {
        v if v < 0.35 => 1.0,
        v if v < 0.55 => 0.5,
        _ => chance.even(0.5, 1.0),
    }
}

fn circuit(
    plumbing: Plumbing,
    specimen: &Specimen,
    hoses: [f64; 2],
    probe: Chamber,
    chance: &mut Chance,
) -> Circuit {
    let load_n = match specimen.motion {
        RodNature::Free { load_n, .. } => load_n.abs(),
        RodNature::Held => 0.0,
    };
    // Known from the weights on the bench to a few percent, or not at all.
    let stated_n = (load_n * (1.0 + chance.normal(0.03)) / 100.0).round() * 100.0;
    let load = chance
        .happens(0.7)
        .then(|| Force::new::<newton>(stated_n.max(100.0)));
    let rod = match plumbing {
        Plumbing::Locked => RodHold::Locked,
        Plumbing::Hanging => RodHold::PulledOut { load },
        _ => RodHold::PushedIn { load },
    };
    let [cap_hose, rod_hose] = hoses.map(Volume::new::<milliliter>);
    let cap_port = match plumbing {
        Plumbing::OnValve => Port::OnValve,
        _ => Port::Blocked,
    };
    let rod_port = match specimen.ills.rod_port {
        WayOut::Vessel => Port::OpenToVessel,
        _ => Port::Blocked,
    };
    Circuit {
        probe: Some(probe),
        cap_hose,
        rod_hose,
        ..Circuit::plain(cap_port, rod_port, rod)
    }
}
