//! What the invented depot owns and what goes wrong with it.

use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use stillrod::cylinder::Kind;
use stillrod::register::Build;
use stillrod::register::Unit;

/// Units of the depot: each is tested three times a year, as in the rehearsed year.
pub const N_UNITS: u32 = 13_333;

const MACHINES: [(&str, u32); 5] = [
    ("winter carrier", 60),
    ("loader", 30),
    ("sweeper", 40),
    ("gully emptier", 20),
    ("verge mower", 25),
];

const KINDS: [[&str; 3]; 5] = [
    [
        "plough lift cylinder",
        "spreader tipping ram",
        "plough angle cylinder",
    ],
    [
        "loader tilt cylinder",
        "loader lift cylinder",
        "steering cylinder",
    ],
    [
        "sweeper lift cylinder",
        "brush arm cylinder",
        "hopper tipping ram",
    ],
    ["boom cylinder", "tank tipping ram", "door cylinder"],
    [
        "arm lift cylinder",
        "arm fold cylinder",
        "head tilt cylinder",
    ],
];

const SEALS: [&str; 6] = [
    "PTFE slide ring",
    "polyurethane U-ring",
    "NBR chevron set",
    "FKM compact seal",
    "cast iron rings",
    "twin lip rod seal",
];

const WHAT: [&str; 12] = [
    "sinks overnight",
    "sinks while driving",
    "drips at the rod gland",
    "creeps out when parked",
    "jerks when lowering",
    "will not lift when hot",
    "slow after the winter",
    "knocks at the end of the stroke",
    "oil on the rod",
    "leans to one side",
    "lost pressure in the yard",
    "squeals when lifted",
];

const WHERE: [&str; 8] = [
    "noticed on the pass road",
    "noticed at the weighbridge",
    "found at the yearly inspection",
    "driver's report",
    "after a blow from a kerb",
    "came back after a rebuild",
    "after the frost",
    "after salt got in",
];

const FOUND: [(&str, &str); 8] = [
    ("piston seal", "lip torn"),
    ("rod seal", "hard and cracked"),
    ("rod", "pitted chrome near the clevis"),
    ("tube", "scored lengthways"),
    ("wiper", "gone"),
    ("guide ring", "worn oval"),
    ("gland thread", "galled"),
    ("port plug", "weeps"),
];

/// A draw that is the same for the same seed.
pub fn dice(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// A unit by its place.
pub fn unit(index: u32) -> Unit {
    let group = (index % 5) as usize;
    let (machine, n_machines) = MACHINES[group];
    Unit {
        tag: format!("TV-{index:04}"),
        description: KINDS[group][(index / 5 % 3) as usize].into(),
        machine: format!("{machine} {}", index / 15 % n_machines + 1),
        serial: format!("{}-{:05}", b"BCDFG"[group] as char, index * 7919 % 100_000),
        seal: SEALS[(index / 3 % 6) as usize].into(),
        build: Build {
            kind: Some(Kind::DoubleActing),
            bore_um: Some(40_000 + i64::from(index % 7) * 10_000),
            rod_um: Some(25_000 + i64::from(index % 7) * 5_000),
            stroke_um: Some(200_000 + i64::from(index % 9) * 50_000),
            cap_rating_pa: Some(25_000_000),
            rod_rating_pa: Some(25_000_000),
            ports: "G 3/8".into(),
            holding_valve: String::new(),
        },
    }
}

/// The name of some machine.
pub fn machine(dice: &mut ChaCha8Rng) -> String {
    let (name, n) = MACHINES[dice.random_range(0..5)];
    format!("{name} {}", dice.random_range(1..=n))
}

/// Why a unit comes in.
pub fn symptom(dice: &mut ChaCha8Rng) -> String {
    let what = WHAT[dice.random_range(0..WHAT.len())];
    let place = WHERE[dice.random_range(0..WHERE.len())];
    let km = dice.random_range(1_000..90_000);
    format!("{what}, {place}, at {km} km")
}

/// Two words of what is wrong and one of where.
pub fn words_of_a_symptom(dice: &mut ChaCha8Rng) -> String {
    let what: Vec<&str> = WHAT[dice.random_range(0..WHAT.len())].split(' ').collect();
    let place = WHERE[dice.random_range(0..WHERE.len())];
    let last = place.rsplit(' ').next().unwrap_or(place);
    format!("{} {} {last}", what[0], what[what.len() - 1])
}

/// What is found inside.
pub fn found(dice: &mut ChaCha8Rng) -> (&'static str, &'static str) {
    FOUND[dice.random_range(0..FOUND.len())]
}
