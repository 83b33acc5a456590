//! What a test could do to the piece before anything is measured.
//!
//! With both ports shut and a load that pushes in, a failing piston seal lets both
//! sides climb to load by rod area, two to three times the holding pressure. A test
//! whose end could be above a rating is not started.

use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Kind;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::quantity::GaugePressure;

/// Part of a rating that a test may come to.
const RATING_PART: f64 = 0.9;

/// Reasons not to start, as sentences; none if it may be started.
pub fn hazards(piece: &Piece, circuit: &Circuit, ratings: &Ratings) -> Vec<String> {
    let (Some(cylinder), RodHold::PushedIn { load: Some(load) }) = (piece.cylinder(), circuit.rod)
    else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let mut check = |side: &str,
                     pressure: GaugePressure,
                     rating: Option<GaugePressure>,
                     why: &str| {
        let Some(rating) = rating else { return };
        if pressure.pa() > RATING_PART * rating.pa() {
            found.push(format!(
                "{why} could raise the {side} end to {:.0} bar; {:.0} % of its rating is {:.0} bar. \
                 Lower the load, or leave the rod port open to a vessel",
                pressure.bar(),
                RATING_PART * 100.0,
                RATING_PART * rating.bar()
            ));
        }
    };
    let holding = GaugePressure::from_pa(load.value / cylinder.cap_area().value);
    check("cap", holding, ratings.cap, "the load alone");
    let shut = circuit.cap_port != Port::OpenToVessel && circuit.rod_port != Port::OpenToVessel;
    if let Some(met) = cylinder
        .met_pressure(load)
        .filter(|_| shut && cylinder.kind() == Kind::DoubleActing)
    {
        check("cap", met, ratings.cap, "a failing piston seal");
        check("rod", met, ratings.rod, "a failing piston seal");
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cylinder::Cylinder;
    use crate::cylinder::Dimensions;
    use crate::quantity::Force;
    use crate::quantity::Length;
    use crate::quantity::Volume;
    use crate::quantity::unit::millimeter;
    use crate::quantity::unit::newton;

    fn found(rating_bar: f64, rod_port: Port) -> Vec<String> {
        let mm = Length::new::<millimeter>;
        let size = Dimensions {
            bore: mm(100.0),
            rod: mm(56.0),
            stroke: mm(500.0),
            wall: None,
            cap_dead_volume: Volume::default(),
            rod_dead_volume: Volume::default(),
        };
        let cylinder = Cylinder::new(Kind::DoubleActing, size).expect("fits");
        let load = Force::new::<newton>(137.9e5 * cylinder.cap_area().value);
        let circuit = Circuit {
            cap_port: Port::Blocked,
            rod_port,
            rod: RodHold::PushedIn { load: Some(load) },
            probe: None,
            cap_hose: Volume::default(),
            rod_hose: Volume::default(),
        };
        let rating = Some(GaugePressure::from_bar(rating_bar));
        hazards(
            &Piece::Cylinder(cylinder),
            &circuit,
            &Ratings {
                cap: rating,
                rod: rating,
            },
        )
    }

    /// 100/56 under 137.9 bar: a piston seal that fails raises both ends to 439.7 bar
    /// (load pressure times bore by rod squared, computed).
    #[test]
    fn a_seal_that_fails_under_this_load_would_reach_440_bar() {
        let reasons = found(250.0, Port::Blocked);
        assert_eq!(reasons.len(), 2);
        assert!(reasons[0].contains("440 bar"), "{reasons:?}");
        assert_eq!(found(500.0, Port::Blocked), Vec::<String>::new());
        assert_eq!(found(250.0, Port::OpenToVessel), Vec::<String>::new());
    }
}
