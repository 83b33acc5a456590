//! Whether a hold began as it was asked for, by what its sensors said then.
//!
//! The bench lets a side settle only once it reads the asked pressure and place. A recording that
//! shows neither was read by other sensors, ranges or units than the bench had, or by one that
//! stands still.

use crate::health::Flag;
use crate::health::Weight;
use crate::procedure::Reach;
use crate::recording::PhaseMark;
use crate::recording::Recording;

use super::part::pressure_role;
use crate::channel::Role;

/// How long round the begin of settling it may show, s before and s after: a reading or a block
/// may be missing just then.
const ROUND_S: (f64, f64) = (1.0, 10.0);

/// What one row said: pressure of the end that was pressed, of the other (Pa gauge), extension (m).
type Said = (Option<f64>, Option<f64>, Option<f64>);

/// A hold whose readings never were what it was to begin with.
pub(super) fn not_as_asked(
    recording: &Recording,
    reach: &Reach,
    settle: &PhaseMark,
) -> Option<Flag> {
    let value = |role: Role, row| recording.track(role).and_then(|track| track.value(row));
    let rows = recording.rows_within(settle.from_s - ROUND_S.0, settle.from_s + ROUND_S.1);
    let said: Vec<Said> = rows
        .map(|row| {
            (
                value(pressure_role(reach.chamber), row),
                value(pressure_role(reach.chamber.other()), row),
                value(Role::Position, row),
            )
        })
        .collect();
    never_met(reach, &said)
}

fn never_met(reach: &Reach, said: &[Said]) -> Option<Flag> {
    let is_met = |(own, other, x): &Said| reach.is_met(*own, *other, *x);
    // Where nothing was read there is nothing to contradict; what is missing is told elsewhere.
    let last = said.iter().rev().find(|(own, _, _)| own.is_some())?;
    if said.iter().any(is_met) {
        return None;
    }
    let at = |x_m: Option<f64>| x_m.map_or(String::new(), |x| format!(" at {:.1} mm", x * 1e3));
    let has_place = reach.at.is_some();
    Some(Flag {
        weight: Weight::Voids,
        evidence: format!(
            "the hold was to begin with {:.1} bar{}, but its sensors read {:.1} bar{}: a sensor stands still, or its range, \
             its unit or its wiring is not what it was taken for; put it right and hold again",
            reach.pressure.pa() / 1e5,
            at(reach.at.map(|at| at.value)),
            last.0.unwrap_or(f64::NAN) / 1e5,
            at(last.2.filter(|_| has_place)),
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cylinder::Chamber;
    use crate::quantity::GaugePressure;
    use crate::quantity::Length;
    use crate::quantity::unit::millimeter;

    fn reach() -> Reach {
        Reach {
            chamber: Chamber::Cap,
            pressure: GaugePressure::from_bar(160.0),
            other: None,
            at: Some(Length::new::<millimeter>(200.0)),
        }
    }

    fn row(bar: f64, mm: f64) -> Said {
        (Some(bar * 1e5), Some(0.0), Some(mm * 1e-3))
    }

    /// 95 to 110 % of 160 bar are 152 to 176 bar; 10 mm round 200 mm.
    #[test]
    fn a_hold_begins_with_what_was_asked_or_counts_for_nothing() {
        for (bar, mm, is_told) in [
            (160.0, 200.0, false),
            (152.1, 209.9, false),
            (175.9, 190.1, false),
            (176.1, 200.0, true),
            (256.0, 200.0, true),
            (11.0, 200.0, true),
            (160.0, 300.0, true),
        ] {
            let flag = never_met(&reach(), &[row(bar, mm)]);
            assert_eq!(flag.is_some(), is_told, "{bar} bar, {mm} mm");
            assert!(flag.is_none_or(|f| f.weight == Weight::Voids));
        }
    }

    #[test]
    fn one_row_that_was_as_asked_is_enough_and_nothing_read_says_nothing() {
        let leaking = [row(153.0, 200.0), row(120.0, 200.0), row(90.0, 200.0)];
        assert_eq!(never_met(&reach(), &leaking), None);
        assert_eq!(never_met(&reach(), &[]), None);
        assert_eq!(never_met(&reach(), &[(None, None, None)]), None);
        // A rod that nobody measured is at no place.
        assert!(never_met(&reach(), &[(Some(160e5), None, None)]).is_some());
    }
}
