//! Plays an inquiry of the practice bench, from bytes to an answer for each way, beside
//! what is true of it.

#[path = "ways.rs"]
mod ways;

use crate::play::recording;
use stillrod::account::Evaluation;
use stillrod::account::Subject;
use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Attribution;
use stillrod::account::investigation::Pattern;
use stillrod::account::investigation::Phase;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Way;
use stillrod::account::investigation::attribute;
use stillrod::circuit::Seen;
use stillrod::cylinder::Kind;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::health::Weight;
use stillrod::rehearsal;
use stillrod::rehearsal::Inquiry;
use stillrod::rehearsal::physics::Truth;
use ways::along;
use ways::driven_pa;

/// One millilitre a minute, m³/s.
pub const ML_MIN: f64 = 1e-6 / 60.0;

/// Who looked at the holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Looked {
    /// Nobody: pressures, movement and heat alone.
    Nobody,
    /// Somebody with clean rags, without a glass.
    Rags,
    /// Somebody with clean rags and a measuring glass.
    RagsAndGlass,
}

/// What a way should be found to be; its truth must always be inside its interval, or a leak
/// within a tenth of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Is {
    /// Leaking, and it does.
    Leaking,
    /// Tight, and it is.
    Tight,
    /// Not to be told in this plumbing.
    Open,
    /// Tight or not to be told so far down; never leaking.
    Unblamed,
    /// A valve that passes what it should at its setting.
    AtSetting,
}

/// A hold that was played, with its truth.
pub struct Hold {
    /// Its letter.
    pub label: &'static str,
    /// What was made of it.
    pub judgement: Judgement,
    /// What is true of it.
    pub truth: Truth,
    /// What was seen of it.
    pub seen: Seen,
}

/// An inquiry that was played.
pub struct Played {
    /// Its name.
    pub name: &'static str,
    /// Its holds.
    pub holds: Vec<Hold>,
}

/// Plays the inquiry of a name.
pub fn played(name: &str) -> Played {
    play(&rehearsal::inquiry(name).expect("an inquiry"))
}

/// Plays an inquiry.
pub fn play(inquiry: &Inquiry) -> Played {
    let hold = |phase: &rehearsal::InquiryPhase| Hold {
        label: phase.label,
        judgement: judged(&recording(&phase.scenario), None).expect("settings that can be used"),
        truth: phase.scenario.truth().expect("physics"),
        seen: phase.scenario.eyes().expect("physics"),
    };
    Played {
        name: inquiry.name,
        holds: inquiry.phases.iter().map(hold).collect(),
    }
}

impl Hold {
    /// What its recording showed.
    pub fn evaluation(&self) -> &Evaluation {
        self.judgement.evaluation.as_ref().expect("a hold")
    }

    /// Whether nothing of it can be believed.
    pub fn is_void(&self) -> bool {
        let flags = &self.judgement.flags;
        flags.iter().any(|flag| flag.weight == Weight::Voids)
    }

    fn phase(&self, looked: Looked) -> Phase<'_> {
        let seen = match looked {
            Looked::Nobody => Seen::default(),
            Looked::Rags => Seen {
                collected: None,
                ..self.seen
            },
            Looked::RagsAndGlass => self.seen,
        };
        Phase {
            label: self.label,
            subject: &self.judgement.setup.subject,
            evaluation: self.evaluation(),
            seen,
        }
    }

    /// As a phase that nobody looked at.
    pub fn alone(&self) -> Phase<'_> {
        self.phase(Looked::Nobody)
    }

    /// The same with another plumbing said.
    pub fn of<'a>(&'a self, subject: &'a Subject) -> Phase<'a> {
        Phase {
            subject,
            ..self.alone()
        }
    }

    fn kind(&self) -> Kind {
        let piece = &self.judgement.setup.subject.piece;
        piece.cylinder().expect("a cylinder").kind()
    }

    /// Mean pressure before a way, Pa; None in a hold that gave no sums.
    fn driven_pa(&self, way: Way) -> Option<f64> {
        let drive = &self.evaluation().counted.as_ref()?.drive;
        Some(driven_pa(self.kind(), drive, way))
    }

    /// What really went along a way, mean over the hold, m³/s.
    fn true_m3_per_s(&self, way: Way) -> f64 {
        along(&self.truth.mean, way)
    }
}

impl Played {
    /// What its phases say together.
    pub fn attributed(&self, looked: Looked) -> Option<Attribution> {
        self.attributed_by(|_| true, looked)
    }

    /// The same of some of its phases, by their labels; a hold that health voids says nothing.
    pub fn attributed_by(
        &self,
        labels: impl Fn(&str) -> bool,
        looked: Looked,
    ) -> Option<Attribution> {
        let valid = self.holds.iter().filter(|hold| !hold.is_void());
        let chosen = valid.filter(|hold| labels(hold.label));
        let phases: Vec<Phase<'_>> = chosen.map(|hold| hold.phase(looked)).collect();
        attribute(&phases).expect("sums that can be solved")
    }

    /// Whether a pattern of pressures and movement is noticed.
    pub fn notices(&self, pattern: Pattern) -> bool {
        let found = self.attributed(Looked::RagsAndGlass).expect("sums");
        found.noticed.iter().any(|seen| seen.pattern == pattern)
    }

    /// The hold of a label.
    pub fn hold(&self, label: &str) -> &Hold {
        let found = self.holds.iter().find(|hold| hold.label == label);
        found.expect("a phase of that label")
    }

    /// Checks all that its phases say together: every way that was driven is in `expected`.
    #[track_caller]
    pub fn says(&self, looked: Looked, expected: &[(Way, Is)]) {
        let found = self.attributed(looked).expect("sums");
        self.check(&found, expected);
    }

    /// Checks what the phases of some labels say together.
    #[track_caller]
    pub fn says_by(&self, labels: &[&str], looked: Looked, expected: &[(Way, Is)]) {
        let found = self.attributed_by(|label| labels.contains(&label), looked);
        self.check(&found.expect("sums"), expected);
    }

    /// Checks some of what was found.
    #[track_caller]
    pub fn says_of(&self, found: &Attribution, expected: &[(Way, Is)]) {
        for (way, is) in expected {
            let answer = found.of(*way).expect("an answer");
            let text = self.table(found);
            assert!(
                self.is(answer, *is, found.small_m3_per_s),
                "{way:?} is not {is:?} in {text}"
            );
        }
    }

    #[track_caller]
    fn check(&self, found: &Attribution, expected: &[(Way, Is)]) {
        let text = self.table(found);
        println!("{text}");
        assert_eq!(found.contradiction, None, "{text}");
        self.says_of(found, expected);
        for answer in &found.answers {
            let is_expected = expected.iter().any(|(way, _)| *way == answer.way);
            let is_driven = answer.standing != Standing::NotDriven;
            assert!(is_expected || !is_driven, "{:?} in {text}", answer.way);
        }
    }

    fn is(&self, answer: &Answer, is: Is, small_m3_per_s: f64) -> bool {
        let truth = self.truth(answer);
        let inside =
            (answer.lower_m3_per_s - 0.001 * ML_MIN..=answer.upper_m3_per_s).contains(&truth);
        let near = (answer.best_m3_per_s / truth - 1.0).abs() < 0.1;
        match is {
            Is::Leaking => {
                answer.standing == Standing::Leaks
                    && truth > 0.05 * small_m3_per_s
                    && (inside || near)
            }
            Is::Tight => answer.standing == Standing::Tight && truth < small_m3_per_s && inside,
            Is::Open => matches!(answer.standing, Standing::Open { .. }) && inside,
            Is::Unblamed => answer.standing != Standing::Leaks && inside,
            Is::AtSetting => answer.standing == Standing::AtSetting && inside,
        }
    }

    /// What is true of a way at the pressure an answer states it for: its flow in the hold
    /// that drove it most.
    pub fn truth(&self, answer: &Answer) -> f64 {
        let driven = self
            .holds
            .iter()
            .filter_map(|hold| Some((hold, hold.driven_pa(answer.way)?)));
        let nearest = driven.min_by(|a, b| {
            let off = |pa: f64| (pa - answer.at_pa).abs();
            off(a.1).total_cmp(&off(b.1))
        });
        nearest.map_or(0.0, |(hold, _)| hold.true_m3_per_s(answer.way))
    }

    /// A line for each way: what was found, what is true.
    pub fn table(&self, found: &Attribution) -> String {
        let mut text = format!("{} (small {:.3})", self.name, found.small_m3_per_s / ML_MIN);
        if let Some(why) = &found.contradiction {
            text += &format!(" CONTRADICTION {why}");
        }
        for answer in &found.answers {
            let [best, low, high] = [
                answer.best_m3_per_s,
                answer.lower_m3_per_s,
                answer.upper_m3_per_s,
            ]
            .map(|v| v / ML_MIN);
            text += &format!(
                "\n    {:?}: {best:.3} [{low:.3}, {high:.3}] true {:.3}, {:?}",
                answer.way,
                self.truth(answer) / ML_MIN,
                answer.standing
            );
        }
        text
    }
}
