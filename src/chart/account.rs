//! The account chart: where the oil went during a hold.
//!
//! Time to the right, volume up. Oil lost and oil gained are drawn with their 95 %
//! ribbon; what only looks like a leak goes downwards, thin and grey. The limit is
//! a fence that rises from the start of the counted hold: a ribbon wholly under it
//! passes, wholly over it fails.
//!
//! Lines differ in dash and weight as well as in colour, and carry their names at
//! their right ends. Invariant: across a gap nothing is drawn.

use crate::account::Line;
use crate::account::LineKind;
use crate::chart::Size;
use crate::chart::axis;
use crate::chart::axis::Scale;
use crate::chart::canvas;
use crate::chart::canvas::Area;
use crate::chart::canvas::At;
use crate::chart::canvas::Canvas;
use crate::chart::canvas::Hand;
use crate::chart::canvas::Pen;
use crate::chart::canvas::Side;
use crate::chart::fence;
use crate::chart::fence::Fence;
use crate::chart::label;
use crate::chart::label::Label;
use crate::chart::label::TEXT_PT;
use crate::chart::look::is_main;
use crate::chart::look::label_width;
use crate::chart::look::name;
use crate::chart::look::pen;
use crate::chart::look::sense;
use crate::chart::look::volumes;
use crate::chart::thin;
use crate::chart::thin::Breaks;
use crate::chart::thin::Crossed;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;

/// Everything an account chart is drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct AccountPicture<'a> {
    /// The lines of the evaluation.
    pub lines: &'a [Line],
    /// Length of the counted hold in seconds.
    pub hold_length_s: f64,
    /// Time before the hold counted, in seconds; drawn hatched.
    pub settle_s: f64,
    /// Stretches without samples, in seconds since the start of the counted hold.
    pub gaps_s: &'a [(f64, f64)],
    /// Limits of flow.
    pub fences: &'a [Fence],
    /// Units of measure.
    pub units: UnitSystem,
    /// Size of the picture.
    pub size: Size,
    /// Where it is seen.
    pub seen: Seen,
}

/// Where a picture is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// On paper, whose letters are embedded.
    OnPaper,
    /// On a screen, in whatever letters it has: they may be wider.
    OnScreen,
}

/// Draws the account chart.
pub fn account_chart(picture: &AccountPicture<'_>) -> String {
    canvas::picture(picture.size, &words(picture), |canvas| {
        let sheet = Sheet::new(picture);
        sheet.background(canvas);
        sheet.ribbons(canvas);
        let mut labels = Vec::new();
        sheet.fences(canvas, &mut labels);
        sheet.lines(canvas, &mut labels);
        sheet.axes(canvas);
        label::place(&mut labels, sheet.plot);
        for label in &labels {
            label.draw(canvas, sheet.plot.right);
        }
    })
}

fn words(picture: &AccountPicture<'_>) -> String {
    let (factor, unit) = shown("mL", picture.units);
    let ends: Vec<String> = picture
        .lines
        .iter()
        .filter_map(|line| Some((line, *line.volume_m3.last()?)))
        .map(|(line, end)| {
            let half = line.half_width_m3.last().copied().unwrap_or(f64::NAN);
            let end = match is_main(line.kind) {
                true => end * sense(line),
                false => end,
            };
            let end = number(end * factor, half * factor);
            format!("{} {end} {unit}", name(line))
        })
        .collect();
    format!(
        "Account of the oil over the counted hold of {:.0} s. At its end: {}.",
        picture.hold_length_s,
        ends.join("; ")
    )
}

struct Sheet<'a> {
    picture: &'a AccountPicture<'a>,
    plot: Area,
    time: Scale,
    volume: Scale,
    unit: &'static str,
    factor: f64,
}

impl<'a> Sheet<'a> {
    fn new(picture: &'a AccountPicture<'a>) -> Self {
        let (factor, unit) = shown("mL", picture.units);
        let Size {
            width_pt,
            height_pt,
        } = picture.size;
        let plot = Area {
            left: 44.0,
            top: 8.0,
            right: width_pt - label_width(picture),
            bottom: height_pt - 30.0,
        };
        let hold = picture.hold_length_s.max(1e-3);
        let time = Scale {
            low: -picture.settle_s.clamp(0.0, 0.3 * hold),
            high: hold,
            from_pt: plot.left,
            until_pt: plot.right,
        };
        let (low, high) = volumes(picture, factor);
        let volume = Scale {
            low,
            high,
            from_pt: plot.bottom,
            until_pt: plot.top,
        };
        Self {
            picture,
            plot,
            time,
            volume,
            unit,
            factor,
        }
    }

    fn background(&self, canvas: &mut Canvas<'_>) {
        let plot = self.plot;
        for (value, _) in self.volume.ticks(5) {
            let y = self.volume.at(value);
            let pen = Pen::solid(canvas::FAINT, 0.6);
            canvas.line(&[(plot.left, y), (plot.right, y)], pen);
        }
        let start = self.time.at(0.0);
        if start > plot.left + 1.0 {
            let settling = Area {
                right: start,
                ..plot
            };
            canvas.hatch(settling, 5.0, Pen::solid(canvas::PALE, 0.5));
            canvas.line(
                &[(start, plot.top), (start, plot.bottom)],
                Pen::solid(canvas::GREY, 0.7),
            );
        }
        for &(from, until) in self.picture.gaps_s {
            let gap = Area {
                left: self.time.at(from.max(self.time.low)),
                right: self.time.at(until.min(self.time.high)),
                ..plot
            };
            if gap.right > gap.left {
                canvas.block(gap, canvas::FAINT);
                canvas.frame(gap, Pen::solid(canvas::PALE, 0.6));
                if gap.right - gap.left > 14.5 {
                    let at = ((gap.left + gap.right) / 2.0, gap.top + 6.0);
                    canvas.text("gap", at, Side::Middle, Hand::plain(canvas::GREY, 7.5));
                }
            }
        }
    }

    fn axes(&self, canvas: &mut Canvas<'_>) {
        let plot = self.plot;
        let hand = Hand::plain(canvas::BLACK, TEXT_PT);
        for (value, text) in self.volume.ticks(5) {
            let y = self.volume.at(value);
            canvas.text(&text, (plot.left - 5.0, y), Side::Left, hand);
        }
        let zero = self.volume.at(0.0);
        let ink = Pen::solid(canvas::BLACK, 1.0);
        canvas.line(&[(plot.left, zero), (plot.right, zero)], ink);
        canvas.line(&[(plot.left, plot.top), (plot.left, plot.bottom)], ink);
        let (unit_s, unit) = axis::time_unit(self.time.high);
        let scale = Scale {
            low: self.time.low / unit_s,
            high: self.time.high / unit_s,
            ..self.time
        };
        for (value, text) in scale.ticks(7) {
            let x = scale.at(value);
            canvas.line(&[(x, plot.bottom), (x, plot.bottom + 3.0)], ink);
            canvas.text(&text, (x, plot.bottom + 10.0), Side::Middle, hand);
        }
        canvas.line(&[(plot.left, plot.bottom), (plot.right, plot.bottom)], ink);
        let middle = (self.time.at(0.0) + plot.right) / 2.0;
        canvas.text(
            &format!("time since the hold counts, {unit}"),
            (middle, plot.bottom + 22.0),
            Side::Middle,
            hand,
        );
        let settling = self.time.at(0.0) - plot.left;
        if settling > 34.0 {
            let at = (plot.left + settling / 2.0, plot.bottom + 22.0);
            canvas.text(
                "settling",
                at,
                Side::Middle,
                Hand::plain(canvas::GREY, TEXT_PT),
            );
        }
        let at = (10.0, (plot.top + plot.bottom) / 2.0);
        canvas.text_upwards(&format!("oil, {}", self.unit), at, hand);
    }

    fn ribbons(&self, canvas: &mut Canvas<'_>) {
        for kind in [LineKind::CapLost, LineKind::RodGained] {
            for line in self.picture.lines.iter().filter(|l| l.kind == kind) {
                for run in self.runs(line) {
                    self.ribbon(canvas, kind, &run);
                }
            }
        }
    }

    fn ribbon(&self, canvas: &mut Canvas<'_>, kind: LineKind, run: &[(f64, f64, f64)]) {
        let upper: Vec<At> = run.iter().map(|r| (r.0, r.1)).collect();
        let lower: Vec<At> = run.iter().map(|r| (r.0, r.2)).collect();
        if kind == LineKind::CapLost {
            let mut outline = upper.clone();
            outline.extend(lower.iter().rev());
            canvas.fill(&outline, canvas::CAP_PALE);
            let edge = Pen::solid(canvas::CAP, 0.5);
            canvas.line(&upper, edge);
            canvas.line(&lower, edge);
        } else {
            // Uprights instead of a fill, so that the other ribbon shows through.
            let edge = Pen::solid(canvas::ROD_PALE, 0.7);
            let mut next = f64::NEG_INFINITY;
            for &(x, high, low) in run {
                if x >= next {
                    canvas.line(&[(x, high), (x, low)], edge);
                    next = x + 3.0;
                }
            }
            let edge = Pen::solid(canvas::ROD, 0.5);
            canvas.line(&upper, edge);
            canvas.line(&lower, edge);
        }
    }

    /// Stretches of a ribbon without a gap: x, upper and lower y in points.
    fn runs(&self, line: &Line) -> Vec<Vec<(f64, f64, f64)>> {
        let stride = (line.time_s.len() / 500).max(1);
        let mut runs = vec![Vec::new()];
        let mut breaks = Breaks::new(self.picture.gaps_s);
        let values = line.volume_m3.iter().zip(&line.half_width_m3);
        let last = line.time_s.len().saturating_sub(1);
        for (index, (&t, (&v, &half))) in line.time_s.iter().zip(values).enumerate() {
            let crossed = breaks.step(t);
            let usable = crossed != Crossed::Inside && v.is_finite() && half.is_finite();
            let anew = crossed != Crossed::Nothing || !usable;
            if anew {
                runs.push(Vec::new());
            }
            if usable && (anew || index % stride == 0 || index == last) {
                let y = |volume: f64| self.volume.at(volume * self.factor * sense(line));
                if let Some(run) = runs.last_mut() {
                    let (one, other) = (y(v + half), y(v - half));
                    run.push((self.time.at(t), one.min(other), one.max(other)));
                }
            }
        }
        runs.retain(|run| run.len() > 1);
        runs
    }

    fn lines(&self, canvas: &mut Canvas<'_>, labels: &mut Vec<Label>) {
        let order = [
            LineKind::Squeeze,
            LineKind::Heat,
            LineKind::CapLost,
            LineKind::RodGained,
        ];
        for kind in order {
            for line in self.picture.lines.iter().filter(|l| l.kind == kind) {
                let n = line.time_s.len().min(line.volume_m3.len());
                let value = |i: usize| line.volume_m3[i] * self.factor * sense(line);
                let points: Vec<At> =
                    thin::thinned(&line.time_s[..n], value, self.picture.gaps_s, 700)
                        .into_iter()
                        .map(|(t, v)| (self.time.at(t), self.volume.at(v)))
                        .collect();
                canvas.line(&points, pen(kind));
                if let Some(end) = points.iter().rev().find(|p| p.0.is_finite()) {
                    labels.push(self.label(line, *end));
                }
            }
        }
    }

    fn label(&self, line: &Line, end: At) -> Label {
        let main = is_main(line.kind);
        let second = line
            .volume_m3
            .last()
            .zip(line.half_width_m3.last())
            .filter(|_| main)
            .map(|(v, half)| {
                let (v, half) = (v * self.factor * sense(line), half * self.factor);
                format!("{} ± {} {}", number(v, half), number(half, half), self.unit)
            });
        Label {
            y: end.1,
            end,
            text: name(line).into(),
            second,
            ink: pen(line.kind).ink,
            bold: main,
        }
    }

    fn fences(&self, canvas: &mut Canvas<'_>, labels: &mut Vec<Label>) {
        for fence in self.picture.fences {
            let slope = fence.flow_m3_per_s * self.factor;
            let full = slope * self.time.high;
            // A fence that leaves through the top is named where it leaves.
            let until = if full > self.volume.high {
                self.time.high * self.volume.high / full
            } else {
                self.time.high
            };
            let from = (self.time.at(0.0), self.volume.at(0.0));
            let end = (self.time.at(until), self.volume.at(slope * until));
            canvas.line(&[from, end], Pen::solid(canvas::BLACK, 1.3));
            fence::posts(canvas, from, end);
            if until < self.time.high {
                let hand = Hand::bold(canvas::BLACK, TEXT_PT);
                let at = (end.0 + 8.0, end.1 + 6.0);
                canvas.text(&fence.name, at, Side::Right, hand);
            } else {
                labels.push(Label {
                    y: end.1,
                    end,
                    text: fence.name.clone(),
                    second: None,
                    ink: canvas::BLACK,
                    bold: true,
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(kind: LineKind, ml_per_s: f64) -> Line {
        let time_s: Vec<f64> = (0..=300).map(f64::from).collect();
        Line {
            kind,
            volume_m3: time_s.iter().map(|t| t * ml_per_s * 1e-6).collect(),
            half_width_m3: time_s.iter().map(|_| 2e-8).collect(),
            time_s,
        }
    }

    fn chart(lines: &[Line], fences: &[Fence], gaps_s: &[(f64, f64)]) -> String {
        account_chart(&AccountPicture {
            lines,
            hold_length_s: 300.0,
            settle_s: 60.0,
            gaps_s,
            fences,
            units: UnitSystem::Metric,
            size: Size {
                width_pt: 510.0,
                height_pt: 200.0,
            },
            seen: Seen::OnPaper,
        })
    }

    #[test]
    fn each_line_carries_its_name_and_its_end() {
        let lines = [line(LineKind::CapLost, 1e-3), line(LineKind::Heat, 1e-3)];
        let svg = chart(&lines, &[], &[]);
        for text in [
            "lost from the cap side",
            "0.300 ± 0.020 mL",
            "heat, no leak",
        ] {
            assert!(svg.contains(text), "{text} is missing");
        }
    }

    #[test]
    fn a_line_that_goes_the_other_way_is_named_after_it_and_drawn_upwards() {
        let svg = chart(&[line(LineKind::RodGained, -1e-3)], &[], &[]);
        assert!(svg.contains("lost from the rod side"));
        assert!(svg.contains("0.300 ± 0.020 mL") && !svg.contains("−0.300"));
        let up = chart(&[line(LineKind::RodGained, 1e-3)], &[], &[]);
        let lost = svg.replace("lost from the rod side", "gained on the rod side");
        let drawn = |svg: &str| svg.matches("<polyline").count();
        assert_eq!(drawn(&lost), drawn(&up));
    }

    #[test]
    fn a_gap_is_not_bridged() {
        let lines = [line(LineKind::Squeeze, 1e-3)];
        // The squeeze line alone is drawn 0.7 pt wide and grey without a dash.
        let n_lines = |gaps: &[(f64, f64)]| {
            let svg = chart(&lines, &[], gaps);
            let drawn = svg.lines().filter(|l| l.contains("stroke-width=\"7\""));
            drawn.filter(|l| l.matches(',').count() > 50).count()
        };
        assert_eq!(n_lines(&[]), 1);
        assert_eq!(n_lines(&[(100.0, 150.0)]), 2);
    }

    #[test]
    fn a_limit_far_away_does_not_press_the_lines_flat() {
        let far = Fence {
            name: "limit, cap side: 100 mL/min".into(),
            flow_m3_per_s: 100e-6 / 60.0,
        };
        let lines = [line(LineKind::CapLost, 1e-3)];
        let picture = AccountPicture {
            lines: &lines,
            hold_length_s: 300.0,
            settle_s: 0.0,
            gaps_s: &[],
            fences: std::slice::from_ref(&far),
            units: UnitSystem::Metric,
            size: Size {
                width_pt: 510.0,
                height_pt: 200.0,
            },
            seen: Seen::OnPaper,
        };
        let (_, high) = volumes(&picture, 1e6);
        assert!(high < 1.5, "{high} mL");
        assert!(account_chart(&picture).contains("100 mL/min"));
    }

    #[test]
    fn a_chart_without_lines_is_still_a_chart() {
        let svg = chart(&[], &[], &[]);
        assert!(svg.contains("</svg>") && !svg.contains("NaN"));
    }
}
