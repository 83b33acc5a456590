//! Areas, volumes and pressures against circles worked by hand and published ratios.
//!
//! Values marked as computed were worked out apart from this program.

use super::*;
use crate::quantity::unit::kilonewton;
use crate::quantity::unit::square_millimeter;

fn cylinder(bore_mm: f64, rod_mm: f64, wall_mm: f64) -> Cylinder {
    built(Kind::DoubleActing, bore_mm, rod_mm, wall_mm)
}

fn built(kind: Kind, bore_mm: f64, rod_mm: f64, wall_mm: f64) -> Cylinder {
    let mm = Length::new::<millimeter>;
    let dead = Volume::new::<milliliter>(20.0);
    let size = Dimensions {
        bore: mm(bore_mm),
        rod: mm(rod_mm),
        stroke: mm(400.0),
        wall: Some(mm(wall_mm)),
        cap_dead_volume: dead,
        rod_dead_volume: dead,
    };
    Cylinder::new(kind, size).expect("fits")
}

/// Areas and volumes of the worked example 63/36: circle areas, computed.
#[test]
fn the_63_36_cylinder_has_its_textbook_areas_and_volumes() {
    let c = cylinder(63.0, 36.0, 5.0);
    let near =
        |a: f64, b: f64, tolerance: f64| assert!((a - b).abs() < tolerance, "{a} is not {b}");
    near(c.cap_area().get::<square_millimeter>(), 3117.25, 0.005);
    near(c.rod_area().get::<square_millimeter>(), 1017.88, 0.005);
    near(c.annulus_area().get::<square_millimeter>(), 2099.37, 0.005);
    let x = Length::new::<millimeter>(300.0);
    near(
        c.volume(Chamber::Cap, x).get::<milliliter>(),
        955.174,
        0.001,
    );
    near(
        c.volume(Chamber::Rod, x).get::<milliliter>(),
        229.937,
        0.001,
    );
    let met = c
        .met_pressure(Force::new::<kilonewton>(30.0))
        .expect("has a rod");
    near(met.bar(), 294.731, 0.001);
}

/// Ratios of ISO 3320 bore and rod pairs, computed.
#[test]
fn intensification_is_the_ratio_of_areas() {
    for (bore, rod, ratio) in [
        (40.0, 22.0, 1.434),
        (40.0, 28.0, 1.961),
        (50.0, 28.0, 1.457),
        (50.0, 36.0, 2.076),
        (63.0, 36.0, 1.485),
        (63.0, 45.0, 2.042),
        (80.0, 45.0, 1.463),
        (80.0, 56.0, 1.961),
        (100.0, 56.0, 1.457),
        (100.0, 70.0, 1.961),
        (125.0, 70.0, 1.457),
        (125.0, 90.0, 2.076),
    ] {
        let found = cylinder(bore, rod, 5.0)
            .intensification()
            .expect("has a rod side");
        assert!((found - ratio).abs() < 5e-4, "{bore}/{rod}: {found}");
    }
}

/// Trade: 2000 psi come out as 20 000 psi behind the thin annulus of a telescopic ram.
#[test]
fn a_thin_annulus_multiplies_pressure_by_ten() {
    let ratio = cylinder(100.0, 94.9, 5.0)
        .intensification()
        .expect("has a rod side");
    assert!((ratio - 10.0).abs() < 0.1, "{ratio}");
}

/// 63/45 at 100 bar with the rod port shut: 204.17 bar; a rod end for 250 bar allows
/// 122.4 bar (closed form, computed).
#[test]
fn the_rod_end_limits_what_may_be_put_on_the_cap_end() {
    let c = cylinder(63.0, 45.0, 5.0);
    let bar = GaugePressure::from_bar;
    let none = Force::new::<kilonewton>(0.0);
    let rod = c
        .driven_pressure(Chamber::Rod, bar(100.0), none)
        .expect("a rod side");
    assert!((rod.bar() - 204.17).abs() < 0.01, "{rod:?}");
    let limit = c.cap_limit(bar(250.0)).expect("a rod side");
    assert!((limit.bar() - 122.4).abs() < 0.06, "{limit:?}");
    // A load that pushes in goes with the rod end's pressure against the cap end's.
    let load = Force::new::<kilonewton>(30.0);
    let cap = c
        .driven_pressure(Chamber::Cap, bar(100.0), load)
        .expect("a cap side");
    let by_hand = (100e5 * c.annulus_area().value + 30e3) / c.cap_area().value;
    assert!((cap.pa() / by_hand - 1.0).abs() < 1e-12);
}

/// What moves is what is pushed: areas of circles, by hand.
#[test]
fn each_kind_pushes_with_its_own_area_and_says_what_it_cannot_do() {
    let bore = 3117.25;
    let rod = 1017.88;
    let load = Force::new::<kilonewton>(30.0);
    for (kind, cap, annulus, chambers) in [
        (Kind::DoubleActing, bore, bore - rod, 2),
        (Kind::DoubleRod, bore - rod, bore - rod, 2),
        (Kind::SingleActing, bore, bore - rod, 1),
        (Kind::Plunger, rod, 0.0, 1),
        (Kind::TelescopicStage, rod, 0.0, 1),
    ] {
        let c = built(kind, 63.0, 36.0, 5.0);
        assert!(
            (c.cap_area().get::<square_millimeter>() - cap).abs() < 0.01,
            "{kind:?}"
        );
        assert!((c.annulus_area().get::<square_millimeter>() - annulus).abs() < 0.01);
        assert_eq!(kind.chambers().len(), chambers, "{kind:?}");
        assert_eq!(c.intensification().is_some(), chambers == 2, "{kind:?}");
        assert_eq!(c.met_pressure(load).is_some(), kind == Kind::DoubleActing);
        assert_eq!(
            c.holding_pressure(Chamber::Rod, load).is_some(),
            chambers == 2
        );
    }
    // Oil of a telescopic stage: what was there before, and what its area sweeps.
    let stage = built(Kind::TelescopicStage, 63.0, 36.0, 5.0);
    let out = stage.volume(Chamber::Cap, Length::new::<millimeter>(100.0));
    assert!((out.get::<milliliter>() - 20.0 - 101.788).abs() < 1e-3);
}

/// Lamé's thick tube with open ends, E 206 GPa, ν 0.3 (computed); a thin one is E·t/D.
#[test]
fn a_steel_tube_has_the_wall_stiffness_of_its_thickness() {
    for (bore, wall, gpa) in [
        (40.0, 5.0, 21.21),
        (50.0, 5.0, 17.62),
        (63.0, 5.0, 14.43),
        (80.0, 6.0, 13.73),
        (100.0, 7.5, 13.73),
    ] {
        let stiffness = cylinder(bore, 20.0, wall)
            .wall_stiffness()
            .expect("wall given");
        assert!(
            (stiffness.value / 1e9 - gpa).abs() < 0.005,
            "{}",
            stiffness.value
        );
    }
    let thin = cylinder(100.0, 20.0, 0.1).wall_stiffness().expect("given");
    assert!((thin.value / (206e9 * 0.1 / 100.0) - 1.0).abs() < 0.003);
}

#[test]
fn a_wall_of_nothing_and_a_negative_volume_are_refused() {
    let size = *cylinder(63.0, 36.0, 5.0).size();
    let no_wall = Dimensions {
        wall: Some(Length::new::<millimeter>(0.0)),
        ..size
    };
    let negative = Dimensions {
        rod_dead_volume: Volume::new::<milliliter>(-1.0),
        ..size
    };
    for (wrong, part) in [(no_wall, "wall"), (negative, "rod_dead_volume")] {
        let message = Cylinder::new(Kind::DoubleActing, wrong)
            .expect_err(part)
            .to_string();
        assert!(message.contains(part), "{message}");
    }
}

#[test]
fn a_rod_as_thick_as_the_bore_is_refused() {
    let size = *cylinder(63.0, 36.0, 5.0).size();
    let swapped = Dimensions {
        bore: size.rod,
        rod: size.bore,
        ..size
    };
    assert!(matches!(
        Cylinder::new(Kind::DoubleActing, swapped),
        Err(CylinderError::RodTooThick { .. })
    ));
}
