//! The answer in a fitter's words: cylinder or valve, and how much.
//!
//! Invariant: a way is said to leak only where its standing says so; ways are never
//! compared with each other, and what cannot be told apart is said together.

use crate::account::investigation::Answer;
use crate::account::investigation::Attribution;
use crate::account::investigation::Pattern;
use crate::account::investigation::Standing;
use crate::account::investigation::Way;
use crate::certificate::compose::sentence;
use crate::certificate::isolation::facts::IsolationFacts;
use crate::certificate::isolation::facts::PhaseFacts;
use crate::certificate::isolation::figures::Figures;
use crate::certificate::isolation::together::groups;
use crate::certificate::isolation::together::together;
use crate::circuit::HoldingValve;
use crate::cylinder::Chamber;

/// How an answer is to be seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Something leaks.
    Leaks,
    /// Nothing that matters leaks.
    Tight,
    /// It cannot be told, or nothing is said.
    Open,
}

/// What an investigation comes to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conclusion {
    /// The answer as a few words, "Valve".
    pub word: String,
    /// How it is to be seen.
    pub tone: Tone,
    /// The answer as sentences, that to "cylinder or valve?" first.
    pub sentences: Vec<String>,
}

/// Who is to mend a way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Owner {
    Cylinder,
    Valve,
    /// Plugs, hoses and a valve that was put in for the test.
    Gear,
}

fn owner(way: Way) -> Owner {
    match way {
        Way::Piston(_) | Way::Gland => Owner::Cylinder,
        Way::Plug(_) | Way::Rig(_) | Way::Valve(_, HoldingValve::Swapped) => Owner::Gear,
        Way::Opened(_) | Way::Valve(_, HoldingValve::Absent | HoldingValve::InPlace) => {
            Owner::Valve
        }
    }
}

/// Draws the conclusion.
pub(super) fn conclude(facts: &IsolationFacts) -> Conclusion {
    let nothing = |sentence: String| Conclusion {
        word: "Nothing said".into(),
        tone: Tone::Open,
        sentences: vec![sentence],
    };
    let no_figure = "No phase gave a figure that could tell one way from another.";
    let Some(attribution) = &facts.attribution else {
        return nothing(no_figure.into());
    };
    let pattern = attribution
        .noticed
        .iter()
        .find_map(|noticed| Some((noticed.pattern.as_answer()?, &noticed.sentence)));
    let is_mute = attribution.answers.is_empty();
    if let (true, Some((word, evidence))) =
        (attribution.contradiction.is_some() || is_mute, pattern)
    {
        let alone = match is_mute {
            true => {
                "No flow is stated for any way: no leak that stays the same explains these phases."
            }
            false => {
                "No flow is stated for the ways together, because the leak is not the same in all phases; each phase \
                 by itself says what it lost."
            }
        };
        return Conclusion {
            word: word.into(),
            tone: Tone::Leaks,
            sentences: vec![evidence.clone(), alone.into()],
        };
    }
    if is_mute {
        return nothing(no_figure.into());
    }
    if let Some(why) = &attribution.contradiction {
        return nothing(format!(
            "The phases contradict each other, so no way is named: {}",
            uncapital(&sentence(why))
        ));
    }
    let speech = Speech {
        facts,
        attribution,
        figures: Figures { units: facts.units },
    };
    let (mut word, mut tone) = speech.word();
    let mut sentences = speech.sentences();
    let lost = uncounted(&facts.phases);
    if let Some((evidence, answer)) = unlike(attribution).filter(|_| tone != Tone::Leaks) {
        (word, tone) = answer;
        sentences.insert(0, evidence.clone());
    } else if tone == Tone::Tight && lost.is_some() {
        (word, tone) = ("No leak where it could be measured".into(), Tone::Open);
    }
    sentences.extend(lost);
    sentences.extend(facts.judged.iter().map(|judged| {
        let (figure, outcome) = (judged.limit.figure.plain(), judged.outcome.plain());
        sentence(&format!("{figure}: {}. {outcome}", judged.reason))
    }));
    Conclusion {
        word,
        tone,
        sentences,
    }
}

/// A loss that stopped or started within a hold, or oil that nothing explains, with the answer
/// that it is: what the phases clear does not clear it.
fn unlike(attribution: &Attribution) -> Option<(&String, (String, Tone))> {
    attribution.noticed.iter().find_map(|noticed| {
        let answer = match noticed.pattern {
            Pattern::StopsAtPressure | Pattern::StartsAtPressure => {
                (noticed.pattern.as_answer()?.to_owned(), Tone::Leaks)
            }
            Pattern::LossStops | Pattern::LossStarts | Pattern::OilSeen => {
                ("Cannot be told".into(), Tone::Open)
            }
            _ => return None,
        };
        Some((&noticed.sentence, answer))
    })
}

/// Of which phases nothing counts, and why, as a sentence.
fn uncounted(phases: &[PhaseFacts]) -> Option<String> {
    let lost = phases.iter().filter_map(|phase| {
        let why = phase.void.as_ref()?;
        Some(format!("{} ({})", phase.label, why.trim_end_matches('.')))
    });
    let lost: Vec<String> = lost.collect();
    let head = if lost.len() > 1 { "phases" } else { "phase" };
    (!lost.is_empty()).then(|| format!("No flow of {head} {} counts.", list(&lost, "and")))
}

/// Whether nothing is said of any way.
pub(super) fn is_silent(attribution: &Attribution) -> bool {
    attribution.contradiction.is_some() || attribution.answers.is_empty()
}

struct Speech<'a> {
    facts: &'a IsolationFacts,
    attribution: &'a Attribution,
    figures: Figures,
}

fn is_open(answer: &Answer) -> bool {
    matches!(answer.standing, Standing::Open { .. })
}

impl<'a> Speech<'a> {
    fn of(&self, wanted: impl Fn(&Answer) -> bool) -> Vec<&'a Answer> {
        let answers = self.attribution.answers.iter();
        answers.filter(|answer| wanted(answer)).collect()
    }

    fn leaks(&self, owner_is: Owner) -> Vec<&'a Answer> {
        self.of(|a| a.standing == Standing::Leaks && owner(a.way) == owner_is)
    }

    fn opens(&self, owner_is: Owner) -> Vec<&'a Answer> {
        self.of(|a| is_open(a) && owner(a.way) == owner_is)
    }

    fn word(&self) -> (String, Tone) {
        let (cylinder, valve) = (self.leaks(Owner::Cylinder), self.leaks(Owner::Valve));
        let word = match (cylinder.as_slice(), valve.as_slice()) {
            ([], []) if !self.leaks(Owner::Gear).is_empty() => "Test plug or gear",
            ([], []) if !self.of(is_open).is_empty() => {
                return ("Cannot be told".into(), Tone::Open);
            }
            ([], [])
                if !self
                    .of(|a| a.standing == Standing::NotDriven && owner(a.way) != Owner::Gear)
                    .is_empty() =>
            {
                return ("No leak in what was tested".into(), Tone::Tight);
            }
            ([], []) => return ("No leak found".into(), Tone::Tight),
            ([], _) if self.has_wet_fitting() => "Valve or its fitting",
            ([], _) => "Valve",
            ([one], []) if one.way == Way::Gland => "Gland",
            (all, []) if all.iter().all(|a| a.way != Way::Gland) => "Piston seal",
            (_, []) => "Cylinder",
            (_, _) => "Cylinder and valve",
        };
        let more = match self.of(is_open).is_empty() {
            true => "",
            false => ", at least",
        };
        (format!("{word}{more}"), Tone::Leaks)
    }

    fn has_wet_fitting(&self) -> bool {
        let noticed = &self.attribution.noticed;
        noticed.iter().any(|n| n.pattern == Pattern::FittingWet)
    }

    fn sentences(&self) -> Vec<String> {
        let leaking = self.of(|a| a.standing == Standing::Leaks);
        let mut said = Vec::new();
        if leaking.is_empty() {
            said.extend(self.shared());
            said.extend(self.tight(&[Owner::Cylinder, Owner::Valve, Owner::Gear]));
        } else {
            let (first, told) = self.first(&leaking);
            said.push(first);
            said.extend(self.shared());
            let rest = [Owner::Cylinder, Owner::Valve, Owner::Gear];
            let rest: Vec<Owner> = rest.into_iter().filter(|o| !told.contains(o)).collect();
            said.extend(self.tight(&rest));
        }
        said
    }

    /// What leaks, and what is to be said of the other side; with whom all is told.
    fn first(&self, leaking: &[&Answer]) -> (String, Vec<Owner>) {
        let clauses: Vec<String> = leaking.iter().map(|a| self.leak(a)).collect();
        let mut text = list(&clauses, "and");
        let of = |who: Owner| leaking.iter().any(|a| owner(a.way) == who);
        if leaking.iter().all(|a| owner(a.way) == Owner::Gear) {
            text += ", which is test gear and no part of the machine";
        }
        let mut told = Vec::new();
        if !of(Owner::Cylinder) {
            text += &format!("; {}", self.other("the cylinder", Owner::Cylinder));
            told.push(Owner::Cylinder);
        }
        if !of(Owner::Valve) {
            text += &format!("; {}", self.other("the valve", Owner::Valve));
            told.push(Owner::Valve);
        }
        (sentence(&text), told)
    }

    /// "The valve on the cap port leaks 1.9 ± 0.1 mL/min at 96 bar".
    fn leak(&self, answer: &Answer) -> String {
        let (part, figure) = (answer.way.part(), self.figures.of_way(answer));
        format!("{part} leaks {figure} at {}", self.at(answer))
    }

    fn at(&self, answer: &Answer) -> String {
        let pressure = self.figures.pressure(answer.at_pa);
        match answer.way {
            Way::Piston(_) => format!("{pressure} across the piston"),
            _ => pressure,
        }
    }

    /// "gland less than 0.04 mL/min".
    fn figured(&self, answer: &Answer) -> String {
        format!("{} {}", bare(answer.way), self.figures.of_way(answer))
    }

    /// What is to be said of a side that is not shown to leak.
    fn other(&self, name: &str, who: Owner) -> String {
        if let [valve] = self.of(|a| a.standing == Standing::AtSetting && owner(a.way) == who)[..] {
            return format!(
                "what passes {name} says nothing against it: it stood at its setting ({} {})",
                bare(valve.way),
                self.figures.of_way(valve)
            );
        }
        let driven = self.of(|a| owner(a.way) == who && a.standing != Standing::NotDriven);
        if driven.is_empty() {
            return format!("{name} was not tested");
        }
        // The seal from the rod side is no part of the question while nothing drives it.
        let backwards = Way::Piston(Chamber::Rod);
        let idle = self
            .of(|a| owner(a.way) == who && a.standing == Standing::NotDriven && a.way != backwards);
        let figures = driven.iter().map(|a| self.figured(a));
        let idle = idle.iter().map(|a| format!("{} not tested", bare(a.way)));
        let figures: Vec<String> = figures.chain(idle).collect();
        let figures = figures.join(", ");
        if self.opens(who).is_empty() {
            format!("{name} is not shown to leak ({figures})")
        } else {
            format!("whether {name} leaks as well cannot be told ({figures})")
        }
    }

    /// What cannot be told apart, with what it comes to together.
    fn shared(&self) -> Vec<String> {
        groups(self.attribution)
            .into_iter()
            .map(|group| {
                let names: Vec<String> = group.iter().map(|a| bare(a.way).to_owned()).collect();
                let text = match (group.as_slice(), together(self.facts, &group)) {
                    ([one], _) => format!(
                        "{}: cannot be told whether it leaks, {}",
                        names[0],
                        self.figures.of_way(one)
                    ),
                    (_, Some((sum, at_pa))) => format!(
                        "{}: cannot be told apart; together {} at {}",
                        list(&names, "or"),
                        self.figures.flow(sum),
                        self.figures.pressure(at_pa)
                    ),
                    (_, None) => {
                        let each: Vec<String> = group.iter().map(|a| self.figured(a)).collect();
                        format!(
                            "{}: cannot be told apart ({})",
                            list(&names, "or"),
                            each.join(", ")
                        )
                    }
                };
                sentence(&text)
            })
            .collect()
    }

    /// "Not shown to leak: gland less than 0.04 mL/min."
    fn tight(&self, who: &[Owner]) -> Option<String> {
        let tight = self.of(|a| a.standing == Standing::Tight && who.contains(&owner(a.way)));
        let said: Vec<String> = tight.iter().map(|a| self.figured(a)).collect();
        (!said.is_empty()).then(|| format!("Not shown to leak: {}.", said.join(", ")))
    }
}

/// A part in one or two words, without its article.
pub(super) fn bare(way: Way) -> &'static str {
    let part = way.part();
    let part = part.strip_prefix("the ").unwrap_or(part);
    part.strip_suffix(" or its hose").unwrap_or(part)
}

/// "a, b and c".
pub(super) fn list(parts: &[String], last: &str) -> String {
    match parts.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((end, first)) => format!("{} {last} {end}", first.join(", ")),
    }
}

fn uncapital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| {
        format!("{}{}", first.to_lowercase(), chars.as_str())
    })
}
