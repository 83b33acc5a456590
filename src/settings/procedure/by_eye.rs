//! What of a test cannot be done by eye, step by step and with its reason, before it begins.

use super::plan::PlannedStep;
use super::plan::Test;
use crate::channel::ByEye;
use crate::channel::Role;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::procedure::Hold;
use crate::procedure::SHORTEST_BY_EYE_S;
use crate::procedure::WINDOWS_BY_EYE;
use crate::procedure::eye_window_s;
use crate::settings::Setup;

impl Test {
    /// The instruments that a person reads; None where a board does.
    pub fn by_eye(&self) -> Option<&ByEye> {
        self.first_setup().subject.by_eye.as_ref()
    }

    /// Why steps cannot be done with the instruments of its setup, as sentences with the step;
    /// none where a board reads.
    pub fn not_by_eye(&self) -> Vec<String> {
        let of_step = |planned: &PlannedStep| {
            if self.by_eye().is_none() {
                return Vec::new();
            }
            let title = &planned.step.title;
            let named = |reason: String| match title.as_str() {
                "" => reason,
                title => format!("{title}: {reason}"),
            };
            if matches!(planned.step.act, Act::Reading(Asked::LetOff { .. })) {
                let reason = "oil that is let off needs pressures by a board for now: leave the step away, in a procedure of \
                              your own";
                return vec![named(reason.into())];
            }
            let Some(setup) = planned.own_setup() else {
                return Vec::new();
            };
            let Some(by_eye) = &setup.subject.by_eye else {
                return Vec::new();
            };
            let mut reasons = Vec::new();
            if let Some(reach) = planned.step.reach() {
                let gauge = by_eye.instrument(pressure_role(reach.chamber));
                let asked_pa = reach.pressure.pa();
                let high = gauge.map(|gauge| (gauge, gauge.range_si.1));
                if let Some((gauge, _)) = high.filter(|(_, high)| asked_pa > *high) {
                    reasons.push(format!(
                        "asks for {:.0} bar, and the scale of the gauge ends at {}: fit one that goes further",
                        asked_pa / 1e5,
                        gauge.typed(gauge.range_si.1)
                    ));
                }
            }
            match &planned.step.act {
                Act::Hold(hold) => reasons.extend(of_hold(hold, setup, by_eye)),
                Act::Squeeze { .. } => reasons.push(
                    "pressure and movement are read too quickly for eyes: it needs a board".into(),
                ),
                Act::Strokes { .. } if !setup.limits.is_empty() => reasons.push(
                    "what strokes are held against is read too quickly for eyes: leave its limits away, or take a board"
                        .into(),
                ),
                _ => {}
            }
            reasons.into_iter().map(named).collect()
        };
        self.steps.iter().flat_map(of_step).collect()
    }
}

fn of_hold(hold: &Hold, setup: &Setup, by_eye: &ByEye) -> Vec<String> {
    let mut reasons = Vec::new();
    let length_s = hold.plan.length().value;
    if length_s < SHORTEST_BY_EYE_S {
        reasons.push(format!(
            "a hold of {length_s:.0} s is too short to be read by eye: it needs {SHORTEST_BY_EYE_S:.0} s or more"
        ));
    }
    let circuit = &setup.subject.circuit;
    let holding = circuit.holding_chamber();
    let Some(gauge) = by_eye.instrument(pressure_role(holding)) else {
        reasons.push(no_gauge(holding));
        return reasons;
    };
    if let Some(rule) = &hold.steady {
        let window_s = eye_window_s(rule, gauge.reading_si());
        let needed_s = WINDOWS_BY_EYE * window_s;
        if needed_s > rule.at_most.value {
            reasons.push(format!(
                "by a gauge with divisions of {} it takes {:.0} min to see that it has settled, and it is waited for \
                 {:.0} min at most: take a finer gauge, or a procedure that waits longer or allows more (`steady`)",
                gauge.typed(gauge.division_si + gauge.unit.si_at_zero),
                (needed_s / 60.0).ceil(),
                rule.at_most.value / 60.0
            ));
        }
    }
    let Some(cylinder) = setup.subject.piece.cylinder() else {
        return reasons;
    };
    let other = holding.other();
    let is_shut =
        cylinder.kind().chambers().contains(&other) && circuit.port(other) != Port::OpenToVessel;
    if is_shut && by_eye.instrument(pressure_role(other)).is_none() {
        reasons.push(no_gauge(other));
    }
    let is_free = !matches!(circuit.rod, RodHold::Locked | RodHold::Bottomed);
    let has_dial = by_eye.instrument(Role::Position).is_some();
    if by_eye.rod_out_m.is_none() && has_dial {
        reasons.push(
            "nobody says how far out the rod stands, from which the dial counts: write `at` in [hold] of the setup, by a \
             rule"
                .into(),
        );
    }
    if is_free && !has_dial {
        reasons.push("its rod may move: it needs a dial indicator on it, [by_eye.x]".into());
    }
    reasons
}

fn no_gauge(chamber: Chamber) -> String {
    format!(
        "the {} end is shut and no gauge reads it: it needs [by_eye.{}]",
        chamber.word(),
        pressure_role(chamber).word()
    )
}

fn pressure_role(chamber: Chamber) -> Role {
    match chamber {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    }
}
