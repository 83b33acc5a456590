//! What is true of a way, as an answer states it, and what it would take to tell it.
//!
//! The detection limit of a leak is the smallest size of it that the planned phases, as sure
//! as they are, resolve at 2 U: they are let measure exactly what is true but for this leak,
//! which is made smaller or larger until its flow is twice the half width of its interval
//! towards nothing. Whether they tell it apart at all is asked of sums without any error.

use super::bench::Held;
use super::machine::Spot;
use super::ways::along;
use super::ways::driven_pa;
use stillrod::account::Counted;
use stillrod::account::Evaluation;
use stillrod::account::FigureName;
use stillrod::account::Fluid;
use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Phase;
use stillrod::account::investigation::Way;
use stillrod::account::investigation::attribute;
use stillrod::circuit::HoldingValve;
use stillrod::circuit::Look;
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

/// A flow that carries from phase to phase by more than this is the same in both: no
/// difference of pressure so small tells anything.
const ALIKE: f64 = 0.6;

/// Below this a way counts as not driven, Pa.
const DRIVEN_PA: f64 = 0.5e5;

/// The leak along a way in a phase; None for a sound part.
pub fn leak_of(held: &Held, way: Way) -> Option<Leak> {
    let spot = match way {
        Way::Piston(_) => Spot::Piston,
        Way::Gland => Spot::Gland,
        Way::Plug(Chamber::Cap) => Spot::CapPlug,
        Way::Plug(Chamber::Rod) => Spot::RodPlug,
        // No valve of the campaign has a setting, and no rig is held by itself.
        Way::Valve(_, HoldingValve::Swapped) | Way::Opened(_) | Way::Rig(_) => return None,
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
        Way::Opened(_) | Way::Rig(_) => false,
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
            true => match (pa / answer.at_pa).powf(EXPONENT) {
                alike if alike > ALIKE => 1.0,
                other => other,
            },
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
    let between: Vec<(f64, f64)> = answers
        .iter()
        .map(|(answer, truth)| {
            let dry = holds
                .iter()
                .filter(|held| looked(held, answer.way) == Some(Look::Dry));
            let least = dry.map(|held| {
                let length_s = held.played.hold.hold_s;
                DROPS_M3 / length_s / carried(held, answer)
            });
            (0.0, least.fold(f64::INFINITY, f64::min).max(*truth))
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
    let Ok(shares) = Shares::new(&coefficients, &measured, &covariance, &between) else {
        return false;
    };
    let Ok(best) = shares.best() else {
        return false;
    };
    let end = |which| shares.end(&best, index, which, 9.0).map(|end| end.value);
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
        Way::Piston(_) | Way::Valve(..) | Way::Opened(_) | Way::Rig(_) => None,
    }
}

/// Detection limit of a way that leaks, m³/s; infinite where it is above three times what
/// leaks, and a thirtieth of that where it is below.
pub fn limit(holds: &[&Held], asked: Way, truth: f64) -> f64 {
    let (mut low, mut high) = ((1.0f64 / 30.0).ln(), 3.0f64.ln());
    if truth <= 0.0 || !resolves(holds, asked, truth, high.exp()) {
        return f64::INFINITY;
    }
    if resolves(holds, asked, truth, low.exp()) {
        return truth * low.exp();
    }
    for _ in 0..5 {
        let middle = 0.5 * (low + high);
        match resolves(holds, asked, truth, middle.exp()) {
            true => high = middle,
            false => low = middle,
        }
    }
    truth * high.exp()
}

/// Whether a leak so many times as large would be resolved at 2 U.
fn resolves(holds: &[&Held], asked: Way, truth: f64, times: f64) -> bool {
    let supposed: Vec<Evaluation> = holds.iter().map(|h| supposed(h, asked, times)).collect();
    let phases = holds.iter().zip(&supposed);
    let phases: Vec<Phase<'_>> = phases
        .map(|(held, evaluation)| Phase {
            label: held.planned.plumbing.letter,
            subject: &held.played.setup.subject,
            evaluation,
            seen: supposed_seen(held, evaluation, asked, times),
        })
        .collect();
    let found = attribute(&phases).ok().flatten();
    let answer = found.as_ref().and_then(|found| found.of(asked));
    answer.is_some_and(|a| a.lower_m3_per_s >= 0.5 * times * truth)
}

/// A hold that measured exactly what is true, with one leak so many times as large.
fn supposed(held: &Held, way: Way, times: f64) -> Evaluation {
    let mut evaluation = held.evaluation().expect("a hold that counts").clone();
    let mean = &held.played.truth.mean;
    let more = (times - 1.0) * along(mean, way);
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
            *flow = sum + sign(held, *chamber, way) * more;
        }
    }
    evaluation
}

/// What would be seen then; of the way itself nothing, since the limit is that of the sums.
fn supposed_seen(
    held: &Held,
    evaluation: &Evaluation,
    asked: Way,
    times: f64,
) -> stillrod::circuit::Seen {
    let mut seen = held.seen;
    match asked {
        Way::Gland => seen.gland = None,
        Way::Plug(Chamber::Cap) => seen.cap_port = None,
        Way::Plug(Chamber::Rod) => seen.rod_port = None,
        Way::Piston(_) | Way::Valve(..) | Way::Opened(_) | Way::Rig(_) => {}
    }
    if let (Some(collected), Some(way)) = (&mut seen.collected, past_piston(held)) {
        let cylinder = &held.played.hold.specimen.cylinder;
        let by = if way == asked { times } else { 1.0 };
        let passed = by * along(&held.played.truth.mean, way);
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
