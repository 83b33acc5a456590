//! What a single path can be, from the totals of the two sides alone.
//!
//! Every path is bounded by what the plumbing allows: outside paths only lose, the piston
//! leaks the way its pressure acts. The time shape of a flow never decides which way it
//! took.
//!
//! Invariant: a total that its pressure makes impossible has no bounds, it is a doubt.

use super::Doubt;
use super::Subject;
use super::figure::Figure;
use super::figure::FigureName;
use super::series::HoldSeries;
use crate::channel::Role;
use crate::circuit::Path;
use crate::cylinder::Chamber;

/// A path with its least and its most, m³/s.
pub(super) type Bound = (FigureName, f64, f64);

/// Which way the pressure across the piston acts during the hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Across {
    /// From cap to rod.
    Forward,
    /// From rod to cap.
    Backward,
    /// Both, one after the other.
    Reversing,
}

/// Which way the pressures of a hold act.
pub(super) fn across(series: &HoldSeries) -> Across {
    let data = |role| series.signal(role).map(|s| series.block_means(&s.smooth));
    let cap = data(Role::CapPressure).unwrap_or_else(|| vec![0.0; series.n_blocks]);
    let rod = data(Role::RodPressure).unwrap_or_else(|| vec![0.0; series.n_blocks]);
    // Pressures that have met may cross by the errors of the sensors.
    let margin = 0.01 * cap.iter().chain(&rod).fold(0.0f64, |a, p| a.max(p.abs()));
    let differences: Vec<f64> = cap.iter().zip(&rod).map(|(c, r)| c - r).collect();
    match (
        differences.iter().any(|d| *d > margin),
        differences.iter().any(|d| *d < -margin),
    ) {
        (_, false) => Across::Forward,
        (false, true) => Across::Backward,
        (true, true) => Across::Reversing,
    }
}

/// A side that gains what it can only lose: a sensor, the heat or a supply deceives.
pub(super) fn impossible(
    across: Across,
    cap: Option<&Figure>,
    rod: Option<&Figure>,
) -> Option<Doubt> {
    let against = |side: &str| Doubt::NoFit {
        evidence: format!(
            "the {side} side seems to gain oil against its pressure: a sensor, the heat or an open supply deceives"
        ),
    };
    match (cap, rod) {
        (Some(cap), _) if across == Across::Forward && cap.upper_si < 0.0 => Some(against("cap")),
        (Some(_), Some(rod)) if across == Across::Backward && rod.lower_si > 0.0 => Some(against("rod")),
        (None, Some(_)) if across == Across::Forward => Some(Doubt::NoFit {
            evidence: "the rod side is said to hold the load, but the cap side carries the higher pressure; \
                       correct `rod` in the setup"
                .into(),
        }),
        (None, Some(rod)) if rod.lower_si > 0.0 => Some(against("rod")),
        _ => None,
    }
}

/// Both sides accounted for. Cap loss is piston and cap paths, rod gain is piston less rod
/// paths; outside paths only lose, and the piston leaks the way its pressure acts.
pub(super) fn both_sides(subject: &Subject, across: Across, totals: [(f64, f64); 3]) -> Vec<Bound> {
    let [loss, gain, out] = totals;
    if subject.circuit.joined {
        return joined(subject, loss, gain, out);
    }
    let (piston, cap_least, rod_least) = match across {
        Across::Forward => {
            let least = gain.0.max(0.0);
            ((least, loss.1.max(least)), 0.0, (-gain.1).max(0.0))
        }
        Across::Backward => {
            let most = loss.1.min(0.0);
            ((gain.0.min(most), most), loss.0.max(0.0), 0.0)
        }
        Across::Reversing => return Vec::new(),
    };
    let outside = out.1.max(0.0);
    let (cap_most, rod_most) = match across {
        Across::Backward => (outside, outside.min(-gain.0)),
        Across::Forward | Across::Reversing => (outside.min(loss.1), outside),
    };
    let mut bounds = vec![(FigureName::PistonBypass, piston.0, piston.1)];
    for (chamber, least, most) in [
        (Chamber::Cap, cap_least, cap_most),
        (Chamber::Rod, rod_least, rod_most),
    ] {
        bounds.extend(external(
            &subject.circuit.external_paths(chamber).unwrap_or_default(),
            least,
            most.max(least),
        ));
    }
    bounds
}

/// Both sides at one pressure on purpose: what each loses goes out of the cylinder. Where the
/// pressures drift apart a little may pass the piston again, so the cap side's loss is the
/// most that its port can leak.
fn joined(subject: &Subject, loss: (f64, f64), gain: (f64, f64), out: (f64, f64)) -> Vec<Bound> {
    let sides = [
        (Chamber::Cap, 0.0, loss.1.max(0.0)),
        (Chamber::Rod, (-gain.1).max(0.0), out.1.max(0.0)),
    ];
    let bounds = sides.into_iter().flat_map(|(chamber, least, most)| {
        let paths = subject.circuit.external_paths(chamber).unwrap_or_default();
        external(&paths, least, most.max(least))
    });
    bounds.collect()
}

/// One side accounted for: its total can have gone by any of its ways.
pub(super) fn one_side(subject: &Subject, chamber: Chamber, total: (f64, f64)) -> Vec<Bound> {
    let most = total.1.max(0.0);
    let has_piston = subject
        .piece
        .cylinder()
        .is_some_and(|c| c.kind().has_piston_seal());
    let mut paths = subject.circuit.external_paths(chamber).unwrap_or_default();
    if !has_piston {
        // A plunger's gland closes the one chamber it has.
        paths.insert(0, Path::Gland);
    }
    let mut bounds = Vec::new();
    if has_piston {
        // Towards the cap the bypass is negative (positive is cap to rod).
        let ends = if chamber == Chamber::Cap {
            (0.0, most)
        } else {
            (-most, 0.0)
        };
        bounds.push((FigureName::PistonBypass, ends.0, ends.1));
    }
    let least = if has_piston { 0.0 } else { total.0.max(0.0) };
    bounds.extend(external(&paths, least, most.max(least)));
    bounds
}

/// Bounds of ways that share a total between `least` and `most`.
fn external(paths: &[Path], least: f64, most: f64) -> Vec<Bound> {
    let alone = paths.len() == 1;
    paths
        .iter()
        .filter_map(|path| FigureName::from_word(path.figure_word()))
        .map(|name| (name, if alone { least } else { 0.0 }, most))
        .collect()
}
