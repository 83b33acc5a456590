//! A job sheet: why a unit came in, what was found, what was done, what it costs either way.
//!
//! One file a visit. Entered again with its number it becomes another version of the same job.

use super::SettingsError;
use super::Source;
use super::read;
use super::setup::KindWord;
use super::text::Text;
use crate::cylinder::Kind;
use crate::procedure::CLASSES;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::register::Build;
use crate::register::Decision;
use crate::register::Finding;
use crate::register::Hundredths;
use crate::register::JobState;
use crate::register::PartUsed;
use crate::register::Rates;
use crate::register::Rebuilding;
use crate::register::Replacing;
use crate::register::Unit;
use serde::Deserialize;
use toml::Spanned;
use toml::value::Datetime;

/// Dearest price of one part, money.
const DEAREST: f64 = 10_000_000.0;

/// A job sheet as it was written.
#[derive(Debug, Clone, PartialEq)]
pub struct JobSheet {
    /// Which job it is a new version of.
    pub number: Option<i64>,
    /// What came in.
    pub unit: Unit,
    /// Day it came in, "2026-11-20".
    pub came_in: String,
    /// Day it went out; empty while it is here.
    pub went_out: String,
    /// Why it came in.
    pub symptom: String,
    /// Which way it drifts: "no", "extends", "retracts", "both"; empty if nobody looked.
    pub drifts: String,
    /// Where oil is outside, and its class on the scale of ISO/TR 11340.
    pub outside: Option<(String, u8)>,
    /// Who wrote it, by role.
    pub role: String,
    /// How far the job is.
    pub state: JobState,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was used.
    pub parts: Vec<PartUsed>,
    /// How it goes out.
    pub handover: Handover,
    /// What a rebuild takes, a replacement, and what hours and days cost; None if not written down.
    pub costs: Option<Costs>,
    /// What was decided, and why; why it was withdrawn.
    pub decision: Option<Decision>,
    /// The reason of either.
    pub reason: String,
}

/// How a cylinder goes out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Handover {
    /// How far the rod is from straight, m.
    pub rod_straightness_m: Option<f64>,
    /// Tightening torques, "gland nut 320 N m".
    pub torques: Vec<String>,
    /// Whether ports are plugged.
    pub plugs_fitted: Option<bool>,
}

/// What either way costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Costs {
    /// In what money.
    pub money: String,
    /// A rebuild.
    pub rebuilding: Rebuilding,
    /// A replacement.
    pub replacing: Replacing,
    /// Hours and days.
    pub rates: Rates,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    job: Spanned<JobTable>,
    #[serde(default)]
    finding: Vec<FindingTable>,
    #[serde(default)]
    part: Vec<Spanned<PartTable>>,
    #[serde(default)]
    handover: HandoverTable,
    #[serde(default)]
    cylinder: CylinderTable,
    cost: Option<Spanned<CostTable>>,
    decision: Option<Spanned<DecisionTable>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct JobTable {
    number: Option<i64>,
    unit: String,
    #[serde(default)]
    description: String,
    #[serde(default)]
    machine: String,
    #[serde(default)]
    serial: String,
    #[serde(default)]
    seal: String,
    came_in: Spanned<Datetime>,
    went_out: Option<Spanned<Datetime>>,
    symptom: Spanned<String>,
    #[serde(default)]
    drifts: Drifts,
    outside_place: Option<String>,
    outside_class: Option<Spanned<u8>>,
    by: Spanned<String>,
    withdrawn: Option<Spanned<String>>,
}

#[derive(Deserialize, Default, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum Drifts {
    #[default]
    NotLooked,
    No,
    Extends,
    Retracts,
    Both,
}

/// How the unit is built, as far as somebody knows.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct CylinderTable {
    kind: Option<KindWord>,
    bore: Option<Text<Length>>,
    rod: Option<Text<Length>>,
    stroke: Option<Text<Length>>,
    cap_rating: Option<Text<GaugePressure>>,
    rod_rating: Option<Text<GaugePressure>>,
    ports: String,
    holding_valve: String,
}

impl CylinderTable {
    fn build(&self) -> Build {
        let um = |text: &Option<Text<Length>>| {
            text.as_ref().and_then(|text| Build::whole_um(text.get()))
        };
        let pa = |text: &Option<Text<GaugePressure>>| {
            text.as_ref().and_then(|text| Build::whole_pa(text.get()))
        };
        Build {
            kind: self.kind.map(Kind::from),
            bore_um: um(&self.bore),
            rod_um: um(&self.rod),
            stroke_um: um(&self.stroke),
            cap_rating_pa: pa(&self.cap_rating),
            rod_rating_pa: pa(&self.rod_rating),
            ports: self.ports.clone(),
            holding_valve: self.holding_valve.clone(),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FindingTable {
    part: String,
    condition: String,
    #[serde(default)]
    structural: bool,
    measured: Option<Text<Length>>,
    limit: Option<Text<Length>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PartTable {
    what: String,
    #[serde(default = "one")]
    count: u32,
    price: f64,
    from_kit: bool,
}

fn one() -> u32 {
    1
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct HandoverTable {
    rod_straightness: Option<Text<Length>>,
    torques: Vec<String>,
    plugs_fitted: Option<bool>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CostTable {
    money: String,
    an_hour: f64,
    a_day_standing: f64,
    rebuild_hours: f64,
    #[serde(default)]
    rebuild_outside_work: f64,
    rebuild_days: f64,
    replace_price: f64,
    replace_hours: f64,
    replace_days: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DecisionTable {
    r#do: Do,
    reason: String,
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "snake_case")]
enum Do {
    Rebuild,
    Replace,
    Leave,
}

impl JobSheet {
    /// Reads a sheet; `file` is its name in errors.
    ///
    /// # Errors
    /// With file, line, what is wrong and what would be right.
    pub fn parse(file: &str, text: &str) -> Result<Self, SettingsError> {
        let found: File = read(file, text)?;
        let here = Source { file, text };
        let job = found.job.get_ref();
        for (key, said) in [("symptom", &job.symptom), ("by", &job.by)] {
            if said.get_ref().trim().is_empty() {
                return Err(here.error(said, format!("`{key}` must not be empty")));
            }
        }
        let came_in = day(&here, &job.came_in)?;
        let went_out = job.went_out.as_ref().map(|day_out| day(&here, day_out));
        let went_out = went_out.transpose()?.unwrap_or_default();
        if let Some(written) = job.went_out.as_ref().filter(|_| went_out < came_in) {
            return Err(here.error(written, "it went out before it came in"));
        }
        let decision = found.decision.as_ref().map(|table| table.get_ref());
        let reason = match (&job.withdrawn, decision) {
            (Some(why), _) if why.get_ref().trim().is_empty() => {
                return Err(here.error(why, "say why the job is withdrawn"));
            }
            (Some(why), _) => why.get_ref().clone(),
            (None, Some(table)) => table.reason.clone(),
            (None, None) => String::new(),
        };
        Ok(Self {
            number: job.number,
            unit: Unit {
                tag: job.unit.clone(),
                description: job.description.clone(),
                machine: job.machine.clone(),
                serial: job.serial.clone(),
                seal: job.seal.clone(),
                build: found.cylinder.build(),
            },
            symptom: job.symptom.get_ref().clone(),
            drifts: job.drifts.word().into(),
            outside: outside(&here, job)?,
            role: job.by.get_ref().clone(),
            state: match (&job.withdrawn, went_out.is_empty()) {
                (Some(_), _) => JobState::Withdrawn,
                (None, true) => JobState::Open,
                (None, false) => JobState::Done,
            },
            came_in,
            went_out,
            findings: found.finding.iter().map(finding).collect(),
            parts: found
                .part
                .iter()
                .map(|table| part(&here, table))
                .collect::<Result<_, _>>()?,
            handover: Handover {
                rod_straightness_m: found.handover.rod_straightness.map(|text| text.get().si()),
                torques: found.handover.torques,
                plugs_fitted: found.handover.plugs_fitted,
            },
            costs: found.cost.map(|table| costs(&here, &table)).transpose()?,
            decision: decision.map(|table| match table.r#do {
                Do::Rebuild => Decision::Rebuild,
                Do::Replace => Decision::Replace,
                Do::Leave => Decision::Leave,
            }),
            reason,
        })
    }
}

impl Drifts {
    fn word(self) -> &'static str {
        match self {
            Self::NotLooked => "",
            Self::No => "no",
            Self::Extends => "extends",
            Self::Retracts => "retracts",
            Self::Both => "both",
        }
    }
}

fn day(here: &Source<'_>, written: &Spanned<Datetime>) -> Result<String, SettingsError> {
    match written.get_ref() {
        Datetime {
            date: Some(date),
            time: None,
            offset: None,
        } => Ok(date.to_string()),
        _ => Err(here.error(written, "write a day without quotes, as 2026-11-20")),
    }
}

fn outside(here: &Source<'_>, job: &JobTable) -> Result<Option<(String, u8)>, SettingsError> {
    let Some(class) = &job.outside_class else {
        return Ok(None);
    };
    match usize::from(*class.get_ref()) < CLASSES.len() {
        true => Ok(Some((
            job.outside_place.clone().unwrap_or_default(),
            *class.get_ref(),
        ))),
        false => Err(here.error(
            class,
            "`outside_class` is 0 to 5, by the scale of ISO/TR 11340",
        )),
    }
}

fn finding(table: &FindingTable) -> Finding {
    let metres = |text: &Option<Text<Length>>| text.as_ref().map(|text| text.get().si());
    Finding {
        part: table.part.clone(),
        condition: table.condition.clone(),
        structural: table.structural,
        measured_m: metres(&table.measured),
        limit_m: metres(&table.limit),
    }
}

fn part(here: &Source<'_>, table: &Spanned<PartTable>) -> Result<PartUsed, SettingsError> {
    let written = table.get_ref();
    let price = u32::try_from(money(here, table, "price", written.price)?);
    let price_hundredths = price.map_err(|_| here.error(table, "`price` is too large"))?;
    if written.count == 0 {
        return Err(here.error(table, "`count` must be 1 or more"));
    }
    Ok(PartUsed {
        part: written.what.clone(),
        count: written.count,
        price_hundredths,
        from_kit: written.from_kit,
    })
}

fn costs(here: &Source<'_>, table: &Spanned<CostTable>) -> Result<Costs, SettingsError> {
    let c = table.get_ref();
    let amount = |key, value| money(here, table, key, value);
    for (key, value) in [
        ("rebuild_hours", c.rebuild_hours),
        ("rebuild_days", c.rebuild_days),
        ("replace_hours", c.replace_hours),
        ("replace_days", c.replace_days),
    ] {
        if !(0.0..=10_000.0).contains(&value) {
            return Err(here.error(table, format!("`{key}` must be a number from 0 up")));
        }
    }
    Ok(Costs {
        money: c.money.clone(),
        rebuilding: Rebuilding {
            hours: c.rebuild_hours,
            outside_work_hundredths: amount("rebuild_outside_work", c.rebuild_outside_work)?,
            down_days: c.rebuild_days,
        },
        replacing: Replacing {
            price_hundredths: amount("replace_price", c.replace_price)?,
            hours: c.replace_hours,
            down_days: c.replace_days,
        },
        rates: Rates {
            hour_hundredths: amount("an_hour", c.an_hour)?,
            down_day_hundredths: amount("a_day_standing", c.a_day_standing)?,
        },
    })
}

/// An amount of money with two places at most.
fn money<T>(
    here: &Source<'_>,
    place: &Spanned<T>,
    key: &str,
    value: f64,
) -> Result<Hundredths, SettingsError> {
    let hundredths = (value * 100.0).round();
    let is_amount = (0.0..=DEAREST).contains(&value) && (value * 100.0 - hundredths).abs() < 1e-6;
    match is_amount {
        // Whole and small: nothing is lost.
        true => Ok(hundredths as Hundredths),
        false => Err(here.error(
            place,
            format!("`{key}` must be an amount with two places, as 12.50"),
        )),
    }
}

#[cfg(test)]
mod tests;
