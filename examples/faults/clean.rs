//! Runs with nothing wrong, to count what is told of them all the same.
//!
//! Half are scenarios of the catalogue with other sensors, noise, steps, rates, lengths, leaks
//! and friction; half are holds of the coverage campaign's domain.

use super::chance::Chance;
use super::draw;
use super::play;
use super::sampled;
use stillrod::health::Flag;
use stillrod::health::Weight;
use stillrod::health::examine;
use stillrod::recording::Recording;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::physics::RodNature;
use stillrod::rehearsal::scenarios;
use stillrod::settings::Setup;

/// Beginnings of what may rightly be said of a sound run.
const RIGHT: &[&str] = &[
    "samples were lost",
    "the adapter was gone",
    // A code of few steps that stands still widens the interval; the remark says so.
    "did not change by a single step",
    "above the rating",
    // A piston that comes to its end, a seal that sticks, a valve that opens: all of it is so.
    "came to an end of its stroke",
];

/// A clean run and what was said of it.
pub struct Clean {
    /// What it is.
    pub name: String,
    /// What was wrongly said.
    pub false_alarms: Vec<Flag>,
}

impl Clean {
    /// Whether anything was wrongly said.
    pub fn is_told_of(&self) -> bool {
        !self.false_alarms.is_empty()
    }
}

/// Run `index` of a campaign.
pub fn run(seed: u64, index: u64) -> Clean {
    let (name, recording, setup) = match index.is_multiple_of(2) {
        true => of_the_catalogue(seed, index),
        false => of_the_domain(seed, index),
    };
    let subject = &setup.subject;
    let flags = examine(&recording, &subject.piece, &subject.circuit, &setup.ratings);
    let is_right = |flag: &Flag| {
        flag.weight == Weight::Remark && RIGHT.iter().any(|r| flag.evidence.contains(r))
    };
    Clean {
        name,
        false_alarms: flags.into_iter().filter(|f| !is_right(f)).collect(),
    }
}

fn of_the_catalogue(seed: u64, index: u64) -> (String, Recording, Setup) {
    let mut chance = Chance::of(seed, index);
    let clean: Vec<Scenario> = scenarios()
        .into_iter()
        .filter(|s| s.faults.is_empty())
        .collect();
    let which = chance.seed() as usize % clean.len();
    let scenario = varied(clean[which].clone(), &mut chance);
    let (recording, setup) = play::recording(&scenario).expect("a sound test");
    (format!("{index} {}", scenario.name), recording, setup)
}

/// Other sensors, another length, another leak, another friction.
fn varied(scenario: Scenario, chance: &mut Chance) -> Scenario {
    let mut scenario = scenario.with_seed(chance.seed());
    let bits = chance.one_of(&[12, 14, 16, 18, 20, 24]);
    let noise = chance.even_in_log(0.2, 3.0);
    for own in &mut scenario.senses.loops {
        own.bits = bits;
        own.noise.white *= noise;
        own.noise.slow *= noise * chance.even(0.3, 3.0);
        own.noise.memory_s = chance.even_in_log(0.3, 15.0);
    }
    scenario.samples_per_s = chance.one_of(&[10, 20, 50, 100]);
    scenario.settle_s = chance.one_of(&[0.0, 30.0, 60.0, 180.0]);
    scenario.hold_s = chance.even_in_log(90.0, 1500.0).round();
    let larger = chance.even_in_log(0.2, 3.0);
    scenario.specimen.ills.piston.flow_m3_per_s *= larger;
    if let RodNature::Free {
        load_n, friction_n, ..
    } = &mut scenario.specimen.motion
    {
        *friction_n = chance.even(0.0, 0.05) * load_n.abs();
    }
    let warm_k = chance.even(-0.5, 2.0);
    scenario.specimen.cap.fresh_heat_k += warm_k;
    scenario.specimen.rod.fresh_heat_k += warm_k;
    scenario.specimen.heat.wall_k_per_s = chance.even(-0.08, 0.08) / 60.0;
    scenario
}

fn of_the_domain(seed: u64, index: u64) -> (String, Recording, Setup) {
    let (hold, course) = draw::hold(seed, index);
    let name = format!("{index} hold of the domain, {:.0} s", hold.hold_s);
    let played = sampled::played(hold, &course);
    (name, played.recording, played.setup)
}
