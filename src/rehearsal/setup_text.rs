//! The files a practice run reads, as a user would have written them.
//!
//! The setup is a template filled in from the scenario, so that what it declares and
//! what the practice cylinder is cannot drift apart by accident; where they differ
//! (dead volumes, air, heat), they do so as on a real bench. The shop file stands on
//! its own.

use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::quantity::Force;
use crate::quantity::Length;
use crate::quantity::Volume;
use crate::quantity::unit::kilonewton;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::scenario::Unit;
use crate::rehearsal::sensors::Senses;

/// The shop file of all scenarios, word for word.
pub const SHOP_TOML: &str = concat!(
    include_str!("tarn-valley-shop.toml"),
    "\n#: logo file tarn-valley-logo.svg\n",
    include_str!("tarn-valley-logo.svg")
);

/// A worked example of a limits library; no scenario uses it.
pub const LIMITS_TOML: &str = include_str!("tarn-valley-limits.toml");

/// A good name for the shop file in a folder.
pub const SHOP_FILE_NAME: &str = "tarn-valley-shop.toml";

/// Oil and cylinder, plumbing and hold, sensors, limits: parts of the template, in order.
const PIECE: &str = include_str!("setup-piece.toml");
const PLAN: &str = include_str!("setup-plan.toml");
const SENSORS: &str = include_str!("setup-sensors.toml");
const ACCEPTANCE: &str = include_str!("setup-acceptance.toml");

/// What the piece on the bench is, for the head of its setup file.
pub(super) struct Piece<'a> {
    /// Name of the scenario.
    pub name: &'a str,
    /// What it is, in one line.
    pub description: &'a str,
    /// Tag, machine and seal.
    pub unit: &'a Unit,
    /// Geometry.
    pub cylinder: &'a Cylinder,
    /// Rating of both ends, as it is written.
    pub rating: &'a str,
}

/// The setup file of a scenario.
pub(super) fn setup_toml(scenario: &Scenario) -> String {
    let piece = Piece {
        name: scenario.name,
        description: scenario.description,
        unit: &scenario.unit,
        cylinder: &scenario.specimen.cylinder,
        rating: "350 bar",
    };
    let plan = fill_circuit(PLAN.to_owned(), scenario);
    let acceptance = fill_circuit(ACCEPTANCE.to_owned(), scenario);
    let sensors = sensors_toml(&scenario.senses);
    [piece_toml(&piece), plan, sensors, acceptance].concat()
}

/// The parts of a setup file that say what is on the bench.
pub(super) fn piece_toml(piece: &Piece<'_>) -> String {
    fill_unit(PIECE.to_owned(), piece)
}

/// The parts of a setup file that say what is known of the sensors.
pub(super) fn sensors_toml(senses: &Senses) -> String {
    fill_sensors(SENSORS.to_owned(), senses)
}

fn fill(text: String, cells: &[(&str, String)]) -> String {
    cells.iter().fold(text, |text, (name, value)| {
        text.replace(&format!("@{name}@"), value)
    })
}

fn fill_unit(text: String, piece: &Piece<'_>) -> String {
    let cylinder = piece.cylinder;
    let size = cylinder.size();
    let mm = |length: Length| number(length.get::<millimeter>());
    let unit = piece.unit;
    fill(
        text,
        &[
            ("name", piece.name.to_owned()),
            ("description", piece.description.to_owned()),
            ("tag", unit.tag.to_owned()),
            ("unit", unit.description.to_owned()),
            ("machine", unit.machine.to_owned()),
            ("seal", unit.seal.to_owned()),
            ("kind", cylinder.kind().word().to_owned()),
            ("bore", mm(size.bore)),
            ("rod", mm(size.rod)),
            ("stroke", mm(size.stroke)),
            ("wall", size.wall.map_or("0".to_owned(), mm)),
            ("cap_dead", drawn(size.cap_dead_volume)),
            ("rod_dead", drawn(size.rod_dead_volume)),
            ("cap_rating", piece.rating.to_owned()),
            (
                "rod_rating_line",
                rod_rating_line(cylinder.kind(), piece.rating),
            ),
        ],
    )
}

/// The rod side's rating, of kinds that hold pressure there.
fn rod_rating_line(kind: Kind, rating: &str) -> String {
    match kind.chambers().contains(&Chamber::Rod) {
        true => format!("rod_rating = \"{rating}\"\n"),
        false => String::new(),
    }
}

/// A dead volume as the drawing gives it, in round tens of millilitres.
fn drawn(volume: Volume) -> String {
    number(10.0 * (volume.get::<milliliter>() / 10.0).round())
}

fn fill_circuit(text: String, scenario: &Scenario) -> String {
    let circuit = &scenario.circuit;
    let (rod_hold, load) = match circuit.rod {
        RodHold::PushedIn { load } => ("pushed_in", load),
        RodHold::PulledOut { load } => ("pulled_out", load),
        RodHold::Locked => ("locked", None),
        RodHold::Bottomed => ("bottomed", None),
    };
    let load_line = load.map_or(String::new(), |load: Force| {
        format!("load = \"{} kN\"\n", number(load.get::<kilonewton>()))
    });
    let limits: Vec<String> = scenario
        .limits
        .iter()
        .map(|id| format!("\"{id}\""))
        .collect();
    let probe = scenario.senses.probe.chamber.word();
    fill(
        text,
        &[
            ("cap_port", port_word(circuit.cap_port).to_owned()),
            ("rod_port", port_word(circuit.rod_port).to_owned()),
            ("rod_hold", rod_hold.to_owned()),
            ("load_line", load_line),
            ("circuit_lines", circuit_lines(circuit)),
            ("probe", probe.to_owned()),
            ("cap_hose", number(circuit.cap_hose.get::<milliliter>())),
            ("rod_hose", number(circuit.rod_hose.get::<milliliter>())),
            ("settle", number(scenario.settle_s)),
            ("length", number(scenario.hold_s)),
            ("limits", limits.join(", ")),
        ],
    )
}

fn fill_sensors(text: String, senses: &Senses) -> String {
    let [pressure, _, position, temperature] = senses.loops.map(|own| own.stated);
    fill(
        text,
        &[
            ("p_zero", number(pressure.zero / 1e5)),
            ("p_span", number(pressure.span_relative * 100.0)),
            ("p_per_k", number(pressure.zero_per_k / 1e5)),
            ("x_zero", number(position.zero * 1e3)),
            ("x_span", number(position.span_relative * 100.0)),
            ("t_zero", number(temperature.zero)),
        ],
    )
}

fn port_word(port: Port) -> &'static str {
    match port {
        Port::Blocked => "blocked",
        Port::OnValve => "on_valve",
        Port::OpenToVessel => "open_to_vessel",
        Port::Supplied => "supplied",
    }
}

/// Lines of the circuit that most setups do not need.
fn circuit_lines(circuit: &Circuit) -> String {
    let valve = |key: &str, valve: HoldingValve| match valve {
        HoldingValve::Absent => String::new(),
        HoldingValve::InPlace => format!("{key} = \"in_place\"\n"),
        HoldingValve::Swapped => format!("{key} = \"swapped\"\n"),
    };
    let opens_at = circuit.opens_at.map_or(String::new(), |pressure| {
        format!("opens_at = \"{} bar\"\n", number(pressure.bar()))
    });
    let supply = circuit.supply.map_or(String::new(), |pressure| {
        format!("supply = \"{} bar\"\n", number(pressure.bar()))
    });
    let beside = circuit.beside.map_or(String::new(), |beside| {
        format!("other_cylinder = \"{}\"\n", beside.word())
    });
    let joined = if circuit.joined {
        "joined = true\n"
    } else {
        ""
    };
    [
        valve("cap_holding_valve", circuit.cap_holding_valve),
        valve("rod_holding_valve", circuit.rod_holding_valve),
        opens_at,
        supply,
        joined.to_owned(),
        beside,
    ]
    .concat()
}

/// Six digits after the point at most, without trailing zeros.
fn number(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::inquiry::inquiries;
    use crate::rehearsal::scenario::scenarios;

    #[test]
    fn nothing_of_the_template_is_left_open() {
        let phases = inquiries().into_iter().flat_map(|inquiry| inquiry.phases);
        let of_phases = phases.map(|phase| phase.scenario);
        for scenario in scenarios().into_iter().chain(of_phases) {
            let text = setup_toml(&scenario);
            assert!(!text.contains('@'), "{}: {text}", scenario.name);
        }
    }

    #[test]
    fn every_limit_a_scenario_asks_for_is_in_the_shop_file() {
        for scenario in scenarios() {
            for limit in &scenario.limits {
                assert!(
                    SHOP_TOML.contains(&format!("id = \"{limit}\"")),
                    "{limit} of {}",
                    scenario.name
                );
            }
        }
    }

    #[test]
    fn numbers_are_written_as_a_fitter_would() {
        for (value, text) in [(60.0, "60"), (0.05, "0.05"), (0.0, "0"), (0.1 * 3.0, "0.3")] {
            assert_eq!(number(value), text);
        }
    }
}
