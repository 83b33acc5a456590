//! What a plan says for rods, kinds and loads: nothing that does not fit them.

use super::*;

#[test]
fn one_of_two_has_its_hose_ends_capped_and_is_not_joined() {
    let shared = Circuit {
        beside: Some(Beside::OnLine),
        ..found(Port::OnValve)
    };
    let shared = plan(Kind::DoubleActing, &shared, 400.0);
    assert!(shared.phases[1].instruction.contains("Cap the hose ends"));
    assert!(shared.phases[1].instruction.contains("all of the load"));
    assert!(!shared.phases.iter().any(|p| p.circuit.joined));
    assert!(shared.refused.iter().any(|r| r.contains("other cylinder")));
    let alone = plan(Kind::DoubleActing, &found(Port::OnValve), 400.0);
    assert!(!alone.phases[1].instruction.contains("hose ends"));
}

#[test]
fn what_is_not_rated_or_not_known_or_too_light_is_said() {
    let wanted = parse("0.06 mL/min").expect("typed").quantity;
    let unchecked = |load: Option<f64>, ratings: Ratings| {
        let load = load.map(Force::new::<kilonewton>);
        let circuit = Circuit::plain(Port::OnValve, Port::OnValve, RodHold::PushedIn { load });
        let double = cylinder(Kind::DoubleActing);
        isolation_plan(&double, &circuit, &ratings, &oil(), wanted)
            .expect("seen")
            .unchecked
            .join(" ")
    };
    assert_eq!(unchecked(Some(30.0), ratings(400.0)), "");
    let one = Ratings {
        rod: None,
        ..ratings(400.0)
    };
    assert!(unchecked(Some(30.0), one).starts_with("No rating of the rod end"));
    assert!(unchecked(Some(30.0), Ratings::default()).starts_with("No rating is given"));
    assert!(unchecked(None, ratings(400.0)).contains("no pressure could be reckoned"));
    // 5 bar on 63 mm are 1.56 kN.
    assert!(unchecked(Some(1.5), ratings(400.0)).contains("hardly show a leak"));
    assert_eq!(unchecked(Some(1.6), ratings(400.0)), "");
    assert!(unchecked(Some(0.001), ratings(400.0)).contains("hardly show a leak"));
}

/// A rod that is held carries no load.
#[test]
fn a_held_rod_is_pumped_and_not_loaded() {
    for rod in [RodHold::Locked, RodHold::Bottomed] {
        let circuit = Circuit {
            cap_holding_valve: HoldingValve::InPlace,
            ..Circuit::plain(Port::OnValve, Port::OnValve, rod)
        };
        let plan = plan(Kind::DoubleActing, &circuit, 400.0);
        assert!(plan.phases.len() >= 5, "{plan:#?}");
        for phase in &plan.phases {
            let said = format!("{} {}", phase.instruction, phase.caution).to_lowercase();
            for wrong in [
                "raise the load",
                "under the load",
                "block the load",
                "load again",
                "take the load off",
                "lock the rod",
            ] {
                assert!(!said.contains(wrong), "{wrong}: {said}");
            }
            assert_ne!(phase.circuit.rod, RodHold::Bottomed);
        }
        let moved = plan.phases[0].instruction.contains("off the end");
        assert_eq!(moved, rod == RodHold::Bottomed, "{plan:#?}");
    }
}

/// A load that rests on a block does not load the cylinder.
#[test]
fn a_plugged_load_stands_free_of_the_block_that_would_catch_it() {
    let load = Some(Force::new::<kilonewton>(10.0));
    let hanging = Circuit::plain(Port::OnValve, Port::OnValve, RodHold::PulledOut { load });
    for circuit in [hanging, found(Port::OnValve)] {
        let plan = plan(Kind::DoubleActing, &circuit, 400.0);
        let caution = &plan.phases[1].caution;
        assert!(
            caution.contains("no load on a test plug alone"),
            "{caution}"
        );
        assert!(caution.contains("free of the block"), "{caution}");
        assert!(!caution.contains("alone: block it"), "{caution}");
    }
}

#[test]
fn hoses_without_a_cylinder_carry_no_load() {
    let circuit = Circuit {
        cap_hose: Volume::new::<milliliter>(50.0),
        ..found(Port::OnValve)
    };
    let plan = plan(Kind::DoubleActing, &circuit, 400.0);
    assert_eq!(plan.phases[0].load_makes, None);
    assert!(plan.phases[1].load_makes.is_some());
}

#[test]
fn a_kind_with_one_port_has_one_plug_and_a_plunger_no_piston_seal() {
    for kind in [Kind::Plunger, Kind::TelescopicStage, Kind::SingleActing] {
        let plan = plan(kind, &found(Port::OpenToVessel), 400.0);
        let plugged = &plan.phases[1];
        assert!(plugged.instruction.contains("plug the port"), "{plugged:?}");
        assert!(!plugged.instruction.contains("plug the ports"));
        let breather = plugged.instruction.contains("breather stays open");
        assert_eq!(breather, kind == Kind::SingleActing, "{plugged:?}");
        assert!(!plugged.caution.contains("seal"), "{plugged:?}");
        if kind != Kind::SingleActing {
            assert!(plugged.tells.contains("gland and plug"), "{plugged:?}");
            let all = format!("{plan:?}");
            assert!(!all.contains("piston"), "{all}");
        }
    }
}
