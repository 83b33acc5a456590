//! How a unit is built, in words.

use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::register::Build;

/// "double acting, bore 63 mm, rod 36 mm, stroke 400 mm, cap end up to 250 bar, ports G 3/8"; empty
/// if nothing is known.
pub fn build_text(build: &Build, units: UnitSystem) -> String {
    let in_units = |metric, si: f64, exact| {
        let (factor, unit) = shown(metric, units);
        format!("{} {unit}", number(si * factor, exact))
    };
    // To a tenth of a millimetre or a hundredth of an inch, and to a bar or a psi.
    let exact = match units {
        UnitSystem::Metric => (1.0, 10.0),
        UnitSystem::Inch => (0.1, 100.0),
    };
    let length = |what: &str, um: Option<i64>| {
        um.map(|um| format!("{what} {}", in_units("mm", um as f64 / 1e6, exact.0)))
    };
    let rating = |end: &str, pa: Option<i64>| {
        pa.map(|pa| format!("{end} end up to {}", in_units("bar", pa as f64, exact.1)))
    };
    let text = |what: &str, text: &str| (!text.is_empty()).then(|| format!("{what}{text}"));
    let parts = [
        build.kind.map(|kind| kind.word().replace('_', " ")),
        length("bore", build.bore_um),
        length("rod", build.rod_um),
        length("stroke", build.stroke_um),
        rating("cap", build.cap_rating_pa),
        rating("rod", build.rod_rating_pa),
        text("ports ", &build.ports),
        text("", &build.holding_valve),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cylinder::Kind;

    #[test]
    fn a_build_is_said_in_the_shops_units_as_far_as_it_is_known() {
        let build = Build {
            kind: Some(Kind::DoubleActing),
            bore_um: Some(63_500),
            stroke_um: Some(400_000),
            cap_rating_pa: Some(25_000_000),
            ports: "G 3/8".into(),
            ..Build::default()
        };
        assert_eq!(
            build_text(&build, UnitSystem::Metric),
            "double acting, bore 63.5 mm, stroke 400.0 mm, cap end up to 250 bar, ports G 3/8"
        );
        assert_eq!(
            build_text(&build, UnitSystem::Inch),
            "double acting, bore 2.50 in, stroke 15.75 in, cap end up to 3626 psi, ports G 3/8"
        );
        assert_eq!(build_text(&Build::default(), UnitSystem::Metric), "");
    }
}
