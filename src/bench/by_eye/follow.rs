//! What a phase of a test that is read by eye needs: its looks, and when it is over.

use super::APART_S;
use super::ByEye;
use super::GIVEN_UP_S;
use super::look::Look;
use super::look::Purpose;
use super::pressure_role;
use super::settle::EyeSettling;
use crate::bench::Stage;
use crate::bench::advance::COUNTS_BELOW;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::looks_s;

impl ByEye {
    /// Sets up what a phase that has just begun needs.
    pub(super) fn follow(&mut self) {
        let stage = self.bench.stage();
        let at = self.bench.step_now().map_or(0, |(at, _)| at);
        if self.followed == Some((at, stage)) {
            return;
        }
        self.followed = Some((at, stage));
        self.to_come_s.clear();
        self.dial_first_m = None;
        self.open = None;
        self.is_standing = false;
        let from_s = self.bench.phase_from_s();
        let Some((_, step)) = self.bench.step_now() else {
            return;
        };
        match (stage, step.act.clone()) {
            (Stage::Reaching, _) => {
                let now_s = self.bench.progress_s().0;
                self.look(Purpose::Reach, now_s, f64::INFINITY);
            }
            (Stage::Settling, Act::Hold(hold)) => {
                let own = step.reach().map_or(Chamber::Cap, |reach| reach.chamber);
                let place = self.place(pressure_role(own));
                let read_si = place.map_or(0.0, |p| self.instruments[p].reading_si());
                self.settling = hold.steady.map(|rule| EyeSettling::new(rule, read_si));
                match (&mut self.settling, place) {
                    (Some(settling), Some(place)) => {
                        let next_s = match self.last[place].filter(|_| hold.reach.is_some()) {
                            Some(pa) => {
                                settling.push(from_s, pa);
                                from_s + settling.window_s
                            }
                            None => from_s,
                        };
                        self.to_come_s = vec![next_s];
                    }
                    _ => self.to_come_s = vec![from_s + hold.plan.settle().value],
                }
            }
            (Stage::Holding, Act::Hold(hold)) => {
                let looks = looks_s(hold.plan.length().value).unwrap_or_default();
                self.to_come_s = looks.iter().rev().map(|s| from_s + s).collect();
                self.tell_times(&looks);
            }
            (Stage::Dwelling, Act::Dwell { length, .. })
            | (Stage::Vented, Act::Vented { length, .. }) => {
                self.to_come_s = vec![from_s + length.value];
            }
            (Stage::Stroking, Act::Strokes { count, .. }) => self.ask_strokes(count),
            _ => {}
        }
    }

    pub(super) fn tell_times(&mut self, looks: &[f64]) {
        let minutes: Vec<String> = looks
            .iter()
            .map(|s| format!("{:.1}", s / 60.0).trim_end_matches(".0").to_owned())
            .collect();
        self.say(format!(
            "The hold counts from now. Readings at {} min. Tap the gauge lightly and look square at the scale.",
            minutes.join(", ")
        ));
    }

    /// The next look of this phase is due.
    pub(super) fn next_look(&mut self, due_s: f64) {
        self.to_come_s.pop();
        match self.bench.stage() {
            Stage::Settling if self.settling.is_none() => self.over(due_s),
            Stage::Settling => self.look(Purpose::Settle, due_s, due_s + GIVEN_UP_S),
            Stage::Holding => {
                let next_s = self.to_come_s.last().copied();
                let purpose = Purpose::Hold {
                    is_last: next_s.is_none(),
                };
                self.look(purpose, due_s, next_s.unwrap_or(due_s + GIVEN_UP_S));
            }
            Stage::Dwelling | Stage::Vented => self.look(Purpose::End, due_s, f64::INFINITY),
            _ => {}
        }
    }

    /// Opens a look.
    pub(super) fn look(&mut self, purpose: Purpose, asked_s: f64, until_s: f64) {
        let is_wanted = |role: Role| match purpose {
            Purpose::Hold { .. } => true,
            Purpose::LetOff => matches!(role, Role::CapPressure | Role::RodPressure),
            Purpose::End if self.bench.stage() == Stage::Vented => {
                matches!(role, Role::CapPressure | Role::RodPressure)
            }
            Purpose::Reach | Purpose::Settle | Purpose::End => self.is_held(role, purpose),
        };
        let places = self.instruments.iter().enumerate();
        let wanted: Vec<usize> = places
            .filter(|(_, own)| is_wanted(own.role))
            .map(|(place, _)| place)
            .collect();
        let n = self.instruments.len();
        self.open = Some(Look::new(purpose, (asked_s, until_s), wanted, n));
        self.ask();
    }

    /// Whether a role is a pressure that the step brings up and watches.
    pub(super) fn is_held(&self, role: Role, purpose: Purpose) -> bool {
        let reach = self.bench.step_now().and_then(|(_, step)| step.reach());
        let own = reach.map_or(Chamber::Cap, |reach| reach.chamber);
        let has_other = purpose == Purpose::Reach && reach.is_some_and(|r| r.other.is_some());
        role == pressure_role(own) || (has_other && role == pressure_role(own.other()))
    }

    /// A look at a side that settles is through.
    pub(super) fn settled_so_far(&mut self, look: Look) {
        let at_s = look.middle_s();
        let said_s = look.said_s;
        let own = self
            .bench
            .step_now()
            .and_then(|(_, step)| step.reach().copied());
        let own = own.map_or(Chamber::Cap, |reach| reach.chamber);
        let read = self.place(pressure_role(own)).and_then(|p| look.read[p]);
        self.closed = Some(look);
        let from_s = self.bench.phase_from_s();
        let settle_s = match self.bench.step_now().map(|(_, step)| &step.act) {
            Some(Act::Hold(hold)) => hold.plan.settle().value,
            _ => 0.0,
        };
        let Some(settling) = &mut self.settling else {
            return;
        };
        if let Some(pa) = read {
            settling.push(at_s, pa);
        }
        let waited_s = said_s - from_s;
        let is_over =
            (settling.is_steady() && waited_s >= settle_s) || waited_s >= settling.at_most_s();
        let next_s = (at_s + settling.window_s).max(said_s);
        // Never beyond the longest wait: then it is counted as what has not settled.
        let next_s = next_s.min((from_s + settling.at_most_s()).max(said_s + APART_S));
        if is_over {
            return self.over(said_s);
        }
        // A side that runs empty counts at once; the bench sees that in the row.
        let fell = self.fell_below_what_counts(read);
        match fell {
            true => {
                self.flush();
                self.follow();
            }
            false => self.to_come_s = vec![next_s],
        }
    }

    /// A reading of a settling side was mended: its place among the others is taken again.
    pub(super) fn settle_again(&mut self) {
        if self.bench.stage() != Stage::Settling {
            return;
        }
        if let Some(look) = self.closed.take() {
            self.settled_so_far(look);
        }
    }

    pub(super) fn fell_below_what_counts(&self, read: Option<f64>) -> bool {
        let reach = self.bench.step_now().and_then(|(_, step)| step.reach());
        reach
            .zip(read)
            .is_some_and(|(reach, pa)| pa < COUNTS_BELOW * reach.pressure.pa())
    }
}
