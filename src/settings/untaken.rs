//! A table `[sensors.….calibration]` whose points are still to be taken.
//!
//! Everything about it is checked before anybody turns a pump: it is read with points that are
//! exact, which go where the true ones will.

use super::SensorSetup;
use super::SettingsError;
use super::sensors_of;
use crate::channel::Role;
use toml::Table;

/// A sensor without points, and the file it stands in.
#[derive(Debug, Clone, PartialEq)]
pub struct Untaken {
    /// The sensor; the points of its curve are place holders.
    pub sensor: SensorSetup,
    /// The supply of the sensors, where the file has it.
    pub supply: Option<SensorSetup>,
    file: String,
    text: String,
    /// Words of all sensors without points.
    words: Vec<String>,
}

impl Untaken {
    /// The sensor of a file that has a calibration without points; `wanted` says which, where
    /// there are several.
    ///
    /// # Errors
    /// If there is none, several and none wanted, or the file cannot be used.
    pub fn of(file: &str, text: &str, wanted: Option<&str>) -> Result<Self, SettingsError> {
        let wrong = |offset: usize, message: String| SettingsError::at(file, text, offset, message);
        let words = words(file, text)?;
        let word = match (wanted, words.as_slice()) {
            (Some(wanted), _) => words.iter().find(|word| *word == wanted).ok_or_else(|| {
                wrong(
                    0,
                    format!("no [sensors.{wanted}.calibration] without `points` here"),
                )
            })?,
            (None, [only]) => only,
            (None, []) => {
                let message = "no points are left to be taken here: write [sensors.p_cap.calibration] as for points \
                               that were taken, and leave `points` away";
                return Err(wrong(0, message.into()));
            }
            (None, all) => {
                let message = format!(
                    "several sensors have no points ({}): say which one, as --sensor {}",
                    all.join(", "),
                    all[0]
                );
                return Err(wrong(0, message));
            }
        };
        for word in &words {
            if ends_of_table(text, word).is_none() {
                let message = format!(
                    "write the calibration of `{word}` under a heading [sensors.{word}.calibration] of its own"
                );
                return Err(wrong(0, message));
            }
        }
        let whole = filled(text, &words, |_| PLACE_HOLDERS.to_vec());
        let sensors = sensors_of(file, &whole)?;
        let supply = sensors.iter().find(|s| s.role == Role::Supply).cloned();
        let sensor = sensors
            .into_iter()
            .find(|sensor| sensor.role.word() == word)
            .ok_or_else(|| wrong(0, format!("`sensors.{word}` is no sensor")))?;
        let supply_word = Role::Supply.word();
        if sensor.is_against_supply && words.iter().any(|word| word == supply_word) {
            let message = format!(
                "`{word}` is read against the supply, whose own points are not taken: --sensor {supply_word} first"
            );
            return Err(wrong(0, message));
        }
        Ok(Self {
            sensor,
            supply,
            file: file.into(),
            text: text.into(),
            words,
        })
    }

    /// Name and text of the file with these points, reference and reading; other sensors without
    /// points keep place holders.
    pub fn with_points(&self, points: &[(f64, f64)]) -> (String, String) {
        let own = self.sensor.role.word();
        let text = filled(&self.text, &self.words, |word| match word == own {
            true => points.to_vec(),
            false => PLACE_HOLDERS.to_vec(),
        });
        (self.file.clone(), text)
    }
}

/// Points that any line or parabola goes through.
const PLACE_HOLDERS: [(f64, f64); 6] = [
    (0.0, 0.0),
    (1.0, 1.0),
    (2.0, 2.0),
    (3.0, 3.0),
    (4.0, 4.0),
    (5.0, 5.0),
];

/// Sensors whose calibration has no points.
fn words(file: &str, text: &str) -> Result<Vec<String>, SettingsError> {
    let whole: Table = toml::from_str(text).map_err(|error: toml::de::Error| {
        let offset = error.span().map_or(0, |span| span.start);
        SettingsError::at(file, text, offset, error.message())
    })?;
    let sensors = whole.get("sensors").and_then(toml::Value::as_table);
    let all = sensors.into_iter().flatten();
    let without = all.filter(|(_, sensor)| {
        let table = sensor.get("calibration");
        table.is_some_and(|table| table.get("points").is_none())
    });
    let known = without.filter(|(word, _)| Role::ALL.iter().any(|role| role.word() == *word));
    Ok(known.map(|(word, _)| word.clone()).collect())
}

/// Where the table of a calibration ends in a text: the start of the next heading.
fn ends_of_table(text: &str, word: &str) -> Option<usize> {
    let heading = format!("[sensors.{word}.calibration]");
    let mut at = 0;
    let mut is_inside = false;
    for line in text.split_inclusive('\n') {
        let trimmed = line.trim();
        if is_inside && trimmed.starts_with('[') {
            return Some(at);
        }
        is_inside |= trimmed
            .split('#')
            .next()
            .is_some_and(|head| head.trim() == heading);
        at += line.len();
    }
    is_inside.then_some(at)
}

/// The text with points at the end of each table, so that lines before them stay where they are.
fn filled(text: &str, words: &[String], points: impl Fn(&str) -> Vec<(f64, f64)>) -> String {
    let mut out = text.to_owned();
    for word in words {
        let Some(at) = ends_of_table(&out, word) else {
            continue;
        };
        let pairs: Vec<String> = points(word)
            .iter()
            .map(|(reference, reading)| format!("[{reference:?}, {reading:?}]"))
            .collect();
        let before = if out[..at].ends_with('\n') { "" } else { "\n" };
        out.insert_str(at, &format!("{before}points = [{}]\n", pairs.join(", ")));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "[sensors.p_cap]\nchannel = 0\ncalibrated_by = \"shop\"\n\n[sensors.p_cap.calibration]  # G-02\n\
        date = \"2026-10-02\"\nwho = \"bench technician\"\nreference = \"piston gauge G-02\"\n\
        reference_certificate = \"TV-CAL-2026-007\"\nreference_in = \"bar\"\nreference_uncertainty = \"0.03 bar\"\n\
        read_in = \"mA\"\ndegree = 1\n";

    #[test]
    fn points_go_to_the_end_of_their_table() {
        let text = format!(
            "{TEXT}[sensors.x]\nchannel = 2\nzero_uncertainty = \"0.1 mm\"\nspan_uncertainty_percent = 0.1\n"
        );
        let untaken = Untaken::of("points.toml", &text, None).expect("a sensor");
        assert_eq!(untaken.sensor.role, Role::CapPressure);
        let points: Vec<(f64, f64)> = (0..5)
            .map(|i| (50.0 * f64::from(i), 4.0 + 3.2 * f64::from(i)))
            .collect();
        let (file, whole) = untaken.with_points(&points);
        let sensors = sensors_of(&file, &whole).expect("sensors");
        let taken = sensors[0].calibration.as_ref().expect("points");
        assert_eq!(taken.written, points);
    }

    #[test]
    fn what_is_wrong_is_said_before_anything_is_measured() {
        let said = |text: &str, wanted: Option<&str>| {
            let error = Untaken::of("points.toml", text, wanted).expect_err("wrong");
            error.to_string()
        };
        let bad = TEXT.replace("0.03 bar", "0.03 furlong");
        assert!(said(&bad, None).contains("line 5"), "{}", said(&bad, None));
        assert!(said("[sensors.p_cap]\n", None).contains("leave `points` away"));
        let taken = format!("{TEXT}points = [[0, 4]]\n");
        assert!(said(&taken, None).contains("no points are left"));
        assert!(said(TEXT, Some("p_rod")).contains("p_rod"));
        let two = format!("{TEXT}{}", TEXT.replace("p_cap", "p_rod"));
        assert!(said(&two, None).contains("--sensor p_cap"));
        assert!(Untaken::of("points.toml", &two, Some("p_rod")).is_ok());
        assert!(said(&TEXT.replace("degree = 1", "degree = 3"), None).contains("degree"));
    }
}
