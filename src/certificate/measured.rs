//! The figures of a stored record, read back for comparison and export.

use crate::account::FigureName;
use crate::verdict::MeasuredAt;
use crate::verdict::StatedFigure;
use serde::Deserialize;

/// A figure of a record, with the phase it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredFigure {
    /// Phase, as it is called in the procedure; "hold" for a hold alone.
    pub phase: String,
    /// Its heading.
    pub title: String,
    /// Which figure.
    pub name: FigureName,
    /// Unit of measure of value and interval.
    pub unit: String,
    /// Value, interval and conditions.
    pub stated: StatedFigure,
    /// The limit it was held against, if there was one.
    pub limit: Option<LimitThen>,
}

/// A limit as it was when a figure was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitThen {
    /// In the unit of measure of the figure.
    pub value: f64,
    /// As it was typed.
    pub text: String,
}

#[derive(Deserialize)]
struct Sheet {
    #[serde(default)]
    figures: Vec<Figure>,
    #[serde(default)]
    limits: Vec<Limit>,
    #[serde(default)]
    steps: Vec<Step>,
}

#[derive(Deserialize)]
struct Step {
    id: String,
    title: String,
    shown: Shown,
}

#[derive(Deserialize)]
struct Shown {
    record: Option<Held>,
}

#[derive(Deserialize)]
struct Held {
    #[serde(default)]
    figures: Vec<Figure>,
    #[serde(default)]
    limits: Vec<Limit>,
}

#[derive(Deserialize)]
struct Limit {
    figure: String,
    limit_value: Option<f64>,
    limit_unit: String,
    as_typed: String,
    value: Option<f64>,
}

#[derive(Deserialize)]
struct Figure {
    name: String,
    unit: String,
    value: Option<f64>,
    lower: Option<f64>,
    upper: Option<f64>,
    #[serde(default)]
    at: At,
}

#[derive(Deserialize, Default)]
struct At {
    p_cap_bar: Option<f64>,
    p_rod_bar: Option<f64>,
    t_oil_degc: Option<f64>,
    x_mm: Option<f64>,
}

/// All figures of a record; those of a name that this program does not know are left out.
///
/// # Errors
/// If the text is no record.
pub fn measured(record_json: &str) -> Result<Vec<MeasuredFigure>, serde_json::Error> {
    let sheet: Sheet = serde_json::from_str(record_json)?;
    let of_hold = sheet
        .figures
        .iter()
        .filter_map(|figure| read(("hold", "Hold"), figure, &sheet.limits));
    let of_steps = sheet.steps.iter().flat_map(|step| {
        let held = step.shown.record.iter();
        let figures = held.flat_map(|held| held.figures.iter().map(|f| (f, &held.limits)));
        figures.filter_map(|(figure, limits)| read((&step.id, &step.title), figure, limits))
    });
    Ok(of_hold.chain(of_steps).collect())
}

fn read((phase, title): (&str, &str), figure: &Figure, limits: &[Limit]) -> Option<MeasuredFigure> {
    let at = &figure.at;
    Some(MeasuredFigure {
        phase: phase.into(),
        title: title.into(),
        name: FigureName::from_word(&figure.name)?,
        unit: figure.unit.clone(),
        stated: StatedFigure {
            value: figure.value,
            lower: figure.lower.unwrap_or(f64::NEG_INFINITY),
            upper: figure.upper.unwrap_or(f64::INFINITY),
            at: MeasuredAt {
                driving_bar: at.p_cap_bar.zip(at.p_rod_bar).map(|(cap, rod)| cap - rod),
                oil_degc: at.t_oil_degc,
                x_mm: at.x_mm,
            },
        },
        limit: limits.iter().find_map(|limit| limit_then(limit, figure)),
    })
}

/// A limit of this figure. One that was typed in another unit of measure tells by the value it was
/// compared with what that unit is of the figure's.
fn limit_then(limit: &Limit, figure: &Figure) -> Option<LimitThen> {
    if limit.figure != figure.name {
        return None;
    }
    let factor = match limit.limit_unit == figure.unit {
        true => 1.0,
        false => (figure.value? / limit.value?).abs(),
    };
    let value = limit.limit_value? * factor;
    value.is_finite().then(|| LimitThen {
        value,
        text: limit.as_typed.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOLD: &str = r#"{"stillrod": "0.1.0", "figures": [
        {"name": "cap_loss", "value": 0.6, "unit": "mL/min", "expanded_uncertainty": 0.1, "lower": 0.5,
         "upper": 0.7, "at": {"p_cap_bar": 95.0, "p_rod_bar": -5.0, "t_oil_degc": 45.0, "x_mm": 300.0}},
        {"name": "gland_leakage", "value": null, "unit": "mL/min", "lower": null, "upper": 0.2, "at": {}},
        {"name": "something_new", "value": 1, "unit": "K", "lower": 0, "upper": 2}]}"#;

    #[test]
    fn figures_are_read_as_they_were_stated() {
        let found = measured(HOLD).expect("a record");
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].name, FigureName::CapLoss);
        assert_eq!(found[0].stated.value, Some(0.6));
        assert_eq!(found[0].stated.at.driving_bar, Some(100.0));
        assert_eq!(found[1].stated.lower, f64::NEG_INFINITY);
        assert_eq!(found[1].limit, None);
        let steps = format!(
            r#"{{"steps": [{{"id": "seal-in", "title": "Piston seal, nearly in", "shown": {{"record": {HOLD}}}}},
                {{"id": "zero", "title": "Zero", "shown": {{"what": "vented"}}}}]}}"#
        );
        let found = measured(&steps).expect("a record");
        assert_eq!((found.len(), found[0].phase.as_str()), (2, "seal-in"));
        assert!(measured("[1, 2]").is_err());
    }

    #[test]
    fn a_limit_is_told_in_the_unit_of_its_figure() {
        let with = |unit: &str, limit: f64, value: f64| {
            let limits = format!(
                r#""limits": [{{"figure": "cap_loss", "limit_value": {limit}, "limit_unit": "{unit}",
                "as_typed": "as typed", "value": {value}}}], "figures""#
            );
            let found = measured(&HOLD.replacen("\"figures\"", &limits, 1)).expect("a record");
            assert_eq!(found[1].limit, None);
            found[0].limit.clone().expect("a limit").value
        };
        assert_eq!(with("mL/min", 0.3, 0.6), 0.3);
        // 10 mL in 5 min are 2 mL/min.
        assert!((with("mL/5min", 10.0, 3.0) - 2.0).abs() < 1e-12);
    }
}
