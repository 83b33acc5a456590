//! One leak after the other, told apart by three holds: on the valve (A), plugged (B), and
//! rod locked with nothing across the piston (E). Derived from continuity.

use crate::inquiry::Is::Leaking;
use crate::inquiry::Is::Open;
use crate::inquiry::Is::Tight;
use crate::inquiry::Is::Unblamed;
use crate::inquiry::Looked::Nobody;
use crate::inquiry::Looked::Rags;
use crate::inquiry::played;
use crate::*;

#[test]
fn a_tight_cylinder_on_a_tight_valve_is_tight_everywhere() {
    let played = played("three-holds-tight");
    for looked in [Nobody, Rags] {
        let all = [PISTON, GLAND, CAP_PLUG, ROD_PLUG, CAP_VALVE];
        played.says(looked, &all.map(|way| (way, Tight)));
    }
}

#[test]
fn a_piston_seal_that_leaks_is_named_alone() {
    let played = played("three-holds-piston");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON, Leaking),
                (GLAND, Tight),
                (CAP_PLUG, Tight),
                (ROD_PLUG, Tight),
                (CAP_VALVE, Tight),
            ],
        );
    }
}

/// Gland and rod plug leave from one side: only eyes tell them apart.
#[test]
fn a_small_leak_of_the_gland_is_named_once_somebody_looks() {
    let played = played("three-holds-gland");
    let with = |gland, rod_plug| {
        [
            (PISTON, Tight),
            (GLAND, gland),
            (CAP_PLUG, Tight),
            (ROD_PLUG, rod_plug),
            (CAP_VALVE, Unblamed),
        ]
    };
    played.says(Nobody, &with(Open, Open));
    played.says(Rags, &with(Leaking, Tight));
}

#[test]
fn a_leaking_plug_of_the_cap_port_is_named_alone() {
    let played = played("three-holds-cap-plug");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON, Tight),
                (PISTON_BACK, Tight),
                (GLAND, Tight),
                (CAP_PLUG, Leaking),
                (ROD_PLUG, Tight),
                (CAP_VALVE, Tight),
            ],
        );
    }
}

/// One hold with an empty rod side gives a total only; that the plug gets wet says that it
/// leaks, not that it takes all.
#[test]
fn a_plugged_hold_alone_does_not_tell_the_plug_from_the_piston() {
    let played = played("three-holds-cap-plug");
    for (looked, plug) in [(Nobody, Open), (Rags, Leaking)] {
        played.says_by(&["B"], looked, &[(PISTON, Open), (CAP_PLUG, plug)]);
    }
}

#[test]
fn a_leaking_valve_is_named_alone() {
    let played = played("three-holds-valve");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON, Tight),
                (GLAND, Tight),
                (CAP_PLUG, Tight),
                (ROD_PLUG, Tight),
                (CAP_VALVE, Leaking),
            ],
        );
    }
    played.says_by(&["A"], Nobody, &[(PISTON, Open), (CAP_VALVE, Open)]);
}

#[test]
fn a_piston_seal_and_a_gland_that_leak_together_are_both_named() {
    let played = played("three-holds-piston-and-gland");
    let with = |gland, rod_plug| {
        [
            (PISTON, Leaking),
            (GLAND, gland),
            (CAP_PLUG, Tight),
            (ROD_PLUG, rod_plug),
            (CAP_VALVE, Tight),
        ]
    };
    played.says(Nobody, &with(Open, Open));
    played.says(Rags, &with(Leaking, Tight));
}

/// With the gland's leak the rod side is empty before a hold is over, and the cap side, which
/// is tight, must not be blamed for it.
#[test]
fn a_rod_side_that_the_gland_empties_blames_no_part_of_the_cap_side() {
    let played = played("gland-empties-the-rod-side");
    let found = played.attributed(Rags).expect("sums");
    let text = played.table(&found);
    assert_eq!(found.contradiction, None, "{text}");
    for way in [PISTON, CAP_PLUG, ROD_PLUG, CAP_VALVE] {
        let answer = found.of(way).expect("driven");
        let is_blamed = answer.standing == stillrod::account::investigation::Standing::Leaks;
        assert!(!is_blamed, "{way:?} in {text}");
    }
}
