//! A side that a supply keeps up, and a piston on its seat: nothing may pass there.
//!
//! The recordings are steady courses, the way a bench with a running pump shows them.

mod support {
    pub mod made;
}

use stillrod::account::Evaluation;
use stillrod::account::FigureName;
use stillrod::account::Fluid;
use stillrod::account::Stated;
use stillrod::account::Subject;
use stillrod::account::evaluate;
use stillrod::channel::Role;
use stillrod::circuit::Circuit;
use stillrod::circuit::Port;
use stillrod::circuit::RodHold;
use stillrod::cylinder::Cylinder;
use stillrod::cylinder::Dimensions;
use stillrod::cylinder::Kind;
use stillrod::cylinder::Piece;
use stillrod::cylinder::Ratings;
use stillrod::health::Flag;
use stillrod::health::Weight;
use stillrod::health::examine;
use stillrod::oil::Oil;
use stillrod::quantity::Expansion;
use stillrod::quantity::Length;
use stillrod::quantity::Pressure;
use stillrod::quantity::Viscosity;
use stillrod::quantity::Volume;
use stillrod::quantity::unit::gigapascal;
use stillrod::quantity::unit::milliliter;
use stillrod::quantity::unit::millimeter;
use stillrod::recording::Recording;
use support::made;
use support::made::track;

/// A minute at 10 Hz: cap and rod pressure in bar, extension in mm, each by time in s.
fn recording(course: impl Fn(f64) -> [f64; 3]) -> Recording {
    let time_s: Vec<f64> = (0..=600).map(|i| f64::from(i) * 0.1).collect();
    // A little that is even and not smooth, so that no reading stands still.
    let ripple = |i: usize| (i as f64 * 0.618_034).fract() - 0.5;
    let one = |role: Role, index: usize, si: f64, noise_si: f64, zero_si: f64| {
        let readings = time_s
            .iter()
            .enumerate()
            .map(|(i, t)| course(*t)[index] * si + noise_si * ripple(i));
        track(role, noise_si / 10.0, (zero_si, 1e-3), readings.collect())
    };
    let tracks = vec![
        one(Role::CapPressure, 0, 1e5, 500.0, 2e3),
        one(Role::RodPressure, 1, 1e5, 500.0, 2e3),
        one(Role::Position, 2, 1e-3, 1e-6, 1e-4),
    ];
    made::recording(time_s, tracks, 0.0, ["", ""])
}

fn cylinder(kind: Kind) -> Piece {
    let mm = Length::new::<millimeter>;
    let dead = Volume::new::<milliliter>(20.0);
    let size = Dimensions {
        bore: mm(63.0),
        rod: mm(45.0),
        stroke: mm(400.0),
        wall: Some(mm(5.0)),
        cap_dead_volume: dead,
        rod_dead_volume: dead,
    };
    Piece::Cylinder(Cylinder::new(kind, size).expect("fits"))
}

fn evaluated(recording: &Recording, kind: Kind, circuit: Circuit) -> (Evaluation, Vec<Flag>) {
    let oil = Oil::new(
        "VG 46".into(),
        Viscosity::from_mm2_per_s(46.0),
        Viscosity::from_mm2_per_s(6.8),
        Expansion::from_per_kelvin(7e-4),
        Pressure::new::<gigapascal>(1.5),
    )
    .expect("an oil");
    let subject = Subject {
        piece: cylinder(kind),
        fluid: Fluid::Oil(oil),
        circuit,
        stated: Stated::default(),
        by_eye: None,
    };
    let flags = examine(recording, &subject.piece, &circuit, &Ratings::default());
    (evaluate(recording, &subject).expect("evaluates"), flags)
}

fn voided(flags: &[Flag], part: &str) -> bool {
    flags
        .iter()
        .any(|f| f.weight == Weight::Voids && f.evidence.contains(part))
}

const PULLED: RodHold = RodHold::PulledOut { load: None };
const PUSHED: RodHold = RodHold::PushedIn { load: None };

/// A pump on the side that carries: the rod stands and the pressure stands, whatever leaks.
#[test]
fn a_supplied_side_that_holds_gives_no_flow_no_leak_down_and_voids_the_measurement() {
    let steady = recording(|_| [120.0, 20.0, 250.0]);
    let circuit = Circuit::plain(Port::Supplied, Port::Blocked, PUSHED);
    let (evaluation, flags) = evaluated(&steady, Kind::DoubleActing, circuit);
    for name in FigureName::ALL {
        let found = evaluation.figure(name);
        assert_eq!(found.is_some(), name == FigureName::Drift, "{found:?}");
    }
    let reasons = format!("{:?}", evaluation.doubts);
    assert!(reasons.contains("makes up what leaks"), "{reasons}");
    assert!(voided(&flags, "supplied"), "{flags:?}");
    // The same course shut in is a measurement.
    let shut = Circuit::plain(Port::Blocked, Port::Blocked, PUSHED);
    let (evaluation, flags) = evaluated(&steady, Kind::DoubleActing, shut);
    assert!(evaluation.figure(FigureName::LeakDown).is_some());
    assert!(!voided(&flags, "supplied"), "{flags:?}");
}

/// 63/45 with 100 bar kept on the cap end: 204.17 bar on the rod end press 1.042 mL/min
/// back through a seal of 1 mL/min for each 100 bar, and the rod creeps out at 0.682 mm/min
/// (worked example, computed).
#[test]
fn a_rod_that_creeps_out_under_a_supply_shows_what_passes_the_piston() {
    let creeping = recording(|t| [100.0, 204.17, 250.0 + 0.682 * t / 60.0]);
    let circuit = Circuit::plain(Port::Supplied, Port::Blocked, PULLED);
    let (evaluation, flags) = evaluated(&creeping, Kind::DoubleActing, circuit);
    assert!(!voided(&flags, "supplied"), "{flags:?}");
    assert_eq!(evaluation.figure(FigureName::CapLoss), None);
    assert_eq!(evaluation.figure(FigureName::LeakDown), None);
    let gain = evaluation.figure(FigureName::RodGain).expect("shut in");
    let truth = -1.042e-6 / 60.0;
    assert!(gain.lower_si < truth && truth < gain.upper_si, "{gain:?}");
    let drift = evaluation
        .figure(FigureName::Drift)
        .and_then(|f| f.measured);
    assert!((drift.expect("position").value_si * 60e3 - 0.682).abs() < 0.01);
}

/// One stage of a telescopic ram has no piston that could leak, a vented piston has one.
#[test]
fn a_single_sided_cylinder_is_judged_by_the_paths_it_has() {
    let steady = recording(|t| [120.0, 0.0, 250.0 - 0.5 * t / 60.0]);
    let circuit = Circuit::plain(Port::Blocked, Port::OpenToVessel, PUSHED);
    for (kind, has_piston) in [
        (Kind::TelescopicStage, false),
        (Kind::Plunger, false),
        (Kind::SingleActing, true),
    ] {
        let (evaluation, _) = evaluated(&steady, kind, circuit);
        assert!(evaluation.figure(FigureName::CapLoss).is_some(), "{kind:?}");
        assert_eq!(evaluation.figure(FigureName::RodGain), None, "{kind:?}");
        let bypass = evaluation.figure(FigureName::PistonBypass);
        assert_eq!(bypass.is_some(), has_piston, "{kind:?}");
        let gland = evaluation.figure(FigureName::GlandLeakage);
        assert_eq!(gland.is_some(), !has_piston, "{kind:?}");
    }
}

/// Fully in, the piston stands on its seat and hides its leak: to be tested rod out.
#[test]
fn a_piston_on_its_seat_at_the_cap_end_is_no_measurement() {
    let circuit = Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Bottomed);
    let seated = recording(|_| [210.0, 0.0, 0.0]);
    let (_, flags) = evaluated(&seated, Kind::DoubleActing, circuit);
    assert!(voided(&flags, "on its seat"), "{flags:?}");
    let out = recording(|_| [210.0, 0.0, 400.0]);
    let (_, flags) = evaluated(&out, Kind::DoubleActing, circuit);
    assert!(!voided(&flags, "seat"), "{flags:?}");
}
