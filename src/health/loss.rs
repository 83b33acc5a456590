//! What is missing from a recording: its end, stretches of time, single readings.

use super::Flag;
use crate::channel::PLAUSIBLE_SUPPLY_V;
use crate::channel::Role;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::GapCause;
use crate::recording::Recording;
use crate::recording::Track;

/// Part of the hold that may be missing before no figure is believed.
const MISSING_MAX: f64 = 0.01;

/// A recording that did not come to its planned end.
pub(super) fn interruption(recording: &Recording) -> Vec<Flag> {
    match recording.ending() {
        Ending::Complete => Vec::new(),
        Ending::Interrupted(why) => {
            vec![Flag::voids(format!("the recording was interrupted: {why}"))]
        }
    }
}

/// Stretches without samples inside the hold.
pub(super) fn gaps(recording: &Recording, (from_s, until_s): (f64, f64)) -> Vec<Flag> {
    let inside = recording
        .gaps()
        .iter()
        .filter(|g| g.until_s > from_s && g.from_s < until_s);
    let mut missing_s = 0.0;
    let mut flags = Vec::new();
    for gap in inside {
        missing_s += gap.until_s.min(until_s) - gap.from_s.max(from_s);
        let at = gap.from_s - from_s;
        let length = gap.until_s - gap.from_s;
        match gap.cause {
            GapCause::Restarted => flags.push(Flag::voids(format!(
                "the board started again {at:.0} s into the hold; check its supply and cable"
            ))),
            GapCause::Unplugged => flags.push(Flag::remark(format!(
                "the adapter was gone for {length:.1} s, {at:.0} s into the hold; check plug and cable"
            ))),
            GapCause::Silent => flags.push(Flag::remark(format!(
                "nothing came from the board for {length:.1} s, {at:.0} s into the hold"
            ))),
            GapCause::Lost => {}
        }
    }
    let part = missing_s / (until_s - from_s);
    if part > MISSING_MAX {
        flags.push(Flag::voids(format!(
            "{missing_s:.1} s of the hold ({:.1} %) have no samples; more than {:.0} % is not a measurement",
            part * 100.0,
            MISSING_MAX * 100.0
        )));
    }
    flags
}

/// What the link counted.
pub(super) fn counters(recording: &Recording) -> Vec<Flag> {
    let loss = recording.loss();
    let n_rows = recording.time_s().len() as u64;
    let n_lost = loss.n_samples_lost + loss.n_board_dropped;
    let mut flags = Vec::new();
    let part = n_lost as f64 / (n_rows + n_lost).max(1) as f64;
    if part > MISSING_MAX {
        flags.push(Flag::voids(format!(
            "{n_lost} samples ({:.1} %) were lost between board and program; another program may be reading the \
             port, or the cable is bad",
            part * 100.0
        )));
    } else if n_lost > 0 {
        flags.push(Flag::remark(format!(
            "{n_lost} samples were lost between board and program"
        )));
    }
    if loss.n_bytes_overrun > 0 {
        flags.push(Flag::voids(format!(
            "{} bytes came faster than they could be taken",
            loss.n_bytes_overrun
        )));
    }
    flags
}

/// A channel that was needed and not recorded.
pub(super) fn missing(recording: &Recording, role: Role) -> Option<Flag> {
    recording
        .track(role)
        .is_none()
        .then(|| Flag::voids(format!("{} was not recorded", role.plain())))
}

/// Readings outside the good band inside the hold.
pub(super) fn dropouts(
    recording: &Recording,
    track: &Track,
    (from_s, until_s): (f64, f64),
) -> Option<Flag> {
    let times = recording.time_s();
    let rows = times.partition_point(|t| *t < from_s)..times.partition_point(|t| *t <= until_s);
    let bad: Vec<usize> = rows
        .clone()
        .filter(|row| track.value(*row).is_none())
        .collect();
    let (first, last) = (bad.first()?, bad.last()?);
    let part = bad.len() as f64 / rows.len().max(1) as f64;
    let plain = track.channel.role.plain();
    let seconds = part * (until_s - from_s);
    let at = times[*first] - from_s;
    let evidence = format!(
        "{plain} sensor lost for {seconds:.1} s between {at:.0} s and {:.0} s of the hold{}; check its plug and cable",
        times[*last] - from_s,
        band(track, &bad)
    );
    Some(if part > MISSING_MAX {
        Flag::voids(evidence)
    } else {
        Flag::remark(evidence)
    })
}

/// In which fault band the readings were, where there are codes to say so.
fn band(track: &Track, bad: &[usize]) -> &'static str {
    let Some(codes) = track.codes.raw() else {
        return "";
    };
    if let Codes::AgainstSupply { supply_v, .. } = &track.codes {
        let is_fed = |row: &usize| {
            let supply_v = supply_v.get(*row).copied().flatten();
            supply_v.is_some_and(|v| PLAUSIBLE_SUPPLY_V.contains(&v))
        };
        if !bad.iter().all(is_fed) {
            return ", the supply it is read against missing or outside 4.5 to 5.5 V";
        }
    }
    let (low, high) = match &track.channel.against_supply {
        None => track.channel.good_codes,
        // Its bands go with the supply: on which side of the signal's middle tells as much.
        Some(against) => {
            let (low, high) = against.signal_codes;
            let middle = i32::midpoint(low, high);
            (middle, middle)
        }
    };
    let n_below = bad.iter().filter(|row| codes[**row] < low).count();
    let n_above = bad.iter().filter(|row| codes[**row] > high).count();
    match (n_below > 0, n_above > 0) {
        (true, false) => ", its signal below the band of a healthy one as with a broken wire",
        (false, true) => ", its signal above the band of a healthy one as with a short",
        _ => ", its signal below and above the band of a healthy one as with a loose contact",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::health::Weight;
    use crate::recording::Gap;
    use crate::recording::Heading;
    use crate::recording::Loss;
    use crate::recording::Parts;

    fn recording(gaps: Vec<Gap>, loss: Loss, ending: Ending) -> Recording {
        let heading = Heading {
            run_id: "r".into(),
            started_utc_ms: 0,
            time_zone: "UTC".into(),
            software: String::new(),
            source: String::new(),
            setup_toml: String::new(),
            shop_toml: String::new(),
            practice: String::new(),
        };
        let time_s = (0..1000).map(f64::from).collect();
        Recording::new(Parts {
            heading,
            time_s,
            tracks: Vec::new(),
            gaps,
            phases: Vec::new(),
            entries: Vec::new(),
            loss,
            ending,
        })
        .expect("rises")
    }

    fn voided(flags: &[Flag]) -> bool {
        flags.iter().any(|f| f.weight == Weight::Voids)
    }

    #[test]
    fn one_percent_of_the_hold_may_be_missing_and_no_more() {
        for (length_s, expected) in [(3.0, false), (3.01, true)] {
            let gap = Gap {
                from_s: 100.0,
                until_s: 100.0 + length_s,
                cause: GapCause::Unplugged,
            };
            let flags = gaps(
                &recording(vec![gap], Loss::default(), Ending::Complete),
                (60.0, 360.0),
            );
            assert_eq!(voided(&flags), expected, "{length_s} s: {flags:?}");
        }
    }

    #[test]
    fn a_gap_outside_the_hold_does_not_count() {
        let gap = Gap {
            from_s: 10.0,
            until_s: 40.0,
            cause: GapCause::Unplugged,
        };
        assert_eq!(
            gaps(
                &recording(vec![gap], Loss::default(), Ending::Complete),
                (60.0, 360.0)
            ),
            []
        );
    }

    #[test]
    fn an_interrupted_recording_is_never_valid() {
        let ending = Ending::Interrupted("power failed".into());
        assert!(voided(&interruption(&recording(
            Vec::new(),
            Loss::default(),
            ending
        ))));
    }

    #[test]
    fn lost_samples_count_against_those_that_came() {
        for (n_samples_lost, expected) in [(10, false), (11, true)] {
            let loss = Loss {
                n_samples_lost,
                ..Loss::default()
            };
            let flags = counters(&recording(Vec::new(), loss, Ending::Complete));
            assert_eq!(voided(&flags), expected, "{n_samples_lost}: {flags:?}");
        }
    }
}
