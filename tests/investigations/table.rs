//! What a fitter sees and what it means, row by row: derived from continuity, and what every
//! fitter knows (common practice).

use crate::inquiry::Is::Leaking;
use crate::inquiry::Is::Open;
use crate::inquiry::Is::Tight;
use crate::inquiry::Is::Unblamed;
use crate::inquiry::Looked::Nobody;
use crate::inquiry::Looked::Rags;
use crate::inquiry::Looked::RagsAndGlass;
use crate::inquiry::played;
use crate::*;
use stillrod::account::investigation::Pattern;
use stillrod::cylinder::Part;
use stillrod::cylinder::Rating;
use stillrod::procedure::hazards;
use stillrod::quantity::GaugePressure;

/// It drifts in neutral; ports plugged it stands and the cap pressure holds: valve or line.
#[test]
fn what_stands_once_plugged_was_the_valve() {
    let played = played("plugged-it-stands");
    let drift = |label: &str| played.hold(label).truth.drift_m_per_s.abs() * 60e3;
    assert!(drift("A") > 0.4 && drift("B") < 0.03);
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
}

/// Ports plugged, the drift dies away while both pressures come together: the piston seal.
#[test]
fn a_drift_that_dies_away_between_plugs_is_the_piston_seal() {
    let played = played("plugged-drift-dies-away");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON, Leaking),
                (GLAND, Tight),
                (CAP_PLUG, Tight),
                (ROD_PLUG, Tight),
            ],
        );
    }
}

/// Ports plugged, it drifts on with pressure on both sides: oil leaves the cylinder and
/// passes the piston too. Which of gland and rod plug it is, is seen.
#[test]
fn a_drift_that_goes_on_between_plugs_is_piston_seal_and_gland() {
    let played = played("plugged-drift-goes-on");
    let with = |gland, rod_plug| {
        [
            (PISTON, Leaking),
            (GLAND, gland),
            (CAP_PLUG, Tight),
            (ROD_PLUG, rod_plug),
        ]
    };
    played.says(Nobody, &with(Open, Open));
    played.says(Rags, &with(Leaking, Tight));
}

/// Ports plugged, it drifts on with the rod side empty and the cap plug wet: the plug; also a
/// practitioner's case (no equal pressures: the piston is not blamed). Without pressure on
/// the rod side less than A_r/A_c of the loss may pass the piston unseen; the hold with
/// nothing across the piston puts most of it to the plug.
#[test]
fn a_rod_side_that_is_empty_between_plugs_blames_the_cap_plug() {
    let played = played("plugged-rod-side-empty");
    assert!(played.notices(Pattern::DrawnEmpty));
    // That the plug gets wet says that it leaks, not that it takes all.
    for (looked, plug) in [(Nobody, Open), (Rags, Leaking)] {
        played.says_by(&["B"], looked, &[(PISTON, Open), (CAP_PLUG, plug)]);
        played.says(
            looked,
            &[
                (PISTON, Unblamed),
                (PISTON_BACK, Tight),
                (GLAND, Tight),
                (CAP_PLUG, Leaking),
                (ROD_PLUG, Tight),
            ],
        );
    }
}

/// In neutral the rod side rises towards the cap side while it drifts on: both.
#[test]
fn pressures_that_close_in_while_it_drifts_on_are_seal_and_valve() {
    let played = played("neutral-pressures-close-in");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON, Leaking),
                (GLAND, Tight),
                (CAP_PLUG, Tight),
                (ROD_PLUG, Tight),
                (CAP_VALVE, Leaking),
            ],
        );
    }
}

/// In neutral with the rod port in a glass, which gives what the rod side draws in: the valve
/// on the cap port.
#[test]
fn a_glass_that_gives_oil_clears_the_piston() {
    let played = played("neutral-glass-gives-oil");
    let glass = played.hold("A").seen.collected.expect("a glass").volume_m3;
    assert!(glass < -4e-6, "{glass}");
    played.says(RagsAndGlass, &[(PISTON, Tight), (CAP_VALVE, Leaking)]);
    played.says(Nobody, &[(PISTON, Open), (CAP_VALVE, Open)]);
}

/// Rod port open, cap port plugged: with the rod free the bypass is A_c·u, with the rod locked
/// it is what the glass holds, although its pressure falls meanwhile.
#[test]
fn steady_oil_at_the_open_rod_port_is_the_piston_seal() {
    let played = played("steady-oil-at-the-rod-port");
    let glass = |label: &str| {
        let seen = played.hold(label).seen.collected;
        seen.expect("a glass").volume_m3
    };
    assert!(glass("D") > 1.4 * glass("C"));
    played.says(RagsAndGlass, &[(PISTON, Leaking), (CAP_PLUG, Tight)]);
    played.says_by(
        &["C"],
        RagsAndGlass,
        &[(PISTON, Leaking), (CAP_PLUG, Tight)],
    );
    played.says_by(
        &["D"],
        RagsAndGlass,
        &[(PISTON, Leaking), (CAP_PLUG, Tight)],
    );
    // Plug and piston are one sum until somebody looks.
    played.says(Nobody, &[(PISTON, Open), (CAP_PLUG, Open)]);
}

/// It sinks while the oil cools, both pressures fall together, and it stands once the
/// temperature does: no leak.
#[test]
fn what_stops_with_the_cooling_was_no_leak() {
    let played = played("only-cooling");
    let drift = |label: &str| played.hold(label).truth.drift_m_per_s.abs() * 60e3;
    assert!(drift("B") > 1.8 * drift("B2"));
    for looked in [Nobody, Rags] {
        let all = [PISTON, GLAND, CAP_PLUG, ROD_PLUG];
        played.says(looked, &all.map(|way| (way, Tight)));
    }
}

/// Without load it creeps out in neutral on a running pump, and stands on a steady supply of
/// the cap side with the rod port plugged: the spool. The rod side's oil leaves through it.
#[test]
fn a_rod_that_creeps_out_in_neutral_only_is_the_spool() {
    let played = played("creeps-out-by-the-spool");
    let drift = |label: &str| played.hold(label).truth.drift_m_per_s * 60e3;
    // What is left on the supply is the heat of compression that leaves the rod side.
    assert!(drift("A") > 8.0 * drift("M").abs());
    for looked in [Nobody, Rags] {
        let found = played.attributed(looked).expect("sums");
        assert_eq!(found.contradiction, None);
        // The cap side is not accounted for while the rod side holds.
        let without_cap: Vec<_> = [
            (PISTON_BACK, Tight),
            (GLAND, Tight),
            (ROD_PLUG, Tight),
            (ROD_VALVE, Leaking),
        ]
        .into();
        played.says_of(&found, &without_cap);
    }
}

/// Without load it creeps out on a steady supply of the cap side, at G·(φ − 1)·p_c/A_r: the
/// piston seal, from the rod side.
#[test]
fn a_rod_that_creeps_out_on_a_steady_supply_is_the_piston_seal() {
    let played = played("creeps-out-by-the-seal");
    played.says(
        Rags,
        &[(PISTON_BACK, Leaking), (GLAND, Tight), (ROD_PLUG, Tight)],
    );
    played.says(
        Nobody,
        &[(PISTON_BACK, Open), (GLAND, Open), (ROD_PLUG, Open)],
    );
}

/// A practitioner's case: a supplied cap side multiplies its pressure on a shut rod side, 148
/// bar for 100 bar on a 63/36, and is refused where that is above the rating.
#[test]
fn a_supply_that_the_piston_multiplies_above_the_rating_is_refused() {
    let played = played("creeps-out-by-the-seal");
    let setup = &played.hold("M").judgement.setup;
    let subject = &setup.subject;
    let reasons = |rating_bar: f64| {
        let mut ratings = setup.ratings;
        ratings.rod = Some(Rating {
            pressure: GaugePressure::from_pa(rating_bar * 1e5),
            part: Part::Cylinder,
        });
        hazards(&subject.piece, &subject.circuit, &ratings)
    };
    assert_eq!(reasons(350.0), Vec::<String>::new());
    let refused = reasons(120.0);
    assert!(refused.iter().any(|r| r.contains("148 bar")), "{refused:?}");
}
