//! Readings that are much noisier than their sensor should be.
//!
//! Noise widens every figure honestly, so it is a remark: it tells where the width is from.

use super::Flag;
use super::reading::Reading;
use crate::channel::Role;

/// Noise by what is stated of the zero: a sensor whose zero is known to less than its own
/// noise has something on its wires.
const TIMES_ZERO: f64 = 1.5;

/// Noise by the range from which no transmitter of pressure is sound.
const PART_OF_RANGE: f64 = 3e-3;

/// The same of a position and of a temperature.
const POSITION_M: f64 = 0.2e-3;
const TEMPERATURE_K: f64 = 0.3;

/// Noise far above what the sensor is said to have.
pub(super) fn noisy(reading: &Reading<'_>) -> Option<Flag> {
    if reading.len() < 64 {
        return None;
    }
    let noise = reading.noise();
    let zero = reading.channel.errors.zero_si;
    let steps = noise / reading.channel.resolution_si().abs();
    let limit = match reading.channel.role {
        Role::CapPressure | Role::RodPressure => {
            let by_zero = if zero > 0.0 {
                TIMES_ZERO * zero
            } else {
                f64::INFINITY
            };
            by_zero.min(
                reading
                    .span()
                    .map_or(f64::INFINITY, |span| PART_OF_RANGE * span),
            )
        }
        Role::Position => POSITION_M,
        Role::OilTemperature | Role::WallTemperature => TEMPERATURE_K.max(TIMES_ZERO * zero),
        Role::Supply => f64::INFINITY,
    };
    // Coarse steps look like noise and are not.
    (noise > limit && steps > 1.0).then(|| {
        Flag::remark(format!(
            "{} is noisy: ±{} from one reading to the next, far more than its papers lead one to expect; every figure \
             is wider for it; check screen, earth and the cable's way past motors",
            reading.plain(),
            reading.sized(2.0 * noise)
        ))
    })
}
