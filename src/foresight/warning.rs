//! What is said at the start of a hold that is too short for a limit.

use super::Intended;
use super::curve::Curve;
use super::needs::LONGEST_S;
use super::needs::Mostly;
use super::needs::Needs;
use super::needs::earliest;
use super::needs::mostly;
use super::needs::needed;
use crate::verdict::Limit;

/// A limit that the planned hold is too short for.
#[derive(Debug, Clone, PartialEq)]
pub struct Short {
    /// The limit; the first row of a table.
    pub limit: Limit,
    /// How long it would have to be.
    pub needs: Needs,
    /// What stands in its way.
    pub mostly: Option<Mostly>,
}

/// Limits that not even a tight unit could pass in the planned hold, with what would be enough.
/// Longer holds are looked at only where the planned one is too short: it has to be said before a
/// person loses patience.
pub fn too_short(intended: &Intended) -> Vec<Short> {
    let planned_s = intended.plan.length().value;
    let mut curve = Curve::new(intended, from(planned_s));
    let mut short = Vec::new();
    for question in intended.questions() {
        let earliest = earliest(&mut curve, &question);
        if earliest.earliest_s().is_none_or(|s| s > planned_s) {
            let needs = needed(&mut curve, &question);
            short.push(Short {
                limit: question[0].clone(),
                mostly: mostly(&mut curve, &question, &needs),
                needs,
            });
        }
    }
    short
}

/// The planned length and longer ones, each twice the one before, up to the longest.
fn from(planned_s: f64) -> Vec<f64> {
    let mut lengths = vec![planned_s];
    let mut next_s = 2.0 * planned_s;
    while next_s < LONGEST_S {
        lengths.push(next_s);
        next_s *= 2.0;
    }
    if planned_s < LONGEST_S {
        lengths.push(LONGEST_S);
    }
    lengths
}
