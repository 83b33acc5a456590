//! What strokes and squeezes told, in the JSON record.

use serde::Serialize;

use crate::account::Figure;
use crate::account::OneWay;
use crate::account::StrokeSide;
use crate::account::StrokeSummary;
use crate::account::Travel;
use crate::certificate::proof::facts::StrokesTold;
use crate::certificate::record::FigureEntry;
use crate::certificate::record::LimitEntry;
use crate::certificate::record::figure;
use crate::certificate::record::finite;
use crate::certificate::record::limit;
use crate::verdict::Judged;

/// What strokes told.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct ToldEntry {
    figures: Vec<WayFigureEntry>,
    unstated: Vec<UnstatedEntry>,
    limits: Vec<LimitEntry>,
    out: SideEntry,
    #[serde(rename = "in")]
    back: SideEntry,
    stroke_mm: Option<f64>,
    ways: Vec<WayEntry>,
}

/// What a squeeze told.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct AirEntry {
    figure: Option<FigureEntry>,
    unstated: Option<String>,
    limits: Vec<LimitEntry>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct WayFigureEntry {
    /// "out" or "in"; null for one of both ways.
    way: Option<&'static str>,
    #[serde(flatten)]
    figure: FigureEntry,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct UnstatedEntry {
    name: &'static str,
    why: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SideEntry {
    whole_ways: u32,
    speed_mm_per_s: Option<f64>,
    running_spread_bar: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct WayEntry {
    way: &'static str,
    from_s: Option<f64>,
    until_s: Option<f64>,
    length_mm: Option<f64>,
    breakaway_bar: Option<f64>,
    running_bar: Option<f64>,
    running_spread_bar: Option<f64>,
    speed_mm_per_s: Option<f64>,
    stick_slip_percent: Option<f64>,
}

/// Of strokes.
pub(super) fn told(told: &StrokesTold<'_>) -> ToldEntry {
    let summary: &StrokeSummary = told.summary;
    let figures = summary.figures.iter();
    let unstated = summary.unstated.iter();
    ToldEntry {
        figures: figures
            .map(|found| WayFigureEntry {
                way: found.travel.map(Travel::word),
                figure: figure(&found.figure),
            })
            .collect(),
        unstated: unstated
            .map(|(name, why)| UnstatedEntry {
                name: name.word(),
                why: why.clone(),
            })
            .collect(),
        limits: told.judged.iter().map(limit).collect(),
        out: side(&summary.sides[0]),
        back: side(&summary.sides[1]),
        stroke_mm: summary.length_m.and_then(|m| finite(m * 1e3)),
        ways: summary.ways.iter().map(way).collect(),
    }
}

/// Of a squeeze.
pub(super) fn air(found: &Result<Figure, String>, judged: &[Judged]) -> AirEntry {
    AirEntry {
        figure: found.as_ref().ok().map(figure),
        unstated: found.as_ref().err().cloned(),
        limits: judged.iter().map(limit).collect(),
    }
}

fn side(side: &StrokeSide) -> SideEntry {
    SideEntry {
        whole_ways: side.n_ways,
        speed_mm_per_s: side.speed_m_per_s.and_then(|v| finite(v * 1e3)),
        running_spread_bar: side.spread_pa.and_then(|pa| finite(pa / 1e5)),
    }
}

fn way(way: &OneWay) -> WayEntry {
    let bar = |pa: Option<f64>| pa.and_then(|pa| finite(pa / 1e5));
    let mm = |m: Option<f64>| m.and_then(|m| finite(m * 1e3));
    WayEntry {
        way: way.travel.word(),
        from_s: finite(way.from_s),
        until_s: finite(way.until_s),
        length_mm: mm(way.length_m),
        breakaway_bar: bar(way.breakaway_pa),
        running_bar: bar(way.running_pa),
        running_spread_bar: bar(way.spread_pa),
        speed_mm_per_s: mm(way.speed_m_per_s),
        stick_slip_percent: way.stick_slip.and_then(|part| finite(part * 100.0)),
    }
}
