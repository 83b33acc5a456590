//! One test from the events of the line to the blocks of its journal.
//!
//! The same code live and in replay: what differs is only where the blocks go. Rows are
//! not kept here, only summed for the figures so far, so memory does not grow with the
//! length of a test.

mod capture;
mod keeper;

pub use capture::recording_from_capture;
pub use keeper::Keeper;
pub use keeper::Step;

use super::judgement::shop_of_heading;
use super::looks::Looks;
use super::strokes_live::StrokesLive;
use crate::account::Growing;
use crate::bench::Alarm;
use crate::bench::Bench;
use crate::bench::Effect;
use crate::bench::Event;
use crate::bench::Reading;
use crate::bench::Stage;
use crate::channel::BoardError;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorInfo;
use crate::channel::from_board;
use crate::channel::row_values;
use crate::cylinder::Chamber;
use crate::cylinder::Ratings;
use crate::link::LinkEvent;
use crate::quantity::UnitSystem;
use crate::recording::Heading;
use crate::recording::JournalError;
use crate::recording::Loss;
use crate::recording::RecordingError;
use crate::recording::Row;
use crate::settings::PlannedStep;
use crate::settings::SettingsError;
use crate::settings::Test;
use firmware_protocol::BoardFlags;
use firmware_protocol::Hello;

/// Why a test cannot begin or go on.
#[derive(Debug, thiserror::Error)]
pub enum TestRunError {
    /// A sensor of the setup has no board channel.
    #[error("sensors.{role} has no `channel`; say in the setup which channel of the board it is")]
    NoChannel {
        /// Word of the role.
        role: &'static str,
    },
    /// The setup does not fit the board.
    #[error(transparent)]
    Board(#[from] BoardError),
    /// The journal refuses a block.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// The shop file that came with the test is none.
    #[error(transparent)]
    Shop(#[from] SettingsError),
    /// The journal makes no recording.
    #[error(transparent)]
    Recording(#[from] RecordingError),
    /// A capture has no hello of a board.
    #[error(
        "no board says who it is in these bytes; a capture must begin when the adapter is opened"
    )]
    NoHello,
}

/// One test being recorded.
#[derive(Debug)]
pub struct TestRun {
    bench: Bench,
    alarm: Alarm,
    keeper: Keeper,
    channels: Vec<Channel>,
    board_indices: Vec<usize>,
    latest: Option<Row>,
    test: Test,
    /// Bench time of the start of settling, s.
    settling_s: f64,
    growing: Option<Growing>,
    /// Stretches without samples since the counted hold began, s of bench time.
    gaps_s: Vec<(f64, f64)>,
    line: LineState,
    looks: Option<Looks>,
    strokes: StrokesLive,
}

/// Whether the board is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineState {
    /// It is.
    Heard,
    /// The line is open and nothing comes.
    Silent,
    /// The adapter is gone.
    Gone,
}

/// Most gaps of a hold that are shown while it runs; all of them are in the journal.
const MOST_GAPS_SHOWN: usize = 200;

impl TestRun {
    /// Begins a test; the bytes are the start of its journal.
    ///
    /// # Errors
    /// If the setup does not fit the board.
    pub fn begin(
        mut heading: Heading,
        test: &Test,
        hello: &Hello,
    ) -> Result<(Self, Vec<u8>), TestRunError> {
        let setup = test.first_setup();
        let sensors: Result<Vec<SensorInfo>, TestRunError> = setup
            .sensors
            .iter()
            .map(|sensor| {
                let board_channel = sensor.board_channel.ok_or(TestRunError::NoChannel {
                    role: sensor.role.word(),
                })?;
                Ok(SensorInfo {
                    role: sensor.role,
                    board_channel,
                    errors: sensor.errors,
                    papers: sensor.papers.clone(),
                    motion_ratio: sensor.motion_ratio,
                    signal: sensor.signal,
                    is_against_supply: sensor.is_against_supply,
                    curve: sensor.calibration.as_ref().map(|c| c.curve.clone()),
                })
            })
            .collect();
        let sensors = sensors?;
        let channels = from_board(&hello.channels, &sensors)?;
        heading.source = source(hello);
        let shop = shop_of_heading(&heading)?;
        let units = shop.map_or(UnitSystem::Metric, |shop| shop.units);
        let (keeper, blocks) = Keeper::begin(&heading, &channels)?;
        let steps = test.steps.iter().map(|planned| planned.step.clone());
        let run = Self {
            bench: Bench::new(steps.collect()),
            alarm: Alarm::new(setup.ratings),
            keeper,
            test: test.clone(),
            settling_s: 0.0,
            growing: None,
            gaps_s: Vec::new(),
            line: LineState::Heard,
            looks: Looks::of(&heading, test, &channels)?,
            strokes: StrokesLive::new(units),
            channels,
            board_indices: sensors
                .iter()
                .map(|s| usize::from(s.board_channel))
                .collect(),
            latest: None,
        };
        Ok((run, blocks))
    }

    /// The state machine, for what is shown while it runs.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// The hold so far, for what is shown while it runs; None outside a hold.
    pub fn growing(&self) -> Option<&Growing> {
        self.growing.as_ref()
    }

    /// Stretches without samples since the counted hold began, s of bench time.
    pub fn gaps_s(&self) -> &[(f64, f64)] {
        &self.gaps_s
    }

    /// Whether the board is heard.
    pub fn line(&self) -> LineState {
        self.line
    }

    /// What the step that is worked on was planned as.
    pub fn planned_now(&self) -> Option<&PlannedStep> {
        let (at, _) = self.bench.step_now()?;
        self.test.steps.get(at)
    }

    /// Bench time at which settling began, s.
    pub fn settling_s(&self) -> f64 {
        self.settling_s
    }

    /// Latest reading of each channel in SI units; None for one outside its good band.
    pub fn latest(&self) -> impl Iterator<Item = (&Channel, Option<f64>)> {
        let codes = self
            .latest
            .as_ref()
            .map(|row| row.codes.as_slice())
            .unwrap_or_default();
        row_values(&self.channels, codes)
    }

    /// Takes an event of the line; `loss` is what was lost so far.
    ///
    /// # Errors
    /// If the journal refuses rows, which is a mistake of this program.
    pub fn take(&mut self, event: LinkEvent, loss: Loss) -> Result<Step, TestRunError> {
        match &event {
            LinkEvent::Samples(_) | LinkEvent::Back { .. } => self.line = LineState::Heard,
            LinkEvent::Silent => self.line = LineState::Silent,
            LinkEvent::Lost(_) | LinkEvent::GaveUp => self.line = LineState::Gone,
            _ => {}
        }
        match event {
            LinkEvent::Samples(rows) => {
                let rows: Vec<Row> = rows
                    .iter()
                    .filter_map(|row| row.picked(&self.board_indices))
                    .collect();
                let Some(blocks) = self.keeper.rows(&rows)? else {
                    return Ok(Step::default());
                };
                let mut step = Step {
                    blocks,
                    warnings: self.alarms(&rows),
                    ..Step::default()
                };
                self.latest = rows.last().cloned();
                for row in &rows {
                    self.row(row, &mut step, loss);
                }
                Ok(step)
            }
            LinkEvent::Gap(gap) => {
                if let Some(looks) = &mut self.looks {
                    looks.gap(&gap);
                }
                if self.growing.is_some() && self.gaps_s.len() < MOST_GAPS_SHOWN {
                    self.gaps_s.push((gap.from_s, gap.until_s));
                }
                let blocks = self.keeper.gap(&gap);
                Ok(Step {
                    blocks,
                    ..Step::default()
                })
            }
            LinkEvent::Lost(why) => Ok(self.end(Event::Lost(why), loss)),
            LinkEvent::Silent => Ok(self.end(Event::Silent, loss)),
            LinkEvent::Back { away_s } => Ok(self.end(Event::Back { away_s }, loss)),
            LinkEvent::GaveUp => Ok(self.end(Event::GaveUp, loss)),
            LinkEvent::OtherBoard(_) => Ok(self.end(Event::OtherBoard, loss)),
            LinkEvent::Refused(why) | LinkEvent::OtherVersion(why) => Ok(Step {
                warnings: vec![why],
                ..Step::default()
            }),
            LinkEvent::Status(status) => Ok(match fault(status.flags) {
                Some(why) => self.end(Event::BoardFault(why.into()), loss),
                None => Step::default(),
            }),
            LinkEvent::Hello(_) => Ok(Step::default()),
        }
    }

    /// Pressures of these rows that passed their rating, in words.
    fn alarms(&mut self, rows: &[Row]) -> Vec<String> {
        let mut warnings = Vec::new();
        for row in rows {
            for (channel, reading) in row_values(&self.channels, &row.codes) {
                let chamber = match channel.role {
                    Role::CapPressure => Chamber::Cap,
                    Role::RodPressure => Chamber::Rod,
                    _ => continue,
                };
                warnings.extend(reading.and_then(|pa| self.alarm.take(chamber, pa)));
            }
        }
        warnings
    }

    /// What one row leads to.
    fn row(&mut self, row: &Row, step: &mut Step, loss: Loss) {
        let decided = self.looks.as_mut().and_then(|l| l.before(row, loss));
        if let Some((at_s, why)) = decided {
            step.warnings.push(format!("decided: {why}"));
            self.carry_out(Event::Decided { at_s, why }, step, loss);
        }
        let values: Vec<(Role, Option<f64>)> = row_values(&self.channels, &row.codes)
            .map(|(channel, value)| (channel.role, value))
            .collect();
        let of = |role| {
            values
                .iter()
                .find(|(own, _)| *own == role)
                .and_then(|v| v.1)
        };
        let reading = Reading {
            time_s: row.time_s,
            cap_pa: of(Role::CapPressure),
            rod_pa: of(Role::RodPressure),
            x_m: of(Role::Position),
        };
        self.strokes.push(&reading);
        self.carry_out(Event::Recorded(reading), step, loss);
        if let Some(growing) = &mut self.growing {
            growing.push(row.time_s, values.iter().map(|(_, value)| *value));
        }
        if let Some(looks) = &mut self.looks {
            looks.push(row);
        }
    }

    /// Takes an event that is no row.
    pub fn end(&mut self, event: Event, loss: Loss) -> Step {
        let mut step = Step::default();
        self.carry_out(event, &mut step, loss);
        step
    }

    /// A phase began: what is shown and watched belongs to its step now.
    fn follow(&mut self, at_s: f64) {
        self.gaps_s.clear();
        let at = self.bench.step_now().map(|(at, _)| at);
        let planned = at.and_then(|at| self.test.steps.get(at));
        let Some(setup) = planned.and_then(|planned| planned.own_setup()) else {
            self.growing = None;
            return;
        };
        if let (Stage::Stroking, Some(planned)) = (self.bench.stage(), planned) {
            self.strokes.begin(planned, &self.channels);
        }
        match self.bench.stage() {
            Stage::Settling | Stage::Dwelling => {
                self.settling_s = at_s;
                self.growing = None;
            }
            Stage::Holding => {
                let settled_s = at_s - self.settling_s;
                let (subject, channels) = (setup.subject.clone(), self.channels.clone());
                self.growing = Some(Growing::new(subject, channels, at_s, settled_s));
            }
            _ => self.growing = None,
        }
    }

    fn carry_out(&mut self, event: Event, step: &mut Step, loss: Loss) {
        for effect in self.bench.take(event) {
            if let Effect::PhaseBegins(_, at_s) = &effect {
                self.follow(*at_s);
            }
            if let Some(looks) = &mut self.looks {
                looks.follow(&effect, self.bench.step_now().map(|(at, _)| at));
            }
            if matches!(effect, Effect::Ask(_)) {
                let (ratings, standing_pa) = (self.ratings(), self.standing_pa());
                self.alarm.follow(ratings, standing_pa);
            }
            self.keeper.keep(effect, loss, step);
        }
    }

    /// Pressures as they stand now, Pa gauge.
    fn standing_pa(&self) -> [Option<f64>; 2] {
        [Role::CapPressure, Role::RodPressure].map(|role| {
            self.latest()
                .find(|(c, _)| c.role == role)
                .and_then(|l| l.1)
        })
    }

    /// Ratings of the step that is worked on, else of the whole test.
    fn ratings(&self) -> Ratings {
        let planned = self.planned_now();
        let of_step = planned.and_then(|planned| planned.ratings);
        of_step.unwrap_or(self.test.first_setup().ratings)
    }
}

/// A report of the board that makes its readings worthless, in words.
fn fault(flags: BoardFlags) -> Option<&'static str> {
    if flags.contains(BoardFlags::SUPPLY_LOW) {
        Some("the board reports that the supply of the sensors is low; check it and test again")
    } else if flags.contains(BoardFlags::CLOCK_FAULT) {
        Some("the board reports that its clock is at fault; restart it and test again")
    } else {
        None
    }
}

/// Who the board is, in words.
fn source(hello: &Hello) -> String {
    let id: String = hello
        .board_id
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let v = hello.firmware;
    format!(
        "board {} {id}, firmware {}.{}.{}",
        hello.name.as_str(),
        v.major,
        v.minor,
        v.patch
    )
}

#[cfg(test)]
mod tests;
