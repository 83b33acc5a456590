//! The tables `[circuit]` and `[measured_stiffness]` of a setup.
//!
//! What contradicts the kind of cylinder, or would make a test that can show nothing,
//! is refused at its own line. A side without pressure needs no words: its port counts
//! as open.

mod carries;

use super::SettingsError;
use super::Source;
use super::text::Text;
use crate::circuit::Beside;
use crate::circuit::Circuit;
use crate::circuit::Enclosure;
use crate::circuit::HoldingValve;
use crate::circuit::MeasuredStiffness;
use crate::circuit::Pace;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::circuit::Step;
use crate::circuit::StiffnessError;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::quantity::Force;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Pressure;
use crate::quantity::Share;
use crate::quantity::Uncertain;
use crate::quantity::Volume;
use crate::quantity::unit::gigapascal;
use crate::quantity::unit::pascal;
use serde::Deserialize;
use toml::Spanned;

/// Stiffest oil at the atmosphere that a setup may name, and how fast it rises with
/// pressure at most (textbooks say 10 to 12 times, from memory).
const STIFFEST_PA: f64 = 2.5e9;
const STIFFENING_MOST: f64 = 14.0;

/// Stiffest hose against its oil, Pa: five times the usual one (common practice, no source).
const STIFFEST_HOSE_PA: f64 = 1e9;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CircuitTable {
    cap_port: Spanned<PortWord>,
    rod_port: Option<Spanned<PortWord>>,
    cap_holding_valve: Option<Spanned<ValveWord>>,
    rod_holding_valve: Option<Spanned<ValveWord>>,
    opens_at: Option<Spanned<Text<GaugePressure>>>,
    joined: Option<Spanned<bool>>,
    supply: Option<Spanned<Text<GaugePressure>>>,
    rod: Spanned<RodWord>,
    load: Option<Spanned<Text<Force>>>,
    other_cylinder: Option<Spanned<BesideWord>>,
    probe: Option<ChamberWord>,
    cap_hose_volume: Option<Spanned<Text<Volume>>>,
    rod_hose_volume: Option<Spanned<Text<Volume>>>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum PortWord {
    Blocked,
    OnValve,
    OpenToVessel,
    Supplied,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum ValveWord {
    Absent,
    InPlace,
    Swapped,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum RodWord {
    PushedIn,
    PulledOut,
    Locked,
    Bottomed,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum BesideWord {
    Apart,
    OnLine,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum ChamberWord {
    Cap,
    Rod,
}

/// A stiffness, or the readings it comes from: what was pressed in, or how far the rod
/// was moved.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StiffnessTable {
    chamber: Spanned<ChamberWord>,
    rod_at: Spanned<Text<Length>>,
    from: Text<GaugePressure>,
    to: Text<GaugePressure>,
    pace: PaceWord,
    stiffness: Option<Text<Pressure>>,
    uncertainty: Option<Text<Share>>,
    injected: Option<Text<Volume>>,
    injected_uncertainty: Option<Text<Volume>>,
    moved: Option<Text<Length>>,
    moved_uncertainty: Option<Text<Length>>,
    volume_uncertainty: Option<Text<Volume>>,
    pressure_uncertainty: Option<Text<GaugePressure>>,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum PaceWord {
    Quick,
    Slow,
}

/// The circuit that the tables describe.
pub(super) fn circuit(
    source: &Source<'_>,
    table: Option<&Spanned<CircuitTable>>,
    stiffness: Option<&Spanned<StiffnessTable>>,
    piece: &Piece,
) -> Result<Circuit, SettingsError> {
    let Some(table) = table else {
        return match piece {
            // A plain chamber has one port, which is shut.
            Piece::Chamber(_) => Ok(Circuit::plain(
                Port::Blocked,
                Port::Blocked,
                RodHold::Locked,
            )),
            Piece::Cylinder(_) => {
                Err(source.whole("a cylinder needs a [circuit] table: ports, rod, load"))
            }
        };
    };
    let t = table.get_ref();
    let kind = piece.cylinder().map(Cylinder::kind);
    let mut circuit = Circuit {
        cap_holding_valve: holding_valve(source, t.cap_holding_valve.as_ref(), &t.cap_port)?,
        supply: supply(source, t)?,
        probe: t.probe.map(chamber),
        cap_hose: hose(source, t.cap_hose_volume.as_ref())?,
        rod_hose: hose(source, t.rod_hose_volume.as_ref())?,
        ..Circuit::plain(
            port(*t.cap_port.get_ref()),
            rod_port(source, table, kind)?,
            rod(source, t, kind)?,
        )
    };
    if let Some(rod_port) = &t.rod_port {
        circuit.rod_holding_valve = holding_valve(source, t.rod_holding_valve.as_ref(), rod_port)?;
    }
    circuit.opens_at = carries::opens_at(source, t, &circuit, piece.cylinder())?;
    circuit.joined = joined(source, t, kind, &circuit)?;
    circuit.beside = beside(source, t, &circuit)?;
    if kind.is_some() {
        carries::stands(source, t, &circuit)?;
    }
    let holding = circuit.holding_chamber();
    if circuit.port(holding) == Port::Supplied {
        let place = match (holding, &t.rod_port) {
            (Chamber::Rod, Some(rod_port)) => rod_port,
            _ => &t.cap_port,
        };
        let message = format!(
            "the {} side holds, and its supply would make up all that leaks: nothing could be measured; \
             shut that port off for the hold",
            holding.word()
        );
        return Err(source.error(place, message));
    }
    circuit.stiffness = match (stiffness, piece) {
        (None, _) => None,
        (Some(table), Piece::Cylinder(cylinder)) => {
            Some(measured(source, table, cylinder, &circuit)?)
        }
        (Some(table), Piece::Chamber(_)) => {
            let message = "[measured_stiffness] is for a cylinder's chamber; leave the table away";
            return Err(source.error(table, message));
        }
    };
    Ok(circuit)
}

fn port(word: PortWord) -> Port {
    match word {
        PortWord::Blocked => Port::Blocked,
        PortWord::OnValve => Port::OnValve,
        PortWord::OpenToVessel => Port::OpenToVessel,
        PortWord::Supplied => Port::Supplied,
    }
}

fn chamber(word: ChamberWord) -> Chamber {
    match word {
        ChamberWord::Cap => Chamber::Cap,
        ChamberWord::Rod => Chamber::Rod,
    }
}

fn has_rod_side(kind: Option<Kind>) -> bool {
    kind.is_none_or(|k| k.chambers().contains(&Chamber::Rod))
}

fn rod_port(
    source: &Source<'_>,
    table: &Spanned<CircuitTable>,
    kind: Option<Kind>,
) -> Result<Port, SettingsError> {
    let given = table.get_ref().rod_port.as_ref();
    let found = given.map(|word| port(*word.get_ref()));
    match (found, given, has_rod_side(kind)) {
        (Some(found), _, true) => Ok(found),
        (None, _, true) if kind.is_none() => Ok(Port::Blocked),
        (None, _, true) => Err(source.error(
            table,
            "[circuit] needs `rod_port`: blocked, on_valve, open_to_vessel or supplied",
        )),
        (None | Some(Port::OpenToVessel), ..) | (_, None, false) => Ok(Port::OpenToVessel),
        (Some(_), Some(word), false) => Err(source.error(
            word,
            "`rod_port`: this kind has no rod side that holds pressure; write \"open_to_vessel\" or leave the key away",
        )),
    }
}

fn rod(
    source: &Source<'_>,
    table: &CircuitTable,
    kind: Option<Kind>,
) -> Result<RodHold, SettingsError> {
    let load = table.load.as_ref().map(|load| load.get_ref().get());
    if let Some(place) = table
        .load
        .as_ref()
        .filter(|l| l.get_ref().get() <= Force::default())
    {
        let message = "`load` must be above zero; which way it acts is said by `rod`";
        return Err(source.error(place, message));
    }
    match table.rod.get_ref() {
        RodWord::PushedIn => Ok(RodHold::PushedIn { load }),
        RodWord::PulledOut if has_rod_side(kind) => Ok(RodHold::PulledOut { load }),
        RodWord::PulledOut => Err(source.error(
            &table.rod,
            "`rod`: this kind cannot hold a load that pulls out; write pushed_in, locked or bottomed",
        )),
        RodWord::Locked => Ok(RodHold::Locked),
        RodWord::Bottomed => Ok(RodHold::Bottomed),
    }
}

fn holding_valve(
    source: &Source<'_>,
    valve: Option<&Spanned<ValveWord>>,
    port: &Spanned<PortWord>,
) -> Result<HoldingValve, SettingsError> {
    let Some(valve) = valve else {
        return Ok(HoldingValve::Absent);
    };
    match (valve.get_ref(), port.get_ref()) {
        (ValveWord::Absent, _) => Ok(HoldingValve::Absent),
        (ValveWord::InPlace | ValveWord::Swapped, PortWord::OpenToVessel) => Err(source.error(
            valve,
            "a load-holding valve in place shuts the port that is said to be open to a vessel; \
             take the valve out, or write on_valve for the port",
        )),
        (ValveWord::InPlace, _) => Ok(HoldingValve::InPlace),
        (ValveWord::Swapped, _) => Ok(HoldingValve::Swapped),
    }
}

/// Whether both sides were brought to one pressure on purpose.
fn joined(
    source: &Source<'_>,
    table: &CircuitTable,
    kind: Option<Kind>,
    circuit: &Circuit,
) -> Result<bool, SettingsError> {
    let Some(place) = table.joined.as_ref().filter(|joined| *joined.get_ref()) else {
        return Ok(false);
    };
    let both = kind.is_some_and(Kind::has_piston_seal) && has_rod_side(kind);
    let shut = [circuit.cap_port, circuit.rod_port] == [Port::Blocked; 2];
    if !both || !shut || circuit.rod != RodHold::Locked {
        let message = "`joined`: only with both ports blocked, and the rod locked against extension: one pressure on two \
                       different areas pushes it out";
        return Err(source.error(place, message));
    }
    Ok(true)
}

fn beside(
    source: &Source<'_>,
    table: &CircuitTable,
    circuit: &Circuit,
) -> Result<Option<Beside>, SettingsError> {
    let Some(place) = &table.other_cylinder else {
        return Ok(None);
    };
    match place.get_ref() {
        BesideWord::Apart => Ok(Some(Beside::Apart)),
        BesideWord::OnLine if [circuit.cap_port, circuit.rod_port].contains(&Port::OnValve) => {
            Ok(Some(Beside::OnLine))
        }
        BesideWord::OnLine => Err(source.error(
            place,
            "`other_cylinder`: no port of this one is on a valve, so it shares no line; write \"apart\"",
        )),
    }
}

fn supply(
    source: &Source<'_>,
    table: &CircuitTable,
) -> Result<Option<GaugePressure>, SettingsError> {
    let supplied = [Some(&table.cap_port), table.rod_port.as_ref()]
        .into_iter()
        .flatten()
        .find(|word| matches!(word.get_ref(), PortWord::Supplied));
    match (supplied, &table.supply) {
        (None, None) => Ok(None),
        (Some(place), None) => Err(source.error(
            place,
            "a supplied port needs `supply`, the highest pressure that the supply can bring, such as \"210 bar\"",
        )),
        (None, Some(place)) => Err(source.error(
            place,
            "`supply` is given, but no port is supplied; leave it away, or write supplied for the port",
        )),
        (Some(_), Some(place)) => {
            let pressure = place.get_ref().get();
            if pressure.pa() > 0.0 {
                Ok(Some(pressure))
            } else {
                Err(source.error(place, "`supply` must be above 0 bar"))
            }
        }
    }
}

fn hose(
    source: &Source<'_>,
    volume: Option<&Spanned<Text<Volume>>>,
) -> Result<Volume, SettingsError> {
    match volume {
        None => Ok(Volume::default()),
        Some(place) if place.get_ref().get().value < 0.0 => {
            Err(source.error(place, "a hose volume must not be negative"))
        }
        Some(place) => Ok(place.get_ref().get()),
    }
}

fn measured(
    source: &Source<'_>,
    table: &Spanned<StiffnessTable>,
    cylinder: &Cylinder,
    circuit: &Circuit,
) -> Result<MeasuredStiffness, SettingsError> {
    let t = table.get_ref();
    let (side, at) = (chamber(*t.chamber.get_ref()), t.rod_at.get_ref().get());
    if !cylinder.kind().chambers().contains(&side) {
        let message = "`chamber`: this kind has no such chamber that holds pressure";
        return Err(source.error(&t.chamber, message));
    }
    if !(Length::default()..=cylinder.size().stroke).contains(&at) {
        let message = "`rod_at` lies outside the stroke";
        return Err(source.error(&t.rod_at, message));
    }
    let step = Step {
        chamber: side,
        at,
        from: t.from.get(),
        to: t.to.get(),
        pace: match t.pace {
            PaceWord::Quick => Pace::Quick,
            PaceWord::Slow => Pace::Slow,
        },
    };
    let enclosure = Enclosure {
        hose_stiffness: Pressure::new::<pascal>(STIFFEST_HOSE_PA),
        ..circuit.enclosure(cylinder, side, at)
    };
    let found = readings(t, step, enclosure.volume(), cylinder)
        .ok_or_else(|| {
            source.error(
                table,
                "[measured_stiffness] needs one of three: `stiffness` with `uncertainty`; `injected` with \
                 `injected_uncertainty`; `moved` with `moved_uncertainty`; the last two also `volume_uncertainty` and \
                 `pressure_uncertainty`",
            )
        })?
        .map_err(|e| source.error(table, format!("[measured_stiffness]: {e}")))?;
    let stiffest = Pressure::new::<pascal>(STIFFEST_PA + STIFFENING_MOST * step.to.pa());
    let most = enclosure.effective(stiffest);
    if found.value() * (1.0 - 3.0 * found.standard().part()) > most {
        let message = format!(
            "[measured_stiffness]: {:.2} GPa is more than wall and hose allow with any oil ({:.2} GPa); check volume, \
             `rod_at` and units",
            found.value().get::<gigapascal>(),
            most.get::<gigapascal>()
        );
        return Err(source.error(table, message));
    }
    Ok(found)
}

/// From whichever of the three forms is written; None if it is none or more than one.
fn readings(
    t: &StiffnessTable,
    step: Step,
    trapped: Volume,
    cylinder: &Cylinder,
) -> Option<Result<MeasuredStiffness, StiffnessError>> {
    let whole = || {
        Some((
            Uncertain {
                value: trapped,
                standard: t.volume_uncertainty.as_ref()?.get(),
            },
            Pressure::new::<pascal>(t.pressure_uncertainty.as_ref()?.get().pa()),
        ))
    };
    match (&t.stiffness, &t.injected, &t.moved) {
        (Some(value), None, None) => {
            let standard = t.uncertainty.as_ref()?.get();
            Some(MeasuredStiffness::stated(step, value.get(), standard))
        }
        (None, Some(value), None) => {
            let (trapped, pressure) = whole()?;
            let injected = Uncertain {
                value: value.get(),
                standard: t.injected_uncertainty.as_ref()?.get(),
            };
            Some(MeasuredStiffness::by_injection(
                step, trapped, injected, pressure,
            ))
        }
        (None, None, Some(value)) => {
            let (trapped, pressure) = whole()?;
            let moved = Uncertain {
                value: value.get(),
                standard: t.moved_uncertainty.as_ref()?.get(),
            };
            let area = cylinder.area(step.chamber);
            Some(MeasuredStiffness::by_rod(
                step, trapped, area, moved, pressure,
            ))
        }
        _ => None,
    }
}
