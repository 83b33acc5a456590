//! How far the side that does not carry is charged, so that its oil can be accounted for.
//!
//! Pressure on the rod side pushes the load's way: the cap side then carries
//! (F + p·a)/A. The charge stays below what a rating or the setting of a valve leaves free,
//! and below what would turn the flow past the piston round.

use super::Task;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::procedure::hazard::RATING_PART;
use crate::quantity::GaugePressure;

/// Pressure the unloaded side is charged to, so that its oil can be accounted for, bar.
const CHARGE_BAR: f64 = 30.0;

/// Least charge that is worth it, bar (common practice, no source).
const LEAST_BAR: f64 = 10.0;

/// A charge is stated in steps of this, bar.
const STEP_BAR: f64 = 5.0;

/// Part of the pressure where both sides would meet that a charge may come to.
const MET_PART: f64 = 0.5;

/// A charge, and what to say of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Charge {
    /// The pressure, if it is worth it and nothing forbids it.
    pub pressure: Option<GaugePressure>,
    /// As a sentence that begins with a space; empty where nothing is to be said.
    pub words: String,
}

impl Task<'_> {
    /// The charge of the rod side in a phase. Only a rod side that is shut then is charged.
    pub(super) fn charge(&self, circuit: &Circuit) -> Charge {
        let shut = circuit.is_shut_in(Chamber::Cap) && circuit.is_shut_in(Chamber::Rod);
        if !self.has_rod_side()
            || circuit.joined
            || !shut
            || circuit.holding_chamber() != Chamber::Cap
        {
            return Charge::default();
        }
        let (mut most, mut why) = (CHARGE_BAR, String::new());
        for (limit, reason) in self.bounds(circuit) {
            if limit < most {
                (most, why) = (limit, reason);
            }
        }
        let bar = (most / STEP_BAR).floor() * STEP_BAR;
        if bar < LEAST_BAR {
            return Charge {
                pressure: None,
                words: format!(
                    " Do not charge the rod side: {why}. Its oil is then not accounted for."
                ),
            };
        }
        let only = match why.is_empty() {
            true => String::new(),
            false => format!(" only ({why})"),
        };
        let rises = match (circuit.rod, self.load_pressure()) {
            (RodHold::PushedIn { .. }, None) => {
                format!(
                    " It raises the cap side by {:.0} bar.",
                    bar * self.area_part()
                )
            }
            _ => String::new(),
        };
        Charge {
            pressure: Some(GaugePressure::from_bar(bar)),
            words: format!(
                " Charge the rod side to about {bar:.0} bar{only}, so that its oil can be accounted for.{rises}"
            ),
        }
    }

    /// Pressure of the side that carries, with the other one charged.
    pub(super) fn with_charge(&self, charge: Option<GaugePressure>) -> Option<GaugePressure> {
        let alone = self.load_pressure()?.bar();
        let more = charge.map_or(0.0, |charge| charge.bar() * self.area_part());
        Some(GaugePressure::from_bar(alone + more))
    }

    /// Rod-side area by cap area.
    fn area_part(&self) -> f64 {
        (self.cylinder.annulus_area() / self.cylinder.cap_area()).value
    }

    /// Highest charges, bar, each with its reason.
    fn bounds(&self, circuit: &Circuit) -> Vec<(f64, String)> {
        let mut bounds = Vec::new();
        if let Some(rating) = self.ratings.weakest(Chamber::Rod) {
            let reason = format!(
                "more would come near the rating of the {} of the rod end, {:.0} bar",
                rating.part.plain(),
                rating.pressure.bar()
            );
            bounds.push((RATING_PART * rating.pressure.bar(), reason));
        }
        let RodHold::PushedIn { load: Some(load) } = circuit.rod else {
            return bounds;
        };
        let Some(alone) = self.load_pressure() else {
            return bounds;
        };
        let left =
            |limit: GaugePressure| (RATING_PART * limit.bar() - alone.bar()) / self.area_part();
        if let Some(rating) = self.ratings.weakest(Chamber::Cap) {
            let reason = format!(
                "more would bring the cap side near the rating of its {}, {:.0} bar",
                rating.part.plain(),
                rating.pressure.bar()
            );
            bounds.push((left(rating.pressure), reason));
        }
        if let (Port::OnValve, Some(opens)) = (circuit.cap_port, circuit.opens_at) {
            let reason = format!(
                "more would bring the cap side near the setting of its valve, {:.0} bar",
                opens.bar()
            );
            bounds.push((left(opens), reason));
        }
        if let Some(met) = self.cylinder.met_pressure(load) {
            let reason =
                "the load is light, and more would press the rod side's oil to the cap side"
                    .to_owned();
            bounds.push((MET_PART * met.bar(), reason));
        }
        bounds
    }
}
