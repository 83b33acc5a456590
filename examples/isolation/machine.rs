//! A machine of the campaign: cylinder, load, oil and sensors as in the coverage campaign,
//! and its leaks, which go with it from phase to phase.
//!
//! Left out of that domain: its poorest sensors (10 to 12 bits: a step of the position is
//! half a millimetre, and no shop would ask them which way a leak goes), pressures below
//! 40 bar, and hoses, but between a port and its valve.

use super::chance::Chance;
use super::draw::SIZES_MM;
use super::draw::built;
use super::draw::exponent;
use super::draw::hoses;
use super::draw_oil::heat;
use super::draw_oil::oil;
use super::draw_oil::warmed;
use super::draw_sensors::Quality;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Cylinder;
use stillrod::cylinder::Kind;
use stillrod::quantity::unit::meter;
use stillrod::rehearsal::physics::Heat;
use stillrod::rehearsal::physics::Leak;
use stillrod::rehearsal::physics::OilNature;

/// What stands on the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sort {
    /// Double-acting, a load pushing in.
    Pushing,
    /// Double-acting, a load hanging on the rod.
    Hanging,
    /// A rod through both ends.
    DoubleRod,
    /// A ram.
    Plunger,
    /// Single-acting, the rod side vented.
    Vented,
    /// One stage of a telescopic ram.
    Telescopic,
    /// Double-acting with a load-holding valve that is swapped.
    Swapped,
    /// Double-acting, the rod locked, no load frame.
    Locked,
}

impl Sort {
    /// Its name.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pushing => "pushing load",
            Self::Hanging => "hanging load",
            Self::DoubleRod => "double rod",
            Self::Plunger => "plunger",
            Self::Vented => "single-acting vented",
            Self::Telescopic => "telescopic stage",
            Self::Swapped => "holding valve swapped",
            Self::Locked => "locked rod",
        }
    }

    fn drawn(chance: &mut Chance) -> Self {
        match chance.even(0.0, 1.0) {
            v if v < 0.50 => Self::Pushing,
            v if v < 0.60 => Self::Hanging,
            v if v < 0.67 => Self::DoubleRod,
            v if v < 0.74 => Self::Plunger,
            v if v < 0.81 => Self::Vented,
            v if v < 0.87 => Self::Telescopic,
            v if v < 0.94 => Self::Swapped,
            _ => Self::Locked,
        }
    }

    /// How the cylinder is built.
    pub fn kind(self) -> Kind {
        match self {
            Self::Pushing | Self::Hanging | Self::Swapped | Self::Locked => Kind::DoubleActing,
            Self::DoubleRod => Kind::DoubleRod,
            Self::Plunger => Kind::Plunger,
            Self::Vented => Kind::SingleActing,
            Self::Telescopic => Kind::TelescopicStage,
        }
    }

    /// The side that holds.
    pub fn holding(self) -> Chamber {
        match self {
            Self::Hanging => Chamber::Rod,
            _ => Chamber::Cap,
        }
    }

    /// Whether there is a rod side with a port.
    pub fn has_rod_side(self) -> bool {
        self.kind().chambers().contains(&Chamber::Rod)
    }

    /// Parts that can leak.
    fn spots(self) -> Vec<Spot> {
        let mut spots = vec![Spot::CapPlug];
        if self.kind().has_piston_seal() {
            spots.push(Spot::Piston);
        }
        if self != Self::Vented {
            spots.push(Spot::Gland);
        }
        if self.has_rod_side() {
            spots.push(Spot::RodPlug);
        }
        spots.push(match self.holding() {
            Chamber::Cap => Spot::CapValve,
            Chamber::Rod => Spot::RodValve,
        });
        spots
    }
}

/// A part that can leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Spot {
    /// The piston seal.
    Piston,
    /// The gland.
    Gland,
    /// The plug at the cap port.
    CapPlug,
    /// The plug at the rod port.
    RodPlug,
    /// The machine's own valve on the cap port.
    CapValve,
    /// The machine's own valve on the rod port.
    RodValve,
}

/// The machine as it really is.
#[derive(Debug, Clone)]
pub struct Machine {
    /// What it is.
    pub sort: Sort,
    /// Its cylinder as it really is.
    pub cylinder: Cylinder,
    /// Its cylinder as the setup says it.
    pub drawing_toml: String,
    /// Whether the setup knows the wall.
    pub wall_known: bool,
    /// How stiff tube and ends really are, Pa.
    pub wall_pa: f64,
    /// Its oil.
    pub oil: OilNature,
    /// How heat leaves it; surroundings are those of the day.
    pub heat: Heat,
    /// Friction by load.
    pub friction_share: f64,
    /// Viscous friction, N·s/m.
    pub viscous_n_s_per_m: f64,
    /// The test pressure, on the side that holds, Pa.
    pub test_pa: f64,
    /// Where the rod stands in the first phase, m.
    pub x_m: f64,
    /// Oil in hoses between port and valve, mL.
    pub hoses_ml: [f64; 2],
    /// How good the sensors are.
    pub quality: Quality,
    /// Where the probe sits.
    pub probe: Chamber,
    /// Whether the load is known.
    pub load_known: bool,
    /// Whether a stiffness was measured.
    pub stiffness_measured: bool,
    /// Samples each second.
    pub samples_per_s: u32,
    /// What leaks, by its flow at the test pressure.
    pub leaks: Vec<(Spot, Leak)>,
}

/// Pressure that the unloaded side is charged to, Pa.
pub const CHARGE_PA: f64 = 15e5;

impl Machine {
    /// Any machine.
    pub fn drawn(chance: &mut Chance) -> Self {
        let sort = Sort::drawn(chance);
        let (bore, rod) = sizes(sort, chance);
        let (drawing_toml, cylinder, wall_known) = built(sort.kind(), bore, rod, chance);
        let wall_pa = cylinder.wall_stiffness().expect("its wall is known").value;
        let heat = heat(&cylinder, chance);
        let oil = oil(chance);
        let test_pa = chance.even_in_log(40.0, 250.0) * 1e5;
        let probe = match sort.holding() {
            Chamber::Rod => Chamber::Rod,
            Chamber::Cap if sort.has_rod_side() && chance.happens(0.2) => Chamber::Rod,
            Chamber::Cap => Chamber::Cap,
        };
        let hoses_ml = hoses(chance);
        Self {
            wall_pa: wall_pa * (chance.normal(0.12) - 0.05).exp(),
            oil: warmed(oil, heat.wall_k, chance),
            friction_share: match chance.happens(0.2) {
                true => 0.0,
                false => chance.even(0.0, 0.05),
            },
            viscous_n_s_per_m: chance.even_in_log(5e3, 5e4),
            x_m: cylinder.size().stroke.get::<meter>() * chance.even(0.35, 0.8),
            hoses_ml: [
                hoses_ml[0],
                if sort.has_rod_side() {
                    hoses_ml[1]
                } else {
                    0.0
                },
            ],
            quality: chance.one_of(&[Quality::Middle, Quality::Good]),
            load_known: chance.happens(0.7),
            stiffness_measured: chance.happens(0.2),
            samples_per_s: chance.one_of(&[10, 12, 15]),
            leaks: leaks(sort, test_pa, chance),
            sort,
            cylinder,
            drawing_toml,
            wall_known,
            heat,
            test_pa,
            probe,
        }
    }

    /// The load, N, positive pushing in: what the test pressure carries beside the charge.
    pub fn load_n(&self) -> f64 {
        let cap_n = self.test_pa * self.cylinder.cap_area().value;
        let annulus_m2 = self.cylinder.annulus_area().value;
        match self.sort {
            Sort::Hanging => -self.test_pa * annulus_m2,
            _ if self.sort.has_rod_side() => cap_n - CHARGE_PA * annulus_m2,
            _ => cap_n,
        }
    }
}

/// Bore and rod, mm: what closes a ram is nearly as wide as its tube.
fn sizes(sort: Sort, chance: &mut Chance) -> (f64, f64) {
    match sort {
        Sort::Plunger | Sort::Telescopic => {
            let pairs = SIZES_MM.windows(2).map(|two| (two[1].0, two[0].0));
            chance.one_of(&pairs.collect::<Vec<_>>())
        }
        _ => {
            let (bore, rods) = chance.one_of(&SIZES_MM);
            (bore, chance.one_of(rods))
        }
    }
}

/// Nothing, one part or two.
fn leaks(sort: Sort, test_pa: f64, chance: &mut Chance) -> Vec<(Spot, Leak)> {
    let spots = sort.spots();
    let n_leaks = match chance.even(0.0, 1.0) {
        v if v < 0.20 => 0,
        v if v < 0.65 => 1,
        _ => 2,
    };
    let mut found: Vec<(Spot, Leak)> = Vec::new();
    while found.len() < n_leaks {
        let spot = chance.one_of(&spots);
        let (size, exponent) = (chance.even_in_log(0.02, 5.0), exponent(chance));
        if found.iter().all(|(own, _)| *own != spot) {
            found.push((spot, Leak::with_exponent(size, test_pa / 1e5, exponent)));
        }
    }
    found.sort_by_key(|(spot, _)| *spot);
    found
}
