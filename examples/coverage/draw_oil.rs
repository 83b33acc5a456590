//! The oil of a hold, its air and its heat.

use super::chance::Chance;
use stillrod::circuit::MeasuredStiffness;
use stillrod::circuit::Pace;
use stillrod::circuit::Step;
use stillrod::cylinder::Chamber;
use stillrod::cylinder::Cylinder;
use stillrod::oil::AIR_IN_A_HOLD;
use stillrod::oil::AIR_IN_A_STROKE;
use stillrod::oil::AeratedOil;
use stillrod::oil::Oil;
use stillrod::oil::PRESSING_HEAT_K_PER_PA;
use stillrod::quantity::Expansion;
use stillrod::quantity::GaugePressure;
use stillrod::quantity::Length;
use stillrod::quantity::Pressure;
use stillrod::quantity::Share;
use stillrod::quantity::Viscosity;
use stillrod::quantity::unit::gigapascal;
use stillrod::quantity::unit::meter;
use stillrod::quantity::unit::pascal;
use stillrod::rehearsal::physics::Heat;
use stillrod::rehearsal::physics::OilNature;
use stillrod::rehearsal::physics::Specimen;

/// Viscosity at 40 and 100 °C of the grades of ISO 3448 with usual data sheets, mm²/s.
const GRADES: [(f64, f64); 3] = [(32.0, 5.4), (46.0, 6.8), (68.0, 8.7)];

/// What differs from chamber to chamber.
#[derive(Debug, Clone, Copy)]
pub struct Oils {
    /// Undissolved air at the atmosphere, 0 to 0.02.
    pub air: f64,
    /// Oil above wall before it was pressed, K.
    pub fresh_heat_k: f64,
}

/// An oil whose data sheet (`viscosity`) says about what it is.
pub fn oil(chance: &mut Chance) -> OilNature {
    let (at_40, at_100) = chance.one_of(&GRADES);
    let stiffness_gpa = chance.one_of(&[1.5, 1.55, 1.6, 1.65]);
    let expansion_per_k = chance.one_of(&[6.7e-4, 7.0e-4, 7.2e-4]);
    let sheet = Oil::new(
        format!("ISO VG {at_40}"),
        Viscosity::from_mm2_per_s(at_40),
        Viscosity::from_mm2_per_s(at_100),
        Expansion::from_per_kelvin(expansion_per_k),
        Pressure::new::<gigapascal>(stiffness_gpa),
    )
    .expect("an oil of the usual kind");
    let really_per_k = expansion_per_k * (1.0 + chance.normal(0.04));
    OilNature {
        isentropic_pa: stiffness_gpa * 1e9 * chance.normal(0.07).exp(),
        stiffening: (10.0 + chance.normal(2.5)).clamp(4.0, 16.0),
        expansion_per_k: really_per_k,
        // T·α/(ρ·c_p) follows α; ρ·c_p is known to a few percent.
        pressing_k_per_pa: PRESSING_HEAT_K_PER_PA * really_per_k / 7e-4
            * (1.0 + chance.normal(0.03)),
        viscosity: Some(sheet),
    }
}

/// Air and fresh heat of both chambers, near each other.
pub fn air(chance: &mut Chance) -> [Oils; 2] {
    let share = 0.02 * chance.even(0.0, 1.0).powi(2);
    let heat_k = if chance.happens(0.3) {
        chance.even(-0.3, 0.3)
    } else {
        chance.even(-3.0, 3.0)
    };
    let other = Oils {
        air: (share + chance.normal(0.003)).abs().min(0.02),
        fresh_heat_k: (heat_k + chance.normal(0.3)).clamp(-3.0, 3.0),
    };
    let cap = Oils {
        air: share,
        fresh_heat_k: heat_k,
    };
    [cap, other]
}

/// How heat leaves the oil of a cylinder.
pub fn heat(cylinder: &Cylinder, chance: &mut Chance) -> Heat {
    let size = cylinder.size();
    let bore_m = size.bore.get::<meter>();
    let radius_m = 0.5 * bore_m;
    let wall_m = size.wall.map_or(0.1 * bore_m, |wall| wall.get::<meter>());
    // Conduction in a long round column, R²/(5.78 a), shortened by convection to 1 … 0.3
    // of itself (common practice, no source).
    let slow_s = radius_m.powi(2) / (5.78 * 7.9e-8) * chance.even_in_log(0.3, 1.0);
    // Heat by volume: oil 870 kg/m³ × 1900 J/(kg K), steel 7850 × 470 (from memory).
    let (oil_j, steel_j) = (1.65e6, 3.69e6);
    let tube_m2 = std::f64::consts::PI * wall_m * (bore_m + wall_m);
    let steel_j_per_k = steel_j * tube_m2;
    let cap_by_tube = oil_j * cylinder.cap_area().value / steel_j_per_k;
    let rod_by_tube = oil_j * cylinder.annulus_area().value
        / (steel_j_per_k + 0.5 * steel_j * cylinder.rod_area().value);
    // Still air and radiation to a draught, 6 to 20 W/(m² K) (from memory).
    let outside_m = std::f64::consts::PI * (bore_m + 2.0 * wall_m);
    let air_s = steel_j_per_k / (outside_m * chance.even(6.0, 20.0));
    Heat {
        cap_slow_s: slow_s,
        rod_slow_s: slow_s * (chance.normal(0.3) - 0.12).exp(),
        slow_by_fast: chance.even(4.0, 7.0),
        fast_share: chance.even(0.05, 0.4),
        wall_k: 273.15 + chance.even(15.0, 50.0),
        wall_k_per_s: chance.even(-0.1, 0.1) / 60.0,
        // Ends take heat too, and a rod carries it away; a tube clamped in a frame more.
        cap_oil_by_steel: cap_by_tube * chance.even(0.4, 1.0),
        rod_oil_by_steel: rod_by_tube * chance.even(0.4, 1.0),
        air_s,
    }
}

/// The oil as it is at the temperature of the hold: softer when warm, each grade by its own
/// measure, 0.65 % ± 0.1 % by kelvin.
pub fn warmed(oil: OilNature, oil_k: f64, chance: &mut Chance) -> OilNature {
    let softening = 0.0065 + chance.normal(0.001);
    OilNature {
        isentropic_pa: oil.isentropic_pa * (-softening * (oil_k - 313.15)).exp(),
        ..oil
    }
}

/// A stiffness of one chamber as somebody measured it in seconds, with the error that its
/// uncertainty tells of.
pub fn measured_stiffness(
    specimen: &Specimen,
    chamber: Chamber,
    chance: &mut Chance,
) -> MeasuredStiffness {
    let own = match chamber {
        Chamber::Cap => &specimen.cap,
        Chamber::Rod => &specimen.rod,
    };
    let bar = GaugePressure::from_bar;
    let from_bar = chance.even(5.0, 50.0).round();
    let to_bar = from_bar + chance.even(20.0, 100.0).round();
    let step = Step {
        chamber,
        at: Length::new::<meter>((specimen.start.x_m * 1e3).round() / 1e3),
        from: bar(from_bar),
        to: bar(to_bar),
        pace: Pace::Quick,
    };
    let oil = &specimen.oil;
    // As the practice bench has it: isothermal, and warmed by pressing.
    let gamma = 1.0 + oil.expansion_per_k * oil.isentropic_pa * oil.pressing_k_per_pa;
    let law = AeratedOil {
        stiffness_pa: oil.isentropic_pa / gamma,
        stiffening: oil.stiffening,
        air: own.air,
        air_exponent: chance.even(AIR_IN_A_HOLD, AIR_IN_A_STROKE),
    };
    let (from, to) = (step.from.pa(), step.to.pa());
    let volume_m3 = specimen.cylinder.volume(chamber, step.at).value;
    let round = volume_m3 / specimen.wall_pa + own.hose_m3 / own.hose_pa;
    let squeeze = law.log_density(to) - law.log_density(from)
        + (to - from)
            * (round / (volume_m3 + own.hose_m3) - oil.expansion_per_k * oil.pressing_k_per_pa);
    let standard = chance.even_in_log(0.005, 0.04);
    let read = squeeze * (1.0 + chance.normal(standard));
    let value = Pressure::new::<pascal>((to - from) / read);
    MeasuredStiffness::stated(step, value, Share::from_part(standard)).expect("an oil that is one")
}
