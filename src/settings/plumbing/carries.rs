//! Whether something in the circuit carries the load that is stated.

use super::CircuitTable;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::quantity::GaugePressure;
use crate::settings::SettingsError;
use crate::settings::Source;

/// The setting of the valve that holds the load. What another cylinder carries of it is not
/// known; a setting is then not held against the load.
pub(super) fn opens_at(
    source: &Source<'_>,
    table: &CircuitTable,
    circuit: &Circuit,
    cylinder: Option<&Cylinder>,
) -> Result<Option<GaugePressure>, SettingsError> {
    let Some(place) = &table.opens_at else {
        return Ok(None);
    };
    let pressure = place.get_ref().get();
    let holding = circuit.holding_chamber();
    if pressure.pa() <= 0.0 {
        return Err(source.error(place, "`opens_at` must be above 0 bar"));
    }
    if circuit.port(holding) != Port::OnValve {
        let message = format!(
            "`opens_at` is the setting of a valve that holds the load, but the {side} port is on none; \
             leave it away, or write on_valve for `{side}_port`",
            side = holding.word()
        );
        return Err(source.error(place, message));
    }
    let (RodHold::PushedIn { load: Some(load) } | RodHold::PulledOut { load: Some(load) }) =
        circuit.rod
    else {
        return Ok(Some(pressure));
    };
    let needed = cylinder.and_then(|cylinder| cylinder.holding_pressure(holding, load));
    match needed.filter(|needed| table.other_cylinder.is_none() && pressure.pa() <= needed.pa()) {
        Some(needed) => {
            let message = format!(
                "`opens_at`: that valve does not hold this load, which alone makes {:.1} bar on the {} side; check setting, \
                 load and bore",
                needed.bar(),
                holding.word()
            );
            Err(source.error(place, message))
        }
        None => Ok(Some(pressure)),
    }
}

/// Refuses a load on a side that is open, and a held rod with no side that is shut. What a
/// supply pushes out is no load.
pub(super) fn stands(
    source: &Source<'_>,
    table: &CircuitTable,
    circuit: &Circuit,
) -> Result<(), SettingsError> {
    let holding = circuit.holding_chamber();
    let place = match (holding, &table.rod_port) {
        (Chamber::Rod, Some(rod_port)) => rod_port,
        _ => &table.cap_port,
    };
    if circuit.port(holding) != Port::OpenToVessel {
        return Ok(());
    }
    let side = holding.word();
    match circuit.rod {
        RodHold::PulledOut { load: None } if circuit.supply.is_some() => Ok(()),
        RodHold::PushedIn { .. } | RodHold::PulledOut { .. } => {
            let message = format!(
                "the {side} side carries the load, and its port is open to a vessel: the load would fall; shut that port, or \
                 correct `rod`"
            );
            Err(source.error(place, message))
        }
        RodHold::Locked | RodHold::Bottomed => {
            let none_shut = circuit.port(holding.other()) == Port::OpenToVessel;
            let message = "no port is shut, so there is nothing to hold; shut the port of the side that is tested";
            match none_shut {
                true => Err(source.error(place, message)),
                false => Ok(()),
            }
        }
    }
}
