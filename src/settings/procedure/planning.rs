//! From the steps of a file to those of a unit: absolute pressures, places, setups.

use super::file::DwellTable;
use super::file::HoldStepTable;
use super::file::SteadyTable;
use super::file::StepTable;
use super::file::VentedTable;
use super::merge::Wanted;
use super::merge::limits_for;
use super::merge::merged;
use super::merge::rated_for;
use super::plan::PlannedStep;
use super::plan::Repeat;
use crate::account::FigureName;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::cylinder::Ratings;
use crate::procedure::Act;
use crate::procedure::Hold;
use crate::procedure::LONGEST_HOLD_S;
use crate::procedure::Reach;
use crate::procedure::Steady;
use crate::procedure::Step;
use crate::quantity::Quantity;
use crate::quantity::Time;
use crate::settings::SettingsError;
use crate::settings::Setup;
use crate::settings::Shop;
use crate::settings::Source;
use toml::Spanned;
use toml::Table;

/// Shortest time a pressure is kept that can be looked at, s.
const SHORTEST_DWELL_S: f64 = 10.0;

/// A known place is one that the rod comes back to within this at most, m.
const LOOSEST_PLACE_M: f64 = 5e-3;

/// Part of its own rating from which on a step needs the cylinder to bear more than that: gauges
/// and hands are not that exact.
const NEAR_RATED: f64 = 0.9;

/// A pressure that is only kept may be as many times the rated one: proof pressure (GB/T
/// 15622-2005, 6.3, as a secondary copy has it). A hold never goes above it.
const PROOF_TIMES: f64 = 1.5;

/// A setup and a procedure, on their way to a test.
pub(super) struct Planning<'a> {
    pub source: Source<'a>,
    pub setup_file: &'a str,
    pub setup: Table,
    pub shop: Option<&'a Shop>,
}

impl Planning<'_> {
    /// A step as it is written becomes one, or several that ought to agree; `before` are those
    /// before it.
    pub(super) fn steps(
        &self,
        written: &Spanned<StepTable>,
        before: &[PlannedStep],
    ) -> Result<Vec<PlannedStep>, SettingsError> {
        let t = written.get_ref();
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        let id = t.id.get_ref();
        if id.is_empty() || !id.chars().all(plain) {
            let message = "`id` of a step has lower-case letters, digits and dashes only";
            return Err(self.source.error(&t.id, message));
        }
        if t.source.get_ref().trim().is_empty() {
            let message = format!("step `{id}` needs a source, or the words \"common practice\"");
            return Err(self.source.error(&t.source, message));
        }
        let tables = [
            t.vented.is_some(),
            t.strokes.is_some(),
            t.squeeze.is_some(),
            t.dwell.is_some(),
            t.hold.is_some(),
            t.reading.is_some(),
        ];
        if tables.into_iter().filter(|is_there| *is_there).count() > 1 {
            let message = format!(
                "step `{id}` has more than one table of what is done; make two steps of it"
            );
            return Err(self.source.error(written, message));
        }
        if let Some(hold) = &t.hold {
            return self.holds(t, hold);
        }
        if let Some(table) = &t.strokes {
            return self.strokes(t, table).map(|step| vec![step]);
        }
        if let Some(table) = &t.squeeze {
            return self.squeeze(t, table).map(|step| vec![step]);
        }
        let figure = self.figure(t.reading.as_ref())?;
        let (act, setup, ratings) = match (&t.dwell, figure) {
            (Some(table), _) => self.dwell(id, table)?,
            (None, Some(figure)) => {
                let act = self.other(t, before)?;
                (act, self.for_reading(id, written, figure)?, None)
            }
            (None, None) => (self.other(t, before)?, None, None),
        };
        Ok(vec![PlannedStep {
            step: told(t, id, act),
            setup,
            ratings,
            repeat: None,
            figure,
        }])
    }

    fn other(&self, t: &StepTable, before: &[PlannedStep]) -> Result<Act, SettingsError> {
        if let Some(table) = &t.vented {
            return self.vented(table);
        }
        match &t.reading {
            Some(table) => self.reading(table, before).map(Act::Reading),
            None => Ok(Act::Confirm),
        }
    }

    fn vented(&self, table: &VentedTable) -> Result<Act, SettingsError> {
        let length = table.length.get_ref().get();
        if length.si() < SHORTEST_DWELL_S {
            let message = "a zero takes 10 s to be read well";
            return Err(self.source.error(&table.length, message));
        }
        let within = table.place_within.as_ref();
        if let Some(within) = within.filter(|w| {
            !(w.get_ref().get().si() > 0.0 && w.get_ref().get().si() <= LOOSEST_PLACE_M)
        }) {
            let message = "a place that the rod comes back to within more than 5 mm says nothing of its sensor; write \
                           what it really comes back to, as \"0.02 mm\"";
            return Err(self.source.error(within, message));
        }
        Ok(Act::Vented {
            length,
            place_within: within
                .filter(|_| self.has_position())
                .map(|within| within.get_ref().get()),
        })
    }

    /// Whether a person reads, and counts.
    pub(super) fn is_by_eye(&self) -> bool {
        self.setup.contains_key("by_eye")
    }

    /// Whether there is a position sensor.
    pub(super) fn has_position(&self) -> bool {
        let sensors = self.setup.get("sensors");
        sensors.is_some_and(|sensors| sensors.get(Role::Position.word()).is_some())
    }

    pub(super) fn figure_of(&self, word: &Spanned<String>) -> Result<FigureName, SettingsError> {
        FigureName::from_word(word.get_ref()).ok_or_else(|| {
            let known: Vec<&str> = FigureName::ALL.iter().map(|n| n.word()).collect();
            let message = format!(
                "`{}` is no figure; write one of {}",
                word.get_ref(),
                known.join(", ")
            );
            self.source.error(word, message)
        })
    }

    /// A figure that a hold can show.
    fn of_holds(&self, word: &Spanned<String>) -> Result<FigureName, SettingsError> {
        let name = self.figure_of(word)?;
        match name.is_of_strokes() {
            false => Ok(name),
            true => {
                let message = format!(
                    "`{}` is shown by strokes, and by no hold; name it in [step.strokes] or [step.squeeze]",
                    name.word()
                );
                Err(self.source.error(word, message))
            }
        }
    }

    /// A pressure that is kept.
    fn dwell(&self, id: &str, table: &Spanned<DwellTable>) -> Result<Recorded, SettingsError> {
        let t = table.get_ref();
        let length = t.length.get_ref().get();
        if length.si() < SHORTEST_DWELL_S {
            return Err(self
                .source
                .error(&t.length, "a pressure is kept for 10 s at least"));
        }
        let wanted = Wanted {
            cap_port: &t.cap_port,
            rod_port: t.rod_port.as_deref(),
            rod: &t.rod,
            joined: false,
            settle_s: 0.0,
            length_s: length.si(),
            until_decided: false,
            pressure: None,
            rod_out: None,
            limits: Vec::new(),
        };
        let whole = merged(&self.setup, &wanted);
        let setup = self.checked(id, table, &whole)?;
        let (chamber, kept) = self.pressure(&setup, &t.pressure)?;
        self.can_be_read(&setup, table, chamber, t.at.is_some())?;
        let small = t.small_bore.as_ref().filter(|small| {
            let cylinder = setup.subject.piece.cylinder();
            cylinder.is_some_and(|c| c.size().bore <= small.up_to.get())
        });
        let pressure = small.map_or(kept, |small| small.pressure.get());
        let reach = Reach {
            chamber,
            pressure,
            other: None,
            at: self.place(&setup, t.at.as_ref())?,
        };
        let ratings = self.warned_by(id, table, (&whole, &setup), (&reach, PROOF_TIMES))?;
        let setup = Some((text_of(&whole), setup));
        Ok((Act::Dwell { reach, length }, setup, Some(ratings)))
    }

    /// A side that is shut, as often as the step says.
    fn holds(
        &self,
        t: &StepTable,
        table: &Spanned<HoldStepTable>,
    ) -> Result<Vec<PlannedStep>, SettingsError> {
        let (id, h) = (t.id.get_ref(), table.get_ref());
        let count = h.repeats.as_ref().map_or(1, |n| *n.get_ref());
        if let Some(repeats) = h.repeats.as_ref().filter(|_| !(2..=20).contains(&count)) {
            let message = "`repeats` is 2 to 20; leave it away for one hold";
            return Err(self.source.error(repeats, message));
        }
        let one = self.hold(id, t, table)?;
        Ok((1..=count).map(|n| repeated(&one, (n, count))).collect())
    }

    /// A side that is shut once.
    fn hold(
        &self,
        id: &str,
        t: &StepTable,
        table: &Spanned<HoldStepTable>,
    ) -> Result<PlannedStep, SettingsError> {
        let h = table.get_ref();
        let figures: Result<Vec<FigureName>, SettingsError> =
            h.figures.iter().map(|word| self.of_holds(word)).collect();
        let mut wanted = Wanted::of_hold(h, None, Vec::new());
        wanted.until_decided &= !self.is_by_eye();
        let bare = merged(&self.setup, &wanted);
        let reach = self.reach(h, &self.checked(id, table, &bare)?)?;
        if let Some(steady) = &h.steady {
            self.bounds(table, steady, h.settle.get())?;
        }
        let pressure = reach.as_ref().map(|r| r.pressure);
        let limits = limits_for(&self.setup, self.shop, &figures?, pressure);
        let at = reach.as_ref().and_then(|reach| reach.at);
        let whole = merged(
            &self.setup,
            &Wanted {
                pressure,
                limits,
                rod_out: at.filter(|_| self.is_by_eye()),
                ..wanted
            },
        );
        let setup = self.checked(id, table, &whole)?;
        if let Some(reach) = &reach {
            self.can_be_read(&setup, table, reach.chamber, reach.at.is_some())?;
            if reach.other.is_some() {
                self.can_be_read(&setup, table, reach.chamber.other(), false)?;
            }
        }
        let ratings = reach
            .as_ref()
            .map(|reach| self.warned_by(id, table, (&whole, &setup), (reach, 1.0)));
        let steady = h.steady.as_ref().map(|s| Steady {
            bend_most: s.within.get(),
            window: s.window.get(),
            at_most: s.at_most.get(),
        });
        let hold = Hold {
            reach,
            plan: setup.plan,
            steady,
        };
        Ok(PlannedStep {
            step: told(t, id, Act::Hold(hold)),
            ratings: ratings.transpose()?,
            setup: Some((text_of(&whole), setup)),
            repeat: None,
            figure: None,
        })
    }

    /// Whether the sensors are there that say when a step may go on: else it would never end.
    pub(super) fn can_be_read<T>(
        &self,
        setup: &Setup,
        place: &Spanned<T>,
        chamber: Chamber,
        has_place: bool,
    ) -> Result<(), SettingsError> {
        let pressure = match chamber {
            Chamber::Cap => Role::CapPressure,
            Chamber::Rod => Role::RodPressure,
        };
        // By eye the person's word is good for the place.
        let place_too = (has_place && !self.is_by_eye()).then_some(Role::Position);
        for role in [Some(pressure), place_too].into_iter().flatten() {
            if !setup.sensors.iter().any(|sensor| sensor.role == role) {
                let table = if self.is_by_eye() {
                    "by_eye"
                } else {
                    "sensors"
                };
                let message = format!(
                    "this step waits for {}, and the setup has no `{table}.{}`",
                    role.plain(),
                    role.word()
                );
                return Err(self.source.error(place, message));
            }
        }
        Ok(())
    }

    fn bounds<T>(
        &self,
        place: &Spanned<T>,
        steady: &SteadyTable,
        settle: Time,
    ) -> Result<(), SettingsError> {
        let (window_s, at_most_s) = (steady.window.get().si(), steady.at_most.get().si());
        let is_sound = steady.within.get().pa_per_s() > 0.0
            && (5.0..=600.0).contains(&window_s)
            && (settle.si().max(3.0 * window_s)..=LONGEST_HOLD_S).contains(&at_most_s);
        match is_sound {
            true => Ok(()),
            false => Err(self.source.error(
                place,
                "`steady` needs `within` above zero, a `window` of 5 s to 10 min, and `at_most` not shorter than `settle` \
                 and three windows",
            )),
        }
    }

    /// Ratings to warn by: those of the setup, but for the cylinder's own where the step is meant
    /// to come near it or above it.
    fn warned_by<T>(
        &self,
        id: &str,
        place: &Spanned<T>,
        (whole, setup): (&Table, &Setup),
        (reach, times_rated): (&Reach, f64),
    ) -> Result<Ratings, SettingsError> {
        let near = self.rated(reach.chamber).is_some_and(|rated| {
            let times = reach.pressure.pa() / rated.pa();
            (NEAR_RATED..=times_rated * (1.0 + 1e-9)).contains(&times)
        });
        if !near {
            return Ok(setup.ratings);
        }
        let mut raised = whole.clone();
        rated_for(&mut raised, reach.chamber, reach.pressure);
        Ok(self.checked(id, place, &raised)?.ratings)
    }

    pub(super) fn checked<T>(
        &self,
        id: &str,
        place: &Spanned<T>,
        whole: &Table,
    ) -> Result<Setup, SettingsError> {
        let text = text_of(whole);
        Setup::parse(self.setup_file, &text, self.shop).map_err(|error| {
            // Its line is one of the merged text, which nobody has before them.
            let message = format!("step `{id}` with {}: {}", self.setup_file, error.message);
            self.source.error(place, message)
        })
    }
}

/// What a step records: what is done, its setup, and the ratings to warn by.
type Recorded = (Act, Option<(String, Setup)>, Option<Ratings>);

/// One of `count` holds that ought to agree.
fn repeated(one: &PlannedStep, (number, count): (u32, u32)) -> PlannedStep {
    let mut planned = one.clone();
    if count == 1 {
        return planned;
    }
    let step = &mut planned.step;
    planned.repeat = Some(Repeat {
        of: step.id.clone(),
        number,
    });
    step.id = format!("{}-{number}", step.id);
    step.title = format!("{} ({number} of {count})", step.title);
    if number > 1 {
        let again =
            "Let the pressure off, run one full stroke out and in, and come back to the place.";
        step.tell.insert(0, again.into());
    }
    planned
}

pub(super) fn told(t: &StepTable, id: &str, act: Act) -> Step {
    Step {
        id: id.into(),
        title: t.title.clone(),
        tell: t.tell.clone(),
        source: t.source.get_ref().clone(),
        act,
    }
}

pub(super) fn text_of(table: &Table) -> String {
    toml::to_string(table).expect("a table that was read can be written")
}
