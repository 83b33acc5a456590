//! A limit's value as typed: a rate, an amount over a time, drops, or a rod speed.

use crate::account::FigureName;
use crate::quantity::Force;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::PressureRate;
use crate::quantity::Quantity;
use crate::quantity::QuantityError;
use crate::quantity::Share;
use crate::quantity::Time;
use crate::quantity::Typed;
use crate::quantity::Velocity;
use crate::quantity::Volume;
use crate::quantity::VolumeRate;
use crate::quantity::parse;

/// What follows a movement that is to be multiplied with the bore area.
const ROD_SPEED: &str = "rod speed";

/// A value in the unit it was typed in.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Value {
    pub number: f64,
    pub unit: String,
    /// SI value of one unit; of a rod speed m/s, before it is multiplied with the bore area.
    pub si_per_unit: f64,
    pub text: String,
    /// The time it was stated over, s, if it is an amount over a time.
    pub over_s: Option<f64>,
    pub is_rod_speed: bool,
}

/// Reads the value of a limit for a figure. `drop` is the volume of a drop, if it is stated.
pub(super) fn value(figure: FigureName, text: &str, drop: Option<Volume>) -> Result<Value, String> {
    let text = text.trim();
    let speed = text.strip_suffix(ROD_SPEED).map(str::trim_end);
    let value = match (figure, speed) {
        (figure, Some(_)) if !figure.is_flow() => {
            return Err(format!(
                "`{text}`: rod speed × bore area is a flow, and {} is none; write the speed alone for a drift",
                figure.word()
            ));
        }
        (FigureName::Drift, None) => rate_or_over::<Velocity, Length>(text),
        (FigureName::LeakDown, None) => rate_or_over::<PressureRate, GaugePressure>(text),
        (FigureName::StrokeLength, None) => parse::<Length>(text).map(of),
        (FigureName::Breakaway | FigureName::RunningPressure, None) => {
            parse::<GaugePressure>(text).map(of)
        }
        (FigureName::Friction, None) => parse::<Force>(text).map(of),
        (FigureName::StickSlip | FigureName::FreeAir, None) => parse::<Share>(text).map(of),
        (_, Some(speed)) => rate_or_over::<Velocity, Length>(speed).map(|value| Value {
            unit: format!("{} {ROD_SPEED}", value.unit),
            is_rod_speed: true,
            ..value
        }),
        (_, None) if text.contains("drop") => return drops(text, drop),
        (_, None) => {
            if rate_or_over::<Velocity, Length>(text).is_ok() {
                return Err(format!(
                    "`{text}` is a movement, and {} is a flow; to take it times the bore area write \"{text} {ROD_SPEED}\"",
                    figure.word()
                ));
            }
            rate_or_over::<VolumeRate, Volume>(text)
        }
    };
    let value = value.map_err(|error| error.to_string())?;
    finished(Value {
        text: text.into(),
        ..value
    })
}

fn finished(value: Value) -> Result<Value, String> {
    match value.number > 0.0 && value.si_per_unit > 0.0 && value.si_per_unit.is_finite() {
        true => Ok(value),
        false => Err(format!("it must be above zero, it is {}", value.text)),
    }
}

/// "2 mm/min", or "3 mm in 10 min": the amount and the time it was stated over.
fn rate_or_over<R: Quantity, A: Quantity>(text: &str) -> Result<Value, QuantityError> {
    let Some((amount, time)) = over(text) else {
        return Ok(of(parse::<R>(text)?));
    };
    over_time(of(parse::<A>(amount)?), time)
}

/// The two sides of "in", where a number follows it; an inch has none behind it.
fn over(text: &str) -> Option<(&str, &str)> {
    let (amount, time) = text.rsplit_once(" in ")?;
    let time = time.trim();
    time.starts_with(|c: char| c.is_ascii_digit())
        .then_some((amount.trim(), time))
}

fn of<Q>(typed: Typed<Q>) -> Value {
    Value {
        number: typed.number,
        unit: typed.unit.into(),
        si_per_unit: typed.si_per_unit,
        text: typed.text,
        over_s: None,
        is_rod_speed: false,
    }
}

fn over_time(amount: Value, time: &str) -> Result<Value, QuantityError> {
    let time = parse::<Time>(time)?;
    // A time of zero leaves no finite size of the unit, which is refused after.
    let over_s = time.quantity.si();
    Ok(Value {
        unit: format!("{} in {}", amount.unit, time.text),
        si_per_unit: amount.si_per_unit / over_s,
        over_s: Some(over_s),
        ..amount
    })
}

/// "12 drops/min" or "12 drops in 10 min".
fn drops(text: &str, drop: Option<Volume>) -> Result<Value, String> {
    let Some(drop) = drop else {
        return Err(format!(
            "`{text}`: a drop has no size of its own; state the one that was meant beside the value, drop = \"0.05 mL\""
        ));
    };
    let (count, time) = match (over(text), text.rsplit_once('/')) {
        (Some(parts), _) => parts,
        (None, Some((count, "min"))) => (count, "1 min"),
        (None, Some((count, "h"))) => (count, "1 h"),
        _ => {
            return Err(format!(
                "`{text}`: write drops as \"12 drops/min\" or \"12 drops in 10 min\""
            ));
        }
    };
    let count = count.trim();
    let bare = count.strip_suffix("drops").or(count.strip_suffix("drop"));
    let Some(bare) = bare else {
        return Err(format!(
            "`{text}`: write drops as \"12 drops/min\" or \"12 drops in 10 min\""
        ));
    };
    // A count has no unit; the parser of quantities reads its number.
    let number = parse::<Volume>(&format!("{} mL", bare.trim())).map_err(|e| e.to_string())?;
    let amount = Value {
        unit: "drops".into(),
        si_per_unit: drop.si(),
        ..of(number)
    };
    let is_over = over(text).is_some();
    let value = over_time(amount, time).map_err(|error| error.to_string())?;
    let unit = match is_over {
        true => value.unit.clone(),
        false => format!("drops/{}", time.trim_start_matches("1 ")),
    };
    finished(Value {
        unit,
        text: text.into(),
        over_s: value.over_s.filter(|_| is_over),
        ..value
    })
}
