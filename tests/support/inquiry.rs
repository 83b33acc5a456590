//! Plays an inquiry of the practice bench, from bytes to an answer for each way, beside
//! what is true of it.

use super::play::recording;
use stillrod::account::Evaluation;
use stillrod::account::investigation::Answer;
use stillrod::account::investigation::Attribution;
use stillrod::account::investigation::Collected;
use stillrod::account::investigation::Look;
use stillrod::account::investigation::Phase;
use stillrod::account::investigation::Seen;
use stillrod::account::investigation::Standing;
use stillrod::account::investigation::Way;
use stillrod::account::investigation::attribute;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Kind;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::rehearsal;
use stillrod::rehearsal::Eyes;
use stillrod::rehearsal::Inquiry;
use stillrod::rehearsal::physics::Truth;

/// One millilitre a minute, m³/s.
pub const ML_MIN: f64 = 1e-6 / 60.0;

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
        seen: seen(&phase.scenario.eyes().expect("physics")),
    };
    Played {
        name: inquiry.name,
        holds: inquiry.phases.iter().map(hold).collect(),
    }
}

/// What eyes saw on the practice bench, in the words of the account.
fn seen(eyes: &Eyes) -> Seen {
    let look = |look: Option<rehearsal::Look>| {
        look.map(|look| match look {
            rehearsal::Look::Dry => Look::Dry,
            rehearsal::Look::Wet => Look::Wet,
        })
    };
    Seen {
        gland: look(eyes.gland),
        cap_port: look(eyes.cap_port),
        rod_port: look(eyes.rod_port),
        collected: eyes.collected.map(|glass| Collected {
            chamber: glass.chamber,
            volume_m3: glass.volume_m3,
            standard_m3: glass.standard_m3,
        }),
    }
}

impl Hold {
    /// What its recording showed.
    pub fn evaluation(&self) -> &Evaluation {
        self.judgement.evaluation.as_ref().expect("a hold")
    }

    fn phase(&self, with_eyes: bool) -> Phase<'_> {
        Phase {
            label: self.label,
            subject: &self.judgement.setup.subject,
            evaluation: self.evaluation(),
            seen: if with_eyes {
                self.seen
            } else {
                Seen::default()
            },
        }
    }

    fn kind(&self) -> Kind {
        let piece = &self.judgement.setup.subject.piece;
        piece.cylinder().expect("a cylinder").kind()
    }

    /// Mean pressure before a way, Pa; None in a hold that gave no sums.
    fn driven_pa(&self, way: Way) -> Option<f64> {
        let drive = &self.evaluation().counted.as_ref()?.drive;
        let mean = |p: &[f64]| p.iter().sum::<f64>() / p.len() as f64;
        let cap = mean(&drive.p_cap_pa);
        let rod = match self.kind().chambers().contains(&Chamber::Rod) {
            true => drive.p_rod_pa.as_deref().map_or(0.0, mean),
            false => 0.0,
        };
        Some(match way {
            Way::Piston(Chamber::Cap) => cap - rod,
            Way::Piston(Chamber::Rod) => rod - cap,
            Way::Gland if !self.kind().has_piston_seal() => cap,
            Way::Plug(Chamber::Cap) | Way::Valve(Chamber::Cap, _) => cap,
            Way::Gland | Way::Plug(_) | Way::Valve(..) => rod,
        })
    }

    /// What really went along a way, mean over the hold, m³/s.
    fn true_m3_per_s(&self, way: Way) -> f64 {
        let mean = &self.truth.mean;
        match way {
            Way::Piston(Chamber::Cap) => mean.bypass.max(0.0),
            Way::Piston(Chamber::Rod) => (-mean.bypass).max(0.0),
            Way::Gland => mean.gland,
            Way::Plug(Chamber::Cap) => mean.cap_plug,
            Way::Plug(Chamber::Rod) => mean.rod_plug,
            Way::Valve(Chamber::Cap, _) => mean.cap_plug + mean.cap_valve,
            Way::Valve(Chamber::Rod, _) => mean.rod_plug + mean.rod_valve,
        }
    }
}

impl Played {
    /// What its phases say together; with or without anybody looking.
    pub fn attributed(&self, with_eyes: bool) -> Option<Attribution> {
        self.attributed_by(|_| true, with_eyes)
    }

    /// The same of some of its phases, by their labels.
    pub fn attributed_by(
        &self,
        labels: impl Fn(&str) -> bool,
        with_eyes: bool,
    ) -> Option<Attribution> {
        let chosen = self.holds.iter().filter(|hold| labels(hold.label));
        let phases: Vec<Phase<'_>> = chosen.map(|hold| hold.phase(with_eyes)).collect();
        attribute(&phases).expect("sums that can be solved")
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
            let word = match &answer.standing {
                Standing::Leaks => "leaks".to_owned(),
                Standing::Tight => "tight".to_owned(),
                Standing::NotDriven => "not driven".to_owned(),
                Standing::Open { with } => format!("open with {with:?}"),
            };
            let [best, low, high] = [
                answer.best_m3_per_s,
                answer.lower_m3_per_s,
                answer.upper_m3_per_s,
            ]
            .map(|v| v / ML_MIN);
            text += &format!(
                "\n    {:?}: {best:.3} [{low:.3}, {high:.3}] true {:.3}, {word}",
                answer.way,
                self.truth(answer) / ML_MIN
            );
        }
        text
    }
}
