//! The phases one by one: how each is plumbed, what it tells, what it can do to people.

use super::Charge;
use super::IsolationPlan;
use super::PlannedPhase;
use super::SHORTEST_S;
use super::Task;
use super::beside;
use super::words;
use crate::circuit::Circuit;
use crate::circuit::HoldingValve;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::procedure::hazard::RATING_PART;
use crate::procedure::hazards;
use crate::quantity::GaugePressure;
use crate::quantity::Time;
use crate::quantity::unit::second;

impl Task<'_> {
    /// Adds a phase, or why it was refused.
    fn add(
        &self,
        plan: &mut IsolationPlan,
        circuit: Circuit,
        instruction: String,
        tells: &'static str,
        caution: &str,
    ) {
        let piece = Piece::Cylinder(*self.cylinder);
        let reasons = hazards(&piece, &circuit, self.ratings);
        if let Some(reason) = reasons.into_iter().next() {
            plan.refused
                .push(format!("Not planned: {instruction} Because {reason}."));
            return;
        }
        let Charge { pressure, words } = self.charge(&circuit);
        plan.phases.push(PlannedPhase {
            label: ' ',
            circuit,
            instruction: format!("{instruction}{words}"),
            tells,
            hold: self.hold,
            load_makes: self.load_pressure().filter(|_| !circuit.joined),
            charge: pressure,
            starts_at: self.with_charge(pressure),
            can_reach: self.can_reach(&circuit),
            caution: format!("{caution}{}", beside::caution(&circuit)),
        });
    }

    /// What a failing piston seal can bring where both ports are shut under a load. Where both
    /// sides meet does not depend on the charge, which stays below it.
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
    pub(super) fn rig(&self, plan: &mut IsolationPlan) {
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
            load_makes: None,
            charge: None,
            starts_at: self.load_pressure(),
            can_reach: None,
            caution: "Bleed first: air under pressure lets go violently. Steel caps only.".into(),
        });
    }

    /// As it hangs on the machine.
    pub(super) fn as_found(&self, plan: &mut IsolationPlan) {
        if self.found.port(self.found.holding_chamber()) != Port::OnValve {
            return;
        }
        let instruction = format!(
            "{}Warm the oil, cycle and bleed, {}, valve in neutral, and hold.",
            self.words.first, self.words.raise
        );
        self.add(
            plan,
            self.found,
            instruction,
            beside::as_found(&self.found),
            self.words.as_found(),
        );
    }

    /// With a known good load-holding valve.
    pub(super) fn swapped(&self, plan: &mut IsolationPlan) {
        let holding = self.found.holding_chamber();
        let in_place = self.found.holding_valve(holding) == HoldingValve::InPlace;
        if !in_place || self.found.port(holding) != Port::OnValve {
            return;
        }
        let mut circuit = self.found;
        match holding {
            Chamber::Cap => circuit.cap_holding_valve = HoldingValve::Swapped,
            Chamber::Rod => circuit.rod_holding_valve = HoldingValve::Swapped,
        }
        let instruction = format!(
            "{}, swap the load-holding valve for a known good one, {}, and hold.",
            self.words.down, self.words.again
        );
        self.add(
            plan,
            circuit,
            instruction,
            "Whether the fault goes with the valve.",
            &self.words.swapped(),
        );
    }

    /// Both ports plugged at the cylinder.
    pub(super) fn plugged(&self, plan: &mut IsolationPlan) {
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
        let kind = self.cylinder.kind();
        let (tells, look) = words::plugged_tells(kind);
        let valve = match self.found.holding_valve(self.found.holding_chamber()) {
            HoldingValve::Absent => "",
            HoldingValve::InPlace | HoldingValve::Swapped => {
                " The plug goes between cylinder and load-holding valve, or a blanking plate in the valve's place."
            }
        };
        let first = if plan.phases.is_empty() {
            self.words.first
        } else {
            ""
        };
        let instruction = format!(
            "{first}{}, {}, {}, and hold.{valve}{}{look}",
            self.words.down,
            words::plugs(kind),
            self.words.again,
            beside::this_one(&self.found),
        );
        self.add(plan, circuit, instruction, tells, &self.words.plugged(kind));
    }

    /// The unloaded side open to a vessel.
    pub(super) fn vessel(&self, plan: &mut IsolationPlan) {
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
            "{}, and open the {} port to a vessel at zero on both gauges: hose full, its end under oil. Then {}, hold, and read \
             the vessel at start and end.{}",
            self.words.down,
            other.word(),
            self.words.again,
            beside::this_one(&self.found)
        );
        self.add(
            plan,
            circuit,
            instruction,
            "What passes the piston, apart from all else; while the rod moves the vessel alone shows only a part of it.",
            match self.words.loaded {
                true => "Never open a port on the side that carries the load. Nobody under the load.",
                false => "Never open a port on the side that is pumped up. The lock must stand its pressure: nobody in line with the rod.",
            },
        );
    }

    /// Both sides at one pressure.
    pub(super) fn joined(&self, plan: &mut IsolationPlan) {
        if self.cylinder.kind() != Kind::DoubleActing {
            return;
        }
        if self.found.beside.is_some() {
            plan.refused.push(
                "Not planned: one pressure on both sides. Because the rod would have to be locked and without load, and the \
                 other cylinder moves with it."
                    .into(),
            );
            return;
        }
        let push = self.load_pressure().map_or_else(
            || "pressure times rod area".to_owned(),
            |p| {
                format!(
                    "{:.0} kN at {:.0} bar",
                    p.pa() * self.cylinder.rod_area().value / 1e3,
                    p.bar()
                )
            },
        );
        let held = match self.words.loaded {
            true => "Take the load off, lock the rod against extension",
            false => "Let the pressure down, see that the lock stands against extension",
        };
        let instruction = format!(
            "{held} ({push}), join both ports, pump up to the test pressure (below every rating of both ends), shut both, and \
             hold."
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
    pub(super) fn pumped(&self, plan: &mut IsolationPlan) {
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
        let free = match self.words.loaded {
            true => "rod free in mid-stroke",
            false => "let the pressure down, take the lock off, rod free in mid-stroke",
        };
        let instruction = format!(
            "Without a load frame: plug the rod port, {free}, pump the cap side to {:.0} bar at most and keep it there.",
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
}
