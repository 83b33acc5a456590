//! The units of the rig: one cylinder of the depot, sound or with one thing wrong.
//!
//! Figures were chosen to show something, not to recommend anything.

use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::Seals;
use crate::rehearsal::rig::unit::RigUnit;
use crate::rehearsal::rig::unit::Trouble;
use crate::rehearsal::stock::plough_lift;

/// Samples each second of the rig's board.
const SAMPLES_PER_S: u32 = 10;

/// Seed of the first unit; the others follow.
const FIRST_SEED: u64 = 4000;

/// Good seals: they hardly stick.
const GOOD_SEALS: Seals = Seals {
    static_n: 520.0,
    coulomb_n: 400.0,
    stribeck_m_per_s: 1.5e-3,
    viscous_n_s_per_m: 2e4,
};
/// Seed of the first unit without electronics.
const FIRST_EYE_SEED: u64 = 4100;

/// All units of the rig.
pub fn rig_units() -> Vec<RigUnit> {
    let mut all = [
        sound(),
        scored(),
        seats(),
        erratic(),
        weeping(),
        grabs(),
        stiff(),
        spongy(),
    ];
    for (unit, seed) in all.iter_mut().zip(FIRST_SEED..) {
        unit.seed = seed;
    }
    all.into()
}

/// The unit of a name.
pub fn rig_unit(name: &str) -> Option<RigUnit> {
    rig_units().into_iter().find(|unit| unit.name == name)
}

/// Units that are tested without electronics.
pub fn eye_units() -> Vec<RigUnit> {
    let sound = RigUnit {
        name: "gauge-and-cup",
        description: "No board: somebody reads a gauge, a dial, a thermometer and a cup. A film of oil passes the piston.",
        seed: FIRST_EYE_SEED,
        ..sound()
    };
    let mut leaking = RigUnit {
        name: "gauge-and-cup-leaking",
        description: "No board: somebody reads a gauge, a dial, a thermometer and a cup. The seal lets 0.8 mL/min by at 100 bar.",
        seed: FIRST_EYE_SEED + 1,
        ..sound.clone()
    };
    leaking.specimen.ills.piston = Leak::laminar(0.8, 100.0);
    vec![sound, leaking]
}

/// The unit of a name that is tested without electronics.
pub fn eye_unit(name: &str) -> Option<RigUnit> {
    eye_units().into_iter().find(|unit| unit.name == name)
}

fn sound() -> RigUnit {
    let stock = plough_lift();
    RigUnit {
        name: "proof-sound",
        description: "Nothing is wrong: a film of oil passes the piston, nothing comes out.",
        seed: 0,
        unit: stock.unit,
        specimen: stock.specimen,
        senses: stock.senses,
        samples_per_s: SAMPLES_PER_S,
        trouble: Vec::new(),
        seals: GOOD_SEALS,
    }
}

fn scored() -> RigUnit {
    RigUnit {
        name: "proof-scored-mid-stroke",
        description: "The tube is scored in mid-stroke: 0.6 mL/min more pass the piston at 100 bar \
                      between 150 and 260 mm.",
        trouble: vec![Trouble::ScoredTube {
            from_m: 0.150,
            until_m: 0.260,
            leak: Leak::laminar(0.6, 100.0),
        }],
        ..sound()
    }
}

fn seats() -> RigUnit {
    let mut unit = RigUnit {
        name: "proof-seats-retracted",
        description: "The seal lets 0.8 mL/min by at 100 bar, and nothing while the piston sits on \
                      the cap end.",
        trouble: vec![Trouble::SeatsRetracted { below_m: 0.002 }],
        ..sound()
    };
    unit.specimen.ills.piston = Leak::laminar(0.8, 100.0);
    unit
}

fn erratic() -> RigUnit {
    let mut unit = RigUnit {
        name: "proof-repeats-disagree",
        description: "The seal does not seat the same way twice: about 0.03 mL/min at 100 bar, from \
                      a fifth of it to nearly twice as much. No hold is over its limit.",
        trouble: vec![Trouble::Erratic {
            factors: vec![1.0, 0.2, 1.6, 0.5, 1.7, 0.2],
        }],
        ..sound()
    };
    unit.specimen.ills.piston = Leak::laminar(0.028, 100.0);
    unit
}

fn weeping() -> RigUnit {
    let mut unit = RigUnit {
        name: "proof-weeping-gland",
        description: "The gland weeps: 0.15 mL/min come out at 100 bar on the rod side.",
        ..sound()
    };
    unit.specimen.ills.gland = Leak::laminar(0.15, 100.0);
    unit
}

fn grabs() -> RigUnit {
    RigUnit {
        name: "proof-grabs",
        description: "The rod goes in jerks: its seals stick at 1.7 kN and slide at 0.5 kN.",
        seals: Seals {
            static_n: 1700.0,
            coulomb_n: 500.0,
            stribeck_m_per_s: 20e-3,
            viscous_n_s_per_m: 2e3,
        },
        ..sound()
    }
}

fn stiff() -> RigUnit {
    RigUnit {
        name: "proof-stiff-seals",
        description: "The seals are too tight: it takes 3.2 kN to move the rod and 2.5 kN to keep it going.",
        seals: Seals {
            static_n: 3200.0,
            coulomb_n: 2500.0,
            ..GOOD_SEALS
        },
        ..sound()
    }
}

fn spongy() -> RigUnit {
    let mut unit = RigUnit {
        name: "proof-air-in-rod-end",
        description: "The rod end was not bled: 5 % of what is in it is air.",
        ..sound()
    };
    unit.specimen.rod.air = 0.05;
    unit
}
