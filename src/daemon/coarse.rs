//! What is said before a test whose sensors have steps too coarse for its hold.
//!
//! It warns and refuses nothing: the outcome would be undecided, and a hold can be stopped.

use crate::account::FigureName;
use crate::channel::Channel;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::procedure::STEPS_TO_CROSS;
use crate::procedure::needed_hold;
use crate::quantity::number;
use crate::quantity::unit::minute;
use crate::settings::Setup;

/// A sentence for each limit that the planned hold is too short for, by the steps of its
/// sensor alone.
pub fn too_coarse(setup: &Setup, channels: &[&Channel]) -> Vec<String> {
    let pressure = match setup.subject.circuit.holding_chamber() {
        Chamber::Cap => Role::CapPressure,
        Chamber::Rod => Role::RodPressure,
    };
    let planned = setup.plan.length();
    let sentences = setup.limits.iter().filter_map(|limit| {
        let (role, si_per_unit, unit) = match limit.figure {
            FigureName::Drift => (Role::Position, 1e-3, "mm"),
            FigureName::LeakDown => (pressure, 1e5, "bar"),
            _ => return None,
        };
        let step = channels.iter().find(|c| c.role == role)?.resolution_si();
        let needed = needed_hold(step, limit.number * limit.si_per_unit);
        let minutes = |s: f64| number(s, if s < 10.0 { 1.0 } else { 10.0 });
        (needed > planned).then(|| {
            let one = needed.get::<minute>() / STEPS_TO_CROSS;
            let step = step / si_per_unit;
            format!(
                "{} is read in steps of {} {unit}, and one takes {} min at the limit of {}: a hold of {} min will \
                 hardly decide it; plan {} min or more ({STEPS_TO_CROSS} steps)",
                role.plain(),
                number(step, 0.5 * step),
                minutes(one),
                limit.text,
                minutes(planned.get::<minute>()),
                minutes(needed.get::<minute>().ceil())
            )
        })
    });
    sentences.collect()
}
