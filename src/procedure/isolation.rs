//! Which phases tell cylinder from valve: in which order, how long each, and what pressures
//! they can come to.
//!
//! Each phase is planned for the cylinder's kind and load. One that could pass a rating is
//! not planned: it is named with the number, and another takes its place where there is
//! one. Nothing is planned that would open the side that carries the load.

mod beside;

use super::hazard::RATING_PART;
use super::hazards;
use crate::circuit::Beside;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::oil::Oil;
use crate::quantity::GaugePressure;
use crate::quantity::Time;
use crate::quantity::VolumeRate;
use crate::quantity::unit::second;

/// Mean oil temperature of an unsettled hold is known to this, K (90 of 100 simulated holds;
/// own computation): what a hold can see is trapped oil times this by its length.
const HEAT_K: f64 = 0.37;

/// Shortest hold that is planned, s.
const SHORTEST_S: f64 = 300.0;

/// Pressure the unloaded side is charged to, so that its oil can be accounted for.
const CHARGE_BAR: f64 = 30.0;

/// A phase to be held.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPhase {
    /// Its letter.
    pub label: char,
    /// How it is plumbed.
    pub circuit: Circuit,
    /// What to do, as sentences.
    pub instruction: String,
    /// What it tells, as a sentence.
    pub tells: &'static str,
    /// How long to count.
    pub hold: Time,
    /// Pressure of the holding side at the start, where the load is known.
    pub starts_at: Option<GaugePressure>,
    /// Highest pressure that a leak can bring, with its end, where it can be said.
    pub can_reach: Option<(Chamber, GaugePressure)>,
    /// What it can do to people.
    pub caution: String,
}

/// The phases of an investigation.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct IsolationPlan {
    /// What to hold, in order.
    pub phases: Vec<PlannedPhase>,
    /// What was left out, and why: a rating with its number.
    pub refused: Vec<String>,
    /// What no phase here can tell, and why.
    pub outside: Vec<String>,
}

/// What is planned for.
struct Task<'a> {
    cylinder: &'a Cylinder,
    found: &'a Circuit,
    ratings: &'a Ratings,
    hold: Time,
}

/// Plans the phases for a cylinder as it is found on its machine. `wanted` is the smallest
/// leak that has to be seen.
pub fn isolation_plan(
    cylinder: &Cylinder,
    found: &Circuit,
    ratings: &Ratings,
    oil: &Oil,
    wanted: VolumeRate,
) -> IsolationPlan {
    let holding = found.holding_chamber();
    let volume = [Chamber::Cap, Chamber::Rod].map(|chamber| {
        let ends = [Default::default(), cylinder.size().stroke];
        let volumes = ends.map(|x| (cylinder.volume(chamber, x) + found.hose(chamber)).value);
        volumes[0].max(volumes[1])
    });
    let trapped = volume[usize::from(holding == Chamber::Rod)];
    // A leak is seen from twice the expanded uncertainty.
    let seen_s = trapped * oil.expansion().per_kelvin() * HEAT_K / (0.5 * wanted.value);
    let whole_minutes = (seen_s / 60.0).ceil() * 60.0;
    let task = Task {
        cylinder,
        found,
        ratings,
        hold: Time::new::<second>(whole_minutes.max(SHORTEST_S)),
    };
    let mut plan = IsolationPlan::default();
    task.rig(&mut plan);
    task.as_found(&mut plan);
    task.swapped(&mut plan);
    task.plugged(&mut plan);
    task.vessel(&mut plan);
    task.joined(&mut plan);
    task.pumped(&mut plan);
    task.outside(&mut plan);
    for (phase, letter) in plan.phases.iter_mut().zip('A'..='Z') {
        phase.label = letter;
    }
    plan
}

impl Task<'_> {
    fn has_rod_side(&self) -> bool {
        self.cylinder.kind().chambers().contains(&Chamber::Rod)
    }

    /// Another cylinder on the load, once this one's oil is apart from it.
    fn apart(&self) -> Option<Beside> {
        self.found.beside.map(|_| Beside::Apart)
    }

    fn load_pressure(&self) -> Option<GaugePressure> {
        let (RodHold::PushedIn { load } | RodHold::PulledOut { load }) = self.found.rod else {
            return None;
        };
        self.cylinder
            .holding_pressure(self.found.holding_chamber(), load?)
    }

    /// Which part of which end the load's pressure would bring near its rating.
    fn over_rating(&self) -> Option<String> {
        let pressure = self.load_pressure()?;
        [Chamber::Cap, Chamber::Rod]
            .into_iter()
            .find_map(|chamber| {
                let rating = self.ratings.weakest(chamber)?;
                (pressure.pa() > RATING_PART * rating.pressure.pa()).then(|| {
                    format!(
                        "{:.0} bar come near the rating of the {} of the {} end, {:.0} bar",
                        pressure.bar(),
                        rating.part.plain(),
                        chamber.word(),
                        rating.pressure.bar()
                    )
                })
            })
    }

    fn charge(&self) -> String {
        let holding = self.found.holding_chamber();
        match (self.has_rod_side(), holding) {
            (true, Chamber::Cap) => {
                format!(
                    " Charge the rod side to about {CHARGE_BAR:.0} bar, so that its oil can be accounted for."
                )
            }
            _ => String::new(),
        }
    }

    /// Adds a phase, or why it was refused.
    fn add(
        &self,
        plan: &mut IsolationPlan,
        circuit: Circuit,
        instruction: String,
        tells: &'static str,
        caution: &str,
    ) -> bool {
        let piece = Piece::Cylinder(*self.cylinder);
        let mut reasons = hazards(&piece, &circuit, self.ratings);
        reasons.dedup();
        if let Some(reason) = reasons.into_iter().next() {
            plan.refused
                .push(format!("Not planned: {instruction} Because {reason}."));
            return false;
        }
        plan.phases.push(PlannedPhase {
            label: ' ',
            circuit,
            instruction,
            tells,
            hold: self.hold,
            starts_at: self.load_pressure(),
            can_reach: self.can_reach(&circuit),
            caution: format!("{caution}{}", beside::caution(&circuit)),
        });
        true
    }

    /// What a failing piston seal can bring where both ports are shut under a load.
    fn can_reach(&self, circuit: &Circuit) -> Option<(Chamber, GaugePressure)> {
        let RodHold::PushedIn { load } = circuit.rod else {
            return None;
        };
        let both = circuit.is_shut_in(Chamber::Cap) && circuit.is_shut_in(Chamber::Rod);
        let met = self.cylinder.met_pressure(load?).filter(|_| both)?;
        match circuit.opens_at {
            Some(opens) if opens.pa() < met.pa() => Some((Chamber::Cap, opens)),
            _ => Some((Chamber::Rod, met)),
        }
    }

    /// The rig alone.
    fn rig(&self, plan: &mut IsolationPlan) {
        if self.found.cap_hose.value + self.found.rod_hose.value <= 0.0 {
            return;
        }
        let instruction = "Cap the test hoses at their far ends, without the cylinder, pump up to the test pressure, shut, \
                           and hold: a [chamber] setup with the volume of hoses and block.";
        if let Some(reason) = self.over_rating() {
            plan.refused
                .push(format!("Not planned: {instruction} Because {reason}."));
            return;
        }
        plan.phases.push(PlannedPhase {
            label: ' ',
            circuit: Circuit::plain(Port::Blocked, Port::Blocked, RodHold::Locked),
            instruction: instruction.into(),
            tells: "What the rig itself loses; it is taken off, or the test refused if it takes up too much of the limit.",
            hold: Time::new::<second>(SHORTEST_S),
            starts_at: self.load_pressure(),
            can_reach: None,
            caution: "Bleed first: air under pressure lets go violently. Steel caps only.".into(),
        });
    }

    /// As it hangs on the machine.
    fn as_found(&self, plan: &mut IsolationPlan) {
        if self.found.port(self.found.holding_chamber()) != Port::OnValve {
            return;
        }
        let instruction = format!(
            "Warm the oil, cycle and bleed, raise the load, valve in neutral, and hold.{}",
            self.charge()
        );
        self.add(
            plan,
            *self.found,
            instruction,
            beside::as_found(self.found),
            "Nobody under or near the load: it may sink at any time.",
        );
    }

    /// With a known good load-holding valve.
    fn swapped(&self, plan: &mut IsolationPlan) {
        let holding = self.found.holding_chamber();
        let in_place = self.found.holding_valve(holding) == HoldingValve::InPlace;
        if !in_place || self.found.port(holding) != Port::OnValve {
            return;
        }
        let mut circuit = *self.found;
        match holding {
            Chamber::Cap => circuit.cap_holding_valve = HoldingValve::Swapped,
            Chamber::Rod => circuit.rod_holding_valve = HoldingValve::Swapped,
        }
        self.add(
            plan,
            circuit,
            "Block the load, let the pressure down, swap the load-holding valve for a known good one, load again, and hold."
                .into(),
            "Whether the fault goes with the valve.",
            "Without its valve nothing holds the load: block it mechanically first, and nobody under it afterwards.",
        );
    }

    /// Both ports plugged at the cylinder.
    fn plugged(&self, plan: &mut IsolationPlan) {
        let rod_port = if self.has_rod_side() {
            Port::Blocked
        } else {
            Port::OpenToVessel
        };
        let circuit = Circuit {
            probe: self.found.probe,
            beside: self.apart(),
            ..Circuit::plain(Port::Blocked, rod_port, self.found.rod)
        };
        let (tells, look) = match self.cylinder.kind() {
            Kind::Plunger | Kind::TelescopicStage => (
                "Whether the cylinder holds by itself: only the gland is left.",
                " Look at the gland.",
            ),
            Kind::SingleActing => (
                "Whether the cylinder holds by itself; what passes the piston comes out at the breather.",
                " Catch what comes out at the breather.",
            ),
            Kind::DoubleActing | Kind::DoubleRod => (
                "Whether the cylinder holds by itself, and what passes the piston.",
                " Wipe gland and plugs dry and look at them at the end.",
            ),
        };
        let valve = match self.found.holding_valve(self.found.holding_chamber()) {
            HoldingValve::Absent => "",
            HoldingValve::InPlace | HoldingValve::Swapped => {
                " The plug goes between cylinder and load-holding valve, or a blanking plate in the valve's place."
            }
        };
        let instruction = format!(
            "Block the load, let the pressure down, plug the ports at the cylinder, load again, and hold.{valve}{}{}{look}",
            beside::this_one(self.found),
            self.charge()
        );
        self.add(
            plan,
            circuit,
            instruction,
            tells,
            "Nobody under the load, and a hanging load never on a test plug alone: block it. Steel plugs rated for the pressure that \
             a failing seal can bring. Open a fitting only at zero on both gauges \
             and without load.",
        );
    }

    /// The unloaded side open to a vessel.
    fn vessel(&self, plan: &mut IsolationPlan) {
        if !self.has_rod_side() {
            return;
        }
        let other = self.found.holding_chamber().other();
        let circuit = match other {
            Chamber::Rod => Circuit::plain(Port::Blocked, Port::OpenToVessel, self.found.rod),
            Chamber::Cap => Circuit::plain(Port::OpenToVessel, Port::Blocked, self.found.rod),
        };
        let circuit = Circuit {
            probe: self.found.probe,
            beside: self.apart(),
            ..circuit
        };
        let instruction = format!(
            "With the load blocked and no pressure, open the {} port to a vessel: hose full, its end under oil. Load again, \
             hold, and read the vessel at start and end.{}",
            other.word(),
            beside::this_one(self.found)
        );
        self.add(
            plan,
            circuit,
            instruction,
            "What passes the piston, apart from all else; while the rod moves the vessel alone shows only a part of it.",
            "Never open a port on the side that carries the load.",
        );
    }

    /// Both sides at one pressure.
    fn joined(&self, plan: &mut IsolationPlan) {
        if self.cylinder.kind() != Kind::DoubleActing {
            return;
        }
        let pressure = self.load_pressure();
        let push = pressure.map_or_else(
            || "pressure times rod area".to_owned(),
            |p| {
                format!(
                    "{:.0} kN at {:.0} bar",
                    p.pa() * self.cylinder.rod_area().value / 1e3,
                    p.bar()
                )
            },
        );
        let instruction = format!(
            "Take the load off, lock the rod against extension ({push}), join both ports, pump up to the test pressure (below every \
             rating of both ends), shut both, and hold."
        );
        if let Some(reason) = self.over_rating() {
            plan.refused
                .push(format!("Not planned: {instruction} Because {reason}."));
            return;
        }
        let circuit = Circuit {
            joined: true,
            probe: self.found.probe,
            ..Circuit::plain(Port::Blocked, Port::Blocked, RodHold::Locked)
        };
        self.add(
            plan,
            circuit,
            instruction,
            "Plugs and gland apart from the piston: nothing is driven past it. Only if the phases before leave it open.",
            "One pressure on two different areas pushes the rod out: the lock must stand that.",
        );
    }

    /// A pump and no load frame: the cap side pressed with the rod port plugged.
    fn pumped(&self, plan: &mut IsolationPlan) {
        let has_load = matches!(
            self.found.rod,
            RodHold::PushedIn { load: Some(_) } | RodHold::PulledOut { load: Some(_) }
        );
        let ratio = self.cylinder.intensification();
        let (Some(ratio), false, None) = (ratio, has_load, self.found.beside) else {
            return;
        };
        // Kept below what the rod side's weakest part stands, and the cap side's.
        let by_rod = self.ratings.of(Chamber::Rod);
        let by_rod = by_rod.and_then(|rating| self.cylinder.cap_limit(rating));
        let by_cap = self.ratings.of(Chamber::Cap);
        let by_cap = by_cap.map_or(f64::INFINITY, GaugePressure::bar);
        let Some(most) = by_rod.map(|by_rod| RATING_PART * by_rod.bar().min(by_cap)) else {
            plan.refused.push(format!(
                "Not planned: to pump the cap side with the rod port plugged. Because it brings {ratio:.2} times its pressure \
                 to the rod side, and no rating of that side is given."
            ));
            return;
        };
        let supply = GaugePressure::from_bar(most.floor());
        let circuit = Circuit {
            supply: Some(supply),
            probe: self.found.probe,
            ..Circuit::plain(
                Port::Supplied,
                Port::Blocked,
                RodHold::PulledOut { load: None },
            )
        };
        let instruction = format!(
            "Without a load frame: plug the rod port, rod free in mid-stroke, pump the cap side to {:.0} bar at most and keep \
             it there.",
            supply.bar()
        );
        self.add(
            plan,
            circuit,
            instruction,
            "A rod that creeps out at steady pressures passes oil at the piston; a rod side whose pressure falls without that \
             leaks outwards.",
            &format!("The rod side comes to {ratio:.2} times the pressure that is pumped, and the rod may come out: nobody in line with it."),
        );
    }

    fn outside(&self, plan: &mut IsolationPlan) {
        if self.has_rod_side() {
            plan.outside.push(
                "Gland and rod-port plug lie on one side: no pressure tells them apart, only eyes. Look at both.".into(),
            );
        }
        plan.outside.push(
            "An accumulator or a float position on the line gives or takes oil that no account here knows of: shut it off, \
             or nothing can be said."
                .into(),
        );
        if self.cylinder.kind().has_piston_seal() {
            plan.outside.push(
                "A cylinder that re-phases passes oil at the end of its stroke on purpose, and a check valve in a piston lets it \
                 pass one way: hold away from the ends, loaded the way that the piston shuts."
                    .into(),
            );
        }
        plan.outside.push(beside::outside(self.found));
    }
}

#[cfg(test)]
mod tests;
