//! Other loads, other kinds of cylinder, other valves. Derived from continuity.

use crate::inquiry::Is::Leaking;
use crate::inquiry::Is::Open;
use crate::inquiry::Is::Tight;
use crate::inquiry::Is::Unblamed;
use crate::inquiry::Looked::Nobody;
use crate::inquiry::Looked::Rags;
use crate::inquiry::Looked::RagsAndGlass;
use crate::inquiry::played;
use crate::*;

const OWN_VALVE: Way = Way::Valve(Chamber::Cap, HoldingValve::InPlace);
const GOOD_VALVE: Way = Way::Valve(Chamber::Cap, HoldingValve::Swapped);

/// A hanging load over an empty cap side sinks by the piston seal, plugged or not. The valve
/// is not blamed; how little it may pass is the difference of two large sums.
#[test]
fn a_hanging_load_that_sinks_on_between_plugs_is_the_seal() {
    let played = played("hanging-load-seal");
    let rod_pressures = [GLAND, ROD_PLUG, ROD_VALVE];
    let open = rod_pressures.map(|way| (way, Open));
    played.says(Nobody, &[[(PISTON_BACK, Open)].as_slice(), &open].concat());
    played.says(
        Rags,
        &[
            (PISTON_BACK, Leaking),
            (GLAND, Tight),
            (ROD_PLUG, Tight),
            (ROD_VALVE, Unblamed),
        ],
    );
}

#[test]
fn a_hanging_load_that_stands_once_plugged_was_on_a_bad_valve() {
    let played = played("hanging-load-valve");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON_BACK, Tight),
                (GLAND, Tight),
                (ROD_PLUG, Tight),
                (ROD_VALVE, Leaking),
            ],
        );
    }
}

/// A double rod has no rod area to lock on: plugged and still steady is the piston seal.
#[test]
fn a_double_rod_that_sinks_on_between_plugs_is_the_seal() {
    let played = played("double-rod-sinks-on");
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

/// A ram has no piston seal: what it loses plugged and on its valve alike is the gland, once
/// somebody saw that the plug is dry.
#[test]
fn a_ram_that_loses_the_same_on_valve_and_plugged_leaks_at_its_gland() {
    let played = played("ram-gland");
    played.says(
        Rags,
        &[(GLAND, Leaking), (CAP_PLUG, Tight), (CAP_VALVE, Unblamed)],
    );
    played.says(
        Nobody,
        &[(GLAND, Open), (CAP_PLUG, Open), (CAP_VALVE, Open)],
    );
}

/// What drips from the breather passed the piston; the rest of the difference is the valve.
#[test]
fn a_vented_rod_side_tells_seal_and_valve_by_its_breather() {
    let played = played("vented-rod-side");
    played.says(
        RagsAndGlass,
        &[(PISTON, Leaking), (CAP_PLUG, Tight), (CAP_VALVE, Leaking)],
    );
}

#[test]
fn a_telescopic_stage_that_stands_once_plugged_was_on_a_bad_valve() {
    let played = played("telescopic-stage-valve");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[(GLAND, Tight), (CAP_PLUG, Tight), (CAP_VALVE, Leaking)],
        );
    }
}

/// With a known good load-holding valve in its place the rod stands: its own was bad.
#[test]
fn a_load_holding_valve_is_blamed_by_the_one_that_took_its_place() {
    let played = played("holding-valve-swapped");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON, Unblamed),
                (GLAND, Tight),
                (ROD_PLUG, Tight),
                (OWN_VALVE, Leaking),
                (GOOD_VALVE, Tight),
            ],
        );
    }
}
