//! `setup.toml`: one test on one piece.

use super::SettingsError;
use super::Shop;
use super::Source;
use super::by_eye::EyeTable;
use super::by_eye::as_sensors;
use super::by_eye::by_eye;
use super::hold::HoldTable;
use super::hold::Meant;
use super::hold::meant;
use super::hold::plan;
use super::limits::Asking;
use super::limits::Level;
use super::plumbing::CircuitTable;
use super::plumbing::StiffnessTable;
use super::plumbing::circuit;
use super::read;
use super::sensor::SensorSetup;
use super::sensor::SensorTable;
use super::sensor::sensor;
use super::supply::refer_to_supply;
use super::text::Text;
use crate::account::Fluid;
use crate::account::Stated;
use crate::account::Subject;
use crate::channel::ByEye;
use crate::channel::Role;
use crate::circuit::Circuit;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::cylinder::Part;
use crate::cylinder::Piece;
use crate::cylinder::Rating;
use crate::cylinder::Ratings;
use crate::cylinder::RigidChamber;
use crate::cylinder::UnitIdentity;
use crate::oil::DataSheet;
use crate::oil::Oil;
use crate::procedure::HoldPlan;
use crate::quantity::Expansion;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::MassDensity;
use crate::quantity::Pressure;
use crate::quantity::Viscosity;
use crate::quantity::Volume;
use crate::verdict::Limit;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// A test as its setup file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Which piece.
    pub unit: UnitIdentity,
    /// Ratings of its ends.
    pub ratings: Ratings,
    /// Piece, fluid and plumbing.
    pub subject: Subject,
    /// Settling and holding.
    pub plan: HoldPlan,
    /// How it is meant to stand when the hold begins, as far as it is written.
    pub meant: Meant,
    /// The sensors.
    pub sensors: Vec<SensorSetup>,
    /// Limits it is to be held against; none to measure only.
    pub limits: Vec<Limit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SetupFile {
    unit: UnitTable,
    cylinder: Option<Spanned<CylinderTable>>,
    chamber: Option<ChamberTable>,
    oil: Option<Spanned<OilTable>>,
    gas: Option<GasTable>,
    circuit: Option<Spanned<CircuitTable>>,
    measured_stiffness: Option<Spanned<StiffnessTable>>,
    #[serde(default)]
    ratings: RatingsTable,
    hold: Spanned<HoldTable>,
    sensors: Option<BTreeMap<String, Spanned<SensorTable>>>,
    #[serde(default)]
    by_eye: BTreeMap<String, Spanned<EyeTable>>,
    acceptance: Option<Spanned<AcceptanceTable>>,
}

impl SetupFile {
    fn sensor(&self, role: Role) -> Option<&Spanned<SensorTable>> {
        self.sensors.as_ref()?.get(role.word())
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UnitTable {
    tag: String,
    #[serde(default)]
    description: String,
    #[serde(default)]
    machine: String,
    #[serde(default)]
    serial: String,
    #[serde(default)]
    seal: String,
    #[serde(default)]
    ports: String,
    #[serde(default)]
    holding_valve: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CylinderTable {
    kind: KindWord,
    bore: Text<Length>,
    rod: Text<Length>,
    stroke: Text<Length>,
    wall: Option<Text<Length>>,
    cap_dead_volume: Text<Volume>,
    rod_dead_volume: Option<Text<Volume>>,
    cap_rating: Option<Text<GaugePressure>>,
    rod_rating: Option<Spanned<Text<GaugePressure>>>,
}

#[derive(Deserialize, Debug, Clone, Copy)]
#[serde(rename_all = "snake_case")]
pub(super) enum KindWord {
    DoubleActing,
    DoubleRod,
    SingleActing,
    Plunger,
    TelescopicStage,
}

impl From<KindWord> for Kind {
    fn from(word: KindWord) -> Self {
        match word {
            KindWord::DoubleActing => Self::DoubleActing,
            KindWord::DoubleRod => Self::DoubleRod,
            KindWord::SingleActing => Self::SingleActing,
            KindWord::Plunger => Self::Plunger,
            KindWord::TelescopicStage => Self::TelescopicStage,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ChamberTable {
    volume: Option<Text<Volume>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OilTable {
    name: String,
    viscosity_40c: Text<Viscosity>,
    viscosity_100c: Text<Viscosity>,
    expansion: Text<Expansion>,
    stiffness: Text<Pressure>,
    density_15c: Option<Text<MassDensity>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GasTable {}

/// Ratings of what is plumbed to the cylinder.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct RatingsTable {
    cap_plug: Option<Text<GaugePressure>>,
    cap_hose: Option<Text<GaugePressure>>,
    rod_plug: Option<Text<GaugePressure>>,
    rod_hose: Option<Text<GaugePressure>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AcceptanceTable {
    limits: Vec<String>,
    level: Option<Level>,
    motion_ratio: Option<f64>,
}

impl Setup {
    /// Reads a setup file; `file` is its name in errors. Limits it names are taken
    /// from `shop`.
    ///
    /// # Errors
    /// With file, line, what is wrong and what would be right.
    pub fn parse(file: &str, text: &str, shop: Option<&Shop>) -> Result<Self, SettingsError> {
        let source = Source { file, text };
        let found: SetupFile = read(file, text)?;
        let (piece, ratings) = piece(&source, &found)?;
        let asking = Asking {
            cylinder: piece.cylinder(),
            seal: &found.unit.seal,
            level: found.acceptance.as_ref().and_then(|t| t.get_ref().level),
            load_ratio: load_ratio(&source, &found)?,
        };
        let limits = limits(&source, found.acceptance.as_ref(), shop, &asking)?;
        agree(&source, found.acceptance.as_ref(), &limits)?;
        let meant = meant(&source, found.hold.get_ref(), &piece)?;
        let stated = Stated {
            pressure: limits.iter().find_map(|l| l.at_pressure).or(meant.pressure),
            temperature: limits.iter().find_map(|l| l.at_temperature),
        };
        let fluid = fluid(&source, &found)?;
        let circuit = circuit(
            &source,
            found.circuit.as_ref(),
            found.measured_stiffness.as_ref(),
            &piece,
        )?;
        let plan = plan(&source, &found.hold)?;
        let (sensors, by_eye) = readers(&source, &found, (&circuit, &piece), meant.at)?;
        let UnitTable {
            tag,
            description,
            machine,
            serial,
            seal,
            ports,
            holding_valve,
        } = found.unit;
        let own = found.cylinder.as_ref().map(|table| table.get_ref());
        Ok(Self {
            unit: UnitIdentity {
                tag,
                description,
                machine,
                serial,
                seal,
                ports,
                holding_valve,
                cap_rating: own.and_then(|t| t.cap_rating.as_ref().map(Text::get)),
                rod_rating: own.and_then(|t| t.rod_rating.as_ref().map(|r| r.get_ref().get())),
            },
            ratings,
            subject: Subject {
                piece,
                fluid,
                circuit,
                stated,
                by_eye,
            },
            plan,
            meant,
            sensors,
            limits,
        })
    }
}

/// What reads the piece: sensors, or instruments that a person reads, which come as sensors too.
fn readers(
    source: &Source<'_>,
    found: &SetupFile,
    (circuit, piece): (&Circuit, &Piece),
    rod_out: Option<Length>,
) -> Result<(Vec<SensorSetup>, Option<ByEye>), SettingsError> {
    let mut sensors = Vec::new();
    for (word, table) in found.sensors.iter().flatten() {
        let found = sensor(source, word, table)?;
        let is_placed = circuit.probe.is_some() || piece.cylinder().is_none();
        if found.role == Role::OilTemperature && !is_placed {
            let message = "`sensors.t_oil` measures the oil of one end: say which in [circuit], probe = \"cap\" or \
                           \"rod\"; what cannot be placed is not counted";
            return Err(source.error(table, message));
        }
        sensors.push(found);
    }
    if let Some(tables) = &found.sensors {
        refer_to_supply(source, tables, &mut sensors)?;
    }
    let by_eye = by_eye(
        source,
        &found.by_eye,
        found.sensors.is_some(),
        (&found.hold, rod_out),
    )?;
    if let Some(by_eye) = &by_eye {
        let thermometer = found.by_eye.get(Role::OilTemperature.word());
        if let Some(table) = thermometer.filter(|_| circuit.probe.is_none()) {
            let message = "`by_eye.t_oil` reads the oil of one end: say which in [circuit], probe = \"cap\" or \"rod\"";
            return Err(source.error(table, message));
        }
        sensors = as_sensors(by_eye);
    }
    Ok((sensors, by_eye))
}

fn piece(source: &Source<'_>, found: &SetupFile) -> Result<(Piece, Ratings), SettingsError> {
    match (&found.cylinder, &found.chamber) {
        (Some(table), None) => {
            let t = table.get_ref();
            let kind = Kind::from(t.kind);
            let size = Dimensions {
                bore: t.bore.get(),
                rod: t.rod.get(),
                stroke: t.stroke.get(),
                wall: t.wall.as_ref().map(Text::get),
                cap_dead_volume: t.cap_dead_volume.get(),
                rod_dead_volume: t
                    .rod_dead_volume
                    .as_ref()
                    .map_or_else(Volume::default, Text::get),
            };
            let cylinder =
                Cylinder::new(kind, size).map_err(|e| source.error(table, e.to_string()))?;
            if let Some(rating) = t.rod_rating.as_ref().filter(|_| kind.chambers().len() == 1) {
                let message = "`rod_rating`: this kind has no rod side that holds pressure; leave the key away";
                return Err(source.error(rating, message));
            }
            Ok((Piece::Cylinder(cylinder), ratings(found)))
        }
        (None, Some(table)) => {
            let volume = table.volume.as_ref().map(Text::get);
            Ok((Piece::Chamber(RigidChamber { volume }), Ratings::default()))
        }
        _ => {
            Err(source
                .whole("a setup needs either a [cylinder] or a [chamber] table, and not both"))
        }
    }
}

/// The weakest part of each end, of those whose rating is written.
fn ratings(found: &SetupFile) -> Ratings {
    let cylinder = found.cylinder.as_ref().map(|table| table.get_ref());
    let own = |chamber: Chamber| {
        cylinder.and_then(|t| match chamber {
            Chamber::Cap => t.cap_rating.as_ref().map(Text::get),
            Chamber::Rod => t.rod_rating.as_ref().map(|r| r.get_ref().get()),
        })
    };
    let others = &found.ratings;
    let sensor = |role: Role| {
        let of_sensor = found.sensor(role);
        let of_sensor = of_sensor.and_then(|table| table.get_ref().rating.as_ref());
        let of_gauge = found.by_eye.get(role.word());
        let of_gauge = of_gauge.and_then(|table| table.get_ref().rating.as_ref());
        of_sensor.or(of_gauge).map(Text::get)
    };
    let of = |chamber, plug: &Option<Text<_>>, hose: &Option<Text<_>>, role| {
        let parts = [
            (Part::Cylinder, own(chamber)),
            (Part::Plug, plug.as_ref().map(Text::get)),
            (Part::Hose, hose.as_ref().map(Text::get)),
            (Part::Sensor, sensor(role)),
        ];
        let known = parts.into_iter().filter_map(|(part, pressure)| {
            Some(Rating {
                pressure: pressure?,
                part,
            })
        });
        known.min_by(|a, b| a.pressure.pa().total_cmp(&b.pressure.pa()))
    };
    Ratings {
        cap: of(
            Chamber::Cap,
            &others.cap_plug,
            &others.cap_hose,
            Role::CapPressure,
        ),
        rod: of(
            Chamber::Rod,
            &others.rod_plug,
            &others.rod_hose,
            Role::RodPressure,
        ),
    }
}

fn fluid(source: &Source<'_>, found: &SetupFile) -> Result<Fluid, SettingsError> {
    match (&found.oil, &found.gas) {
        (Some(table), None) => {
            let t = table.get_ref();
            Oil::of(DataSheet {
                name: t.name.clone(),
                viscosity_40: t.viscosity_40c.get(),
                viscosity_100: t.viscosity_100c.get(),
                expansion: t.expansion.get(),
                stiffness: t.stiffness.get(),
                density_15: t.density_15c.as_ref().map(Text::get),
            })
            .map(Fluid::Oil)
            .map_err(|e| source.error(table, e.to_string()))
        }
        (None, Some(GasTable {})) => Ok(Fluid::Gas),
        _ => Err(source.whole("a setup needs either an [oil] or a [gas] table, and not both")),
    }
}

/// Flows are stated at one condition: limits for different ones need a test each.
fn agree(
    source: &Source<'_>,
    table: Option<&Spanned<AcceptanceTable>>,
    limits: &[Limit],
) -> Result<(), SettingsError> {
    let pressures = limits.iter().filter_map(|l| l.at_pressure.map(|p| p.pa()));
    let temperatures = limits
        .iter()
        .filter_map(|l| l.at_temperature.map(|t| t.value));
    let differ = |mut values: Box<dyn Iterator<Item = f64> + '_>| {
        let first = values.next();
        values.any(|v| Some(v) != first)
    };
    match table {
        Some(table) if differ(Box::new(pressures)) || differ(Box::new(temperatures)) => Err(source.error(
            table,
            "these limits are stated for different pressures or temperatures; name only those for one condition",
        )),
        _ => Ok(()),
    }
}

fn limits(
    source: &Source<'_>,
    table: Option<&Spanned<AcceptanceTable>>,
    shop: Option<&Shop>,
    asking: &Asking<'_>,
) -> Result<Vec<Limit>, SettingsError> {
    let Some(table) = table else {
        return Ok(Vec::new());
    };
    let wanted = &table.get_ref().limits;
    if wanted.is_empty() {
        return Ok(Vec::new());
    }
    let Some(shop) = shop else {
        return Err(source.error(table, "limits are named, but there is no shop file they could come from; give --shop shop.toml"));
    };
    let mut limits = Vec::new();
    for (index, id) in wanted.iter().enumerate() {
        let set = shop.limits.iter().find(|l| l.id == *id).ok_or_else(|| {
            let known: Vec<&str> = shop.limits.iter().map(|l| l.id.as_str()).collect();
            source.error(
                table,
                format!(
                    "the shop file has no limit `{id}`; it has: {}",
                    known.join(", ")
                ),
            )
        })?;
        // A table named twice has its rows once, else two would be for one unit.
        if set.is_table() && wanted[..index].contains(id) {
            continue;
        }
        let found = set.limits_for(asking);
        limits.extend(found.map_err(|message| source.error(table, message))?);
    }
    Ok(limits)
}

/// How far the load moves by what the rod moves, if it is said at the sensor or for limits.
fn load_ratio(source: &Source<'_>, found: &SetupFile) -> Result<Option<f64>, SettingsError> {
    let sensor = found.sensor(Role::Position);
    let of_sensor = sensor.and_then(|table| table.get_ref().motion_ratio);
    let of_limits = found.acceptance.as_ref();
    let Some((table, ratio)) = of_limits.and_then(|t| Some((t, t.get_ref().motion_ratio?))) else {
        return Ok(of_sensor);
    };
    if !(0.05..=50.0).contains(&ratio) {
        let message =
            "`motion_ratio` is how far the load moves by what the rod moves, between 0.05 and 50";
        return Err(source.error(table, message));
    }
    match of_sensor {
        Some(other) if (other - ratio).abs() > 1e-9 * ratio => Err(source.error(
            table,
            format!("`motion_ratio` is {ratio} here and {other} in [sensors.x]; a load has one"),
        )),
        _ => Ok(Some(ratio)),
    }
}
