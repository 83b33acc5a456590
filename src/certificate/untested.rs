//! What was *not* tested, from what was on the bench.
//!
//! A certificate is read by people who were not there. What a blocked or held
//! cylinder cannot show is said in words, and the list follows the plumbing.

use crate::account::Evaluation;
use crate::certificate::facts::Facts;
use crate::certificate::sentence::Speech;
use crate::circuit::Path;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Piece;

/// What was not tested, each as the rest of a sentence "Not tested: …".
pub(super) fn untested(facts: &Facts<'_>, speech: Speech) -> Vec<String> {
    let mut list = Vec::new();
    let Piece::Cylinder(_) = facts.subject.piece else {
        list.push("any pressure but the one of this hold, and proof pressure".into());
        list.push(
            "strength, tightness under vibration, and what cannot be seen from pressure".into(),
        );
        return list;
    };
    let circuit = &facts.subject.circuit;
    let position = facts
        .evaluation
        .and_then(|e| e.figures.iter().find_map(|f| f.at.x_m));
    list.push(match (position, circuit.rod) {
        (_, RodHold::Bottomed) => "any position but the end of the stroke".into(),
        (Some(x), _) => format!("other positions of the stroke than {}", speech.length(x)),
        (None, _) => "other positions of the stroke".into(),
    });
    list.push("other pressures and temperatures, and proof pressure".into());
    list.push(match circuit.holding_chamber() {
        Chamber::Cap => "the piston seal with the rod side holding".into(),
        Chamber::Rod => "the piston seal with the cap side holding".into(),
    });
    if let Some(text) = apart(facts.evaluation.as_slice()) {
        list.push(text);
    }
    if circuit.cap_port != Port::OnValve && circuit.rod_port != Port::OnValve {
        list.push("the machine's own valves and hoses".into());
    }
    if circuit.beside.is_some() {
        list.push("the other cylinder on the same load".into());
    }
    list.push("the gland, rod and ports by eye (drips, scores, dents)".into());
    list.push("friction, full stroke, cushions, bearings, welds, strength".into());
    list
}

/// Paths that the plumbing of these holds cannot tell apart.
pub(super) fn apart(evaluations: &[&Evaluation]) -> Option<String> {
    const PATHS: [Path; 6] = [
        Path::Piston,
        Path::Gland,
        Path::CapPort,
        Path::RodPort,
        Path::CapValve,
        Path::RodValve,
    ];
    let names: Vec<&str> = PATHS
        .into_iter()
        .filter(|path| {
            let word = path.figure_word();
            let figures = evaluations.iter().flat_map(|e| &e.figures);
            let mut of_path = figures.filter(|f| f.name.word() == word).peekable();
            of_path.peek().is_some() && of_path.all(|f| f.measured.is_none())
        })
        .map(|path| match path {
            Path::Piston => "piston",
            Path::Gland => "gland",
            Path::CapPort => "cap-port plug",
            Path::RodPort => "rod-port plug",
            Path::CapValve => "cap-side valve",
            Path::RodValve => "rod-side valve",
        })
        .collect();
    match names.split_last() {
        None => None,
        Some((only, [])) => Some(format!("the {only} by itself (only a bound is known)")),
        Some((last, first)) => Some(format!(
            "{} and {last} each by itself (only bounds are known)",
            first.join(", ")
        )),
    }
}
