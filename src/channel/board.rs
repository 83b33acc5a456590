//! The channel table of a board, with what the shop knows of its sensors, to channels.
//!
//! The board states codes, ranges and good bands; the shop states which sensor is plugged in
//! where, its errors and its papers.
//!
//! Invariant: a channel is made only if the board says that it measures what the role needs,
//! in a unit that has a value in SI.

use super::AgainstSupply;
use super::Calibration;
use super::Channel;
use super::Curve;
use super::NOMINAL_SUPPLY_V;
use super::ReadIn;
use super::Role;
use super::SensorErrors;
use super::SensorPapers;
use super::Signal;
use super::signal::electrical;
use firmware_protocol::ChannelKind;
use firmware_protocol::ChannelTable;
use firmware_protocol::RangeUnit;

/// What the shop says of one sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorInfo {
    /// What it measures.
    pub role: Role,
    /// Channel of the board it is wired to, counted from 0.
    pub board_channel: u8,
    /// Its errors.
    pub errors: SensorErrors,
    /// Its papers.
    pub papers: SensorPapers,
    /// How far what it measures moves by what the rod moves; 1 for all but a position that is
    /// measured at the load.
    pub motion_ratio: f64,
    /// Its signal, where the board states amperes or volts.
    pub signal: Option<Signal>,
    /// Whether its signal is read against the measured supply; its points then are volts
    /// referred to 5 V.
    pub is_against_supply: bool,
    /// Its calibration by points; without one its signal or the board's own range counts.
    pub curve: Option<Curve>,
}

/// Why a board and the sensors of a setup do not fit together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BoardError {
    /// The board has fewer channels.
    #[error(
        "{role} shall be channel {board_channel}, the board has channels 0 to {highest}; correct `channel` in the setup"
    )]
    Missing {
        /// Role of the sensor.
        role: &'static str,
        /// Channel asked for.
        board_channel: u8,
        /// Highest channel there is.
        highest: usize,
    },
    /// The channel measures something else.
    #[error(
        "{role} shall be channel {board_channel} (`{label}`), which measures {found}; correct `channel` in the setup"
    )]
    Kind {
        /// Role of the sensor.
        role: &'static str,
        /// Channel asked for.
        board_channel: u8,
        /// Its label on the board.
        label: String,
        /// What it measures, in words.
        found: &'static str,
    },
    /// The range of the channel is stated in a unit that is no measurement.
    #[error(
        "channel {board_channel} (`{label}`) of the board states its range in {found}, {role} needs {needed}; \
         set the range of the sensor on the board"
    )]
    Unit {
        /// Role of the sensor.
        role: &'static str,
        /// Channel asked for.
        board_channel: u8,
        /// Its label on the board.
        label: String,
        /// Unit found, in words.
        found: &'static str,
        /// Unit needed, in words.
        needed: &'static str,
    },
    /// Two sensors are said to be on the same channel.
    #[error(
        "{role} and {other} shall both be channel {board_channel}; correct `channel` of one of them in the setup"
    )]
    Shared {
        /// Role of the later sensor.
        role: &'static str,
        /// Role of the earlier one.
        other: &'static str,
        /// Channel asked for.
        board_channel: u8,
    },
    /// The codes of the channel have no range.
    #[error(
        "channel {board_channel} (`{label}`) of the board has a range without an extent; set its range on the board"
    )]
    Range {
        /// Channel asked for.
        board_channel: u8,
        /// Its label on the board.
        label: String,
    },
}

/// The channels of a recording, in the order of `sensors`.
///
/// The codes of a row of the board for them are those at `board_channel` of each.
///
/// # Errors
/// If a sensor's channel is not there, measures something else, or is taken twice.
pub fn from_board(
    table: &ChannelTable,
    sensors: &[SensorInfo],
) -> Result<Vec<Channel>, BoardError> {
    let channels = sensors.iter().enumerate().map(|(index, sensor)| {
        let earlier = &sensors[..index];
        match earlier
            .iter()
            .find(|other| other.board_channel == sensor.board_channel)
        {
            Some(other) => Err(BoardError::Shared {
                role: sensor.role.plain(),
                other: other.role.plain(),
                board_channel: sensor.board_channel,
            }),
            None => channel(table, sensor),
        }
    });
    let mut channels: Vec<Channel> = channels.collect::<Result<_, _>>()?;
    let supply = channels.iter().find(|c| c.role == Role::Supply);
    let step = supply.map_or(0.0, |c| c.resolution_si().abs() / NOMINAL_SUPPLY_V);
    for against in channels
        .iter_mut()
        .filter_map(|c| c.against_supply.as_mut())
    {
        against.supply_step_relative = step;
    }
    Ok(channels)
}

fn channel(table: &ChannelTable, sensor: &SensorInfo) -> Result<Channel, BoardError> {
    let OnBoard {
        label,
        as_read,
        read,
        good_codes: board_codes,
    } = on_board(table, sensor)?;
    let (calibration, range, signal_codes) = composed(sensor, as_read, read, board_codes);
    // Against the supply, a fault is one of the referred code; of the raw one the board says.
    let against_supply = against_supply(sensor, &as_read);
    let good_codes = against_supply.map_or(signal_codes, |_| board_codes);
    let ratio = sensor.motion_ratio;
    Ok(Channel {
        role: sensor.role,
        label,
        calibration: calibration.scaled(1.0 / ratio),
        good_codes,
        range_si: (range.0 / ratio, range.1 / ratio),
        errors: sensor.errors,
        papers: sensor.papers.clone(),
        against_supply,
    })
}

/// How codes that stand for volts are referred to 5 V; the step of the supply is not known here.
fn against_supply(sensor: &SensorInfo, as_read: &Calibration) -> Option<AgainstSupply> {
    let signal = sensor.signal.filter(|_| sensor.is_against_supply)?;
    Some(AgainstSupply {
        code_at_zero_volt: -as_read.si_at_zero_code / as_read.si_per_code,
        signal_codes: signal.good_codes(as_read, (i32::MIN, i32::MAX)),
        supply_step_relative: 0.0,
    })
}

/// What a sensor is read as while its points are taken: a channel whose values are readings in
/// mA, V, codes or SI (points in `shown`), of the codes that a healthy sensor can send. One that
/// is read against the supply reads volts or codes referred to 5 V.
///
/// # Errors
/// If the sensor's channel is not there or measures something else.
pub fn read_out(
    table: &ChannelTable,
    sensor: &SensorInfo,
    curve: &Curve,
) -> Result<Channel, BoardError> {
    let with = |curve: Option<Curve>| SensorInfo {
        curve,
        motion_ratio: 1.0,
        ..sensor.clone()
    };
    let asked = with(Some(curve.clone()));
    let calibration = match curve.read_in() {
        ReadIn::Shown => return channel(table, &with(None)),
        ReadIn::Counts => Calibration {
            si_at_zero_code: 0.0,
            si_per_code: 1.0,
            si_per_code_squared: 0.0,
        },
        ReadIn::Milliampere | ReadIn::Volt => on_board(table, &asked)?.as_read,
    };
    Ok(Channel {
        calibration,
        ..channel(table, &asked)?
    })
}

/// A sensor's channel as its board states it.
struct OnBoard {
    label: String,
    /// Codes to what the board reads: SI, or mA and V as signals and points have them.
    as_read: Calibration,
    /// What the ends of its range read.
    read: (f64, f64),
    good_codes: (i32, i32),
}

fn on_board(table: &ChannelTable, sensor: &SensorInfo) -> Result<OnBoard, BoardError> {
    let (role, board_channel) = (sensor.role, sensor.board_channel);
    let on_board = table.as_slice();
    let found = on_board
        .get(usize::from(board_channel))
        .ok_or(BoardError::Missing {
            role: role.plain(),
            board_channel,
            highest: on_board.len() - 1,
        })?;
    let label = || found.label.as_str().to_owned();
    let Wanted {
        kind,
        unit,
        needed,
        si_offset,
        is_electrical,
    } = wanted(sensor, found.unit);
    // A board that states amperes or volts need not know what the sensor measures.
    let kind_is_open = is_electrical && found.kind == ChannelKind::Other;
    if found.kind != kind && !kind_is_open {
        return Err(BoardError::Kind {
            role: role.plain(),
            board_channel,
            label: label(),
            found: kind_in_words(found.kind),
        });
    }
    if found.unit != unit {
        return Err(BoardError::Unit {
            role: role.plain(),
            board_channel,
            label: label(),
            found: unit_in_words(found.unit),
            needed,
        });
    }
    let per_unit = if unit == RangeUnit::Ampere { 1e3 } else { 1.0 };
    let read = |value: f32| f64::from(value) * per_unit + si_offset;
    let (low, high) = (read(found.value_low), read(found.value_high));
    let as_read =
        Calibration::through((found.code_low, low), (found.code_high, high)).ok_or_else(|| {
            BoardError::Range {
                board_channel,
                label: label(),
            }
        })?;
    Ok(OnBoard {
        label: label(),
        as_read,
        read: (low, high),
        good_codes: (found.good_lowest, found.good_highest),
    })
}

/// Codes to values by what the board reads, the signal and the points; the range of the
/// values from low to high; and the good codes. `read` is what the board's range reads.
fn composed(
    sensor: &SensorInfo,
    as_read: Calibration,
    read: (f64, f64),
    board_codes: (i32, i32),
) -> (Calibration, (f64, f64), (i32, i32)) {
    let (shown, range, good_codes) = match &sensor.signal {
        Some(signal) => (
            signal.shown(&as_read),
            signal.range_si,
            signal.good_codes(&as_read, board_codes),
        ),
        None => (as_read, read, board_codes),
    };
    let through = |line: &Calibration, curve: &Curve| {
        curve.calibration(line.si_at_zero_code, line.si_per_code)
    };
    let (calibration, range) = match &sensor.curve {
        None => (shown, range),
        Some(curve) => {
            let calibration = match curve.read_in() {
                ReadIn::Counts => curve.calibration(0.0, 1.0),
                ReadIn::Milliampere | ReadIn::Volt => through(&as_read, curve),
                ReadIn::Shown => through(&shown, curve),
            };
            (calibration, curve.span_si())
        }
    };
    let range = (range.0.min(range.1), range.0.max(range.1));
    (calibration, range, good_codes)
}

/// What a board must say of a channel for a sensor.
struct Wanted {
    kind: ChannelKind,
    unit: RangeUnit,
    needed: &'static str,
    /// What turns a value in `unit` into what is reckoned with.
    si_offset: f64,
    is_electrical: bool,
}

/// Signals and points in mA or V want a channel that states a current or a voltage; for
/// points in counts any will do.
fn wanted(sensor: &SensorInfo, on_board: RangeUnit) -> Wanted {
    let (kind, unit, needed, si_offset) = needs(sensor.role);
    let read_in = sensor.curve.as_ref().map(Curve::read_in);
    let electrical = match (&sensor.signal, read_in) {
        (Some(signal), _) => electrical(signal.kind.read_in()),
        (None, Some(read_in)) => electrical(read_in),
        (None, None) => None,
    };
    match electrical {
        Some((unit, needed)) => Wanted {
            kind,
            unit,
            needed,
            si_offset: 0.0,
            is_electrical: true,
        },
        None if read_in == Some(ReadIn::Counts) => Wanted {
            kind,
            unit: on_board,
            needed,
            si_offset: 0.0,
            is_electrical: false,
        },
        None => Wanted {
            kind,
            unit,
            needed,
            si_offset,
            is_electrical: false,
        },
    }
}

/// What a board must say of a channel for a role: kind, unit, the unit in words, and what
/// turns a value in it into SI.
fn needs(role: Role) -> (ChannelKind, RangeUnit, &'static str, f64) {
    match role {
        Role::CapPressure | Role::RodPressure => {
            (ChannelKind::Pressure, RangeUnit::PascalGauge, "pascal", 0.0)
        }
        Role::Position => (ChannelKind::Position, RangeUnit::Metre, "metres", 0.0),
        Role::OilTemperature | Role::WallTemperature => (
            ChannelKind::Temperature,
            RangeUnit::DegreeCelsius,
            "degrees Celsius",
            273.15,
        ),
        Role::Supply => (ChannelKind::Other, RangeUnit::Volt, "volts", 0.0),
    }
}

fn kind_in_words(kind: ChannelKind) -> &'static str {
    match kind {
        ChannelKind::Other => "something else",
        ChannelKind::Pressure => "pressure",
        ChannelKind::Position => "position",
        ChannelKind::Temperature => "temperature",
    }
}

fn unit_in_words(unit: RangeUnit) -> &'static str {
    match unit {
        RangeUnit::None => "no unit",
        RangeUnit::PascalGauge => "pascal",
        RangeUnit::Metre => "metres",
        RangeUnit::DegreeCelsius => "degrees Celsius",
        RangeUnit::Volt => "volts",
        RangeUnit::Ampere => "amperes",
    }
}

#[cfg(test)]
mod tests;
