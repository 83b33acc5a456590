//! Pictures of the test on the bench: where the oil went so far, and how it is plumbed.

use super::now::any_moment;
use super::standing;
use super::units;
use crate::account::Evaluation;
use crate::account::FigureName;
use crate::account::Line;
use crate::account::LineKind;
use crate::chart::AccountPicture;
use crate::chart::Fence;
use crate::chart::Seen;
use crate::chart::Size;
use crate::chart::account_chart;
use crate::chart::circuit_drawing;
use crate::chart::circuit_size;
use crate::chart::fences;
use crate::daemon::desk::ShopDesk;
use crate::page::Trouble;
use crate::page::view::BenchPicture;
use crate::settings::Setup;

/// Size of the account chart on a desk or a tablet, and on a phone.
const WIDE: Size = Size {
    width_pt: 460.0,
    height_pt: 240.0,
};
const NARROW: Size = Size {
    width_pt: 330.0,
    height_pt: 300.0,
};

/// Width of the circuit.
const CIRCUIT_PT: f64 = 300.0;

/// A picture of the test.
pub(in crate::daemon::desk) fn picture(
    desk: &ShopDesk,
    which: BenchPicture,
    is_wide: bool,
) -> Result<String, Trouble> {
    let standing = standing(desk).ok_or_else(Trouble::not_there)?;
    let setup = standing.setup.as_ref().ok_or_else(Trouble::not_there)?;
    let units = units(desk);
    if which == BenchPicture::Circuit {
        let circuit = &setup.subject.circuit;
        let size = circuit_size(circuit, CIRCUIT_PT);
        return Ok(circuit_drawing(circuit, units, size));
    }
    let so_far = standing.so_far.as_ref().ok_or_else(Trouble::not_there)?;
    let (from_s, until_s) = so_far.hold_s;
    let gaps: Vec<(f64, f64)> = standing
        .gaps_s
        .iter()
        .filter(|(gap_s, _)| *gap_s < until_s)
        .map(|(gap_s, back_s)| (gap_s - from_s, back_s - from_s))
        .collect();
    Ok(account_chart(&AccountPicture {
        lines: &widened(so_far, setup),
        hold_length_s: until_s - from_s,
        settle_s: (from_s - standing.settling_s).max(0.0),
        gaps_s: &gaps,
        fences: &match is_wide {
            true => fences(setup.limits.iter()),
            false => short(fences(setup.limits.iter())),
        },
        units,
        size: if is_wide { WIDE } else { NARROW },
        seen: Seen::OnScreen,
    }))
}

/// Fences with the limit alone, where there is little room: the line beside says of which side.
fn short(fences: Vec<Fence>) -> Vec<Fence> {
    let short = |fence: Fence| {
        let limit = fence.name.rsplit(": ").next().unwrap_or_default();
        Fence {
            name: format!("limit {limit}"),
            ..fence
        }
    };
    fences.into_iter().map(short).collect()
}

/// The lines with ribbons that may be looked at at any moment.
fn widened(so_far: &Evaluation, setup: &Setup) -> Vec<Line> {
    let wider = |line: &Line| {
        let name = match line.kind {
            LineKind::CapLost => FigureName::CapLoss,
            LineKind::RodGained => FigureName::RodGain,
            LineKind::Squeeze | LineKind::Heat => return line.clone(),
        };
        let figure = so_far.figure(name);
        let by = figure.map_or(1.0, |figure| {
            let limit = setup.limits.iter().find(|limit| limit.figure == name);
            any_moment(figure, limit) / figure.coverage_factor
        });
        Line {
            half_width_m3: line.half_width_m3.iter().map(|half| half * by).collect(),
            ..line.clone()
        }
    };
    so_far.lines.iter().map(wider).collect()
}
