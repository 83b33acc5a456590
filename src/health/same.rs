//! Two channels that carry the same signal.

use super::Flag;
use super::reading::Reading;
use crate::circuit::Circuit;
use crate::recording::Recording;

/// Noise that two channels share almost wholly …
const SHARED: f64 = 0.9;
/// … and of the same size within this part.
const SIZE: f64 = 0.1;
/// And they stand nearer than this part of the range.
const NEAR: f64 = 0.02;

/// Both pressures come from one sensor.
pub(super) fn twice(
    recording: &Recording,
    cap: &Reading<'_>,
    rod: &Reading<'_>,
    circuit: &Circuit,
) -> Option<Flag> {
    let span = cap.span().or_else(|| rod.span())?;
    if cap.len() != rod.len() || cap.len() < 64 || recording.time_s().len() < cap.len() {
        return None;
    }
    if (cap.mean() - rod.mean()).abs() > NEAR * span {
        return None;
    }
    let shared = alike(cap, rod)?;
    // Where both are read against one supply they share its noise, which says nothing of wires:
    // their own codes must be alike too.
    if [cap, rod].map(|r| r.channel.against_supply) != [None; 2] {
        let sent = |role| {
            let window = (*cap.time_s.first()?, *cap.time_s.last()?);
            Some(Reading::as_sent(recording, recording.track(role)?, window))
        };
        alike(&sent(cap.channel.role)?, &sent(rod.channel.role)?)?;
    }
    let evidence = format!(
        "cap-end and rod-end pressure show the same signal, noise and all ({:.0} % of it is shared): both channels \
         seem wired to one sensor; press one end and see which reading follows",
        100.0 * shared
    );
    // Chambers that are joined share what the pump does.
    Some(match circuit.joined {
        true => Flag::remark(evidence),
        false => Flag::voids(evidence),
    })
}

/// The part of their noise that two readings share, if that is nearly all.
fn alike(one: &Reading<'_>, other: &Reading<'_>) -> Option<f64> {
    let wiggles = |r: &Reading<'_>| -> Vec<f64> {
        let w = r.value_si.windows(4);
        w.map(|w| w[3] - 3.0 * (w[2] - w[1]) - w[0]).collect()
    };
    let (one, other) = (wiggles(one), wiggles(other));
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let (a, b) = (dot(&one, &one), dot(&other, &other));
    let shared = dot(&one, &other) / (a * b).sqrt();
    (shared > SHARED && ((a / b).sqrt() - 1.0).abs() < SIZE).then_some(shared)
}
