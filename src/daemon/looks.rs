//! The looks at a hold that may end as soon as it is decided.
//!
//! Rows of such a hold are kept until it is over. When the bench time of a look has passed, the
//! hold is judged as if it had ended there, by the code that judges the finished recording; if it
//! is decided, it ends there. All by bench time, so that live, rehearsal and replay agree.
//!
//! Invariant: what decides is what judging the archive again will find, row for row.

use super::judgement::Known;
use super::judgement::judged_as;
use super::judgement::rule_of;
use super::judgement::shop_of_heading;
use super::proof::unseen_as_planned;
use super::proof::unsettled;
use crate::bench::Effect;
use crate::channel::Channel;
use crate::procedure::Act;
use crate::procedure::HOLD;
use crate::procedure::SETTLE;
use crate::procedure::phase_name;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use crate::recording::Gap;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::recording::Row;
use crate::recording::Track;
use crate::settings::SettingsError;
use crate::settings::Shop;
use crate::settings::Test;
use crate::verdict::EarlyRule;
use crate::verdict::Outcome;
use crate::verdict::ends_the_hold;

/// Most readings that are kept of one hold, all channels together (32 MB): a hold that has more
/// is not looked at any more and goes on to its longest.
const MAX_READINGS: usize = 8_000_000;

/// Looks at the holds of a test.
#[derive(Debug)]
pub struct Looks {
    heading: Heading,
    shop: Option<Shop>,
    test: Test,
    channels: Vec<Channel>,
    hold: Option<SoFar>,
}

/// A hold that is settling or counts.
#[derive(Debug)]
struct SoFar {
    /// Which step of the test.
    at: usize,
    settling_s: f64,
    counts_s: Option<f64>,
    /// Looks that are to come, the next one last, s of counted hold.
    to_come_s: Vec<f64>,
    time_s: Vec<f64>,
    /// Codes of each channel.
    codes: Vec<Vec<i32>>,
    gaps: Vec<Gap>,
}

impl Looks {
    /// Looks at a test's holds; None where none may end as decided.
    ///
    /// # Errors
    /// If the shop's file in the heading is none.
    pub fn of(
        heading: &Heading,
        test: &Test,
        channels: &[Channel],
    ) -> Result<Option<Self>, SettingsError> {
        let may_end = |act: &Act| matches!(act, Act::Hold(hold) if hold.plan.ends_as_decided());
        if !test.steps.iter().any(|planned| may_end(&planned.step.act)) {
            return Ok(None);
        }
        Ok(Some(Self {
            heading: heading.clone(),
            shop: shop_of_heading(heading)?,
            test: test.clone(),
            channels: channels.to_vec(),
            hold: None,
        }))
    }

    /// Hears what became of the step at place `at` of the test.
    pub fn follow(&mut self, effect: &Effect, at: Option<usize>) {
        let planned = at.and_then(|at| Some((at, self.test.steps.get(at)?)));
        match (effect, planned) {
            (Effect::PhaseBegins(name, at_s), Some((at, planned))) => {
                let id = &planned.step.id;
                let Act::Hold(hold) = &planned.step.act else {
                    self.hold = None;
                    return;
                };
                if !hold.plan.ends_as_decided() {
                    self.hold = None;
                } else if *name == phase_name(id, SETTLE) {
                    let rule = rule_of(self.shop.as_ref());
                    let early = EarlyRule::new(rule, hold.plan.length().value);
                    self.hold = Some(SoFar {
                        at,
                        settling_s: *at_s,
                        counts_s: None,
                        to_come_s: early.looks_s().iter().rev().copied().collect(),
                        time_s: Vec::new(),
                        codes: vec![Vec::new(); self.channels.len()],
                        gaps: Vec::new(),
                    });
                } else if let Some(so_far) = self.hold.as_mut().filter(|so_far| so_far.at == at) {
                    so_far.counts_s = Some(*at_s);
                }
            }
            (Effect::PhaseEnds(name, _), _) if name.ends_with(HOLD) => self.hold = None,
            (Effect::Finish(_), _) => self.hold = None,
            _ => {}
        }
    }

    /// Takes a row that is on its way into the journal.
    pub fn push(&mut self, row: &Row) {
        let Some(so_far) = &mut self.hold else {
            return;
        };
        if (so_far.time_s.len() + 1) * so_far.codes.len() > MAX_READINGS {
            self.hold = None;
            return;
        }
        so_far.time_s.push(row.time_s);
        for (channel, code) in so_far.codes.iter_mut().zip(&row.codes) {
            channel.push(*code);
        }
    }

    /// Takes a gap.
    pub fn gap(&mut self, gap: &Gap) {
        if let Some(so_far) = &mut self.hold {
            so_far.gaps.push(*gap);
        }
    }

    /// Before a row is taken: makes the looks whose time it has passed. Where and why the hold
    /// is decided, if it is.
    pub fn before(&mut self, row: &Row, loss: Loss) -> Option<(f64, String)> {
        loop {
            let so_far = self.hold.as_mut()?;
            let (counts_s, look_s) = (so_far.counts_s?, *so_far.to_come_s.last()?);
            let at_s = counts_s + look_s;
            if row.time_s <= at_s {
                return None;
            }
            so_far.to_come_s.pop();
            if let Some(why) = self.decided(at_s, loss) {
                return Some((at_s, why));
            }
        }
    }

    /// Why the hold is decided, if it is by what came until `at_s`.
    fn decided(&self, at_s: f64, loss: Loss) -> Option<String> {
        let so_far = self.hold.as_ref()?;
        let planned = self.test.steps.get(so_far.at)?;
        let (text, setup) = planned.setup.as_ref()?;
        let names = [SETTLE, HOLD].map(|phase| phase_name(&planned.step.id, phase));
        let whole = so_far.recording(at_s, &names, self, loss)?;
        let part = match planned.step.id.is_empty() {
            true => whole,
            false => {
                let phases = [(names[0].as_str(), SETTLE), (names[1].as_str(), HOLD)];
                whole.part((so_far.settling_s, at_s), text, &phases, true)?
            }
        };
        let settle = part.phase(SETTLE)?;
        let unseen = unseen_as_planned(&self.test, so_far.at, self.channels.iter());
        let known = Known {
            flags: unsettled(planned, settle).into_iter().collect(),
            unseen: &unseen,
        };
        let judgement = judged_as(&part, setup.clone(), self.shop.clone(), known);
        let verdict = judgement.verdict;
        let deciding = verdict.judged.iter().find(|j| j.outcome == verdict.outcome);
        let why = deciding.map(|j| format!("{}: {}", j.limit.figure.plain(), j.reason));
        why.filter(|_| ends_the_hold(&verdict) && verdict.outcome != Outcome::NotValid)
    }
}

impl SoFar {
    /// The hold as a recording that ended at `at_s` as decided.
    fn recording(
        &self,
        at_s: f64,
        names: &[String; 2],
        looks: &Looks,
        loss: Loss,
    ) -> Option<Recording> {
        let phase = |name: &str, from_s, until_s| PhaseMark {
            name: name.into(),
            from_s,
            until_s,
        };
        let counts_s = self.counts_s?;
        let tracks = looks.channels.iter().zip(&self.codes);
        let parts = Parts {
            heading: looks.heading.clone(),
            time_s: self.time_s.clone(),
            tracks: tracks
                .map(|(channel, codes)| Track {
                    channel: channel.clone(),
                    codes: Codes::Raw(codes.clone()),
                })
                .collect(),
            gaps: self.gaps.clone(),
            phases: vec![
                phase(&names[0], self.settling_s, counts_s),
                phase(&names[1], counts_s, at_s),
            ],
            entries: vec![Entry {
                at_s,
                step: looks.test.steps.get(self.at)?.step.id.clone(),
                kind: EntryKind::Decided,
                text: String::new(),
            }],
            loss,
            ending: Ending::Complete,
        };
        Recording::new(parts).ok()
    }
}
