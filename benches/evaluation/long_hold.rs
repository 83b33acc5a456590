//! A long hold of the practice bench as a recording, and the same with fewer rows.

use stillrod::channel::Channel;
use stillrod::channel::Role;
use stillrod::channel::SensorInfo;
use stillrod::channel::from_board;
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
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::channel_table;
use stillrod::rehearsal::scenario;
use stillrod::settings::Setup;

/// Counted hold, s.
const HOLD_S: f64 = 1800.0;

/// A hold with its setup.
pub struct LongHold {
    /// What is on the bench.
    pub setup: Setup,
    /// What was recorded: both pressures, position, oil and wall temperature.
    pub recording: Recording,
}

/// Plays a tight cylinder.
pub fn played(samples_per_s: u32) -> LongHold {
    let scenario = Scenario {
        hold_s: HOLD_S,
        samples_per_s,
        limits: Vec::new(),
        ..scenario("tight-rebuild").unwrap()
    };
    let setup_toml = scenario.setup_toml();
    let setup = Setup::parse("setup.toml", &setup_toml, None).unwrap();
    let sensors: Vec<SensorInfo> = setup
        .sensors
        .iter()
        .map(|sensor| SensorInfo {
            role: sensor.role,
            board_channel: sensor.board_channel.unwrap(),
            errors: sensor.errors,
            papers: sensor.papers.clone(),
            motion_ratio: sensor.motion_ratio,
            signal: sensor.signal,
            is_against_supply: sensor.is_against_supply,
            curve: sensor.calibration.as_ref().map(|c| c.curve.clone()),
        })
        .collect();
    let channels = from_board(&channel_table(&scenario.senses), &sensors).unwrap();
    let played = scenario.rehearse().unwrap();
    let mut tracks: Vec<Track> = channels
        .into_iter()
        .zip(&sensors)
        .map(|(channel, sensor)| {
            let place = usize::from(sensor.board_channel);
            let codes = played.codes.iter().map(|row| row[place]).collect();
            Track {
                channel,
                codes: Codes::Raw(codes),
            }
        })
        .collect();
    let oil = tracks
        .iter()
        .find(|track| track.channel.role == Role::OilTemperature);
    // The practice board has no wall sensor; it is given one like that of the oil.
    let wall = Channel {
        role: Role::WallTemperature,
        label: "T wall".into(),
        ..oil.unwrap().channel.clone()
    };
    let line = wall.calibration;
    let code = |k: f64| ((k - line.si_at_zero_code) / line.si_per_code).round() as i32;
    let codes = played.run.instants.iter().map(|now| code(now.wall_cap_k));
    tracks.push(Track {
        channel: wall,
        codes: Codes::Raw(codes.collect()),
    });
    let until_s = scenario.settle_s + HOLD_S;
    let parts = Parts {
        heading: heading(setup_toml),
        time_s: played.run.instants.iter().map(|now| now.time_s).collect(),
        tracks,
        gaps: Vec::new(),
        phases: vec![
            phase(SETTLE, 0.0, scenario.settle_s),
            phase(HOLD, scenario.settle_s, until_s),
        ],
        entries: Vec::new(),
        loss: Loss::default(),
        ending: Ending::Complete,
    };
    LongHold {
        setup,
        recording: Recording::new(parts).unwrap(),
    }
}

/// The same recording with one row left of `by`.
pub fn thinned(recording: &Recording, by: usize) -> Recording {
    let track = |track: &Track| Track {
        channel: track.channel.clone(),
        codes: match &track.codes {
            Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
                Codes::Raw(codes.iter().step_by(by).copied().collect())
            }
            Codes::Si(values) => Codes::Si(values.iter().step_by(by).copied().collect()),
        },
    };
    Recording::new(Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().iter().step_by(by).copied().collect(),
        tracks: recording.tracks().iter().map(track).collect(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: Vec::new(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    })
    .unwrap()
}

fn phase(name: &str, from_s: f64, until_s: f64) -> PhaseMark {
    PhaseMark {
        name: name.into(),
        from_s,
        until_s,
    }
}

fn heading(setup_toml: String) -> Heading {
    Heading {
        run_id: "long-hold-1".into(),
        started_utc_ms: 1_767_225_600_000,
        time_zone: "UTC".into(),
        software: env!("CARGO_PKG_VERSION").into(),
        source: "practice bench".into(),
        setup_toml,
        shop_toml: String::new(),
        practice: "practice bench: not a measurement of a real cylinder".into(),
    }
}
