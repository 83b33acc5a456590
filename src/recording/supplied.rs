//! Tracks that are read against the supply find it.
//!
//! Invariant: a track that is read against the supply has the supply of its own recording, row
//! for row, or none at all.

use super::Codes;
use super::Track;
use crate::channel::Role;
use std::sync::Arc;

/// Gives each track that is read against the supply what the supply was.
pub(super) fn refer_to_supply(tracks: &mut [Track]) {
    if tracks.iter().all(|t| t.channel.against_supply.is_none()) {
        return;
    }
    let supply = tracks.iter().find(|t| t.channel.role == Role::Supply);
    let supply_v: Arc<[Option<f64>]> = supply.map_or_else(Arc::default, |track| {
        (0..track.len()).map(|row| track.value(row)).collect()
    });
    let against = tracks
        .iter_mut()
        .filter(|t| t.channel.against_supply.is_some());
    for track in against {
        if let Codes::Raw(raw) | Codes::AgainstSupply { raw, .. } = &mut track.codes {
            track.codes = Codes::AgainstSupply {
                raw: std::mem::take(raw),
                supply_v: Arc::clone(&supply_v),
            };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::AgainstSupply;
    use crate::channel::Calibration;
    use crate::channel::Channel;
    use crate::channel::SensorErrors;
    use crate::channel::SensorPapers;

    /// A millivolt a code; the pressure 1 Pa a millivolt, if it is read against the supply.
    fn track(role: Role, codes: &[i32]) -> Track {
        let is_supply = role == Role::Supply;
        Track {
            channel: Channel {
                role,
                label: role.word().into(),
                calibration: Calibration {
                    si_at_zero_code: 0.0,
                    si_per_code: if is_supply { 1e-3 } else { 1.0 },
                    si_per_code_squared: 0.0,
                },
                good_codes: (0, 6_000),
                range_si: (0.0, 6_000.0),
                errors: SensorErrors {
                    zero_si: 0.0,
                    span_relative: 0.0,
                    zero_si_per_k: 0.0,
                },
                papers: SensorPapers::default(),
                against_supply: (!is_supply).then_some(AgainstSupply {
                    code_at_zero_volt: 0.0,
                    signal_codes: (251, 4_749),
                    supply_step_relative: 0.0,
                }),
            },
            codes: Codes::Raw(codes.to_vec()),
        }
    }

    #[test]
    fn each_row_has_the_supply_of_its_own_and_codes_stay_as_they_came() {
        let mut tracks = vec![
            track(Role::CapPressure, &[2_500, 2_450, 2_500, 2_500]),
            track(Role::Supply, &[5_000, 4_900, 4_000, 7_000]),
        ];
        refer_to_supply(&mut tracks);
        let values: Vec<Option<f64>> = (0..5).map(|row| tracks[0].value(row)).collect();
        assert_eq!(values, [Some(2_500.0), Some(2_500.0), None, None, None]);
        assert_eq!(
            tracks[0].codes.raw(),
            Some(&[2_500, 2_450, 2_500, 2_500][..])
        );
        assert_eq!(tracks[0].as_sent(1), Some(2_450.0));
        assert_eq!(tracks[0].as_sent(2), None);
        // The supply itself is what was read, plausible or not.
        assert_eq!(tracks[1].value(2), Some(4.0));
    }

    #[test]
    fn a_supply_that_was_taken_away_leaves_no_value() {
        let mut tracks = vec![
            track(Role::CapPressure, &[2_500]),
            track(Role::Supply, &[5_000]),
        ];
        assert_eq!(tracks[0].value(0), None, "before it was found");
        refer_to_supply(&mut tracks);
        assert_eq!(tracks[0].value(0), Some(2_500.0));
        tracks.pop();
        refer_to_supply(&mut tracks);
        assert_eq!(tracks[0].value(0), None);
    }
}
