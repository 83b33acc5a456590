//! What strokes told, said on the screen as soon as they are done. It decides nothing: what
//! counts is judged from the recording.

use super::proof::told_lines;
use crate::account::StrokePlan;
use crate::account::StrokeRow;
use crate::account::StrokeWatch;
use crate::bench::Reading;
use crate::channel::Channel;
use crate::quantity::UnitSystem;
use crate::settings::PlannedStep;

/// Follows strokes while they are run.
#[derive(Debug, Clone)]
pub struct StrokesLive {
    units: UnitSystem,
    watch: Option<(StrokeWatch, f64)>,
}

impl StrokesLive {
    /// For a screen in these units.
    pub fn new(units: UnitSystem) -> Self {
        Self { units, watch: None }
    }

    /// Strokes begin, of a step.
    pub fn begin(&mut self, planned: &PlannedStep, channels: &[Channel]) {
        let setup = planned.own_setup();
        let cylinder = setup.and_then(|setup| setup.subject.piece.cylinder());
        self.watch = cylinder.map(|cylinder| {
            let of = |role| channels.iter().find(|channel| channel.role == role);
            let plan = StrokePlan::of(cylinder, of);
            (StrokeWatch::new(plan), cylinder.size().stroke.value)
        });
    }

    /// Takes a row.
    pub fn push(&mut self, reading: &Reading) {
        if let Some((watch, _)) = &mut self.watch {
            watch.push(&StrokeRow {
                time_s: reading.time_s,
                cap_pa: reading.cap_pa,
                rod_pa: reading.rod_pa,
                x_m: reading.x_m,
            });
        }
    }

    /// Strokes end: what they told, in a line or two; nothing of other phases.
    pub fn end(&mut self) -> Option<String> {
        let (watch, nominal_m) = self.watch.take()?;
        let lines = told_lines(&watch.summary(), nominal_m, self.units);
        (!lines.is_empty()).then(|| lines.join("\n"))
    }
}
