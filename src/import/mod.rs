//! A table of another logger (`.csv`) into a recording.
//!
//! Columns are named as in the contract, with the unit as suffix: `t_s, p_cap_bar,
//! p_rod_bar, x_mm, t_oil_degc, t_wall_degc`, or `_psi, _mpa, _in, _degf`. Numbers have
//! a decimal point; nothing is guessed. An empty cell is a missing reading. Lines that
//! begin with `#` are remarks.
//!
//! Invariant: what cannot be read exactly is refused with its line and column.

use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Curve;
use crate::channel::ReadIn;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::procedure::HOLD;
use crate::procedure::HoldPlan;
use crate::procedure::SETTLE;
use crate::quantity::unit::second;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::recording::RecordingError;
use crate::recording::Track;

/// A step this many times the usual one is a gap.
const GAP_STEPS: f64 = 3.0;

/// Most rows that are read from one table; more is refused.
const N_ROWS_MAX: usize = 20_000_000;

/// Why a table cannot be read, and what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// The file is not a table of text.
    #[error("{file} is no table; export it as plain text, separated by commas")]
    Table {
        /// The file.
        file: String,
        /// The cause.
        #[source]
        source: csv::Error,
    },
    /// Columns are separated by something else.
    #[error(
        "{file}, line {line}: columns are separated by `;`, so its numbers may have a decimal comma; \
         export with commas between columns and a point in numbers"
    )]
    Semicolons {
        /// The file.
        file: String,
        /// The line.
        line: u64,
    },
    /// A column has no known name.
    #[error(
        "{file}, line {line}: column `{column}` is not known; columns are t_s and {known}, with _bar, _psi, _mpa, _mm, _in, _degc or _degf"
    )]
    Column {
        /// The file.
        file: String,
        /// The line.
        line: u64,
        /// The column.
        column: String,
        /// The known stems.
        known: String,
    },
    /// Two columns measure the same.
    #[error(
        "{file}, line {line}: column `{column}` stands twice, or the same in another unit; keep one of them"
    )]
    Twice {
        /// The file.
        file: String,
        /// The line.
        line: u64,
        /// The later column.
        column: String,
    },
    /// A column that must be there is not.
    #[error("{file}: column `{column}` is missing; {remedy}")]
    Missing {
        /// The file.
        file: String,
        /// The column.
        column: String,
        /// What to do.
        remedy: String,
    },
    /// A cell is no number.
    #[error("{file}, line {line}, column `{column}`: `{cell}` is no number ({why})")]
    Cell {
        /// The file.
        file: String,
        /// The line.
        line: u64,
        /// The column.
        column: String,
        /// What stands there.
        cell: String,
        /// Why, and what would be right.
        why: &'static str,
    },
    /// The rows make no recording.
    #[error("{file}, line {line}")]
    Rows {
        /// The file.
        file: String,
        /// The line.
        line: u64,
        /// The cause.
        #[source]
        source: RecordingError,
    },
    /// The points of a sensor were not read as the table shows it.
    #[error(
        "{file} shows values, but the points of [sensors.{role}.calibration] were read as counts, mA or V; \
         give points in the unit that the logger shows"
    )]
    ReadIn {
        /// The file.
        file: String,
        /// The sensor.
        role: &'static str,
    },
    /// Too many rows.
    #[error("{file} has more than {N_ROWS_MAX} rows; cut it to the hold and the minutes before it")]
    TooLong {
        /// The file.
        file: String,
    },
}

/// What is known of the sensor behind a column.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnSensor {
    /// What it measures.
    pub role: Role,
    /// What is stated of its errors.
    pub errors: SensorErrors,
    /// Its papers.
    pub papers: SensorPapers,
    /// Its resolution in SI units; the smallest step in the data if it is not known.
    pub resolution_si: Option<f64>,
    /// How far what it measures moves by what the rod moves; 1 for all but a position that is
    /// measured at the load.
    pub motion_ratio: f64,
    /// Its calibration by points, read as the column shows it; the column is taken as it is
    /// without.
    pub curve: Option<Curve>,
}

struct Column {
    role: Option<Role>,
    name: String,
    scale: f64,
    offset: f64,
}

/// Reads a table. Columns without a sensor in `sensors` are refused, because their
/// uncertainty would be invented.
///
/// # Errors
/// See [`ImportError`].
pub fn table(
    file: &str,
    text: &str,
    sensors: &[ColumnSensor],
    plan: &HoldPlan,
    heading: Heading,
) -> Result<Recording, ImportError> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let failed = |source| ImportError::Table {
        file: file.into(),
        source,
    };
    let header = reader.headers().map_err(failed)?.clone();
    let line = header.position().map_or(1, csv::Position::line);
    if header.iter().any(|cell| cell.contains(';')) {
        return Err(ImportError::Semicolons {
            file: file.into(),
            line,
        });
    }
    let columns = columns(file, line, &header)?;
    let mut data: Vec<Vec<f64>> = vec![Vec::new(); columns.len()];
    let mut lines: Vec<u64> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(failed)?;
        let line = record.position().map_or(0, csv::Position::line);
        for ((column, cell), values) in columns.iter().zip(record.iter()).zip(&mut data) {
            values.push(number(file, line, column, cell)?);
        }
        lines.push(line);
        if lines.len() > N_ROWS_MAX {
            return Err(ImportError::TooLong { file: file.into() });
        }
    }
    assemble(file, &columns, data, &lines, sensors, plan, heading)
}

fn columns(file: &str, line: u64, header: &csv::StringRecord) -> Result<Vec<Column>, ImportError> {
    let columns: Result<Vec<Column>, ImportError> = header
        .iter()
        .map(|name| {
            column(name).ok_or_else(|| ImportError::Column {
                file: file.into(),
                line,
                column: name.into(),
                known: Role::ALL.map(Role::word).join(", "),
            })
        })
        .collect();
    let columns = columns?;
    if let Some(twice) = columns
        .iter()
        .enumerate()
        .find(|(i, c)| columns[..*i].iter().any(|o| o.role == c.role))
    {
        return Err(ImportError::Twice {
            file: file.into(),
            line,
            column: twice.1.name.clone(),
        });
    }
    if columns.iter().all(|c| c.role.is_some()) {
        return Err(ImportError::Missing {
            file: file.into(),
            column: "t_s".into(),
            remedy: "add the time of each row in seconds".into(),
        });
    }
    Ok(columns)
}

/// A column by its name; None if it has no known name.
fn column(name: &str) -> Option<Column> {
    if name == "t_s" {
        return Some(Column {
            role: None,
            name: name.into(),
            scale: 1.0,
            offset: 0.0,
        });
    }
    let (stem, unit) = name.rsplit_once('_')?;
    let role = Role::ALL.into_iter().find(|role| role.word() == stem)?;
    const FAHRENHEIT: f64 = 5.0 / 9.0;
    let (scale, offset) = match (role.si_unit(), unit) {
        ("Pa", "bar") => (1e5, 0.0),
        ("Pa", "mpa") => (1e6, 0.0),
        ("Pa", "psi") => (6_894.757_293_168, 0.0),
        ("m", "mm") => (1e-3, 0.0),
        ("m", "in") => (0.0254, 0.0),
        ("V", "v") => (1.0, 0.0),
        ("K", "degc") => (1.0, 273.15),
        ("K", "degf") => (FAHRENHEIT, 459.67 * FAHRENHEIT),
        _ => return None,
    };
    Some(Column {
        role: Some(role),
        name: name.into(),
        scale,
        offset,
    })
}

fn number(file: &str, line: u64, column: &Column, cell: &str) -> Result<f64, ImportError> {
    let wrong = |why| ImportError::Cell {
        file: file.into(),
        line,
        column: column.name.clone(),
        cell: cell.into(),
        why,
    };
    if cell.is_empty() {
        return match column.role {
            Some(_) => Ok(f64::NAN),
            None => Err(wrong("every row needs its time")),
        };
    }
    if cell.contains(',') {
        return Err(wrong("write a decimal point instead of a comma"));
    }
    if cell.matches('.').count() > 1 {
        return Err(wrong("more than one point: thousands must not be grouped"));
    }
    let plain = cell
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.' | b'e' | b'E'));
    let value: Option<f64> = cell.parse().ok().filter(|v: &f64| plain && v.is_finite());
    let value =
        value.ok_or_else(|| wrong("leave the cell empty where the logger had no reading"))?;
    Ok(value * column.scale + column.offset)
}

fn assemble(
    file: &str,
    columns: &[Column],
    data: Vec<Vec<f64>>,
    lines: &[u64],
    sensors: &[ColumnSensor],
    plan: &HoldPlan,
    heading: Heading,
) -> Result<Recording, ImportError> {
    let mut time_s = Vec::new();
    let mut tracks = Vec::new();
    for (column, values) in columns.iter().zip(data) {
        let Some(role) = column.role else {
            time_s = values;
            continue;
        };
        let sensor =
            sensors
                .iter()
                .find(|s| s.role == role)
                .ok_or_else(|| ImportError::Missing {
                    file: file.into(),
                    column: format!("[sensors.{}]", role.word()),
                    remedy: format!(
                        "state the uncertainty of the sensor behind column `{}` in the setup",
                        column.name
                    ),
                })?;
        let values = calibrated(file, sensor, values)?;
        tracks.push(Track {
            channel: channel(column, role, sensor, &values),
            codes: Codes::Si(values),
        });
    }
    let step = usual_step(&time_s);
    let (phases, ending) = course(&time_s, step, plan);
    let gaps = time_s
        .windows(2)
        .filter(|w| step > 0.0 && w[1] - w[0] > GAP_STEPS * step)
        .map(|w| Gap {
            from_s: w[0],
            until_s: w[1],
            cause: GapCause::Lost,
        })
        .collect();
    Recording::new(Parts {
        heading,
        time_s,
        tracks,
        gaps,
        phases,
        entries: Vec::new(),
        loss: Loss::default(),
        ending,
    })
    .map_err(|source| {
        let row = match source {
            RecordingError::TimeBackwards { index, .. } => index,
            _ => 0,
        };
        ImportError::Rows {
            file: file.into(),
            line: lines.get(row).copied().unwrap_or(0),
            source,
        }
    })
}

/// The readings of a column by the curve of its sensor, if it has one.
fn calibrated(
    file: &str,
    sensor: &ColumnSensor,
    values: Vec<f64>,
) -> Result<Vec<f64>, ImportError> {
    let ratio = sensor.motion_ratio;
    match &sensor.curve {
        None => Ok(values.iter().map(|v| v / ratio).collect()),
        Some(curve) if curve.read_in() == ReadIn::Shown => {
            Ok(values.iter().map(|v| curve.value(*v) / ratio).collect())
        }
        Some(_) => Err(ImportError::ReadIn {
            file: file.into(),
            role: sensor.role.word(),
        }),
    }
}

/// Phases by the plan, counted from the first row, and whether the rows reach its end.
fn course(time_s: &[f64], step: f64, plan: &HoldPlan) -> (Vec<PhaseMark>, Ending) {
    let first = time_s.first().copied().unwrap_or(0.0);
    let end = time_s.last().copied().unwrap_or(0.0);
    let from_s = first + plan.settle().get::<second>();
    let until_s = from_s + plan.length().get::<second>();
    let mark = |name: &str, from_s: f64, until_s: f64| PhaseMark {
        name: name.into(),
        from_s,
        until_s: until_s.min(end),
    };
    let mut phases = vec![mark(SETTLE, first, from_s)];
    if end > from_s {
        phases.push(mark(HOLD, from_s, until_s));
    }
    // A logger's last row stands one step before its last moment.
    let ending = if end + step < until_s {
        Ending::Interrupted(format!(
            "the table ends at {end:.1} s, before the hold does at {until_s:.1} s; shorten the hold in the setup"
        ))
    } else {
        Ending::Complete
    };
    (phases, ending)
}

fn channel(column: &Column, role: Role, sensor: &ColumnSensor, values: &[f64]) -> Channel {
    let resolution = sensor
        .resolution_si
        .unwrap_or_else(|| smallest_step(role, values));
    Channel {
        role,
        label: column.name.clone(),
        calibration: Calibration {
            si_at_zero_code: 0.0,
            si_per_code: resolution,
            si_per_code_squared: 0.0,
        },
        good_codes: (i32::MIN, i32::MAX),
        range_si: match &sensor.curve {
            Some(curve) => {
                let (low, high) = curve.span_si();
                (low / sensor.motion_ratio, high / sensor.motion_ratio)
            }
            None => possible(role),
        },
        errors: sensor.errors,
        papers: sensor.papers.clone(),
        against_supply: None,
    }
}

/// What a reading of a role can be at all; beyond it the column has another unit or the
/// logger failed. Gauge pressure cannot lie below vacuum.
fn possible(role: Role) -> (f64, f64) {
    match role {
        Role::CapPressure | Role::RodPressure => (-1.0e5, 4_000e5),
        Role::Position => (-1.0, 50.0),
        Role::OilTemperature | Role::WallTemperature => (213.15, 473.15),
        Role::Supply => (0.0, 30.0),
    }
}

/// The smallest difference between two values, taken as the logger's resolution; at
/// least a part in a thousand million of the largest.
fn smallest_step(role: Role, values: &[f64]) -> f64 {
    let (low, high) = possible(role);
    let mut sorted: Vec<f64> = values
        .iter()
        .copied()
        .filter(|v| (low..=high).contains(v))
        .collect();
    sorted.sort_by(f64::total_cmp);
    let largest = sorted.iter().fold(0.0f64, |a, v| a.max(v.abs()));
    let least = (1e-9 * largest).max(f64::MIN_POSITIVE);
    sorted
        .windows(2)
        .map(|w| w[1] - w[0])
        .filter(|d| *d > least)
        .fold(f64::INFINITY, f64::min)
        .min(largest.max(least))
}

fn usual_step(time_s: &[f64]) -> f64 {
    let mut steps: Vec<f64> = time_s.windows(2).map(|w| w[1] - w[0]).collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests;
