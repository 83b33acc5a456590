//! Where in the stroke a procedure tested, and what it did not test.

use crate::account::Evaluation;
use crate::account::FigureName;
use crate::certificate::facts::Facts;
use crate::certificate::proof::facts::ProofFacts;
use crate::certificate::proof::facts::StepShown;
use crate::certificate::proof::seen::Place;
use crate::certificate::proof::seen::place;
use crate::certificate::proof::seen::place_words;
use crate::certificate::proof::seen::temperatures;
use crate::certificate::sentence::Speech;
use crate::certificate::untested::apart;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;

/// Holds this part of the stroke apart were at one place: their sensor and the stops leave
/// a little.
const SAME_PART: f64 = 0.02;

/// A place nearer to an end than this part of the stroke is at that end.
const END_PART: f64 = 0.1;

/// A pressure this many times that of all holds proves something of strength.
const PROOF_FROM: f64 = 1.2;

/// A place with how often it was tested.
struct Often {
    place: Place,
    times: usize,
}

impl Often {
    fn words(&self, facts: &ProofFacts<'_>, with_part: bool) -> String {
        let speech = speech(facts);
        let text = match self.place.x_m {
            Some(x) if with_part => place_words(x, &facts.cylinder, speech),
            Some(x) => speech.length(x),
            None if self.place.is_end => "the end of the stroke".into(),
            None => "a place that was not measured".into(),
        };
        match self.times {
            1 => text,
            n => format!("{text}, {n} times"),
        }
    }
}

fn speech(facts: &ProofFacts<'_>) -> Speech {
    Speech {
        units: facts.units,
        holding: Chamber::Cap,
    }
}

/// Places of one direction in the order of the stroke, each once.
fn gathered(places: &[Place], chamber: Chamber, stroke_m: f64) -> Vec<Often> {
    let mut own: Vec<Place> = places
        .iter()
        .filter(|p| p.chamber == chamber)
        .copied()
        .collect();
    let order = |p: &Place| p.x_m.unwrap_or(f64::INFINITY);
    own.sort_by(|a, b| order(a).total_cmp(&order(b)));
    let mut all: Vec<Often> = Vec::new();
    for place in own {
        match all.last_mut() {
            Some(last) if is_same(&last.place, &place, stroke_m) => last.times += 1,
            _ => all.push(Often { place, times: 1 }),
        }
    }
    all
}

fn is_same(a: &Place, b: &Place, stroke_m: f64) -> bool {
    match (a.x_m, b.x_m) {
        (Some(x), Some(y)) => (x - y).abs() <= SAME_PART * stroke_m,
        (None, None) => a.is_end == b.is_end,
        _ => false,
    }
}

fn stroke_m(facts: &ProofFacts<'_>) -> f64 {
    facts.cylinder.size().stroke.value
}

/// "from the cap end at 20 mm, 200 mm, 3 times, and 380 mm; from the rod end at 200 mm".
pub(super) fn in_a_sentence(places: &[Place], facts: &ProofFacts<'_>) -> String {
    let mut said = Vec::new();
    for chamber in [Chamber::Cap, Chamber::Rod] {
        let words: Vec<String> = gathered(places, chamber, stroke_m(facts))
            .iter()
            .map(|often| often.words(facts, false).replace(", ", " "))
            .collect();
        if !words.is_empty() {
            said.push(format!("{} end at {}", chamber.word(), listed(&words)));
        }
    }
    said.join("; ")
}

/// One line for each direction: pressures, and places with their part of the stroke.
pub(super) fn places_tested(facts: &ProofFacts<'_>) -> Vec<String> {
    let places: Vec<Place> = facts.holds().map(|(_, hold)| place(hold)).collect();
    let mut lines = Vec::new();
    for chamber in [Chamber::Cap, Chamber::Rod] {
        let words: Vec<String> = gathered(&places, chamber, stroke_m(facts))
            .iter()
            .map(|often| often.words(facts, true))
            .collect();
        if words.is_empty() {
            continue;
        }
        let pressures = places
            .iter()
            .filter(|p| p.chamber == chamber)
            .filter_map(|p| p.pa);
        let range = pressures.fold(None, |range, pa| {
            let (low, high) = range.unwrap_or((pa, pa));
            Some((pa.min(low), pa.max(high)))
        });
        let at = range.map_or_else(String::new, |range| format!(" at {}", span(range, facts)));
        let end = chamber.word();
        lines.push(format!("{end} end holding{at}: {}", words.join("; ")));
    }
    lines
}

/// "160 bar", or "158 bar to 162 bar" where they differ in what is written.
fn span((low, high): (f64, f64), facts: &ProofFacts<'_>) -> String {
    let (low, high) = (speech(facts).pressure(low), speech(facts).pressure(high));
    match low == high {
        true => low,
        false => format!("{low} to {high}"),
    }
}

fn listed(words: &[String]) -> String {
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, first)) => format!("{} and {last}", first.join(", ")),
    }
}

/// What was not tested, each as the rest of a sentence "Not tested: …".
pub(super) fn not_tested(facts: &ProofFacts<'_>) -> Vec<String> {
    let mut list: Vec<String> = facts
        .steps
        .iter()
        .enumerate()
        .filter(|(_, step)| step.shown == StepShown::NotDone)
        .map(|(index, step)| format!("step {}, {}: not done", index + 1, step.title))
        .collect();
    let holds: Vec<&Facts<'_>> = facts.holds().map(|(_, hold)| hold).collect();
    let places: Vec<Place> = holds.iter().map(|hold| place(hold)).collect();
    list.push(between(&places, facts));
    list.extend(directions(&places, facts));
    list.push(pressures(&places, facts));
    if let Some((low, high)) = temperatures(facts) {
        let words = [low, high].map(|t| speech(facts).temperature(t));
        list.push(match words[0] == words[1] {
            true => format!("oil at other temperatures than {}", words[0]),
            false => format!("oil colder than {} or hotter than {}", words[0], words[1]),
        });
    } else {
        list.push("any oil temperature: none was measured".into());
    }
    let is_loaded = |hold: &&Facts<'_>| {
        let rod = hold.subject.circuit.rod;
        matches!(rod, RodHold::PushedIn { .. } | RodHold::PulledOut { .. })
    };
    if !holds.iter().any(is_loaded) {
        list.push("drift under a held load".into());
    }
    let evaluations: Vec<&Evaluation> = holds.iter().filter_map(|hold| hold.evaluation).collect();
    list.extend(apart(&evaluations));
    let on_valve = |hold: &&Facts<'_>| {
        let circuit = &hold.subject.circuit;
        circuit.cap_port == Port::OnValve || circuit.rod_port == Port::OnValve
    };
    if !holds.iter().any(on_valve) {
        list.push("the machine's own valves and hoses".into());
    }
    list.push(
        match was_looked_at(facts) {
            true => "scores and dents of rod and tube",
            false => "gland, rod and ports by eye (drips, scores, dents)",
        }
        .into(),
    );
    let strokes = |step: &StepShown<'_>| matches!(step, StepShown::Strokes { .. });
    let has_friction = |step: &StepShown<'_>| {
        let StepShown::Strokes {
            told: Some(told), ..
        } = step
        else {
            return false;
        };
        let mut figures = told.summary.figures.iter();
        figures.any(|found| found.figure.name == FigureName::Friction)
    };
    let any = |is: &dyn Fn(&StepShown<'_>) -> bool| facts.steps.iter().any(|s| is(&s.shown));
    list.push(
        match (any(&strokes), any(&has_friction)) {
            (true, true) => {
                "friction at other speeds or under load, cushions, bearings, welds, strength"
            }
            (true, false) => "friction, cushions, bearings, welds, strength",
            _ => "friction, full stroke, cushions, bearings, welds, strength",
        }
        .into(),
    );
    list
}

/// The places between those that were tested.
fn between(places: &[Place], facts: &ProofFacts<'_>) -> String {
    let stroke = stroke_m(facts);
    let known: Vec<f64> = places.iter().filter_map(|p| p.x_m).collect();
    let is_in = |x: f64| x <= END_PART * stroke;
    let is_out = |x: f64| x >= (1.0 - END_PART) * stroke;
    let at_end = |x: f64| is_in(x) || is_out(x);
    if places.is_empty() {
        "the piston seal: no hold was done".into()
    } else if places.iter().all(|p| p.is_end || p.x_m.is_some_and(at_end)) {
        let is_one = !known.is_empty()
            && (known.iter().all(|x| is_in(*x)) || known.iter().all(|x| is_out(*x)));
        match is_one {
            true => "the stroke beyond the one end that was tested".into(),
            false => "the middle of the stroke: only its ends were tested".into(),
        }
    } else if known.is_empty() {
        "other places of the stroke".into()
    } else {
        "the stroke between the places named".into()
    }
}

/// The directions in which the piston seal did not hold.
fn directions(places: &[Place], facts: &ProofFacts<'_>) -> Vec<String> {
    if places.is_empty() || !facts.cylinder.kind().has_piston_seal() {
        return Vec::new();
    }
    [Chamber::Cap, Chamber::Rod]
        .into_iter()
        .filter(|chamber| facts.cylinder.kind().chambers().contains(chamber))
        .filter(|chamber| places.iter().all(|p| p.chamber != *chamber))
        .map(|chamber| format!("the piston seal with the {} side holding", chamber.word()))
        .collect()
}

/// Pressures above all that was seen, and proof if nothing went above the holds.
fn pressures(places: &[Place], facts: &ProofFacts<'_>) -> String {
    let held = places.iter().filter_map(|p| p.pa).fold(0.0, f64::max);
    let kept = facts.steps.iter().filter_map(|step| match step.shown {
        StepShown::Kept { between_pa, .. } if between_pa.1.is_finite() => Some(between_pa.1),
        _ => None,
    });
    let kept = kept.fold(0.0, f64::max);
    let most = held.max(kept);
    if most <= 0.0 {
        "any pressure: none was measured".into()
    } else if kept >= PROOF_FROM * held {
        format!("pressures above {}", speech(facts).pressure(most))
    } else {
        format!(
            "proof pressure, and any above {}",
            speech(facts).pressure(most)
        )
    }
}

/// Whether a person looked at the outside.
fn was_looked_at(facts: &ProofFacts<'_>) -> bool {
    facts.steps.iter().any(|step| match &step.shown {
        // A class of the outside is said back as one.
        StepShown::Read { said_back, .. } => said_back.starts_with("class "),
        _ => false,
    })
}
