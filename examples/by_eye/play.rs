//! A drawn hold, read by somebody: few readings of a gauge, a dial and a thermometer of drawn
//! quality, with parallax, rounding and late looks.
//!
//! The cylinder, its oil, its heat and its leaks are those of the campaign with a board; only
//! who reads is another. The account sees the readings and the setup, nothing else.

use super::chance::Chance;
use super::draw::Hold;
use super::draw::hold;
use std::fmt::Write;
use stillrod::channel::EyeInstrument;
use stillrod::channel::Role;
use stillrod::cylinder::Chamber;
use stillrod::procedure::HOLD;
use stillrod::procedure::SETTLE;
use stillrod::procedure::looks_s;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Entry;
use stillrod::recording::EntryKind;
use stillrod::recording::Heading;
use stillrod::recording::Loss;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::rehearsal::physics::Course;
use stillrod::rehearsal::physics::Truth;
use stillrod::rehearsal::rig::Habits;
use stillrod::rehearsal::rig::Scale;
use stillrod::settings::Setup;

/// Another stream of random numbers than that of the hold itself.
const READER: u64 = 1 << 40;

/// Samples each second that the thermometer's lag is followed with.
const STEPS_PER_S: f64 = 2.0;

/// A hold that was read.
pub struct ReadHold {
    /// What was drawn.
    pub hold: Hold,
    /// What is true of it, from its first reading to its last.
    pub truth: Truth,
    /// Divisions of the gauge, bar.
    pub division_bar: f64,
    /// The setup as read.
    pub setup: Setup,
    /// The readings.
    pub recording: Recording,
}

/// Hold `index` of a campaign as somebody read it; None where it is too short for that, or the
/// dial would have run out of its scale.
pub fn read(seed: u64, index: u64) -> Option<ReadHold> {
    let (mut hold, course) = hold(seed, index);
    // The oil of the bench does not go on beyond its run, and the last look takes its time.
    let until_s = hold.settle_s + hold.hold_s;
    let looks = looks_s(hold.hold_s - LAST_LOOK_S)?;
    let mut chance = Chance::of(seed, index + READER);
    let (tables, division_bar) = instruments(&hold, &course, &mut chance);
    hold.setup_toml = by_eye(&hold, &course, &tables);
    let setup = Setup::parse("setup.toml", &hold.setup_toml, None).expect("a setup of our own");
    let own = setup
        .subject
        .by_eye
        .clone()
        .expect("read by eye")
        .instruments;
    let scales: Vec<Scale> = own
        .iter()
        .map(|one| Scale {
            range_si: one.range_si,
            division_si: one.division_si,
            error_si: one.error_si,
        })
        .collect();
    let mut habits = Habits::new(&scales, hold.seed);
    let mut rows = Rows::default();
    let felt = Felt::of(&hold, &course);
    let mut said_s = hold.settle_s;
    for look in looks {
        let asked_s = (hold.settle_s + look).max(said_s);
        said_s = asked_s;
        let mut values = Vec::new();
        for (place, one) in own.iter().enumerate() {
            said_s += habits.answers_after_s();
            let at_s = (said_s - habits.types_for_s()).min(until_s);
            let now = course.run(&[at_s], hold.loaded()).instants[0];
            let shown = match one.role {
                Role::CapPressure => now.p_cap_pa,
                Role::RodPressure => now.p_rod_pa,
                Role::Position => DIAL_M - (now.x_m - rod_out_m(&hold, &course)),
                Role::OilTemperature | Role::WallTemperature => felt.at(at_s),
                Role::Supply => return None,
            };
            let read = habits.reads(place, shown);
            values.push(one.understood(&one.typed(read)).ok()?);
        }
        rows.push(asked_s, said_s, &values, &own, &hold, &course);
    }
    let (first_s, last_s) = (*rows.time_s.first()?, *rows.time_s.last()?);
    let last_s = last_s.min(until_s);
    let ends = course.run(&[first_s, last_s], hold.loaded());
    let truth = ends.truth(first_s, last_s)?;
    let recording = rows.recording(&hold, &own);
    Some(ReadHold {
        truth,
        division_bar,
        setup,
        recording,
        hold,
    })
}

/// Time for the last look, s.
const LAST_LOOK_S: f64 = 60.0;

/// What the dial shows first, m.
const DIAL_M: f64 = 15e-3;

fn rod_out_m(hold: &Hold, course: &Course) -> f64 {
    course.run(&[hold.settle_s], hold.loaded()).instants[0].x_m
}

/// The thermometer's course.
struct Felt(Vec<f64>);

impl Felt {
    fn of(hold: &Hold, course: &Course) -> Self {
        let n = ((hold.settle_s + hold.hold_s) * STEPS_PER_S) as u32;
        let times: Vec<f64> = (0..=n).map(|i| f64::from(i) / STEPS_PER_S).collect();
        let run = course.run(&times, hold.loaded());
        Self(hold.senses.felt_k(&run.instants, 1.0 / STEPS_PER_S))
    }

    fn at(&self, time_s: f64) -> f64 {
        let step = (time_s * STEPS_PER_S) as usize;
        self.0[step.min(self.0.len() - 1)]
    }
}

/// Instruments as a shop may have them, and the gauge's division in bar.
fn instruments(hold: &Hold, course: &Course, chance: &mut Chance) -> (String, f64) {
    let start = course.run(&[hold.settle_s], hold.loaded()).instants[0];
    let highest = start.p_cap_pa.max(start.p_rod_pa) / 1e5;
    let span = [100.0, 160.0, 250.0, 400.0, 600.0]
        .into_iter()
        .find(|span| 0.8 * span > highest)
        .unwrap_or(1000.0);
    let class = chance.one_of(&[0.6, 1.0, 1.6]);
    // Fine scales have two hundred and fifty divisions, plain ones fifty.
    let division = span / chance.one_of(&[250.0, 125.0, 50.0]);
    let thermometer = chance.one_of(&[0.2, 0.5, 1.0]);
    let mut text = String::new();
    for role in ["p_cap", "p_rod"] {
        let _ = write!(
            text,
            "[by_eye.{role}]\nrange = [\"0 bar\", \"{span} bar\"]\ndivision = \"{division} bar\"\nclass = {class:?}\n\
             certificate = \"C\"\n"
        );
    }
    let _ = write!(
        text,
        "[by_eye.t_oil]\nrange = [\"0 °C\", \"120 °C\"]\ndivision = \"{thermometer} °C\"\nerror = \"1 °C\"\n\
         certificate = \"C\"\n\
         [by_eye.x]\nrange = [\"0 mm\", \"30 mm\"]\ndivision = \"0.01 mm\"\nerror = \"0.03 mm\"\ncounts_up = \"rod_in\"\n\
         certificate = \"C\"\n"
    );
    (text, division)
}

/// The hold's setup with instruments in the place of sensors.
fn by_eye(hold: &Hold, course: &Course, tables: &str) -> String {
    let sensors = hold
        .setup_toml
        .find("[sensors")
        .unwrap_or(hold.setup_toml.len());
    // Somebody aims with a rule.
    let out_mm = (rod_out_m(hold, course) * 1e3).round();
    let before =
        hold.setup_toml[..sensors].replace("[hold]\n", &format!("[hold]\nat = \"{out_mm} mm\"\n"));
    format!("{before}{tables}")
}

#[derive(Default)]
struct Rows {
    time_s: Vec<f64>,
    codes: Vec<Vec<i32>>,
    entries: Vec<Entry>,
    first_dial_m: Option<f64>,
}

impl Rows {
    fn push(
        &mut self,
        asked_s: f64,
        said_s: f64,
        values: &[f64],
        own: &[EyeInstrument],
        hold: &Hold,
        course: &Course,
    ) {
        let stood_m = (rod_out_m(hold, course) * 1e3).round() / 1e3;
        let row = own.iter().zip(values).map(|(one, value)| match one.role {
            Role::Position => {
                let first = *self.first_dial_m.get_or_insert(*value);
                one.code(Some(stood_m - (value - first)))
            }
            _ => one.code(Some(*value)),
        });
        self.codes.push(row.collect());
        self.time_s.push(0.5 * (asked_s + said_s));
        self.entries.push(Entry {
            at_s: asked_s,
            step: String::new(),
            kind: EntryKind::Look,
            text: String::new(),
        });
    }

    fn recording(self, hold: &Hold, own: &[EyeInstrument]) -> Recording {
        let tracks = own.iter().enumerate().map(|(place, one)| Track {
            channel: one.channel(),
            codes: Codes::Raw(self.codes.iter().map(|row| row[place]).collect()),
        });
        let until_s = self.time_s.last().copied().unwrap_or_default();
        let phase = |name: &str, from_s, until_s| PhaseMark {
            name: name.into(),
            from_s,
            until_s,
        };
        Recording::new(Parts {
            heading: Heading {
                run_id: format!("read-{}", hold.index),
                started_utc_ms: 0,
                time_zone: "UTC".into(),
                software: String::new(),
                source: "read by eye".into(),
                setup_toml: hold.setup_toml.clone(),
                shop_toml: String::new(),
                practice: "campaign".into(),
            },
            tracks: tracks.collect(),
            gaps: Vec::new(),
            phases: vec![
                phase(SETTLE, 0.0, hold.settle_s),
                phase(HOLD, hold.settle_s, until_s),
            ],
            entries: self.entries,
            loss: Loss::default(),
            ending: Ending::Complete,
            time_s: self.time_s,
        })
        .expect("rows rise in time")
    }
}

/// The side that carries, for the table.
pub fn side(hold: &Hold) -> &'static str {
    match hold.loaded() {
        Chamber::Cap => "cap",
        Chamber::Rod => "rod",
    }
}
