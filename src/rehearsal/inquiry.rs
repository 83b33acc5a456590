//! An inquiry: several holds of one cylinder with other plumbing, to say which way the
//! oil takes.
//!
//! All phases are of one unit with one set of leaks; each leak acts where the plumbing lets
//! it. Each phase has its own noise, start and heat, as phases on a bench have.
//!
//! Machines belong to the invented Tarn Valley road depot. Figures were chosen to show
//! something, not to recommend anything.

mod kinds;
mod lever;
mod machine;
mod one_of_two;
mod places;
mod settles;
mod table;
mod three_holds;
mod traps;

use crate::rehearsal::scenario::Expected;
use crate::rehearsal::scenario::Scenario;

/// Several holds of one cylinder.
#[derive(Debug, Clone, PartialEq)]
pub struct Inquiry {
    /// Its name: plain words with dashes.
    pub name: &'static str,
    /// What is wrong and what shows it, in one line.
    pub description: &'static str,
    /// The holds, in the order they are made.
    pub phases: Vec<InquiryPhase>,
}

/// One hold of an inquiry.
#[derive(Debug, Clone, PartialEq)]
pub struct InquiryPhase {
    /// Its letter.
    pub label: &'static str,
    /// What was plumbed, as a sentence.
    pub what: &'static str,
    /// The hold.
    pub scenario: Scenario,
}

/// All inquiries.
pub fn inquiries() -> Vec<Inquiry> {
    let all = [
        three_holds::all(),
        traps::all(),
        table::all(),
        places::all(),
        lever::all(),
        kinds::all(),
        one_of_two::all(),
        settles::all(),
    ];
    let all = all.into_iter().flatten().enumerate();
    all.map(|(index, inquiry)| inquiry.seeded(1000 + 10 * index as u64))
        .collect()
}

/// The inquiry of a name.
pub fn inquiry(name: &str) -> Option<Inquiry> {
    inquiries().into_iter().find(|i| i.name == name)
}

impl Inquiry {
    fn new(name: &'static str, description: &'static str, phases: Vec<InquiryPhase>) -> Self {
        Self {
            name,
            description,
            phases,
        }
    }

    /// The same with other noise and other sensors, in every phase its own.
    pub fn with_seed(self, seed: u64) -> Self {
        self.seeded(seed)
    }

    fn seeded(mut self, seed: u64) -> Self {
        for (index, phase) in self.phases.iter_mut().enumerate() {
            phase.scenario.name = self.name;
            phase.scenario.description = phase.what;
            phase.scenario.seed = seed + index as u64;
        }
        self
    }
}

/// A phase of these holds: nothing is judged in it.
fn phase(label: &'static str, what: &'static str, scenario: Scenario) -> InquiryPhase {
    InquiryPhase {
        label,
        what,
        scenario: Scenario {
            limits: Vec::new(),
            expected: Expected::Measured,
            samples_per_s: 10,
            ..scenario
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn names_are_plain_words_and_each_stands_for_one_inquiry() {
        let mut seen = HashSet::new();
        for inquiry in inquiries() {
            assert!(seen.insert(inquiry.name), "{} twice", inquiry.name);
            let plain = |c: char| c.is_ascii_lowercase() || c == '-';
            assert!(inquiry.name.chars().all(plain), "{}", inquiry.name);
            assert!(inquiry.description.ends_with('.') && !inquiry.description.contains('\n'));
        }
        assert!(seen.len() >= 28, "{}", seen.len());
        assert!(inquiry("no-such-thing").is_none());
    }

    #[test]
    fn phases_are_of_one_unit_with_noise_of_their_own() {
        for inquiry in inquiries() {
            let first = &inquiry.phases[0].scenario;
            let mut seeds = HashSet::new();
            let mut labels = HashSet::new();
            for phase in &inquiry.phases {
                let own = &phase.scenario;
                assert!(seeds.insert(own.seed), "{}", inquiry.name);
                assert!(labels.insert(phase.label), "{}", inquiry.name);
                assert_eq!(own.unit, first.unit);
                assert_eq!(own.specimen.cylinder, first.specimen.cylinder);
                assert_eq!(own.specimen.oil, first.specimen.oil);
                assert!(phase.what.ends_with('.'), "{}", phase.what);
            }
        }
    }
}
