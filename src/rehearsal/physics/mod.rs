//! What really happens in the practice cylinder.
//!
//! [`Specimen`] is the cylinder with all its ills, [`Run`] what became of it,
//! [`Truth`] the figures a perfect evaluation would find. Masses of oil are the
//! states and pressures follow from them, so oil can neither be made nor lost.
//!
//! Numbers here are plain SI with their unit in the name: this is the inside of an
//! integrator. Pressures are gauge.

mod chamber;
mod course;
mod growing;
mod handled;
mod instant;
mod leak;
mod motion;
mod moved;
mod pair;
mod run;
mod specimen;
mod truth;
mod warmth;
mod wear;

pub use course::Course;
pub(super) use growing::Growing;
pub(super) use handled::Handled;
pub use instant::Instant;
pub use instant::Passed;
pub use leak::Leak;
pub use leak::Passes;
pub use leak::Relief;
pub(super) use moved::Moved;
pub use moved::Seals;
pub(super) use moved::Valve;
pub use pair::Lines;
pub use pair::Partner;
pub use run::Run;
pub use specimen::ChamberOil;
pub use specimen::Creep;
pub use specimen::Heat;
pub use specimen::Ills;
pub use specimen::OilNature;
pub use specimen::RodNature;
pub use specimen::Specimen;
pub use specimen::Start;
pub use specimen::WayOut;
pub use truth::PathFlows;
pub use truth::Truth;
pub use wear::Scored;
pub use wear::Wear;

#[cfg(test)]
mod worked_examples;
#[cfg(test)]
mod worked_pair;
#[cfg(test)]
mod worked_plumbing;
#[cfg(test)]
mod worked_seats;
#[cfg(test)]
mod worked_strokes;
