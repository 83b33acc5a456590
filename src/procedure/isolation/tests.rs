//! Plans for cylinders of the depot, against areas and pressures by hand.

use super::*;
use crate::cylinder::Dimensions;
use crate::cylinder::Part;
use crate::cylinder::Rating;
use crate::oil::DataSheet;
use crate::quantity::Force;
use crate::quantity::Length;
use crate::quantity::Volume;
use crate::quantity::parse;
use crate::quantity::unit::kilonewton;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;
use crate::quantity::unit::minute;

fn cylinder(kind: Kind) -> Cylinder {
    let mm = Length::new::<millimeter>;
    let size = Dimensions {
        bore: mm(63.0),
        rod: mm(36.0),
        stroke: mm(300.0),
        wall: None,
        cap_dead_volume: Volume::new::<milliliter>(20.0),
        rod_dead_volume: Volume::new::<milliliter>(20.0),
    };
    Cylinder::new(kind, size).expect("fits")
}

fn oil() -> Oil {
    Oil::of(DataSheet {
        name: "ISO VG 46".into(),
        viscosity_40: parse("46 mm²/s").expect("typed").quantity,
        viscosity_100: parse("6.8 mm²/s").expect("typed").quantity,
        expansion: parse("6.65e-4 1/K").expect("typed").quantity,
        stiffness: parse("1.6 GPa").expect("typed").quantity,
        density_15: None,
    })
    .expect("an oil")
}

fn ratings(bar: f64) -> Ratings {
    let rating = Some(Rating {
        pressure: GaugePressure::from_bar(bar),
        part: Part::Plug,
    });
    Ratings {
        cap: rating,
        rod: rating,
    }
}

fn found(rod_port: Port) -> Circuit {
    let load = Some(Force::new::<kilonewton>(30.0));
    Circuit::plain(Port::OnValve, rod_port, RodHold::PushedIn { load })
}

fn plan(kind: Kind, circuit: &Circuit, rating_bar: f64) -> IsolationPlan {
    let wanted = parse("0.06 mL/min").expect("typed").quantity;
    isolation_plan(
        &cylinder(kind),
        circuit,
        &ratings(rating_bar),
        &oil(),
        wanted,
    )
}

/// 63/36 with 30 kN: 96 bar, 295 bar where the pressures meet (load by rod area, worked
/// example computed from the areas).
#[test]
fn valve_first_then_plugs_then_the_vessel_then_equal_pressures() {
    let plan = plan(Kind::DoubleActing, &found(Port::OnValve), 400.0);
    let ports: Vec<_> = plan
        .phases
        .iter()
        .map(|p| {
            (
                p.label,
                p.circuit.cap_port,
                p.circuit.rod_port,
                p.circuit.joined,
            )
        })
        .collect();
    assert_eq!(
        ports,
        [
            ('A', Port::OnValve, Port::OnValve, false),
            ('B', Port::Blocked, Port::Blocked, false),
            ('C', Port::Blocked, Port::OpenToVessel, false),
            ('D', Port::Blocked, Port::Blocked, true),
        ]
    );
    let plugged = &plan.phases[1];
    let (chamber, reach) = plugged.can_reach.expect("known");
    assert!(
        chamber == Chamber::Rod && (reach.bar() - 294.73).abs() < 0.1,
        "{reach:?}"
    );
    assert!((plugged.starts_at.expect("known").bar() - 96.24).abs() < 0.1);
    // 30 kN by 3117 mm² on 1018 mm² push the rod out with 9.8 kN.
    assert!(
        plan.phases[3].instruction.contains("10 kN at 96 bar"),
        "{:?}",
        plan.phases[3]
    );
}

/// A leak is seen from twice its uncertainty: 955 mL, 6.65e-4 1/K, 0.37 K and 0.06 mL/min
/// make 7.8 min (own computation).
#[test]
fn the_hold_is_long_enough_for_the_leak_that_is_wanted() {
    let plan = plan(Kind::DoubleActing, &found(Port::OnValve), 400.0);
    assert_eq!(plan.phases[1].hold.get::<minute>().round(), 8.0);
}

#[test]
fn what_could_pass_a_rating_is_left_out_with_its_number() {
    let plan = plan(Kind::DoubleActing, &found(Port::OpenToVessel), 250.0);
    let both_shut = |p: &PlannedPhase| !p.circuit.joined && p.circuit.rod_port == Port::Blocked;
    assert!(!plan.phases.iter().any(both_shut), "{plan:?}");
    assert!(
        plan.refused[0].contains("295 bar") && plan.refused[0].contains("plug"),
        "{:?}",
        plan.refused
    );
    // The vessel takes its place.
    assert!(
        plan.phases.iter().any(
            |p| p.circuit.rod_port == Port::OpenToVessel && p.circuit.cap_port == Port::Blocked
        )
    );
    let low = super::tests::plan(Kind::DoubleActing, &found(Port::OpenToVessel), 100.0);
    assert!(!low.phases.iter().any(|p| p.circuit.joined), "{low:?}");
}

#[test]
fn each_kind_has_the_phases_that_make_sense_for_it() {
    for kind in [Kind::Plunger, Kind::TelescopicStage, Kind::SingleActing] {
        let plan = plan(kind, &found(Port::OpenToVessel), 400.0);
        assert_eq!(plan.phases.len(), 2, "{kind:?}: {plan:?}");
        assert!(
            plan.phases
                .iter()
                .all(|p| p.circuit.rod_port == Port::OpenToVessel)
        );
    }
    let double = plan(Kind::DoubleRod, &found(Port::OnValve), 400.0);
    assert!(!double.phases.iter().any(|p| p.circuit.joined));
}

#[test]
fn a_load_holding_valve_is_swapped_and_its_place_is_plugged() {
    let circuit = Circuit {
        cap_holding_valve: HoldingValve::InPlace,
        ..found(Port::OnValve)
    };
    let plan = plan(Kind::DoubleActing, &circuit, 400.0);
    assert_eq!(
        plan.phases[1].circuit.cap_holding_valve,
        HoldingValve::Swapped
    );
    assert!(
        plan.phases[2]
            .instruction
            .contains("between cylinder and load-holding valve")
    );
}

/// The rig is only worth a phase where there are hoses.
#[test]
fn hoses_are_held_by_themselves_first() {
    let circuit = Circuit {
        cap_hose: Volume::new::<milliliter>(50.0),
        ..found(Port::OnValve)
    };
    let plan = plan(Kind::DoubleActing, &circuit, 400.0);
    assert!(plan.phases[0].instruction.starts_with("Cap the test hoses"));
}

/// 63/45 at 250 bar on its rod side may be pumped to 122.4 bar on its cap side (worked
/// example: 250 bar by 3117/1527 mm²), nine tenths of which are planned.
#[test]
fn without_a_load_the_pump_stays_below_what_the_rod_side_stands() {
    let mm = Length::new::<millimeter>;
    let thick = Dimensions {
        rod: mm(45.0),
        ..*cylinder(Kind::DoubleActing).size()
    };
    let thick = Cylinder::new(Kind::DoubleActing, thick).expect("fits");
    let free = Circuit::plain(
        Port::OnValve,
        Port::OnValve,
        RodHold::PushedIn { load: None },
    );
    let wanted = parse("0.06 mL/min").expect("typed").quantity;
    let plan = |ratings: Ratings| isolation_plan(&thick, &free, &ratings, &oil(), wanted);
    let planned = plan(ratings(250.0));
    let pumped = planned.phases.last().expect("a phase");
    assert!(
        (thick
            .cap_limit(GaugePressure::from_bar(250.0))
            .expect("two sides")
            .bar()
            - 122.4)
            .abs()
            < 0.1
    );
    assert!(pumped.instruction.contains("110 bar at most"), "{pumped:?}");
    assert!(pumped.caution.contains("2.04 times"), "{pumped:?}");
    // A rod side whose rating nobody knows is not pumped to twice the cap side's.
    let mut one_end = ratings(250.0);
    one_end.rod = None;
    assert!(
        !plan(one_end)
            .phases
            .iter()
            .any(|p| p.circuit.supply.is_some())
    );
    let unrated = plan(Ratings::default());
    assert!(
        unrated.refused.iter().any(|r| r.contains("no rating")),
        "{unrated:?}"
    );
}

/// Never a port open on the side that carries the load.
#[test]
fn nothing_opens_the_side_that_carries() {
    let load = Some(Force::new::<kilonewton>(10.0));
    let pulled = Circuit::plain(Port::OnValve, Port::OnValve, RodHold::PulledOut { load });
    for circuit in [found(Port::OnValve), pulled] {
        for phase in plan(Kind::DoubleActing, &circuit, 400.0).phases {
            let holding = phase.circuit.holding_chamber();
            assert!(phase.circuit.is_shut_in(holding), "{phase:?}");
        }
    }
}

/// One of two at 30 kN: planned for all of it, plugged by itself, nothing pumped against it.
#[test]
fn one_of_two_is_plugged_by_itself_and_planned_for_all_of_the_load() {
    let load = Some(Force::new::<kilonewton>(30.0));
    for load in [load, None] {
        let shared = Circuit {
            beside: Some(Beside::OnLine),
            ..Circuit::plain(Port::OnValve, Port::OnValve, RodHold::PushedIn { load })
        };
        let planned = plan(Kind::DoubleActing, &shared, 400.0);
        let [as_found, plugged, vessel, ..] = &planned.phases[..] else {
            panic!("{planned:?}");
        };
        assert!(as_found.tells.contains("does not tell which"));
        assert!(!as_found.circuit.is_shut_in(Chamber::Cap));
        for phase in [plugged, vessel] {
            assert_eq!(phase.circuit.beside, Some(Beside::Apart), "{phase:?}");
            assert!(phase.circuit.is_shut_in(Chamber::Cap));
            assert!(phase.instruction.contains("Only this cylinder"));
            assert!(phase.caution.contains("rated for all of it"));
        }
        assert!(planned.phases.iter().all(|p| p.circuit.supply.is_none()));
        assert!(planned.outside.iter().any(|o| o.contains("takes over")));
        let starts_at = plugged.starts_at.map(GaugePressure::bar);
        assert_eq!(starts_at.map(f64::round), load.map(|_| 96.0));
    }
    // Rated for a half of the load only: the plugged hold is not planned.
    let shared = Circuit {
        beside: Some(Beside::OnLine),
        ..found(Port::OnValve)
    };
    let weak = plan(Kind::DoubleActing, &shared, 100.0);
    assert!(
        weak.refused
            .iter()
            .any(|r| r.contains("on this one cylinder"))
    );
}
