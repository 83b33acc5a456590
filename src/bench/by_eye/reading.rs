//! Readings from the question to the row: asked, taken, taken back, missed, given out.

use super::APART_S;
use super::ByEye;
use super::EyeEffect;
use super::Question;
use super::WRONG;
use super::look::Look;
use super::look::Purpose;
use super::look::Said;
use crate::bench::Event;
use crate::bench::Reading;
use crate::bench::Stage;
use crate::channel::CountsUp;
use crate::channel::Role;
use crate::procedure::REACHED_FROM;
use crate::procedure::REACHED_TO;
use crate::recording::EntryKind;

impl ByEye {
    /// Asks for the instrument that is next, of the look that is mended or open.
    pub(super) fn ask(&mut self) {
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
    pub(super) fn read(&mut self, word: &str, now_s: f64) {
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

    pub(super) fn after_reading(&mut self, now_s: f64) {
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

    /// The open look is through.
    pub(super) fn close(&mut self, now_s: f64) {
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

    pub(super) fn ask_standing(&mut self) {
        let words = format!(
            "All readings of this hold are in. Press Enter if they stand; `{WRONG}` takes the last one back."
        );
        self.out.push(EyeEffect::Ask(Question::Stand { words }));
    }

    pub(super) fn not_there(&mut self) {
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
                REACHED_FROM * bar,
                REACHED_TO * bar
            ));
        }
    }

    /// The open look has come to its end in time: what was not read is missed.
    pub(super) fn give_up(&mut self, now_s: f64) {
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
    pub(super) fn take_back(&mut self) {
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
    pub(super) fn flush(&mut self) {
        self.is_mending = false;
        let Some(look) = self.closed.take().filter(|look| !look.is_empty()) else {
            return;
        };
        let row_s = look.middle_s().max(self.last_row_s + APART_S);
        self.last_row_s = row_s;
        let said = self.instruments.iter().zip(&look.read);
        let said: Vec<String> = said
            .filter_map(|(own, si)| Some(format!("{} {}", own.role.word(), own.typed((*si)?))))
            .collect();
        let asked = self
            .bench
            .noted(look.asked_s, EntryKind::Look, said.join("; "));
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
        let row = self.as_extension(&look);
        self.out.push(EyeEffect::Row(row_s, row));
        let effects = self.bench.take(Event::Recorded(reading));
        let is_further = !effects.is_empty();
        self.keep(effects);
        if is_further && look.purpose != Purpose::Reach {
            self.follow();
        }
    }

    /// What was read, with the dial's way as extension of the rod from where it stood.
    pub(super) fn as_extension(&mut self, look: &Look) -> Vec<Option<f64>> {
        let mut row = look.read.clone();
        let Some(place) = self.place(Role::Position) else {
            return row;
        };
        let at = self.bench.step_now().map_or(0, |(at, _)| at);
        let stood_m = self.stood_m.get(at).copied().flatten();
        row[place] = look.read[place].zip(stood_m).map(|(shown_m, stood_m)| {
            let first_m = *self.dial_first_m.get_or_insert(shown_m);
            let sign = self.instruments[place]
                .counts_up
                .map_or(1.0, CountsUp::sign);
            stood_m + sign * (shown_m - first_m)
        });
        row
    }
}
