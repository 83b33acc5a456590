//! A stretch of a recording, as the record chart shows the whole.
//!
//! Where many samples share a column, lowest to highest is a band with the mean in it; where each
//! row has a column of its own, it is the line that was measured.
//!
//! Invariants: nothing is drawn across a gap that is wide enough to be seen, and a narrower one is
//! marked; what lies outside the stretch is not drawn.

use crate::chart::Size;
use crate::chart::canvas;
use crate::chart::canvas::At;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Side;
use crate::chart::course::StepMark;
use crate::chart::record::Curve;
use crate::chart::record::PANELS;
use crate::chart::record::Panel;
use crate::chart::record::PanelKind;
use crate::chart::record::RecordPicture;
use crate::chart::record::SUPPLY;
use crate::chart::record::Sheet;
use crate::chart::record::plot_pt;
use crate::chart::record::words;
use crate::chart::thin::Breaks;
use crate::chart::thin::Crossed;
use crate::recording::Stretch;
use crate::recording::Window;
use crate::recording::WindowLane;

/// Draws a stretch of a recording. Without a hold in `picture` the phase `hold` of the window is
/// marked; `steps` are those of the whole procedure, as for [`crate::chart::course_chart`].
pub fn window_chart(window: &Window, picture: RecordPicture, steps: &[StepMark]) -> String {
    let panels: Vec<Panel> = PANELS
        .iter()
        .chain([&SUPPLY])
        .filter_map(|kind| panel(window, kind, picture))
        .collect();
    let said = format!(
        "From {:.3} s to {:.3} s. {}",
        window.from_s,
        window.until_s,
        words(&panels)
    );
    let picture = RecordPicture {
        hold_s: hold_s(window, picture),
        ..picture
    };
    let steps = steps_within(window, steps);
    canvas::picture(picture.size, &said, |canvas| {
        if panels.is_empty() {
            let at = (picture.size.width_pt / 2.0, picture.size.height_pt / 2.0);
            let hand = Hand::plain(canvas::BLACK, 10.0);
            canvas.text("nothing was recorded here", at, Side::Middle, hand);
            return;
        }
        let span_s = (window.from_s, window.until_s);
        Sheet::new(gaps(window), span_s, picture, panels, &steps).draw(canvas);
    })
}

/// Where the panels of a window chart begin and end, as parts of its width: a place on the picture
/// becomes a time by them.
pub fn window_plot(size: Size) -> (f64, f64) {
    let (left, right) = plot_pt(size.width_pt);
    (left / size.width_pt, right / size.width_pt)
}

/// The part of the counted hold that is seen.
fn hold_s(window: &Window, picture: RecordPicture) -> Option<(f64, f64)> {
    let of_phase = window.phases.iter().find(|phase| phase.name == "hold");
    let of_phase = of_phase.map(|phase| (phase.from_s, phase.until_s));
    let (from_s, until_s) = picture.hold_s.or(of_phase)?;
    let is_seen = from_s < window.until_s && until_s > window.from_s;
    is_seen.then_some((from_s, until_s))
}

/// The parts of the steps that are seen.
fn steps_within(window: &Window, steps: &[StepMark]) -> Vec<StepMark> {
    let within = |s: f64| s.clamp(window.from_s, window.until_s);
    let seen = steps
        .iter()
        .filter(|step| step.until_s > window.from_s && step.from_s < window.until_s);
    let mut seen: Vec<StepMark> = seen
        .map(|step| StepMark {
            from_s: within(step.from_s),
            counts_from_s: step.counts_from_s.map(within),
            until_s: within(step.until_s),
            ..step.clone()
        })
        .collect();
    seen.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    seen
}

/// Gaps to be marked, within the window: those that are listed, and columns with a shorter one.
fn gaps(window: &Window) -> Vec<(f64, f64)> {
    let listed = window.gaps.iter().map(|gap| (gap.from_s, gap.until_s));
    let mut marks: Vec<(f64, f64)> = listed.collect();
    let mut breaks = Breaks::new(&marks);
    for column in &window.columns {
        // The column behind a listed gap is told by that one.
        let is_told = breaks.step(column.until_s) != Crossed::Nothing;
        if column.has_gap && !is_told {
            marks.push((column.from_s, column.until_s));
        }
    }
    let within = |s: f64| s.clamp(window.from_s, window.until_s);
    marks
        .into_iter()
        .map(|(from_s, until_s)| (within(from_s), within(until_s)))
        .collect()
}

fn panel(window: &Window, kind: &PanelKind, picture: RecordPicture) -> Option<Panel> {
    let shown = kind.shown(picture.units);
    let lanes = kind.roles.iter().filter_map(|role| window.lane(*role));
    let curves = lanes.map(|lane| curve(window, lane, &shown));
    Panel::of_curves(kind, curves.collect(), picture.units)
}

fn curve(window: &Window, lane: &WindowLane, shown: &impl Fn(f64) -> f64) -> Curve {
    let gaps: Vec<(f64, f64)> = window.gaps.iter().map(|g| (g.from_s, g.until_s)).collect();
    let mut breaks = Breaks::new(&gaps);
    let is_rows = window.is_rows();
    let mut points: Vec<At> = Vec::new();
    let mut bands: Vec<Vec<(f64, f64, f64)>> = Vec::new();
    let mut band = Vec::new();
    for (column, found) in window.columns.iter().zip(&lane.bands) {
        let is_broken = breaks.step(column.until_s) != Crossed::Nothing;
        if is_broken || found.is_none() {
            points.push((f64::NAN, f64::NAN));
            bands.push(std::mem::take(&mut band));
        }
        if let Some(found) = found {
            let at_s = middle_s(window, column);
            points.push((at_s, shown(found.mean_si)));
            band.push((at_s, shown(found.min_si), shown(found.max_si)));
        }
    }
    bands.push(band);
    bands.retain(|band| !band.is_empty() && !is_rows);
    Curve {
        role: lane.channel.role,
        points,
        bands,
    }
}

/// Where a column is drawn: blocks may reach out of the window.
fn middle_s(window: &Window, column: &Stretch) -> f64 {
    let middle_s = column.from_s + (column.until_s - column.from_s) / 2.0;
    middle_s.clamp(window.from_s, window.until_s)
}

#[cfg(test)]
mod tests;
