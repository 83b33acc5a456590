//! What only seemed lost while heat evened out: early in the hold and late.
//!
//! Fresh oil that is warmer than its tube shrinks fast at first and then stands; so does oil
//! that pressing has warmed. The account knows how much of the hold's course that is.

use super::Measured;
use super::solution::Solution;
use crate::cylinder::Chamber;
use crate::fit::Vector;

/// Early and late are the first and the last of so many parts of the hold.
const PARTS: usize = 3;

/// Oil of the side that holds that only seemed lost, by its heat alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evened {
    /// Mean over the first third of the hold, m³/s.
    pub early: Measured,
    /// Mean over the last third, m³/s.
    pub late: Measured,
    /// Early less late, m³/s, with what both have in common taken out.
    pub difference: Measured,
}

/// The heat of the side that holds over a fitted hold.
pub(super) fn evened(solution: &Solution<'_>) -> Option<Evened> {
    let layout = &solution.balance.layout;
    let holding = match layout.cap_live {
        true => Chamber::Cap,
        false => Chamber::Rod,
    };
    let series = solution.balance.series;
    let n = series.t.len();
    let third = n / PARTS;
    // Oil that cools shrinks: its volume falls by what seems lost.
    let seemed = |theta: &Vector, from: usize, until: usize| {
        let (_, by_heat) = solution.balance.seeming(theta, holding);
        let ends = by_heat.get(from).zip(by_heat.get(until));
        ends.map_or(0.0, |(a, b)| (b - a) / (series.t[until] - series.t[from]))
    };
    let early = |theta: &Vector| seemed(theta, 0, third);
    let late = |theta: &Vector| seemed(theta, n - 1 - third, n - 1);
    let derived = |f: &dyn Fn(&Vector) -> f64| solution.derive(f).0;
    (third > 0).then(|| Evened {
        early: derived(&early),
        late: derived(&late),
        difference: derived(&|theta| early(theta) - late(theta)),
    })
}
