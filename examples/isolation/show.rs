//! Everything of one investigation, for finding faults.

use super::bench::Held;
use super::investigate::Followed;
use super::investigate::Investigation;
use super::investigate::Said;
use super::truth::ML_MIN;
use super::ways::along;
use std::fmt::Write;
use stillrod::account::Doubt;
use stillrod::cylinder::Chamber;
use stillrod::quantity::unit::millimeter;

/// One investigation in words.
pub fn show(seed: u64, number: u64) -> String {
    let investigation = Investigation::of(seed, number);
    let machine = &investigation.machine;
    let size = machine.cylinder.size();
    let mut out = format!(
        "investigation {number}: {}, {:.0}/{:.0} × {:.0} mm, test at {:.1} bar, {} sensors, load {:.0} N, friction {:.1} %, drawn {} times\n",
        machine.sort.word(),
        size.bore.get::<millimeter>(),
        size.rod.get::<millimeter>(),
        size.stroke.get::<millimeter>(),
        machine.test_pa / 1e5,
        machine.quality.word(),
        machine.load_n(),
        machine.friction_share * 100.0,
        investigation.n_drawn
    );
    for (spot, leak) in &machine.leaks {
        let _ = writeln!(
            out,
            "leaks: {spot:?} {:.4} mL/min at the test pressure, exponent {:.3}",
            leak.flow_m3_per_s / ML_MIN,
            leak.exponent
        );
    }
    for held in &investigation.holds {
        phase(&mut out, held);
    }
    match &investigation.said {
        Some(said) => answers(&mut out, &investigation, said, true),
        None => {
            let _ = writeln!(out, "nothing is said {:?}", investigation.fault);
        }
    }
    if let Some((next, followed)) = &investigation.followed {
        let _ = writeln!(
            out,
            "\nadvised: {:?}, {:.0} s, tells {:?}",
            next.step, next.hold_s, next.tells
        );
        match followed {
            Followed::Said(held, said) => {
                phase(&mut out, held);
                answers(&mut out, &investigation, said, false);
            }
            Followed::Fault(fault) => {
                let _ = writeln!(out, "FAULT: {fault}");
            }
            Followed::NotHeld => out += "it could not be held, or gave no sum\n",
        }
    }
    out
}

fn phase(out: &mut String, held: &Held) {
    let hold = &held.played.hold;
    let plumbing = &held.planned.plumbing;
    let [first, last] = &held.played.ends;
    let _ = writeln!(
        out,
        "\nphase {}: cap {:?}, rod {:?}, {:?}{}{}, settled {} s, held {} s ({}), fresh heat {:.2}/{:.2} K, air {:.2}/{:.2} %",
        plumbing.letter,
        plumbing.cap,
        plumbing.rod,
        plumbing.valve,
        if plumbing.joined { ", joined" } else { "" },
        if plumbing.locked { ", locked" } else { "" },
        hold.settle_s,
        hold.hold_s,
        hold.ended,
        hold.specimen.cap.fresh_heat_k,
        hold.specimen.rod.fresh_heat_k,
        hold.specimen.cap.air * 100.0,
        hold.specimen.rod.air * 100.0
    );
    let _ = writeln!(
        out,
        "    cap {:.2} to {:.2} bar, rod {:.2} to {:.2} bar, x {:.3} to {:.3} mm",
        first.p_cap_pa / 1e5,
        last.p_cap_pa / 1e5,
        first.p_rod_pa / 1e5,
        last.p_rod_pa / 1e5,
        first.x_m * 1e3,
        last.x_m * 1e3
    );
    let mean = &held.played.truth.mean;
    let flow = |v: f64| v / ML_MIN;
    let _ = writeln!(
        out,
        "    true mL/min: cap loss {:.4}, rod gain {:.4}, piston {:.4}, gland {:.4}, plugs {:.4} {:.4}, valves {:.4} {:.4}",
        flow(mean.cap_loss),
        flow(mean.rod_gain),
        flow(mean.bypass),
        flow(mean.gland),
        flow(mean.cap_plug),
        flow(mean.rod_plug),
        flow(mean.cap_valve),
        flow(mean.rod_valve)
    );
    let seen = &held.seen;
    let _ = writeln!(
        out,
        "    seen: gland {:?}, ports {:?} {:?}, collected {:?} mL",
        seen.gland,
        seen.cap_port,
        seen.rod_port,
        seen.collected
            .map(|c| (c.volume_m3 * 1e6, c.standard_m3 * 1e6))
    );
    found(out, held);
}

/// What the program makes of a phase by itself.
fn found(out: &mut String, held: &Held) {
    for flag in &held.evaluated.flags {
        let _ = writeln!(out, "    flag, {:?}: {}", flag.weight, flag.evidence);
    }
    let evaluation = match &held.evaluated.evaluation {
        Ok(evaluation) => evaluation,
        Err(error) => {
            let _ = writeln!(out, "    no evaluation: {error}");
            return;
        }
    };
    for doubt in &evaluation.doubts {
        let (Doubt::NoFit { evidence } | Doubt::Note { evidence }) = doubt;
        let _ = writeln!(out, "    doubt: {evidence}");
    }
    for finding in &evaluation.findings {
        let _ = writeln!(out, "    finding: {finding}");
    }
    for chamber in [Chamber::Cap, Chamber::Rod] {
        if let Some((sum, standard)) = evaluation.counted.as_ref().and_then(|c| c.sum(chamber)) {
            let _ = writeln!(
                out,
                "    {} sum {:.4} ± {:.4} mL/min (one sigma)",
                chamber.word(),
                sum / ML_MIN,
                standard / ML_MIN
            );
        }
    }
}

fn answers(out: &mut String, investigation: &Investigation, said: &Said, is_first: bool) {
    let attribution = &said.attribution;
    let _ = writeln!(
        out,
        "\nsmall {:.4} mL/min{}",
        attribution.small_m3_per_s / ML_MIN,
        attribution
            .contradiction
            .as_ref()
            .map_or(String::new(), |why| format!("; CONTRADICTION: {why}"))
    );
    for scored in &said.scored {
        let answer = &scored.answer;
        let limit = match is_first {
            true => {
                let limit = investigation.limit(answer.way);
                format!(
                    "limit {:.4}, told {}",
                    limit.m3_per_s / ML_MIN,
                    limit.is_told
                )
            }
            false => String::new(),
        };
        let _ = writeln!(
            out,
            "    {:?}: {:.4} [{:.4}, {:.4}] at {:.1} bar, true {:.4}: {:?}, {} {limit}",
            answer.way,
            answer.best_m3_per_s / ML_MIN,
            answer.lower_m3_per_s / ML_MIN,
            answer.upper_m3_per_s / ML_MIN,
            answer.at_pa / 1e5,
            scored.truth / ML_MIN,
            answer.standing,
            scored.score.word()
        );
    }
    let by_phase = investigation.holds.iter().map(|held| {
        let flows = said
            .scored
            .iter()
            .map(|s| along(&held.played.truth.mean, s.answer.way) / ML_MIN);
        let flows: Vec<String> = flows.map(|flow| format!("{flow:.4}")).collect();
        format!("{}: {}", held.planned.plumbing.letter, flows.join(" "))
    });
    let _ = writeln!(
        out,
        "    true by phase: {}",
        by_phase.collect::<Vec<_>>().join("; ")
    );
    for noticed in &attribution.noticed {
        let _ = writeln!(out, "    noticed: {}", noticed.sentence);
    }
}
