//! Files of limits that a shop file names, and how they travel with it.
//!
//! A recording keeps the shop file word for word. So the files that it names are put behind
//! it in one text, each under a line that says its name; errors name that file and its line.

use super::LimitTable;
use super::TableTable;
use crate::settings::SettingsError;
use serde::Deserialize;
use toml::Spanned;

/// The line before the text of a limits file.
const MARK: &str = "#: limits file ";

/// A file of limits.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::settings) struct LimitFile {
    #[serde(default)]
    pub limit: Vec<Spanned<LimitTable>>,
    #[serde(default)]
    pub limit_table: Vec<Spanned<TableTable>>,
}

/// The shop file's own text, and the names and texts of the limits files behind it.
pub(in crate::settings) fn parts(text: &str) -> (&str, Vec<(&str, &str)>) {
    let mut starts: Vec<usize> = text
        .match_indices(MARK)
        .map(|(start, _)| start)
        .filter(|start| *start == 0 || text[..*start].ends_with('\n'))
        .collect();
    let own = &text[..starts.first().copied().unwrap_or(text.len())];
    starts.push(text.len());
    let files = starts.windows(2).map(|pair| {
        let (line, rest) = text[pair[0]..pair[1]]
            .split_once('\n')
            .unwrap_or((&text[pair[0]..pair[1]], ""));
        (line[MARK.len()..].trim(), rest)
    });
    (own, files.collect())
}

/// A shop file with the limits files it names behind it; `read` gives the text of a named one,
/// or says why there is none. A text that has them already comes back as it is.
///
/// # Errors
/// If the shop file is none, or a file it names cannot be read.
pub fn with_files(
    file: &str,
    text: &str,
    read: impl Fn(&str) -> Result<String, String>,
) -> Result<String, SettingsError> {
    let (own, files) = parts(text);
    if !files.is_empty() {
        return Ok(text.into());
    }
    let mut all = own.to_owned();
    for named in crate::settings::shop::named_files(file, own)? {
        let name = named.get_ref();
        let wrong = |why: String| {
            let message =
                format!("limits file `{name}` {why}; it is looked for beside the shop file");
            SettingsError::at(file, text, named.span().start, message)
        };
        let found = read(name).map_err(|why| wrong(format!("cannot be read: {why}")))?;
        if !parts(&found).1.is_empty() {
            return Err(wrong(format!("has a line that begins with `{MARK}`")));
        }
        if !all.ends_with('\n') {
            all.push('\n');
        }
        all.push_str(&format!("{MARK}{name}\n{found}"));
    }
    Ok(all)
}
