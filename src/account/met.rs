//! Whether the two sides have come to one pressure.
//!
//! With both ports shut a leaking piston seal lets the pressures meet, and then the rod
//! stands: no leak is left to be measured, and nothing must pass because of that. Seen
//! over the whole recording, because it may have happened while settling.

use super::Fluid;
use super::Subject;
use super::series::HoldSeries;
use crate::channel::Role;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::quantity::Length;
use crate::quantity::unit::meter;
use crate::recording::Recording;
use crate::recording::Track;

/// Pressures closer than this count as met, Pa or part of the pressure.
const MET_PA: f64 = 1e5;
const MET_PART: f64 = 0.02;

/// Below this both sides are as good as empty, and their meeting says nothing, Pa.
const LEAST_PA: f64 = 5e5;

/// A rod side that oil has reached has closed at least this part of what was between them.
const GAINED_PART: f64 = 0.1;

/// Oil that is stiffer than its data sheet by this gives the least volume for a pressure.
const STIFFER: f64 = 1.3;

/// Both sides at one pressure at the end of the hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Met {
    /// The pressure, Pa gauge.
    pub pressure_pa: f64,
    /// How they came to it; None if they were together from the start, or a valve can have
    /// joined them.
    pub seen: Option<Meeting>,
    /// Whether both sides were joined on purpose, so that nothing drives oil past the piston.
    pub on_purpose: bool,
}

/// What was seen of two pressures on their way to each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// How far apart they were at the start of the recording, Pa.
    pub from_apart_pa: f64,
    /// Time in which all but a twentieth of that was gone, s.
    pub time_s: f64,
    /// Movement of the rod in that time, m, positive inwards.
    pub sink_m: f64,
    /// Oil that passed the piston in that time, at least, m³.
    pub passed_m3: f64,
}

impl Met {
    /// "both sides meet at 128 bar after the rod sank 9.9 mm (pressures equalised)".
    pub fn clause(&self) -> String {
        let bar = self.pressure_pa / 1e5;
        match self.seen {
            Some(seen) => format!(
                "pressures equalised: oil passes the piston. Both sides meet at {bar:.0} bar after the rod sank \
                 {:.1} mm; that it then stands says nothing for its seal",
                seen.sink_m * 1e3
            ),
            None if self.on_purpose => "both sides were joined at one pressure on purpose: what is lost goes out at a plug or \
                                        the gland, and this hold says nothing of the piston seal"
                .into(),
            None => format!(
                "both sides stand at {bar:.0} bar: nothing pushes oil past the piston, so this hold says nothing of \
                 its seal"
            ),
        }
    }
}

/// Whether two pressures count as one.
pub(super) fn is_met(cap_pa: f64, rod_pa: f64) -> bool {
    (cap_pa - rod_pa).abs() < MET_PA.max(MET_PART * cap_pa.abs())
}

/// Looks for it.
pub(super) fn met(recording: &Recording, series: &HoldSeries, subject: &Subject) -> Option<Met> {
    let cylinder = subject.piece.cylinder()?;
    let circuit = &subject.circuit;
    let is_open = |chamber| circuit.port(chamber) == Port::OpenToVessel;
    let holds = matches!(circuit.rod, RodHold::PushedIn { .. } | RodHold::Locked);
    if cylinder.kind() != Kind::DoubleActing
        || is_open(Chamber::Cap)
        || is_open(Chamber::Rod)
        || !holds
    {
        return None;
    }
    let last = |role| series.signal(role).and_then(|s| s.smooth.last()).copied();
    let (cap, rod) = (last(Role::CapPressure)?, last(Role::RodPressure)?);
    if circuit.joined {
        return Some(Met {
            pressure_pa: 0.5 * (cap + rod),
            seen: None,
            on_purpose: true,
        });
    }
    if !is_met(cap, rod) || cap < LEAST_PA {
        return None;
    }
    let shut = circuit.cap_port == Port::Blocked && circuit.rod_port == Port::Blocked;
    Some(Met {
        pressure_pa: 0.5 * (cap + rod),
        seen: meeting(recording, subject, cylinder).filter(|_| shut),
        on_purpose: false,
    })
}

fn meeting(recording: &Recording, subject: &Subject, cylinder: &Cylinder) -> Option<Meeting> {
    let track = |role| {
        recording
            .tracks()
            .iter()
            .find(|t| t.channel.role == role)
            .map(Track::values)
    };
    let (cap, rod) = (track(Role::CapPressure)?, track(Role::RodPressure)?);
    let times = recording.time_s();
    let apart = |row: usize| cap[row] - rod[row];
    let start = (0..times.len()).find(|row| apart(*row).is_finite())?;
    let from_apart_pa = apart(start);
    if from_apart_pa < 3.0 * MET_PA.max(MET_PART * cap[start].abs()) {
        return None;
    }
    let end = (start..times.len()).find(|row| apart(*row) < 0.05 * from_apart_pa)?;
    let x = track(Role::Position);
    let at = |row: usize| x.as_ref().map(|x| x[row]).filter(|x| x.is_finite());
    let sink_m = match (at(start), at(end)) {
        (Some(from), Some(until)) => from - until,
        _ => 0.0,
    };
    let rod_rise = rod[end] - rod[start];
    // A cap side that only loses meets a rod side that has gained nothing.
    if rod_rise < GAINED_PART * from_apart_pa {
        return None;
    }
    let squeezed = match (&subject.fluid, at(start)) {
        (Fluid::Oil(oil), Some(x)) => {
            let volume = cylinder.volume(Chamber::Rod, Length::new::<meter>(x)).value;
            volume * rod_rise / (STIFFER * oil.stiffness().value)
        }
        _ => 0.0,
    };
    Some(Meeting {
        from_apart_pa,
        time_s: (times[end] - times[start]).max(1e-3),
        sink_m,
        passed_m3: cylinder.annulus_area().value * sink_m + squeezed.max(0.0),
    })
}
