//! What a hold cannot see: a sensor that moves slowly while it lasts.
//!
//! A steady creep of a reading looks like a leak, or hides one. How far one could have crept is
//! known from looks before and after the hold; what that does to each figure is found by letting
//! the reading creep on purpose and evaluating the hold again.

use super::Doubt;
use super::Evaluation;
use super::Subject;
use super::evaluate::evaluate;
use super::figure::Contribution;
use super::figure::Figure;
use super::figure::FigureName;
use crate::channel::Role;
use crate::procedure::HOLD;
use crate::recording::Codes;
use crate::recording::Parts;
use crate::recording::Recording;
use crate::recording::Track;

/// How far a reading could have crept over a hold without anybody seeing it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unseen {
    /// Which reading.
    pub role: Role,
    /// Standard uncertainty of its movement from begin to end of the hold, SI units.
    pub standard_si: f64,
}

impl Unseen {
    fn contribution(&self, standard_si: f64) -> Contribution {
        let (source, remedy) = match self.role {
            Role::Position => (
                "position that could have crept unseen",
                "hold longer, or look at a stop that is found again better",
            ),
            _ => (
                "zeros that could have moved unseen",
                "hold longer, or look at the zeros with the sensors as warm as in the hold",
            ),
        };
        Contribution {
            source,
            standard_si,
            degrees_of_freedom: None,
            remedy,
        }
    }
}

/// A hold whose reading was let creep by its standard uncertainty, both ways; none of it where it
/// could not be evaluated so.
struct Crept {
    by: Unseen,
    both: [Option<Evaluation>; 2],
}

impl Crept {
    fn of(by: Unseen, recording: &Recording, subject: &Subject) -> Self {
        let both = [1.0, -1.0].map(|sign| {
            let crept = with_creep(recording, by.role, sign * by.standard_si)?;
            evaluate(&crept, subject).ok()
        });
        Self { by, both }
    }

    /// How far a creep moves a number of a figure: half the way between both, or the way from the
    /// figure to the one that could be stated; None if neither could.
    fn way(&self, own: &Figure, of: impl Fn(&Figure) -> Option<f64>) -> Option<f64> {
        let ends = self
            .both
            .each_ref()
            .map(|crept| crept.as_ref()?.figure(own.name).and_then(&of));
        let (from, to, part) = match ends {
            [Some(up), Some(down)] => (up, down, 0.5),
            [Some(one), None] | [None, Some(one)] => (of(own)?, one, 1.0),
            [None, None] => return None,
        };
        // What has no end has none either way.
        Some(if from == to {
            0.0
        } else {
            part * (from - to).abs()
        })
    }

    /// What it does to a figure: to its value, to its lower and to its upper end; None where a figure
    /// that is stated could be stated with it neither way.
    fn moves(&self, figure: &Figure) -> Option<[f64; 3]> {
        let value = match figure.measured {
            Some(_) => self.way(figure, |f| f.measured.map(|m| m.value_si))?,
            None => 0.0,
        };
        let lower = self.way(figure, |f| Some(f.lower_si))?;
        let upper = self.way(figure, |f| Some(f.upper_si))?;
        Some([value, lower, upper])
    }

    /// Why a figure is not stated.
    fn unsure(&self, name: FigureName) -> String {
        let all = self.both.iter().flatten().flat_map(|crept| &crept.doubts);
        let why = all.into_iter().find_map(|doubt| match doubt {
            Doubt::NoFit { evidence } => Some(format!(": {evidence}")),
            Doubt::Note { .. } => None,
        });
        format!(
            "{} cannot be stated surely: had the {} crept by {} over the hold, as nobody would have seen, it could not be \
             stated at all{}; hold again, and longer",
            name.plain(),
            self.by.role.plain(),
            size(&self.by),
            why.unwrap_or_default()
        )
    }
}

fn size(by: &Unseen) -> String {
    match by.role {
        Role::Position => format!("{:.3} mm", by.standard_si * 1e3),
        Role::CapPressure | Role::RodPressure => format!("{:.3} bar", by.standard_si / 1e5),
        Role::OilTemperature | Role::WallTemperature => format!("{:.2} K", by.standard_si),
        Role::Supply => format!("{:.3} V", by.standard_si),
    }
}

/// Widens the figures of an evaluation by what could have crept unseen in its hold. A figure that
/// could not be stated with such a creep is not sure: it is stated no more, and why stands in the
/// doubts.
pub fn allow_for(
    evaluation: &mut Evaluation,
    recording: &Recording,
    subject: &Subject,
    unseen: &[Unseen],
) {
    // A reading that was not recorded says nothing, however it creeps.
    let crept: Vec<Crept> = unseen
        .iter()
        .filter(|own| own.standard_si != 0.0 && recording.track(own.role).is_some())
        .map(|own| Crept::of(*own, recording, subject))
        .collect();
    let mut unsure = Vec::new();
    evaluation.figures.retain_mut(|figure| {
        let moves: Result<Vec<[f64; 3]>, &Crept> = crept
            .iter()
            .map(|own| own.moves(figure).ok_or(own))
            .collect();
        match moves {
            Ok(moves) => widen(figure, &crept, &moves),
            Err(own) => unsure.push((figure.name, own.unsure(figure.name))),
        }
        !unsure.iter().any(|(name, _)| *name == figure.name)
    });
    for (name, evidence) in unsure {
        if name.is_flow() {
            take_back_the_account(evaluation);
        }
        evaluation.doubts.push(Doubt::NoFit { evidence });
    }
}

fn widen(figure: &mut Figure, crept: &[Crept], moves: &[[f64; 3]]) {
    let parts = crept.iter().zip(moves);
    let parts = parts.map(|(own, moves)| own.by.contribution(moves[0]));
    let joint = |at: usize| moves.iter().map(|m| m[at].powi(2)).sum::<f64>().sqrt();
    figure.widen(parts.collect(), (joint(1), joint(2)));
}

/// What was concluded from flows that are not sure.
fn take_back_the_account(evaluation: &mut Evaluation) {
    evaluation.findings.clear();
    evaluation.by_heat_m_per_s = None;
    evaluation.evened = None;
    evaluation.counted = None;
    evaluation.forecast = None;
}

/// The recording with a reading that creeps by `by_si` over its hold; None without that reading.
fn with_creep(recording: &Recording, role: Role, by_si: f64) -> Option<Recording> {
    let hold = recording.phase(HOLD)?;
    recording.track(role)?;
    let length_s = hold.until_s - hold.from_s;
    let times = recording.time_s();
    let tracks = recording.tracks().iter().map(|track| {
        if track.channel.role != role {
            return track.clone();
        }
        let values = track.values();
        let crept = values.into_iter().zip(times).map(|(value, time_s)| {
            value + by_si * ((time_s - hold.from_s) / length_s).clamp(0.0, 1.0)
        });
        Track {
            channel: track.channel.clone(),
            codes: Codes::Si(crept.collect()),
        }
    });
    Recording::new(Parts {
        heading: recording.heading().clone(),
        time_s: times.to_vec(),
        tracks: tracks.collect(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: recording.entries().to_vec(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    })
    .ok()
}
