//! How a procedure's text travels behind the setup that names it.
//!
//! A recording keeps the setup word for word, and must be judged in ten years without other
//! files. So the text is put behind the setup's own, under a line that says its name.

use super::built_in::built_in;
use super::file::NamingTable;
use crate::settings::SettingsError;
use crate::settings::read;
use serde::Deserialize;
use toml::Spanned;

/// The line before the text of a procedure.
const MARK: &str = "#: procedure ";

/// The setup, as far as it names a procedure.
#[derive(Deserialize)]
struct Naming {
    procedure: Option<Spanned<NamingTable>>,
}

/// A setup's own text, and name and text of the procedure behind it.
pub(in crate::settings) fn parts(text: &str) -> (&str, Option<(&str, &str)>) {
    let starts = text.match_indices(MARK).map(|(start, _)| start);
    let start = starts
        .into_iter()
        .find(|start| *start == 0 || text[..*start].ends_with('\n'));
    let Some(start) = start else {
        return (text, None);
    };
    let (line, rest) = text[start..]
        .split_once('\n')
        .unwrap_or((&text[start..], ""));
    (&text[..start], Some((line[MARK.len()..].trim(), rest)))
}

/// A setup with more lines at its own end, before the procedure that may be behind it.
pub fn with_lines(text: &str, lines: &str) -> String {
    let (own, _) = parts(text);
    format!("{own}\n{lines}\n{}", &text[own.len()..])
}

/// Whether a setup has a procedure behind it.
pub fn names_procedure(text: &str) -> bool {
    parts(text).1.is_some()
}

/// A setup that goes by a procedure that is built in, whatever it names itself; its own single hold
/// gives way. What is not written about it in the setup's own words stays as it is.
///
/// # Errors
/// If the setup is none, or there is no such procedure.
pub fn with_other_procedure(file: &str, text: &str, name: &str) -> Result<String, SettingsError> {
    let (own, _) = parts(text);
    let wrong = |message: String| SettingsError::at(file, own, 0, message);
    built_in(name).map_err(wrong)?;
    let mut setup: toml::Table = read(file, own)?;
    setup.remove("hold");
    let naming = toml::Table::from_iter([("name".to_owned(), name.into())]);
    setup.insert("procedure".into(), toml::Value::Table(naming));
    let text = toml::to_string(&setup).map_err(|error| wrong(error.to_string()))?;
    with_procedure(file, &text, |_| Err("nothing stands beside it".into()))
}

/// A setup with the procedure it names behind it, if it names one; `read_file` gives the text of
/// a file that stands beside the setup, or says why there is none. A text that has its
/// procedure already comes back as it is.
///
/// # Errors
/// If the setup is none, or the procedure it names cannot be read.
pub fn with_procedure(
    file: &str,
    text: &str,
    read_file: impl Fn(&str) -> Result<String, String>,
) -> Result<String, SettingsError> {
    let (own, found) = parts(text);
    if found.is_some() {
        return Ok(text.into());
    }
    let Naming {
        procedure: Some(naming),
    } = read::<Naming>(file, own)?
    else {
        return Ok(text.into());
    };
    let wrong = |message: String| SettingsError::at(file, own, naming.span().start, message);
    let (name, found) = match naming.get_ref() {
        NamingTable {
            name: Some(name),
            file: None,
        } => (name, built_in(name).map_err(wrong)?.text.to_owned()),
        NamingTable {
            name: None,
            file: Some(name),
        } => {
            if built_in(name).is_ok() {
                return Err(wrong(format!(
                    "`{name}` is the name of one that is built in; call your own file otherwise"
                )));
            }
            let found = read_file(name).map_err(|why| {
                wrong(format!(
                    "procedure file `{name}` cannot be read: {why}; it is looked for beside the setup"
                ))
            })?;
            (name, found)
        }
        _ => {
            return Err(wrong(
                "[procedure] needs either `name`, of one that is built in, or `file`, of your own"
                    .into(),
            ));
        }
    };
    if parts(&found).1.is_some() {
        return Err(wrong(format!(
            "procedure `{name}` has a line that begins with `{MARK}`"
        )));
    }
    let between = if own.ends_with('\n') { "" } else { "\n" };
    Ok(format!("{own}{between}{MARK}{name}\n{found}"))
}
