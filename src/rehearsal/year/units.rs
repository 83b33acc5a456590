//! The cylinders of the depot and the sizes of their kinds.
//!
//! Invented; sizes are those common in the trade. A kind has its size, its load and its limits.

use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::quantity::Force;
use crate::quantity::unit::newton;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::RodNature;
use crate::rehearsal::physics::Start;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::scenario::Unit;
use crate::rehearsal::stock::blocked;
use crate::rehearsal::stock::built;
use crate::rehearsal::stock::hanging;
use crate::rehearsal::stock::plough_lift;
use crate::rehearsal::stock::specimen;
use crate::rehearsal::year::units::Purpose::LoaderTilt;
use crate::rehearsal::year::units::Purpose::PloughLift;
use crate::rehearsal::year::units::Purpose::SweeperLift;
use crate::rehearsal::year::units::Purpose::TippingRam;

/// What a cylinder is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Lifts a snow plough.
    PloughLift,
    /// Tips the hopper of a spreader.
    TippingRam,
    /// Tilts the bucket of a loader.
    LoaderTilt,
    /// Lifts the brush of a sweeper; the load hangs on the rod.
    SweeperLift,
}

/// Size and load of a kind.
struct Size {
    /// Bore, rod and wall, mm.
    mm: [f64; 3],
    load_n: f64,
    /// What it may lose at most, mL/min.
    limit_ml_per_min: f64,
    limits: [&'static str; 2],
}

/// Pressure of the rod end before the hold, Pa gauge.
const CHARGE_PA: f64 = 15e5;

impl Purpose {
    /// What a cylinder for it is called.
    pub fn description(self) -> &'static str {
        match self {
            PloughLift => "plough lift cylinder",
            TippingRam => "spreader tipping ram",
            LoaderTilt => "loader tilt cylinder",
            SweeperLift => "sweeper lift cylinder",
        }
    }

    fn size(self) -> Size {
        let (mm, load_n, limit_ml_per_min, limits) = match self {
            PloughLift => (
                [63.0, 36.0, 5.0],
                30e3,
                0.12,
                ["rebuilt-63-cap-loss", "rebuilt-63-drift"],
            ),
            TippingRam => (
                [80.0, 45.0, 6.0],
                50e3,
                0.30,
                ["rebuilt-80-cap-loss", "rebuilt-80-drift"],
            ),
            LoaderTilt => (
                [100.0, 56.0, 7.5],
                70e3,
                0.60,
                ["rebuilt-100-cap-loss", "rebuilt-100-drift"],
            ),
            SweeperLift => (
                [50.0, 28.0, 5.0],
                10e3,
                0.40,
                ["sweeper-50-drift", "sweeper-50-drift"],
            ),
        };
        Size {
            mm,
            load_n,
            limit_ml_per_min,
            limits,
        }
    }
}

/// How a cylinder is that comes to the bench: flows as parts of what it may lose.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct State {
    /// Past the piston.
    pub piston: f64,
    /// Out at the gland.
    pub gland: f64,
    /// Past the valve it is tested on; none is tested with blocked ports.
    pub valve: Option<f64>,
}

/// A test of a unit in a state; the hold counts that long.
pub(super) fn test_of(unit: (Unit, Purpose), state: State, hold_s: f64, seed: u64) -> Scenario {
    let (unit, purpose) = unit;
    let size = purpose.size();
    let hangs = purpose == SweeperLift;
    let base = if hangs { hanging() } else { plough_lift() };
    let cylinder = built(Kind::DoubleActing, size.mm, 22.0);
    let friction_n = size.load_n / 75.0;
    let load = Some(Force::new::<newton>(size.load_n));
    let (push, rod, holding) = match hangs {
        true => (-size.load_n, RodHold::PulledOut { load }, Chamber::Rod),
        false => (size.load_n, RodHold::PushedIn { load }, Chamber::Cap),
    };
    let mut body = specimen(
        cylinder,
        RodNature::Free {
            load_n: push,
            friction_n,
            viscous_n_s_per_m: 2e4,
        },
    );
    let (cap, annulus) = (cylinder.cap_area().value, cylinder.annulus_area().value);
    body.start = match hangs {
        true => Start {
            x_m: 0.15,
            p_cap_pa: 0.0,
            p_rod_pa: size.load_n / annulus,
        },
        false => Start {
            x_m: 0.3,
            p_cap_pa: (size.load_n + CHARGE_PA * annulus) / cap,
            p_rod_pa: CHARGE_PA,
        },
    };
    let test_bar = body.start.p_cap_pa.max(body.start.p_rod_pa) / 1e5;
    let flow = |part: f64| size.limit_ml_per_min * part;
    body.ills.piston = Leak::laminar(flow(state.piston), test_bar);
    if state.gland > 0.0 {
        body.ills.gland = Leak::with_exponent(flow(state.gland), 15.0, 0.8);
    }
    let mut circuit = blocked(rod, holding);
    if let Some(valve) = state.valve {
        circuit.cap_port = Port::OnValve;
        body.ills.cap_port = WayOut::Valve {
            fitting: Leak::NONE,
            valve: Leak::with_exponent(flow(valve), test_bar, 0.9),
            relief: None,
        };
    }
    let limits = match (hangs, state.valve) {
        (true, _) => size.limits[..1].to_vec(),
        // With a valve in the way the loss is not that of the cylinder alone.
        (false, Some(_)) => size.limits[1..].to_vec(),
        (false, None) => size.limits.to_vec(),
    };
    Scenario {
        name: "year",
        description: "A test of a year of the depot.",
        seed,
        unit,
        specimen: body,
        circuit,
        settle_s: 60.0,
        hold_s,
        limits,
        samples_per_s: 20,
        ..base
    }
}

/// Tag, purpose, machine and seal of every cylinder there is.
#[rustfmt::skip]
const UNITS: [(&str, Purpose, &str, &str); 64] = [
    ("TV-0311", PloughLift, "winter carrier 1", "PTFE slide ring"),
    ("TV-0511", TippingRam, "spreader 1", "twin lip set"),
    ("TV-0711", LoaderTilt, "loader 1", "polyurethane U-ring"),
    ("TV-0111", SweeperLift, "sweeper 1", "lip seal"),
    ("TV-0314", PloughLift, "winter carrier 2", "PTFE slide ring"),
    ("TV-0514", TippingRam, "spreader 2", "twin lip set"),
    ("TV-0714", LoaderTilt, "loader 2", "polyurethane U-ring"),
    ("TV-0114", SweeperLift, "sweeper 2", "lip seal"),
    ("TV-0317", PloughLift, "winter carrier 3", "PTFE slide ring"),
    ("TV-0517", TippingRam, "spreader 3", "twin lip set"),
    ("TV-0717", LoaderTilt, "loader 3", "polyurethane U-ring"),
    ("TV-0117", SweeperLift, "sweeper 3", "lip seal"),
    ("TV-0320", PloughLift, "winter carrier 4", "PTFE slide ring"),
    ("TV-0520", TippingRam, "spreader 1", "twin lip set"),
    ("TV-0720", LoaderTilt, "loader 1", "polyurethane U-ring"),
    ("TV-0120", SweeperLift, "sweeper 1", "lip seal"),
    ("TV-0323", PloughLift, "winter carrier 1", "PTFE slide ring"),
    ("TV-0523", TippingRam, "spreader 2", "twin lip set"),
    ("TV-0723", LoaderTilt, "loader 2", "polyurethane U-ring"),
    ("TV-0123", SweeperLift, "sweeper 2", "lip seal"),
    ("TV-0326", PloughLift, "winter carrier 2", "PTFE slide ring"),
    ("TV-0526", TippingRam, "spreader 3", "twin lip set"),
    ("TV-0726", LoaderTilt, "loader 3", "polyurethane U-ring"),
    ("TV-0126", SweeperLift, "sweeper 3", "lip seal"),
    ("TV-0329", PloughLift, "winter carrier 3", "PTFE slide ring"),
    ("TV-0529", TippingRam, "spreader 1", "twin lip set"),
    ("TV-0729", LoaderTilt, "loader 1", "polyurethane U-ring"),
    ("TV-0129", SweeperLift, "sweeper 1", "lip seal"),
    ("TV-0332", PloughLift, "winter carrier 4", "PTFE slide ring"),
    ("TV-0532", TippingRam, "spreader 2", "twin lip set"),
    ("TV-0732", LoaderTilt, "loader 2", "polyurethane U-ring"),
    ("TV-0132", SweeperLift, "sweeper 2", "lip seal"),
    ("TV-0335", PloughLift, "winter carrier 1", "PTFE slide ring"),
    ("TV-0535", TippingRam, "spreader 3", "twin lip set"),
    ("TV-0735", LoaderTilt, "loader 3", "polyurethane U-ring"),
    ("TV-0135", SweeperLift, "sweeper 3", "lip seal"),
    ("TV-0338", PloughLift, "winter carrier 2", "PTFE slide ring"),
    ("TV-0538", TippingRam, "spreader 1", "twin lip set"),
    ("TV-0738", LoaderTilt, "loader 1", "polyurethane U-ring"),
    ("TV-0138", SweeperLift, "sweeper 1", "lip seal"),
    ("TV-0341", PloughLift, "winter carrier 3", "PTFE slide ring"),
    ("TV-0541", TippingRam, "spreader 2", "twin lip set"),
    ("TV-0741", LoaderTilt, "loader 2", "polyurethane U-ring"),
    ("TV-0141", SweeperLift, "sweeper 2", "lip seal"),
    ("TV-0344", PloughLift, "winter carrier 4", "PTFE slide ring"),
    ("TV-0544", TippingRam, "spreader 3", "twin lip set"),
    ("TV-0744", LoaderTilt, "loader 3", "polyurethane U-ring"),
    ("TV-0144", SweeperLift, "sweeper 3", "lip seal"),
    ("TV-0347", PloughLift, "winter carrier 1", "PTFE slide ring"),
    ("TV-0547", TippingRam, "spreader 1", "twin lip set"),
    ("TV-0747", LoaderTilt, "loader 1", "polyurethane U-ring"),
    ("TV-0147", SweeperLift, "sweeper 1", "lip seal"),
    ("TV-0350", PloughLift, "winter carrier 2", "PTFE slide ring"),
    ("TV-0550", TippingRam, "spreader 2", "twin lip set"),
    ("TV-0750", LoaderTilt, "loader 2", "polyurethane U-ring"),
    ("TV-0150", SweeperLift, "sweeper 2", "lip seal"),
    ("TV-0353", PloughLift, "winter carrier 3", "PTFE slide ring"),
    ("TV-0553", TippingRam, "spreader 3", "twin lip set"),
    ("TV-0753", LoaderTilt, "loader 3", "polyurethane U-ring"),
    ("TV-0153", SweeperLift, "sweeper 3", "lip seal"),
    ("TV-0356", PloughLift, "winter carrier 4", "PTFE slide ring"),
    ("TV-0556", TippingRam, "spreader 1", "twin lip set"),
    ("TV-0756", LoaderTilt, "loader 1", "polyurethane U-ring"),
    ("TV-0156", SweeperLift, "sweeper 1", "lip seal"),
];

/// Cylinders that are bought: one to replace any of the others.
#[rustfmt::skip]
const BOUGHT: [&str; 8] = [
    "TV-0901", "TV-0902", "TV-0903", "TV-0904", "TV-0905", "TV-0906", "TV-0907", "TV-0908",
];

/// All cylinders of the depot.
pub(super) fn units() -> Vec<(Unit, Purpose)> {
    let unit =
        |&(tag, purpose, machine, seal): &(&'static str, Purpose, &'static str, &'static str)| {
            (
                Unit {
                    tag,
                    description: purpose.description(),
                    machine,
                    seal,
                },
                purpose,
            )
        };
    UNITS.iter().map(unit).collect()
}

/// The new cylinder that takes the place of one.
pub(super) fn bought((unit, purpose): (Unit, Purpose), nth: usize) -> (Unit, Purpose) {
    let tag = BOUGHT[nth % BOUGHT.len()];
    (
        Unit {
            tag,
            seal: "PTFE slide ring",
            ..unit
        },
        purpose,
    )
}
