//! What a hold cannot see: a sensor that moves slowly while it lasts.
//!
//! A steady creep of a reading looks like a leak, or hides one. How far one could have crept is
//! known from looks before and after the hold; what that does to each figure is found by letting
//! the reading creep on purpose and evaluating the hold again.

use super::Evaluation;
use super::Subject;
use super::evaluate::evaluate;
use super::figure::Contribution;
use super::figure::Figure;
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

/// Widens the figures of an evaluation by what could have crept unseen in its hold.
pub fn allow_for(
    evaluation: &mut Evaluation,
    recording: &Recording,
    subject: &Subject,
    unseen: &[Unseen],
) {
    let crept: Vec<(Unseen, [Evaluation; 2])> = unseen
        .iter()
        .filter(|own| own.standard_si > 0.0)
        .filter_map(|own| {
            let both = [1.0, -1.0].map(|sign| {
                let crept = with_creep(recording, own.role, sign * own.standard_si)?;
                evaluate(&crept, subject).ok()
            });
            let [Some(up), Some(down)] = both else {
                return None;
            };
            Some((*own, [up, down]))
        })
        .collect();
    for figure in &mut evaluation.figures {
        let half = |both: &[Evaluation; 2], of: &dyn Fn(&Figure) -> Option<f64>| {
            let [up, down] = both.each_ref().map(|e| e.figure(figure.name).and_then(of));
            0.5 * (up.unwrap_or(0.0) - down.unwrap_or(0.0)).abs()
        };
        let by = |of: &dyn Fn(&Figure) -> Option<f64>| -> Vec<f64> {
            crept.iter().map(|(_, both)| half(both, of)).collect()
        };
        let values = by(&|f| f.measured.map(|m| m.value_si));
        let parts = crept.iter().zip(values);
        let parts = parts.map(|((own, _), si)| own.contribution(si)).collect();
        let joint = |all: Vec<f64>| all.iter().map(|si| si.powi(2)).sum::<f64>().sqrt();
        let ends = (
            joint(by(&|f| Some(f.lower_si))),
            joint(by(&|f| Some(f.upper_si))),
        );
        figure.widen(parts, ends);
    }
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
