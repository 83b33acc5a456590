//! Ways that cannot be told apart, and what they come to together.
//!
//! Invariant: a sum is stated for a group only where a phase measured exactly that group,
//! beside nothing but ways that do not leak.

use crate::account::investigation::Answer;
use crate::account::investigation::Attribution;
use crate::account::investigation::Standing;
use crate::account::investigation::Way;
use crate::certificate::isolation::facts::Expanded;
use crate::certificate::isolation::facts::IsolationFacts;
use crate::certificate::isolation::facts::PhaseFacts;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;

/// Open ways, those together that may stand for each other.
pub(super) fn groups(attribution: &Attribution) -> Vec<Vec<&Answer>> {
    let mut groups: Vec<Vec<&Answer>> = Vec::new();
    for answer in &attribution.answers {
        if !matches!(answer.standing, Standing::Open { .. }) {
            continue;
        }
        let (mut joined, apart): (Vec<_>, Vec<_>) = groups
            .into_iter()
            .partition(|group| group.iter().any(|other| shares(other, answer)));
        groups = apart;
        let mut group: Vec<&Answer> = joined.drain(..).flatten().collect();
        group.push(answer);
        groups.push(group);
    }
    groups
}

fn shares(one: &Answer, two: &Answer) -> bool {
    let names = |answer: &Answer, way: Way| match &answer.standing {
        Standing::Open { with } => with.contains(&way),
        Standing::Leaks
        | Standing::Tight
        | Standing::NotDriven
        | Standing::AtSetting
        | Standing::NotValid => false,
    };
    names(one, two.way) || names(two, one.way)
}

/// What a group comes to together, and at which pressure, Pa: the phase that says it best.
pub(super) fn together(facts: &IsolationFacts, group: &[&Answer]) -> Option<(Expanded, f64)> {
    let attribution = facts.attribution.as_ref()?;
    let phases = facts.phases.iter().enumerate();
    let sums = phases.filter(|(_, phase)| phase.void.is_none());
    sums.flat_map(|(index, phase)| {
        [Chamber::Cap, Chamber::Rod]
            .map(|side| sum_of(attribution, facts, (index, phase), side, group))
    })
    .flatten()
    .min_by(|a, b| a.0.expanded_si.total_cmp(&b.0.expanded_si))
}

fn sum_of(
    attribution: &Attribution,
    facts: &IsolationFacts,
    (index, phase): (usize, &PhaseFacts),
    side: Chamber,
    group: &[&Answer],
) -> Option<(Expanded, f64)> {
    let kind = facts.cylinder.kind();
    let mut sign = 0.0;
    for answer in attribution.answers.iter() {
        let counts = counts(answer.way, kind, side);
        if counts == 0.0 || !answer.driven_in.contains(&index) {
            // A way of the group that this phase did not drive is not in its sum.
            if group.iter().any(|a| a.way == answer.way) {
                return None;
            }
            continue;
        }
        if group.iter().any(|a| a.way == answer.way) {
            if sign != 0.0 && sign != counts {
                return None;
            }
            sign = counts;
        } else if answer.standing != Standing::Tight {
            return None;
        }
    }
    let (sum, pressure) = match side {
        Chamber::Cap => (phase.cap_loss_m3_per_s?, phase.p_cap_pa?),
        Chamber::Rod => (phase.rod_gain_m3_per_s?, phase.p_rod_pa?),
    };
    // Oil past the piston onto the rod side is driven by the cap side's pressure.
    let at = match (side, sign > 0.0) {
        (Chamber::Rod, true) => phase.p_cap_pa?,
        _ => pressure,
    };
    let sum = Expanded {
        value_si: sign * sum.value_si,
        ..sum
    };
    (sign != 0.0).then_some((sum, (at.0 + at.1) / 2.0))
}

/// How a way counts in what the cap side loses or the rod side gains: 1, −1, or not.
fn counts(way: Way, kind: Kind, side: Chamber) -> f64 {
    let gland_side = match kind.has_piston_seal() {
        true => Chamber::Rod,
        false => Chamber::Cap,
    };
    let outwards = match side {
        Chamber::Cap => 1.0,
        Chamber::Rod => -1.0,
    };
    match way {
        Way::Piston(Chamber::Cap) => 1.0,
        Way::Piston(Chamber::Rod) => -1.0,
        Way::Gland if gland_side == side => outwards,
        _ if way.port() == Some(side) => outwards,
        _ => 0.0,
    }
}
