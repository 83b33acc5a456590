//! Where in the stroke a cylinder was tested, and what a supply would do to it, as practice
//! knows it.
//!
//! Each case goes the whole way: settings, recording, account, verdict.

mod support {
    pub mod cases;
    pub mod made;
}

use stillrod::account::FigureName;
use stillrod::daemon::judgement::Judgement;
use stillrod::health::Weight;
use stillrod::procedure::hazards;
use stillrod::settings::Setup;
use stillrod::verdict::Outcome;
use support::cases::Case;
use support::cases::evaluation;
use support::cases::figure;
use support::cases::of;

/// Area of 100 mm, m².
const AREA: f64 = 7.854e-3;
const ML_MIN: f64 = 1e-6 / 60.0;

fn at(x_mm: f64, ml_min: f64) -> Judgement {
    let case = Case {
        circuit: "cap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"pushed_in\"\nprobe = \"cap\"",
        dead_ml: 20.0,
        limits: &[("cap_loss", "0.40 mL/min")],
    };
    let speed_mm_s = ml_min * ML_MIN / AREA * 1e3;
    case.judge(900.0, |t| [120.0, 0.0, x_mm - speed_mm_s * t, 40.0])
}

/// Practice: a test near the end of the stroke passes although the tube is scored in the
/// middle: 0.02 mL/min at 490 mm, 0.60 at 250 mm, limit 0.40. Each result is of its place.
#[test]
fn a_tube_that_is_scored_in_the_middle_fails_there_and_passes_near_its_end() {
    for (x_mm, ml_min, outcome) in [(490.0, 0.02, Outcome::Pass), (250.0, 0.60, Outcome::Fail)] {
        let judgement = at(x_mm, ml_min);
        let loss = figure(&judgement, FigureName::CapLoss);
        let judged = of(&judgement, "cap_loss");
        println!("{x_mm} mm: {}", judged.reason);
        assert_eq!(judged.outcome, outcome, "{judged:?}");
        let truth = ml_min * ML_MIN;
        assert!(loss.lower_si < truth && truth < loss.upper_si, "{loss:?}");
        let x = loss.at.x_m.expect("position");
        assert!((x * 1e3 - x_mm).abs() < 0.1, "{x}");
    }
}

/// Practice: fully in, the piston stands on its seat and hides its leak: 0.0 mm, 210 bar,
/// nothing moves. Free or on a stop, that is no measurement, and no pass.
#[test]
fn a_piston_on_its_seat_is_not_valid_whatever_it_shows() {
    for rod in ["pushed_in", "bottomed", "locked"] {
        let circuit =
            format!("cap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"{rod}\"");
        let case = Case {
            circuit: &circuit,
            dead_ml: 200.0,
            limits: &[("cap_loss", "0.40 mL/min"), ("leak_down", "1 bar/min")],
        };
        let judgement = case.judge(900.0, |_| [210.0, 0.0, 0.0, 40.0]);
        assert_eq!(judgement.verdict.outcome, Outcome::NotValid, "{rod}");
        let seat = judgement
            .flags
            .iter()
            .any(|f| f.weight == Weight::Voids && f.evidence.contains("seat"));
        assert!(seat, "{rod}: {:?}", judgement.flags);
        let _ = evaluation(&judgement);
    }
}

/// Practice: 3000 psi on the cap end with the rod port shut become 6000 psi at 2:1. 100/70 at
/// 210 bar would be 411.8 bar (ratio of areas); 250 bar is what it is rated for.
#[test]
fn a_supply_that_the_other_end_would_multiply_is_refused_with_what_is_allowed() {
    let case = Case {
        circuit: "cap_port = \"supplied\"\nrod_port = \"blocked\"\nsupply = \"210 bar\"\nrod = \"pulled_out\"",
        dead_ml: 20.0,
        limits: &[],
    };
    let rated = |bar: f64| {
        let text = case.setup_toml();
        let text = text.replace("rod = \"56 mm\"", "rod = \"70 mm\"");
        let text = text.replace(
            "rod_dead_volume = \"20 mL\"\n",
            &format!("rod_dead_volume = \"20 mL\"\ncap_rating = \"{bar} bar\"\nrod_rating = \"{bar} bar\"\n"),
        );
        let setup = Setup::parse("setup.toml", &text, None).expect("a setup");
        hazards(&setup.subject.piece, &setup.subject.circuit, &setup.ratings)
    };
    let reasons = rated(250.0);
    assert!(
        reasons.iter().any(|r| r.contains("rod end to 412 bar")),
        "{reasons:?}"
    );
    assert_eq!(rated(500.0), Vec::<String>::new());
}
