//! Investigations whose sums are written down by hand.

use super::*;
use crate::account::Drive;
use crate::account::investigation::next::Step;
use crate::account::investigation::sums::translated;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Look;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::circuit::Seen;
use crate::cylinder::Kind;
use crate::fit::Matrix;
use Chamber::Cap;
use Chamber::Rod;

const ML_MIN: f64 = 1e-6 / 60.0;
const PISTON: Way = Way::Piston(Cap);
const VALVE: Way = Way::Valve(Cap, HoldingValve::Absent);
const SIGMA: f64 = 0.005;

/// A phase of 300 s with 160 bar on the cap side; sums in mL/min.
fn phase(cap_port: Port, rod_port: Port, rod_bar: f64, sums: &[(Chamber, f64)]) -> Source<'static> {
    let n = sums.len();
    Source {
        circuit: Circuit::plain(cap_port, rod_port, RodHold::PushedIn { load: None }),
        kind: Some(Kind::DoubleActing),
        oil: None,
        volume_m3: [955e-6, 230e-6],
        areas_m2: [31.17e-4, 16.02e-4],
        at_setting: false,
        rig_known: false,
        drive: Drive {
            zero_pa: [0.05e5; 2],
            p_cap_pa: vec![160e5; 4],
            p_rod_pa: Some(vec![rod_bar * 1e5; 4]),
            oil_k: Some(318.15),
            x_m: 0.3,
            length_s: 300.0,
        },
        chambers: sums.iter().map(|s| s.0).collect(),
        measured: sums.iter().map(|s| s.1 * ML_MIN).collect(),
        covariance: Matrix::identity(n, n) * (SIGMA * ML_MIN).powi(2),
        past_piston: None,
        seen: Seen::default(),
        // A litre or so.
        swells_m3: [0.3e-6; 2],
    }
}

/// Both ports plugged, rod side charged to 15 bar.
fn plugged(loss: f64, gain: f64) -> Source<'static> {
    phase(
        Port::Blocked,
        Port::Blocked,
        15.0,
        &[(Cap, loss), (Rod, gain)],
    )
}

fn on_valve(loss: f64, gain: f64) -> Source<'static> {
    phase(
        Port::OnValve,
        Port::Blocked,
        15.0,
        &[(Cap, loss), (Rod, gain)],
    )
}

fn joined(loss: f64, gain: f64) -> Source<'static> {
    let mut source = phase(
        Port::Blocked,
        Port::Blocked,
        160.0,
        &[(Cap, loss), (Rod, gain)],
    );
    source.circuit.joined = true;
    source.circuit.rod = RodHold::Locked;
    source
}

fn attributed(sources: &[Source<'_>]) -> Attribution {
    let sums = Sums::of(sources);
    let mut found = answered(&sums).expect("solved");
    found.next = next(sources, &sums, &found.open()).expect("solved");
    found
}

#[track_caller]
fn leaks(found: &Attribution, way: Way, ml_min: f64) {
    let answer = found.of(way).expect("asked");
    assert_eq!(answer.standing, Standing::Leaks, "{answer:?}");
    let (low, high) = (
        answer.lower_m3_per_s / ML_MIN,
        answer.upper_m3_per_s / ML_MIN,
    );
    assert!(
        low < ml_min && ml_min < high && high - low < 0.5 * ml_min,
        "{low} … {high}"
    );
}

#[track_caller]
fn tight(found: &Attribution, ways: &[Way]) {
    for way in ways {
        let answer = found.of(*way).expect("asked");
        assert_eq!(answer.standing, Standing::Tight, "{answer:?}");
    }
}

#[track_caller]
fn open(found: &Attribution, way: Way, other: Way) {
    let answer = found.of(way).expect("asked");
    match &answer.standing {
        Standing::Open { with } => assert!(with.contains(&other), "{answer:?}"),
        _ => panic!("{answer:?}"),
    }
}

/// With two plugs the rod's gain tells the piston; what the cap loses with it is the piston's.
#[test]
fn a_piston_is_told_by_what_arrives_on_the_rod_side() {
    let found = attributed(&[plugged(1.0, 1.0)]);
    leaks(&found, PISTON, 1.0);
    tight(&found, &[Way::Plug(Cap)]);
}

#[test]
fn a_plug_is_sure_when_nothing_arrives_but_only_if_the_gland_is_dry() {
    let found = attributed(&[plugged(1.0, 0.0)]);
    open(&found, PISTON, Way::Plug(Cap));
    let mut dry = plugged(1.0, 0.0);
    dry.seen.gland = Some(Look::Dry);
    dry.seen.rod_port = Some(Look::Dry);
    let found = attributed(&[dry]);
    leaks(&found, Way::Plug(Cap), 1.0);
    tight(&found, &[PISTON, Way::Gland, Way::Plug(Rod)]);
    assert_eq!(found.next, None);
}

/// Two leaks on one side are one sum; but what got wet has leaked, and with a third place dry
/// nothing else is left to ask.
#[test]
fn what_got_wet_leaks_however_little() {
    let mut both = plugged(0.0, -0.05);
    both.seen.gland = Some(Look::Wet);
    both.seen.rod_port = Some(Look::Wet);
    let found = attributed(&[both]);
    for way in [Way::Gland, Way::Plug(Rod)] {
        let answer = found.of(way).expect("asked");
        assert_eq!(answer.standing, Standing::Leaks, "{answer:?}");
        // Two drops in 300 s, less three times the 5 % by which leaks repeat themselves.
        assert!(
            (answer.lower_m3_per_s / ML_MIN - 0.017).abs() < 1e-6,
            "{answer:?}"
        );
    }
    tight(&found, &[PISTON, Way::Plug(Cap)]);
    assert_eq!(found.next, None);
}

/// Looking ends it, whatever is seen.
#[test]
fn a_phase_that_was_looked_at_leaves_gland_and_plug_told() {
    for (gland, rod_port) in [(Look::Wet, Look::Dry), (Look::Dry, Look::Wet)] {
        let mut seen = plugged(0.0, -0.015);
        seen.seen.gland = Some(gland);
        seen.seen.rod_port = Some(rod_port);
        let found = attributed(&[seen]);
        assert!(found.open().is_empty(), "{found:?}");
    }
}

#[test]
fn the_difference_of_two_phases_is_the_valve() {
    let found = attributed(&[on_valve(2.0, 0.01), plugged(0.0, 0.0)]);
    leaks(&found, VALVE, 2.0);
    tight(&found, &[PISTON, Way::Plug(Cap)]);
    let found = attributed(&[on_valve(2.0, 2.0), plugged(2.0, 2.0)]);
    leaks(&found, PISTON, 2.0);
    tight(&found, &[VALVE]);
}

/// One live chamber gives a total only, whatever its size.
#[test]
fn a_hold_with_one_live_chamber_names_nothing() {
    let alone = phase(Port::OnValve, Port::Blocked, 0.0, &[(Cap, 2.0)]);
    let found = attributed(&[alone]);
    open(&found, PISTON, VALVE);
    open(&found, VALVE, PISTON);
    assert!(found.next.is_some());
}

#[test]
fn equal_pressures_tell_plug_and_gland_from_the_piston() {
    let found = attributed(&[plugged(1.0, 0.7), joined(0.0, -2.0)]);
    leaks(&found, PISTON, 1.0);
    tight(&found, &[Way::Plug(Cap)]);
    // Gland and rod-port plug lie on the same side: only eyes tell them apart.
    open(&found, Way::Gland, Way::Plug(Rod));
    let found = attributed(&[plugged(1.0, 0.0), joined(1.0, 0.0)]);
    leaks(&found, Way::Plug(Cap), 1.0);
    tight(&found, &[PISTON]);
}

#[test]
fn what_would_tell_is_advised() {
    // Gland or rod plug: look.
    let found = attributed(&[plugged(1.0, 0.7), joined(0.0, -2.0)]);
    assert_eq!(
        found.next.as_ref().map(|n| n.step),
        Some(Step::Look { phase: 1 }),
        "{found:?}"
    );
    assert!(found.next.is_some_and(|next| next.is_sure));
    // A total on its valve: more than one way would tell; a vessel is the least work. It tells
    // unless one of both is a small part of the total, near what a vessel can show.
    let found = attributed(&[phase(Port::OnValve, Port::Blocked, 0.0, &[(Cap, 2.0)])]);
    let next = found.next.expect("there is one");
    assert_eq!(next.step, Step::OpenToVessel(Rod));
    assert!(
        next.tells.contains(&PISTON) && next.tells.contains(&VALVE),
        "{next:?}"
    );
    assert!(!next.is_sure);
}

#[test]
fn overlapping_phases_are_no_difference() {
    let mut rough = [
        on_valve(2.0, 0.0),
        phase(Port::OnValve, Port::OpenToVessel, 0.0, &[(Cap, 2.1)]),
    ];
    for source in &mut rough {
        source.covariance *= 900.0;
    }
    let found = attributed(&rough);
    assert_ne!(
        found.of(PISTON).map(|a| &a.standing),
        Some(&Standing::Leaks),
        "{found:?}"
    );
}

#[test]
fn phases_that_contradict_each_other_are_said_to() {
    let found = attributed(&[plugged(2.0, 2.0), plugged(0.2, 0.2)]);
    assert!(found.contradiction.is_some());
    let found = attributed(&[plugged(2.0, 2.0), plugged(1.9, 1.9)]);
    assert_eq!(found.contradiction, None);
}

/// One leaking piston seal, warm on the valve and 10 K colder between plugs, with nobody who
/// measured that: oil that is half as thick is no valve. With a probe in both it would be.
#[test]
fn without_a_probe_a_warm_phase_does_not_name_the_valve() {
    let mut phases = [on_valve(1.5, 1.5), plugged(1.0, 1.0)];
    phases[0].chambers.truncate(1);
    phases[0].measured.truncate(1);
    phases[0].covariance = Matrix::identity(1, 1) * (SIGMA * ML_MIN).powi(2);
    let standing = |phases: &[Source<'_>]| {
        attributed(phases)
            .of(VALVE)
            .expect("asked")
            .standing
            .clone()
    };
    assert_eq!(standing(&phases), Standing::Leaks);
    for phase in &mut phases {
        phase.drive.oil_k = None;
    }
    assert!(matches!(standing(&phases), Standing::Open { .. }));
}

/// A leak that is sure leaks, however small beside another one.
#[test]
fn a_sure_leak_is_not_cleared_by_a_larger_one() {
    let found = attributed(&[on_valve(10.0, 1.0), plugged(1.0, 1.0)]);
    leaks(&found, PISTON, 1.0);
    leaks(&found, VALVE, 9.0);
}

/// A ram whose gland loses 1 mL/min on its valve and between plugs: leaks that repeat to 5 %
/// hide a valve of 0.15 mL/min, and no phase that is known here changes that for sure.
#[test]
fn what_no_phase_tells_for_sure_is_not_said_to_be_told() {
    let ram = |port: Port| {
        let mut ram = phase(port, Port::OpenToVessel, 0.0, &[(Cap, 1.0)]);
        ram.kind = Some(Kind::Plunger);
        ram
    };
    let found = attributed(&[ram(Port::OnValve), ram(Port::Blocked)]);
    assert!(matches!(
        found.of(VALVE).map(|a| &a.standing),
        Some(Standing::Open { .. })
    ));
    let next = found.next.as_ref().expect("eyes tell gland and plug");
    assert!(next.is_sure && next.tells.contains(&Way::Gland), "{next:?}");
    assert!(!next.tells.contains(&VALVE), "{next:?}");
    let again = attributed(&[ram(Port::OnValve), ram(Port::Blocked)]);
    assert_eq!(found.next, again.next, "the same holds get the same advice");
}

/// Which side carries is known only from a phase with a load: no port is opened by the
/// pressure of a locked rod.
#[test]
fn no_port_is_advised_open_by_a_phase_without_a_load() {
    let mut locked = plugged(1.0, 0.0);
    locked.circuit.rod = RodHold::Locked;
    let advice = |sources: &[Source<'_>]| attributed(sources).next.map(|n| n.step);
    assert!(!matches!(
        advice(&[locked.clone()]),
        Some(Step::OpenToVessel(_))
    ));
    // The load of the first hangs on the rod side: its own pressure is the lower one.
    let mut hanging = phase(Port::Blocked, Port::OnValve, 100.0, &[(Rod, -1.0)]);
    hanging.circuit.rod = RodHold::PulledOut { load: None };
    hanging.drive.p_cap_pa = vec![-0.9e5; 4];
    let found = advice(&[hanging, locked]);
    assert_ne!(found, Some(Step::OpenToVessel(Rod)), "{found:?}");
}

/// What is wet with oil from before, where nothing pushes, names nothing; wet and dry with
/// pressure behind it contradict each other.
#[test]
fn eyes_do_not_name_what_no_pressure_stood_behind() {
    let mut empty = phase(Port::OnValve, Port::Blocked, -0.9, &[(Cap, 1.0)]);
    empty.seen.gland = Some(Look::Wet);
    let found = attributed(&[empty, plugged(0.0, 0.0)]);
    assert_ne!(
        found.of(Way::Gland).expect("asked").standing,
        Standing::Leaks
    );
}

/// Nothing pushes oil out at a gland without pressure behind it.
#[test]
fn what_nothing_drove_is_not_said_to_be_tight() {
    let vessel = phase(Port::Blocked, Port::OpenToVessel, 0.0, &[(Cap, 0.0)]);
    let found = attributed(&[vessel]);
    assert_eq!(
        found.of(Way::Gland).map(|a| &a.standing),
        Some(&Standing::NotDriven)
    );
    tight(&found, &[PISTON, Way::Plug(Cap)]);
}

/// A load that hangs over an empty cap side: its plug is in no sum, and no solver may follow
/// it to infinity.
#[test]
fn what_nothing_drove_has_no_part_in_the_fit() {
    let mut hanging = phase(Port::Blocked, Port::OnValve, 225.0, &[(Rod, -0.0413)]);
    hanging.circuit.rod = RodHold::PulledOut { load: None };
    hanging.drive.p_cap_pa = vec![-0.07e5; 4];
    let found = attributed(&[hanging]);
    let plug = found.of(Way::Plug(Cap)).expect("asked");
    assert_eq!(plug.standing, Standing::NotDriven);
    assert_eq!(plug.best_m3_per_s, 0.0);
}

/// A rod side that is driven but too low to be accounted for is in no sum either: only eyes
/// limit its ways.
#[test]
fn what_is_in_no_sum_is_limited_by_eyes_alone() {
    let mut low = phase(Port::OnValve, Port::Blocked, 1.4, &[(Cap, 0.0)]);
    let found = attributed(&[low.clone()]);
    let gland = found.of(Way::Gland).expect("asked");
    assert_eq!(gland.upper_m3_per_s, f64::INFINITY);
    assert_eq!(gland.standing, Standing::Open { with: Vec::new() });
    low.seen.gland = Some(Look::Dry);
    tight(&attributed(&[low]), &[Way::Gland]);
}

/// A plug that stays dry while the rod side is all but empty says nothing of it at 15 bar.
#[test]
fn a_look_at_what_nothing_drove_says_nothing_of_other_pressures() {
    let leaking = plugged(0.0, -0.4);
    let mut empty = phase(Port::Blocked, Port::Blocked, 0.1, &[(Cap, 0.0)]);
    empty.seen.rod_port = Some(Look::Dry);
    empty.seen.gland = Some(Look::Wet);
    let found = attributed(&[leaking, empty]);
    open(&found, Way::Gland, Way::Plug(Rod));
    open(&found, Way::Plug(Rod), Way::Gland);
}

/// What a solver left for a way that nothing drove is no leak of a phase that drives it.
#[test]
fn what_nothing_drove_leaks_nothing_in_a_phase_on_paper() {
    let mut hanging = phase(Port::Blocked, Port::OnValve, 160.0, &[(Rod, -1.0)]);
    hanging.circuit.rod = RodHold::PulledOut { load: None };
    hanging.drive.p_cap_pa = vec![-0.07e5; 4];
    let before = Sums::of(&[hanging.clone()]);
    let trial = Sums::of(&[hanging, joined(0.0, 0.0)]);
    let flows = translated(&before, &vec![1.0; before.ways.len()], &trial);
    let of = |way: Way| {
        let index = trial.ways.iter().position(|w| *w == way).expect("there");
        flows[index]
    };
    assert_eq!(of(Way::Plug(Cap)), 0.0);
    assert!((of(Way::Gland) - 1.0).abs() < 0.01);
}
