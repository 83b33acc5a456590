//! Holds that look like something else. Derived from continuity and the balance of forces.

use crate::inquiry::Is::AtSetting;
use crate::inquiry::Is::Leaking;
use crate::inquiry::Is::Tight;
use crate::inquiry::Looked::Nobody;
use crate::inquiry::Looked::Rags;
use crate::inquiry::Looked::RagsAndGlass;
use crate::inquiry::ML_MIN;
use crate::inquiry::played;
use crate::*;
use stillrod::account::FigureName;
use stillrod::account::investigation::Pattern;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Way;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Part;
use stillrod::cylinder::Rating;
use stillrod::procedure::hazards;
use stillrod::quantity::GaugePressure;

/// Derived from the balance of forces, and a practitioner's case: with both ports shut a bad
/// piston seal locks the rod once both pressures are F/a. That hold says no flow; the next
/// one, with the rod side open, says all of it.
#[test]
fn a_rod_that_stands_on_a_bad_seal_is_found_by_the_second_hold() {
    let played = played("rod-stands-on-a-bad-seal");
    let standing = played.hold("A");
    let drift = standing.evaluation().figure(FigureName::Drift);
    let drift_m_per_s = drift.and_then(|d| d.measured).expect("drift").value_si;
    assert!(drift_m_per_s.abs() < 0.1e-3 / 60.0, "{drift_m_per_s}");
    let met = standing.evaluation().met.expect("met");
    // 30 kN on 1017.88 mm², less the friction of 400 N that carries while it sinks.
    assert!((met.pressure_pa / 1e5 - 294.7).abs() < 7.0, "{met:?}");
    assert!(met.seen.is_some(), "seen to meet: {met:?}");
    assert!(standing.evaluation().counted.is_none());
    played.says(Rags, &[(PISTON, Leaking), (CAP_PLUG, Tight)]);
    assert!(played.notices(Pattern::Equalised));
    // Of the first hold alone: oil has passed the piston.
    let alone = played
        .attributed_by(|label| label == "A", Nobody)
        .expect("a meeting");
    let piston = alone.of(PISTON).expect("an answer");
    assert_eq!(piston.standing, Standing::Leaks);
    let most = 20.0 * ML_MIN;
    assert!(piston.lower_m3_per_s > 0.1 * most && piston.lower_m3_per_s < most);
}

/// A practitioner's case: that pressure is known before the start, and refused above what the
/// cylinder is rated for.
#[test]
fn the_pressure_that_a_bad_seal_brings_is_refused_where_it_is_above_the_rating() {
    let played = played("rod-stands-on-a-bad-seal");
    let setup = &played.hold("A").judgement.setup;
    let subject = &setup.subject;
    assert_eq!(
        hazards(&subject.piece, &subject.circuit, &setup.ratings),
        Vec::<String>::new()
    );
    let mut weaker = setup.ratings;
    weaker.rod = Some(Rating {
        pressure: GaugePressure::from_pa(250e5),
        part: Part::Cylinder,
    });
    let reasons = hazards(&subject.piece, &subject.circuit, &weaker);
    assert!(
        reasons
            .iter()
            .any(|r| r.contains("piston seal") && r.contains("295 bar")),
        "{reasons:?}"
    );
}

/// Derived from continuity (steady flow past the piston and out of a counterbalance valve at
/// 1.3 times the load): the drift is steady on the valve, and the piston seal is the cause.
#[test]
fn a_good_valve_that_opens_at_its_setting_does_not_hide_the_worn_seal() {
    let played = played("good-valve-looks-bad");
    let truth = &played.hold("A").truth;
    assert!((truth.pressure_pa / 1e5 - 127.0).abs() < 3.0, "{truth:?}");
    for looked in [Nobody, Rags] {
        played.says(
            looked,
            &[
                (PISTON, Leaking),
                (GLAND, Tight),
                (CAP_PLUG, Tight),
                (ROD_PLUG, Tight),
                (Way::Opened(Chamber::Cap), AtSetting),
            ],
        );
    }
}

/// Derived from continuity: while the rod of a 63/36 moves, the glass at the rod port shows
/// a/A_c of what passes the piston, 33 %; what the rod draws in has to be added.
#[test]
fn the_glass_shows_a_third_and_the_account_says_the_whole() {
    let played = played("glass-shows-a-third");
    let hold = played.hold("A");
    let glass = hold.seen.collected.expect("a glass").volume_m3;
    let (from_s, until_s) = hold.evaluation().hold_s;
    let part = glass / (until_s - from_s) / hold.truth.mean.bypass;
    assert!((part - 1017.88 / 3117.25).abs() < 0.03, "{part}");
    assert!((hold.truth.mean.bypass / ML_MIN - 1.5).abs() < 0.1);
    played.says(RagsAndGlass, &[(PISTON, Leaking), (CAP_VALVE, Tight)]);
    assert!(played.notices(Pattern::VesselShowsPart));
}

/// Derived from the equation of state: the glass stands at the atmosphere, the cap side at
/// 95 bar; oil and its air take 1.05 % more room in the glass.
#[test]
fn the_glass_agrees_with_the_cap_side_of_a_large_flow() {
    let played = played("rod-stands-on-a-bad-seal");
    played.says(RagsAndGlass, &[(PISTON, Leaking), (CAP_PLUG, Tight)]);
}
