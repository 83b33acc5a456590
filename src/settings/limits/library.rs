//! Files that a shop file names, limits and a logo, and how they travel with it.
//!
//! A recording keeps the shop file word for word. So the files that it names are put behind
//! it in one text, each under a line that says its name; errors name that file and its line.

use super::LimitTable;
use super::TableTable;
use crate::settings::SettingsError;
use crate::settings::letterhead::Logo;
use serde::Deserialize;
use toml::Spanned;

/// The line before the text of a limits file.
const MARK: &str = "#: limits file ";
/// The line before the text of a logo.
const LOGO: &str = "#: logo file ";

/// A file of limits.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::settings) struct LimitFile {
    #[serde(default)]
    pub limit: Vec<Spanned<LimitTable>>,
    #[serde(default)]
    pub limit_table: Vec<Spanned<TableTable>>,
}

/// A shop file with what travels behind it.
pub(in crate::settings) struct Parts<'a> {
    /// The shop file's own text.
    pub own: &'a str,
    /// Names and texts of the limits files.
    pub limits: Vec<(&'a str, &'a str)>,
    /// Name and text of the logo.
    pub logo: Option<(&'a str, &'a str)>,
}

/// Takes a shop file and what travels behind it apart.
pub(in crate::settings) fn parts(text: &str) -> Parts<'_> {
    let of = |mark: &'static str| text.match_indices(mark).map(move |(at, _)| (at, mark));
    let mut starts: Vec<(usize, &str)> = of(MARK)
        .chain(of(LOGO))
        .filter(|(at, _)| *at == 0 || text[..*at].ends_with('\n'))
        .collect();
    starts.sort_unstable();
    let own = &text[..starts.first().map_or(text.len(), |start| start.0)];
    starts.push((text.len(), ""));
    let mut parts = Parts {
        own,
        limits: Vec::new(),
        logo: None,
    };
    for pair in starts.windows(2) {
        let ((from, mark), until) = (pair[0], pair[1].0);
        let whole = &text[from..until];
        let (line, rest) = whole.split_once('\n').unwrap_or((whole, ""));
        let found = (line[mark.len()..].trim(), rest);
        match mark {
            LOGO => parts.logo = Some(found),
            _ => parts.limits.push(found),
        }
    }
    parts
}

/// A shop file with the limits files and the logo it names behind it. `read` gives the text of
/// a named limits file, `read_logo` the bytes of a logo, or they say why there is none. What the
/// text has already stays as it is.
///
/// # Errors
/// If the shop file is none, or a file it names cannot be read or used.
pub fn with_files(
    file: &str,
    text: &str,
    read: impl Fn(&str) -> Result<String, String>,
    read_logo: impl Fn(&str) -> Result<Vec<u8>, String>,
) -> Result<String, SettingsError> {
    let found = parts(text);
    let mut all = text.to_owned();
    let mut add = |mark: &str, name: &str, text: &str| {
        if !all.ends_with('\n') {
            all.push('\n');
        }
        all.push_str(&format!("{mark}{name}\n{text}"));
    };
    let wrong = |what: &str, named: &Spanned<String>, why: String| {
        let name = named.get_ref();
        let message = format!("{what} `{name}` {why}; it is looked for beside the shop file");
        SettingsError::at(file, text, named.span().start, message)
    };
    let named_files = crate::settings::shop::named_files(file, found.own)?;
    for named in &named_files.limits {
        let name = named.get_ref();
        if found.limits.iter().any(|(known, _)| known == name) {
            continue;
        }
        let wrong = |why: String| wrong("limits file", named, why);
        let read = read(name).map_err(|why| wrong(format!("cannot be read: {why}")))?;
        no_marks(&read).map_err(wrong)?;
        add(MARK, name, &read);
    }
    let is_there = found.logo.map(|(name, _)| name);
    let missing = named_files
        .logo
        .filter(|named| Some(named.get_ref().as_str()) != is_there);
    if let Some(named) = &missing {
        let name = named.get_ref();
        let wrong = |why: String| wrong("logo", named, why);
        let read = read_logo(name).map_err(&wrong)?;
        let stored = Logo::from_file(read).map_err(&wrong)?.stored();
        no_marks(&stored).map_err(&wrong)?;
        add(LOGO, name, &stored);
    }
    Ok(all)
}

/// A file that travels behind another must not look like two.
fn no_marks(text: &str) -> Result<(), String> {
    let found = parts(text);
    match (found.limits.is_empty(), found.logo) {
        (true, None) => Ok(()),
        (false, _) => Err(format!("has a line that begins with `{MARK}`")),
        (true, Some(_)) => Err(format!("has a line that begins with `{LOGO}`")),
    }
}
