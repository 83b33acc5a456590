//! Oil that was seen where nothing that was found explains it.
//!
//! What eyes saw in one phase may be dry in another, or have nothing behind it that drives it:
//! then no sum counts it. It was seen all the same, and no part there is called tight.

use super::attribution::Attribution;
use super::attribution::Standing;
use super::pattern::Noticed;
use super::pattern::Pattern;
use super::phase::Phase;
use super::way::Way;
use crate::circuit::Look;
use crate::circuit::Port;
use crate::cylinder::Chamber;

/// A place that eyes look at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    Gland,
    Port(Chamber),
}

impl Place {
    /// Whether oil of a way comes out there.
    pub fn is_of(self, way: Way) -> bool {
        match self {
            Self::Gland => way == Way::Gland,
            Self::Port(chamber) => {
                matches!(way, Way::Plug(at) | Way::Valve(at, _) if at == chamber)
            }
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Gland => "the gland",
            Self::Port(Chamber::Cap) => "the cap port",
            Self::Port(Chamber::Rod) => "the rod port",
        }
    }
}

/// Oil that nothing explains.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Unexplained {
    pub place: Place,
    /// Phase in which it was seen.
    label: String,
    /// Phase in which the place was dry, if one was.
    dry: Option<String>,
}

impl Unexplained {
    pub fn noticed(&self) -> Noticed {
        let (place, label) = (self.place.words(), &self.label);
        let against = match &self.dry {
            Some(dry) => format!("in phase {dry} it stayed dry"),
            None => "no flow there explains it".to_owned(),
        };
        Noticed {
            pattern: Pattern::OilSeen,
            sentence: format!(
                "Phase {label}: oil was seen at {place}, and {against}. It may be from before: wipe it dry, hold with \
                 pressure behind it, and look again."
            ),
        }
    }
}

/// Places where oil was seen and no part is found to leak, one for each place.
pub(super) fn wet(phases: &[Phase<'_>], found: &Attribution) -> Vec<Unexplained> {
    let places = [
        Place::Gland,
        Place::Port(Chamber::Cap),
        Place::Port(Chamber::Rod),
    ];
    let unexplained = places.into_iter().filter_map(|place| {
        let seen = |look: Look| {
            let mut phases = phases.iter();
            phases.find(|phase| at(phase, place) == Some(look))
        };
        let wet = seen(Look::Wet)?;
        let leaks = found
            .answers
            .iter()
            .any(|a| place.is_of(a.way) && a.standing == Standing::Leaks);
        (!leaks).then(|| Unexplained {
            place,
            label: wet.label.to_owned(),
            dry: seen(Look::Dry).map(|phase| phase.label.to_owned()),
        })
    });
    unexplained.collect()
}

/// What eyes saw of a place; an open port drips into its vessel.
fn at(phase: &Phase<'_>, place: Place) -> Option<Look> {
    let seen = phase.seen;
    match place {
        Place::Gland => seen.gland,
        Place::Port(chamber) if phase.circuit().port(chamber) == Port::OpenToVessel => None,
        Place::Port(Chamber::Cap) => seen.cap_port,
        Place::Port(Chamber::Rod) => seen.rod_port,
    }
}

/// Ports where oil was seen while they were on their valves: a fitting drips, and what it
/// takes is no longer the valve's.
pub(super) fn at_fittings(phases: &[Phase<'_>]) -> Vec<Noticed> {
    let chambers = [Chamber::Cap, Chamber::Rod];
    let of_phase = |phase: &Phase<'_>| {
        let wet = chambers.into_iter().filter(|chamber| {
            let is_on_valve = phase.circuit().port(*chamber) == Port::OnValve;
            is_on_valve && at(phase, Place::Port(*chamber)) == Some(Look::Wet)
        });
        let noticed = wet.map(|chamber| Noticed {
            pattern: Pattern::FittingWet,
            sentence: format!(
                "Phase {}: oil was seen at the {} port, which was on its valve: its fitting or hose leaks. Mend that before \
                 the valve is blamed.",
                phase.label,
                chamber.word()
            ),
        });
        noticed.collect::<Vec<_>>()
    };
    phases.iter().flat_map(of_phase).collect()
}
