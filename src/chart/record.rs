//! The record chart: what was measured, over the whole recording.
//!
//! Pressures, position and temperature in panels that share the time axis. Time
//! before the hold counts is hatched, the counted hold is marked, gaps stay open.
//!
//! Invariant: a million rows cost one pass for each line, and a spike of one
//! sample is still seen.

use crate::channel::Role;
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
use crate::chart::course;
use crate::chart::course::StepMark;
use crate::chart::thin;
use crate::quantity::UnitSystem;
use crate::quantity::shown;
use crate::recording::Recording;

const TEXT_PT: f64 = 8.5;
const COLUMNS_PER_PT: f64 = 2.0;

/// How a record chart is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecordPicture {
    /// Start and end of the counted hold on the recording's time axis, s.
    pub hold_s: Option<(f64, f64)>,
    /// Units of measure.
    pub units: UnitSystem,
    /// Size of the picture.
    pub size: Size,
}

/// Draws the record chart.
pub fn record_chart(recording: &Recording, picture: RecordPicture) -> String {
    drawn(recording, picture, &[])
}

/// Draws the record chart with the steps of a procedure over it, if there are any.
pub(super) fn drawn(recording: &Recording, picture: RecordPicture, steps: &[StepMark]) -> String {
    let panels: Vec<Panel> = PANELS
        .iter()
        .filter_map(|kind| Panel::new(recording, kind, picture.units))
        .collect();
    canvas::picture(picture.size, &words(&panels), |canvas| {
        if panels.is_empty() {
            let at = (picture.size.width_pt / 2.0, picture.size.height_pt / 2.0);
            let hand = Hand::plain(canvas::BLACK, 10.0);
            canvas.text("nothing was recorded", at, Side::Middle, hand);
            return;
        }
        let time = recording.time_s();
        let gaps = recording.gaps().iter().map(|g| (g.from_s, g.until_s));
        let span_s = (
            time.first().copied().unwrap_or(0.0),
            time.last().copied().unwrap_or(1.0),
        );
        Sheet::new(gaps.collect(), span_s, picture, panels, steps).draw(canvas);
    })
}

pub(super) struct PanelKind {
    title: &'static str,
    /// Channels that share it.
    pub(super) roles: &'static [Role],
    metric_unit: &'static str,
    least: f64,
}

/// The panels of a sheet, from above.
pub(super) const PANELS: [PanelKind; 3] = [
    PanelKind {
        title: "pressure",
        roles: &[Role::CapPressure, Role::RodPressure],
        metric_unit: "bar",
        least: 1.0,
    },
    PanelKind {
        title: "position",
        roles: &[Role::Position],
        metric_unit: "mm",
        least: 0.1,
    },
    PanelKind {
        title: "temperature",
        roles: &[Role::OilTemperature, Role::WallTemperature],
        metric_unit: "°C",
        least: 1.0,
    },
];

/// What feeds the sensors; on the page it stands below the others, on paper nowhere.
pub(super) const SUPPLY: PanelKind = PanelKind {
    title: "supply",
    roles: &[Role::Supply],
    metric_unit: "V",
    least: 0.02,
};

/// Left and right of the panels of a sheet this wide, in points.
pub(super) fn plot_pt(width_pt: f64) -> (f64, f64) {
    (50.0, width_pt - 48.0)
}

fn name(role: Role) -> &'static str {
    match role {
        Role::CapPressure => "cap end",
        Role::RodPressure => "rod end",
        Role::Position => "rod",
        Role::OilTemperature => "oil",
        Role::WallTemperature => "wall",
        Role::Supply => "supply",
    }
}

fn pen(role: Role) -> Pen {
    match role {
        Role::CapPressure => Pen::solid(canvas::CAP, 1.5),
        Role::RodPressure => Pen {
            ink: canvas::ROD,
            width_pt: 1.1,
            dash_pt: &[6.0, 2.5],
        },
        Role::Position => Pen::solid(canvas::MOVE, 1.2),
        Role::OilTemperature => Pen::solid(canvas::WARM, 1.2),
        Role::WallTemperature | Role::Supply => Pen {
            ink: canvas::GREY,
            width_pt: 1.0,
            dash_pt: &[1.5, 2.0],
        },
    }
}

/// From SI to the shown unit: factor, offset before the factor, and name.
fn unit(metric_unit: &'static str, units: UnitSystem) -> (f64, f64, &'static str) {
    match (metric_unit, units) {
        ("°C", UnitSystem::Metric) => (1.0, -273.15, "°C"),
        ("°C", UnitSystem::Inch) => (1.8, -273.15 + 32.0 / 1.8, "°F"),
        _ => {
            let (factor, name) = shown(metric_unit, units);
            (factor, 0.0, name)
        }
    }
}

/// Channels of one kind over time.
pub(super) struct Panel {
    title: &'static str,
    unit: &'static str,
    curves: Vec<Curve>,
    range: (f64, f64),
}

/// One channel: times and values in the unit of its panel.
pub(super) struct Curve {
    /// The channel.
    pub(super) role: Role,
    /// Its line; a point that is not finite breaks it.
    pub(super) points: Vec<At>,
    /// Where many values share a column: stretches of time, lowest, highest.
    pub(super) bands: Vec<Vec<(f64, f64, f64)>>,
}

impl PanelKind {
    /// A value in the unit that is shown, from SI.
    pub(super) fn shown(&self, units: UnitSystem) -> impl Fn(f64) -> f64 + use<> {
        let (factor, offset, _) = unit(self.metric_unit, units);
        move |si| (si + offset) * factor
    }
}

impl Panel {
    /// The panel of a kind; None if nothing of it was measured.
    fn new(recording: &Recording, kind: &PanelKind, units: UnitSystem) -> Option<Self> {
        let shown = kind.shown(units);
        let n_columns = (440.0 * COLUMNS_PER_PT) as usize;
        let time = recording.time_s();
        let column_s = (time.last()? - time.first()?) / n_columns as f64;
        // A gap narrower than a column leaves no opening to see; its mark shows it.
        let gaps: Vec<(f64, f64)> = recording
            .gaps()
            .iter()
            .map(|g| (g.from_s, g.until_s))
            .filter(|g| g.1 - g.0 >= column_s)
            .collect();
        let curves: Vec<Curve> = kind
            .roles
            .iter()
            .filter_map(|role| recording.track(*role))
            .map(|track| {
                let value = |i: usize| track.value(i).map_or(f64::NAN, &shown);
                Curve {
                    role: track.channel.role,
                    points: thin::thinned(time, value, &gaps, n_columns),
                    bands: Vec::new(),
                }
            })
            .collect();
        Self::of_curves(kind, curves, units)
    }

    /// The panel of a kind with its curves; None if nothing of it was measured.
    pub(super) fn of_curves(
        kind: &PanelKind,
        curves: Vec<Curve>,
        units: UnitSystem,
    ) -> Option<Self> {
        let (.., unit) = unit(kind.metric_unit, units);
        let points = curves.iter().flat_map(|c| c.points.iter().map(|p| p.1));
        let bands = curves.iter().flat_map(|c| c.bands.iter().flatten());
        let all = points.chain(bands.flat_map(|band| [band.1, band.2]));
        let least = match units {
            UnitSystem::Metric => kind.least,
            UnitSystem::Inch => kind.least * unit_ratio(kind.metric_unit),
        };
        let range = axis::range(all, least)?;
        Some(Self {
            title: kind.title,
            unit,
            curves,
            range,
        })
    }
}

fn unit_ratio(metric_unit: &'static str) -> f64 {
    let (inch, ..) = unit(metric_unit, UnitSystem::Inch);
    let (metric, ..) = unit(metric_unit, UnitSystem::Metric);
    inch / metric
}

/// What the panels show, for those who cannot see them.
pub(super) fn words(panels: &[Panel]) -> String {
    let said: Vec<String> = panels
        .iter()
        .map(|p| {
            let (low, high) = p.range;
            format!("{} within {low:.1} to {high:.1} {}", p.title, p.unit)
        })
        .collect();
    format!("What was recorded over time: {}.", said.join(", "))
}

/// Panels that share the time axis.
pub(super) struct Sheet<'a> {
    gaps: Vec<(f64, f64)>,
    picture: RecordPicture,
    steps: &'a [StepMark],
    panels: Vec<Panel>,
    plot: Area,
    time: Scale,
}

impl<'a> Sheet<'a> {
    /// From gaps and span of time, in s, and the panels.
    pub(super) fn new(
        gaps: Vec<(f64, f64)>,
        (low, high): (f64, f64),
        picture: RecordPicture,
        panels: Vec<Panel>,
        steps: &'a [StepMark],
    ) -> Self {
        let (left, right) = plot_pt(picture.size.width_pt);
        let plot = Area {
            left,
            top: if steps.is_empty() { 16.0 } else { 30.0 },
            right,
            bottom: picture.size.height_pt - 28.0,
        };
        let time = Scale {
            low,
            high: high.max(low + 1e-3),
            from_pt: plot.left,
            until_pt: plot.right,
        };
        Self {
            gaps,
            picture,
            steps,
            panels,
            plot,
            time,
        }
    }

    /// Draws it.
    pub(super) fn draw(&self, canvas: &mut Canvas<'_>) {
        let between = 7.0;
        let n = self.panels.len() as f64;
        // The pressures carry the test: their panel is the tallest.
        let shares: Vec<f64> = (0..self.panels.len())
            .map(|i| if i == 0 { 1.5 } else { 1.0 })
            .collect();
        let height =
            (self.plot.bottom - self.plot.top - between * (n - 1.0)) / shares.iter().sum::<f64>();
        let mut top = self.plot.top;
        for (panel, share) in self.panels.iter().zip(shares) {
            let area = Area {
                top,
                bottom: top + height * share,
                ..self.plot
            };
            self.panel(canvas, panel, area);
            top = area.bottom + between;
        }
        self.hold(canvas);
        if !self.steps.is_empty() {
            course::names(canvas, self.steps, self.plot, self.time);
        }
        self.time_axis(canvas);
    }

    fn panel(&self, canvas: &mut Canvas<'_>, panel: &Panel, area: Area) {
        let hand = Hand::plain(canvas::BLACK, TEXT_PT);
        let scale = Scale {
            low: panel.range.0,
            high: panel.range.1,
            from_pt: area.bottom,
            until_pt: area.top,
        };
        let n_ticks = (((area.bottom - area.top) / 15.0) as usize).clamp(2, 6);
        for (value, text) in scale.ticks(n_ticks) {
            let y = scale.at(value);
            let pen = Pen::solid(canvas::FAINT, 0.6);
            canvas.line(&[(area.left, y), (area.right, y)], pen);
            canvas.text(&text, (area.left - 4.0, y), Side::Left, hand);
        }
        course::stretches(canvas, self.steps, area, self.time);
        self.settling_and_gaps(canvas, area);
        let mut ends: Vec<(f64, Role)> = Vec::new();
        for curve in &panel.curves {
            let pen = pen(curve.role);
            for band in &curve.bands {
                self.band(canvas, band, scale, pen);
            }
            let points: Vec<At> = curve
                .points
                .iter()
                .map(|(t, v)| (self.time.at(*t), scale.at(*v)))
                .collect();
            let width_pt = match curve.bands.is_empty() {
                true => pen.width_pt,
                false => 0.6 * pen.width_pt,
            };
            canvas.line(&points, Pen { width_pt, ..pen });
            if let Some(end) = points.iter().rev().find(|p| p.0.is_finite()) {
                ends.push((end.1, curve.role));
            }
        }
        canvas.frame(area, Pen::solid(canvas::GREY, 0.7));
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut free = area.top;
        for (y, _) in &mut ends {
            *y = y.max(free + 4.0);
            free = *y + 6.0;
        }
        let mut free = area.bottom - 2.0;
        for (y, _) in ends.iter_mut().rev() {
            *y = y.min(free);
            free = *y - 10.0;
        }
        for (y, role) in ends {
            let hand = Hand::bold(pen(role).ink, TEXT_PT);
            canvas.text(name(role), (area.right + 4.0, y), Side::Right, hand);
        }
        let at = (9.0, (area.top + area.bottom) / 2.0);
        let title = if area.bottom - area.top > 70.0 {
            format!("{}, {}", panel.title, panel.unit)
        } else {
            panel.unit.to_string()
        };
        canvas.text_upwards(&title, at, hand);
    }

    /// Lowest to highest, filled, with a thin edge so that a spike of one sample is seen.
    fn band(&self, canvas: &mut Canvas<'_>, band: &[(f64, f64, f64)], scale: Scale, pen: Pen) {
        let at = |t: f64, v: f64| (self.time.at(t), scale.at(v));
        let lows: Vec<At> = band.iter().map(|(t, low, _)| at(*t, *low)).collect();
        let highs: Vec<At> = band.iter().map(|(t, _, high)| at(*t, *high)).collect();
        let outline: Vec<At> = lows.iter().chain(highs.iter().rev()).copied().collect();
        canvas.fill(&outline, pen.ink.pale());
        for edge in [lows, highs] {
            canvas.line(&edge, Pen::solid(pen.ink, 0.4));
        }
    }

    fn settling_and_gaps(&self, canvas: &mut Canvas<'_>, area: Area) {
        if let Some((from, _)) = self.picture.hold_s {
            let settling = Area {
                right: self.time.at(from).min(area.right),
                ..area
            };
            canvas.hatch(settling, 5.0, Pen::solid(canvas::PALE, 0.5));
        }
        for (left, right) in self.gap_marks() {
            let shown = Area {
                left: left.max(area.left),
                right: right.min(area.right),
                ..area
            };
            if shown.right > shown.left {
                canvas.block(shown, canvas::FAINT);
                canvas.frame(shown, Pen::solid(canvas::PALE, 0.6));
                if shown.right - shown.left > 14.5 {
                    let at = ((shown.left + shown.right) / 2.0, area.top + 6.0);
                    canvas.text("gap", at, Side::Middle, Hand::plain(canvas::BLACK, 7.5));
                }
            }
        }
    }

    /// Left and right of each gap in points; those that touch are one.
    fn gap_marks(&self) -> Vec<(f64, f64)> {
        let mut gaps: Vec<(f64, f64)> = self
            .gaps
            .iter()
            .map(|(from_s, until_s)| (self.time.at(*from_s), self.time.at(*until_s)))
            // A short gap is drawn wide enough to be seen.
            .map(|(left, right)| (left, right.max(left + 1.2)))
            .collect();
        gaps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut marks: Vec<(f64, f64)> = Vec::new();
        for (left, right) in gaps {
            match marks.last_mut() {
                Some(last) if left <= last.1 => last.1 = last.1.max(right),
                _ => marks.push((left, right)),
            }
        }
        marks
    }

    fn hold(&self, canvas: &mut Canvas<'_>) {
        let Some((from, until)) = self.picture.hold_s else {
            return;
        };
        let plot = self.plot;
        let (left, right) = (
            self.time.at(from).clamp(plot.left, plot.right),
            self.time.at(until).clamp(plot.left, plot.right),
        );
        let pen = Pen::solid(canvas::BLACK, 1.0);
        for x in [left, right] {
            canvas.line(&[(x, plot.top - 10.0), (x, plot.bottom)], pen);
        }
        let y = plot.top - 6.0;
        let hand = Hand::plain(canvas::BLACK, TEXT_PT);
        let text = "counted hold";
        let half = canvas::width_pt(text, hand) / 2.0 + 4.0;
        let middle = (left + right) / 2.0;
        if right - left > 2.0 * half {
            canvas.line(&[(left, y), (middle - half, y)], pen);
            canvas.line(&[(middle + half, y), (right, y)], pen);
            canvas.text(text, (middle, y), Side::Middle, hand);
        } else {
            canvas.line(&[(left, y), (right, y)], pen);
        }
        if left - plot.left > 34.0 {
            let at = ((plot.left + left) / 2.0, y);
            canvas.text(
                "settling",
                at,
                Side::Middle,
                Hand::plain(canvas::GREY, TEXT_PT),
            );
        }
    }

    fn time_axis(&self, canvas: &mut Canvas<'_>) {
        let hand = Hand::plain(canvas::BLACK, TEXT_PT);
        let (unit_s, unit) = axis::time_unit(self.time.high - self.time.low);
        let scale = Scale {
            low: self.time.low / unit_s,
            high: self.time.high / unit_s,
            ..self.time
        };
        let y = self.plot.bottom;
        for (value, text) in scale.ticks(7) {
            let x = scale.at(value);
            canvas.line(&[(x, y), (x, y + 3.0)], Pen::solid(canvas::GREY, 0.7));
            canvas.text(&text, (x, y + 9.0), Side::Middle, hand);
        }
        let at = ((self.plot.left + self.plot.right) / 2.0, y + 20.0);
        let text = format!("time since the start of the recording, {unit}");
        canvas.text(&text, at, Side::Middle, hand);
    }
}

#[cfg(test)]
mod tests;
