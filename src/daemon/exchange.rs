//! Tables out of the register into a folder, and units and tests from such tables in.

use super::clock;
use super::folder::DataFolder;
use super::paper::enter;
use super::paper::sha256_hex;
use crate::archive;
use crate::certificate::measured;
use crate::exchange::FigureRow;
use crate::exchange::JobRow;
use crate::exchange::TableText;
use crate::exchange::TestFile;
use crate::exchange::TestRow;
use crate::exchange::UnitRow;
use crate::exchange::table_text;
use crate::exchange::test_files;
use crate::exchange::units_of_csv;
use crate::exchange::units_of_json_lines;
use crate::register::Register;
use crate::register::UnitsOf;
use anyhow::Context;
use anyhow::bail;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

/// Rows of one table, written as CSV and as JSON lines.
struct Table {
    csv: File,
    lines: File,
    n_rows: usize,
}

impl Table {
    fn create(folder: &Path, name: &str) -> anyhow::Result<Self> {
        let create = |ending: &str| {
            let path = folder.join(format!("{name}.{ending}"));
            File::create_new(&path).with_context(|| {
                format!(
                    "{} is there already, or cannot be made; name a new folder",
                    path.display()
                )
            })
        };
        Ok(Self {
            csv: create("csv")?,
            lines: create("jsonl")?,
            n_rows: 0,
        })
    }

    fn add(&mut self, rows: &TableText) -> anyhow::Result<()> {
        self.csv.write_all(rows.csv.as_bytes())?;
        self.lines.write_all(rows.lines.as_bytes())?;
        self.n_rows += rows.n_rows;
        Ok(())
    }

    fn is_empty(&self) -> bool {
        self.n_rows == 0
    }
}

/// Writes units, jobs, tests and figures to a folder; returns what is there, in sentences.
///
/// # Errors
/// If there is a table of that name already, or one cannot be written.
pub async fn export(register: &Register, to: &Path) -> anyhow::Result<Vec<String>> {
    std::fs::create_dir_all(to).with_context(|| format!("{} cannot be made", to.display()))?;
    let mut units = Table::create(to, "units")?;
    let mut after = String::new();
    loop {
        let some = register.units(UnitsOf::Shop, &after).await?;
        let Some(last) = some.last() else { break };
        after.clone_from(&last.unit.tag);
        let rows: Vec<_> = some.iter().map(UnitRow::new).collect();
        units.add(&table_text(&rows, units.is_empty())?)?;
    }
    let mut jobs = Table::create(to, "jobs")?;
    let mut after = 0;
    loop {
        let some = register.jobs_after(after).await?;
        let Some(last) = some.last() else { break };
        after = last.number;
        let rows: Vec<_> = some.iter().map(JobRow::new).collect();
        jobs.add(&table_text(&rows, jobs.is_empty())?)?;
    }
    let mut tests = Table::create(to, "tests")?;
    let mut figures = Table::create(to, "figures")?;
    let mut after = 0;
    loop {
        let some = register.tests_after(after).await?;
        let Some(last) = some.last() else { break };
        after = last.test_id;
        let rows: Vec<_> = some.iter().map(TestRow::new).collect();
        tests.add(&table_text(&rows, tests.is_empty())?)?;
        for entry in &some {
            let number = &entry.certificate_number;
            let record = register.record_json(number).await?.unwrap_or_default();
            let found = measured(&record).with_context(|| format!("the record of {number}"))?;
            let rows: Vec<_> = found.iter().map(|f| FigureRow::new(entry, f)).collect();
            figures.add(&table_text(&rows, figures.is_empty())?)?;
        }
    }
    let said = |name: &str, table: &Table| {
        format!("{} {name} in {name}.csv and {name}.jsonl", table.n_rows)
    };
    Ok(vec![
        said("units", &units),
        said("jobs", &jobs),
        said("tests", &tests),
        said("figures", &figures),
    ])
}

/// Takes in a file: units (.csv, .jsonl), tests (.jsonl, with their recordings in the same folder or
/// in `recordings` beside it) or a recording (.h5). Returns what was done, in sentences.
///
/// # Errors
/// If the file cannot be read. Of a table with a wrong line nothing is taken.
pub async fn import(
    folder: &DataFolder,
    register: &Register,
    path: &Path,
    role: &str,
) -> anyhow::Result<Vec<String>> {
    let shown = path.display().to_string();
    let ending = path
        .extension()
        .map(|end| end.to_string_lossy().to_lowercase());
    let ending = ending.unwrap_or_default();
    if ending == "h5" {
        return Ok(vec![take_recording(folder, register, path, None).await?]);
    }
    let text =
        std::fs::read_to_string(path).with_context(|| format!("{shown} cannot be read as text"))?;
    let units = match ending.as_str() {
        "csv" => units_of_csv(&shown, &text)?,
        "jsonl" => match test_files(&shown, &text)? {
            Some(tests) => return take_tests(folder, register, path, &tests).await,
            None => units_of_json_lines(&shown, &text)?,
        },
        _ => bail!("{shown} is none of .csv, .jsonl and .h5"),
    };
    let mut said = Vec::new();
    for unit in &units {
        let now = register.enter_unit(unit, role, clock::now_utc_ms()).await?;
        if now != *unit {
            said.push(format!(
                "{} is known already and stays as it was described: {}, {}",
                now.tag, now.description, now.machine
            ));
        }
    }
    said.push(format!("{} units read from {shown}", units.len()));
    Ok(said)
}

async fn take_tests(
    folder: &DataFolder,
    register: &Register,
    list: &Path,
    tests: &[TestFile],
) -> anyhow::Result<Vec<String>> {
    let beside = list.parent().unwrap_or(Path::new(""));
    let mut said = Vec::new();
    for test in tests {
        let places = [beside.to_owned(), beside.join("recordings")];
        let found = places
            .into_iter()
            .map(|place| place.join(&test.archive_file))
            .find(|path| path.is_file());
        let taken = match found {
            Some(path) => take_recording(folder, register, &path, Some(test)).await,
            None => Err(anyhow::anyhow!(
                "its recording {} is not beside {}",
                test.archive_file,
                list.display()
            )),
        };
        said.push(match taken {
            Ok(sentence) => sentence,
            Err(error) => format!("{}: {}; left out", test.number, super::paper::chain(&error)),
        });
    }
    Ok(said)
}

/// Copies a recording into the data folder, judges and enters it.
async fn take_recording(
    folder: &DataFolder,
    register: &Register,
    path: &Path,
    listed: Option<&TestFile>,
) -> anyhow::Result<String> {
    let hash = sha256_hex(path)?;
    if let Some(test) = listed.filter(|test| test.archive_sha256 != hash) {
        bail!(
            "{} is another file than the list names for {}",
            path.display(),
            test.number
        );
    }
    let recording = archive::read(path)?;
    let run_id = &recording.heading().run_id;
    let target: PathBuf = folder.recordings().join(format!("{run_id}.h5"));
    let is_plain = target.parent() == Some(folder.recordings().as_path());
    if !is_plain {
        bail!(
            "{}: its run `{run_id}` is no name of a file",
            path.display()
        );
    }
    if target.exists() {
        if sha256_hex(&target)? != hash {
            bail!("another recording of run {run_id} is in the register already");
        }
    } else {
        let unfinished = target.with_extension("part");
        std::fs::copy(path, &unfinished)
            .and_then(|_| File::open(&unfinished)?.sync_all())
            .and_then(|()| std::fs::rename(&unfinished, &target))
            .with_context(|| format!("{} cannot be copied", path.display()))?;
    }
    let known = register.find_by_run(run_id).await?;
    let entered = enter(folder, register, &target, &recording).await?;
    let was = listed.map(|test| format!(" (was {} there)", test.number));
    let already = match known {
        Some(_) => " already",
        None => "",
    };
    Ok(format!(
        "{run_id} is{already} in the register as {}: {}{}",
        entered.number,
        entered.found.outcome().plain(),
        was.unwrap_or_default()
    ))
}
