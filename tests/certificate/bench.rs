//! What stood on the bench of the invented test, and what was recorded of it.
//!
//! Every number here is invented for the test of the paper; none was measured.

use stillrod::account::Fluid;
use stillrod::account::Subject;
use stillrod::channel::Calibration;
use stillrod::channel::Channel;
use stillrod::channel::Role;
use stillrod::channel::SensorErrors;
use stillrod::channel::SensorPapers;
use stillrod::circuit::Circuit;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Cylinder;
use stillrod::cylinder::Dimensions;
use stillrod::cylinder::Kind;
use stillrod::cylinder::Piece;
use stillrod::oil::Oil;
use stillrod::quantity::Expansion;
use stillrod::quantity::Force;
use stillrod::quantity::Length;
use stillrod::quantity::Pressure;
use stillrod::quantity::Viscosity;
use stillrod::quantity::Volume;
use stillrod::quantity::unit;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Gap;
use stillrod::recording::GapCause;
use stillrod::recording::Heading;
use stillrod::recording::Loss;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::recording::Track;

/// Settling, s.
pub const SETTLE_S: f64 = 60.0;
/// Counted hold, s.
pub const HOLD_S: f64 = 300.0;

/// The piece with its oil and its plumbing.
pub fn subject() -> Subject {
    let mm = Length::new::<unit::millimeter>;
    let ml = Volume::new::<unit::milliliter>;
    let cylinder = Cylinder::new(
        Kind::DoubleActing,
        Dimensions {
            bore: mm(63.0),
            rod: mm(36.0),
            stroke: mm(400.0),
            wall: Some(mm(5.0)),
            cap_dead_volume: ml(20.0),
            rod_dead_volume: ml(20.0),
        },
    )
    .expect("a cylinder");
    let oil = Oil::new(
        "ISO VG 46".into(),
        Viscosity::from_mm2_per_s(46.0),
        Viscosity::from_mm2_per_s(6.8),
        Expansion::from_per_kelvin(7e-4),
        Pressure::new::<unit::gigapascal>(1.6),
    )
    .expect("an oil");
    Subject {
        piece: Piece::Cylinder(cylinder),
        fluid: Fluid::Oil(oil),
        circuit: Circuit {
            probe: Some(Chamber::Cap),
            ..Circuit::plain(
                Port::Blocked,
                Port::Blocked,
                RodHold::PushedIn {
                    load: Some(Force::new::<unit::kilonewton>(30.0)),
                },
            )
        },
        stated: stillrod::account::Stated::default(),
        by_eye: None,
    }
}

/// An even spread without a random source: fractions of the golden ratio.
pub fn noise(index: usize) -> f64 {
    (index as f64 * 0.618_033_988_749_895).fract() - 0.5
}

fn channel(role: Role, label: &str, serial: &str, step: f64, range_si: (f64, f64)) -> Channel {
    let (zero_si, span_relative) = match role {
        Role::CapPressure | Role::RodPressure => (0.05e5, 1e-3),
        Role::Position => (0.5e-3, 5e-4),
        Role::OilTemperature | Role::WallTemperature => (0.3, 0.0),
        Role::Supply => (0.002, 0.0),
    };
    Channel {
        role,
        label: label.into(),
        calibration: Calibration {
            si_at_zero_code: range_si.0,
            si_per_code: step,
            si_per_code_squared: 0.0,
        },
        good_codes: (0, i32::MAX),
        range_si,
        errors: SensorErrors {
            zero_si,
            span_relative,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers {
            serial: serial.into(),
            certificate: if serial.is_empty() {
                String::new()
            } else {
                format!("TV-CAL-2026-0{}", &serial[2..])
            },
            due: if serial.is_empty() {
                String::new()
            } else {
                "2027-03-31".into()
            },
            by: None,
        },
        against_supply: None,
    }
}

fn track(channel: Channel, time_s: &[f64], value: impl Fn(f64, usize) -> f64) -> Track {
    let calibration = channel.calibration;
    let codes = time_s
        .iter()
        .enumerate()
        .map(|(index, t)| {
            let si = value(*t, index);
            if si.is_finite() {
                ((si - calibration.si_at_zero_code) / calibration.si_per_code).round() as i32
            } else {
                -1
            }
        })
        .collect();
    Track {
        channel,
        codes: Codes::Raw(codes),
    }
}

fn tracks(time_s: &[f64], is_broken: bool) -> Vec<Track> {
    let bar = 1e5;
    let fading = |t: f64| (-t / 70.0).exp();
    let p_cap =
        |t: f64, i: usize| (160.0 - 0.004 * (t - 60.0) + 3.0 * fading(t) + 0.06 * noise(i)) * bar;
    let p_rod = |t: f64, i: usize| {
        (94.6 + 0.012 * (t - 60.0) + 2.0 * fading(t) + 0.06 * noise(i + 7)) * bar
    };
    let x = |t: f64, i: usize| {
        if is_broken && (290.0..302.0).contains(&t) {
            return f64::NAN;
        }
        0.212 - 2.1e-5 / 60.0 * (t - 60.0) + 1.5e-5 * noise(i + 3)
    };
    let t_oil = |t: f64, i: usize| 273.15 + 45.6 + 1.4 * fading(t) + 0.02 * noise(i + 5);
    let t_wall = |t: f64, i: usize| 273.15 + 43.8 + 0.9 * fading(t) + 0.02 * noise(i + 11);
    let pressure = (0.0, 250e5);
    let kelvin = (273.15, 373.15);
    let of = |role, label, serial, step, range| channel(role, label, serial, step, range);
    vec![
        track(
            of(Role::CapPressure, "A1", "P-11", 1e3, pressure),
            time_s,
            p_cap,
        ),
        track(
            of(Role::RodPressure, "A2", "P-12", 1e3, pressure),
            time_s,
            p_rod,
        ),
        track(
            of(Role::Position, "A3", "X-04", 1e-6, (0.0, 0.4)),
            time_s,
            x,
        ),
        track(
            of(Role::OilTemperature, "A4", "T-07", 0.01, kelvin),
            time_s,
            t_oil,
        ),
        track(
            of(Role::WallTemperature, "A5", "", 0.01, kelvin),
            time_s,
            t_wall,
        ),
    ]
}

/// The recording; broken, its position is missing for 12 s.
pub fn recording(practice: &str, is_broken: bool) -> Recording {
    let n_rows = ((SETTLE_S + HOLD_S) * 10.0) as usize + 1;
    // A stretch of 14 s was lost on the way.
    let time_s: Vec<f64> = (0..n_rows)
        .map(|i| i as f64 * 0.1)
        .filter(|t| !(205.0..219.0).contains(t))
        .collect();
    let tracks = tracks(&time_s, is_broken);
    let mark = |name: &str, from_s, until_s| PhaseMark {
        name: name.into(),
        from_s,
        until_s,
    };
    Recording::new(Parts {
        heading: Heading {
            run_id: "tv-0312-20260314-0805".into(),
            // 2026-03-14 08:05:00 UTC by `date -u`.
            started_utc_ms: 1_773_475_500_000,
            time_zone: "Europe/London".into(),
            software: "stillrod 0.1.0".into(),
            source: "bench board 3, firmware 1.2".into(),
            setup_toml: String::new(),
            shop_toml: String::new(),
            practice: practice.into(),
        },
        time_s,
        tracks,
        gaps: vec![Gap {
            from_s: 204.9,
            until_s: 219.0,
            cause: GapCause::Lost,
        }],
        phases: vec![
            mark("settle", 0.0, SETTLE_S),
            mark("hold", SETTLE_S, SETTLE_S + HOLD_S),
        ],
        entries: Vec::new(),
        loss: Loss {
            n_samples_lost: 140,
            ..Loss::default()
        },
        ending: Ending::Complete,
    })
    .expect("a recording")
}
