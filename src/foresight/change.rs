//! What a shop could change to need a shorter hold: each change is made on paper, and the length
//! is looked for again.
//!
//! Only changes that a shop can make with what it has or can buy. A change that saves little, or
//! nothing, is not named.

use super::Intended;
use super::curve::Curve;
use super::needs::FIRST_S;
use super::needs::Foreseen;
use super::needs::Needs;
use super::needs::at_first_look_s;
use super::needs::curve_up_to;
use super::needs::needed;
use crate::account::PaperSensor;
use crate::account::PaperStart;
use crate::account::expected_softness;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::circuit::MeasuredStiffness;
use crate::circuit::Pace;
use crate::circuit::Port;
use crate::circuit::Step;
use crate::cylinder::Chamber;
use crate::procedure::HoldPlan;
use crate::quantity::GaugePressure;
use crate::quantity::Pressure;
use crate::quantity::Share;
use crate::quantity::Time;
use crate::quantity::Volume;
use crate::quantity::number;
use crate::quantity::unit::meter;
use crate::quantity::unit::milliliter;
use crate::quantity::unit::minute;
use crate::quantity::unit::pascal;
use crate::verdict::Limit;

/// A change that leaves more than this part of the length is not worth naming.
const WORTH: f64 = 0.85;

/// One that leaves more than this part with heat as expected is not looked at any further.
const WORTH_A_LOOK: f64 = 0.95;

/// Most changes that are named.
const MOST: usize = 5;

/// Settling that is tried, min, and by how much longer it has to be than what is planned.
const SETTLING_MIN: [f64; 3] = [10.0, 30.0, 60.0];
const LONGER: f64 = 1.5;

/// A better sensor has so much smaller steps and noise; a zero that was looked at is so much
/// better known.
const FINER: f64 = 10.0;
const LOOKED_AT: f64 = 5.0;

/// How well a shop measures a stiffness with a burette and a gauge, as a part of it.
const STIFFNESS_PART: f64 = 0.02;

/// What a rod side is charged to that stood empty, bar.
const CHARGE_BAR: f64 = 15.0;

/// A change, and what the hold needs with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// What to do, as a phrase: "settle 10 min".
    pub what: String,
    /// The length it leaves.
    pub needs: Needs,
}

/// Fills in what would shorten each length; `curve` is that of the hold as it is intended.
pub(super) fn changes(curve: &mut Curve<'_>, questions: &[Vec<Limit>], all: &mut [Foreseen]) {
    // Nothing is shorter than the shortest that is looked at.
    let can_be = |f: &&Foreseen| !matches!(f.needs, Needs::Never(_)) && length(&f.needs) > FIRST_S;
    let longest_s = all.iter().filter(can_be).map(|f| length(&f.needs));
    let Some(longest_s) = longest_s.reduce(f64::max) else {
        return;
    };
    let intended = curve.intended();
    let first_s: Vec<Option<f64>> = questions
        .iter()
        .map(|question| at_first_look_s(curve, question))
        .collect();
    for (what, changed) in candidates(intended) {
        let settles_longer = changed.plan.settle() > intended.plan.settle();
        let mut curve = curve_up_to(&changed, longest_s);
        for ((question, foreseen), first_s) in questions.iter().zip(all.iter_mut()).zip(&first_s) {
            if matches!(foreseen.needs, Needs::Never(_)) {
                continue;
            }
            // What heat may do beside what is expected costs time to look at, and settling is what
            // helps against it.
            let helps = |first_s: f64| {
                at_first_look_s(&mut curve, question).is_some_and(|s| s < WORTH_A_LOOK * first_s)
            };
            if !settles_longer && !first_s.is_none_or(helps) {
                continue;
            }
            let needs = needed(&mut curve, question);
            let more_s = (changed.plan.settle() - intended.plan.settle()).value;
            if is_shorter(&needs, &foreseen.needs, more_s) {
                let what = what.clone();
                foreseen.shorter.push(Change { what, needs });
            }
        }
    }
    for foreseen in all {
        let last = |change: &Change| (length(&change.needs), earliest(&change.needs));
        foreseen.shorter.sort_by(|a, b| {
            let (a, b) = (last(a), last(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        foreseen.shorter.truncate(MOST);
    }
}

fn length(needs: &Needs) -> f64 {
    needs.likely_s().unwrap_or(f64::INFINITY)
}

fn earliest(needs: &Needs) -> f64 {
    needs.earliest_s().unwrap_or(f64::INFINITY)
}

/// Whether a change saves enough, with `more_s` of settling that it takes.
fn is_shorter(new: &Needs, old: &Needs, more_s: f64) -> bool {
    let saves = |new_s: f64, old_s: f64| {
        new_s.is_finite() && new_s < WORTH * old_s && new_s + more_s < old_s
    };
    match length(old).is_finite() {
        true => saves(length(new), length(old)),
        false => length(new).is_finite() || saves(earliest(new), earliest(old)),
    }
}

fn candidates(intended: &Intended) -> Vec<(String, Intended)> {
    let mut all = Vec::new();
    let mut add = |what: String, change: &dyn Fn(&mut Intended)| {
        let mut changed = intended.clone();
        change(&mut changed);
        if changed != *intended {
            all.push((what, changed));
        }
    };
    settling(intended, &mut add);
    volume(intended, &mut add);
    sensors(intended, &mut add);
    add("the stiffness measured to 2 %".into(), &measured_stiffness);
    pressures(intended, &mut add);
    all
}

type Add<'a> = &'a mut dyn FnMut(String, &dyn Fn(&mut Intended));

fn settling(intended: &Intended, add: Add<'_>) {
    let planned = intended.plan.settle().get::<minute>();
    let longer = SETTLING_MIN
        .into_iter()
        .filter(|m| *m >= LONGER * planned && *m > planned);
    for settle_min in longer.take(2) {
        add(format!("settle {settle_min} min"), &|changed| {
            let settle = Time::new::<minute>(settle_min);
            let Ok(plan) = HoldPlan::new(settle, changed.plan.length()) else {
                return;
            };
            changed.plan = match changed.plan.ends_as_decided() {
                true => plan.ending_as_decided(),
                false => plan,
            };
        });
    }
}

/// Less oil that is shut in.
fn volume(intended: &Intended, add: Add<'_>) {
    let holding = intended.subject.circuit.holding_chamber();
    if let (Some(cylinder), true) = (intended.subject.piece.cylinder(), intended.place_is_free) {
        let stroke = cylinder.size().stroke;
        let (part, way) = match holding {
            Chamber::Cap => (0.2, "in"),
            Chamber::Rod => (0.8, "out"),
        };
        let at = stroke * part;
        let trapped = |x| cylinder.volume(holding, x).value;
        if trapped(at) < 0.8 * trapped(intended.start.x) {
            let mm = at.get::<meter>() * 1e3;
            add(
                format!("the rod further {way}, at {mm:.0} mm"),
                &|changed| {
                    changed.start.x = at;
                },
            );
        }
    }
    let hose = intended.subject.circuit.hose(holding).get::<milliliter>();
    if hose > 0.0 {
        let side = holding.word();
        add(
            format!("a plug at the {side} port instead of a hose of {hose:.0} mL"),
            &|changed| {
                let circuit = &mut changed.subject.circuit;
                match holding {
                    Chamber::Cap => circuit.cap_hose = Volume::default(),
                    Chamber::Rod => circuit.rod_hose = Volume::default(),
                }
            },
        );
    }
}

fn sensors(intended: &Intended, add: Add<'_>) {
    let is_pressure = |role| matches!(role, Role::CapPressure | Role::RodPressure);
    let own = |role: Role| intended.sensors.iter().find(|s| s.role == role);
    if let Some(position) = own(Role::Position) {
        let finer = rounded(position.step_si / FINER);
        let words = format!(
            "a position sensor with steps of {} instead of {}",
            length_words(finer),
            length_words(position.step_si)
        );
        add(words, &|changed| {
            refine(changed, &|s| s.role == Role::Position)
        });
    }
    if intended.sensors.iter().any(|s| is_pressure(s.role)) {
        let step = own(Role::CapPressure).or(own(Role::RodPressure));
        let finer = step.map_or(0.0, |s| rounded(s.step_si / FINER) * 1e-5);
        let words = format!(
            "pressure sensors with steps of {} bar",
            number(finer, 10.0 * finer)
        );
        add(words, &|changed| refine(changed, &|s| is_pressure(s.role)));
        add(
            "the pressure sensors' zeros looked at, both sides open".into(),
            &|changed| {
                let own = changed.sensors.iter_mut();
                for sensor in own.filter(|s| is_pressure(s.role)) {
                    sensor.errors.zero_si /= LOOKED_AT;
                }
            },
        );
    }
    match own(Role::OilTemperature) {
        Some(_) => add(
            "an oil probe with a tenth of the noise".into(),
            &|changed| {
                refine(changed, &|s| s.role == Role::OilTemperature);
            },
        ),
        None => {
            let holding = intended.subject.circuit.holding_chamber();
            let words = format!("a probe in the oil of the {} end", holding.word());
            add(words, &|changed| {
                changed.subject.circuit.probe = Some(holding);
                changed.sensors.push(PROBE);
            });
        }
    }
}

/// A small length with its unit.
fn length_words(m: f64) -> String {
    let (value, unit) = match m < 1e-5 {
        true => (m * 1e6, "µm"),
        false => (m * 1e3, "mm"),
    };
    let text = number(value, 0.5 * value);
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    format!("{text} {unit}")
}

/// A probe as it is bought for a port.
const PROBE: PaperSensor = PaperSensor {
    role: Role::OilTemperature,
    errors: SensorErrors {
        zero_si: 0.3,
        span_relative: 0.0,
        zero_si_per_k: 0.0,
    },
    step_si: 0.01,
    noise_si: 0.02,
};

fn refine(changed: &mut Intended, which: &dyn Fn(&PaperSensor) -> bool) {
    for sensor in changed.sensors.iter_mut().filter(|s| which(s)) {
        sensor.step_si = rounded(sensor.step_si / FINER);
        sensor.noise_si /= FINER;
    }
}

/// The next of 1, 2, 5 below, as catalogues have them.
fn rounded(value: f64) -> f64 {
    if value <= 0.0 {
        return 0.0;
    }
    let decade = 10f64.powf(value.log10().floor());
    let lead = value / decade;
    let steps = [5.0, 2.0, 1.0];
    let lead = steps.into_iter().find(|s| lead >= s * (1.0 - 1e-9));
    decade * lead.unwrap_or(1.0)
}

fn measured_stiffness(changed: &mut Intended) {
    let holding = changed.subject.circuit.holding_chamber();
    let to = changed.start.pressure(holding);
    let step = Step {
        chamber: holding,
        at: changed.start.x,
        from: GaugePressure::from_pa(0.5 * to.pa()),
        to,
        pace: Pace::Quick,
    };
    let mut middle = changed.start;
    set(&mut middle, holding, GaugePressure::from_pa(0.75 * to.pa()));
    let expected = expected_softness(&changed.subject, middle, holding);
    if let (Some((softness, volume)), None) = (expected, &changed.subject.circuit.stiffness) {
        let value = Pressure::new::<pascal>(volume / softness);
        let stated = MeasuredStiffness::stated(step, value, Share::from_part(STIFFNESS_PART));
        changed.subject.circuit.stiffness = stated.ok();
    }
}

fn pressures(intended: &Intended, add: Add<'_>) {
    let circuit = &intended.subject.circuit;
    let holding = circuit.holding_chamber();
    let other = holding.other();
    let has_other = intended
        .subject
        .piece
        .cylinder()
        .is_some_and(|c| c.kind().chambers().contains(&other));
    let stands_empty = intended.start.pressure(other).bar() < 2.0;
    if has_other && circuit.port(other) == Port::Blocked && stands_empty {
        let words = format!("the {} side charged to {CHARGE_BAR:.0} bar", other.word());
        add(words, &|changed| {
            set(
                &mut changed.start,
                other,
                GaugePressure::from_bar(CHARGE_BAR),
            );
        });
    }
    if !intended.pressure_is_free {
        return;
    }
    let planned = intended.start.pressure(holding);
    for times in [0.5, 1.5] {
        let pressure = GaugePressure::from_pa(times * planned.pa());
        let rating = intended.ratings.weakest(holding);
        let is_borne = rating.is_some_and(|r| pressure.pa() <= 0.8 * r.pressure.pa());
        if times < 1.0 || is_borne {
            let words = format!("hold at {:.0} bar, if the limit is for it", pressure.bar());
            add(words, &|changed| set(&mut changed.start, holding, pressure));
        }
    }
}

fn set(start: &mut PaperStart, chamber: Chamber, pressure: GaugePressure) {
    match chamber {
        Chamber::Cap => start.cap = pressure,
        Chamber::Rod => start.rod = pressure,
    }
}
