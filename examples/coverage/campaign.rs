//! The file of a campaign: made by several threads, always in the order of the holds,
//! and continued after a stop at any moment.
//!
//! The first line says what the file is of. The rows of a hold are written in one piece
//! and flushed; a hold that is not whole at the end of the file is cut off and made again.
//!
//! Invariant: seed, domain and version decide every byte, not threads or stops.

use super::draw::DOMAIN_VERSION;
use super::in_order::in_order;
use super::play::play;
use super::rows::Row;
use super::rows::rows;
use super::see::see;
use anyhow::Context;
use anyhow::bail;
use std::fs;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;
use stillrod::account::METHOD_VERSION;
use stillrod::account::Term;

/// Version of the rows.
const ROWS_VERSION: u32 = 3;

/// Which campaign.
#[derive(Debug, Clone, Copy)]
pub struct Campaign {
    /// Seed of all holds.
    pub seed: u64,
    /// Term of the account that is left out.
    pub without: Option<Term>,
}

impl Campaign {
    fn first_line(&self) -> String {
        format!(
            "# coverage: seed {}, domain {DOMAIN_VERSION}, rows {ROWS_VERSION}, method {METHOD_VERSION}, without {}\n",
            self.seed,
            self.without.map_or("nothing", Term::word)
        )
    }

    /// Makes the holds below `n` that the file has not got; `told` hears of each.
    ///
    /// # Errors
    /// If the file is of another campaign, or cannot be read or written.
    pub fn run(
        &self,
        file: &Path,
        n: u64,
        n_threads: usize,
        told: impl Fn(u64),
    ) -> anyhow::Result<()> {
        let first = self.begin(file)?;
        if first >= n {
            return Ok(());
        }
        let mut out = OpenOptions::new()
            .append(true)
            .open(file)
            .with_context(|| format!("cannot append to {}", file.display()))?;
        in_order(
            first..n,
            n_threads,
            |index| self.hold(index),
            |index, text| {
                out.write_all(text?.as_bytes())
                    .and_then(|()| out.flush())
                    .with_context(|| format!("cannot write to {}", file.display()))?;
                told(index + 1);
                Ok(())
            },
        )
    }

    /// The rows of one hold as text; the first hold brings the line of names.
    ///
    /// # Errors
    /// If a row cannot be written as text.
    pub fn hold(&self, index: u64) -> anyhow::Result<String> {
        let played = play(self.seed, index);
        let rows = rows(&played, &see(&played, self.without));
        let mut writer = csv::WriterBuilder::new()
            .has_headers(index == 0)
            .from_writer(Vec::new());
        for row in rows {
            writer.serialize(row).context("a row cannot be written")?;
        }
        let bytes = writer.into_inner().context("a row cannot be written")?;
        String::from_utf8(bytes).context("a row is no text")
    }

    /// Makes the file, or cuts it after its last whole hold; the number of the next hold.
    fn begin(&self, file: &Path) -> anyhow::Result<u64> {
        let bytes = if file.exists() {
            fs::read(file).with_context(|| format!("cannot read {}", file.display()))?
        } else {
            Vec::new()
        };
        // A stop may leave half a letter behind.
        let text = String::from_utf8_lossy(&bytes);
        let line = self.first_line();
        if !text.contains('\n') && line.starts_with(&*text) {
            if let Some(folder) = file.parent() {
                fs::create_dir_all(folder)
                    .with_context(|| format!("cannot make {}", folder.display()))?;
            }
            fs::write(file, &line).with_context(|| format!("cannot write {}", file.display()))?;
            return Ok(0);
        }
        if !text.starts_with(&line) {
            bail!(
                "{} begins with `{}`, this campaign with `{}`: choose another file",
                file.display(),
                text.lines().next().unwrap_or_default(),
                line.trim_end()
            );
        }
        let (n_whole, length) = whole(&text[line.len()..]);
        OpenOptions::new()
            .write(true)
            .open(file)
            .and_then(|out| out.set_len((line.len() + length) as u64))
            .with_context(|| format!("cannot cut {}", file.display()))?;
        Ok(n_whole)
    }
}

/// How many holds are whole, and the bytes they take with the line of names.
fn whole(text: &str) -> (u64, usize) {
    let mut reader = csv::ReaderBuilder::new().from_reader(text.as_bytes());
    let (mut n_holds, mut length) = (0, 0);
    for row in reader.deserialize::<Row>() {
        let Ok(row) = row else { break };
        if row.row == row.n_rows {
            n_holds = row.hold + 1;
            length = end_of_line(text, &row, length);
        }
    }
    if text[..length].ends_with('\n') {
        (n_holds, length)
    } else {
        // The last line of a hold lacks its end: everything of that hold goes.
        let kept = text[..length].rfind('\n').map_or(0, |at| at + 1);
        whole_before(&text[..kept])
    }
}

fn whole_before(text: &str) -> (u64, usize) {
    if text.is_empty() { (0, 0) } else { whole(text) }
}

/// Where the hold of its last row ends; holds are read from `from` on.
fn end_of_line(text: &str, row: &Row, from: usize) -> usize {
    let names = usize::from(from == 0);
    let mut at = from;
    for _ in 0..row.n_rows + names {
        at += text[at..].find('\n').map_or(text.len() - at, |end| end + 1);
    }
    at
}

/// All rows of whole holds of a file.
///
/// # Errors
/// If the file cannot be read or is none of a campaign.
pub fn read(file: &Path) -> anyhow::Result<(String, Vec<Row>)> {
    let bytes = fs::read(file).with_context(|| format!("cannot read {}", file.display()))?;
    let text = String::from_utf8_lossy(&bytes);
    let Some((line, rest)) = text
        .split_once('\n')
        .filter(|(l, _)| l.starts_with("# coverage"))
    else {
        bail!("{} is no file of a campaign", file.display());
    };
    let (_, length) = whole(rest);
    let mut reader = csv::ReaderBuilder::new().from_reader(&rest.as_bytes()[..length]);
    let rows: Result<Vec<Row>, csv::Error> = reader.deserialize().collect();
    Ok((line.to_owned(), rows.context("a row cannot be read")?))
}
