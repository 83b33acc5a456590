//! Readings that void a hold, and those that do not.

use super::*;
use crate::channel::EyeUnit;
use crate::channel::SensorPapers;
use crate::circuit::Port;
use crate::cylinder::RigidChamber;
use crate::health::Weight;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Track;

fn gauge(certificate: &str) -> EyeInstrument {
    EyeInstrument {
        role: Role::CapPressure,
        unit: EyeUnit {
            name: "bar",
            si_per_unit: 1e5,
            si_at_zero: 0.0,
        },
        range_si: (0.0, 250e5),
        division_si: 1e5,
        error_si: 2.5e5,
        class: Some(1.0),
        counts_up: None,
        papers: SensorPapers {
            certificate: certificate.into(),
            ..SensorPapers::default()
        },
    }
}

/// Flags of a hold of 10 min with readings in bar by minutes; the look at `late_min` took 50 s.
fn flags(read: &[(f64, f64)], certificate: &str, late_min: Option<f64>) -> Vec<Flag> {
    let own = gauge(certificate);
    let entry = |kind, at_s| Entry {
        at_s,
        step: String::new(),
        kind,
        text: String::new(),
    };
    let looks = read.iter().map(|(minute, _)| {
        let took_s = if late_min == Some(*minute) {
            50.0
        } else {
            10.0
        };
        entry(EntryKind::Look, 60.0 * minute + 10.0 - 0.5 * took_s)
    });
    let recording = Recording::new(Parts {
        heading: Heading {
            run_id: "r".into(),
            started_utc_ms: 0,
            time_zone: "UTC".into(),
            software: String::new(),
            source: String::new(),
            setup_toml: String::new(),
            shop_toml: String::new(),
            practice: String::new(),
        },
        time_s: read
            .iter()
            .map(|(minute, _)| 60.0 * minute + 10.0)
            .collect(),
        tracks: vec![Track {
            codes: Codes::Raw(
                read.iter()
                    .map(|(_, bar)| own.code(Some(bar * 1e5)))
                    .collect(),
            ),
            channel: own.channel(),
        }],
        gaps: Vec::new(),
        phases: vec![PhaseMark {
            name: HOLD.into(),
            from_s: 0.0,
            until_s: 610.0,
        }],
        entries: looks.chain([entry(EntryKind::Missed, 200.0)]).collect(),
        loss: Loss::default(),
        ending: Ending::Complete,
    })
    .expect("rises");
    let by_eye = ByEye {
        instruments: vec![own],
        rod_out_m: None,
    };
    let piece = Piece::Chamber(RigidChamber { volume: None });
    let circuit = Circuit::plain(Port::Blocked, Port::Blocked, RodHold::Locked);
    examine_by_eye(&recording, &by_eye, (&piece, &circuit), &Ratings::default())
}

const SOUND: [(f64, f64); 7] = [
    (0.0, 160.0),
    (1.0, 158.5),
    (2.0, 157.5),
    (3.0, 156.5),
    (5.0, 155.0),
    (7.0, 154.0),
    (10.0, 153.0),
];

fn voids(flags: &[Flag]) -> Vec<&str> {
    let heavy = flags.iter().filter(|f| f.weight == Weight::Voids);
    heavy.map(|f| f.evidence.as_str()).collect()
}

fn remarks(flags: &[Flag]) -> String {
    let light = flags.iter().filter(|f| f.weight == Weight::Remark);
    light
        .map(|f| f.evidence.as_str())
        .collect::<Vec<_>>()
        .join("; ")
}

#[test]
fn a_sound_hold_is_remarked_on_and_not_voided() {
    let found = flags(&SOUND, "C-1", None);
    assert_eq!(voids(&found), Vec::<&str>::new());
    assert_eq!(remarks(&found), "1 reading was missed during the hold");
    let found = flags(&SOUND, "", Some(3.0));
    assert!(remarks(&found).contains("has no calibration certificate"));
    assert!(remarks(&found).contains("took 50 s"), "{}", remarks(&found));
}

#[test]
fn a_mistyped_reading_voids_the_hold() {
    let mut read = SOUND;
    read[3].1 = 165.5;
    let found = flags(&read, "C-1", None);
    assert!(voids(&found)[0].contains("165.5 bar"), "{found:?}");
    // A course that bends does not.
    let bent: Vec<(f64, f64)> = SOUND
        .iter()
        .map(|(m, _)| (*m, 140.0 + 20.0 * (-m / 2.0).exp()))
        .collect();
    assert_eq!(voids(&flags(&bent, "C-1", None)), Vec::<&str>::new());
}

#[test]
fn a_pressure_that_went_faster_than_it_was_read_voids_the_hold() {
    let course = |bar: f64| -> Vec<(f64, f64)> {
        let at = |(minute, _): &(f64, f64)| (*minute, 140.0 + bar * (-minute).exp());
        SOUND.iter().map(at).collect()
    };
    // All but 1/e of it goes in the first minute.
    let found = flags(&course(20.0), "C-1", None);
    assert!(
        voids(&found)[0].contains("faster than it was read"),
        "{found:?}"
    );
    // A division of the gauge is no course.
    assert_eq!(voids(&flags(&course(1.0), "C-1", None)), Vec::<&str>::new());
}

#[test]
fn a_hold_without_its_ends_or_at_the_end_of_the_scale_is_void() {
    let found = flags(&SOUND[..6], "C-1", None);
    assert!(
        voids(&found)[0].contains("start or at the end"),
        "{found:?}"
    );
    let high: Vec<(f64, f64)> = SOUND.iter().map(|(m, _)| (*m, 250.0)).collect();
    assert!(voids(&flags(&high, "C-1", None))[0].contains("end of its scale"));
}
