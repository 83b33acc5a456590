//! The faults that are tried, one by one.
//!
//! Sizes are those that a shop meets; none is chosen for being found.

mod around;
mod readings;
mod wires;

use crate::rehearsal::fault::SensorFault;
use crate::rehearsal::scenario::Fault;
use crate::rehearsal::scenario::Scenario;
use around::COMMON;
use around::HANDLING;
use around::LINE;
use around::SETUPS;
use readings::PLACES;
use readings::READINGS;
use wires::WIRES;

/// Channels of the practice board.
const CAP: usize = 0;
const ROD: usize = 1;
const PROBE: usize = 3;

/// One thing that is wrong, to be done to any scenario with a free rod and both ports shut.
#[derive(Debug, Clone, Copy)]
pub struct Injected {
    /// Its name: plain words with dashes.
    pub name: &'static str,
    /// What is wrong, in one line.
    pub description: &'static str,
    strike: fn(Scenario) -> Scenario,
}

impl Injected {
    /// The scenario with the fault in it.
    pub fn strike(&self, scenario: Scenario) -> Scenario {
        (self.strike)(scenario)
    }
}

/// All faults.
pub fn injected() -> Vec<Injected> {
    let all = [WIRES, READINGS, PLACES, COMMON, LINE, SETUPS, HANDLING].concat();
    all.into_iter()
        .map(|(name, description, strike)| Injected {
            name,
            description,
            strike,
        })
        .collect()
}

/// Name, description and what is done.
type Row = (&'static str, &'static str, fn(Scenario) -> Scenario);

fn with(mut scenario: Scenario, fault: Fault) -> Scenario {
    scenario.faults.push(fault);
    scenario
}

fn sensor(scenario: Scenario, fault: SensorFault) -> Scenario {
    with(scenario, Fault::Sensor(fault))
}

fn says(scenario: Scenario, right: &'static str, wrong: &'static str) -> Scenario {
    with(scenario, Fault::Setup { right, wrong })
}

fn current(scenario: Scenario, channel: usize, milliampere: f64) -> Scenario {
    let (from_s, length_s) = (scenario.settle_s + 100.0, 12.0);
    sensor(
        scenario,
        SensorFault::Current {
            channel,
            milliampere,
            from_s,
            length_s,
        },
    )
}

fn drifts(scenario: Scenario, channel: usize, by_si: f64) -> Scenario {
    let from_s = scenario.settle_s;
    sensor(
        scenario,
        SensorFault::Drifts {
            channel,
            by_si,
            from_s,
        },
    )
}

fn slips(scenario: Scenario, channel: usize, by_si: f64) -> Scenario {
    let at_s = scenario.settle_s + 0.4 * scenario.hold_s;
    sensor(
        scenario,
        SensorFault::Slips {
            channel,
            by_si,
            at_s,
        },
    )
}

fn hum(scenario: Scenario, channel: usize, size_si: f64, hertz: f64) -> Scenario {
    sensor(
        scenario,
        SensorFault::Hum {
            channel,
            size_si,
            hertz,
        },
    )
}

fn scaled(scenario: Scenario, channels: &[usize], factor: f64) -> Scenario {
    channels.iter().fold(scenario, |scenario, &channel| {
        sensor(scenario, SensorFault::Scaled { channel, factor })
    })
}

fn noisier(mut scenario: Scenario, channel: usize, times: f64) -> Scenario {
    let noise = &mut scenario.senses.loops[channel].noise;
    noise.white *= times;
    noise.slow *= times;
    scenario
}
