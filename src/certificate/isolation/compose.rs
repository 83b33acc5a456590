//! What an isolation sheet says, as text.
//!
//! Everything that is printed is decided here and tested as text; `page` only sets it.

use crate::account::investigation::Answer;
use crate::account::investigation::Standing;
use crate::account::investigation::Way;
use crate::certificate::common::Mark;
use crate::certificate::common::hazards;
use crate::certificate::compose::build_of;
use crate::certificate::compose::sentence;
use crate::certificate::compose::unit_of;
use crate::certificate::isolation::conclude::Conclusion;
use crate::certificate::isolation::conclude::bare;
use crate::certificate::isolation::conclude::conclude;
use crate::certificate::isolation::conclude::is_silent;
use crate::certificate::isolation::conclude::list;
use crate::certificate::isolation::facts::IsolationFacts;
use crate::certificate::isolation::facts::PhaseFacts;
use crate::certificate::isolation::figures::Figures;
use crate::certificate::reading::all_in_units;
use crate::certificate::sentence::Speech;
use crate::chart::FlowWeight;
use crate::chart::WayMark;
use crate::circuit::HoldingValve;
use crate::circuit::Look;
use crate::cylinder::Chamber;
use crate::quantity::UnitSystem;
use crate::quantity::number;

/// Everything an isolation sheet says.
#[derive(Debug, Clone, PartialEq)]
pub struct IsolationPaper {
    /// "Isolation sheet".
    pub title: String,
    /// What tells it from others; may be empty.
    pub number: String,
    /// The shop.
    pub shop: String,
    /// Date and time.
    pub date: String,
    /// What is written across the page.
    pub marks: Vec<Mark>,
    /// Name and content of the lines about the piece.
    pub piece: Vec<(String, String)>,
    /// Question and answer of what was asked before.
    pub asked: Vec<(String, String)>,
    /// The answer.
    pub conclusion: Conclusion,
    /// The ways with their words, as they are drawn.
    pub ways: Vec<WayMark>,
    /// Word at a port that no way hangs on, cap before rod.
    pub bare_ports: [String; 2],
    /// Names of the phases, "A" or "B, not valid".
    pub phases: Vec<String>,
    /// Rows of the table: name, and a cell for each phase.
    pub rows: Vec<(String, Vec<String>)>,
    /// What is to be read below the table: which phases do not count, what "±" and "…"
    /// mean, the recordings.
    pub notes: Vec<String>,
    /// What the pattern of pressures and movement says.
    pub patterns: Vec<String>,
    /// What to do next.
    pub next_steps: Vec<String>,
    /// What was not tested.
    pub not_tested: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// What stands at the foot.
    pub foot: String,
}

/// What an isolation sheet says about these facts.
pub fn compose_isolation(facts: &IsolationFacts) -> IsolationPaper {
    let figures = Figures { units: facts.units };
    let mut paper = IsolationPaper {
        title: "Isolation sheet".into(),
        number: facts.investigation_id.clone(),
        shop: facts.shop_name.clone(),
        date: facts.date.clone(),
        marks: facts
            .practice
            .iter()
            .map(|_| Mark::new("PRACTICE", " – ", "not a measurement of a real cylinder"))
            .collect(),
        piece: piece(facts),
        asked: facts
            .asked
            .iter()
            .map(|qa| (qa.question.clone(), qa.answer.clone()))
            .collect(),
        conclusion: conclude(facts),
        ways: ways(facts, figures),
        bare_ports: [Chamber::Cap, Chamber::Rod].map(|chamber| bare_port(facts, chamber)),
        phases: facts.phases.iter().map(phase_name).collect(),
        rows: rows(facts, figures),
        notes: notes(facts),
        patterns: facts.patterns.iter().map(|p| sentence(p)).collect(),
        next_steps: facts.next_steps.iter().map(|s| sentence(s)).collect(),
        not_tested: not_tested(facts),
        cautions: cautions(facts),
        foot: format!(
            "isolation sheet, not a certificate · stillrod {}",
            facts.software
        ),
    };
    let limits: Vec<String> = facts.judged.iter().map(|j| j.limit.text.clone()).collect();
    for texts in [
        &mut paper.conclusion.sentences,
        &mut paper.patterns,
        &mut paper.next_steps,
        &mut paper.notes,
    ] {
        all_in_units(texts, facts.units, &limits);
    }
    paper
}

fn piece(facts: &IsolationFacts) -> Vec<(String, String)> {
    let speech = Speech {
        units: facts.units,
        holding: Chamber::Cap,
    };
    let mut build = build_of(&facts.cylinder, &facts.identity.seal, speech);
    if !facts.fluid.is_empty() {
        build += &format!(", filled with {}", facts.fluid);
    }
    [
        ("Unit", unit_of(&facts.identity)),
        ("Machine", facts.identity.machine.clone()),
        ("Build", build),
    ]
    .into_iter()
    .filter(|(_, text)| !text.trim().is_empty())
    .map(|(name, text)| (name.to_owned(), text))
    .collect()
}

/// Ways in the order of their size; the piston seal from the rod side only where it was
/// driven.
fn ways(facts: &IsolationFacts, figures: Figures) -> Vec<WayMark> {
    let Some(attribution) = &facts.attribution else {
        return Vec::new();
    };
    let answers = attribution.answers.iter();
    let largest = answers
        .clone()
        .filter(|a| a.standing == Standing::Leaks)
        .map(|a| a.best_m3_per_s)
        .fold(f64::MIN_POSITIVE, f64::max);
    answers
        .filter(|a| a.way != Way::Piston(Chamber::Rod) || a.standing != Standing::NotDriven)
        .map(|answer| {
            let (weight, verb, figure) = match &answer.standing {
                Standing::NotDriven => (FlowWeight::NotTested, "", "not tested".to_owned()),
                Standing::NotValid => (FlowWeight::Open, "", "nothing said".to_owned()),
                Standing::AtSetting => (
                    FlowWeight::Open,
                    "opens as it should:",
                    figures.of_way(answer),
                ),
                _ if is_silent(attribution) => (FlowWeight::Open, "", "nothing said".to_owned()),
                Standing::Leaks => {
                    let share = answer.best_m3_per_s / largest;
                    (FlowWeight::Leaks { share }, "leaks", figures.of_way(answer))
                }
                Standing::Tight => (FlowWeight::Tight, "", figures.of_way(answer)),
                Standing::Open { .. } => (FlowWeight::Open, "cannot tell:", figures.of_way(answer)),
            };
            WayMark {
                way: answer.way,
                weight,
                name: drawn_name(answer.way).to_owned(),
                verb: verb.to_owned(),
                figure,
                at: at(facts, answer, figures),
            }
        })
        .collect()
}

/// What a way is called where the drawing shows its place.
fn drawn_name(way: Way) -> &'static str {
    match way {
        Way::Piston(Chamber::Cap) => "past the piston seal",
        Way::Piston(Chamber::Rod) => "past it from the rod side",
        Way::Gland => "out at the gland",
        Way::Plug(_) => "plug or its hose",
        Way::Rig(_) => "the rig's own hose",
        Way::Opened(_) => "valve at its setting",
        Way::Valve(_, HoldingValve::Absent) => "valve and its line",
        Way::Valve(_, HoldingValve::InPlace) => "load-holding valve",
        Way::Valve(_, HoldingValve::Swapped) => "swapped-in valve",
    }
}

/// "at 96 bar (A, E)".
fn at(facts: &IsolationFacts, answer: &Answer, figures: Figures) -> String {
    if answer.driven_in.is_empty() {
        return String::new();
    }
    let labels: Vec<&str> = answer
        .driven_in
        .iter()
        .filter_map(|index| Some(facts.phases.get(*index)?.label.as_str()))
        .collect();
    let pressure = figures.pressure(answer.at_pa);
    format!("at {pressure} ({})", labels.join(", "))
}

fn bare_port(facts: &IsolationFacts, chamber: Chamber) -> String {
    let has_chamber = chamber == Chamber::Cap || has_rod_side(facts);
    let ports = facts.phases.iter().map(|p| p.circuit.port(chamber));
    let name = format!("{} port", chamber.word());
    let is_open = ports
        .clone()
        .all(|port| port == crate::circuit::Port::OpenToVessel);
    match (has_chamber, is_open) {
        (false, _) if facts.cylinder.kind().has_piston_seal() => "breather".into(),
        (false, _) => String::new(),
        (true, true) => format!("{name}, open"),
        (true, false) => format!("{name}, not tested"),
    }
}

/// Whether the rod side can hold pressure.
fn has_rod_side(facts: &IsolationFacts) -> bool {
    let chambers = facts.cylinder.kind().chambers();
    chambers.contains(&Chamber::Rod)
}

fn phase_name(phase: &PhaseFacts) -> String {
    match phase.void {
        None => phase.label.clone(),
        Some(_) => format!("{}, not valid", phase.label),
    }
}

fn rows(facts: &IsolationFacts, figures: Figures) -> Vec<(String, Vec<String>)> {
    const NONE: &str = "–";
    let or_none = |text: Option<String>| text.unwrap_or_else(|| NONE.to_owned());
    let counted = |phase: &PhaseFacts, text: Option<String>| match phase.void {
        None => or_none(text),
        Some(_) => "does not count".to_owned(),
    };
    let row = |name: &str, cell: &dyn Fn(&PhaseFacts) -> String| {
        let cells = facts.phases.iter().map(cell).collect();
        (name.to_owned(), cells)
    };
    let mut rows = vec![row("plumbed", &|p| sentence(&p.plumbed))];
    rows.extend([
        row("cap pressure", &|p| {
            or_none(p.p_cap_pa.map(|ends| figures.pressures(ends)))
        }),
        row("rod pressure", &|p| {
            or_none(p.p_rod_pa.map(|ends| figures.pressures(ends)))
        }),
        row("hold, oil", &|p| hold(p, facts.units)),
        row("rod moved", &|p| {
            counted(p, p.drift_m_per_s.map(|d| figures.movement(d)))
        }),
        row("oil, cap side", &|p| {
            let said = |q| figures.gone(q, ("lost", "gained"));
            counted(p, p.cap_loss_m3_per_s.map(said))
        }),
        row("oil, rod side", &|p| {
            let said = |q| figures.gone(q, ("gained", "lost"));
            counted(p, p.rod_gain_m3_per_s.map(said))
        }),
        row("eyes saw", &|p| seen(p, has_rod_side(facts), figures)),
    ]);
    // A ram has no rod side to speak of.
    if !has_rod_side(facts) {
        rows.retain(|(name, _)| !["rod pressure", "oil, rod side"].contains(&name.as_str()));
    }
    rows
}

fn hold(phase: &PhaseFacts, units: UnitSystem) -> String {
    let speech = Speech {
        units,
        holding: Chamber::Cap,
    };
    let length = phase.length_s.map(|s| match s < 180.0 {
        true => format!("{} s", number(s, 10.0)),
        false => format!("{} min", number(s / 60.0, 10.0)),
    });
    let oil = phase.t_oil_k.map(|t| speech.temperature(t));
    let said: Vec<String> = [length, oil].into_iter().flatten().collect();
    match said.is_empty() {
        true => "–".into(),
        false => said.join(", "),
    }
}

/// "dry: gland, rod port; wet: cap port; 3.2 ± 0.2 mL from the rod side".
fn seen(phase: &PhaseFacts, has_rod_side: bool, figures: Figures) -> String {
    let mut places = vec![
        ("gland", phase.seen.gland),
        ("cap port", phase.seen.cap_port),
    ];
    if has_rod_side {
        places.push(("rod port", phase.seen.rod_port));
    }
    let mut said = Vec::new();
    for (word, look) in [
        ("dry", Some(Look::Dry)),
        ("wet", Some(Look::Wet)),
        ("not looked", None),
    ] {
        let names: Vec<&str> = places
            .iter()
            .filter(|place| place.1 == look)
            .map(|place| place.0)
            .collect();
        if !names.is_empty() {
            said.push(format!("{word}: {}", names.join(", ")));
        }
    }
    if let Some(collected) = phase.seen.collected {
        let volume = figures.volume(collected.volume_m3, collected.standard_m3);
        said.push(format!(
            "collected {volume}, {} side",
            collected.chamber.word()
        ));
    }
    said.join("; ")
}

fn notes(facts: &IsolationFacts) -> Vec<String> {
    let voids = facts.phases.iter().filter_map(|phase| {
        let why = phase.void.as_ref()?;
        let why = why.trim().trim_end_matches('.');
        Some(format!("{} does not count: {why}.", phase.label))
    });
    let mut notes: Vec<String> = voids.collect();
    notes.push(
        "± and … cover 95 %, “less than” is the upper end of that. A part is said to leak, or \
         not to, only where 99.5 % agree. → is start and end of the hold."
            .into(),
    );
    let recordings: Vec<String> = facts.phases.iter().map(recording).collect();
    if !recordings.is_empty() {
        let recordings = recordings.join(", ");
        notes.push(format!(
            "Recordings, with the first digits of their SHA-256: {recordings}."
        ));
    }
    notes
}

/// "A run.h5 (9f3a61c07d5e)".
fn recording(phase: &PhaseFacts) -> String {
    let short: String = phase.sha256_hex.chars().take(12).collect();
    match short.is_empty() {
        true => format!("{} {}", phase.label, phase.file_name),
        false => format!("{} {} ({short})", phase.label, phase.file_name),
    }
}

fn not_tested(facts: &IsolationFacts) -> Vec<String> {
    let mut items = Vec::new();
    let answers = facts.attribution.as_ref().map_or(&[][..], |a| &a.answers);
    let idle: Vec<String> = answers
        .iter()
        .filter(|a| a.standing == Standing::NotDriven)
        .map(|a| bare(a.way).to_owned())
        .collect();
    if !idle.is_empty() {
        items.push(format!(
            "{}: nothing drove oil along it",
            list(&idle, "and")
        ));
    }
    if !answers.iter().any(|a| matches!(a.way, Way::Valve(..))) {
        items.push("the machine's own valves and hoses".into());
    }
    let never =
        |look: &dyn Fn(&PhaseFacts) -> Option<Look>| facts.phases.iter().all(|p| look(p).is_none());
    let mut by_eye = Vec::new();
    for (name, is_unseen) in [
        ("gland", never(&|p| p.seen.gland)),
        ("cap port", never(&|p| p.seen.cap_port)),
        (
            "rod port",
            has_rod_side(facts) && never(&|p| p.seen.rod_port),
        ),
    ] {
        if is_unseen {
            by_eye.push(name.to_owned());
        }
    }
    if !by_eye.is_empty() {
        items.push(format!("{} by eye", list(&by_eye, "and")));
    }
    items.push("other positions, pressures and temperatures than these".into());
    items.push("friction, full stroke, cushions, bearings, welds, strength".into());
    items.extend(facts.also_not_tested.iter().cloned());
    items
}

fn cautions(facts: &IsolationFacts) -> Vec<String> {
    let first = "A result here is no lifting approval, statutory inspection or structural \
         certificate. The machine maker's instructions, local rules and qualified people come \
         first.";
    let mut cautions = vec![first.to_owned()];
    cautions.extend(hazards(Some(&facts.cylinder)));
    cautions
}
