//! `stillrod plan`: which phases tell cylinder from valve, before anything is plumbed.

use super::conduct::NamedText;
use super::screen::CAUTION;
use crate::account::Fluid;
use crate::procedure::IsolationPlan;
use crate::procedure::PlannedPhase;
use crate::procedure::isolation_plan;
use crate::quantity::VolumeRate;
use crate::quantity::number;
use crate::quantity::parse;
use crate::quantity::unit::cubic_meter_per_second;
use crate::quantity::unit::minute;
use crate::settings::Setup;
use crate::settings::Shop;
use anyhow::Context;
use anyhow::bail;
use std::fmt::Write;

/// Plans an investigation of what a setup describes as it is found. `leak` is the smallest
/// leak to be seen; half the smallest limit on a flow without it.
///
/// # Errors
/// If settings cannot be used, or say too little.
pub fn plan(
    setup: &NamedText,
    shop: Option<&NamedText>,
    leak: Option<&str>,
) -> anyhow::Result<IsolationPlan> {
    let shop = shop
        .map(|(file, text)| Shop::parse(file, text))
        .transpose()?;
    let setup = Setup::parse(&setup.0, &setup.1, shop.as_ref())?;
    let (Some(cylinder), Fluid::Oil(oil)) = (setup.subject.piece.cylinder(), &setup.subject.fluid)
    else {
        bail!(
            "an investigation is planned for a cylinder filled with oil; the setup describes something else"
        );
    };
    let wanted = match leak {
        Some(text) if text.trim().parse::<f64>().is_ok() => {
            bail!("--leak `{text}` has no unit; write it as \"{} mL/min\"", text.trim())
        }
        Some(text) => parse::<VolumeRate>(text)
            .with_context(|| format!("--leak `{text}` is no flow; write it as \"0.06 mL/min\""))?
            .quantity,
        None => half_the_smallest_limit(&setup).context(
            "how small a leak has to be seen? give --leak \"0.06 mL/min\", or name a limit on a flow in [acceptance]",
        )?,
    };
    if wanted.value <= 0.0 {
        bail!(
            "the smallest leak that has to be seen (--leak) must be above zero, such as \"0.06 mL/min\""
        );
    }
    let circuit = &setup.subject.circuit;
    isolation_plan(cylinder, circuit, &setup.ratings, oil, wanted)
        .context("no phase is planned: the leak to be seen comes from --leak or [acceptance]")
}

fn half_the_smallest_limit(setup: &Setup) -> Option<VolumeRate> {
    let of_flows = setup.limits.iter().filter(|limit| limit.figure.is_flow());
    let smallest = of_flows
        .map(|limit| limit.number * limit.si_per_unit)
        .reduce(f64::min)?;
    Some(VolumeRate::new::<cubic_meter_per_second>(0.5 * smallest))
}

/// The plan as text.
pub fn plan_text(plan: &IsolationPlan) -> String {
    let mut out = format!("{CAUTION}\n");
    // Writing to a String cannot fail.
    let mut line = |text: String| {
        let _ = writeln!(out, "{text}");
    };
    for phase in &plan.phases {
        line(format!("\n{}  {}", phase.label, phase.instruction));
        line(format!("   Tells: {}", phase.tells));
        line(format!("   {}", numbers(phase)));
        line(format!("   WARNING  {}", phase.caution));
    }
    for (heading, sentences) in [
        ("Refused", &plan.refused),
        ("Not checked", &plan.unchecked),
        ("What no phase here can tell", &plan.outside),
    ] {
        if !sentences.is_empty() {
            line(format!("\n{heading}"));
            sentences
                .iter()
                .for_each(|sentence| line(format!("  {sentence}")));
        }
    }
    line("\nStop as soon as a phase has answered. Judge all recordings together: stillrod judge A.h5 B.h5 …".into());
    out
}

fn numbers(phase: &PlannedPhase) -> String {
    let hold = phase.hold.get::<minute>();
    let mut text = format!("Count at least {} min.", number(hold, 10.0));
    if let Some(alone) = phase.load_makes {
        let load = match phase.circuit.beside {
            None => "The load",
            Some(_) => "All of the load on this one",
        };
        let _ = write!(text, " {load} makes {:.0} bar", alone.bar());
        if let (Some(charge), Some(start)) = (phase.charge, phase.starts_at) {
            let _ = write!(
                text,
                "; with {:.0} bar on the rod side it starts at {:.0} bar",
                charge.bar(),
                start.bar()
            );
        }
        text.push('.');
    }
    if let Some((chamber, pressure)) = phase.can_reach {
        let _ = write!(
            text,
            " A failing seal can bring the {} end to {:.0} bar.",
            chamber.word(),
            pressure.bar()
        );
    }
    text
}
