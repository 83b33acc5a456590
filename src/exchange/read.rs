//! Tables that come in: units, and tests whose recordings come along.

use crate::cylinder::Kind;
use crate::register::Build;
use crate::register::Unit;
use serde::Deserialize;

/// Most rows of a file that comes in.
const MOST_ROWS: usize = 100_000;

/// Why a table cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum ExchangeError {
    /// A row of it.
    #[error("{file}, line {line}: {message}")]
    Row {
        /// The file.
        file: String,
        /// Its line, from 1.
        line: u64,
        /// What is wrong, and what would be right.
        message: String,
    },
    /// As CSV.
    #[error("the table cannot be written: {0}")]
    Csv(#[from] csv::Error),
    /// As JSON.
    #[error("the table cannot be written: {0}")]
    Json(#[from] serde_json::Error),
    /// As text.
    #[error("the table cannot be written: {0}")]
    Text(String),
}

#[derive(Deserialize)]
struct UnitIn {
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
    kind: String,
    bore_mm: Option<f64>,
    rod_mm: Option<f64>,
    stroke_mm: Option<f64>,
    cap_rating_bar: Option<f64>,
    rod_rating_bar: Option<f64>,
    #[serde(default)]
    ports: String,
    #[serde(default)]
    holding_valve: String,
}

/// Longest length, and highest pressure, that is believed of a cylinder.
const LARGEST: (f64, f64) = (100_000.0, 10_000.0);

impl UnitIn {
    fn build(&self) -> Result<Build, String> {
        let word = self.kind.trim();
        let kind = Kind::ALL.into_iter().find(|kind| kind.word() == word);
        if kind.is_none() && !word.is_empty() {
            let known = Kind::ALL.map(Kind::word).join(", ");
            return Err(format!("`kind` is one of {known}, or empty"));
        }
        let whole = |name, value: Option<f64>, per_unit: f64, largest: f64| match value {
            None => Ok(None),
            // Whole and small: nothing is lost.
            Some(value) if value > 0.0 && value <= largest => {
                Ok(Some((value * per_unit).round().max(1.0) as i64))
            }
            Some(_) => Err(format!("`{name}` must be above 0 and at most {largest}")),
        };
        let um = |name, value| whole(name, value, 1e3, LARGEST.0);
        let pa = |name, value| whole(name, value, 1e5, LARGEST.1);
        Ok(Build {
            kind,
            bore_um: um("bore_mm", self.bore_mm)?,
            rod_um: um("rod_mm", self.rod_mm)?,
            stroke_um: um("stroke_mm", self.stroke_mm)?,
            cap_rating_pa: pa("cap_rating_bar", self.cap_rating_bar)?,
            rod_rating_pa: pa("rod_rating_bar", self.rod_rating_bar)?,
            ports: self.ports.trim().to_owned(),
            holding_valve: self.holding_valve.trim().to_owned(),
        })
    }

    fn unit(self, build: Build) -> Unit {
        let trimmed = |text: String| text.trim().to_owned();
        Unit {
            tag: trimmed(self.tag),
            description: trimmed(self.description),
            machine: trimmed(self.machine),
            serial: trimmed(self.serial),
            seal: trimmed(self.seal),
            build,
        }
    }
}

/// Units of a CSV table with a heading; columns `tag`, and if there are `description`, `machine`,
/// `serial`, `seal`, `kind`, `bore_mm`, `rod_mm`, `stroke_mm`, `cap_rating_bar`, `rod_rating_bar`,
/// `ports`, `holding_valve`, as an export has them; others are not looked at. Comma or semicolon, as spreadsheets write it.
///
/// # Errors
/// With file, line, what is wrong and what would be right. Nothing is taken then.
pub fn units_of_csv(file: &str, text: &str) -> Result<Vec<Unit>, ExchangeError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let heading = text.lines().next().unwrap_or_default();
    let delimiter = match heading.contains(';') {
        true => b';',
        false => b',',
    };
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let names = reader.headers().cloned().unwrap_or_default();
    if !names.iter().any(|name| name == "tag") {
        return Err(row_error(
            file,
            1,
            "the first line must name the columns, and one of them must be `tag`",
        ));
    }
    let mut units = Vec::new();
    for row in reader.deserialize::<UnitIn>() {
        let row = row.map_err(|error| {
            let line = error.position().map_or(1, csv::Position::line);
            row_error(file, line, &error.to_string())
        })?;
        // A heading, and each row on a line of its own unless texts have line breaks.
        let line = units.len() as u64 + 2;
        take(&mut units, (file, line), row)?;
    }
    Ok(units)
}

/// Units of JSON lines: an object with `tag` in each.
///
/// # Errors
/// With file, line, what is wrong and what would be right. Nothing is taken then.
pub fn units_of_json_lines(file: &str, text: &str) -> Result<Vec<Unit>, ExchangeError> {
    let mut units = Vec::new();
    for (line, text) in lines(text) {
        let row = serde_json::from_str(text);
        let row = row.map_err(|error| row_error(file, line, &error.to_string()))?;
        take(&mut units, (file, line), row)?;
    }
    Ok(units)
}

fn take(
    units: &mut Vec<Unit>,
    (file, line): (&str, u64),
    row: UnitIn,
) -> Result<(), ExchangeError> {
    let build = row
        .build()
        .map_err(|message| row_error(file, line, &message))?;
    let unit = row.unit(build);
    if unit.tag.is_empty() {
        return Err(row_error(file, line, "`tag` must not be empty"));
    }
    if units.len() >= MOST_ROWS {
        return Err(row_error(
            file,
            line,
            "more than 100 000 rows; make several files of it",
        ));
    }
    units.push(unit);
    Ok(())
}

/// A test that comes in: the file of its recording, and what it was called.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct TestFile {
    /// Number of its paper where it comes from.
    pub number: String,
    /// Name of the file of its recording.
    pub archive_file: String,
    /// Its SHA-256, hexadecimal.
    pub archive_sha256: String,
}

/// Tests of JSON lines as they are written here; None if the first line is no test.
///
/// # Errors
/// With file, line, what is wrong and what would be right. Nothing is taken then.
pub fn test_files(file: &str, text: &str) -> Result<Option<Vec<TestFile>>, ExchangeError> {
    let mut tests = Vec::new();
    for (line, text) in lines(text) {
        match serde_json::from_str::<TestFile>(text) {
            Ok(test) if is_plain(&test.archive_file) => tests.push(test),
            Ok(_) => {
                let message = "`archive_file` must be the name of a file, without a folder";
                return Err(row_error(file, line, message));
            }
            Err(_) if tests.is_empty() => return Ok(None),
            Err(error) => return Err(row_error(file, line, &error.to_string())),
        }
    }
    Ok(Some(tests))
}

/// Whether a name stays in its folder.
fn is_plain(name: &str) -> bool {
    !name.is_empty() && !name.starts_with('.') && !name.contains(['/', '\\', '\0'])
}

fn lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let numbered = (1..).zip(text.lines());
    numbered.filter(|(_, line)| !line.trim().is_empty())
}

fn row_error(file: &str, line: u64, message: &str) -> ExchangeError {
    ExchangeError::Row {
        file: file.into(),
        line,
        message: message.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_come_from_tables_as_spreadsheets_write_them() {
        let text = "\u{feff}seal;tag;machine;price\r\n\"PTFE; slide ring\"; TV-0312 ;Räumgerät 7;12\r\n;TV-0313;;\r\n";
        let units = units_of_csv("units.csv", text).expect("units");
        assert_eq!(units.len(), 2);
        assert_eq!(
            (units[0].tag.as_str(), units[0].seal.as_str()),
            ("TV-0312", "PTFE; slide ring")
        );
        assert_eq!(units[0].machine, "Räumgerät 7");
        let units = units_of_json_lines("u.jsonl", "{\"tag\": \"TV-1\", \"serial\": \"a,b\"}\n\n")
            .expect("units");
        assert_eq!(units[0].serial, "a,b");
    }

    #[test]
    fn what_is_wrong_is_said_at_its_line() {
        for (text, line, says) in [
            ("name,machine\na,b\n", 1, "must be `tag`"),
            ("tag,machine\na,b\n ,c\n", 3, "must not be empty"),
            ("tag,machine\na,b\nc\n", 3, "fields"),
            ("tag,bore_mm\na,-63\n", 2, "`bore_mm` must be above 0"),
            ("tag,bore_mm\na,NaN\n", 2, "`bore_mm` must be above 0"),
            ("tag,kind\na,big\n", 2, "double_acting"),
        ] {
            match units_of_csv("units.csv", text) {
                Err(ExchangeError::Row {
                    line: at, message, ..
                }) => {
                    assert_eq!(at, line, "{message}");
                    assert!(message.contains(says), "{message}");
                }
                other => panic!("{other:?}"),
            }
        }
        let error = units_of_json_lines("u.jsonl", "{\"tag\": \"a\"}\n{\"tag\": 7}\n");
        assert!(
            error
                .expect_err("a number")
                .to_string()
                .contains("u.jsonl, line 2")
        );
    }

    #[test]
    fn a_test_that_comes_in_stays_in_its_folder() {
        let line = |name: &str| {
            format!(
                "{{\"number\": \"TV-2026-0001\", \"archive_file\": \"{name}\", \"archive_sha256\": \"ab\"}}\n"
            )
        };
        let found = test_files("t.jsonl", &line("run.h5")).expect("tests");
        assert_eq!(found.map(|tests| tests.len()), Some(1));
        assert!(test_files("t.jsonl", &line("../run.h5")).is_err());
        assert_eq!(
            test_files("t.jsonl", "{\"tag\": \"a\"}\n").expect("none"),
            None
        );
    }
}
