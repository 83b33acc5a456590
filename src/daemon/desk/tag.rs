//! Which unit or paper the code in a photo names, looked up in the register.
//!
//! A label says the tag of its unit; a paper says what it is, what came out and the hash of its
//! recording, a line each. A photo is looked at on a thread of its own, few at a time.

use super::ShopDesk;
use super::broken;
use crate::daemon::clock::Forward;
use crate::page::Trouble;
use crate::page::view::CodeSaid;
use crate::page::view::Unread;
use crate::register::UnitsOf;
use crate::tag_photo::PhotoError;
use crate::tag_photo::read_codes;
use std::time::Duration;
use tokio::sync::Semaphore;

/// Photos that are looked at at once: each may take 300 MB for a moment.
const MOST_AT_ONCE: usize = 1;

/// How long a photo waits for those before it.
const LONGEST_WAIT: Duration = Duration::from_secs(30);

/// After this no further look is begun, s.
const LONGEST_LOOK_S: f64 = 15.0;

/// Longest tag that a register takes, letters.
const LONGEST_TAG: usize = 200;

static PLACES: Semaphore = Semaphore::const_new(MOST_AT_ONCE);

/// What the code in a photo names.
pub(super) async fn read_tag(desk: &ShopDesk, photo: Vec<u8>) -> Result<CodeSaid, Trouble> {
    let place = tokio::time::timeout(LONGEST_WAIT, PLACES.acquire()).await;
    let Ok(Ok(place)) = place else {
        return Err(Trouble::photos_wait());
    };
    let looked = tokio::task::spawn_blocking(move || {
        // The place is free when the thread is, not when whoever asked has gone.
        let _place = place;
        let clock = Forward::start();
        read_codes(&photo, &mut || clock.seconds() < LONGEST_LOOK_S)
    });
    let codes = match looked.await {
        Ok(Ok(codes)) => codes,
        Ok(Err(error)) => return Ok(CodeSaid::Unread(unread(error))),
        Err(error) => return Err(broken(error.into())),
    };
    let mut first = None;
    for code in &codes {
        match named(desk, code).await? {
            known @ (CodeSaid::Unit(_) | CodeSaid::Paper(_) | CodeSaid::OtherPaper(_)) => {
                return Ok(known);
            }
            other => first = first.or(Some(other)),
        }
    }
    Ok(first.unwrap_or(CodeSaid::Unread(Unread::NoCode)))
}

fn unread(error: PhotoError) -> Unread {
    match error {
        PhotoError::NoPicture => Unread::NoPicture,
        PhotoError::TooLarge { size, .. } => Unread::TooLarge(size),
        PhotoError::Damaged { .. } => Unread::Damaged,
        PhotoError::NoCode => Unread::NoCode,
        PhotoError::NotInTime => Unread::NotInTime,
    }
}

/// What a code says, by its form alone.
#[derive(Debug, PartialEq)]
enum Meant<'a> {
    Tag(&'a str),
    Number(Printed<'a>),
    Run(Printed<'a>),
    Strange,
}

/// What a paper says of itself.
#[derive(Debug, PartialEq)]
struct Printed<'a> {
    name: &'a str,
    outcome: &'a str,
    sha256: &'a str,
}

fn meant(code: &str) -> Meant<'_> {
    let lines: Vec<&str> = code.trim().lines().map(str::trim).collect();
    match lines.as_slice() {
        [what, outcome, sha256] => {
            let printed = |name| {
                let outcome = outcome.strip_prefix("outcome ")?;
                let sha256 = sha256.strip_prefix("sha256 ")?;
                Some(Printed {
                    name,
                    outcome,
                    sha256,
                })
            };
            let number = what.strip_prefix("certificate ").and_then(printed);
            let run = what.strip_prefix("run ").and_then(printed);
            number
                .map(Meant::Number)
                .or(run.map(Meant::Run))
                .unwrap_or(Meant::Strange)
        }
        [tag] if could_be_tag(tag) => Meant::Tag(tag),
        _ => Meant::Strange,
    }
}

/// Addresses and the like stand on many things in a shop; no tag looks like one.
fn could_be_tag(text: &str) -> bool {
    let is_address = text.contains("://") || text.to_ascii_lowercase().starts_with("www.");
    !text.is_empty()
        && text.chars().count() <= LONGEST_TAG
        && !is_address
        && !text.chars().any(char::is_control)
}

async fn named(desk: &ShopDesk, code: &str) -> Result<CodeSaid, Trouble> {
    let failed = |error: crate::register::RegisterError| broken(error.into());
    let (entry, printed) = match meant(code) {
        Meant::Strange => return Ok(CodeSaid::Strange(code.into())),
        Meant::Tag(tag) => {
            let known = desk.register.units(UnitsOf::Tag(tag), "").await;
            let found = known.map_err(failed)?.pop();
            return Ok(match found {
                Some(unit) => CodeSaid::Unit(unit.unit.tag),
                None => CodeSaid::NoUnit(tag.into()),
            });
        }
        Meant::Number(printed) => {
            let found = desk.register.find_by_number(printed.name).await;
            (found.map_err(failed)?, printed)
        }
        Meant::Run(printed) => {
            let found = desk.register.find_by_run(printed.name).await;
            (found.map_err(failed)?, printed)
        }
    };
    let Some(entry) = entry else {
        return Ok(CodeSaid::NoPaper(printed.name.into()));
    };
    let is_same = entry.outcome.word() == printed.outcome && entry.archive_sha256 == printed.sha256;
    let number = entry.certificate_number;
    Ok(match is_same {
        true => CodeSaid::Paper(number),
        false => CodeSaid::OtherPaper(number),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_a_tag_a_paper_a_run_or_strange() {
        let printed = |name| Printed {
            name,
            outcome: "pass",
            sha256: "ab",
        };
        for (code, expected) in [
            ("TV-0312", Meant::Tag("TV-0312")),
            (" TV 3/12 \n", Meant::Tag("TV 3/12")),
            (
                "certificate TV-2026-0001\noutcome pass\nsha256 ab",
                Meant::Number(printed("TV-2026-0001")),
            ),
            (
                "run 20260101-x\r\noutcome pass\r\nsha256 ab",
                Meant::Run(printed("20260101-x")),
            ),
            ("certificate TV-2026-0001\noutcome pass", Meant::Strange),
            (
                "certificate TV-2026-0001\nsha256 ab\noutcome pass",
                Meant::Strange,
            ),
            ("https://example.org/", Meant::Strange),
            ("WWW.example.org", Meant::Strange),
            ("WIFI:S:shop;;\nx", Meant::Strange),
            ("", Meant::Strange),
            ("a\u{7}b", Meant::Strange),
        ] {
            assert_eq!(meant(code), expected, "{code}");
        }
        assert_eq!(meant(&"x".repeat(201)), Meant::Strange);
    }
}
