//! Worked examples of leaks that stop or start at a pressure, and of what creeps, computed
//! apart from this room.
//!
//! A locked rod in ideal oil of constant stiffness: V/K · dp/dt = −Q(p), with no density in it.
//! So the time to a pressure is an integral over the pressure, taken here by Simpson's rule
//! with leak laws written out again.

use super::worked_examples::ideal;
use super::worked_examples::near;
use super::worked_examples::run;
use super::*;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;

const ML_MIN: f64 = 1e-6 / 60.0;
const K_PA: f64 = 1.4e9;

/// The 63/36 with its rod locked, the cap side at 120 bar.
fn locked() -> Specimen {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.start.p_cap_pa = 120e5;
    specimen
}

fn volume(specimen: &Specimen) -> f64 {
    let x = crate::quantity::Length::new::<crate::quantity::unit::millimeter>(300.0);
    specimen.cylinder.volume(Chamber::Cap, x).value
}

/// Time in s from 120 bar to `until_bar`, by Simpson's rule; `flow` in mL/min at bar.
fn time_to(until_bar: f64, volume_m3: f64, flow: impl Fn(f64) -> f64) -> f64 {
    let n = 20_000;
    let step = (120.0 - until_bar) / f64::from(n);
    let of = |i: i32| 1.0 / flow(until_bar + step * f64::from(i));
    let inner: f64 = (1..n)
        .map(|i| if i % 2 == 1 { 4.0 * of(i) } else { 2.0 * of(i) })
        .sum();
    let integral = (of(0) + inner + of(n)) * step / 3.0;
    volume_m3 / K_PA * integral * 1e5 / ML_MIN
}

fn logistic(above_bar: f64) -> f64 {
    1.0 / (1.0 + (-above_bar / 0.3).exp())
}

/// Second method in this file (Simpson's rule over the pressure).
#[test]
fn a_plug_that_seats_lets_the_pressure_fall_to_its_seat_and_no_further() {
    let mut specimen = locked();
    specimen.ills.cap_port = WayOut::Plug(Leak::laminar(1.0, 100.0).only_above(92.0));
    let flow = |bar: f64| bar / 100.0 * logistic(bar - 92.0);
    for bar in [110.0, 96.0, 92.5, 91.5, 91.0] {
        let at_s = time_to(bar, volume(&specimen), flow);
        let now = run(&specimen, &[0.0, at_s])[1];
        near(now.p_cap_pa / 1e5, bar, 2e-3);
    }
    // Two hours later it stands less than ten widths of the bend below.
    let later = run(&specimen, &[0.0, 7200.0])[1];
    assert!((89.0..91.0).contains(&(later.p_cap_pa / 1e5)));
}

/// The same, of a piston seal that a valve's leak brings to the pressure where its lip opens.
#[test]
fn a_lip_that_opens_below_a_pressure_joins_what_leaks_above_it() {
    let mut specimen = locked();
    specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::laminar(0.5, 100.0),
        relief: None,
    };
    specimen.ills.piston = Leak::laminar(2.0, 100.0).only_below(100.0);
    specimen.ills.rod_port = WayOut::Vessel;
    let flow = |bar: f64| 0.5 * bar / 100.0 + 2.0 * bar / 100.0 * logistic(100.0 - bar);
    for bar in [110.0, 101.0, 99.0, 80.0] {
        let at_s = time_to(bar, volume(&specimen), flow);
        let now = run(&specimen, &[0.0, at_s])[1];
        near(now.p_cap_pa / 1e5, bar, 2e-3);
    }
}

/// A gland that seats, at the rod side of the same cylinder: nothing passes below its seat.
#[test]
fn a_gland_that_seats_passes_nothing_below_its_pressure() {
    let mut specimen = locked();
    specimen.ills.gland = Leak::laminar(1.0, 100.0).only_above(60.0);
    specimen.start.p_rod_pa = 40e5;
    let found = run(&specimen, &[0.0, 600.0]);
    near(found[1].p_rod_pa / 1e5, 40.0, 1e-6);
    specimen.start.p_rod_pa = 90e5;
    let found = run(&specimen, &[0.0, 3600.0]);
    assert!((57.0..60.0).contains(&(found[1].p_rod_pa / 1e5)));
}

/// Closed form: room c grows as ċ = (C p − c)/τ while p = p₀ − K c/V, so it comes to
/// C p₀/(1 + C K/V), faster by that factor; c²/V² is left out, 0.01 bar.
#[test]
fn what_creeps_takes_up_pressure_and_comes_to_rest() {
    let mut specimen = locked();
    let volume_m3 = volume(&specimen);
    let creep = Creep {
        m3_per_pa: 0.05 * volume_m3 / K_PA,
        slow_s: 200.0,
    };
    specimen.cap.creep = creep;
    let stiffer = 1.0 + creep.m3_per_pa * K_PA / volume_m3;
    for at_s in [50.0, 200.0, 600.0, 3000.0] {
        let room = creep.m3_per_pa * 120e5 / stiffer * (1.0 - (-stiffer * at_s / 200.0).exp());
        let now = run(&specimen, &[0.0, at_s])[1];
        near(
            now.p_cap_pa / 1e5,
            120.0 - K_PA * room / volume_m3 / 1e5,
            0.01,
        );
        assert_eq!(now.passed_kg.out_of_cap(Kind::DoubleActing), 0.0);
    }
}
