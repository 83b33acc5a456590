//! All strokes together: sums of each way, and what they come to.

use super::figures::StrokeFigure;
use super::figures::figures;
use super::mean::Mean;
use super::paces::SEEN_BY_M;
use super::watch::Done;
use super::watch::StrokeWatch;
use super::way::OneWay;
use crate::account::FigureName;

/// Part of the readings of a channel that may be lost before nothing is stated from it: as for
/// holds.
const LOST_MOST: f64 = 0.01;

/// Fewest whole ways in a direction that are stated: of one alone nobody knows the scatter.
const WAYS_LEAST: u32 = 2;

/// Sums over the ways of one direction.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct SideSums {
    pub n_ways: u32,
    pub breakaway_pa: Mean,
    pub unseen_pa2: Mean,
    pub running_pa: Mean,
    pub spread_pa: Mean,
    pub speed: Mean,
    pub slip: Mean,
    pub floor2: Mean,
    pub between_m: Mean,
    pub cap_n: Mean,
    pub rod_n: Mean,
}

impl SideSums {
    /// Adds a whole way that was pushed by an area.
    pub fn add(
        &mut self,
        done: &Done,
        area_m2: f64,
        noise_m: f64,
        length_m: Option<f64>,
    ) -> OneWay {
        let under = &done.under;
        self.n_ways += 1;
        let breakaway = under.breakaway;
        if let Some(peak) = breakaway {
            self.breakaway_pa.push(peak.force_n / area_m2);
            self.unseen_pa2.push((peak.standard_n / area_m2).powi(2));
        }
        let running = under.bins.median_and_spread().filter(|_| under.is_read);
        if let Some((median_n, spread_n)) = running {
            self.running_pa.push(median_n / area_m2);
            self.spread_pa.push(spread_n / area_m2);
            self.cap_n.push(under.cap_n.value().unwrap_or(0.0));
            self.rod_n.push(under.rod_n.value().unwrap_or(0.0));
        }
        let speed = under.paces.speed();
        if let Some(speed) = speed {
            self.speed.push(speed);
            self.between_m.push(under.paces.between_m().unwrap_or(0.0));
        }
        let evenness = under.paces.evenness(noise_m);
        if let Some(evenness) = evenness {
            self.slip.push(evenness.slip);
            self.floor2.push(evenness.floor.powi(2));
        }
        OneWay {
            travel: under.travel,
            from_s: under.from_s,
            until_s: done.until_s,
            length_m,
            breakaway_pa: breakaway.map(|peak| peak.force_n / area_m2),
            running_pa: running.map(|(median_n, _)| median_n / area_m2),
            spread_pa: running.map(|(_, spread_n)| spread_n / area_m2),
            speed_m_per_s: speed,
            stick_slip: evenness.map(|found| found.slip),
        }
    }
}

/// One direction of travel.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StrokeSide {
    /// Whole ways that were seen.
    pub n_ways: u32,
    /// Mean speed in the middle half of the stroke, m/s.
    pub speed_m_per_s: Option<f64>,
    /// Half of what lies between the tenth and the ninetieth part of the running pressure along
    /// the way, mean over the ways, Pa.
    pub spread_pa: Option<f64>,
}

/// What strokes showed, all together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StrokeSummary {
    /// Outwards and inwards.
    pub sides: [StrokeSide; 2],
    /// Mean length from rest to rest, m.
    pub length_m: Option<f64>,
    /// Figures, in the order of printing; their conditions are left to whoever knows them.
    pub figures: Vec<StrokeFigure>,
    /// Figures that cannot be stated, and why.
    pub unstated: Vec<(FigureName, String)>,
    /// The latest ways one by one, 64 at most.
    pub ways: Vec<OneWay>,
}

impl StrokeSummary {
    pub(super) fn of(watch: &StrokeWatch) -> Self {
        let side = |sums: &SideSums| StrokeSide {
            n_ways: sums.n_ways,
            speed_m_per_s: sums.speed.value(),
            spread_pa: sums.spread_pa.value(),
        };
        let (figures, unstated) = figures(watch);
        Self {
            sides: [side(&watch.sides[0]), side(&watch.sides[1])],
            length_m: watch.lengths.value(),
            figures,
            unstated,
            ways: watch.ways.iter().copied().collect(),
        }
    }

    /// Why a figure is not stated; None if it is.
    pub fn why_not(&self, name: FigureName) -> Option<&str> {
        let found = self.unstated.iter().find(|(unstated, _)| *unstated == name);
        found.map(|(_, why)| why.as_str())
    }

    /// The same, with everything unstated for a reason that concerns all channels.
    #[must_use]
    pub fn voided(self, why: &str) -> Self {
        let of_strokes = FigureName::ALL.into_iter().filter(|n| n.is_of_strokes());
        Self {
            figures: Vec::new(),
            unstated: of_strokes.map(|name| (name, why.to_owned())).collect(),
            ..self
        }
    }
}

/// Why nothing is stated of some of the channels; `of_pressure` if a pressure is among them.
pub(super) fn unread(watch: &StrokeWatch, of_pressure: bool) -> Option<String> {
    let part = |n: u64| n as f64 / watch.n_rows.max(1) as f64;
    let roles = super::watch::ROLES.iter().zip(watch.n_lost);
    let lost = roles
        .enumerate()
        .filter(|(index, _)| *index == 2 || of_pressure)
        .map(|(_, lost)| lost)
        .find(|(_, n)| part(*n) > LOST_MOST);
    if let Some((role, n)) = lost {
        let plain = role.plain();
        return Some(match part(n) {
            p if p > 0.999 => format!("{plain} was not read"),
            p => format!("{plain} was lost for {:.1} % of the strokes", 100.0 * p),
        });
    }
    let n = watch.sides.iter().map(|side| side.n_ways).min();
    n.filter(|n| *n < WAYS_LEAST).map(|n| {
        let holes = match watch.n_holes {
            0 => String::new(),
            n => format!("; {n} holes in the readings"),
        };
        format!(
            "{n} whole ways from end to end were seen in one direction, {WAYS_LEAST} are needed{holes}: run more full strokes, \
             without a stop between the ends"
        )
    })
}

/// Why the evenness is not stated.
pub(super) fn too_fast(watch: &StrokeWatch) -> Option<String> {
    let between = watch.sides.iter().filter_map(|side| side.between_m.value());
    let most = between.fold(0.0, f64::max);
    (most > SEEN_BY_M).then(|| {
        format!(
            "the rod went {:.1} mm from one reading to the next, and jumps shorter than that are not seen: run it slower, or \
             read more often; {:.0} mm is the most",
            most * 1e3,
            SEEN_BY_M * 1e3
        )
    })
}
