//! What is marked in a recording: steps, holds, gaps, and what was said of the readings.
//!
//! Stretches are those of the recording; names and sentences are those of the record that the
//! first judgement left in the register.

use super::times;
use super::times::Span;
use crate::certificate::Marked;
use crate::certificate::marked;
use crate::chart::StepMark;
use crate::page::view;
use crate::procedure::HOLD;
use crate::procedure::SETTLE;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Outline;

/// Most gaps that are listed; the longest are.
const MOST_GAPS: usize = 20;

/// Marks of one recording.
pub(super) struct Marks<'a> {
    outline: &'a Outline,
    marked: Marked,
}

impl<'a> Marks<'a> {
    /// Of a recording and the record of its paper. A record that cannot be read names nothing; the
    /// phases are still there.
    pub fn of(outline: &'a Outline, record: &str) -> Self {
        Self {
            outline,
            marked: marked(record).unwrap_or_default(),
        }
    }

    /// The steps of a procedure; none of a hold alone.
    pub fn steps(&self) -> Vec<StepMark> {
        let mut steps: Vec<(&str, StepMark)> = Vec::new();
        for phase in &self.outline.phases {
            let Some((id, name)) = phase.name.split_once('/') else {
                continue;
            };
            let counts_from_s = (name == HOLD).then_some(phase.from_s);
            match steps.iter_mut().find(|(known, _)| *known == id) {
                Some((_, step)) => {
                    step.from_s = step.from_s.min(phase.from_s);
                    step.until_s = step.until_s.max(phase.until_s);
                    step.counts_from_s = step.counts_from_s.or(counts_from_s);
                }
                None => {
                    let known = &self.marked.steps;
                    let index = known.iter().position(|step| step.id == id);
                    let step = StepMark {
                        number: index.unwrap_or(steps.len()) + 1,
                        title: index.map_or(id, |index| &known[index].title).to_owned(),
                        from_s: phase.from_s,
                        counts_from_s,
                        until_s: phase.until_s,
                    };
                    steps.push((id, step));
                }
            }
        }
        steps.into_iter().map(|(_, step)| step).collect()
    }

    /// Steps with their holds, or the phases of a hold alone.
    pub fn lines(&self, whole: Span) -> Vec<view::Mark> {
        let mark = |what: view::MarkWhat, (from_s, until_s): (f64, f64)| view::Mark {
            what,
            stretch: Span { from_s, until_s }.within(whole).shown(),
        };
        let mut lines = Vec::new();
        for step in self.steps() {
            let stretch_s = (step.from_s, step.until_s);
            lines.push(mark(
                view::MarkWhat::Step(step.number, step.title),
                stretch_s,
            ));
            if let Some(from_s) = step.counts_from_s {
                lines.push(mark(view::MarkWhat::Hold, (from_s, step.until_s)));
            }
        }
        let alone = self.outline.phases.iter().filter(|p| !p.name.contains('/'));
        lines.extend(alone.map(|phase| {
            let what = match phase.name.as_str() {
                SETTLE => view::MarkWhat::Settling,
                HOLD => view::MarkWhat::Hold,
                other => view::MarkWhat::Other(other.into()),
            };
            mark(what, (phase.from_s, phase.until_s))
        }));
        lines
    }

    /// What was said of the readings, what voids first.
    pub fn said(&self, whole: Span) -> Vec<view::SaidLine> {
        let steps = &self.marked.steps;
        let line = |said: &crate::certificate::SaidOf| {
            let stretch = said.stretch_s.map(|(from_s, until_s)| {
                let span = Span { from_s, until_s };
                span.within(whole).shown()
            });
            let step = said.step.and_then(|index| steps.get(index));
            view::SaidLine {
                voids: said.voids,
                evidence: said.evidence.clone(),
                step: step.map(|step| step.title.clone()).unwrap_or_default(),
                stretch,
            }
        };
        let mut lines: Vec<view::SaidLine> = self.marked.said.iter().map(line).collect();
        lines.sort_by_key(|line| !line.voids);
        lines
    }
}

/// The longest gaps in order of time, and how many there are beside.
pub(super) fn gaps(outline: &Outline, whole: Span) -> (Vec<view::GapLine>, i64) {
    let mut gaps: Vec<&Gap> = outline.gaps.iter().collect();
    let long_s = |gap: &Gap| gap.until_s - gap.from_s;
    gaps.sort_by(|a, b| long_s(b).total_cmp(&long_s(a)));
    let n_more = gaps.len().saturating_sub(MOST_GAPS);
    gaps.truncate(MOST_GAPS);
    gaps.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    let line = |gap: &&Gap| {
        let (from_s, until_s) = (gap.from_s, gap.until_s);
        view::GapLine {
            why: match gap.cause {
                GapCause::Lost => view::GapWhy::Lost,
                GapCause::Unplugged => view::GapWhy::Unplugged,
                GapCause::Silent => view::GapWhy::Silent,
                GapCause::Restarted => view::GapWhy::Restarted,
            },
            long: times::said(long_s(gap)),
            around: Span { from_s, until_s }.around(whole).shown(),
            from_said: times::said(from_s),
            until_said: times::said(until_s),
        }
    };
    (gaps.iter().map(line).collect(), n_more as i64)
}
