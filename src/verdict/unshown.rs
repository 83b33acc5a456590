//! Movement and loss of pressure held against what the oil account says of them.
//!
//! Oil that cools lets a rod sink and a pressure fall as a leak does, and air lets the
//! pressure fall slower for the same leak. Each is read from one sensor, which cannot know
//! why; the account can. While it does not show that the side that holds lost or gained oil,
//! neither fails a limit; no movement passes that heat has hidden, and no pressure loss where
//! air may hide it.

use super::Judged;
use super::Outcome;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::quantity::number;

/// Below this pressure one per cent of air lets the pressure of oil fall slower by a fifth
/// and more (closed form, computed), Pa gauge.
const AIRY_PA: f64 = 25e5;

/// Judges again what one sensor alone was held against.
pub(super) fn by_the_account(judged: Judged, evaluation: &Evaluation) -> Judged {
    use FigureName::{CapLoss, Drift, LeakDown, RodGain};
    let name = judged.limit.figure;
    // Where both sides have an account, the cap side is the one that holds.
    let side = [CapLoss, RodGain]
        .into_iter()
        .find_map(|name| evaluation.figure(name));
    let Some(side) = side.filter(|_| matches!(name, Drift | LeakDown)) else {
        return judged;
    };
    let because = match judged.outcome {
        Outcome::Fail if side.lower_si <= 0.0 && side.upper_si >= 0.0 => no_leak(side),
        Outcome::Pass if name == Drift => match held_up(&judged, side, evaluation) {
            Some(because) => because,
            None => return judged,
        },
        Outcome::Pass if name == LeakDown && !judged.limit.states_pressure() => {
            match side.at.p_holding_pa.filter(|p| *p < AIRY_PA) {
                Some(pressure) => airy(pressure),
                None => return judged,
            }
        }
        _ => return judged,
    };
    Judged {
        outcome: Outcome::Undecided,
        reason: format!("{}, but {because}", judged.reason),
        ..judged
    }
}

fn no_leak(side: &Figure) -> String {
    let ml_min = 60e6;
    let (least, most) = (side.lower_si * ml_min, side.upper_si * ml_min);
    let text = |v: f64| number(v, 0.5 * (most - least));
    let what = match side.name {
        FigureName::RodGain => "the rod side gained",
        _ => "the cap side lost",
    };
    format!(
        "no leak is shown: {what} {} to {} mL/min, so heat or settling may do as much; let it come to one temperature \
         and hold again, or hold longer",
        text(least),
        text(most)
    )
}

/// Oil that warms holds a rod up that would sink otherwise.
fn held_up(judged: &Judged, side: &Figure, evaluation: &Evaluation) -> Option<String> {
    let by_heat = evaluation.by_heat_m_per_s?.value_si;
    let moved = evaluation.figure(FigureName::Drift)?.measured?.value_si;
    let is_leak_shown = side.lower_si > 0.0 || side.upper_si < 0.0;
    let limit = judged.limit.number * judged.limit.si_per_unit;
    let otherwise = moved - by_heat;
    let is_hidden = is_leak_shown && otherwise.abs() > limit.max(moved.abs());
    is_hidden.then(|| {
        format!(
            "a leak is shown, and the oil changed its temperature meanwhile: at one temperature the rod would have moved \
             about {} mm/min; let it come to one and hold again",
            number(otherwise.abs() * 60e3, 0.2 * otherwise.abs() * 60e3)
        )
    })
}

fn airy(pressure_pa: f64) -> String {
    format!(
        "at {:.0} bar air in the oil lets the pressure fall slower for the same leak: hold above {:.0} bar, or state the \
         pressure that the limit is for",
        pressure_pa / 1e5,
        AIRY_PA / 1e5
    )
}
