//! A sensor of a setup whose points are to be taken anew: the text that the walk along points reads.
//!
//! Everything the setup says of the sensor stays but what its last calibration said.

use super::SettingsError;
use super::read;
use crate::channel::Role;
use toml::Table;
use toml::Value;

/// What is written down before points are taken, as in a table `[sensors.….calibration]`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WalkWords {
    /// Day, ISO 8601.
    pub date: String,
    /// Role of who does it.
    pub who: String,
    /// The reference instrument.
    pub reference: String,
    /// Number of its own certificate.
    pub reference_certificate: String,
    /// Unit of measure in which it is read.
    pub reference_in: String,
    /// Its expanded uncertainty (k = 2), with its unit of measure.
    pub reference_uncertainty: String,
    /// Unit of measure in which the sensor is read: one of the quantity, mA, V or counts.
    pub read_in: String,
    /// 1 for a line, 2 for a parabola.
    pub degree: u8,
}

/// What a calibration stands for, and goes with it.
const OF_THE_LAST: [&str; 4] = ["calibration", "calibrated_by", "certificate", "due"];

/// The sensor's own table, with the supply that it may be read against, and the calibration that is
/// to get points.
///
/// # Errors
/// If the setup is none, or has no such sensor.
pub fn walk_text(
    file: &str,
    setup: &str,
    word: &str,
    words: &WalkWords,
) -> Result<String, SettingsError> {
    let whole: Table = read(file, setup)?;
    let sensors = whole.get("sensors").and_then(Value::as_table);
    let of = |word: &str| sensors.and_then(|s| s.get(word)).and_then(Value::as_table);
    let own = of(word).ok_or_else(|| {
        SettingsError::at(file, setup, 0, format!("there is no [sensors.{word}] here"))
    })?;
    let mut own = own.clone();
    for key in OF_THE_LAST {
        own.remove(key);
    }
    own.insert("calibrated_by".into(), "shop".into());
    let mut kept = Table::new();
    let supply = Role::Supply.word();
    if let Some(supply_table) = of(supply).filter(|_| word != supply) {
        kept.insert(supply.into(), Value::Table(supply_table.clone()));
    }
    kept.insert(word.into(), Value::Table(own));
    let table = [
        ("date", &words.date),
        ("who", &words.who),
        ("reference", &words.reference),
        ("reference_certificate", &words.reference_certificate),
        ("reference_in", &words.reference_in),
        ("reference_uncertainty", &words.reference_uncertainty),
        ("read_in", &words.read_in),
    ];
    let has_control = |(_, text): &&(&str, &String)| text.chars().any(char::is_control);
    if let Some((key, _)) = table.iter().find(has_control) {
        let message =
            format!("`{key}` has a line break or another sign that is no letter: one line");
        return Err(SettingsError::at(file, setup, 0, message));
    }
    let mut calibration: Table = table
        .into_iter()
        .map(|(key, text)| (key.to_owned(), Value::String(text.clone())))
        .collect();
    calibration.insert("degree".into(), Value::Integer(words.degree.into()));
    let written = |table: &Table| {
        toml::to_string(table).map_err(|error| SettingsError::at(file, setup, 0, error.to_string()))
    };
    let sensors = Table::from_iter([("sensors".to_owned(), Value::Table(kept))]);
    Ok(format!(
        "{}\n[sensors.{word}.calibration]\n{}",
        written(&sensors)?,
        written(&calibration)?
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Untaken;

    const SETUP: &str = "[unit]\ntag = \"TV-0312\"\n[sensors.p_cap]\nchannel = 0\nserial = \"P-11\"\n\
        certificate = \"TV-CAL-2026-031\"\ndue = \"2027-03-31\"\nzero_uncertainty = \"0.1 bar\"\n\
        span_uncertainty_percent = 0.1\n[sensors.x]\nchannel = 2\n\
        zero_uncertainty = \"0.1 mm\"\nspan_uncertainty_percent = 0.1\n";

    fn words() -> WalkWords {
        WalkWords {
            date: "2026-11-27".into(),
            who: "bench \"technician\" [x]".into(),
            reference: "dead weights".into(),
            reference_certificate: "TV-CAL-2026-002".into(),
            reference_in: "bar".into(),
            reference_uncertainty: "0.05 bar".into(),
            read_in: "bar".into(),
            degree: 1,
        }
    }

    #[test]
    fn the_sensor_keeps_what_is_its_own_and_waits_for_points() {
        let text = walk_text("bench.toml", SETUP, "p_cap", &words()).expect("a text");
        let untaken = Untaken::of("bench.toml", &text, None).expect("a sensor without points");
        assert_eq!(untaken.sensor.role, Role::CapPressure);
        assert_eq!(untaken.sensor.papers.serial, "P-11");
        assert_eq!(untaken.sensor.board_channel, Some(0));
        // What somebody typed stays one text.
        let found = untaken
            .sensor
            .calibration
            .as_ref()
            .expect("its calibration");
        assert_eq!(found.who, "bench \"technician\" [x]");
        // The paper of the calibration before does not go with the new one.
        assert_eq!(untaken.sensor.papers.certificate, "");
    }

    /// A line of its own could be taken for the heading of a table.
    #[test]
    fn what_has_a_line_break_is_refused_by_its_name() {
        let words = WalkWords {
            who: "bench\n[x]".into(),
            ..words()
        };
        let error = walk_text("bench.toml", SETUP, "p_cap", &words).expect_err("two lines");
        assert!(error.to_string().contains("`who`"), "{error}");
    }

    #[test]
    fn a_sensor_that_is_not_there_is_said() {
        for word in ["p_rod", "", "x.calibration", "../x"] {
            let error = walk_text("bench.toml", SETUP, word, &words()).expect_err(word);
            assert!(
                error.to_string().contains("there is no [sensors."),
                "{error}"
            );
        }
    }
}
