//! A position sensor that slips on its bracket during a hold: no flow is stated.
//!
//! Source of the case: practice (a clamp gives way by some hundredths of a millimetre); the sizes
//! are own choice, too small to be seen on a screen.

use stillrod::account::Doubt;
use stillrod::account::Evaluation;
use stillrod::account::FigureName;
use stillrod::account::evaluate;
use stillrod::channel::Role;
use stillrod::procedure::HOLD;
use stillrod::recording::Codes;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::rehearsal::SHOP_FILE_NAME;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::scenario;
use stillrod::settings::Setup;
use stillrod::settings::Shop;

#[path = "support/play.rs"]
mod play;

/// The same recording with its position off by `slip_m` from `after_s` into the hold on.
fn slipped(recording: &Recording, slip_m: f64, after_s: f64) -> Recording {
    let from_s = recording.phase(HOLD).expect("a hold").from_s + after_s;
    let mut tracks = recording.tracks().to_vec();
    let position = tracks
        .iter_mut()
        .find(|track| track.channel.role == Role::Position)
        .expect("a position");
    let by = (slip_m / position.channel.calibration.si_per_code).round() as i32;
    let Codes::Raw(codes) = &mut position.codes else {
        panic!("a board sends codes")
    };
    for (code, time_s) in codes.iter_mut().zip(recording.time_s()) {
        *code += if *time_s >= from_s { by } else { 0 };
    }
    Recording::new(Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().to_vec(),
        tracks,
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: Vec::new(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    })
    .expect("as whole as it was")
}

#[test]
fn a_slip_of_some_hundredths_gives_no_flow_and_says_when_it_was() {
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).expect("a shop file");
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let setup = Setup::parse("setup", &scenario.setup_toml(), Some(&shop)).expect("a setup");
    let whole = play::recording(&scenario);
    let evaluated = |recording: &Recording| evaluate(recording, &setup.subject).expect("a hold");
    let misfit = |evaluation: &Evaluation| {
        evaluation.doubts.iter().find_map(|doubt| match doubt {
            Doubt::NoFit { evidence } => Some(evidence.clone()),
            Doubt::Note { .. } => None,
        })
    };
    let sound = evaluated(&whole);
    assert_eq!(misfit(&sound), None);
    assert!(sound.figure(FigureName::CapLoss).is_some());
    for slip_m in [-30e-6, 30e-6, -60e-6, 60e-6] {
        let found = evaluated(&slipped(&whole, slip_m, 200.0));
        let evidence = misfit(&found).expect("a jump");
        println!("{evidence}");
        assert!(evidence.contains("jumps about"), "{evidence}");
        let says_when = [" 18", " 19", " 20", " 21"]
            .iter()
            .any(|s| evidence.contains(s));
        assert!(says_when, "{evidence}");
        assert!(found.figure(FigureName::CapLoss).is_none());
    }
}
