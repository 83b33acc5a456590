//! Which patterns are noticed in each inquiry, and that no other is.

use crate::inquiry::Looked::RagsAndGlass;
use crate::inquiry::play;
use std::collections::BTreeSet;
use stillrod::account::investigation::Attribution;
use stillrod::account::investigation::Pattern;
use stillrod::account::investigation::Pattern::*;
use stillrod::rehearsal::Inquiry;
use stillrod::rehearsal::inquiries;

/// What is true of each: heat is in nearly every hold, and is told of where it does most of
/// what moved.
const TABLE: [(&str, &[Pattern]); 42] = [
    ("three-holds-tight", &[Thermal]),
    ("three-holds-piston", &[Thermal]),
    ("three-holds-gland", &[Thermal]),
    ("gland-empties-the-rod-side", &[Thermal]),
    ("three-holds-cap-plug", &[DrawnEmpty, Thermal]),
    ("three-holds-valve", &[DrawnEmpty, Thermal]),
    ("three-holds-piston-and-gland", &[]),
    ("rod-stands-on-a-bad-seal", &[Equalised, VesselShowsPart]),
    ("good-valve-looks-bad", &[AtSetting]),
    ("glass-shows-a-third", &[VesselShowsPart]),
    ("plugged-it-stands", &[DrawnEmpty, Thermal]),
    ("plugged-drift-dies-away", &[]),
    ("plugged-drift-goes-on", &[]),
    ("plugged-rod-side-empty", &[DrawnEmpty]),
    ("neutral-pressures-close-in", &[]),
    ("neutral-glass-gives-oil", &[VesselShowsPart]),
    ("steady-oil-at-the-rod-port", &[VesselShowsPart]),
    ("only-cooling", &[Thermal]),
    ("creeps-out-by-the-spool", &[CreepsOut, Thermal]),
    ("creeps-out-by-the-seal", &[CreepsOut]),
    (
        "leaks-at-low-pressure",
        &[OnlyLow, Thermal, VesselShowsPart],
    ),
    ("leaks-at-one-place", &[OnePlace, Thermal]),
    ("leak-hidden-on-the-seat", &[VesselShowsPart]),
    ("lever-test-seal", &[VesselShowsPart]),
    ("lever-test-valve", &[DrawnEmpty, VesselShowsPart]),
    ("rig-takes-most", &[]),
    ("hanging-load-seal", &[DrawnEmpty]),
    ("hanging-load-valve", &[DrawnEmpty]),
    ("double-rod-sinks-on", &[]),
    ("ram-gland", &[]),
    ("vented-rod-side", &[]),
    ("telescopic-stage-valve", &[Thermal]),
    ("holding-valve-swapped", &[DrawnEmpty, Thermal]),
    ("one-of-two-left-sound", &[]),
    ("one-of-two-right-seal", &[]),
    ("one-of-two-left-plug", &[FittingWet]),
    ("one-of-two-right-sound", &[]),
    ("one-of-two-left-gland", &[]),
    ("valve-seats-at-a-pressure", &[StopsAtPressure, Thermal]),
    ("settles-at-any-pressure", &[Settling]),
    ("only-settling", &[Settling]),
    ("seal-opens-below-a-pressure", &[StartsAtPressure, Thermal]),
];

fn noticed(inquiry: &Inquiry) -> BTreeSet<Pattern> {
    let found = play(inquiry).attributed(RagsAndGlass).expect("sums");
    found.noticed.iter().map(|n| n.pattern).collect()
}

#[test]
fn each_inquiry_shows_its_patterns_and_no_other() {
    let all = inquiries();
    assert_eq!(all.len(), TABLE.len());
    let mut others = Vec::new();
    for inquiry in &all {
        let row = TABLE.iter().find(|(name, _)| *name == inquiry.name);
        let (name, expected) = row.expect("a row in the table");
        let expected: BTreeSet<Pattern> = expected.iter().copied().collect();
        let noticed = noticed(inquiry);
        if noticed != expected {
            others.push(format!("{name}: {noticed:?} instead of {expected:?}"));
        }
    }
    assert!(others.is_empty(), "{}", others.join("\n"));
}

/// Patterns of losses that turn or settle that are told of an inquiry and should not be.
pub fn strays(name: &str, found: &Attribution) -> Vec<String> {
    const OURS: [Pattern; 5] = [
        LossStops,
        LossStarts,
        StopsAtPressure,
        StartsAtPressure,
        Settling,
    ];
    let row = TABLE.iter().find(|(own, _)| *own == name);
    let (_, expected) = row.expect("a row in the table");
    let noticed = found.noticed.iter();
    let strays = noticed.filter(|n| OURS.contains(&n.pattern) && !expected.contains(&n.pattern));
    strays.map(|n| format!("{name}: {}", n.sentence)).collect()
}
