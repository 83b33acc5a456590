//! The moving rod against closed forms, and against an integrator that keeps mass.

use crate::rehearsal::physics::Specimen;
use crate::rehearsal::physics::chamber::Around;
use crate::rehearsal::physics::chamber::Chamber;
use crate::rehearsal::physics::chamber::REFERENCE_K;
use crate::rehearsal::physics::moved::Moved;
use crate::rehearsal::physics::moved::STEP_S;
use crate::rehearsal::physics::moved::Seals;
use crate::rehearsal::physics::moved::Valve;
use crate::rehearsal::physics::specimen::ChamberOil;
use crate::rehearsal::stiff::integrate;
use crate::rehearsal::stock::plough_lift;

const CAP_M2: f64 = 3117.245e-6;
const ROD_M2: f64 = 2099.369e-6;
const PULL_N: f64 = 150.0;
const HOSE: (f64, f64) = (1e-3, 0.1e9);
/// The rod that moves and the line to the tank, as the rig has them.
const MASS_KG: f64 = 40.0;
const LINE_PA_S_PER_M3: f64 = 2e9;

fn specimen() -> Specimen {
    plough_lift().specimen
}

/// Oil alone is a spring of one stiffness; with air it gets harder as it is loaded.
fn without_air() -> Specimen {
    let mut specimen = specimen();
    (specimen.cap.air, specimen.rod.air) = (0.0, 0.0);
    specimen
}

fn body(seals: Seals, x_m: f64) -> Moved {
    body_of(&specimen(), seals, x_m)
}

fn body_of(specimen: &Specimen, seals: Seals, x_m: f64) -> Moved {
    Moved::new(
        specimen,
        (seals, PULL_N),
        [Some(HOSE), None],
        ([0.0; 2], x_m),
    )
}

/// The cap side fed, the rod side open.
fn feed(flow_m3_per_s: f64) -> Valve {
    Valve {
        flow_m3_per_s: [flow_m3_per_s, 0.0],
        is_open: [false, true],
        relief_pa: 200e5,
    }
}

/// The cap chamber with its hose, and what surrounds its oil at a place.
fn cap(x_m: f64) -> (Chamber, Around) {
    cap_of(&specimen(), x_m)
}

fn cap_of(specimen: &Specimen, x_m: f64) -> (Chamber, Around) {
    let own = ChamberOil {
        hose_m3: HOSE.0,
        hose_pa: HOSE.1,
        ..specimen.cap
    };
    let around = Around {
        rigid_m3: 22e-6 + CAP_M2 * x_m,
        wall_k: REFERENCE_K,
        heat_k: 0.0,
    };
    (Chamber::new(&specimen.oil, &own, specimen.wall_pa), around)
}

/// A rod that goes at one speed: friction is what the pressures leave, the speed is flow by
/// area, the open side has its line's pressure (by hand).
#[test]
fn at_one_speed_forces_and_flows_are_in_balance() {
    let seals = Seals {
        static_n: 900.0,
        coulomb_n: 500.0,
        stribeck_m_per_s: 1.5e-3,
        viscous_n_s_per_m: 2e4,
    };
    let mut body = body(seals, 0.05);
    let speed = 0.012;
    body.goes_on(8.0, |_, _| feed(speed * CAP_M2));
    let (_, from_m) = body.stands();
    body.goes_on(10.0, |_, _| feed(speed * CAP_M2));
    let ([cap_pa, rod_pa], x_m) = body.stands();
    assert!(((x_m - from_m) / 2.0 / speed - 1.0).abs() < 1e-3);
    let friction_n = 500.0 + 2e4 * speed;
    let net_n = cap_pa * CAP_M2 - rod_pa * ROD_M2 + PULL_N;
    assert!(
        (net_n / friction_n - 1.0).abs() < 1e-3,
        "{net_n} {friction_n}"
    );
    assert!((seals.sliding_n(speed) / friction_n - 1.0).abs() < 1e-9);
    let line_pa = LINE_PA_S_PER_M3 * ROD_M2 * speed;
    assert!((rod_pa / line_pa - 1.0).abs() < 1e-3, "{rod_pa} {line_pa}");
}

/// A rod at rest gives way when the pressure carries its greatest friction, and not before:
/// p = (F − pull)/A, after the time in which the flow has filled what the side gives way by,
/// found here from the oil's mass at either end (by hand).
#[test]
fn a_rod_gives_way_at_its_greatest_friction_and_not_before() {
    let seals = Seals {
        static_n: 3200.0,
        coulomb_n: 2500.0,
        stribeck_m_per_s: 1.5e-3,
        viscous_n_s_per_m: 2e4,
    };
    let mut body = body(seals, 0.0);
    let flow = 2e-6;
    let right_pa = (3200.0 - PULL_N) / CAP_M2;
    let (chamber, around) = cap(0.0);
    // Oil comes in at the density that it has in the side: dM = ρ·Q·dt, over the mean of both.
    let mass = |pa: f64| chamber.mass(pa, &around);
    let density = |pa: f64| chamber.density(pa, chamber.oil_k(pa, &around));
    let mean = 0.5 * (density(0.0) + density(right_pa));
    let right_s = (mass(right_pa) - mass(0.0)) / mean / flow;
    let (mut highest_pa, mut moved_s) = (0.0_f64, None);
    for step in 1..40_000 {
        let at_s = f64::from(step) * STEP_S;
        body.goes_on(at_s, |_, _| feed(flow));
        let ([cap_pa, _], x_m) = body.stands();
        if x_m > 0.0 {
            moved_s = Some(at_s);
            break;
        }
        highest_pa = highest_pa.max(cap_pa);
    }
    let moved_s = moved_s.expect("it gives way");
    assert!(
        (highest_pa / right_pa - 1.0).abs() < 1e-3,
        "{highest_pa} {right_pa}"
    );
    assert!(
        (moved_s / right_s - 1.0).abs() < 0.01,
        "{moved_s} {right_s}"
    );
}

/// The same rod with viscous friction alone, by an integrator for stiff systems (Radau IIA) that
/// follows the mass of oil in each side and finds the pressure from it.
#[test]
fn pressures_and_places_are_those_of_a_solver_that_keeps_mass() {
    let viscous = 2e4;
    let seals = Seals {
        static_n: 0.0,
        coulomb_n: 0.0,
        stribeck_m_per_s: 1.0,
        viscous_n_s_per_m: viscous,
    };
    let (from_m, flow) = (0.1, 25e-6);
    let specimen = specimen();
    let rod_own = specimen.rod;
    let rod_chamber = Chamber::new(&specimen.oil, &rod_own, specimen.wall_pa);
    let rod_around = |x_m: f64| Around {
        rigid_m3: 18e-6 + ROD_M2 * (0.4 - x_m),
        wall_k: REFERENCE_K,
        heat_k: 0.0,
    };
    let pressures = |y: &[f64; 4]| {
        let (chamber, around) = cap(y[2]);
        let cap_pa = chamber.pressure(y[0], &around, 1e5);
        (cap_pa, rod_chamber.pressure(y[1], &rod_around(y[2]), 1e5))
    };
    let (chamber, around) = cap(from_m);
    let start = [
        chamber.mass(0.0, &around),
        rod_chamber.mass(0.0, &rod_around(from_m)),
        from_m,
        0.0,
    ];
    let slope = |_: f64, y: &[f64; 4], dydt: &mut [f64; 4]| {
        let (cap_pa, rod_pa) = pressures(y);
        let (chamber, around) = cap(y[2]);
        let dense = |c: &Chamber, pa: f64, around: &Around| c.density(pa, c.oil_k(pa, around));
        dydt[0] = dense(&chamber, cap_pa, &around) * flow;
        dydt[1] = -dense(&rod_chamber, rod_pa, &rod_around(y[2])) * rod_pa / LINE_PA_S_PER_M3;
        dydt[2] = y[3];
        dydt[3] = (cap_pa * CAP_M2 - rod_pa * ROD_M2 + PULL_N - viscous * y[3]) / MASS_KG;
    };
    for until_s in [0.05, 0.3, 2.0, 8.0] {
        let found = integrate(slope, start, until_s, [1e-9, 1e-9, 1e-9, 1e-7]).expect("integrates");
        let (_, last) = found.last().expect("steps");
        let (cap_pa, rod_pa) = pressures(last);
        let mut body = body(seals, from_m);
        body.goes_on(until_s, |_, _| feed(flow));
        let ([own_cap, own_rod], own_m) = body.stands();
        assert!(
            (own_m - last[2]).abs() < 3e-5,
            "{until_s} s: {own_m} {}",
            last[2]
        );
        assert!(
            (own_cap - cap_pa).abs() < 0.01e5,
            "{until_s} s: {own_cap} {cap_pa}"
        );
        assert!(
            (own_rod - rod_pa).abs() < 0.01e5,
            "{until_s} s: {own_rod} {rod_pa}"
        );
    }
}

/// Stick-slip of a mass on a spring: friction that falls by ΔF at once lets it jump by
/// ΔF/k·(1 + e^(−πζ/√(1 − ζ²))), with the line of the open side for a damper (by hand).
#[test]
fn a_rod_that_sticks_jumps_as_a_damped_mass_on_a_spring() {
    let seals = Seals {
        static_n: 1500.0,
        coulomb_n: 500.0,
        stribeck_m_per_s: 1e-6,
        viscous_n_s_per_m: 0.0,
    };
    let mut body = body_of(&without_air(), seals, 0.2);
    let flow = 1e-6;
    let mut jumps = Vec::new();
    let (mut stood_m, mut before_m, mut stands) = (0.2, 0.2, true);
    for step in 1..120_000 {
        body.goes_on(f64::from(step) * STEP_S, |_, _| feed(flow));
        let (_, x_m) = body.stands();
        let still = x_m == before_m;
        if still && !stands {
            jumps.push(x_m - stood_m);
            stood_m = x_m;
        }
        (stands, before_m) = (still, x_m);
    }
    let (chamber, around) = cap_of(&without_air(), 0.2);
    let k = CAP_M2 * CAP_M2 / chamber.give_m3_per_pa(3e5, &around);
    let damper = LINE_PA_S_PER_M3 * ROD_M2 * ROD_M2;
    let zeta = damper / (2.0 * (k * MASS_KG).sqrt());
    let over = (-std::f64::consts::PI * zeta / (1.0 - zeta * zeta).sqrt()).exp();
    let right = 1000.0 / k * (1.0 + over);
    // The first comes from an unloaded side.
    assert!(jumps.len() > 10, "{jumps:?}");
    for jump in &jumps[1..] {
        assert!((jump / right - 1.0).abs() < 0.08, "{jump} {right}");
    }
}
