//! What is true of a way, as an answer states it, and what it would take to tell it.
//!
//! The detection limit of a way is twice its upper end where the planned phases, as sure as
//! they are, measure exactly what is true but for this way, which does not leak. Whether
//! they tell it apart at all is asked of sums without any error.

use super::bench::Held;
use super::machine::Spot;
use super::ways::along;
use super::ways::driven_pa;
use stillrod::account::Counted;
use stillrod::account::Evaluation;
use stillrod::account::FigureName;
use stillrod::account::Fluid;
use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Look;
use stillrod::account::investigation::Phase;
use stillrod::account::investigation::Way;
use stillrod::account::investigation::attribute;
use stillrod::circuit::HoldingValve;
use stillrod::circuit::Port;
use stillrod::cylinder::Chamber;
use stillrod::fit::Matrix;
use stillrod::fit::Shares;
use stillrod::fit::Vector;
use stillrod::fit::Which;
use stillrod::quantity::Temperature;
use stillrod::quantity::unit::kelvin;
use stillrod::rehearsal::physics::Leak;

/// One millilitre a minute, m³/s.
pub const ML_MIN: f64 = 1e-6 / 60.0;

/// Exponent that carries a flow from phase to phase where nobody knows its own.
const EXPONENT: f64 = 0.8;

/// What eyes take for dry, m³.
const DROPS_M3: f64 = 0.1e-6;

/// Below this a way counts as not driven, Pa.
const DRIVEN_PA: f64 = 0.5e5;

/// The leak along a way in a phase; None for a sound part.
pub fn leak_of(held: &Held, way: Way) -> Option<Leak> {
    let spot = match way {
        Way::Piston(_) => Spot::Piston,
        Way::Gland => Spot::Gland,
        Way::Plug(Chamber::Cap) => Spot::CapPlug,
        Way::Plug(Chamber::Rod) => Spot::RodPlug,
        Way::Valve(_, HoldingValve::Swapped) => return None,
        Way::Valve(Chamber::Cap, _) => Spot::CapValve,
        Way::Valve(Chamber::Rod, _) => Spot::RodValve,
    };
    let found = held.leaks.iter().find(|(own, _)| *own == spot);
    found.map(|(_, leak)| *leak)
}

fn drive_pa(held: &Held, way: Way) -> f64 {
    let kind = held.played.hold.specimen.cylinder.kind();
    let counted = held.evaluation().and_then(|e| e.counted.as_ref());
    counted.map_or(0.0, |counted| driven_pa(kind, &counted.drive, way))
}

fn viscosity(held: &Held, oil_k: f64) -> f64 {
    match &held.played.setup.subject.fluid {
        Fluid::Oil(oil) => oil.viscosity(Temperature::new::<kelvin>(oil_k)).mm2_per_s(),
        Fluid::Gas => 1.0,
    }
}

/// True flow of a way, m³/s, at the pressure and the oil temperature that its answer is
/// stated at. `holds` are those that the answer numbers.
pub fn truth(holds: &[&Held], answer: &Answer) -> f64 {
    let way = answer.way;
    let driven = answer.driven_in.iter().map(|index| holds[*index]);
    let Some(most) = driven.max_by(|a, b| drive_pa(a, way).total_cmp(&drive_pa(b, way))) else {
        return 0.0;
    };
    let Some(leak) = leak_of(most, way) else {
        return 0.0;
    };
    // Pressures that met: what it passed before, by its own law.
    if answer.upper_m3_per_s.is_infinite() {
        return leak.flow(answer.at_pa, 1.0);
    }
    let oil_k = |held: &Held| held.evaluation()?.counted.as_ref()?.drive.oil_k;
    let flow = along(&most.played.truth.mean, way);
    let (Some(at_k), Some(now_k)) = (holds.iter().find_map(|h| oil_k(h)), oil_k(most)) else {
        return flow;
    };
    let thinner = viscosity(most, now_k) / viscosity(most, at_k);
    flow * thinner.powf((2.0 * leak.exponent - 1.0).max(0.0))
}

/// By how much a way counts in the sum of a chamber: lost by the cap side, gained by the rod
/// side.
fn sign(held: &Held, chamber: Chamber, way: Way) -> f64 {
    let hold = &held.played.hold;
    let kind = hold.specimen.cylinder.kind();
    let gland_side = match kind.has_piston_seal() {
        true => Chamber::Rod,
        false => Chamber::Cap,
    };
    let is_here = match way {
        Way::Piston(from) => {
            let sign = if from == Chamber::Cap { 1.0 } else { -1.0 };
            return if kind.has_piston_seal() { sign } else { 0.0 };
        }
        Way::Gland => chamber == gland_side,
        Way::Plug(own) => own == chamber && hold.circuit.port(own) == Port::Blocked,
        Way::Valve(own, valve) => {
            let is_on = hold.circuit.port(own) == Port::OnValve;
            own == chamber && is_on && hold.circuit.holding_valve(own) == valve
        }
    };
    match (is_here, chamber) {
        (false, _) => 0.0,
        (true, Chamber::Cap) => 1.0,
        (true, Chamber::Rod) => -1.0,
    }
}

/// Oil that a vessel or a breather shows, as a way.
fn past_piston(held: &Held) -> Option<Way> {
    Some(Way::Piston(held.seen.collected?.chamber.other()))
}

/// Whether sums without error would tell a way apart from all others, by what eyes saw too.
pub fn is_told(holds: &[&Held], answers: &[(&Answer, f64)], asked: Way, small: f64) -> bool {
    let carried = |held: &Held, answer: &Answer| {
        let pa = drive_pa(held, answer.way);
        match pa > DRIVEN_PA && answer.at_pa > 0.0 {
            true => (pa / answer.at_pa).powf(EXPONENT),
            false => 0.0,
        }
    };
    let mut rows: Vec<Vec<f64>> = Vec::new();
    for held in holds {
        let Some(counted) = held.evaluation().and_then(|e| e.counted.as_ref()) else {
            continue;
        };
        for chamber in &counted.chambers {
            let by = answers
                .iter()
                .map(|(answer, _)| sign(held, *chamber, answer.way) * carried(held, answer));
            rows.push(by.collect());
        }
        if let Some(way) = past_piston(held) {
            let by = answers.iter().map(|(answer, _)| match answer.way == way {
                true => carried(held, answer),
                false => 0.0,
            });
            rows.push(by.collect());
        }
    }
    let most: Vec<f64> = answers
        .iter()
        .map(|(answer, truth)| {
            let dry = holds
                .iter()
                .filter(|held| looked(held, answer.way) == Some(Look::Dry));
            let least = dry.map(|held| {
                let length_s = held.played.hold.hold_s;
                DROPS_M3 / length_s / carried(held, answer)
            });
            least.fold(f64::INFINITY, f64::min).max(*truth)
        })
        .collect();
    let Some(index) = answers.iter().position(|(answer, _)| answer.way == asked) else {
        return false;
    };
    let n = answers.len();
    let coefficients = Matrix::from_fn(rows.len(), n, |i, j| rows[i][j]);
    let truths = Vector::from_iterator(n, answers.iter().map(|(_, truth)| *truth));
    let measured = &coefficients * &truths;
    let sigma = 1e-3 * small;
    let covariance = Matrix::identity(rows.len(), rows.len()) * sigma.powi(2);
    let Ok(shares) = Shares::new(&coefficients, &measured, &covariance, &most) else {
        return false;
    };
    let end = |which| shares.end(index, which, 9.0).map(|end| end.value);
    match (end(Which::Least), end(Which::Most)) {
        (Ok(lower), Ok(upper)) => upper <= small || lower > 0.02 * small,
        _ => false,
    }
}

fn looked(held: &Held, way: Way) -> Option<Look> {
    match way {
        Way::Gland => held.seen.gland,
        Way::Plug(Chamber::Cap) => held.seen.cap_port,
        Way::Plug(Chamber::Rod) => held.seen.rod_port,
        Way::Piston(_) | Way::Valve(..) => None,
    }
}

/// Detection limit of a way, m³/s; infinite where these phases have none.
pub fn limit(holds: &[&Held], asked: Way) -> f64 {
    let supposed: Vec<Evaluation> = holds.iter().map(|h| supposed(h, asked)).collect();
    let phases = holds.iter().zip(&supposed);
    let phases: Vec<Phase<'_>> = phases
        .map(|(held, evaluation)| Phase {
            label: held.planned.plumbing.letter,
            subject: &held.played.setup.subject,
            evaluation,
            seen: seen_without(held, evaluation, asked),
        })
        .collect();
    let found = attribute(&phases).ok().flatten();
    let answer = found.as_ref().and_then(|found| found.of(asked));
    answer.map_or(f64::INFINITY, |a| {
        2.0 * (a.upper_m3_per_s - a.best_m3_per_s)
    })
}

/// A hold that measured exactly what is true without one way.
fn supposed(held: &Held, without: Way) -> Evaluation {
    let mut evaluation = held.evaluation().expect("a hold that counts").clone();
    let mean = &held.played.truth.mean;
    let own = along(mean, without);
    evaluation.met = None;
    if let Some(counted) = &mut evaluation.counted {
        let Counted {
            chambers,
            mean_m3_per_s,
            ..
        } = counted;
        for (chamber, flow) in chambers.iter().zip(mean_m3_per_s) {
            let sum = match chamber {
                Chamber::Cap => mean.cap_loss,
                Chamber::Rod => mean.rod_gain,
            };
            *flow = sum - sign(held, *chamber, without) * own;
        }
    }
    evaluation
}

/// What would be seen then; of the way itself nothing, since the limit is that of the sums.
fn seen_without(
    held: &Held,
    evaluation: &Evaluation,
    without: Way,
) -> stillrod::account::investigation::Seen {
    let mut seen = held.seen;
    match without {
        Way::Gland => seen.gland = None,
        Way::Plug(Chamber::Cap) => seen.cap_port = None,
        Way::Plug(Chamber::Rod) => seen.rod_port = None,
        Way::Piston(_) | Way::Valve(..) => {}
    }
    if let (Some(collected), Some(way)) = (&mut seen.collected, past_piston(held)) {
        let cylinder = &held.played.hold.specimen.cylinder;
        let passed = match way == without {
            true => 0.0,
            false => along(&held.played.truth.mean, way),
        };
        let moved = evaluation
            .figure(FigureName::Drift)
            .and_then(|drift| drift.measured)
            .map_or(0.0, |measured| measured.value_si);
        let drawn = match (
            cylinder.kind().chambers().contains(&collected.chamber),
            collected.chamber,
        ) {
            (false, _) => 0.0,
            (true, Chamber::Cap) => cylinder.cap_area().value * moved,
            (true, Chamber::Rod) => -cylinder.annulus_area().value * moved,
        };
        collected.volume_m3 = (passed - drawn) * held.played.hold.hold_s;
    }
    seen
}
