//! How wet the outside may be, by the shop's own word.

use super::Outcome;
use crate::procedure::CLASSES;

/// The shop's limit for what is seen outside, by the scale of ISO/TR 11340.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutsideLimit {
    /// Highest class that is accepted.
    pub class_most: u8,
    /// Where it comes from, in the shop's words.
    pub source: String,
}

/// What a class that was seen comes to, and why. Without a limit a dry outside decides nothing.
pub fn judge_outside(class: u8, limit: Option<&OutsideLimit>) -> (Option<Outcome>, String) {
    let seen = format!(
        "class {class}, {}",
        CLASSES.get(usize::from(class)).unwrap_or(&"")
    );
    match limit {
        Some(limit) if class <= limit.class_most => (
            Some(Outcome::Pass),
            format!(
                "{seen}: within class {} ({})",
                limit.class_most, limit.source
            ),
        ),
        Some(limit) => (
            Some(Outcome::Fail),
            format!("{seen}: over class {} ({})", limit.class_most, limit.source),
        ),
        None if class == 0 => (None, seen),
        None => (
            Some(Outcome::Measured),
            format!("{seen}: the shop has set no limit for it"),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wetter_outside_never_has_a_better_outcome() {
        let limit = OutsideLimit {
            class_most: 1,
            source: "depot sheet 4".into(),
        };
        let outcomes: Vec<Outcome> = (0..6)
            .filter_map(|c| judge_outside(c, Some(&limit)).0)
            .collect();
        assert_eq!(outcomes[..2], [Outcome::Pass; 2]);
        assert_eq!(outcomes[2..], [Outcome::Fail; 4]);
        assert_eq!(judge_outside(0, None).0, None);
        assert_eq!(judge_outside(1, None).0, Some(Outcome::Measured));
        let (_, said) = judge_outside(4, Some(&limit));
        assert_eq!(
            said,
            "class 4, a drop forms and falls: over class 1 (depot sheet 4)"
        );
    }
}
