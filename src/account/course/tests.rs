//! The numerical course against worked examples and closed forms.
//!
//! The worked examples are in the volumetric rate form (a flow has one volume on both
//! sides), K = 1.4 GPa, dead volume included, computed independently; the course conserves
//! mass, which sinks about Δp/K less: 17.92 mm for their 18.06 mm.

use super::*;
use crate::account::blocked;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::quantity::Force;
use crate::quantity::GaugePressure;
use crate::quantity::Pressure;
use crate::quantity::Volume;
use crate::quantity::VolumeRate;
use crate::quantity::unit::cubic_meter_per_second;
use crate::quantity::unit::gigapascal;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;
use crate::quantity::unit::newton;

const ML_MIN: f64 = 1e-6 / 60.0;
const MM_MIN: f64 = 1e-3 / 60.0;
const HOUR: f64 = 3600.0;

fn cylinder(kind: Kind, bore_rod_stroke_mm: [f64; 3], dead_ml: f64) -> Cylinder {
    let mm = Length::new::<millimeter>;
    let dead = Volume::new::<milliliter>(dead_ml);
    let [bore, rod, stroke] = bore_rod_stroke_mm.map(mm);
    let size = Dimensions {
        bore,
        rod,
        stroke,
        wall: None,
        cap_dead_volume: dead,
        rod_dead_volume: dead,
    };
    Cylinder::new(kind, size).expect("fits")
}

fn side(bar: f64) -> Side {
    Side {
        pressure_pa: bar * 1e5,
        oil: AeratedOil {
            stiffness_pa: 1.4e9,
            stiffening: 0.0,
            air: 0.0,
            air_exponent: AIR_IN_A_HOLD,
        },
        give_per_pa: 0.0,
        extra_m3: 0.0,
        is_open: false,
        opens_at_pa: None,
        warmer_k: 0.0,
    }
}

/// A leak of so much, driven by so much.
fn leak(ml_min: f64, bar: f64) -> Leak {
    Leak {
        flow_m3_s: ml_min * ML_MIN,
        driven_by_pa: bar * 1e5,
        exponent: 1.0,
    }
}

fn standing(cylinder: &Cylinder, x_mm: f64, cap_bar: f64, rod_bar: f64) -> Standing<'_> {
    Standing {
        cylinder,
        x_m: x_mm * 1e-3,
        is_locked: false,
        cap: side(cap_bar),
        rod: side(rod_bar),
        piston: TIGHT,
        cap_out: TIGHT,
        rod_out: TIGHT,
        swelling_per_k: 0.0,
        heat_time_s: 0.0,
    }
}

fn first() -> Cylinder {
    cylinder(Kind::DoubleActing, [63.0, 36.0, 400.0], 20.0)
}

/// Example 1: 63/36, 30 kN, 300/100 mm, 10 mL/min at the start.
fn example_1(cylinder: &Cylinder) -> Standing<'_> {
    let p0 = 30e3 / cylinder.cap_area().value / 1e5;
    Standing {
        piston: leak(10.0, p0),
        ..standing(cylinder, 300.0, p0, 0.0)
    }
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{found} is not {expected} ± {tolerance}"
    );
}

/// Example 1 on its way: mm to 1 % of the whole movement, bar to 1 % of the final pressure
/// (the two forms differ by as much); its end mass-exact: 17.92 mm, 294.731 bar.
#[test]
fn a_leaking_piston_lets_the_rod_sink_and_stop_as_in_the_worked_example() {
    let cylinder = first();
    let course = example_1(&cylinder).follow(24.0 * HOUR);
    for (time_s, cap, rod, sink) in [
        (60.0, 137.6, 61.4, 3.760),
        (300.0, 232.5, 202.4, 12.402),
        (600.0, 275.1, 265.5, 16.272),
        (1200.0, 292.8, 291.8, 17.881),
    ] {
        let at = course.at(time_s);
        near((0.3 - at.x_m) * 1e3, sink, 0.18);
        near(at.p_cap_pa / 1e5, cap, 3.0);
        near(at.p_rod_pa / 1e5, rod, 3.0);
    }
    let last = course.last();
    assert_eq!(course.end, End::Rest);
    near((0.3 - last.x_m) * 1e3, 17.92, 0.03);
    near(last.p_cap_pa / 1e5, 294.731, 0.1);
    near(last.p_rod_pa / 1e5, 294.731, 0.3);
}

/// Example 4: 80/56, 60 kN, 400/200 mm, 5 mL/min: 243.605 bar, 11.186 mm.
#[test]
fn a_larger_cylinder_stops_as_in_its_worked_example() {
    let cylinder = cylinder(Kind::DoubleActing, [80.0, 56.0, 600.0], 30.0);
    let p0 = 60e3 / cylinder.cap_area().value / 1e5;
    let course = Standing {
        piston: leak(5.0, p0),
        ..standing(&cylinder, 400.0, p0, 0.0)
    }
    .follow(48.0 * HOUR);
    let last = course.last();
    near((0.4 - last.x_m) * 1e3, 11.186, 0.11);
    near(last.p_cap_pa / 1e5, 243.605, 0.1);
    assert_eq!(course.end, End::Rest);
}

/// The closed form linearises the volumes; for a stiff oil the course goes over into it.
#[test]
fn a_stiff_oil_follows_the_closed_form() {
    let cylinder = first();
    let mut start = example_1(&cylinder);
    for side in [&mut start.cap, &mut start.rod] {
        side.oil.stiffness_pa = 140e9;
    }
    let closed = blocked(
        &cylinder,
        Force::new::<newton>(30e3),
        Length::new::<millimeter>(300.0),
        Pressure::new::<gigapascal>(140.0),
        VolumeRate::new::<cubic_meter_per_second>(10.0 * ML_MIN),
        GaugePressure::from_pa(start.cap.pressure_pa),
    );
    let rest = closed.rest.expect("comes to rest");
    let course = start.follow(HOUR);
    let sink = 0.3 - course.last().x_m;
    near(sink / rest.sink.value, 1.0, 2e-3);
    let time = course.time_of_part(1.0 - (-1.0f64).exp());
    near(time / rest.time_constant.value, 1.0, 1e-2);
    let speed = (course.moments[0].x_m - course.moments[1].x_m) / course.moments[1].time_s;
    assert!(speed < closed.first_speed.value);
    near(speed / closed.first_speed.value, 1.0, 0.2);
}

/// Friction of 1.5 kN carries part of the load: the rod stops at 280.0 bar.
#[test]
fn with_part_of_the_load_on_its_seals_the_rod_stops_at_280_bar() {
    let cylinder = first();
    let p0 = 28.5e3 / cylinder.cap_area().value / 1e5;
    let course = Standing {
        piston: leak(10.0, p0),
        ..standing(&cylinder, 300.0, p0, 0.0)
    }
    .follow(24.0 * HOUR);
    near(course.last().p_cap_pa / 1e5, 280.0, 0.1);
}

/// Locked rod: the pressures meet at p0·Vc/(Vc + Vr) = 77.57 bar.
#[test]
fn with_a_locked_rod_the_pressures_meet_in_between() {
    let cylinder = first();
    let course = Standing {
        is_locked: true,
        ..example_1(&cylinder)
    }
    .follow(24.0 * HOUR);
    let last = course.last();
    near(last.x_m, 0.3, 0.0);
    near(last.p_cap_pa / 1e5, 77.57, 0.4);
    near(last.p_rod_pa / 1e5, 77.57, 0.4);
}

/// A valve on the cap port below F/a: drift is steady. Counterbalance at 1.3 p0 = 125.11 bar:
/// rod side 42.87 bar, 4.070 mm/min; line relief at 200 bar: 2.273 mm/min.
#[test]
fn a_valve_that_opens_first_makes_the_drift_steady() {
    let cylinder = first();
    for (opens_bar, rod_bar, mm_min) in [(125.11, 42.87, 4.070), (200.0, 154.07, 2.273)] {
        let mut start = example_1(&cylinder);
        start.cap.opens_at_pa = Some(opens_bar * 1e5);
        let course = start.follow(2000.0);
        let last = course.last();
        assert_eq!(course.end, End::GoesOn);
        near(last.p_cap_pa / 1e5, opens_bar, 1e-6);
        near(last.p_rod_pa / 1e5, rod_bar, 0.1);
        // A flow at the load pressure is more volume on the way at lower pressure.
        near(-course.last_speed() / MM_MIN, mm_min, 0.01 * mm_min);
    }
}

/// Example 2: 10 kN hanging, cap side void at −0.96 bar: 46.204 bar, 9.902 mL/min (the leak
/// is 10 mL/min at 47.6 bar), 4.717 mm/min to the end of the stroke.
#[test]
fn a_hanging_load_sinks_without_end() {
    let cylinder = first();
    let start = Standing {
        piston: leak(-9.902, -47.164),
        ..standing(&cylinder, 200.0, -0.96, 46.204)
    };
    let course = start.follow(600.0);
    assert_eq!(course.end, End::GoesOn);
    near(course.last_speed() / MM_MIN, 4.717, 0.005);
    near(course.last().p_cap_pa / 1e5, -0.96, 1e-9);
    near(course.last().p_rod_pa / 1e5, 46.204, 0.02);
    assert_eq!(start.follow(24.0 * HOUR).end, End::StrokeEnd);
}

/// The same from the moment the cap side still has the atmosphere in it: it is drawn empty
/// first, and the drift is the same in the end.
#[test]
fn a_hanging_load_draws_the_cap_side_empty() {
    let cylinder = first();
    let start = Standing {
        piston: leak(-10.0, -47.633),
        ..standing(&cylinder, 200.0, 0.0, 47.633)
    };
    let course = start.follow(600.0);
    near(course.last_speed() / MM_MIN, 4.717, 0.005);
    near(course.last().p_rod_pa / 1e5, 46.204, 0.02);
}

/// Example 3: double rod 50/28, 8 kN, 2 mL/min: 1.484 mm/min, the difference constant.
#[test]
fn a_double_rod_goes_on_to_the_end_of_its_stroke() {
    let cylinder = cylinder(Kind::DoubleRod, [50.0, 28.0, 400.0], 20.0);
    let start = Standing {
        piston: leak(2.0, 59.358),
        ..standing(&cylinder, 200.0, 59.358 + 15.0, 15.0)
    };
    let course = start.follow(600.0);
    near(-course.last_speed() / MM_MIN, 1.484, 0.005);
    near(
        (course.last().p_cap_pa - course.last().p_rod_pa) / 1e5,
        59.358,
        1e-3,
    );
    let whole = start.follow(24.0 * HOUR);
    assert_eq!(whole.end, End::StrokeEnd);
    near(whole.last().time_s, 200.0 / 1.484 * 60.0, 60.0);
}

/// Oil that leaves at the cap plug draws the rod side empty: u = Q/A_c, without end. Mass
/// balance: 1 mL/min on 3117 mm² are 0.3208 mm/min.
#[test]
fn oil_that_leaves_at_the_cap_plug_lets_the_rod_sink_on() {
    let cylinder = first();
    let start = Standing {
        cap_out: leak(1.0, 96.239),
        ..standing(&cylinder, 300.0, 96.239, 0.0)
    };
    let course = start.follow(12.0 * HOUR);
    assert_eq!(course.end, End::GoesOn);
    near(course.last().p_rod_pa, EMPTY_PA, 1e-6);
    // The empty rod side pulls with the atmosphere: the cap side has a little less to carry.
    near(-course.last_speed() / MM_MIN, 0.3208, 0.004);
}

/// A piston and a gland that both leak: in the end u = Q_ext/a, small leak, large movement.
#[test]
fn a_gland_behind_a_leaking_piston_sets_the_speed_by_the_rod_area() {
    let cylinder = first();
    let start = Standing {
        rod_out: Leak {
            flow_m3_s: 0.05 * ML_MIN,
            driven_by_pa: 294.731e5,
            exponent: 0.5,
        },
        ..example_1(&cylinder)
    };
    let course = start.follow(6.0 * HOUR);
    // 0.05 mL/min on a 36 mm rod are 0.0491 mm/min. Under 290 bar that mass is 2.1 % less
    // volume, and the piston must pass 0.15 mL/min (A_c·u): its 1.45 bar leave the rod side
    // 290.3 bar, by whose root the gland leaks (mass balance, by hand): 0.0477 mm/min.
    near(-course.last_speed() / MM_MIN, 0.0477, 0.0002);
}

/// Trapped oil loses K·α by kelvin: 10 bar with K 1.5 GPa and 6.65e-4 1/K (computed); a held
/// column shrinks L·α: 300 mm with 2 mm for 10 K.
#[test]
fn cooling_lowers_a_locked_chamber_by_ten_bar_by_kelvin_and_shortens_a_column() {
    let cylinder = cylinder(Kind::DoubleActing, [63.0, 36.0, 400.0], 0.0);
    let mut start = standing(&cylinder, 300.0, 200.0, 0.0);
    start.cap.oil.stiffness_pa = 1.5e9;
    start.rod.is_open = true;
    start.swelling_per_k = 6.65e-4;
    start.is_locked = true;
    let lost = (200e5 - start.cooled(1.0).p_cap_pa) / 1e5;
    near(lost, 10.0, 0.03);
    start.is_locked = false;
    let cooled = start.cooled(10.0);
    near((0.3 - cooled.x_m) * 1e3, 2.0, 0.02);
    near(cooled.p_cap_pa / 1e5, 200.0, 1e-4);
}

/// Oil that is 5 K warmer than the wall gets there, and the tight chamber loses what that is.
#[test]
fn a_tight_chamber_ends_where_its_heat_is_gone() {
    let cylinder = first();
    let mut start = standing(&cylinder, 300.0, 200.0, 0.0);
    (start.is_locked, start.rod.is_open) = (true, true);
    (start.swelling_per_k, start.heat_time_s) = (6.65e-4, 900.0);
    start.cap.warmer_k = 5.0;
    let course = start.follow(12.0 * HOUR);
    assert_eq!(course.end, End::Rest);
    // The pressing heat leaves as well: 47 bar less are 0.6 K colder, which then comes back.
    let cold = start.cooled(5.0).p_cap_pa;
    let last = course.last().p_cap_pa;
    assert!(
        last > cold && last < 200e5 - 0.85 * (200e5 - cold),
        "{last} {cold}"
    );
}

/// No oil is made or lost: what both sides hold changes by what has left.
#[test]
fn mass_is_conserved_whatever_the_laws() {
    let cylinder = first();
    for exponent in [0.5, 0.8, 1.0, 1.5] {
        let mut start = example_1(&cylinder);
        start.piston.exponent = exponent;
        start.cap.oil.air = 0.01;
        start.rod.oil.air = 0.01;
        let course = start.follow(6.0 * HOUR);
        assert_eq!(course.end, End::Rest, "{exponent}");
        let held = |m: Moment| {
            start.volume(Chamber::Cap, m.x_m) * pressed(&start.cap, m.p_cap_pa).exp()
                + start.volume(Chamber::Rod, m.x_m) * pressed(&start.rod, m.p_rod_pa).exp()
        };
        let (first, last) = (held(course.moments[0]), held(course.last()));
        near(last / first, 1.0, 1e-9);
    }
}
