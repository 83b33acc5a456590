//! Where the oil of one hold went, for people who read no charts: the cylinder with an arrow for
//! each way, its figure, or why there is none.
//!
//! Words are decided here, `chart::ways_drawing` only sets them. A way that this plumbing cannot tell apart
//! is said so, with its bound; one that was not tested is "not tested".

use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::account::investigation::Way;
use crate::certificate::facts::Facts;
use crate::certificate::sentence::Speech;
use crate::chart::FlowWeight;
use crate::chart::Size;
use crate::chart::WayMark;
use crate::chart::WaysPicture;
use crate::chart::ways_drawing;
use crate::chart::ways_height_pt;
use crate::circuit::Circuit;
use crate::circuit::Path;
use crate::circuit::Port;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::quantity::UnitSystem;
use crate::verdict::Outcome;

/// The drawing of the ways of one hold, in words.
pub(super) struct Went {
    kind: Kind,
    circuit: Circuit,
    units: UnitSystem,
    ways: Vec<WayMark>,
    bare_ports: [&'static str; 2],
    sides: [Vec<String>; 2],
    /// What the figures are called that stand in it.
    pub names: Vec<&'static str>,
}

impl Went {
    /// Of a hold; None if it is not of a cylinder, is not valid, or tells of no oil.
    pub(super) fn of(facts: &Facts<'_>) -> Option<Self> {
        let Piece::Cylinder(cylinder) = &facts.subject.piece else {
            return None;
        };
        let evaluation = facts.evaluation?;
        let tells = evaluation.figures.iter().any(|f| f.name.is_flow());
        if facts.verdict.outcome == Outcome::NotValid || !tells {
            return None;
        }
        let circuit = facts.subject.circuit;
        let speech = Speech {
            units: facts.units,
            holding: circuit.holding_chamber(),
        };
        let kind = cylinder.kind();
        let paths = circuit.paths(kind);
        let found: Vec<(Path, Option<&Figure>)> = paths
            .into_iter()
            .map(|path| (path, figure_of(evaluation, path)))
            .collect();
        let largest = found
            .iter()
            .filter_map(|(_, figure)| figure.map(size))
            .fold(f64::MIN_POSITIVE, f64::max);
        let ways = found
            .iter()
            .map(|(path, figure)| mark(*path, *figure, &circuit, speech, largest))
            .collect();
        Some(Self {
            kind,
            circuit,
            units: facts.units,
            ways,
            bare_ports: [Chamber::Cap, Chamber::Rod].map(|chamber| bare(&circuit, kind, chamber)),
            sides: [
                (Chamber::Cap, FigureName::CapLoss, "cap side"),
                (Chamber::Rod, FigureName::RodGain, "rod side"),
            ]
            .map(|(chamber, name, side)| {
                let is_there = kind.chambers().contains(&chamber);
                match is_there {
                    true => side_words(evaluation.figure(name), side, speech),
                    false => Vec::new(),
                }
            }),
            names: found
                .iter()
                .filter_map(|(_, figure)| figure.map(|f| speech.name(f)))
                .chain(
                    [FigureName::CapLoss, FigureName::RodGain]
                        .into_iter()
                        .filter_map(|name| Some(speech.name(evaluation.figure(name)?))),
                )
                .collect(),
        })
    }

    /// Whether the drawing shows all that is plumbed; else the circuit is needed beside it.
    pub(super) fn shows_plumbing(&self) -> bool {
        let ports = [Chamber::Cap, Chamber::Rod].map(|chamber| self.circuit.port(chamber));
        !self.circuit.joined && self.circuit.beside.is_none() && !ports.contains(&Port::Supplied)
    }

    /// Least height of the drawing at a width, in points.
    pub(super) fn height(&self, width: f32) -> f32 {
        ways_height_pt(&self.ways, f64::from(width)) as f32
    }

    /// Draws it.
    pub(super) fn drawing(&self, size: Size) -> String {
        ways_drawing(&WaysPicture {
            kind: self.kind,
            rod: self.circuit.rod,
            ways: &self.ways,
            bare_ports: self.bare_ports,
            sides: [&self.sides[0], &self.sides[1]],
            units: self.units,
            size,
        })
    }
}

fn figure_of(evaluation: &Evaluation, path: Path) -> Option<&Figure> {
    evaluation.figure(FigureName::from_word(path.figure_word())?)
}

/// The size of what flows there, or of what may.
fn size(figure: &Figure) -> f64 {
    match figure.measured {
        Some(measured) => measured.value_si.abs(),
        None => {
            let ends = [figure.lower_si, figure.upper_si].map(f64::abs);
            ends.into_iter()
                .filter(|v| v.is_finite())
                .fold(0.0, f64::max)
        }
    }
}

fn mark(
    path: Path,
    figure: Option<&Figure>,
    circuit: &Circuit,
    speech: Speech,
    largest: f64,
) -> WayMark {
    let is_turned = figure.is_some_and(|f| speech.sense(f) < 0.0);
    let (way, name) = match path {
        Path::Piston if is_turned => (Way::Piston(Chamber::Rod), "past the piston, rod to cap"),
        Path::Piston => (Way::Piston(Chamber::Cap), "past the piston"),
        Path::Gland => (Way::Gland, "out at the gland"),
        Path::CapPort => (Way::Plug(Chamber::Cap), "past the cap-port plug"),
        Path::RodPort => (Way::Plug(Chamber::Rod), "past the rod-port plug"),
        Path::CapValve => (valve(circuit, Chamber::Cap), "through the cap-side valve"),
        Path::RodValve => (valve(circuit, Chamber::Rod), "through the rod-side valve"),
    };
    let (weight, verb, said) = match figure {
        None => (FlowWeight::NotTested, "", "not tested".to_owned()),
        Some(figure) => {
            let (weight, verb) = weight(figure, largest);
            (weight, verb, speech.result(figure))
        }
    };
    let at = figure.and_then(|f| speech.driving_pressure(f.name, f.at));
    WayMark {
        way,
        weight,
        name: name.into(),
        verb: verb.into(),
        figure: said,
        at: at.map_or_else(String::new, |at| format!("at {at}")),
    }
}

fn valve(circuit: &Circuit, chamber: Chamber) -> Way {
    Way::Valve(chamber, circuit.holding_valve(chamber))
}

/// How an arrow is drawn, and what is said before its figure.
fn weight(figure: &Figure, largest: f64) -> (FlowWeight, &'static str) {
    // Zero inside the interval: no leak is shown, in either direction.
    let is_shown = figure.lower_si > 0.0 || figure.upper_si < 0.0;
    let share = size(figure) / largest;
    match (is_shown, figure.measured.is_some()) {
        (true, _) => (FlowWeight::Leaks { share }, ""),
        (false, true) => (FlowWeight::Tight, "no leak shown:"),
        (false, false) => (FlowWeight::Open, "cannot be told apart:"),
    }
}

/// "cap side lost", "0.010 ± 0.014 mL/min".
fn side_words(figure: Option<&Figure>, side: &str, speech: Speech) -> Vec<String> {
    let Some(figure) = figure else {
        return vec![format!("{side}:"), "not counted".into()];
    };
    let verb = match speech.name(figure).contains("gained") {
        true => "gained",
        false => "lost",
    };
    vec![format!("{side} {verb}"), speech.result(figure)]
}

fn bare(circuit: &Circuit, kind: Kind, chamber: Chamber) -> &'static str {
    if !kind.chambers().contains(&chamber) {
        return match kind.has_piston_seal() {
            true => "breather",
            false => "",
        };
    }
    match circuit.port(chamber) {
        Port::OpenToVessel => "open to a vessel",
        Port::Supplied => "kept under pressure",
        Port::Blocked | Port::OnValve => "not tested",
    }
}
