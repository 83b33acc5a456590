//! The setup of a hold, as a user would have written it.

use super::draw::Hold;
use stillrod::circuit::HoldingValve;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::quantity::unit::gigapascal;
use stillrod::quantity::unit::kelvin;
use stillrod::quantity::unit::kilonewton;
use stillrod::quantity::unit::milliliter;
use stillrod::quantity::unit::millimeter;

/// The whole file.
pub fn setup_toml(hold: &Hold) -> String {
    format!(
        "[unit]\ntag = \"TV-{:04}\"\ndescription = \"hold {} of a campaign\"\n\n{}\n{}\n{}\n{}\
         [hold]\nsettle = \"{} s\"\nlength = \"{} s\"\n\n{}",
        hold.index % 10_000,
        hold.index,
        hold.drawing_toml,
        oil(hold),
        circuit(hold),
        stiffness(hold),
        hold.settle_s,
        hold.hold_s,
        sensors(hold)
    )
}

fn oil(hold: &Hold) -> String {
    let oil = hold.specimen.oil.viscosity.as_ref().expect("a data sheet");
    let viscosity = |celsius: f64| {
        use stillrod::quantity::Temperature;
        oil.viscosity(Temperature::new::<kelvin>(celsius + 273.15))
            .mm2_per_s()
    };
    format!(
        "[oil]\nname = \"{}\"\nviscosity_40c = \"{:.1} mm²/s\"\nviscosity_100c = \"{:.1} mm²/s\"\n\
         expansion = \"{:.6} 1/K\"\nstiffness = \"{:.2} GPa\"\n",
        oil.name(),
        viscosity(40.0),
        viscosity(100.0),
        oil.expansion().per_kelvin(),
        oil.stiffness().get::<gigapascal>(),
    )
}

fn circuit(hold: &Hold) -> String {
    let circuit = &hold.circuit;
    let port = |port| match port {
        Port::Blocked => "blocked",
        Port::OnValve => "on_valve",
        Port::OpenToVessel => "open_to_vessel",
        Port::Supplied => "supplied",
    };
    let (rod, load) = match circuit.rod {
        RodHold::PushedIn { load } => ("pushed_in", load),
        RodHold::PulledOut { load } => ("pulled_out", load),
        RodHold::Locked => ("locked", None),
        RodHold::Bottomed => ("bottomed", None),
    };
    let load = load.map_or(String::new(), |load| {
        format!("load = \"{:.1} kN\"\n", load.get::<kilonewton>())
    });
    format!(
        "[circuit]\ncap_port = \"{}\"\nrod_port = \"{}\"\nrod = \"{rod}\"\n{load}probe = \"{}\"\n\
         cap_hose_volume = \"{} mL\"\nrod_hose_volume = \"{} mL\"\n{}",
        port(circuit.cap_port),
        port(circuit.rod_port),
        hold.senses.probe.chamber.word(),
        circuit.cap_hose.get::<milliliter>().round(),
        circuit.rod_hose.get::<milliliter>().round(),
        seldom(hold),
    )
}

/// What most setups leave away.
fn seldom(hold: &Hold) -> String {
    let valve = |key: &str, valve: HoldingValve| match valve {
        HoldingValve::Absent => String::new(),
        HoldingValve::InPlace => format!("{key} = \"in_place\"\n"),
        HoldingValve::Swapped => format!("{key} = \"swapped\"\n"),
    };
    let joined = if hold.circuit.joined {
        "joined = true\n"
    } else {
        ""
    };
    [
        valve("cap_holding_valve", hold.circuit.cap_holding_valve),
        valve("rod_holding_valve", hold.circuit.rod_holding_valve),
        joined.to_owned(),
    ]
    .concat()
}

fn stiffness(hold: &Hold) -> String {
    let Some(measured) = &hold.circuit.stiffness else {
        return String::new();
    };
    let step = measured.step();
    format!(
        "[measured_stiffness]\nchamber = \"{}\"\nrod_at = \"{:.0} mm\"\nfrom = \"{:.0} bar\"\nto = \"{:.0} bar\"\n\
         pace = \"quick\"\nstiffness = \"{:.5} GPa\"\nuncertainty = \"{:.2} %\"\n\n",
        step.chamber.word(),
        step.at.get::<millimeter>(),
        step.from.bar(),
        step.to.bar(),
        measured.value().get::<gigapascal>(),
        measured.standard().percent(),
    )
}

fn sensors(hold: &Hold) -> String {
    let rows = [
        ("p_cap", 0, 1e5, "bar"),
        ("p_rod", 1, 1e5, "bar"),
        ("x", 2, 1e-3, "mm"),
        ("t_oil", 3, 1.0, "K"),
    ];
    rows.map(|(word, channel, unit_si, unit)| {
        let stated = hold.senses.loops[channel].stated;
        format!(
            "[sensors.{word}]\nchannel = {channel}\nzero_uncertainty = \"{:.6} {unit}\"\n\
             span_uncertainty_percent = {:.4}\nzero_drift_per_k = \"{:.8} {unit}\"\n",
            stated.zero / unit_si,
            stated.span_relative * 100.0,
            stated.zero_per_k / unit_si
        )
    })
    .join("\n")
}
