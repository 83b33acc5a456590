//! Two cylinders on one load: which of them leaks? Derived from continuity and the balance of
//! forces on a rigid beam.
//!
//! On one valve both sink as one and the line joins them. Plugged at its own ports, each has an
//! account of its own whatever the other one does with the load.

use crate::inquiry::Hold;
use crate::inquiry::Is::Leaking;
use crate::inquiry::Is::Open;
use crate::inquiry::Is::Tight;
use crate::inquiry::Is::Unblamed;
use crate::inquiry::Looked;
use crate::inquiry::Looked::Nobody;
use crate::inquiry::Looked::Rags;
use crate::inquiry::Played;
use crate::inquiry::play;
use crate::inquiry::played;
use crate::play::recording;
use crate::*;
use stillrod::account::Doubt;
use stillrod::account::FigureName;
use stillrod::account::investigation::Standing;
use stillrod::circuit::RodHold;
use stillrod::daemon::judgement::judged;
use stillrod::quantity::Force;
use stillrod::quantity::unit::newton;
use stillrod::rehearsal;
use stillrod::rehearsal::Inquiry;

/// All that belongs to a cylinder and its plugs.
const PARTS: [Way; 4] = [PISTON, GLAND, CAP_PLUG, ROD_PLUG];

/// Plays the plugged hold of an inquiry with other noise and other sensors; the one on the
/// common valve says nothing. What is true and what eyes see is the same with any noise.
fn with_noise(name: &str, check: impl Fn(&Played, u64)) {
    let mut inquiry = rehearsal::inquiry(name).expect("an inquiry");
    inquiry.phases.retain(|phase| phase.label == "B");
    let quiet = play(&inquiry);
    let hold = quiet.hold("B");
    let noisy = |seed| {
        let other = inquiry.clone().with_seed(seed);
        let recording = recording(&other.phases[0].scenario);
        Played {
            name: quiet.name,
            holds: vec![Hold {
                label: hold.label,
                judgement: judged(&recording, None).expect("settings that can be used"),
                truth: hold.truth,
                seen: hold.seen,
            }],
        }
    };
    for seed in (0..20).map(|n| 41_000 + 10 * n) {
        check(&noisy(seed), seed);
    }
}

fn standing(played: &Played, looked: Looked, way: Way) -> Standing {
    let found = played.attributed(looked).expect("sums");
    assert_eq!(found.contradiction, None, "{}", played.table(&found));
    found.of(way).expect("an answer").standing.clone()
}

/// What the pressure that holds did over the counted hold, Pa.
fn rise_pa(played: &Played) -> f64 {
    let counted = played.hold("B").evaluation().counted.as_ref();
    let p = &counted.expect("sums").drive.p_cap_pa;
    p[p.len() - 1] - p[0]
}

/// The finding that another cylinder's share of the load came over.
fn takes_over(played: &Played) -> bool {
    let findings = &played.hold("B").evaluation().findings;
    findings.iter().any(|f| f.contains("takes over"))
}

#[test]
fn a_sound_one_sinks_with_the_other_and_is_never_blamed() {
    for name in ["one-of-two-left-sound", "one-of-two-right-sound"] {
        let played = played(name);
        assert!(played.hold("B").truth.drift_m_per_s < -0.02e-3 / 60.0);
        let rise_pa = rise_pa(&played);
        assert!(rise_pa > 2e5 && takes_over(&played), "{rise_pa}");
        for looked in [Nobody, Rags] {
            played.says(looked, &PARTS.map(|way| (way, Tight)));
        }
        with_noise(name, |played, seed| {
            for (looked, way) in [Nobody, Rags]
                .into_iter()
                .flat_map(|l| PARTS.map(|w| (l, w)))
            {
                let found = standing(played, looked, way);
                let blamed = matches!(found, Standing::Leaks | Standing::NotValid);
                assert!(!blamed, "{name}, seed {seed}: {way:?} {found:?}");
            }
        });
    }
}

/// Its sides come together while its partner's pressure rises.
#[test]
fn a_bad_piston_seal_is_named_on_the_one_that_has_it() {
    let name = "one-of-two-right-seal";
    let played = played(name);
    assert!(rise_pa(&played) < -2e5 && !takes_over(&played));
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
    with_noise(name, |played, seed| {
        for way in PARTS {
            let is_named = standing(played, Nobody, way) == Standing::Leaks;
            assert_eq!(is_named, way == PISTON, "seed {seed}: {way:?}");
        }
    });
}

/// What leaves by the plug of its cap port; eyes tell it from the piston seal.
#[test]
fn a_wet_plug_is_named_on_the_one_that_has_it() {
    let name = "one-of-two-left-plug";
    let played = played(name);
    assert!(rise_pa(&played) < -20e5 && !takes_over(&played));
    played.says(
        Rags,
        &[
            (PISTON, Unblamed),
            (GLAND, Tight),
            (CAP_PLUG, Leaking),
            (ROD_PLUG, Tight),
        ],
    );
    with_noise(name, |played, seed| {
        for way in PARTS {
            let is_named = standing(played, Rags, way) == Standing::Leaks;
            assert_eq!(is_named, way == CAP_PLUG, "seed {seed}: {way:?}");
        }
    });
}

/// Its rod side is soon empty, which no pressure tells from a sound one; eyes do.
#[test]
fn a_wet_gland_is_named_on_the_one_that_has_it() {
    let name = "one-of-two-left-gland";
    let played = played(name);
    played.says(
        Nobody,
        &[
            (PISTON, Tight),
            (GLAND, Open),
            (CAP_PLUG, Tight),
            (ROD_PLUG, Open),
        ],
    );
    with_noise(name, |played, seed| {
        for way in PARTS {
            let is_named = standing(played, Rags, way) == Standing::Leaks;
            assert_eq!(is_named, way == GLAND, "seed {seed}: {way:?}");
        }
    });
}

/// Both sink by the same and nothing is said of either: the line joins them.
#[test]
fn on_the_common_valve_alone_nothing_tells_which() {
    let pairs = [
        ["one-of-two-left-sound", "one-of-two-right-seal"],
        ["one-of-two-left-plug", "one-of-two-right-sound"],
    ];
    for pair in pairs {
        let [left, right] = pair.map(played);
        for one in [&left, &right] {
            assert!(one.attributed_by(|label| label == "A", Rags).is_none());
            let evaluation = one.hold("A").evaluation();
            let figures: Vec<_> = evaluation.figures.iter().map(|f| f.name).collect();
            assert_eq!(figures, [FigureName::Drift]);
            let says_why = |doubt: &Doubt| matches!(doubt, Doubt::Note { evidence } if evidence.contains("on a line with another cylinder"));
            assert!(evaluation.doubts.iter().any(says_why));
        }
        let drift = |one: &Played| one.hold("A").truth.drift_m_per_s;
        assert!((drift(&left) / drift(&right) - 1.0).abs() < 1e-3);
        assert!(drift(&left) < -0.04e-3 / 60.0);
    }
}

/// An inquiry whose setup does not speak of the other cylinder.
fn silent(name: &str, with_load: bool) -> Inquiry {
    let mut inquiry = rehearsal::inquiry(name).expect("an inquiry");
    for phase in &mut inquiry.phases {
        let circuit = &mut phase.scenario.circuit;
        circuit.beside = None;
        if !with_load {
            circuit.rod = RodHold::PushedIn { load: None };
        }
    }
    inquiry
}

/// The flows come from pressures and movement alone: a wrong share of the load changes none.
#[test]
fn whatever_share_of_the_load_is_stated_the_figures_are_the_same() {
    let mut inquiry = rehearsal::inquiry("one-of-two-right-seal").expect("an inquiry");
    let scenario = &mut inquiry.phases[1].scenario;
    let figures = [None, Some(5e3), Some(15e3), Some(30e3)].map(|load_n| {
        let load = load_n.map(Force::new::<newton>);
        scenario.circuit.rod = RodHold::PushedIn { load };
        let judgement = judged(&recording(scenario), None).expect("settings that can be used");
        judgement.evaluation.expect("a hold").figures
    });
    let [first, others @ ..] = &figures;
    assert!(first.iter().any(|f| f.name == FigureName::RodGain));
    for other in others {
        assert_eq!(first, other);
    }
}

/// Who states all of the load for one of two is told that half of it is missing.
#[test]
fn a_load_that_another_one_shares_voids_the_hold_on_the_common_valve() {
    for name in ["one-of-two-left-sound", "one-of-two-right-seal"] {
        let played = play(&silent(name, true));
        let hold = played.hold("A");
        assert!(hold.is_void(), "{:?}", hold.judgement.flags);
        let mut flags = hold.judgement.flags.iter();
        assert!(flags.any(|flag| flag.evidence.contains("`other_cylinder`")));
    }
}

/// What is left where the setup keeps silent of both: the line brings the rod side of the
/// sound one what passed the other's piston, and no reading tells. Plugged, it contradicts that.
#[test]
fn a_line_that_nobody_spoke_of_looks_like_a_worn_seal() {
    let played = play(&silent("one-of-two-left-sound", false));
    let on_line = played.attributed_by(|label| label == "A", Rags);
    let on_line = on_line.expect("sums");
    let piston = on_line.of(PISTON).expect("an answer");
    assert_eq!(piston.standing, Standing::Leaks);
    let plugged = [
        (PISTON, Tight),
        (CAP_PLUG, Tight),
        (GLAND, Tight),
        (ROD_PLUG, Tight),
    ];
    played.says_by(&["B"], Rags, &plugged);
    let together = played.attributed(Rags).expect("sums");
    let piston = together.of(PISTON).expect("an answer");
    assert!(together.contradiction.is_some() && piston.standing != Standing::Leaks);
}
