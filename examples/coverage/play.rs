//! A drawn hold played: what is true of it, and the recording its sensors make.
//!
//! Raw codes and channels are those of the practice board; only bytes and line are left
//! out. The account sees the recording and the setup, nothing else.

use super::draw::Hold;
use super::draw::hold;
use stillrod::channel::SensorInfo;
use stillrod::channel::from_board;
use stillrod::cylinder::Chamber;
use stillrod::fit::line;
use stillrod::procedure::HOLD;
use stillrod::procedure::SETTLE;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Heading;
use stillrod::recording::Loss;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::rehearsal::channel_table;
use stillrod::rehearsal::physics::Course;
use stillrod::rehearsal::physics::Instant;
use stillrod::rehearsal::physics::Run;
use stillrod::rehearsal::physics::Truth;
use stillrod::settings::Setup;

/// A hold with its truth and its recording.
pub struct Played {
    /// What was drawn.
    pub hold: Hold,
    /// What is true of it.
    pub truth: Truth,
    /// The cylinder at the start and at the end of the hold.
    pub ends: [Instant; 2],
    /// Slope of a line through the true pressure of the load-holding chamber, Pa/s,
    /// positive when it falls.
    pub leak_down_line_pa_per_s: f64,
    /// Movement between the middles of the first and the last fortieth, m/s.
    pub drift_inside_m_per_s: f64,
    /// The setup as read.
    pub setup: Setup,
    /// What was recorded.
    pub recording: Recording,
}

/// Plays hold `index` of a campaign.
pub fn play(seed: u64, index: u64) -> Played {
    let (hold, course) = hold(seed, index);
    played(hold, &course)
}

/// Plays a hold of which it is known what becomes of its cylinder.
pub fn played(hold: Hold, course: &Course) -> Played {
    let until_s = hold.settle_s + hold.hold_s;
    let ends = course.run(&[hold.settle_s, until_s], hold.loaded());
    let truth = ends
        .truth(hold.settle_s, until_s)
        .expect("both ends were asked for");
    let setup = Setup::parse("setup.toml", &hold.setup_toml, None).expect("a setup of our own");
    let run = sampled(&hold, course);
    let codes = hold.senses.read(
        &run.instants,
        1.0 / f64::from(hold.samples_per_s),
        hold.seed,
    );
    Played {
        leak_down_line_pa_per_s: leak_down_line(&hold, &run),
        drift_inside_m_per_s: drift_inside(&hold, course),
        recording: recording(&hold, &setup, &run, &codes),
        ends: [ends.instants[0], ends.instants[1]],
        truth,
        setup,
        hold,
    }
}

fn sampled(hold: &Hold, course: &Course) -> Run {
    let rate = f64::from(hold.samples_per_s);
    let n_samples = ((hold.settle_s + hold.hold_s) * rate).round() as u32;
    let times_s: Vec<f64> = (0..=n_samples).map(|i| f64::from(i) / rate).collect();
    course.run(&times_s, hold.loaded())
}

/// Slope of a line through the whole hold, as the figure is read.
fn leak_down_line(hold: &Hold, run: &Run) -> f64 {
    let counted = run
        .instants
        .iter()
        .filter(|now| now.time_s >= hold.settle_s);
    let (t, p): (Vec<f64>, Vec<f64>) = counted
        .map(|now| {
            let p_pa = match hold.loaded() {
                Chamber::Cap => now.p_cap_pa,
                Chamber::Rod => now.p_rod_pa,
            };
            (now.time_s - hold.settle_s, p_pa)
        })
        .unzip();
    -line(&t, &p).expect("a hold of many samples").slope
}

fn drift_inside(hold: &Hold, course: &Course) -> f64 {
    let aside_s = hold.hold_s / 80.0;
    let times = [
        hold.settle_s + aside_s,
        hold.settle_s + hold.hold_s - aside_s,
    ];
    let [first, last] = course.run(&times, hold.loaded()).instants[..] else {
        unreachable!("two times were asked for")
    };
    (last.x_m - first.x_m) / (times[1] - times[0])
}

fn recording(hold: &Hold, setup: &Setup, run: &Run, codes: &[[i32; 4]]) -> Recording {
    let sensors: Vec<SensorInfo> = setup
        .sensors
        .iter()
        .map(|sensor| SensorInfo {
            role: sensor.role,
            board_channel: sensor.board_channel.expect("our setups name a channel"),
            errors: sensor.errors,
            papers: sensor.papers.clone(),
            motion_ratio: sensor.motion_ratio,
            signal: sensor.signal,
            is_against_supply: sensor.is_against_supply,
            curve: sensor.calibration.as_ref().map(|c| c.curve.clone()),
        })
        .collect();
    let channels = from_board(&channel_table(&hold.senses), &sensors).expect("they fit our board");
    let tracks = channels.into_iter().zip(&sensors).map(|(channel, sensor)| {
        let place = usize::from(sensor.board_channel);
        Track {
            channel,
            codes: Codes::Raw(codes.iter().map(|row| row[place]).collect()),
        }
    });
    let until_s = hold.settle_s + hold.hold_s;
    let mut phases = vec![phase(HOLD, hold.settle_s, until_s)];
    if hold.settle_s > 0.0 {
        phases.insert(0, phase(SETTLE, 0.0, hold.settle_s));
    }
    let parts = Parts {
        heading: Heading {
            run_id: format!("hold-{}", hold.index),
            started_utc_ms: 1_767_225_600_000,
            time_zone: "UTC".into(),
            software: env!("CARGO_PKG_VERSION").into(),
            source: "practice bench".into(),
            setup_toml: hold.setup_toml.clone(),
            shop_toml: String::new(),
            practice: "practice bench: not a measurement of a real cylinder".into(),
        },
        time_s: run.instants.iter().map(|now| now.time_s).collect(),
        tracks: tracks.collect(),
        gaps: Vec::new(),
        phases,
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    };
    Recording::new(parts).expect("rows of our own rise in time")
}

fn phase(name: &str, from_s: f64, until_s: f64) -> PhaseMark {
    PhaseMark {
        name: name.into(),
        from_s,
        until_s,
    }
}
