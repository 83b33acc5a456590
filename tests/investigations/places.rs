//! Leaks that are there at one pressure or at one place only: derived from what a lip, a
//! scored tube and a seat do (common practice), and practitioners' cases.

use crate::inquiry::Is::Leaking;
use crate::inquiry::Is::Tight;
use crate::inquiry::Is::Unblamed;
use crate::inquiry::Looked::Nobody;
use crate::inquiry::Looked::Rags;
use crate::inquiry::Looked::RagsAndGlass;
use crate::inquiry::played;
use crate::*;
use stillrod::account::investigation::Pattern;

/// A lip that is not pressed on leaks at low pressure only. Each hold by itself says so; that
/// one leak explains both is never said.
#[test]
fn a_lip_leaks_at_low_pressure_and_holds_at_high() {
    let played = played("leaks-at-low-pressure");
    played.says_by(
        &["L"],
        RagsAndGlass,
        &[(PISTON, Leaking), (CAP_PLUG, Tight)],
    );
    played.says_by(
        &["H"],
        RagsAndGlass,
        &[(PISTON, Unblamed), (CAP_PLUG, Tight)],
    );
    let together = played.attributed(RagsAndGlass).expect("sums");
    assert!(together.contradiction.is_some());
    assert!(played.notices(Pattern::OnlyLow));
}

/// A scored tube leaks at one of three places (a practitioner's case: the test at the end of
/// the stroke passes). Each place by itself says so; that one leak explains all is never said.
#[test]
fn a_scored_tube_leaks_at_one_place_of_three() {
    let played = played("leaks-at-one-place");
    for looked in [Nobody, Rags] {
        for (place, piston) in [("P1", Unblamed), ("P2", Leaking), ("P3", Unblamed)] {
            let outside = match (piston, looked) {
                (Leaking, _) | (_, Rags) => Tight,
                _ => Unblamed,
            };
            played.says_by(
                &[place],
                looked,
                &[
                    (PISTON, piston),
                    (GLAND, outside),
                    (CAP_PLUG, outside),
                    (ROD_PLUG, outside),
                ],
            );
        }
        let together = played.attributed(looked).expect("sums");
        assert!(together.contradiction.is_some());
    }
    assert!(played.notices(Pattern::OnePlace));
}

/// A practitioner's case: fully in, the piston sits on the end and hides the leak. That hold
/// is void; in mid-stroke the leak shows, and both together say it too.
#[test]
fn a_piston_on_its_seat_does_not_clear_its_seal() {
    let played = played("leak-hidden-on-the-seat");
    assert!(played.hold("S").is_void());
    assert!(
        played
            .attributed_by(|label| label == "S", RagsAndGlass)
            .is_none()
    );
    played.says(RagsAndGlass, &[(PISTON, Leaking), (CAP_PLUG, Tight)]);
}
