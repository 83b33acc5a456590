//! Prints what is true of each scenario and of each inquiry's phases on the practice bench.
//!
//! Flows in mL/min in the state of the load-holding chamber at the start of the
//! counted hold; `start` is then, `mean` over the hold.

use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::StiffError;
use stillrod::rehearsal::inquiries;
use stillrod::rehearsal::physics::PathFlows;
use stillrod::rehearsal::scenarios;

fn main() -> Result<(), StiffError> {
    for scenario in scenarios() {
        print(scenario.name, &scenario)?;
    }
    for inquiry in inquiries() {
        println!("{}: {}", inquiry.name, inquiry.description);
        for phase in &inquiry.phases {
            print(phase.label, &phase.scenario)?;
        }
    }
    Ok(())
}

fn print(name: &str, scenario: &Scenario) -> Result<(), StiffError> {
    let truth = scenario.truth()?;
    println!(
        "{name:24} {:?}, hold {} s at {:.1} bar: drift {:.4} mm/min, leak-down {:.3} bar/min",
        scenario.expected,
        scenario.hold_s,
        truth.pressure_pa / 1e5,
        truth.drift_m_per_s * 60e3,
        truth.leak_down_pa_per_s * 60e-5,
    );
    println!("    start {}", line(&truth.start));
    println!("    mean  {}", line(&truth.mean));
    Ok(())
}

fn line(flows: &PathFlows) -> String {
    let cells = [
        ("cap loss", flows.cap_loss),
        ("rod gain", flows.rod_gain),
        ("bypass", flows.bypass),
        ("gland", flows.gland),
        ("cap plug", flows.cap_plug),
        ("cap valve", flows.cap_valve),
        ("rod plug", flows.rod_plug),
        ("rod valve", flows.rod_valve),
    ];
    cells
        .map(|(name, m3_per_s)| format!("{name} {:.4}", m3_per_s * 60e6))
        .join(", ")
}
