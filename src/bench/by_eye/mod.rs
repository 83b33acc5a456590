//! A test that a person reads: the same steps and the same state machine, with readings that
//! are asked for at stated times in the place of rows that a board sends.
//!
//! Pure as the rest: words and times in, effects out. Nothing here knows who types. A reading
//! stands for the middle of the time between the question and the word; how long that was is
//! kept with it.
//!
//! Invariants: rows rise in time; a row is given out once it can no longer be taken back; a
//! phase is over when its last look is through or was given up, never by itself.

mod look;
mod phase;
mod settle;

use super::Bench;
use super::Effect;
use super::Event;
use super::Reading;
use super::SAFE_PA;
use super::Stage;
use crate::channel::EyeInstrument;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::Step;
use crate::procedure::looks_s;
use crate::recording::EntryKind;
use look::Look;
use look::Purpose;
use look::Said;
use settle::EyeSettling;

/// What takes the last reading back.
pub const WRONG: &str = "wrong";

/// How long a look is waited for that no other follows, s.
const GIVEN_UP_S: f64 = 120.0;

/// Time that readings are apart at least, s: what comes in one breath is one look.
const APART_S: f64 = 1e-3;

/// Something that is wanted of the person now, beside what the steps ask.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// Read an instrument.
    Read {
        /// What it measures.
        role: Role,
        /// The words.
        words: String,
        /// Whether the pressure is to be brought up before it is read.
        brings: bool,
    },
    /// Say how many full strokes were run.
    Strokes {
        /// The words.
        words: String,
    },
    /// Say that the readings of a hold stand.
    Stand {
        /// The words.
        words: String,
    },
}

/// What shall be done.
#[derive(Debug, Clone, PartialEq)]
pub enum EyeEffect {
    /// As for any test.
    Bench(Effect),
    /// Keep a row: its time in s, and what was read of each instrument, SI.
    Row(f64, Vec<Option<f64>>),
    /// Ask the person.
    Ask(Question),
}

/// A test that is read by eye.
#[derive(Debug, Clone, PartialEq)]
pub struct ByEye {
    bench: Bench,
    instruments: Vec<EyeInstrument>,
    /// What was read last of each instrument, SI.
    last: Vec<Option<f64>>,
    /// Looks of this phase that are to come, the next one last, s.
    to_come_s: Vec<f64>,
    open: Option<Look>,
    /// A look that is through and can still be taken back.
    closed: Option<Look>,
    /// Whether a reading of the closed look is asked for again.
    is_mending: bool,
    /// Whether the last readings of a hold are through and only have to stand.
    is_standing: bool,
    settling: Option<EyeSettling>,
    /// Step and stage that were followed last.
    followed: Option<(usize, Stage)>,
    last_row_s: f64,
    out: Vec<EyeEffect>,
}

impl ByEye {
    /// A test of these steps with these instruments.
    pub fn new(steps: Vec<Step>, instruments: Vec<EyeInstrument>) -> Self {
        Self {
            bench: Bench::by_eye(steps),
            last: vec![None; instruments.len()],
            instruments,
            to_come_s: Vec::new(),
            open: None,
            closed: None,
            is_mending: false,
            is_standing: false,
            settling: None,
            followed: None,
            last_row_s: f64::NEG_INFINITY,
            out: Vec::new(),
        }
    }

    /// The state machine of its steps.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// Begins at 0 s.
    pub fn begin(&mut self) -> Vec<EyeEffect> {
        let first = Event::Recorded(Reading::default());
        self.pass(first, 0.0);
        self.given()
    }

    /// When something is due by itself, s; None while nothing is.
    pub fn due_s(&self) -> Option<f64> {
        if let Some(open) = &self.open {
            return Some(open.until_s).filter(|s| s.is_finite());
        }
        self.to_come_s.last().copied()
    }

    /// Time has come so far, s.
    pub fn at(&mut self, now_s: f64) -> Vec<EyeEffect> {
        while self.due_s().is_some_and(|due_s| due_s <= now_s) {
            let due_s = self.due_s().unwrap_or(now_s);
            self.bench.reaches(due_s);
            match self.open.is_some() {
                true => self.give_up(due_s),
                false => self.next_look(due_s),
            }
        }
        self.bench.reaches(now_s);
        self.given()
    }

    /// The test ends before its end, and why.
    pub fn ends(&mut self, why: Event) -> Vec<EyeEffect> {
        self.flush();
        let effects = self.bench.take(why);
        self.keep(effects);
        self.given()
    }

    /// Hears what was typed, at a bench time in seconds.
    pub fn typed(&mut self, text: &str, now_s: f64) -> Vec<EyeEffect> {
        let mut before = self.at(now_s);
        let word = text.trim();
        if word.eq_ignore_ascii_case(WRONG) {
            self.take_back();
        } else if self.is_mending || self.open.is_some() {
            self.read(word, now_s);
        } else if self.is_standing {
            self.stands(word, now_s);
        } else {
            match self.bench.stage() {
                Stage::Asking if word.is_empty() => self.done(now_s),
                Stage::Asking => self.pass(Event::NotDone, now_s),
                Stage::Typing => self.pass(Event::Typed(text.into()), now_s),
                Stage::Stroking => self.strokes(word, now_s),
                _ => self.warn("nothing is asked now; the next look is asked for by itself"),
            }
        }
        before.extend(self.given());
        before
    }

    fn given(&mut self) -> Vec<EyeEffect> {
        std::mem::take(&mut self.out)
    }

    fn warn(&mut self, text: &str) {
        self.out.push(EyeEffect::Bench(Effect::Warn(text.into())));
    }

    fn say(&mut self, text: String) {
        self.out.push(EyeEffect::Bench(Effect::Say(text)));
    }

    fn keep(&mut self, effects: Vec<Effect>) {
        self.out.extend(effects.into_iter().map(EyeEffect::Bench));
    }

    /// Gives an event to the bench and follows where it leads.
    fn pass(&mut self, event: Event, now_s: f64) {
        self.bench.reaches(now_s);
        let effects = self.bench.take(event);
        self.keep(effects);
        self.follow();
    }

    fn over(&mut self, at_s: f64) {
        self.flush();
        let effects = self.bench.phase_over(at_s);
        self.keep(effects);
        self.follow();
    }

    /// A person says that a step is ready; what stands under pressure is read first.
    fn done(&mut self, now_s: f64) {
        let stands = |role| {
            let place = self.place(role)?;
            self.last[place].filter(|pa| *pa > SAFE_PA)
        };
        let is_pressed = stands(Role::CapPressure).or(stands(Role::RodPressure));
        let handles = self
            .bench
            .step_now()
            .is_some_and(|(_, step)| match step.act {
                Act::Confirm | Act::Reading(_) => false,
                Act::Hold(_) => step.reach().is_some(),
                Act::Vented { .. } | Act::Strokes { .. } | Act::Dwell { .. } => true,
            });
        match is_pressed.is_some() && handles {
            true => self.look(Purpose::LetOff, now_s, f64::INFINITY),
            false => self.pass(Event::Done, now_s),
        }
    }

    fn strokes(&mut self, word: &str, now_s: f64) {
        let Some((
            _,
            Step {
                act: Act::Strokes { count, .. },
                ..
            },
        )) = self.bench.step_now()
        else {
            return;
        };
        let count = *count;
        match word.parse::<u32>() {
            Ok(run) if run >= count => {
                let entry = self.bench.noted(now_s, EntryKind::Reading, run.to_string());
                self.out.push(EyeEffect::Bench(entry));
                self.say(format!("Understood: {run} full strokes."));
                self.over(now_s);
            }
            Ok(run) => {
                self.warn(&format!(
                    "{run} full strokes, and {count} are asked for: run the others"
                ));
                self.ask_strokes(count);
            }
            Err(_) => {
                self.warn(&format!("`{word}` is no number of strokes"));
                self.ask_strokes(count);
            }
        }
    }

    fn ask_strokes(&mut self, count: u32) {
        let words = format!("Run {count} full strokes, then type how many were run.");
        self.out.push(EyeEffect::Ask(Question::Strokes { words }));
    }

    fn stands(&mut self, word: &str, now_s: f64) {
        if !word.is_empty() {
            self.warn(&format!(
                "Enter alone, or `{WRONG}` to take the last reading back"
            ));
            return;
        }
        self.is_standing = false;
        let at_s = self.closed.as_ref().map_or(now_s, Look::middle_s);
        self.over(at_s.max(self.last_row_s + APART_S));
    }

    fn place(&self, role: Role) -> Option<usize> {
        self.instruments.iter().position(|own| own.role == role)
    }

    /// Sets up what a phase that has just begun needs.
    fn follow(&mut self) {
        let stage = self.bench.stage();
        let at = self.bench.step_now().map_or(0, |(at, _)| at);
        if self.followed == Some((at, stage)) {
            return;
        }
        self.followed = Some((at, stage));
        self.to_come_s.clear();
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
            | (Stage::Vented, Act::Vented { length }) => {
                self.to_come_s = vec![from_s + length.value];
            }
            (Stage::Stroking, Act::Strokes { count, .. }) => self.ask_strokes(count),
            _ => {}
        }
    }

    fn tell_times(&mut self, looks: &[f64]) {
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
    fn next_look(&mut self, due_s: f64) {
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
    fn look(&mut self, purpose: Purpose, asked_s: f64, until_s: f64) {
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
    fn is_held(&self, role: Role, purpose: Purpose) -> bool {
        let reach = self.bench.step_now().and_then(|(_, step)| step.reach());
        let own = reach.map_or(Chamber::Cap, |reach| reach.chamber);
        let has_other = purpose == Purpose::Reach && reach.is_some_and(|r| r.other.is_some());
        role == pressure_role(own) || (has_other && role == pressure_role(own.other()))
    }

    /// Asks for the instrument that is next, of the look that is mended or open.
    fn ask(&mut self) {
        let look = match self.is_mending {
            true => self.closed.as_ref(),
            false => self.open.as_ref(),
        };
        let Some((look, own)) =
            look.and_then(|look| Some((look, self.instruments.get(look.now()?)?)))
        else {
            return;
        };
        let brings = look.purpose == Purpose::Reach && look.n_through == 0;
        let name = match own.papers.serial.as_str() {
            "" => String::new(),
            name => format!(" {name}"),
        };
        let words = format!(
            "Read now: {} ({}{name}), in {}.",
            own.role.plain(),
            own.plain(),
            own.unit.name
        );
        let role = own.role;
        self.out.push(EyeEffect::Ask(Question::Read {
            role,
            words,
            brings,
        }));
    }

    /// Takes a reading.
    fn read(&mut self, word: &str, now_s: f64) {
        let look = match self.is_mending {
            true => self.closed.as_mut(),
            false => self.open.as_mut(),
        };
        let Some((look, place)) = look.and_then(|look| {
            let place = look.now()?;
            Some((look, place))
        }) else {
            return;
        };
        match look.typed(&self.instruments[place], self.last[place], word, now_s) {
            Said::Again(why) => {
                self.warn(&why);
                self.ask();
            }
            Said::Taken(si) => {
                // The one before can no longer be taken back.
                if !self.is_mending {
                    self.flush();
                }
                self.last[place] = Some(si);
                let own = &self.instruments[place];
                self.say(format!("  {}: {}", own.role.plain(), own.typed(si)));
                self.after_reading(now_s);
            }
        }
    }

    fn after_reading(&mut self, now_s: f64) {
        if self.is_mending {
            let is_through = self.closed.as_ref().is_none_or(|look| look.now().is_none());
            if is_through {
                self.is_mending = false;
                match self.is_standing {
                    true => self.ask_standing(),
                    false => self.settle_again(),
                }
            }
            return self.ask();
        }
        match self.open.as_ref().is_some_and(|look| look.now().is_none()) {
            true => self.close(now_s),
            false => self.ask(),
        }
    }

    /// A reading of a settling side was mended: its place among the others is taken again.
    fn settle_again(&mut self) {
        let is_settling = self.bench.stage() == Stage::Settling;
        if let Some(look) = self.closed.take().filter(|_| is_settling) {
            self.settled_so_far(look);
        }
    }

    /// The open look is through.
    fn close(&mut self, now_s: f64) {
        let Some(look) = self.open.take() else {
            return;
        };
        match look.purpose {
            Purpose::LetOff => {
                self.closed = Some(look);
                self.flush();
                self.pass(Event::Done, now_s);
            }
            Purpose::Reach => {
                self.closed = Some(look);
                self.flush();
                self.follow();
                if self.bench.stage() == Stage::Reaching {
                    self.not_there();
                    self.look(Purpose::Reach, now_s, f64::INFINITY);
                }
            }
            Purpose::Settle => self.settled_so_far(look),
            Purpose::Hold { is_last } => {
                self.closed = Some(look);
                if is_last {
                    self.is_standing = true;
                    self.ask_standing();
                }
            }
            Purpose::End => {
                let at_s = look.middle_s();
                self.closed = Some(look);
                self.flush();
                self.over(at_s.max(self.last_row_s));
            }
        }
    }

    fn ask_standing(&mut self) {
        let words = format!(
            "All readings of this hold are in. Press Enter if they stand; `{WRONG}` takes the last one back."
        );
        self.out.push(EyeEffect::Ask(Question::Stand { words }));
    }

    fn not_there(&mut self) {
        let reach = self
            .bench
            .step_now()
            .and_then(|(_, step)| step.reach().copied());
        if let Some(reach) = reach {
            let bar = reach.pressure.bar();
            self.warn(&format!(
                "{bar:.0} bar are asked for at the {} end ({:.0} to {:.0} bar): bring it there, or let it off first, and \
                 read again",
                reach.chamber.word(),
                crate::procedure::REACHED_FROM * bar,
                crate::procedure::REACHED_TO * bar
            ));
        }
    }

    /// A look at a side that settles is through.
    fn settled_so_far(&mut self, look: Look) {
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

    fn fell_below_what_counts(&self, read: Option<f64>) -> bool {
        let reach = self.bench.step_now().and_then(|(_, step)| step.reach());
        reach
            .zip(read)
            .is_some_and(|(reach, pa)| pa < super::COUNTS_BELOW * reach.pressure.pa())
    }

    /// The open look has come to its end in time: what was not read is missed.
    fn give_up(&mut self, now_s: f64) {
        let Some(mut look) = self.open.take() else {
            return;
        };
        let missed: Vec<Role> = look.wanted[look.n_through..]
            .iter()
            .map(|place| self.instruments[*place].role)
            .collect();
        for role in missed {
            self.warn(&format!(
                "{} was not read in time: a gap stays",
                role.plain()
            ));
            let entry = self
                .bench
                .noted(now_s, EntryKind::Missed, role.word().into());
            self.out.push(EyeEffect::Bench(entry));
        }
        look.n_through = look.wanted.len();
        if look.is_empty() {
            match look.purpose {
                Purpose::Settle => self.to_come_s = vec![now_s],
                Purpose::Hold { is_last: true } => self.over(now_s),
                _ => {}
            }
            return;
        }
        self.flush();
        self.open = Some(look);
        self.close(now_s);
    }

    /// Takes the last reading back, if the next one is not in.
    fn take_back(&mut self) {
        let of_open = self
            .open
            .as_mut()
            .filter(|_| !self.is_mending)
            .and_then(Look::take_back);
        let is_of_open = of_open.is_some();
        let taken = match of_open {
            Some(taken) => Some(taken),
            None => self.closed.as_mut().and_then(Look::take_back),
        };
        let Some((place, si)) = taken else {
            self.warn("nothing can be taken back now: the next reading is in, or none was taken");
            return self.ask();
        };
        if !is_of_open {
            self.is_mending = true;
            if let Some(settling) = self
                .settling
                .as_mut()
                .filter(|_| self.bench.stage() == Stage::Settling)
            {
                settling.pop();
            }
        }
        // What was wrong is nothing to compare the next with.
        self.last[place] = None;
        let own = &self.instruments[place];
        let words = format!("{} {}", own.role.word(), own.typed(si));
        let said = format!("  Taken back: {} {}.", own.role.plain(), own.typed(si));
        let now_s = self.bench.progress_s().0;
        let entry = self.bench.noted(now_s, EntryKind::TakenBack, words);
        self.out.push(EyeEffect::Bench(entry));
        self.say(said);
        self.ask();
    }

    /// Gives the closed look out as a row: from now on it stands.
    fn flush(&mut self) {
        self.is_mending = false;
        let Some(look) = self.closed.take().filter(|look| !look.is_empty()) else {
            return;
        };
        let row_s = look.middle_s().max(self.last_row_s + APART_S);
        self.last_row_s = row_s;
        let asked = self
            .bench
            .noted(look.asked_s, EntryKind::Asked, String::new());
        self.out.push(EyeEffect::Bench(asked));
        let of = |role| self.place(role).and_then(|place| look.read[place]);
        let reach = self
            .bench
            .step_now()
            .and_then(|(_, step)| step.reach().copied());
        let reading = Reading {
            time_s: row_s,
            cap_pa: of(Role::CapPressure),
            rod_pa: of(Role::RodPressure),
            // The person's word that the rod stands where it was asked to.
            x_m: reach.and_then(|reach| reach.at).map(|at| at.value),
        };
        self.out.push(EyeEffect::Row(row_s, look.read));
        let effects = self.bench.take(Event::Recorded(reading));
        let is_further = !effects.is_empty();
        self.keep(effects);
        if is_further && look.purpose != Purpose::Reach {
            self.follow();
        }
    }
}

fn pressure_role(chamber: Chamber) -> Role {
    match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    }
}

#[cfg(test)]
mod tests;
