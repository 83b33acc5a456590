//! Oil by hand: volume by pressure by stiffness.

use super::*;
use crate::account::Stated;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Cylinder;
use crate::cylinder::Dimensions;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::oil::Oil;
use crate::quantity::Expansion;
use crate::quantity::Pressure;
use crate::quantity::Viscosity;
use crate::quantity::Volume;
use crate::quantity::unit::gigapascal;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;

const ML: f64 = 1e-6;

fn subject(bore_mm: f64, hose_ml: f64) -> Subject {
    let mm = Length::new::<millimeter>;
    let size = Dimensions {
        bore: mm(bore_mm),
        rod: mm(14.0),
        stroke: mm(400.0),
        wall: Some(mm(5.0)),
        cap_dead_volume: Volume::new::<milliliter>(20.0),
        rod_dead_volume: Volume::new::<milliliter>(20.0),
    };
    let oil = Oil::new(
        "VG 46".into(),
        Viscosity::from_mm2_per_s(46.0),
        Viscosity::from_mm2_per_s(6.8),
        Expansion::from_per_kelvin(7e-4),
        Pressure::new::<gigapascal>(1.6),
    );
    Subject {
        piece: Piece::Cylinder(Cylinder::new(Kind::DoubleActing, size).expect("sizes")),
        fluid: Fluid::Oil(oil.expect("an oil")),
        circuit: Circuit {
            cap_hose: Volume::new::<milliliter>(hose_ml),
            ..Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Locked)
        },
        by_eye: None,
        stated: Stated::default(),
    }
}

/// From 158 to 16 bar at once, in the middle of the stroke, at the temperature of the data sheet.
fn course() -> LetOff {
    LetOff {
        chamber: Chamber::Cap,
        from_pa: 158e5,
        to_pa: 16e5,
        x_m: 0.2,
        oil_k: Some(313.15),
        took_s: 0.0,
        falls_pa_per_s: 0.0,
        mean_part: 0.5,
        pressure: SensorErrors {
            zero_si: 0.05e5,
            span_relative: 1e-3,
            zero_si_per_k: 0.0,
        },
        x_standard_m: 0.5e-3,
    }
}

fn found(subject: &Subject, course: &LetOff) -> (f64, f64) {
    let found = let_off(subject, course).expect("a cylinder with oil");
    (found.value_si / ML, found.standard_si / ML)
}

/// 643.5 mL by 142 bar by 1.6 GPa are 5.711 mL; the oil is denser by half a per cent while it is
/// pressed together, so as much more comes out (computed).
#[test]
fn a_stiff_chamber_gives_volume_by_pressure_by_stiffness() {
    let stiff = Supposed {
        law: AeratedOil {
            stiffness_pa: 1.6e9,
            stiffening: 0.0,
            air: 0.0,
            air_exponent: AIR_IN_A_HOLD,
        },
        wall_pa: f64::INFINITY,
        hose_m3: 0.0,
        hose_pa: HOSE_STIFFNESS_PA,
        chamber_m3: 643.5 * ML,
        expansion_per_k: 7e-4,
        warmed: 0.0,
        pressures_pa: [158e5, 16e5],
    };
    let by_hand = 643.5 * 142e5 / 1.6e9;
    let dense = 1.0 + 87e5 / 1.6e9;
    let found = stiff.let_off_m3() / ML;
    assert!((found / (by_hand * dense) - 1.0).abs() < 1e-4, "{found}");
    // All the cold of 142 bar, 1.89 K, gone again lets 7e-4 of it by kelvin more out: 0.85 mL.
    let warm = Supposed {
        warmed: 1.0,
        ..stiff
    };
    let more = warm.let_off_m3() / ML - found;
    assert!((more - 0.85).abs() < 0.02, "{more}");
}

/// The same cylinder with all that the account expects: the oil is stiffer by ten times the mean of
/// 87 bar (5.42 mL), the wall of 5 mm gives as much as 14.4 GPa (0.63 mL), and 0.6 % of air at the
/// atmosphere is let out of 159 to 17 bar absolute (0.21 mL): 6.3 mL (computed by hand).
#[test]
fn wall_air_and_hose_add_what_they_give_way() {
    let (plain, standard) = found(&subject(63.0, 0.0), &course());
    assert!((plain - 6.3).abs() < 0.15, "{plain}");
    // Oil 8 % of 5.4, air as much again as there is, a wall 15 %, a fifth of 20 mL.
    assert!((0.4..0.7).contains(&standard), "{standard}");
    // 50 mL of hose: 3.55 mL by its own softness, 0.45 by its oil.
    let (with_hose, unsure) = found(&subject(63.0, 50.0), &course());
    assert!((with_hose - plain - 4.0).abs() < 0.15, "{with_hose}");
    assert!((1.5..2.0).contains(&unsure), "{unsure}");
}

/// 24.8 mm written for 63 mm: 96.6 of 623.4 mL are swept, 116.6 of 643.4 in all.
#[test]
fn a_bore_that_is_written_too_small_gives_too_little_oil() {
    let (right, _) = found(&subject(63.0, 0.0), &course());
    let (wrong, standard) = found(&subject(24.8, 0.0), &course());
    assert!(
        (wrong / right - 116.6 / 643.4).abs() < 0.02,
        "{wrong} {right}"
    );
    assert!(standard < 0.3, "{standard}");
}

/// 0.6 bar/min for 30 s at half of the pressure are 0.15 bar: 6.7 µL of 44.5 by bar (computed).
#[test]
fn what_leaks_meanwhile_is_not_in_the_glass() {
    let leaking = LetOff {
        took_s: 30.0,
        falls_pa_per_s: 0.6e5 / 60.0,
        ..course()
    };
    let tight = LetOff {
        falls_pa_per_s: 0.0,
        ..leaking
    };
    let of = |course: &LetOff| found(&subject(63.0, 0.0), course);
    let (less, more) = (of(&leaking), of(&tight));
    assert!(
        (more.0 - less.0 - 0.0064).abs() < 0.0008,
        "{less:?} {more:?}"
    );
    assert!(less.1 > more.1);
    // A side that seems to gain oil lets none in.
    let gaining = LetOff {
        falls_pa_per_s: -1e3,
        ..leaking
    };
    assert_eq!(of(&gaining), more);
}

/// Air at the atmosphere by the volume, 3.9 mL: nothing that is let off to zero says anything of a
/// bore.
#[test]
fn what_is_let_off_to_nothing_is_hardly_known() {
    let (_, to_a_tenth) = found(&subject(63.0, 0.0), &course());
    let to_nothing = LetOff {
        to_pa: 0.0,
        ..course()
    };
    let (_, standard) = found(&subject(63.0, 0.0), &to_nothing);
    assert!(standard > 3.5 && to_a_tenth < 0.7, "{standard}");
}

#[test]
fn a_chamber_without_oil_lets_none_off() {
    let gas = Subject {
        fluid: Fluid::Gas,
        ..subject(63.0, 0.0)
    };
    assert_eq!(let_off(&gas, &course()), None);
}
