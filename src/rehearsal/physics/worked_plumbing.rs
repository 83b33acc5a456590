//! Worked examples of other kinds and other plumbing, computed apart from this room.
//!
//! Closed forms from continuity and the balance of forces; oil of 1.4 GPa, so a volume
//! flow and a mass-exact one differ by about Δp/K, a percent at most.

use super::worked_examples::free;
use super::worked_examples::ideal;
use super::worked_examples::near;
use super::worked_examples::run;
use super::*;
use crate::cylinder::Kind;
use crate::quantity::Length;
use crate::quantity::unit::meter;

const ML_MIN: f64 = 1e-6 / 60.0;

/// Mean flow in mL/min between two instants, of oil at a density.
fn ml_min(kg: f64, density: f64, seconds: f64) -> f64 {
    kg / density / seconds / ML_MIN
}

/// The 63/36 with 30 kN pushing in, 300 mm out of 400.
fn plough(kind: Kind) -> Specimen {
    let mut specimen = ideal(kind, 63.0, 36.0, 400.0, 20.0);
    specimen.motion = free(30e3, 0.0);
    specimen.start.p_cap_pa = 30e3 / specimen.cylinder.cap_area().value;
    specimen
}

/// Closed form u = Q/a (continuity): a ram loses oil at its gland and valve only.
#[test]
fn a_ram_sinks_by_what_its_gland_and_its_valve_pass() {
    for kind in [Kind::Plunger, Kind::TelescopicStage] {
        let mut specimen = plough(kind);
        specimen.ills.piston = Leak::laminar(50.0, 100.0);
        let p_bar = specimen.start.p_cap_pa / 1e5;
        specimen.ills.gland = Leak::laminar(0.8, p_bar);
        specimen.ills.cap_port = WayOut::Valve {
            fitting: Leak::NONE,
            valve: Leak::laminar(1.2, p_bar),
            relief: None,
        };
        let found = run(&specimen, &[0.0, 600.0]);
        let area_mm2 = specimen.cylinder.cap_area().value * 1e6;
        near(area_mm2, 1017.88, 0.01);
        let u = (found[0].x_m - found[1].x_m) * 1e3 / 10.0;
        near(u, 2.0e3 / area_mm2, 1e-3);
        near(found[1].p_rod_pa, 0.0, 1e-9);
        let truth = Run::of(&specimen, &[0.0, 600.0], crate::cylinder::Chamber::Cap)
            .expect("integrates")
            .truth(0.0, 600.0)
            .expect("both times");
        near(truth.mean.cap_loss / ML_MIN, 2.0, 0.005);
        near(truth.mean.gland / ML_MIN, 0.8, 0.002);
        near(truth.mean.bypass, 0.0, 1e-15);
    }
}

/// Closed form u = (bypass + valve)/A_c (continuity); what passed the piston is what the
/// breather gives, and its side has no pressure.
#[test]
fn a_vented_rod_side_gives_the_bypass_at_its_breather() {
    let mut specimen = plough(Kind::SingleActing);
    let p_bar = specimen.start.p_cap_pa / 1e5;
    specimen.ills.piston = Leak::laminar(2.0, p_bar);
    specimen.ills.gland = Leak::laminar(5.0, 10.0);
    specimen.ills.cap_port = WayOut::Plug(Leak::laminar(1.0, p_bar));
    let found = run(&specimen, &[0.0, 600.0]);
    let u = (found[0].x_m - found[1].x_m) * 1e3 / 10.0;
    near(u, 3.0 / 3.11725, 2e-3);
    near(found[1].p_rod_pa, 0.0, 1e-9);
    let passed = &found[1].passed_kg;
    near(passed.rod_valve / passed.piston, 1.0, 1e-12);
    near(passed.gland, 0.0, 1e-15);
}

/// Closed form q = bypass − A_r·u (continuity): the vessel at the open rod port of a
/// 63/36 shows a/A_c of the bypass, 32.7 %, and with a leaking valve it gives oil.
#[test]
fn a_vessel_at_the_rod_port_shows_the_bypass_less_what_the_rod_draws_in() {
    for (bypass, valve) in [(1.559, 0.0), (1.250, 0.309), (0.0, 1.559)] {
        let mut specimen = plough(Kind::DoubleActing);
        let p_bar = specimen.start.p_cap_pa / 1e5;
        specimen.ills.piston = Leak::laminar(bypass, p_bar);
        specimen.ills.rod_port = WayOut::Vessel;
        specimen.ills.cap_port = WayOut::Valve {
            fitting: Leak::NONE,
            valve: Leak::laminar(valve, p_bar),
            relief: None,
        };
        let found = run(&specimen, &[0.0, 600.0]);
        let u = (found[0].x_m - found[1].x_m) * 1e3 / 10.0;
        near(u, 0.5, 1e-3);
        let q = ml_min(found[1].passed_kg.rod_valve, found[1].density_rod, 600.0);
        // The cap side's oil is denser by p/K, 0.7 %.
        near(q, bypass * 1.007 - 2.09937 * u, 0.003);
    }
}

/// Closed form p_r = φ·p_c (balance of forces): 204.17 bar on a 63/45, and the rod creeps
/// out 3.11 mm by the squeeze of a 200 mm column and 20 mL, then stands.
#[test]
fn a_tight_piston_on_a_supplied_cap_side_raises_the_rod_side_and_stands() {
    let mut specimen = supplied_63_45();
    let found = run(&specimen, &[0.0, 600.0, 1200.0]);
    near(found[1].p_rod_pa / 1e5, 204.17, 0.01);
    // Rate form V·p/(K·A); the volume shrinks on the way, so 0.7 % less.
    near((found[1].x_m - 0.2) * 1e3, 3.11 - 0.025, 0.01);
    near((found[2].x_m - found[1].x_m) * 1e3, 0.0, 1e-5);
    // A leaking plug alone lets that pressure fall, and the rod creeps by what it loses.
    specimen.ills.rod_port = WayOut::Plug(Leak::laminar(0.5, 204.17));
    let found = run(&specimen, &[0.0, 600.0, 1200.0]);
    let u = (found[2].x_m - found[1].x_m) * 1e3 / 10.0;
    near(u, 0.5 / 1.52681, 2e-3);
}

/// Closed form u = G·(φ − 1)·p_c/A_r: 1.042 mL/min and 0.682 mm/min outwards for 1 mL/min
/// by 100 bar (worked example, computed).
#[test]
fn a_leaking_piston_on_a_supplied_cap_side_lets_the_rod_creep_out() {
    let mut specimen = supplied_63_45();
    specimen.ills.piston = Leak::laminar(1.0, 100.0);
    let found = run(&specimen, &[0.0, 600.0, 1200.0]);
    let u = (found[2].x_m - found[1].x_m) * 1e3 / 10.0;
    near(u, 0.682, 0.002);
    let back = found[1].passed_kg.piston - found[2].passed_kg.piston;
    near(ml_min(back, found[2].density_rod, 600.0), 1.042, 0.003);
}

fn supplied_63_45() -> Specimen {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 45.0, 400.0, 20.0);
    specimen.motion = free(0.0, 0.0);
    specimen.start.x_m = 0.2;
    specimen.ills.cap_port = WayOut::supply(100e5);
    specimen
}

/// Closed form (continuity and forces): both ports fed from one supply past a worn spool,
/// no load: u = G·p_s·(φ − 1)/(φ·A_c + A_r), outwards.
#[test]
fn one_supply_on_both_sides_creeps_the_rod_out() {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.motion = free(0.0, 0.0);
    specimen.start.x_m = 0.2;
    specimen.start.p_cap_pa = 100e5 * 2099.37 / 3117.25;
    specimen.start.p_rod_pa = 100e5;
    let by_pa = ML_MIN / 50e5;
    let line = WayOut::Line {
        line_pa: 100e5,
        through: Leak::laminar(1.0, 50.0),
    };
    specimen.ills.cap_port = line;
    specimen.ills.rod_port = line;
    let found = run(&specimen, &[0.0, 6000.0, 6600.0]);
    let (a_c, a_r) = (3117.25e-6, 2099.37e-6);
    let phi = a_c / a_r;
    let expected = by_pa * 100e5 * (phi - 1.0) / (phi * a_c + a_r);
    let u = (found[2].x_m - found[1].x_m) / 600.0;
    near(u / expected, 1.0, 0.01);
    near(found[2].p_rod_pa / found[2].p_cap_pa, phi, 1e-3);
}

/// Closed form (worked example, computed): a line relief at 200 bar, 2.273 mm/min and
/// 2.314 mL/min through it.
#[test]
fn a_line_relief_makes_the_drift_steady() {
    let mut specimen = plough(Kind::DoubleActing);
    specimen.ills.piston = Leak::laminar(10.0, 96.239);
    specimen.ills.cap_port = WayOut::Valve {
        fitting: Leak::NONE,
        valve: Leak::NONE,
        relief: Some(Relief {
            opens_at_pa: 200e5,
            slope_m3_per_s_pa: 1e-10,
        }),
    };
    let found = run(&specimen, &[0.0, 1200.0, 1800.0]);
    let u = (found[1].x_m - found[2].x_m) * 1e3 / 10.0;
    near(u, 2.273, 0.03);
    let out = found[2].passed_kg.cap_valve - found[1].passed_kg.cap_valve;
    near(ml_min(out, found[2].density_cap, 600.0), 2.314, 0.03);
}

/// Nothing drives oil past the piston between equal pressures, whatever its seal: what the
/// gland lost left the rod side alone until that made a difference.
#[test]
fn with_both_sides_at_one_pressure_only_the_ways_out_lose_oil() {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.start.p_cap_pa = 96e5;
    specimen.start.p_rod_pa = 96e5;
    specimen.ills.piston = Leak::laminar(2.0, 96.0);
    let found = run(&specimen, &[0.0, 600.0]);
    near(found[1].passed_kg.piston, 0.0, 1e-12);
    near(found[1].p_cap_pa, 96e5, 1.0);
    specimen.ills.gland = Leak::laminar(1.0, 96.0);
    let found = run(&specimen, &[0.0, 60.0]);
    let volume = specimen
        .cylinder
        .volume(crate::cylinder::Chamber::Rod, Length::new::<meter>(0.3));
    // 1 mL/min for a minute from 230 mL of 1.4 GPa is 61 bar, less what both weaken it by.
    let rate_form_pa = 1e-6 * 1.4e9 / volume.value;
    let fell = found[0].p_rod_pa - found[1].p_rod_pa;
    assert!((0.4..0.9).contains(&(fell / rate_form_pa)), "{fell}");
    assert!(found[1].passed_kg.piston > 0.0);
}
