//! Judging a stored recording again by other limits, and all judgements beside each other.
//!
//! Invariants: the first judgement, its paper and its statement stay as they are; a recording that is
//! not the one that was entered is not judged; one is judged at a time, and none that would take
//! more memory than a bench computer has.

use super::Looked;
use super::ShopDesk;
use super::beside;
use super::broken;
use super::grouped;
use super::looked;
use crate::account::FigureName;
use crate::archive;
use crate::certificate::HeldAgainst;
use crate::certificate::MeasuredFigure;
use crate::certificate::judged_then;
use crate::daemon::clock;
use crate::daemon::desk::told::outcome;
use crate::daemon::found::Filed;
use crate::daemon::found::found_by;
use crate::daemon::paper::SOFTWARE;
use crate::daemon::paper::sha256_hex;
use crate::daemon::story::Stated;
use crate::daemon::story::stated_text;
use crate::page::Trouble;
use crate::page::view;
use crate::page::view::Fault;
use crate::quantity::number;
use crate::register::JudgedAgain;
use crate::settings::LimitSet;
use crate::settings::SettingsError;
use crate::settings::Shop;
use crate::settings::with_limit;
use crate::settings::with_limits;
use crate::verdict::Outcome;

/// Most readings, of all channels together, that are judged beside the page: an hour of six
/// channels 1000 times a second, which takes about half a gigabyte. A longer one is refused, with the
/// command that does it.
const MOST_READINGS: usize = 24_000_000;

/// What a typed limit is called among those of the shop.
const TYPED: &str = "typed-on-the-page";

/// Values of a table of limits that are told.
const MOST_VALUES: usize = 4;

/// All judgements of a test.
pub(super) async fn judgings(
    desk: &ShopDesk,
    looked: &Looked,
    record: &str,
) -> Result<view::Judgings, Trouble> {
    let entry = &looked.entry;
    let again = desk.register.judged_again(&entry.certificate_number).await;
    let again = again.map_err(|error| broken(error.into()))?;
    let first = JudgedAgain {
        number: entry.certificate_number.clone(),
        at_utc_ms: entry.issued_utc_ms,
        time_zone: entry.time_zone.clone(),
        role: String::new(),
        limits: Vec::new(),
        outcome: entry.outcome,
        headline: entry.headline.clone(),
        software: entry.software.clone(),
        record_json: record.to_owned(),
    };
    let figures = measured_figures(record);
    let fits = |set: &&LimitSet| figures.contains(&set.figure);
    let limits = desk.shop.iter().flat_map(|shop| &shop.limits);
    let plain = |figure: &FigureName| (figure.word().into(), figure.plain().into());
    Ok(view::Judgings {
        first: judging(&first),
        again: again.iter().map(judging).collect(),
        choices: limits.filter(fits).map(choice).collect(),
        figures: figures.iter().map(plain).collect(),
        has_shop: desk.shop_text.is_some(),
        too_long: too_long(looked),
    })
}

/// Figures of a record, each once.
fn measured_figures(record: &str) -> Vec<FigureName> {
    let mut names: Vec<FigureName> = Vec::new();
    let figures = judged_then(record).map(|then| then.figures);
    for (figure, _) in figures.unwrap_or_default() {
        if !names.contains(&figure.name) {
            names.push(figure.name);
        }
    }
    names
}

fn choice(set: &LimitSet) -> view::LimitChoice {
    let told = set.told();
    let mut values: Vec<&str> = told.iter().map(|row| row.text.as_str()).collect();
    values.dedup();
    let mut text = values
        .iter()
        .take(MOST_VALUES)
        .copied()
        .collect::<Vec<_>>()
        .join(" / ");
    if values.len() > MOST_VALUES {
        text.push_str(" …");
    }
    view::LimitChoice {
        id: set.id.clone(),
        figure: set.figure.plain().into(),
        text,
    }
}

fn too_long(looked: &Looked) -> Option<(String, String)> {
    let outline = looked.opened.outline();
    let n_readings = too_many(outline.n_rows, outline.lanes.len())?;
    Some((grouped(n_readings), looked.entry.archive_file.clone()))
}

/// How many readings there are, if they are too many.
fn too_many(n_rows: usize, n_channels: usize) -> Option<usize> {
    let n_readings = n_rows.saturating_mul(n_channels);
    (n_readings > MOST_READINGS).then_some(n_readings)
}

fn judging(judged: &JudgedAgain) -> view::Judging {
    let then = judged_then(&judged.record_json).ok();
    let (figures, reasons) = then.map_or((Vec::new(), Vec::new()), |then| {
        (then.figures, then.reasons)
    });
    let is_held = figures.iter().any(|(_, limits)| !limits.is_empty());
    let lines = figures.iter().flat_map(|(figure, limits)| {
        let own = limits.iter().map(|limit| line(figure, Some(limit)));
        // Without any limit the figures themselves are what came out.
        let alone = (!is_held).then(|| line(figure, None));
        own.chain(alone).collect::<Vec<_>>()
    });
    view::Judging {
        at: clock::local(judged.at_utc_ms, &judged.time_zone).0,
        role: judged.role.clone(),
        limits: judged.limits.clone(),
        outcome: outcome(judged.outcome),
        headline: judged.headline.clone(),
        software: judged.software.clone(),
        lines: lines.collect(),
        reasons,
    }
}

fn line(figure: &MeasuredFigure, limit: Option<&HeldAgainst>) -> view::JudgedLine {
    let (lower, upper) = (figure.stated.lower, figure.stated.upper);
    let half = 0.5 * (upper - lower);
    let is_known = half
        .is_finite()
        .then(|| (number(lower, half), number(upper, half)));
    view::JudgedLine {
        step: match figure.phase.as_str() {
            "hold" => String::new(),
            _ => figure.title.clone(),
        },
        figure: figure.name.plain().into(),
        stated: match stated_text(&figure.stated) {
            Stated::Is(text) => view::Stated::Is(text),
            Stated::AtMost(text) => view::Stated::AtMost(text),
            Stated::NotKnown => view::Stated::NotKnown,
        },
        unit: figure.unit.clone(),
        interval: is_known,
        limit: limit.map(|limit| (limit.text.clone(), limit.source.clone())),
        outcome: limit.and_then(|limit| limit.outcome).map(outcome),
        reason: limit.map(|limit| limit.reason.clone()).unwrap_or_default(),
    }
}

/// By what a test is judged again: names of limits, the shop file that has them, and what is kept
/// of the choice.
struct By {
    ids: Vec<String>,
    shop: (String, String),
    told: Vec<String>,
}

/// Judges a test again and keeps what came out; what is wrong with the form, or nothing.
pub(in crate::daemon::desk) async fn judge(
    desk: &ShopDesk,
    asked: &view::AgainAsked,
) -> Result<Vec<Fault>, Trouble> {
    let looked = looked(desk, &asked.number).await?;
    if let Some((n_readings, file)) = too_long(&looked) {
        return Err(Trouble::too_long_to_judge(&n_readings, &file));
    }
    let record = desk.register.record_json(&asked.number).await;
    let record = record.map_err(|error| broken(error.into()))?;
    let by = match by(desk, asked, &measured_figures(&record.unwrap_or_default())) {
        Ok(by) => by,
        Err(faults) => return Ok(faults),
    };
    let judging = desk.judging.clone().try_lock_owned();
    let judging = judging.map_err(|_| Trouble::judging_runs())?;
    let path = desk.folder.recordings().join(&looked.entry.archive_file);
    let (entry, told) = (looked.entry, by.told.clone());
    let judged = beside(move || {
        let _one_at_a_time = judging;
        judged(&path, &entry.archive_sha256, &by)
    })
    .await?;
    let (outcome, headline, record_json) = match judged {
        Ok(judged) => judged,
        Err(error) => return Ok(vec![Fault::limit_unfit("limit", &error.message)]),
    };
    let kept = JudgedAgain {
        number: asked.number.clone(),
        at_utc_ms: clock::now_utc_ms(),
        time_zone: desk.time_zone(),
        role: asked.by.trim().into(),
        limits: told,
        outcome,
        headline,
        software: SOFTWARE.into(),
        record_json,
    };
    let kept = desk.register.keep_judged_again(&kept).await;
    kept.map_err(|error| broken(error.into()))?;
    Ok(Vec::new())
}

fn by(desk: &ShopDesk, asked: &view::AgainAsked, figures: &[FigureName]) -> Result<By, Vec<Fault>> {
    let mut faults = Vec::new();
    if asked.by.trim().is_empty() {
        faults.push(Fault::nobody_judges());
    }
    let (Some(shop), Some((file, text))) = (&desk.shop, &desk.shop_text) else {
        faults.push(Fault::no_limit_chosen());
        return Err(faults);
    };
    let is_known = |id: &str| {
        let mut sets = shop.limits.iter();
        sets.any(|set| set.id == id && figures.contains(&set.figure))
    };
    let unknown = asked.limits.iter().find(|id| !is_known(id));
    faults.extend(unknown.map(|id| Fault::no_such_limit(id)));
    let (mut ids, mut told) = (asked.limits.clone(), asked.limits.clone());
    let mut text = text.clone();
    let most = asked.most.trim();
    if !most.is_empty() {
        let figure = FigureName::from_word(&asked.figure).filter(|name| figures.contains(name));
        match figure {
            None => faults.push(Fault::no_such_figure()),
            Some(figure) => {
                let source = format!("typed when judged again, by {}", asked.by.trim());
                text = with_limit(&text, (TYPED, figure.word()), most, &source);
                if let Err(error) = Shop::parse(file, &text) {
                    faults.push(Fault::limit_unfit("most", &error.message));
                }
                ids.push(TYPED.into());
                told.push(format!("{}: {most}", figure.plain()));
            }
        }
    } else if ids.is_empty() {
        faults.push(Fault::no_limit_chosen());
    }
    match faults.is_empty() {
        true => Ok(By {
            ids,
            shop: (file.clone(), text),
            told,
        }),
        false => Err(faults),
    }
}

/// Reads a recording whole and judges it; an error of the settings is one of what was chosen.
fn judged(
    path: &std::path::Path,
    entered_sha256: &str,
    by: &By,
) -> Result<Result<(Outcome, String, String), SettingsError>, Trouble> {
    let sha256_hex = sha256_hex(path).map_err(broken)?;
    if sha256_hex != entered_sha256 {
        return Err(Trouble::other_recording());
    }
    let recording = archive::read(path).map_err(|error| super::spoiled(&error))?;
    let setup = &recording.heading().setup_toml;
    let (file, text) = &by.shop;
    let found = with_limits("stored setup.toml", setup, &by.ids)
        .and_then(|setup| found_by(&recording, &setup, Some((file, text))));
    let found = match found {
        Ok(found) => found,
        Err(error) => return Ok(Err(error)),
    };
    let filed = Filed {
        path,
        sha256_hex: &sha256_hex,
        // It is no paper.
        number: None,
    };
    let record = found.record_json(&recording, filed).map_err(broken)?;
    Ok(Ok((found.outcome(), found.headline(), record)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_hour_of_six_fast_channels_is_judged_and_two_hours_are_not() {
        assert_eq!(too_many(3_600_000, 6), None);
        assert_eq!(too_many(MOST_READINGS, 1), None);
        assert_eq!(too_many(MOST_READINGS + 1, 1), Some(MOST_READINGS + 1));
        assert_eq!(too_many(7_200_000, 6), Some(43_200_000));
        assert_eq!(too_many(usize::MAX, 6), Some(usize::MAX));
    }
}
