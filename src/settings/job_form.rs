//! A job sheet as the fields of a form, and back.
//!
//! What is typed into a form becomes the text of a sheet, which is then read like any other: same
//! checks, same words. Each line of the text knows its field, so that what is wrong is said where
//! it was typed. Numbers may have a comma or a point.
//!
//! Names of fields: those of the sheet; `finding-0-part`, `part-0-what` for the rows.

use super::SettingsError;
use super::read;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use toml::Value;

/// Most rows of each kind in a form.
pub const MOST_ROWS: usize = 60;

const FINDING: [&str; 5] = ["part", "condition", "structural", "measured", "limit"];
const PART: [&str; 4] = ["what", "count", "price", "from_kit"];
const COSTS: [(&str, bool); 9] = [
    ("an_hour", true),
    ("a_day_standing", true),
    ("rebuild_hours", true),
    ("rebuild_outside_work", false),
    ("rebuild_days", true),
    ("replace_price", true),
    ("replace_hours", true),
    ("replace_days", true),
    ("money", true),
];

/// A sheet that was written from a form.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WrittenSheet {
    /// Its text.
    pub text: String,
    /// What is wrong already: field and sentence.
    pub faults: Vec<(String, String)>,
    /// The field of each line; of a table's heading the beginning of its fields.
    fields: Vec<String>,
}

impl WrittenSheet {
    /// The field that an error of the sheet is about.
    pub fn field_of(&self, error: &SettingsError) -> String {
        let known = self.fields.get(error.line.saturating_sub(1));
        let field = known.cloned().unwrap_or_default();
        // An error of a whole table names the key it means.
        let key = error.message.split('`').nth(1).unwrap_or_default();
        match field.strip_suffix('*') {
            Some(start) if key.bytes().all(|b| b.is_ascii_lowercase() || b == b'_') => {
                format!("{start}{key}")
            }
            Some(start) => start.trim_end_matches('-').into(),
            None => field,
        }
    }

    fn line(&mut self, field: &str, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
        self.fields.push(field.into());
    }

    fn fault(&mut self, field: &str, what: &str) {
        self.faults.push((field.into(), what.into()));
    }

    fn words(&mut self, key: &str, field: &str, value: &str) {
        self.line(field, &format!("{key} = {}", quoted(value)));
    }

    /// Words that are left out where nothing was typed.
    fn some_words(&mut self, key: &str, field: &str, value: &str) {
        if !value.trim().is_empty() {
            self.words(key, field, value.trim());
        }
    }

    fn day(&mut self, field: &str, value: &str) {
        let value = value.trim();
        let form = |(i, b): (usize, u8)| match i {
            4 | 7 => b == b'-',
            _ => b.is_ascii_digit(),
        };
        match value.len() == 10 && value.bytes().enumerate().all(form) {
            true => self.line(field, &format!("{field} = {value}")),
            false => self.fault(field, "write a day as 2026-11-20"),
        }
    }

    fn number(&mut self, key: &str, field: &str, value: &str) {
        match plain_number(value) {
            Some(number) => self.line(field, &format!("{key} = {number}")),
            None => self.fault(field, "write a number, as 12.50; 0 if there is none"),
        }
    }

    fn whole(&mut self, key: &str, field: &str, value: &str) {
        match value.trim().parse::<u32>() {
            Ok(number) => self.line(field, &format!("{key} = {number}")),
            Err(_) => self.fault(field, "write a whole number"),
        }
    }
}

/// Writes the sheet of a form; `typed` gives the value of a field, or nothing.
pub fn write_sheet<'a>(typed: impl Fn(&str) -> &'a str) -> WrittenSheet {
    let mut sheet = WrittenSheet::default();
    sheet.line("", "[job]");
    if !typed("number").is_empty() {
        sheet.whole("number", "number", typed("number"));
    }
    sheet.words("unit", "unit", typed("unit").trim());
    for key in ["description", "machine", "serial", "seal"] {
        sheet.some_words(key, key, typed(key));
    }
    sheet.day("came_in", typed("came_in"));
    if !typed("went_out").trim().is_empty() {
        sheet.day("went_out", typed("went_out"));
    }
    sheet.words("symptom", "symptom", typed("symptom").trim());
    sheet.some_words("drifts", "drifts", typed("drifts"));
    sheet.some_words("outside_place", "outside_place", typed("outside_place"));
    if !typed("outside_class").trim().is_empty() {
        sheet.whole("outside_class", "outside_class", typed("outside_class"));
    }
    sheet.words("by", "by", typed("by").trim());
    sheet.some_words("withdrawn", "withdrawn", typed("withdrawn"));
    for index in 0..MOST_ROWS {
        finding(&mut sheet, index, &typed);
    }
    for index in 0..MOST_ROWS {
        part(&mut sheet, index, &typed);
    }
    handover(&mut sheet, &typed);
    costs(&mut sheet, &typed);
    decision(&mut sheet, &typed);
    sheet
}

fn finding<'a>(sheet: &mut WrittenSheet, index: usize, typed: &impl Fn(&str) -> &'a str) {
    let name = |key: &str| format!("finding-{index}-{key}");
    let value = |key: &str| typed(&name(key)).trim();
    if FINDING.iter().all(|key| value(key).is_empty()) {
        return;
    }
    sheet.line(&name("*"), "[[finding]]");
    for key in ["part", "condition"] {
        match value(key).is_empty() {
            true => sheet.fault(&name(key), "say which part, and what it is like"),
            false => sheet.words(key, &name(key), value(key)),
        }
    }
    if !value("structural").is_empty() {
        sheet.line(&name("structural"), "structural = true");
    }
    for key in ["measured", "limit"] {
        sheet.some_words(key, &name(key), value(key));
    }
}

fn part<'a>(sheet: &mut WrittenSheet, index: usize, typed: &impl Fn(&str) -> &'a str) {
    let name = |key: &str| format!("part-{index}-{key}");
    let value = |key: &str| typed(&name(key)).trim();
    // A row whose count alone is filled in was offered, not used.
    if ["what", "price"].iter().all(|key| value(key).is_empty()) {
        return;
    }
    sheet.line(&name("*"), "[[part]]");
    match value("what").is_empty() {
        true => sheet.fault(&name("what"), "say which part"),
        false => sheet.words("what", &name("what"), value("what")),
    }
    if !value("count").is_empty() {
        sheet.whole("count", &name("count"), value("count"));
    }
    sheet.number("price", &name("price"), value("price"));
    let from_kit = !value("from_kit").is_empty();
    sheet.line(&name("from_kit"), &format!("from_kit = {from_kit}"));
}

fn handover<'a>(sheet: &mut WrittenSheet, typed: &impl Fn(&str) -> &'a str) {
    let torques: Vec<String> = typed("torques")
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .map(quoted)
        .collect();
    let (straight, plugs) = (typed("rod_straightness"), typed("plugs_fitted"));
    if torques.is_empty() && straight.trim().is_empty() && plugs.is_empty() {
        return;
    }
    sheet.line("", "[handover]");
    sheet.some_words("rod_straightness", "rod_straightness", straight);
    if !torques.is_empty() {
        sheet.line("torques", &format!("torques = [{}]", torques.join(", ")));
    }
    if !plugs.is_empty() {
        sheet.line(
            "plugs_fitted",
            &format!("plugs_fitted = {}", plugs == "yes"),
        );
    }
}

fn costs<'a>(sheet: &mut WrittenSheet, typed: &impl Fn(&str) -> &'a str) {
    let amounts = COSTS.iter().filter(|(key, _)| *key != "money");
    if amounts.clone().all(|(key, _)| typed(key).trim().is_empty()) {
        return;
    }
    sheet.line("*", "[cost]");
    sheet.words("money", "money", typed("money").trim());
    for (key, is_needed) in amounts {
        if *is_needed || !typed(key).trim().is_empty() {
            sheet.number(key, key, typed(key));
        }
    }
}

fn decision<'a>(sheet: &mut WrittenSheet, typed: &impl Fn(&str) -> &'a str) {
    let (decided, reason) = (typed("do"), typed("reason").trim());
    if decided.is_empty() {
        if !reason.is_empty() {
            sheet.fault("do", "choose what was decided");
        }
        return;
    }
    sheet.line("", "[decision]");
    sheet.words("do", "do", decided);
    sheet.words("reason", "reason", reason);
}

/// The fields of a sheet, as they were typed; what the form has no field for is left out.
///
/// # Errors
/// If the text is no TOML.
pub fn sheet_fields(file: &str, text: &str) -> Result<BTreeMap<String, String>, SettingsError> {
    let sheet: toml::Table = read(file, text)?;
    let mut fields = BTreeMap::new();
    let mut put = |name: String, value: &Value| {
        fields.insert(name, plain(value));
    };
    for table in ["job", "handover", "cost", "decision"] {
        let found = sheet.get(table).and_then(Value::as_table);
        for (key, value) in found.into_iter().flatten() {
            put(key.clone(), value);
        }
    }
    for (table, keys) in [("finding", &FINDING[..]), ("part", &PART[..])] {
        let rows = sheet.get(table).and_then(Value::as_array);
        for (index, row) in rows.into_iter().flatten().enumerate() {
            for key in keys {
                if let Some(value) = row.get(key).filter(|value| value.as_bool() != Some(false)) {
                    put(format!("{table}-{index}-{key}"), value);
                }
            }
        }
    }
    Ok(fields)
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Boolean(true) => "yes".into(),
        Value::Boolean(false) => "no".into(),
        Value::Array(lines) => lines.iter().map(plain).collect::<Vec<_>>().join("\n"),
        // Without a place behind the point that nobody typed.
        Value::Float(number) => number.to_string(),
        other => other.to_string(),
    }
}

/// A text as TOML writes it in one line.
fn quoted(text: &str) -> String {
    let mut written = String::from('"');
    for c in text.chars() {
        match c {
            '"' => written.push_str("\\\""),
            '\\' => written.push_str("\\\\"),
            '\n' => written.push_str("\\n"),
            c if c.is_control() => {
                let _ = write!(written, "\\u{:04X}", u32::from(c));
            }
            c => written.push(c),
        }
    }
    written.push('"');
    written
}

/// A number without its blanks, with a point; None for what is none.
fn plain_number(text: &str) -> Option<f64> {
    let text = text.trim();
    let digits = text.strip_prefix('-').unwrap_or(text);
    let n_marks = digits.bytes().filter(|b| matches!(b, b',' | b'.')).count();
    let is_number = digits.bytes().any(|b| b.is_ascii_digit())
        && digits
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b',' | b'.'));
    match is_number && n_marks <= 1 {
        true => text.replace(',', ".").parse().ok(),
        false => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::JobSheet;

    const EXAMPLE: &str = include_str!("job-example.toml");

    fn form(changes: &[(&str, &str)]) -> BTreeMap<String, String> {
        let mut fields = sheet_fields("job-example.toml", EXAMPLE).expect("a sheet");
        for (name, value) in changes {
            fields.insert((*name).into(), (*value).into());
        }
        fields
    }

    fn written(fields: &BTreeMap<String, String>) -> WrittenSheet {
        write_sheet(|name| fields.get(name).map_or("", String::as_str))
    }

    #[test]
    fn a_sheet_that_goes_through_a_form_says_the_same() {
        let sheet = written(&form(&[]));
        assert_eq!(sheet.faults, []);
        let through = JobSheet::parse("form", &sheet.text).expect("a sheet");
        assert_eq!(through, JobSheet::parse("file", EXAMPLE).expect("a sheet"));
        // And once more: the text does not drift.
        let again = sheet_fields("form", &sheet.text).expect("a sheet");
        assert_eq!(written(&again).text, sheet.text);
        let comma = written(&form(&[("part-0-price", "84,00"), ("an_hour", " 60 ")]));
        assert_eq!(
            JobSheet::parse("form", &comma.text).expect("a sheet"),
            through
        );
    }

    #[test]
    fn what_is_typed_stays_text() {
        for nasty in [
            "\"\nwithdrawn = \"x",
            "\\",
            "]] [[finding]]",
            "\u{1}\u{7f}\t\u{85}",
            "<script>",
            "'''",
        ] {
            let sheet = written(&form(&[
                ("symptom", &format!("x{nasty}x")),
                ("torques", nasty),
            ]));
            let found = JobSheet::parse("form", &sheet.text).expect(nasty);
            assert_eq!(found.symptom, format!("x{nasty}x"));
            assert_eq!(found.findings.len(), 1);
        }
        let sheet = written(&form(&[("came_in", "2026-11-20\nnumber = 5")]));
        assert_eq!(sheet.faults[0].0, "came_in");
    }

    #[test]
    fn what_is_wrong_is_said_at_its_field() {
        for (field, value, says) in [
            ("came_in", "20 November", "2026-11-20"),
            ("came_in", "2026-13-45", ""),
            ("went_out", "2026-11-19", "before it came in"),
            ("symptom", " ", "must not be empty"),
            ("by", "", "must not be empty"),
            ("outside_class", "6", "0 to 5"),
            ("outside_class", "x", "whole number"),
            ("drifts", "down", "down"),
            ("finding-0-measured", "0.1 kg", ""),
            ("finding-0-part", "", "which part"),
            ("part-0-price", "12.505", "two places"),
            ("part-0-price", "-1", "two places"),
            ("part-0-price", "1.234,5", "12.50"),
            ("part-1-count", "0", "1 or more"),
            ("an_hour", "nan", "12.50"),
            ("replace_days", "", "12.50"),
            ("rebuild_hours", "-3", "rebuild_hours"),
            ("rod_straightness", "bent", ""),
            ("do", "", "choose"),
            ("do", "scrap", "scrap"),
        ] {
            let sheet = written(&form(&[(field, value)]));
            let (at, what) = match sheet.faults.first() {
                Some(found) => found.clone(),
                None => {
                    let error = JobSheet::parse("form", &sheet.text).expect_err(field);
                    (sheet.field_of(&error), error.message)
                }
            };
            assert_eq!(at, field, "{value:?}: {what}");
            assert!(what.contains(says), "{field} {value:?}: {what}");
        }
    }
}
