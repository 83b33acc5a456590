//! A phase on the practice bench: the machine in this plumbing, played and evaluated.
//!
//! Oil and sensors are the machine's; heat, air, place of the rod, noise and the errors of
//! the sensors are the phase's own, and each leak is a little another.

use super::chance::Chance;
use super::draw::Hold;
use super::draw::Plumbing as Nearest;
use super::draw::balance;
use super::draw::chamber_oil;
use super::draw::no_oil;
use super::draw::usable;
use super::draw_oil::air;
use super::draw_oil::measured_stiffness;
use super::draw_sensors::senses;
use super::machine::Machine;
use super::machine::Spot;
use super::plan::Planned;
use super::plan::Plumbing;
use super::play::Played;
use super::play::played;
use super::see::Seen as Evaluated;
use super::see::see;
use super::setup_text::setup_toml;
use stillrod::account::Evaluation;
use stillrod::account::investigation::Phase;
use stillrod::circuit::Circuit;
use stillrod::circuit::HoldingValve;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::circuit::Seen;
use stillrod::cylinder::Chamber;
use stillrod::health::Weight;
use stillrod::quantity::Force;
use stillrod::quantity::Temperature;
use stillrod::quantity::Volume;
use stillrod::quantity::unit::kelvin;
use stillrod::quantity::unit::milliliter;
use stillrod::quantity::unit::newton;
use stillrod::rehearsal::physics::Course;
use stillrod::rehearsal::physics::Ills;
use stillrod::rehearsal::physics::Leak;
use stillrod::rehearsal::physics::RodNature;
use stillrod::rehearsal::physics::Specimen;
use stillrod::rehearsal::physics::Start;
use stillrod::rehearsal::physics::WayOut;
use stillrod::rehearsal::seen_of;

/// Part by which a leak differs from phase to phase, one sigma.
const REPEATS: f64 = 0.03;

/// A phase that was held.
pub struct Held {
    /// What was planned.
    pub planned: Planned,
    /// The leaks as they were in this phase.
    pub leaks: Vec<(Spot, Leak)>,
    /// What happened.
    pub played: Played,
    /// What the program makes of it.
    pub evaluated: Evaluated,
    /// What was seen.
    pub seen: Seen,
}

impl Held {
    /// The evaluation, unless nothing of the hold can be believed.
    pub fn evaluation(&self) -> Option<&Evaluation> {
        let flags = &self.evaluated.flags;
        let is_void = flags.iter().any(|flag| flag.weight == Weight::Voids);
        self.evaluated.evaluation.as_ref().ok().filter(|_| !is_void)
    }

    /// As a phase of an investigation.
    pub fn phase(&self) -> Option<Phase<'_>> {
        Some(Phase {
            label: self.planned.plumbing.letter,
            subject: &self.played.setup.subject,
            evaluation: self.evaluation()?,
            seen: self.seen,
        })
    }
}

/// Holds a phase, number `place` of its investigation; None if not a minute of it could be
/// held.
pub fn held(
    machine: &Machine,
    planned: Planned,
    place: usize,
    index: u64,
    chance: &mut Chance,
) -> Option<Held> {
    let (mut hold, leaks) = hold(machine, planned, place, index, chance);
    let until_s = hold.settle_s + hold.hold_s;
    let course = Course::of(&hold.specimen, until_s).ok()?;
    let (hold_s, ended) = usable(&hold, &course)?;
    hold.hold_s = hold_s;
    hold.ended = ended;
    hold.setup_toml = setup_toml(&hold);
    let played = played(hold, &course);
    let evaluated = see(&played, None);
    let mut seen = seen_of(
        &played.hold.specimen,
        [&played.ends[0], &played.ends[1]],
        played.hold.seed,
    );
    let has_vessel = machine.sort.has_rod_side();
    if !planned.rags {
        // A vessel is there to be read; a breather is looked at like a gland.
        seen = Seen {
            collected: seen.collected.filter(|_| has_vessel),
            ..Seen::default()
        };
    }
    Some(Held {
        planned,
        leaks,
        played,
        evaluated,
        seen,
    })
}

fn hold(
    machine: &Machine,
    planned: Planned,
    place: usize,
    index: u64,
    chance: &mut Chance,
) -> (Hold, Vec<(Spot, Leak)>) {
    let plumbing = planned.plumbing;
    let wall_k = machine.heat.wall_k + chance.normal(1.0);
    let own = machine.leaks.iter();
    let leaks: Vec<_> = own
        .map(|(spot, leak)| (*spot, again(machine, *leak, wall_k, chance)))
        .collect();
    let specimen = specimen(machine, planned, place, (&leaks, wall_k), chance);
    let mut senses = senses(machine.quality, &specimen, machine.probe, chance);
    senses.probe.chamber = machine.probe;
    let circuit = circuit(machine, plumbing, &specimen, chance);
    let settle_s = match plumbing.locked {
        true => chance.even(10.0, 60.0),
        false => chance.even(60.0, 600.0),
    };
    let hold = Hold {
        index,
        plumbing: nearest(machine, plumbing),
        senses,
        quality: machine.quality,
        seed: chance.seed(),
        samples_per_s: machine.samples_per_s,
        settle_s: settle_s.round(),
        hold_s: planned.hold_s.round(),
        ended: "",
        n_drawn: 1,
        circuit,
        friction_share: machine.friction_share,
        wall_known: machine.wall_known,
        drawing_toml: machine.drawing_toml.clone(),
        setup_toml: String::new(),
        specimen,
    };
    (hold, leaks)
}

/// A leak as it is in another phase: a little another, and thinner in warmer oil. The physics
/// takes it at the wall of its own phase.
fn again(machine: &Machine, leak: Leak, wall_k: f64, chance: &mut Chance) -> Leak {
    let oil = machine.oil.viscosity.as_ref().expect("a data sheet");
    let viscosity = |k: f64| oil.viscosity(Temperature::new::<kelvin>(k)).mm2_per_s();
    let thinner = viscosity(machine.heat.wall_k) / viscosity(wall_k);
    let by_oil = thinner.powf((2.0 * leak.exponent - 1.0).max(0.0));
    let by_seat = 1.0 + chance.normal(REPEATS);
    Leak {
        flow_m3_per_s: leak.flow_m3_per_s * by_oil * by_seat,
        ..leak
    }
}

/// What the coverage campaign would call it.
fn nearest(machine: &Machine, plumbing: Plumbing) -> Nearest {
    match (machine.sort.holding(), plumbing) {
        (_, p) if p.locked => Nearest::Locked,
        (Chamber::Rod, _) => Nearest::Hanging,
        (_, p) if p.cap == Port::OnValve => Nearest::OnValve,
        (_, p) if p.rod == Port::OpenToVessel => Nearest::RodOpen,
        _ => Nearest::BothBlocked,
    }
}

fn specimen(
    machine: &Machine,
    planned: Planned,
    place: usize,
    (leaks, wall_k): (&[(Spot, Leak)], f64),
    chance: &mut Chance,
) -> Specimen {
    let plumbing = planned.plumbing;
    let load_n = machine.load_n();
    let friction_n = machine.friction_share * load_n.abs();
    let start = start(machine, planned, place, chance);
    let mut heat = machine.heat;
    heat.wall_k = wall_k;
    heat.wall_k_per_s = chance.even(-0.1, 0.1) / 60.0;
    let [cap, rod] = air(chance);
    let [cap_hose, rod_hose] = hoses_ml(machine, plumbing);
    let motion = match plumbing.locked {
        true => RodNature::Held,
        false => RodNature::Free {
            load_n,
            friction_n,
            viscous_n_s_per_m: machine.viscous_n_s_per_m,
        },
    };
    let mut specimen = Specimen {
        cylinder: machine.cylinder,
        wall_pa: machine.wall_pa,
        oil: machine.oil.clone(),
        cap: no_oil(),
        rod: no_oil(),
        heat,
        motion,
        ills: ills(machine, plumbing, leaks),
        start,
    };
    specimen.cap = chamber_oil(cap, cap_hose, chance);
    specimen.rod = chamber_oil(rod, rod_hose, chance);
    if !plumbing.locked {
        balance(&mut specimen, load_n, friction_n * chance.even(-1.0, 1.0));
    }
    specimen
}

/// Hoses lead to valves; a plug sits at the cylinder.
fn hoses_ml(machine: &Machine, plumbing: Plumbing) -> [f64; 2] {
    let [cap, rod] = machine.hoses_ml;
    let at = |port, hose_ml| match port {
        Port::OnValve => hose_ml,
        _ => 0.0,
    };
    [at(plumbing.cap, cap), at(plumbing.rod, rod)]
}

fn start(machine: &Machine, planned: Planned, place: usize, chance: &mut Chance) -> Start {
    let plumbing = planned.plumbing;
    // Each phase begins about where the last one ended.
    let x_m = machine.x_m - 0.004 * place as f64 + chance.normal(0.002);
    let test_pa = machine.test_pa;
    let cylinder = &machine.cylinder;
    let has_charge = machine.sort.has_rod_side() && plumbing.rod != Port::OpenToVessel;
    let p_rod_pa = if has_charge { planned.charge_pa } else { 0.0 };
    let (p_cap_pa, p_rod_pa) = match (machine.sort.holding(), plumbing) {
        (_, p) if p.joined => (test_pa, test_pa),
        (_, p) if p.locked => (test_pa, p_rod_pa),
        (Chamber::Rod, _) => (0.0, test_pa),
        (Chamber::Cap, _) => {
            let carried_n = machine.load_n() + p_rod_pa * cylinder.annulus_area().value;
            (carried_n / cylinder.cap_area().value, p_rod_pa)
        }
    };
    Start {
        x_m,
        p_cap_pa,
        p_rod_pa,
    }
}

fn ills(machine: &Machine, plumbing: Plumbing, leaks: &[(Spot, Leak)]) -> Ills {
    let of = |spot: Spot| {
        let found = leaks.iter().find(|(own, _)| *own == spot);
        found.map_or(Leak::NONE, |(_, leak)| *leak)
    };
    let valve = |spot| WayOut::Valve {
        fitting: Leak::NONE,
        // A valve that was swapped in is a known good one.
        valve: match plumbing.valve {
            HoldingValve::Swapped => Leak::NONE,
            HoldingValve::Absent | HoldingValve::InPlace => of(spot),
        },
        relief: None,
    };
    let at = |port, plug, on_valve| match port {
        Port::OnValve => valve(on_valve),
        Port::OpenToVessel if machine.sort.has_rod_side() => WayOut::Vessel,
        _ => WayOut::Plug(of(plug)),
    };
    Ills {
        piston: of(Spot::Piston),
        gland: of(Spot::Gland),
        cap_port: at(plumbing.cap, Spot::CapPlug, Spot::CapValve),
        rod_port: at(plumbing.rod, Spot::RodPlug, Spot::RodValve),
    }
}

fn circuit(
    machine: &Machine,
    plumbing: Plumbing,
    specimen: &Specimen,
    chance: &mut Chance,
) -> Circuit {
    let stated_n = (machine.load_n().abs() * (1.0 + chance.normal(0.03)) / 100.0).round() * 100.0;
    let load = machine
        .load_known
        .then(|| Force::new::<newton>(stated_n.max(100.0)));
    let rod = match (plumbing.locked, machine.sort.holding()) {
        (true, _) => RodHold::Locked,
        (false, Chamber::Rod) => RodHold::PulledOut { load },
        (false, Chamber::Cap) => RodHold::PushedIn { load },
    };
    let [cap_hose, rod_hose] = hoses_ml(machine, plumbing).map(Volume::new::<milliliter>);
    let mut circuit = Circuit {
        probe: Some(machine.probe),
        cap_hose,
        rod_hose,
        joined: plumbing.joined,
        ..Circuit::plain(plumbing.cap, plumbing.rod, rod)
    };
    match machine.sort.holding() {
        Chamber::Cap => circuit.cap_holding_valve = plumbing.valve,
        Chamber::Rod => circuit.rod_holding_valve = plumbing.valve,
    }
    let holding = circuit.holding_chamber();
    circuit.stiffness = machine
        .stiffness_measured
        .then(|| measured_stiffness(specimen, holding, chance));
    circuit
}
