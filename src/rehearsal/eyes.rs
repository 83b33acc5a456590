//! What somebody with clean rags and a measuring glass sees of a counted hold.
//!
//! Every place is wiped dry at the start of the counted hold, and the glass is read then
//! and at its end.

use crate::circuit::Collected;
use crate::circuit::Look;
use crate::circuit::Seen;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::rehearsal::physics::Instant;
use crate::rehearsal::physics::Specimen;
use crate::rehearsal::physics::WayOut;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::stiff::StiffError;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::Distribution;
use rand_distr::StandardNormal;

/// A drop, m³: 20 to the millilitre (common practice, no source).
const DROP_M3: f64 = 0.05e-6;

/// How well a glass is read, one sigma, m³ (common practice, no source).
const READ_M3: f64 = 0.1e-6;

/// Random numbers of the eyes; sensors use the low numbers, the line the hundredth.
const EYES_STREAM: u64 = 200;

impl Scenario {
    /// What eyes see of the counted hold.
    ///
    /// # Errors
    /// If the physics cannot be integrated.
    pub fn eyes(&self) -> Result<Seen, StiffError> {
        let until_s = self.settle_s + self.hold_s;
        let times_s = [0.0, self.settle_s, until_s];
        let run = self.run(&times_s)?;
        let [_, first, last] = &run.instants[..] else {
            return Ok(Seen::default());
        };
        Ok(seen_of(&self.specimen, [first, last], self.seed))
    }
}

/// What eyes see of a counted hold, by the cylinder at its start and at its end; `seed`
/// decides how the glass is read.
pub fn seen_of(specimen: &Specimen, [first, last]: [&Instant; 2], seed: u64) -> Seen {
    let went = last.passed_kg.since(&first.passed_kg);
    let kind = specimen.cylinder.kind();
    let gland_density = match kind.has_piston_seal() {
        true => last.density_rod,
        false => last.density_cap,
    };
    let ills = &specimen.ills;
    let has_rod_side = kind.chambers().contains(&Chamber::Rod);
    let at_port = |way: &WayOut, kg: f64, density: f64| match way {
        WayOut::Plug(_) | WayOut::Valve { .. } => look(kg / density),
        WayOut::Vessel | WayOut::Line { .. } => None,
    };
    // The glass stands at the atmosphere, as the open chamber does.
    let glass = match (ills.cap_port, ills.rod_port, kind) {
        (WayOut::Vessel, ..) => Some((Chamber::Cap, went.cap_valve / last.density_cap)),
        (_, WayOut::Vessel, _) if has_rod_side => {
            Some((Chamber::Rod, went.rod_valve / last.density_rod))
        }
        (.., Kind::SingleActing) => Some((Chamber::Rod, went.rod_valve / last.density_rod)),
        _ => None,
    };
    Seen {
        gland: look(went.gland / gland_density),
        cap_port: at_port(&ills.cap_port, went.cap_plug, last.density_cap),
        rod_port: at_port(&ills.rod_port, went.rod_plug, last.density_rod).filter(|_| has_rod_side),
        collected: glass.map(|(chamber, volume_m3)| Collected {
            chamber,
            volume_m3: volume_m3 + READ_M3 * random(seed),
            standard_m3: READ_M3,
        }),
    }
}

fn random(seed: u64) -> f64 {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(EYES_STREAM);
    StandardNormal.sample(&mut random)
}

fn look(volume_m3: f64) -> Option<Look> {
    match volume_m3 / DROP_M3 {
        drops if drops < 1.0 => Some(Look::Dry),
        drops if drops > 2.0 => Some(Look::Wet),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::scenario;

    fn eyes(name: &str) -> Seen {
        let scenario = scenario(name).expect("a scenario");
        scenario.eyes().expect("physics that can be integrated")
    }

    #[test]
    fn between_one_drop_and_two_nobody_is_sure() {
        assert_eq!(look(0.04e-6), Some(Look::Dry));
        assert_eq!(look(0.07e-6), None);
        assert_eq!(look(0.11e-6), Some(Look::Wet));
    }

    #[test]
    fn a_place_is_wet_where_oil_comes_out_and_dry_elsewhere() {
        let plug = eyes("cap-plug-leak");
        assert_eq!(plug.cap_port, Some(Look::Wet));
        assert_eq!(plug.gland, Some(Look::Dry));
        assert_eq!(plug.rod_port, Some(Look::Dry));
        assert_eq!(plug.collected, None);
        let gland = eyes("gland-leak-with-bypass");
        assert_eq!(gland.gland, Some(Look::Wet));
        assert_eq!(gland.cap_port, Some(Look::Dry));
    }

    /// With the rod locked the glass holds what passed the piston: 0.6 mL/min for 300 s,
    /// within three times its reading.
    #[test]
    fn the_glass_holds_what_passed_the_piston_of_a_locked_rod() {
        let seen = eyes("locked-rod-bypass").collected.expect("a glass");
        let truth = scenario("locked-rod-bypass")
            .and_then(|s| s.truth().ok())
            .expect("a truth");
        assert_eq!(seen.chamber, Chamber::Rod);
        let passed_m3 = truth.mean.bypass * 300.0;
        assert!((1e-6..3.5e-6).contains(&passed_m3), "{passed_m3}");
        assert!((seen.volume_m3 - passed_m3).abs() < 3.0 * seen.standard_m3 + 0.01 * passed_m3);
    }
}
