//! The lines of the account chart: what was lost and gained, and what only looks like it.

use super::Line;
use super::LineKind;
use super::balance::Copy;
use super::figure::coverage_factor;
use super::layout::P;
use super::solution::Solution;
use crate::cylinder::Chamber;

/// Lines of the account chart, by blocks, from nothing at the start of the hold.
pub(super) fn lines(solution: &Solution<'_>) -> Vec<Line> {
    let balance = &solution.balance;
    let theta = &solution.posterior.theta;
    let time_s = balance.series.block_times();
    let mut lines = Vec::new();
    let mut add = |kind, volume_m3: Vec<f64>, half_width_m3| {
        lines.push(Line {
            kind,
            time_s: time_s.clone(),
            volume_m3,
            half_width_m3,
        });
    };
    let sides = [
        (
            balance.layout.cap_live,
            Chamber::Cap,
            P::CapLoss,
            P::OffsetCap,
            LineKind::CapLost,
            -1.0,
        ),
        (
            balance.layout.rod_live,
            Chamber::Rod,
            P::RodGain,
            P::OffsetRod,
            LineKind::RodGained,
            1.0,
        ),
    ];
    for (_, chamber, side, offset, kind, sign) in sides.into_iter().filter(|(live, ..)| *live) {
        let oil = balance.oil(theta, chamber, Copy::Raw);
        let start = balance.layout.get(theta, offset);
        let volume = balance
            .series
            .block_means(&oil.change)
            .iter()
            .map(|m| sign * (m - start))
            .collect();
        let (mean, _) = solution.derive(&|theta| solution.mean_flow(theta, side));
        let half = time_s
            .iter()
            .map(|t| coverage_factor(None) * mean.standard_si * t)
            .collect();
        add(kind, volume, half);
    }
    let holding = if balance.layout.cap_live {
        Chamber::Cap
    } else {
        Chamber::Rod
    };
    let (squeezed, heated) = balance.seeming(theta, holding);
    add(
        LineKind::Squeeze,
        balance.series.block_means(&squeezed),
        Vec::new(),
    );
    add(
        LineKind::Heat,
        balance.series.block_means(&heated),
        Vec::new(),
    );
    lines
}
