//! From a recording to its outcome: the same function for a run that just ended, for
//! one recovered after a power cut, and for an archive judged again.
//!
//! Setup and limits are those stored in the recording, word for word, unless others
//! are given. Pure in all but its place: nothing is read or written here.

use super::clock;
use crate::account::Evaluation;
use crate::account::Unseen;
use crate::account::allow_for;
use crate::account::evaluate;
use crate::channel::Role;
use crate::channel::instrument_of;
use crate::health::Flag;
use crate::health::Weight;
use crate::health::examine;
use crate::health::examine_by_eye;
use crate::procedure::HOLD;
use crate::recording::EntryKind;
use crate::recording::Heading;
use crate::recording::Recording;
use crate::settings::SettingsError;
use crate::settings::Setup;
use crate::settings::Shop;
use crate::verdict::DecisionRule;
use crate::verdict::EarlyRule;
use crate::verdict::HoldEnd;
use crate::verdict::Verdict;
use crate::verdict::judge;

/// Everything that was made of a recording.
#[derive(Debug, Clone)]
pub struct Judgement {
    /// The test as it was set up.
    pub setup: Setup,
    /// The shop, if limits came from one.
    pub shop: Option<Shop>,
    /// Readings whose zero, or place, nobody looked at before and after.
    pub not_looked_at: Vec<Role>,
    /// What the data say about the measurement.
    pub flags: Vec<Flag>,
    /// What the hold showed, or why nothing can be said.
    pub evaluation: Result<Evaluation, String>,
    /// What came out.
    pub verdict: Verdict,
}

impl Judgement {
    /// Whether the measurement itself is not valid, whatever limits there are.
    pub fn is_void(&self) -> bool {
        let is_void = self.flags.iter().any(|flag| flag.weight == Weight::Voids);
        is_void || self.evaluation.is_err()
    }
}

/// Judges a recording. `shop_toml` replaces the stored shop file: its name and its text.
///
/// # Errors
/// If a settings file cannot be used.
pub fn judged(
    recording: &Recording,
    shop_toml: Option<(&str, &str)>,
) -> Result<Judgement, SettingsError> {
    judged_by(recording, &recording.heading().setup_toml, shop_toml)
}

/// As [`judged`], by another setup.
///
/// # Errors
/// As there.
pub(super) fn judged_by(
    recording: &Recording,
    text: &str,
    shop_toml: Option<(&str, &str)>,
) -> Result<Judgement, SettingsError> {
    let shop = shop_of(recording, shop_toml)?;
    let setup = Setup::parse("stored setup.toml", text, shop.as_ref())?;
    Ok(judged_as(recording, setup, shop, Known::default()))
}

/// The shop whose file came with a recording, if one did.
///
/// # Errors
/// If the file cannot be used.
pub(super) fn shop_of_heading(heading: &Heading) -> Result<Option<Shop>, SettingsError> {
    match heading.shop_toml.trim().is_empty() {
        true => Ok(None),
        false => Shop::parse("stored shop.toml", &heading.shop_toml).map(Some),
    }
}

/// The shop of a recording; `shop_toml` replaces the stored file.
///
/// # Errors
/// If the file cannot be used.
pub(super) fn shop_of(
    recording: &Recording,
    shop_toml: Option<(&str, &str)>,
) -> Result<Option<Shop>, SettingsError> {
    match shop_toml {
        None => shop_of_heading(recording.heading()),
        Some((_, text)) if text.trim().is_empty() => Ok(None),
        Some((file, text)) => Shop::parse(file, text).map(Some),
    }
}

/// What is known of a hold from elsewhere.
#[derive(Debug, Default)]
pub(super) struct Known<'a> {
    /// What is to be said of it.
    pub flags: Vec<Flag>,
    /// How far its readings could have crept, by looks before and after; a reading that is not
    /// among these was not looked at.
    pub unseen: &'a [Unseen],
}

/// Judges a hold by a setup that was read, with what is known of it from elsewhere.
pub(super) fn judged_as(
    recording: &Recording,
    setup: Setup,
    shop: Option<Shop>,
    known: Known<'_>,
) -> Judgement {
    let subject = &setup.subject;
    let not_looked_at = not_looked_at(recording, known.unseen);
    let mut flags = known.flags;
    let (piece, circuit) = (&subject.piece, &subject.circuit);
    flags.extend(match &subject.by_eye {
        Some(by_eye) => examine_by_eye(recording, by_eye, (piece, circuit), &setup.ratings),
        None => examine(recording, piece, circuit, &setup.ratings),
    });
    flags.extend(overdue(recording, subject.by_eye.is_some()));
    flags.extend(geared(&setup));
    flags.extend(steady_creep(&not_looked_at));
    let mut evaluation = evaluate(recording, subject).map_err(|e| e.to_string());
    if let Ok(evaluation) = &mut evaluation {
        allow_for(evaluation, recording, subject, known.unseen);
    }
    if let Some(forecast) = evaluation.as_mut().ok().and_then(|e| e.forecast.as_mut()) {
        forecast.weigh(&setup.ratings);
    }
    let rule = rule_of(shop.as_ref());
    let found = evaluation.as_ref().map_err(Clone::clone);
    let verdict = match setup.plan.ends_as_decided() {
        true => {
            let early = EarlyRule::new(rule, setup.plan.length().value);
            early.judge(found, &flags, &setup.limits, end_of(recording))
        }
        false => judge(found, &flags, &setup.limits, rule),
    };
    Judgement {
        setup,
        shop,
        not_looked_at,
        flags,
        evaluation,
        verdict,
    }
}

/// The rule of a shop; the value alone decides where there is none.
pub(super) fn rule_of(shop: Option<&Shop>) -> DecisionRule {
    shop.map_or(DecisionRule::Simple, |shop| shop.rule)
}

/// How the hold of a recording of one hold ended.
fn end_of(recording: &Recording) -> HoldEnd {
    let mut entries = recording.entries().iter();
    let is_decided = entries.any(|entry| entry.kind == EntryKind::Decided);
    match recording.phase(HOLD) {
        Some(mark) if is_decided => HoldEnd::Decided(mark.until_s - mark.from_s),
        _ => HoldEnd::Whole,
    }
}

/// Readings of a recording that no looks before and after vouch for.
fn not_looked_at(recording: &Recording, unseen: &[Unseen]) -> Vec<Role> {
    let roles = [Role::CapPressure, Role::RodPressure, Role::Position];
    roles
        .into_iter()
        .filter(|role| recording.track(*role).is_some())
        .filter(|role| unseen.iter().all(|own| own.role != *role))
        .collect()
}

/// What nobody can know of readings that were not looked at.
fn steady_creep(not_looked_at: &[Role]) -> Option<Flag> {
    let names: Vec<&str> = not_looked_at.iter().map(|role| role.plain()).collect();
    let (last, others) = names.split_last()?;
    let all = match others {
        [] => (*last).to_owned(),
        _ => format!("{} and {last}", others.join(", ")),
    };
    Some(Flag {
        weight: Weight::Remark,
        evidence: format!(
            "the zeros of {all} were not looked at before and after: a reading that creeps steadily would not be seen. A \
             report, not a certificate; a procedure that begins and ends with zeros makes one"
        ),
    })
}

/// A movement that was measured elsewhere than at the rod.
fn geared(setup: &Setup) -> Option<Flag> {
    let geared = setup
        .sensors
        .iter()
        .find(|s| (s.motion_ratio - 1.0).abs() > 1e-9)?;
    Some(Flag {
        weight: Weight::Remark,
        evidence: format!(
            "the movement was measured at the load, which moves {} times as far as the rod; figures are those of the rod",
            geared.motion_ratio
        ),
    })
}

/// Calibrations that were due before the test.
fn overdue(recording: &Recording, by_eye: bool) -> Vec<Flag> {
    let tested = clock::utc_date(recording.heading().started_utc_ms);
    let tracks = recording.tracks().iter().map(|t| &t.channel);
    tracks
        // Dates of ISO 8601 sort as text.
        .filter(|c| !c.papers.due.is_empty() && c.papers.due < tested)
        .map(|c| Flag {
            weight: Weight::Remark,
            evidence: format!(
                "the calibration of the {} {} was due on {}: a report, not a certificate, until it is calibrated again",
                c.role.plain(),
                match by_eye {
                    true => instrument_of(c.role),
                    false => "sensor",
                },
                c.papers.due
            ),
        })
        .collect()
}
