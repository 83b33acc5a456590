//! Worked examples of held loads, computed apart from this room.
//!
//! Closed forms where there are any (pressures that meet at F/a, steady drift of a
//! double rod and of a hanging load); where there are none, a second integration by
//! another method and in another formulation stands in this file. Figures of the
//! "rate form" (volume flows, density difference left out) are quoted with the
//! width by which the mass-exact answer differs.

use super::*;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::quantity::Length;
use crate::quantity::Volume;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;

const K_PA: f64 = 1.4e9;

/// A cylinder in ideal oil of 1.4 GPa: no air, no wall, no heat.
pub(super) fn ideal(kind: Kind, bore: f64, rod: f64, stroke: f64, dead_ml: f64) -> Specimen {
    let mm = Length::new::<millimeter>;
    let dead = Volume::new::<milliliter>(dead_ml);
    let size = Dimensions {
        bore: mm(bore),
        rod: mm(rod),
        stroke: mm(stroke),
        wall: None,
        cap_dead_volume: dead,
        rod_dead_volume: dead,
    };
    let plain = ChamberOil {
        air: 0.0,
        hose_m3: 0.0,
        hose_pa: 1e9,
        fresh_heat_k: 0.0,
        creep: Creep::NONE,
    };
    Specimen {
        cylinder: Cylinder::new(kind, size).expect("a cylinder"),
        wall_pa: f64::INFINITY,
        oil: OilNature {
            isentropic_pa: K_PA,
            stiffening: 0.0,
            expansion_per_k: 7e-4,
            pressing_k_per_pa: 0.0,
            viscosity: None,
        },
        cap: plain,
        rod: plain,
        heat: Heat {
            cap_slow_s: 1000.0,
            rod_slow_s: 1000.0,
            slow_by_fast: 5.27,
            fast_share: 0.2,
            wall_k: 313.15,
            wall_k_per_s: 0.0,
            cap_oil_by_steel: 0.0,
            rod_oil_by_steel: 0.0,
            air_s: 4000.0,
        },
        motion: RodNature::Held,
        ills: Ills {
            piston: Leak::NONE,
            gland: Leak::NONE,
            cap_port: WayOut::Plug(Leak::NONE),
            rod_port: WayOut::Plug(Leak::NONE),
        },
        start: Start {
            x_m: 0.3,
            p_cap_pa: 0.0,
            p_rod_pa: 0.0,
        },
    }
}

pub(super) fn free(load_n: f64, friction_n: f64) -> RodNature {
    RodNature::Free {
        load_n,
        friction_n,
        viscous_n_s_per_m: 2e4,
    }
}

/// Example 1: 63/36, 30 kN pushing in, 10 mL/min past the piston at the start.
fn example_1(friction_n: f64) -> Specimen {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.motion = free(30e3, friction_n);
    let p_cap_pa = (30e3 - friction_n) / specimen.cylinder.cap_area().value;
    specimen.start.p_cap_pa = p_cap_pa;
    specimen.ills.piston = Leak::laminar(10.0, 96.239);
    specimen
}

pub(super) fn run(specimen: &Specimen, times_s: &[f64]) -> Vec<Instant> {
    Run::of(specimen, times_s, Chamber::Cap)
        .expect("integrates")
        .instants
}

pub(super) fn near(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() < tolerance,
        "{found} is not {expected}"
    );
}

/// The same example by classical Runge-Kutta with a force balance that holds exactly
/// (no speed law): p_cap follows from p_rod, x from the mass of both chambers.
fn example_1_by_another_way(until_s: f64) -> (f64, f64, f64) {
    let cylinder = example_1(0.0).cylinder;
    let (a_c, a_r) = (cylinder.cap_area().value, cylinder.annulus_area().value);
    let volume = |side, x: f64| {
        cylinder
            .volume(side, Length::new::<millimeter>(x * 1e3))
            .value
    };
    let conductance = 10e-6 / 60.0 / 96.239e5;
    let cap_0 = volume(Chamber::Cap, 0.3) * (30e3 / a_c / K_PA).exp();
    let rod_0 = volume(Chamber::Rod, 0.3);
    // Bisection on x: the masses give both pressures, the force tells which way.
    let state = |moved: f64| {
        let (mut low, mut high) = (0.2, 0.31);
        for _ in 0..80 {
            let x = 0.5 * (low + high);
            let p_c = K_PA * ((cap_0 - moved) / volume(Chamber::Cap, x)).ln();
            let p_r = K_PA * ((rod_0 + moved) / volume(Chamber::Rod, x)).ln();
            if p_c * a_c - p_r * a_r > 30e3 {
                low = x;
            } else {
                high = x;
            }
        }
        let x = 0.5 * (low + high);
        let p_c = K_PA * ((cap_0 - moved) / volume(Chamber::Cap, x)).ln();
        (p_c, (p_c * a_c - 30e3) / a_r, x)
    };
    let slope = |moved: f64| {
        let (p_c, p_r, _) = state(moved);
        (p_c / K_PA).exp() * conductance * (p_c - p_r)
    };
    let (mut moved, step) = (0.0, 0.5);
    for _ in 0..(until_s / step).round() as usize {
        let k1 = slope(moved);
        let k2 = slope(moved + 0.5 * step * k1);
        let k3 = slope(moved + 0.5 * step * k2);
        let k4 = slope(moved + step * k3);
        moved += step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
    }
    state(moved)
}

/// Closed form F/a = 294.731 bar; sink 17.92 mm mass-exact (worked example, computed).
#[test]
fn a_load_on_a_leaking_piston_ends_where_both_pressures_meet() {
    let end = run(&example_1(0.0), &[0.0, 6000.0])[1];
    near(end.p_cap_pa / 1e5, 294.731, 0.002);
    near(end.p_rod_pa / 1e5, 294.731, 0.002);
    near((0.3 - end.x_m) * 1e3, 17.92, 0.005);
}

/// Worked example, computed in the rate form: 137.6/61.4 bar and 3.760 mm at 60 s,
/// 232.5/202.4 bar and 12.402 mm at 300 s. Mass-exact differs by about Δp/K.
#[test]
fn on_the_way_there_it_differs_from_the_rate_form_by_no_more_than_the_density() {
    let found = run(&example_1(0.0), &[0.0, 60.0, 300.0]);
    for (now, cap, rod, sunk) in [
        (found[1], 137.6, 61.4, 3.760),
        (found[2], 232.5, 202.4, 12.402),
    ] {
        near(now.p_cap_pa / 1e5 / cap, 1.0, 0.018);
        near(now.p_rod_pa / 1e5 / rod, 1.0, 0.018);
        near((0.3 - now.x_m) * 1e3 / sunk, 1.0, 0.018);
    }
}

/// Second method in this file (Runge-Kutta, exact force balance), mass-exact too.
#[test]
fn on_the_way_there_it_agrees_with_a_second_integration() {
    let found = run(&example_1(0.0), &[0.0, 60.0, 300.0]);
    for (now, until_s) in [(found[1], 60.0), (found[2], 300.0)] {
        let (p_cap, p_rod, x) = example_1_by_another_way(until_s);
        // The viscous term of the speed law is worth 0.01 bar at these speeds.
        near(now.p_cap_pa / 1e5, p_cap / 1e5, 0.02);
        near(now.p_rod_pa / 1e5, p_rod / 1e5, 0.02);
        near((now.x_m - x) * 1e3, 0.0, 0.002);
    }
}

/// Closed form: stuck at (F − F_f)/a, 280.0 bar (worked example, computed).
#[test]
fn friction_stops_the_rod_before_the_pressures_reach_the_load() {
    let end = run(&example_1(1500.0), &[0.0, 6000.0, 7000.0]);
    near(end[1].p_cap_pa / 1e5, 280.0, 0.7);
    // A micrometre in a thousand seconds is standing still.
    near((end[2].x_m - end[1].x_m) * 1e3, 0.0, 1e-3);
}

/// Closed form p_0 V_c/(V_c + V_r) of equal moduli: 77.57 bar (worked example,
/// computed in the rate form; mass-exact is 0.1 bar away).
#[test]
fn a_locked_rod_lets_the_pressures_meet_in_proportion_to_the_volumes() {
    let mut specimen = example_1(0.0);
    specimen.motion = RodNature::Held;
    let end = run(&specimen, &[0.0, 3000.0])[1];
    near(end.p_cap_pa / 1e5, 77.57, 0.3);
    near(end.p_cap_pa, end.p_rod_pa, 10.0);
}

/// Closed form u = Q/A_r: 4.717 mm/min with the cap end near vacuum, without end
/// (worked example, computed).
#[test]
fn a_hanging_load_goes_on_sinking_over_a_void() {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.motion = free(-10e3, 0.0);
    specimen.start.x_m = 0.1;
    specimen.start.p_rod_pa = 10e3 / specimen.cylinder.annulus_area().value;
    specimen.ills.piston = Leak::laminar(10.0, 47.633);
    let found = run(&specimen, &[0.0, 600.0, 1200.0]);
    near(found[1].p_cap_pa / 1e5, -0.96, 0.005);
    near(found[1].p_rod_pa / 1e5, 46.204, 0.01);
    let u = (found[2].x_m - found[1].x_m) * 1e3 / 10.0;
    near(u, 4.717, 0.005);
}

/// Closed form u = Q/A: 1.484 mm/min, without end (worked example, computed).
#[test]
fn a_double_rod_sinks_at_one_speed_for_ever() {
    let mut specimen = ideal(Kind::DoubleRod, 50.0, 28.0, 400.0, 20.0);
    specimen.motion = free(8e3, 0.0);
    specimen.start.x_m = 0.2;
    specimen.start.p_cap_pa = 8e3 / specimen.cylinder.cap_area().value;
    specimen.ills.piston = Leak::laminar(2.0, 59.358);
    let found = run(&specimen, &[0.0, 600.0, 1200.0]);
    for pair in found.windows(2) {
        near((pair[0].x_m - pair[1].x_m) * 1e3 / 10.0, 1.484, 0.012);
    }
    near((found[2].p_cap_pa - found[2].p_rod_pa) / 1e5, 59.358, 0.01);
}

/// Closed form F/a = 243.605 bar; sink 11.186 mm in the rate form (worked example,
/// computed), mass-exact up to 1 % less.
#[test]
fn an_80_56_cylinder_ends_at_its_own_met_pressure() {
    let mut specimen = ideal(Kind::DoubleActing, 80.0, 56.0, 600.0, 30.0);
    specimen.motion = free(60e3, 0.0);
    specimen.start.x_m = 0.4;
    specimen.start.p_cap_pa = 60e3 / specimen.cylinder.cap_area().value;
    near(specimen.start.p_cap_pa / 1e5, 119.366, 0.001);
    specimen.ills.piston = Leak::laminar(5.0, 119.366);
    let end = run(&specimen, &[0.0, 12_000.0])[1];
    near(end.p_cap_pa / 1e5, 243.605, 0.002);
    near((0.4 - end.x_m) * 1e3 / 11.186, 0.995, 0.005);
}

/// Closed form p_r = (p_s A_c − F)/A_r: a counterbalance at 125.11 bar holds the rod
/// end at 42.87 bar and the rod sinks at 4.070 mm/min (worked example, computed).
#[test]
fn a_counterbalance_on_a_worn_piston_looks_like_a_bad_valve() {
    let mut specimen = example_1(0.0);
    specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::NONE,
        relief: Some(Relief {
            opens_at_pa: 125.11e5,
            slope_m3_per_s_pa: 1e-10,
        }),
    };
    let found = run(&specimen, &[0.0, 600.0, 1200.0]);
    near(found[1].p_rod_pa / 1e5, 42.87, 0.1);
    let u = (found[1].x_m - found[2].x_m) * 1e3 / 10.0;
    near(u, 4.070, 0.04);
}

/// Trapped oil in a 63/73 tube at K 1.5 GPa: 9.0 bar for each kelvin (closed form,
/// computed); pressing heat of 96 bar leaving makes a tight chamber lose 1.3 K of it.
#[test]
fn a_tight_chamber_loses_pressure_while_its_heat_of_compression_leaves() {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.oil.isentropic_pa = 1.5e9;
    specimen.oil.pressing_k_per_pa = crate::oil::PRESSING_HEAT_K_PER_PA;
    specimen.start.p_cap_pa = 100e5;
    let end = run(&specimen, &[0.0, 20_000.0])[1];
    // K_T/K_s of the pressure stays: 1/(1 + α K_s 1.33e-7) = 0.8775 (identity).
    near(end.p_cap_pa / 1e5, 87.75, 0.05);
    near(end.oil_cap_k - end.wall_cap_k, 0.0, 1e-4);
}

/// Heat is kept (energy balance, closed form): oil 2 K warmer than steel that holds 1.25
/// times its heat ends with it at 2 K/(1 + 1.25) above the start, and the loss to the air
/// of both together has the time constant of the steel, longer by the oil's share.
#[test]
fn oil_shares_its_heat_with_the_steel_and_both_lose_it_to_the_air() {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.cap.fresh_heat_k = 2.0;
    specimen.start.p_cap_pa = 50e5;
    specimen.heat.cap_oil_by_steel = 0.8;
    specimen.heat.air_s = 1e12;
    let end = run(&specimen, &[0.0, 20_000.0])[1];
    let shared_k = 2.0 / (1.0 + 1.0 / 0.8);
    near(end.wall_cap_k - end.surroundings_k, shared_k, 1e-5);
    near(end.oil_cap_k - end.surroundings_k, shared_k, 1e-5);
    near(end.wall_rod_k - end.surroundings_k, 0.0, 1e-9);
    specimen.heat.air_s = 2e5;
    let found = run(&specimen, &[0.0, 2e4, 5.6e4]);
    let left = (found[2].wall_cap_k - found[2].surroundings_k)
        / (found[1].wall_cap_k - found[1].surroundings_k);
    // 3.6e4 s of 2e5·(1 + 0.8) s; oil that follows a moving wall late changes a percent.
    near(left, (-0.1f64).exp(), 0.002);
}

/// Oil in both chambers by their own law, and what went outside, over a run with
/// every path open: the sum does not change.
#[test]
fn no_oil_is_made_or_lost() {
    let mut specimen = example_1(300.0);
    specimen.cap.air = 0.004;
    specimen.rod.air = 0.008;
    specimen.cap.fresh_heat_k = 2.0;
    specimen.oil.pressing_k_per_pa = 1.33e-7;
    specimen.heat.wall_k_per_s = 1e-3;
    specimen.ills.gland = Leak::with_exponent(1.0, 50.0, 0.7);
    specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::laminar(0.3, 100.0),
        valve: Leak::with_exponent(0.5, 100.0, 0.5),
        relief: None,
    };
    let found = run(&specimen, &[0.0, 100.0, 900.0]);
    let inside = |now: &Instant| {
        let x = Length::new::<millimeter>(now.x_m * 1e3);
        let steel = 1.0 + 3.0 * crate::oil::STEEL_EXPANSION_PER_K * (now.surroundings_k - 313.15);
        let cylinder = &specimen.cylinder;
        steel
            * (cylinder.volume(Chamber::Cap, x).value * now.density_cap
                + cylinder.volume(Chamber::Rod, x).value * now.density_rod)
    };
    let start_kg = inside(&found[0]);
    for now in &found {
        let p = &now.passed_kg;
        let outside = p.gland + p.cap_plug + p.cap_valve + p.rod_plug + p.rod_valve;
        near((inside(now) + outside) / start_kg, 1.0, 1e-9);
    }
    assert!(
        found[2].passed_kg.gland > 1e-4,
        "the gland must have leaked"
    );
}

/// Values between the solver's steps are interpolated; those at the end of a run are
/// steps themselves. A sensor of 24 bit (4 Pa of 400 bar, 50 nm of 500 mm) must not see
/// the difference.
#[test]
fn points_between_steps_are_as_good_as_steps() {
    let mut specimen = example_1(400.0);
    specimen.cap.air = 0.004;
    specimen.cap.fresh_heat_k = 1.0;
    specimen.oil.pressing_k_per_pa = 1.33e-7;
    let times: Vec<f64> = (0..6000).map(|i| f64::from(i) * 0.02).collect();
    let dense = run(&specimen, &times);
    for index in [7_usize, 311, 1234, 3333, 5551] {
        let step = run(&specimen, &[0.0, times[index]])[1];
        let found = [
            dense[index].p_cap_pa - step.p_cap_pa,
            dense[index].p_rod_pa - step.p_rod_pa,
            (dense[index].x_m - step.x_m) * 1e9,
        ];
        println!(
            "{} s: {:.3} Pa, {:.3} Pa, {:.3} nm",
            times[index], found[0], found[1], found[2]
        );
        assert!(found.iter().all(|v| v.abs() < 1.0), "{found:?}");
    }
}
