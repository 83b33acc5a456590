//! From a setup to the hold that it intends, with what had to be assumed.
//!
//! A setup says how a hold is plumbed and with which sensors, not always where the rod will
//! stand, at which pressure, or how much a sensor's readings scatter. What is not written is
//! assumed, and said.

use crate::account::FigureName;
use crate::account::PaperSensor;
use crate::account::PaperStart;
use crate::channel::Channel;
use crate::channel::NOMINAL_SUPPLY_V;
use crate::channel::Role;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::foresight::Intended;
use crate::procedure::Reach;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::number;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;
use crate::settings::SensorSetup;
use crate::settings::Setup;
use crate::verdict::DecisionRule;

/// A pressure where neither load nor hold says one, bar.
const PRESSURE_BAR: f64 = 100.0;

/// What a rod side is charged to where a figure is of it, bar.
const CHARGE_BAR: f64 = 15.0;

/// Oil where nothing is said, K: that of its data sheet.
const OIL_K: f64 = 313.15;

/// Steps in the range of a converter that nobody describes.
const STEPS: f64 = 65_536.0;

/// Range of a pressure sensor by the pressure of the hold.
const RANGE_TIMES: f64 = 1.6;

/// Noise of one reading as a part of what is stated of the zero: of sensors as the practice
/// bench draws them, no published source.
fn noise_part(role: Role) -> f64 {
    match role {
        Role::CapPressure | Role::RodPressure => 0.1,
        Role::Position => 0.02,
        Role::OilTemperature | Role::WallTemperature | Role::Supply => 0.06,
    }
}

/// Noise by steps where nothing is stated of a zero.
const NOISE_STEPS: f64 = 0.1;

/// The hold that a setup intends; None for a piece that is no cylinder. `reach` is what a step of
/// a procedure asks for, `channels` are those of the board where one is there. Beside it what was
/// assumed, as phrases.
pub fn intended(
    setup: &Setup,
    reach: Option<&Reach>,
    channels: Option<&[&Channel]>,
    rule: DecisionRule,
) -> Option<(Intended, Vec<String>)> {
    let subject = &setup.subject;
    let cylinder = subject.piece.cylinder()?;
    let mut assumed = Vec::new();
    let at = reach.and_then(|r| r.at).or(setup.meant.at);
    let x = at.unwrap_or_else(|| {
        let middle = cylinder.size().stroke * 0.5;
        let mm = middle.get::<meter>() * 1e3;
        assumed.push(format!(
            "the rod at {mm:.0} mm, in the middle of its stroke"
        ));
        middle
    });
    let (start, is_free) = start(setup, cylinder, reach, x, &mut assumed);
    let sensors = sensors(setup, cylinder, &start, channels, &mut assumed);
    let states_pressure = setup.limits.iter().any(|limit| {
        let row = limit.basis.row.as_ref();
        limit.at_pressure.is_some() || row.is_some_and(|row| row.pressure.is_some())
    });
    let intended = Intended {
        subject: subject.clone(),
        ratings: setup.ratings,
        sensors,
        start,
        place_is_free: reach.is_none_or(|r| r.at.is_none()),
        pressure_is_free: is_free && reach.is_none() && !states_pressure,
        plan: setup.plan,
        limits: setup.limits.clone(),
        rule,
    };
    Some((intended, assumed))
}

/// How the piece stands, and whether its pressure may be chosen.
fn start(
    setup: &Setup,
    cylinder: &Cylinder,
    reach: Option<&Reach>,
    x: Length,
    assumed: &mut Vec<String>,
) -> (PaperStart, bool) {
    let circuit = &setup.subject.circuit;
    let (holding, load) = match circuit.rod {
        RodHold::PushedIn { load } | RodHold::PulledOut { load } => {
            (circuit.holding_chamber(), load)
        }
        RodHold::Locked | RodHold::Bottomed => (circuit.holding_chamber(), None),
    };
    let side = reach.map_or(holding, |r| r.chamber);
    let other_side = side.other();
    let other = reach
        .and_then(|r| r.other)
        .or(setup.meant.other)
        .unwrap_or_else(|| uncharged(setup, cylinder, other_side, assumed));
    let by_load = load.and_then(|load| cylinder.holding_pressure(holding, load));
    // A charge adds to what the load makes.
    let of_charge = cylinder.area(other_side).value / cylinder.area(side).value.max(1e-9);
    let by_load = by_load.map(|p| GaugePressure::from_pa(p.pa() + other.pa() * of_charge));
    let known = reach
        .map(|r| r.pressure)
        .or(by_load)
        .or(setup.subject.stated.pressure);
    let pressure = known.unwrap_or_else(|| {
        assumed.push(format!("{PRESSURE_BAR:.0} bar at the {} end", side.word()));
        GaugePressure::from_bar(PRESSURE_BAR)
    });
    let other = if circuit.joined { pressure } else { other };
    let (cap, rod) = match side {
        Chamber::Cap => (pressure, other),
        Chamber::Rod => (other, pressure),
    };
    let oil = setup.subject.stated.temperature.or_else(|| {
        let band = setup
            .limits
            .iter()
            .find_map(|l| l.basis.row.as_ref()?.oil.as_ref())?;
        let k = 0.5 * (band.from_si + band.to_si);
        assumed.push(format!("oil of {:.0} °C", k - 273.15));
        Some(Temperature::new::<kelvin>(k))
    });
    let start = PaperStart {
        x,
        cap,
        rod,
        oil: oil.unwrap_or_else(|| Temperature::new::<kelvin>(OIL_K)),
    };
    (start, by_load.is_none() && reach.is_none())
}

/// Pressure of the end that does not hold, where nothing is written.
fn uncharged(
    setup: &Setup,
    cylinder: &Cylinder,
    chamber: Chamber,
    assumed: &mut Vec<String>,
) -> GaugePressure {
    let circuit = &setup.subject.circuit;
    if let Some(supply) = circuit.supply.filter(|_| !circuit.is_shut_in(chamber)) {
        return supply;
    }
    let is_there = cylinder.kind().chambers().contains(&chamber);
    let needs = setup.limits.iter().any(|limit| {
        matches!(
            limit.figure,
            FigureName::RodGain | FigureName::PistonBypass | FigureName::GlandLeakage
        )
    });
    if is_there && circuit.is_shut_in(chamber) && needs && !circuit.joined {
        let words = format!("the {} side charged to {CHARGE_BAR:.0} bar", chamber.word());
        assumed.push(words);
        return GaugePressure::from_bar(CHARGE_BAR);
    }
    GaugePressure::from_bar(0.0)
}

fn sensors(
    setup: &Setup,
    cylinder: &Cylinder,
    start: &PaperStart,
    channels: Option<&[&Channel]>,
    assumed: &mut Vec<String>,
) -> Vec<PaperSensor> {
    // The supply of the sensors tells nothing of the piece.
    let of_piece = setup.sensors.iter().filter(|s| s.role != Role::Supply);
    let made = of_piece.map(|sensor| {
        let role = sensor.role;
        let channel = channels.and_then(|all| all.iter().find(|c| c.role == role));
        let known = channel.map(|c| c.resolution_si()).or(sensor.resolution_si);
        let step_si = known.unwrap_or_else(|| {
            let step = usual_step(sensor, cylinder, start);
            let (number_si, unit) = match role {
                Role::CapPressure | Role::RodPressure => (step * 1e-5, "bar"),
                Role::Position => (step * 1e3, "mm"),
                Role::OilTemperature | Role::WallTemperature => (step, "K"),
                Role::Supply => (step, "V"),
            };
            let plain = role.plain();
            assumed.push(format!(
                "{plain} in steps of {} {unit}",
                number(number_si, 0.5 * number_si)
            ));
            step
        });
        let by_zero = noise_part(role) * sensor.errors.zero_si;
        PaperSensor {
            role,
            errors: channel.map_or(sensor.errors, |c| c.errors),
            step_si,
            noise_si: if by_zero > 0.0 {
                by_zero
            } else {
                NOISE_STEPS * step_si
            },
        }
    });
    made.collect()
}

/// The step of a converter that nobody describes: 16 bits of the sensor's range.
fn usual_step(sensor: &SensorSetup, cylinder: &Cylinder, start: &PaperStart) -> f64 {
    let by_signal = sensor
        .signal
        .map(|s| (s.range_si.1 - s.range_si.0).abs() / sensor.motion_ratio);
    let range = by_signal.unwrap_or_else(|| match sensor.role {
        Role::CapPressure | Role::RodPressure => {
            RANGE_TIMES * start.cap.pa().max(start.rod.pa()).max(10e5)
        }
        Role::Position => cylinder.size().stroke.value,
        Role::OilTemperature | Role::WallTemperature => 100.0,
        Role::Supply => NOMINAL_SUPPLY_V,
    });
    range / STEPS
}
