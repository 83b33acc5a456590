//! Papers: list, one of them, its files, and withdrawing it.

use super::ShopDesk;
use super::broken;
use super::files::open;
use super::told::outcome;
use super::told::test_line;
use crate::daemon::clock;
use crate::daemon::reissue;
use crate::page::Download;
use crate::page::Trouble;
use crate::page::view;
use crate::register::Entry;
use crate::register::JudgedAgain;
use crate::register::PaperKind;
use crate::register::Period;
use crate::register::RegisterError;

/// Papers in a list.
const N_ROWS: u32 = 60;

pub(super) async fn papers(desk: &ShopDesk, words: &str) -> anyhow::Result<view::Papers> {
    let found = desk
        .register
        .matching(words, Period::ALWAYS, N_ROWS)
        .await?;
    Ok(view::Papers {
        is_cut: found.len() >= N_ROWS as usize,
        rows: found.iter().map(test_line).collect(),
    })
}

pub(super) async fn entry(desk: &ShopDesk, number: &str) -> Result<Entry, Trouble> {
    let found = desk.register.find_by_number(number).await.map_err(failed)?;
    found.ok_or_else(|| Trouble::no_paper(number))
}

pub(super) async fn paper(desk: &ShopDesk, number: &str) -> Result<view::PaperSheet, Trouble> {
    let entry = entry(desk, number).await?;
    let withdrawal = desk.register.withdrawal(number).await.map_err(failed)?;
    let statement = desk.register.statement(number).await.map_err(failed)?;
    let again = desk.register.judged_again(number).await.map_err(failed)?;
    let kinds = [
        view::PaperFile::Pdf,
        view::PaperFile::Record,
        view::PaperFile::Recording,
    ];
    let is_there = |which: &view::PaperFile| file_of(desk, &entry, *which).is_ok();
    Ok(view::PaperSheet {
        test: test_line(&entry),
        is_report: entry.kind == PaperKind::Report,
        description: entry.unit.description.clone(),
        issued: clock::local(entry.issued_utc_ms, &entry.time_zone).0,
        software: entry.software.clone(),
        is_signed: statement.is_some(),
        job: entry.job,
        recording_sha256: entry.archive_sha256.clone(),
        withdrawn: withdrawal.map(|w| {
            let at = clock::local(w.at_utc_ms, &w.time_zone).0;
            (at, w.role, w.reason)
        }),
        files: kinds.into_iter().filter(is_there).collect(),
        judged_again: again.iter().map(again_line).collect(),
        is_recorded: is_there(&view::PaperFile::Recording),
        faults: Vec::new(),
    })
}

fn again_line(judged: &JudgedAgain) -> (String, String, view::Outcome, String) {
    let at = clock::local(judged.at_utc_ms, &judged.time_zone).0;
    let came_out = outcome(judged.outcome);
    (at, judged.role.clone(), came_out, judged.headline.clone())
}

pub(super) async fn paper_file(
    desk: &ShopDesk,
    number: &str,
    which: view::PaperFile,
) -> Result<Download, Trouble> {
    file_of(desk, &entry(desk, number).await?, which)
}

fn file_of(desk: &ShopDesk, entry: &Entry, which: view::PaperFile) -> Result<Download, Trouble> {
    let number = &entry.certificate_number;
    let of_paper = |ending: &str| format!("{number}.{ending}");
    let (folder, name, media_type) = match which {
        view::PaperFile::Pdf => (desk.folder.papers(), of_paper("pdf"), "application/pdf"),
        view::PaperFile::Record => (desk.folder.papers(), of_paper("json"), "application/json"),
        view::PaperFile::Recording => {
            let name = entry.archive_file.clone();
            (desk.folder.recordings(), name, "application/x-hdf5")
        }
    };
    open(&folder, &name, (name.clone(), media_type, false))
}

/// Withdraws a paper; what is wrong with role and reason, or nothing once it is done.
pub(super) async fn withdraw(
    desk: &ShopDesk,
    (number, by, reason): (&str, &str, &str),
) -> Result<Vec<view::Fault>, Trouble> {
    entry(desk, number).await?;
    let done = reissue::withdraw(&desk.folder, &desk.register, (number, by, reason)).await;
    let Err(error) = done else {
        return Ok(Vec::new());
    };
    match error.downcast_ref() {
        Some(RegisterError::Unfit { field, wanted, .. }) => Ok(vec![view::Fault {
            field: match *field {
                "role" => "by".into(),
                field => field.into(),
            },
            what: (*wanted).into(),
        }]),
        _ => Err(broken(error)),
    }
}

fn failed(error: RegisterError) -> Trouble {
    broken(error.into())
}
