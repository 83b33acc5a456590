//! Oil that a plain rigid chamber loses, such as the test hoses with their ends capped: its
//! pressure loss times how much oil a pascal is worth there, less what cools.
//!
//! Far less sure than a cylinder's account: stiffness of hose and air are not known, and
//! there is no movement to see them by. Good enough to say whether the rig's own leak
//! matters.

use super::Fluid;
use super::Subject;
use super::counted::Counted;
use super::counted::Drive;
use super::figure::Figure;
use super::figure::Measured;
use super::figure::coverage_factor;
use super::series::HoldSeries;
use crate::channel::Role;
use crate::circuit::HOSE_STIFFNESS_PA;
use crate::cylinder::Chamber;
use crate::cylinder::Piece;
use crate::fit::Matrix;
use crate::fit::line;
use crate::oil::AIR_IN_A_HOLD;
use crate::oil::AeratedOil;
use crate::quantity::GaugePressure;
use crate::quantity::Temperature;
use crate::quantity::unit::kelvin;

/// Bare steel against its oil, Pa; oil's rise of stiffness; air after bleeding by volume; as
/// in the account of a cylinder, with the parts by which they are not known.
const WALL_PA: f64 = 15e9;
const STIFFENING: f64 = 10.0;
const AIR: f64 = 0.006;
const OIL_PART: f64 = 0.08;
const HOSE_PART: f64 = 0.45;

/// How fast a workshop warms or cools oil that nobody measures, K/s: twice what it does
/// where a thermometer hangs, as in the account of a cylinder.
const UNSEEN_K_PER_S: f64 = 2.0 * 0.065 / 60.0;

/// A probe beside the oil sees its mean to this part of the change.
const PROBE_PART: f64 = 0.25;

/// The sum of a rigid chamber filled with oil whose volume is known, from its pressure loss.
pub(super) fn counted(series: &HoldSeries, subject: &Subject, loss: &Figure) -> Option<Counted> {
    let (Piece::Chamber(chamber), Fluid::Oil(oil)) = (&subject.piece, &subject.fluid) else {
        return None;
    };
    let (loss, factor) = (loss.measured?, loss.coverage_factor);
    let signal = series.signal(Role::CapPressure)?;
    let hose = subject.circuit.cap_hose.value;
    let volume = chamber.volume?.value + hose;
    let pressures = series.block_means(&signal.smooth);
    let mean_pa = pressures.iter().sum::<f64>() / pressures.len().max(1) as f64;
    let at_k = series.oil_k().0;
    let softness = |air: f64| {
        let law = AeratedOil {
            stiffness_pa: oil.stiffness_at(Temperature::new::<kelvin>(at_k)).value,
            stiffening: STIFFENING,
            air,
            air_exponent: AIR_IN_A_HOLD,
        };
        let at = GaugePressure::from_pa(mean_pa.max(0.0));
        1.0 / law.tangent(at).value
    };
    let by_oil = volume * softness(AIR);
    let by_hose = hose / HOSE_STIFFNESS_PA;
    let by_pa = by_oil + volume / WALL_PA + by_hose;
    let of_air = volume * (softness(2.0 * AIR) - softness(AIR));
    let of_by_pa = (OIL_PART * by_oil).hypot(HOSE_PART * by_hose).hypot(of_air);
    let (warming, of_warming) = warming(series);
    let by_k = volume * oil.trapped_expansion_per_k();
    // What cools shrinks: pressure is lost without any leak.
    let mean = loss.value_si * by_pa + by_k * warming;
    let wider = factor / coverage_factor(None);
    let standard = (loss.standard_si * wider * by_pa)
        .hypot(loss.value_si * of_by_pa)
        .hypot(by_k * of_warming);
    Some(Counted {
        chambers: vec![Chamber::Cap],
        mean_m3_per_s: vec![mean],
        covariance: Matrix::from_element(1, 1, standard.powi(2)),
        drive: Drive {
            p_cap_pa: pressures.clone(),
            zero_pa: [signal.errors.zero_si, 0.0],
            p_rod_pa: Some(vec![0.0; pressures.len()]),
            oil_k: series.signal(Role::OilTemperature).map(|_| at_k),
            x_m: 0.0,
            length_s: series.length_s,
        },
        air: Measured {
            value_si: AIR,
            standard_si: AIR,
        },
    })
}

/// How fast the oil warms, K/s, and how well that is known.
fn warming(series: &HoldSeries) -> (f64, f64) {
    let measured = series.signal(Role::OilTemperature);
    let slope = measured.and_then(|s| line(&series.t, &s.smooth).ok());
    match slope {
        Some(line) => (
            line.slope,
            (PROBE_PART * line.slope.abs()).hypot(UNSEEN_K_PER_S / 8.0),
        ),
        None => (0.0, UNSEEN_K_PER_S),
    }
}
