//! From a stored recording to its place in the register and its paper.
//!
//! The register row, the number and the record are one transaction; the paper is made
//! afterwards and can always be made again. What a power cut left undone is done by
//! [`make_good`] at the next start.

use super::clock;
use super::folder::DataFolder;
use super::found::Filed;
use super::found::Found;
use super::found::found;
use super::journal_file::recover;
use super::judgement::Judgement;
use super::keys::signing_key;
use super::letterhead::letterhead;
use crate::account::METHOD_VERSION;
use crate::archive;
use crate::certificate::Facts;
use crate::certificate::Signing;
use crate::certificate::Standing;
use crate::quantity::UnitSystem;
use crate::recording::Recording;
use crate::register::Bench;
use crate::register::NewTest;
use crate::register::NumberPrefix;
use crate::register::PaperKind;
use crate::register::Register;
use crate::register::SensorUsed;
use crate::signature::Hasher;
use crate::signature::with_signature;
use anyhow::Context;
use std::io::Read;
use std::path::Path;
use std::path::PathBuf;

/// Version of this program.
pub const SOFTWARE: &str = concat!("stillrod ", env!("CARGO_PKG_VERSION"));

/// A test that is in the register, with its paper.
#[derive(Debug)]
pub struct Entered {
    /// Number of its certificate or report.
    pub number: String,
    /// What came out, and why.
    pub found: Found,
    /// The record behind the paper.
    pub record_json: String,
    /// The paper.
    pub pdf_path: PathBuf,
}

/// SHA-256 of a file, in hexadecimal digits.
///
/// # Errors
/// If the file cannot be read.
pub fn sha256_hex(path: &Path) -> anyhow::Result<String> {
    let mut file = std::fs::File::open(path)
        .with_context(|| format!("{} cannot be opened", path.display()))?;
    let mut hasher = Hasher::default();
    let mut buffer = vec![0; 1 << 16];
    loop {
        let n_read = file.read(&mut buffer);
        match n_read.with_context(|| format!("{} cannot be read", path.display()))? {
            0 => return Ok(hasher.finish().hex()),
            n_read => hasher.update(&buffer[..n_read]),
        }
    }
}

/// Everything a paper or a record says of a recording.
pub fn facts<'a>(
    recording: &'a Recording,
    judgement: &'a Judgement,
    file: &Path,
    sha256_hex: &str,
    number: Option<&str>,
) -> Facts<'a> {
    let shop = judgement.shop.as_ref();
    let heading = recording.heading();
    Facts {
        certificate_number: number.map(str::to_owned),
        standing: Standing::Original,
        shop_name: shop.map(|s| s.name.clone()).unwrap_or_default(),
        letterhead: shop.map(letterhead).unwrap_or_default(),
        units: shop.map_or(UnitSystem::Metric, |s| s.units),
        role: String::new(),
        date: clock::local(heading.started_utc_ms, &heading.time_zone).0,
        identity: judgement.setup.unit.clone(),
        subject: judgement.setup.subject.clone(),
        plan: judgement.setup.plan,
        recording,
        file_name: file
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default(),
        sha256_hex: sha256_hex.into(),
        evaluation: judgement.evaluation.as_ref().ok(),
        verdict: &judgement.verdict,
        flags: &judgement.flags,
        not_looked_at: &judgement.not_looked_at,
        software: env!("CARGO_PKG_VERSION").into(),
    }
}

/// Judges an archived recording, enters it and makes its paper. Doing it twice changes
/// nothing but makes a missing paper again.
///
/// # Errors
/// If the settings stored with it cannot be used, or register or disk refuse.
pub async fn enter(
    folder: &DataFolder,
    register: &Register,
    archive: &Path,
    recording: &Recording,
) -> anyhow::Result<Entered> {
    enter_at(folder, register, (archive, recording), clock::now_utc_ms()).await
}

/// As [`enter`], with the instant of issue handed in, UTC ms since 1970: for practice only, whose
/// papers say so.
///
/// # Errors
/// As [`enter`].
pub(super) async fn enter_at(
    folder: &DataFolder,
    register: &Register,
    (archive, recording): (&Path, &Recording),
    issued_utc_ms: i64,
) -> anyhow::Result<Entered> {
    let found = found(recording, None)?;
    let hash = sha256_hex(archive)?;
    let unnumbered = Filed {
        path: archive,
        sha256_hex: &hash,
        number: None,
    };
    // What cannot be written must be known before there is a row.
    found.record_json(recording, unnumbered)?;
    let test = new_test(recording, &found, unnumbered, issued_utc_ms)?;
    let key = signing_key(&folder.keys())?;
    let make_record = |number: &str| {
        let numbered = Filed {
            number: Some(number),
            ..unnumbered
        };
        found.record_json(recording, numbered).unwrap_or_default()
    };
    let entered = register.record_signed(&test, make_record, &key).await?;
    let number = entered.certificate_number;
    let record_json = register.record_json(&number).await?.unwrap_or_default();
    let standing = standing(register, &number).await?;
    let numbered = Filed {
        number: Some(&number),
        ..unnumbered
    };
    let (bytes, record_file) =
        set_paper(folder, register, (&found, recording, numbered), standing).await?;
    let pdf_path = folder.papers().join(format!("{number}.pdf"));
    write_whole(&pdf_path, &bytes)?;
    let record_path = folder.papers().join(format!("{number}.json"));
    write_whole(&record_path, record_file.as_bytes())?;
    Ok(Entered {
        number,
        found,
        record_json,
        pdf_path,
    })
}

/// Whether the paper of a number is one to rely on.
pub(super) async fn standing(register: &Register, number: &str) -> anyhow::Result<Standing> {
    let withdrawal = register.withdrawal(number).await?;
    Ok(withdrawal.map_or(Standing::Original, |w| {
        let (at, _) = clock::local(w.at_utc_ms, &w.time_zone);
        let day = at.split(' ').next().unwrap_or_default();
        Standing::withdrawn(day, &format!("{} ({})", w.reason, w.role))
    }))
}

/// The paper of a test that has its number, and its record with the signature.
///
/// # Errors
/// If the register or the key cannot be read, or the paper cannot be set.
pub(super) async fn set_paper(
    folder: &DataFolder,
    register: &Register,
    (found, recording, filed): (&Found, &Recording, Filed<'_>),
    standing: Standing,
) -> anyhow::Result<(Vec<u8>, String)> {
    let number = filed.number.unwrap_or_default();
    let record_json = register.record_json(number).await?.unwrap_or_default();
    let key = signing_key(&folder.keys())?;
    // A test that was entered before there were signatures has none, and its paper neither.
    let statement = register.statement(number).await?;
    let record = match &statement {
        Some(statement) => with_signature(&record_json, statement)?,
        None => record_json,
    };
    let signing = statement.as_ref().map(|statement| Signing {
        key: &key,
        statement,
        record: &record,
    });
    let bytes = found
        .pdf(recording, filed, standing, signing.as_ref())
        .with_context(|| format!("the paper {number} cannot be made"))?;
    Ok((bytes, record))
}

fn new_test(
    recording: &Recording,
    found: &Found,
    filed: Filed<'_>,
    issued_utc_ms: i64,
) -> anyhow::Result<NewTest> {
    let heading = recording.heading();
    let is_practice = !heading.practice.is_empty();
    let outcome = found.outcome();
    let prefix = found.shop().map_or("TEST", |s| s.number_prefix.as_str());
    Ok(NewTest {
        run_id: heading.run_id.clone(),
        unit: found.described(),
        started_utc_ms: heading.started_utc_ms,
        time_zone: heading.time_zone.clone(),
        outcome,
        headline: found.headline(),
        archive_file: filed
            .path
            .file_name()
            .map(|n| n.to_string_lossy().into_owned())
            .unwrap_or_default(),
        archive_sha256: filed.sha256_hex.into(),
        software: SOFTWARE.into(),
        method_version: METHOD_VERSION,
        sensors: recording
            .tracks()
            .iter()
            .map(|track| SensorUsed {
                serial: track.channel.papers.serial.clone(),
                label: track.channel.label.clone(),
                certificate: track.channel.papers.certificate.clone(),
                due: track.channel.papers.due.clone(),
            })
            .collect(),
        bench: if is_practice {
            Bench::Practice
        } else {
            Bench::Shop
        },
        // As the paper itself says.
        kind: match found.is_report(recording, filed)? {
            true => PaperKind::Report,
            false => PaperKind::Certificate,
        },
        prefix: NumberPrefix::new(prefix)?,
        issued_utc_ms,
        issued_utc_offset_s: clock::local(issued_utc_ms, &heading.time_zone).1,
    })
}

/// Writes a file whole: under another name first, brought to the disk, then renamed.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let unfinished = path.with_extension("part");
    let write = || -> std::io::Result<()> {
        let mut file = std::fs::File::create(&unfinished)?;
        std::io::Write::write_all(&mut file, bytes)?;
        file.sync_all()?;
        std::fs::rename(&unfinished, path)
    };
    write().with_context(|| format!("{} cannot be written", path.display()))
}

/// Does what an earlier run left undone: journals become interrupted recordings,
/// recordings without a row are entered, rows without paper or record get them. Returns sentences
/// of what was done.
///
/// # Errors
/// If the folder cannot be listed. Trouble with a single file is a sentence.
pub async fn make_good(folder: &DataFolder, register: &Register) -> anyhow::Result<Vec<String>> {
    let mut done = Vec::new();
    let shelf = folder.shelf()?;
    for found in recover(&shelf.folder, shelf.key.as_ref())? {
        if let Err(error) = found.outcome {
            done.push(format!(
                "{}: {}",
                found.journal.display(),
                chain(&error.into())
            ));
        }
    }
    let mut archives: Vec<PathBuf> = Vec::new();
    for entry in std::fs::read_dir(folder.recordings())? {
        let path = entry?.path();
        if path.extension().is_some_and(|end| end == "h5") {
            archives.push(path);
        }
    }
    archives.sort();
    for path in archives {
        match undone(folder, register, &path).await {
            Ok(None) => {}
            Ok(Some(sentence)) => done.push(sentence),
            Err(error) => done.push(format!("{}: {}", path.display(), chain(&error))),
        }
    }
    Ok(done)
}

async fn undone(
    folder: &DataFolder,
    register: &Register,
    path: &Path,
) -> anyhow::Result<Option<String>> {
    let run_id = path
        .file_stem()
        .map(|s| s.to_string_lossy().into_owned())
        .unwrap_or_default();
    let known = register.find_by_run(&run_id).await?;
    // The record is written after the paper: a stop in between leaves a paper without it.
    let is_there = |number: &str, end: &str| {
        let name = format!("{number}.{end}");
        folder.papers().join(name).exists()
    };
    let has_papers = known.as_ref().is_some_and(|known| {
        let number = &known.certificate_number;
        is_there(number, "pdf") && is_there(number, "json")
    });
    if has_papers {
        return Ok(None);
    }
    let recording = archive::read(path)?;
    let entered = enter(folder, register, path, &recording).await?;
    let outcome = entered.found.outcome().plain();
    Ok(Some(format!(
        "{run_id} was left undone and is now entered as {}: {outcome}",
        entered.number
    )))
}

/// An error with its causes, in one line.
pub fn chain(error: &anyhow::Error) -> String {
    error
        .chain()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(": ")
}
