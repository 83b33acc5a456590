//! The cylinder of a rig with what is wrong with it, and what its setup file says of it.

use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::quantity::unit::milliliter;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::Scored;
use crate::rehearsal::physics::Seals;
use crate::rehearsal::physics::Specimen;
use crate::rehearsal::physics::Start;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::physics::Wear;
use crate::rehearsal::rig::handling::Pose;
use crate::rehearsal::scenario::Unit;
use crate::rehearsal::sensors::Senses;
use crate::rehearsal::setup_text::Piece;
use crate::rehearsal::setup_text::piece_toml;
use crate::rehearsal::setup_text::sensors_toml;

/// Rating of both ends of the cylinder, and of the rig's plugs.
const CYLINDER_RATING: &str = "160 bar";
const PLUG_RATING: &str = "400 bar";

/// The instruments of a shop without electronics.
const BY_EYE: &str = include_str!("../setup-by-eye.toml");

/// Friction of a rod under a load that nobody described: Coulomb in N, viscous in N·s/m.
const FRICTION: (f64, f64) = (400.0, 2e4);

/// What is wrong with a cylinder besides the leaks of its specimen.
#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// More passes the piston where the tube is scored.
    ScoredTube {
        /// Where the score begins, extension in m.
        from_m: f64,
        /// Where it ends, extension in m.
        until_m: f64,
        /// What passes there besides what the seal lets by.
        leak: Leak,
    },
    /// The piston sits on the end: nothing passes it up to this extension.
    SeatsRetracted {
        /// The extension, m.
        below_m: f64,
    },
    /// A seal that does not seat the same way twice.
    Erratic {
        /// What the seal lets by is multiplied by these in the first, second, third press, and
        /// so on from the start again.
        factors: Vec<f64>,
    },
}

/// The cylinder of a rig with what is wrong with it.
#[derive(Debug, Clone, PartialEq)]
pub struct RigUnit {
    /// Its name: plain words with dashes.
    pub name: &'static str,
    /// What is wrong with it, in one line.
    pub description: &'static str,
    /// Seed of all that is random.
    pub seed: u64,
    /// The piece.
    pub unit: Unit,
    /// The cylinder as it really is. Its ports are those of a hold on the valve, or plugged;
    /// its start says where the rod is found. It is found vented, whatever pressures stand there.
    pub specimen: Specimen,
    /// Its sensors.
    pub senses: Senses,
    /// Samples each second, 1 to 1000.
    pub samples_per_s: u32,
    /// What is wrong with it besides the leaks of the specimen.
    pub trouble: Vec<Trouble>,
    /// Friction of its seals and guide while the rod is moved.
    pub seals: Seals,
}

impl RigUnit {
    /// The same with another seed: other noise, other sensors, same cylinder.
    pub fn with_seed(self, seed: u64) -> Self {
        Self { seed, ..self }
    }

    /// The same for a shop without electronics: instruments that a person reads.
    pub fn setup_toml_by_eye(&self) -> String {
        let whole = self.setup_toml_without_plan();
        let sensors = sensors_toml(&self.senses);
        whole.replace(&sensors, BY_EYE)
    }

    /// The setup file but for what belongs to one hold: ports, rod, hold and limits. It ends
    /// inside of `[circuit]`, so what is appended first goes there.
    pub fn setup_toml_without_plan(&self) -> String {
        let piece = piece_toml(&Piece {
            name: self.name,
            description: self.description,
            unit: &self.unit,
            cylinder: &self.specimen.cylinder,
            rating: CYLINDER_RATING,
        });
        let plugs: String = self
            .specimen
            .cylinder
            .kind()
            .chambers()
            .iter()
            .map(|chamber| format!("{}_plug = \"{PLUG_RATING}\"\n", chamber.word()))
            .collect();
        let sensors = sensors_toml(&self.senses);
        let probe = self.senses.probe.chamber.word();
        format!("{piece}[ratings]\n{plugs}\n{sensors}[circuit]\nprobe = \"{probe}\"\n")
    }

    /// What depends on where the piston stands.
    pub(super) fn wear(&self) -> Wear {
        let mut wear = Wear::default();
        for trouble in &self.trouble {
            match *trouble {
                Trouble::ScoredTube {
                    from_m,
                    until_m,
                    leak,
                } => wear.scored.push(Scored {
                    from_m,
                    until_m,
                    leak,
                }),
                Trouble::SeatsRetracted { below_m } => wear.seats_below_m = Some(below_m),
                Trouble::Erratic { .. } => {}
            }
        }
        wear
    }

    /// The cylinder as it is left alone after a press, which is the one after `n_before` others.
    pub(super) fn pressed(&self, circuit: &Circuit, pose: &Pose, n_before: usize) -> Specimen {
        let mut specimen = self.specimen.clone();
        let [p_cap_pa, p_rod_pa] = pose.pressures_pa;
        specimen.start = Start {
            x_m: pose.x_m,
            p_cap_pa,
            p_rod_pa,
        };
        specimen.motion = motion(&self.specimen, circuit, pose);
        let ills = &mut specimen.ills;
        ills.piston.flow_m3_per_s *= self.seats(n_before);
        ills.cap_port = way_out(ills.cap_port, circuit, Chamber::Cap);
        ills.rod_port = way_out(ills.rod_port, circuit, Chamber::Rod);
        // A hose of the unit's own is one that nobody told of.
        specimen.cap.hose_m3 += circuit.cap_hose.get::<milliliter>() * 1e-6;
        specimen.rod.hose_m3 += circuit.rod_hose.get::<milliliter>() * 1e-6;
        specimen
    }

    /// How the seal seats in a press: what it lets by is multiplied by this.
    fn seats(&self, n_before: usize) -> f64 {
        let factor = |trouble: &Trouble| match trouble {
            Trouble::Erratic { factors } => factors.iter().cycle().nth(n_before).copied(),
            _ => None,
        };
        self.trouble.iter().filter_map(factor).product()
    }
}

/// A rod that is held, or free under the load that carries the pressures.
fn motion(specimen: &Specimen, circuit: &Circuit, pose: &Pose) -> RodNature {
    if matches!(circuit.rod, RodHold::Locked | RodHold::Bottomed) {
        return RodNature::Held;
    }
    let (friction_n, viscous_n_s_per_m) = match specimen.motion {
        RodNature::Free {
            friction_n,
            viscous_n_s_per_m,
            ..
        } => (friction_n, viscous_n_s_per_m),
        RodNature::Held => FRICTION,
    };
    let [p_cap_pa, p_rod_pa] = pose.pressures_pa;
    let cylinder = &specimen.cylinder;
    RodNature::Free {
        load_n: p_cap_pa * cylinder.cap_area().value - p_rod_pa * cylinder.annulus_area().value,
        friction_n,
        viscous_n_s_per_m,
    }
}

/// What a port leads to in a plumbing, from what the unit has there.
fn way_out(own: WayOut, circuit: &Circuit, chamber: Chamber) -> WayOut {
    let plug = match own {
        WayOut::Plug(leak) | WayOut::Valve { fitting: leak, .. } => leak,
        WayOut::Vessel | WayOut::Line { .. } => Leak::NONE,
    };
    let line_pa = circuit.supply.map(|pressure| pressure.pa());
    let has_valve = circuit.holding_valve(chamber) != HoldingValve::Absent;
    match circuit.port(chamber) {
        Port::Blocked if !has_valve => WayOut::Plug(plug),
        Port::Blocked | Port::OnValve => own,
        Port::OpenToVessel => WayOut::Vessel,
        Port::Supplied => line_pa.map_or(WayOut::Vessel, WayOut::supply),
    }
}
