//! Where a blocked cylinder with a leaking piston comes to rest, in closed form.
//!
//! Both ports shut, laminar bypass, constant stiffness, no friction. Derived from
//! continuity of both chambers and the balance of forces (as in Merritt, Hydraulic
//! Control Systems, ch. 3), in the volumetric rate form: about Δp/K above the
//! mass-exact movement.

use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::quantity::Force;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Pressure;
use crate::quantity::Time;
use crate::quantity::Velocity;
use crate::quantity::VolumeRate;
use crate::quantity::unit::meter;
use crate::quantity::unit::meter_per_second;
use crate::quantity::unit::second;

/// What happens to a blocked cylinder if the bypass goes on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blocked {
    /// Speed of the rod at the start, positive inwards.
    pub first_speed: Velocity,
    /// How it comes to rest; None if it never does.
    pub rest: Option<Rest>,
}

/// The rest a blocked cylinder comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// How far the rod sinks in all.
    pub sink: Length,
    /// Time constant of the approach.
    pub time_constant: Time,
    /// Pressure in both chambers then.
    pub pressure: GaugePressure,
}

/// Forecast for a load that pushes in, both ports shut, from the extension `x` with
/// the bypass `flow` at the pressure difference `across`.
pub fn blocked(
    cylinder: &Cylinder,
    load: Force,
    x: Length,
    stiffness: Pressure,
    flow: VolumeRate,
    across: GaugePressure,
) -> Blocked {
    let (area_cap, area_rod) = (cylinder.cap_area(), cylinder.annulus_area());
    let (v_cap, v_rod) = (
        cylinder.volume(Chamber::Cap, x),
        cylinder.volume(Chamber::Rod, x),
    );
    let speed_per_flow = (area_cap / v_cap + area_rod / v_rod)
        / (area_cap * area_cap / v_cap + area_rod * area_rod / v_rod);
    let first_speed = Velocity::new::<meter_per_second>((flow * speed_per_flow).value);
    let pressure = match cylinder.kind() {
        Kind::DoubleActing => cylinder.met_pressure(load),
        // Equal areas cannot carry a load with equal pressures.
        Kind::DoubleRod | Kind::SingleActing | Kind::Plunger | Kind::TelescopicStage => None,
    };
    let rest = pressure.map(|pressure| {
        let rod = cylinder.rod_area().value;
        let (c, r) = (area_cap.value, area_rod.value);
        let conductance = flow.value / across.pa();
        let stored = c * c * v_rod.value + r * r * v_cap.value;
        let tau = stored / (stiffness.value * conductance * rod * rod);
        let sink =
            load.value / c * (c * v_rod.value + r * v_cap.value) / (stiffness.value * rod * rod);
        Rest {
            sink: Length::new::<meter>(sink),
            time_constant: Time::new::<second>(tau),
            pressure,
        }
    });
    Blocked { first_speed, rest }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cylinder::Dimensions;
    use crate::quantity::Volume;
    use crate::quantity::unit::gigapascal;
    use crate::quantity::unit::kilonewton;
    use crate::quantity::unit::milliliter;
    use crate::quantity::unit::milliliter_per_minute;
    use crate::quantity::unit::millimeter;

    struct Case {
        kind: Kind,
        bore_rod_stroke_x_mm: [f64; 4],
        dead_ml: f64,
        load_kn: f64,
        flow_ml_min: f64,
    }

    fn run(case: &Case) -> Blocked {
        let mm = Length::new::<millimeter>;
        let [bore, rod, stroke, x] = case.bore_rod_stroke_x_mm;
        let dead = Volume::new::<milliliter>(case.dead_ml);
        let size = Dimensions {
            bore: mm(bore),
            rod: mm(rod),
            stroke: mm(stroke),
            wall: None,
            cap_dead_volume: dead,
            rod_dead_volume: dead,
        };
        let cylinder = Cylinder::new(case.kind, size).expect("fits");
        let load = Force::new::<kilonewton>(case.load_kn);
        let across = GaugePressure::from_pa(load.value / cylinder.cap_area().value);
        let flow = VolumeRate::new::<milliliter_per_minute>(case.flow_ml_min);
        blocked(
            &cylinder,
            load,
            mm(x),
            Pressure::new::<gigapascal>(1.4),
            flow,
            across,
        )
    }

    fn near(found: f64, expected: f64, relative: f64) {
        assert!(
            (found / expected - 1.0).abs() < relative,
            "{found} is not {expected}"
        );
    }

    /// Worked examples, volumetric rate form, K = 1.4 GPa (computed independently).
    #[test]
    fn blocked_cylinders_come_to_the_rest_of_the_worked_examples() {
        let rows = [
            (
                [63.0, 36.0, 400.0, 300.0],
                20.0,
                30.0,
                10.0,
                [4.2240, 18.060, 256.54, 294.731],
            ),
            (
                [80.0, 56.0, 600.0, 400.0],
                30.0,
                60.0,
                5.0,
                [1.4673, 11.186, 457.44, 243.605],
            ),
        ];
        for (size, dead_ml, load_kn, flow_ml_min, [speed, sink, tau, bar]) in rows {
            let case = Case {
                kind: Kind::DoubleActing,
                bore_rod_stroke_x_mm: size,
                dead_ml,
                load_kn,
                flow_ml_min,
            };
            let found = run(&case);
            near(found.first_speed.value * 60e3, speed, 5e-5);
            let rest = found.rest.expect("comes to rest");
            near(rest.sink.get::<millimeter>(), sink, 5e-5);
            near(rest.time_constant.value, tau, 5e-5);
            near(rest.pressure.bar(), bar, 5e-6);
        }
    }

    /// Worked example: 50/28 double rod under 8 kN, 2 mL/min: 1.484 mm/min without end.
    #[test]
    fn a_double_rod_never_comes_to_rest() {
        let case = Case {
            kind: Kind::DoubleRod,
            bore_rod_stroke_x_mm: [50.0, 28.0, 400.0, 200.0],
            dead_ml: 20.0,
            load_kn: 8.0,
            flow_ml_min: 2.0,
        };
        let found = run(&case);
        near(found.first_speed.value * 60e3, 1.484, 5e-4);
        assert_eq!(found.rest, None);
    }
}
