//! What a test could do to the piece before anything is measured.
//!
//! With both ports shut and a load that pushes in, a failing piston seal lets both
//! sides climb to load by rod area, two to three times the holding pressure; a supply
//! on one side drives the other, shut in, to a multiple of itself. A test whose end
//! could be above a rating is not started. What has no rating is not judged here.

use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Piece;
use crate::cylinder::Ratings;
use crate::quantity::Force;
use crate::quantity::GaugePressure;

/// Part of a rating that a test may come to.
pub(super) const RATING_PART: f64 = 0.9;

/// A pressure that a chamber could come to, and by what.
struct Danger {
    chamber: Chamber,
    pressure: GaugePressure,
    /// Begins the sentence.
    cause: &'static str,
    /// Ends it.
    remedy: String,
}

/// Reasons not to start, as sentences; none if it may be started.
pub fn hazards(piece: &Piece, circuit: &Circuit, ratings: &Ratings) -> Vec<String> {
    let Some(cylinder) = piece.cylinder() else {
        return Vec::new();
    };
    let mut dangers = by_load(cylinder, circuit);
    dangers.extend(by_supply(cylinder, circuit, ratings));
    dangers
        .iter()
        .filter_map(|danger| reason(danger, ratings))
        .collect()
}

/// Why a danger forbids the start, if it does.
fn reason(danger: &Danger, ratings: &Ratings) -> Option<String> {
    let rating = ratings.weakest(danger.chamber)?;
    let most = RATING_PART * rating.pressure.bar();
    (danger.pressure.bar() > most).then(|| {
        format!(
            "{} could raise the {} end to {:.0} bar; {:.0} % of the rating of its {} is {most:.0} bar. {}",
            danger.cause,
            danger.chamber.word(),
            danger.pressure.bar(),
            RATING_PART * 100.0,
            rating.part.plain(),
            danger.remedy
        )
    })
}

fn by_load(cylinder: &Cylinder, circuit: &Circuit) -> Vec<Danger> {
    let (RodHold::PushedIn { load } | RodHold::PulledOut { load }) = circuit.rod else {
        return Vec::new();
    };
    let Some(load) = load else {
        return Vec::new();
    };
    let holding = circuit.holding_chamber();
    let mut dangers = Vec::new();
    // The other one of two may let go of all it carries.
    let cause = match circuit.beside {
        None => "the load alone",
        Some(_) => "all of the load on this one cylinder",
    };
    if let Some(pressure) = cylinder.holding_pressure(holding, load) {
        dangers.push(Danger {
            chamber: holding,
            pressure,
            cause,
            remedy: "Lower the load".into(),
        });
    }
    // A load that hangs leaves the cap side empty when the seal fails, and rises nothing.
    let shut = holding == Chamber::Cap
        && circuit.cap_port != Port::OpenToVessel
        && circuit.rod_port != Port::OpenToVessel;
    if let Some(pressure) = cylinder.met_pressure(load).filter(|_| shut) {
        for chamber in [Chamber::Cap, Chamber::Rod] {
            dangers.push(Danger {
                chamber,
                pressure,
                cause: "a failing piston seal",
                remedy: "Lower the load, or leave the rod port open to a vessel".into(),
            });
        }
    }
    dangers
}

/// What a pressure that a step asks for at one end could bring to the other, as sentences.
pub fn driven_hazards(
    piece: &Piece,
    circuit: &Circuit,
    ratings: &Ratings,
    chamber: Chamber,
    pressure: GaugePressure,
) -> Vec<String> {
    let other = chamber.other();
    let Some(cylinder) = piece.cylinder().filter(|_| circuit.is_shut_in(other)) else {
        return Vec::new();
    };
    let danger = driven(cylinder, circuit, ratings, other, pressure);
    danger
        .iter()
        .filter_map(|danger| reason(danger, ratings))
        .collect()
}

/// What a supply brings to its own chamber, and to the other if that is shut in.
fn by_supply(cylinder: &Cylinder, circuit: &Circuit, ratings: &Ratings) -> Vec<Danger> {
    let Some(supply) = circuit.supply else {
        return Vec::new();
    };
    let mut dangers = Vec::new();
    for supplied in [Chamber::Cap, Chamber::Rod] {
        if circuit.port(supplied) != Port::Supplied {
            continue;
        }
        let lower = format!("Lower the supply to {:.0} bar at most", {
            let rating = ratings.of(supplied).map_or(f64::INFINITY, |r| r.bar());
            RATING_PART * rating
        });
        dangers.push(Danger {
            chamber: supplied,
            pressure: supply,
            cause: "the supply",
            remedy: lower,
        });
        let other = supplied.other();
        if !circuit.is_shut_in(other) {
            continue;
        }
        dangers.extend(driven(cylinder, circuit, ratings, other, supply));
    }
    dangers
}

/// A shut-in chamber that a supply on the other side works on.
fn driven(
    cylinder: &Cylinder,
    circuit: &Circuit,
    ratings: &Ratings,
    shut: Chamber,
    supply: GaugePressure,
) -> Option<Danger> {
    let none = Force::default();
    let along = match (circuit.rod, shut) {
        (RodHold::PulledOut { load }, Chamber::Rod)
        | (RodHold::PushedIn { load }, Chamber::Cap) => load.unwrap_or(none),
        // A load against the supply may be taken off: it is not counted on.
        (RodHold::PulledOut { .. } | RodHold::PushedIn { .. }, _) => none,
        // A rod that is held drives nothing; a seal that fails lets the supply through.
        (RodHold::Locked | RodHold::Bottomed, _) => {
            return Some(Danger {
                chamber: shut,
                pressure: supply,
                cause: "the supply past a failing piston seal",
                remedy: "Lower the supply, or leave that port open to a vessel".into(),
            });
        }
    };
    let pressure = cylinder.driven_pressure(shut, supply, along)?;
    let limit = ratings
        .of(Chamber::Rod)
        .filter(|_| shut == Chamber::Rod && along == none)
        .and_then(|rating| cylinder.cap_limit(rating));
    let remedy = limit.map_or_else(
        || "Lower the supply, or leave that port open to a vessel".to_string(),
        |limit| {
            format!(
                "Supply {:.0} bar at most, or leave that port open to a vessel",
                (RATING_PART * limit.bar()).floor()
            )
        },
    );
    Some(Danger {
        chamber: shut,
        pressure,
        cause: "the supply on the other side of the piston",
        remedy,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cylinder::Dimensions;
    use crate::cylinder::Kind;
    use crate::cylinder::Part;
    use crate::cylinder::Rating;
    use crate::quantity::Length;
    use crate::quantity::Volume;
    use crate::quantity::unit::kilonewton;
    use crate::quantity::unit::millimeter;
    use crate::quantity::unit::newton;

    const OPEN: Port = Port::OpenToVessel;

    fn cylinder(kind: Kind, bore_mm: f64, rod_mm: f64) -> Cylinder {
        let mm = Length::new::<millimeter>;
        let size = Dimensions {
            bore: mm(bore_mm),
            rod: mm(rod_mm),
            stroke: mm(500.0),
            wall: None,
            cap_dead_volume: Volume::default(),
            rod_dead_volume: Volume::default(),
        };
        Cylinder::new(kind, size).expect("fits")
    }

    fn found(cylinder: Cylinder, circuit: &Circuit, rating_bar: f64) -> Vec<String> {
        let rating = Some(Rating {
            pressure: GaugePressure::from_bar(rating_bar),
            part: Part::Cylinder,
        });
        let ratings = Ratings {
            cap: rating,
            rod: rating,
        };
        hazards(&Piece::Cylinder(cylinder), circuit, &ratings)
    }

    fn pushed_in(cylinder: Cylinder, rating_bar: f64, rod_port: Port) -> Vec<String> {
        let load = Force::new::<newton>(137.9e5 * cylinder.cap_area().value);
        let rod = RodHold::PushedIn { load: Some(load) };
        found(
            cylinder,
            &Circuit::plain(Port::Blocked, rod_port, rod),
            rating_bar,
        )
    }

    /// 100/56 under 137.9 bar: a piston seal that fails raises both ends to 439.7 bar
    /// (load pressure times bore by rod squared, computed).
    #[test]
    fn a_seal_that_fails_under_this_load_would_reach_440_bar() {
        let double = cylinder(Kind::DoubleActing, 100.0, 56.0);
        let reasons = pushed_in(double, 250.0, Port::Blocked);
        assert_eq!(reasons.len(), 2);
        assert!(reasons[0].contains("440 bar"), "{reasons:?}");
        assert_eq!(
            pushed_in(double, 500.0, Port::Blocked),
            Vec::<String>::new()
        );
        assert_eq!(pushed_in(double, 250.0, OPEN), Vec::<String>::new());
    }

    /// What has no second chamber or no rod area to carry a load does not climb.
    #[test]
    fn a_plunger_a_vented_piston_and_a_double_rod_do_not_climb_when_a_seal_fails() {
        for (kind, rod_port) in [
            (Kind::Plunger, OPEN),
            (Kind::TelescopicStage, OPEN),
            (Kind::SingleActing, OPEN),
            (Kind::DoubleRod, Port::Blocked),
        ] {
            let reasons = pushed_in(cylinder(kind, 100.0, 56.0), 160.0, rod_port);
            assert_eq!(reasons, Vec::<String>::new(), "{kind:?}");
        }
    }

    /// Trade: 3000 psi on the cap end become 6000 psi at 2:1. 100/70 at 210 bar with the
    /// rod port shut: 411.8 bar (ratio of areas, computed); 250 bar allow 127 bar, 0.9 of it 114.
    #[test]
    fn a_supply_on_the_cap_end_with_the_rod_port_shut_is_refused_with_what_is_allowed() {
        let double = cylinder(Kind::DoubleActing, 100.0, 70.0);
        let rod = RodHold::PulledOut { load: None };
        let with = |rod_port, bar| Circuit {
            supply: Some(GaugePressure::from_bar(bar)),
            ..Circuit::plain(Port::Supplied, rod_port, rod)
        };
        let reasons = found(double, &with(Port::Blocked, 210.0), 250.0);
        assert_eq!(reasons.len(), 1, "{reasons:?}");
        assert!(reasons[0].contains("rod end to 412 bar"), "{reasons:?}");
        assert!(reasons[0].contains("114 bar at most"), "{reasons:?}");
        assert_eq!(found(double, &with(Port::Blocked, 114.0), 250.0).len(), 0);
        assert_eq!(found(double, &with(OPEN, 210.0), 250.0).len(), 0);
        let reasons = found(double, &with(OPEN, 240.0), 250.0);
        assert!(reasons[0].starts_with("the supply could raise the cap end"));
    }

    /// A load that pulls out is carried by the rod end: F/A_r (computed). With a supply
    /// behind it both push on the same oil.
    #[test]
    fn a_hanging_load_counts_on_the_rod_end() {
        let double = cylinder(Kind::DoubleActing, 63.0, 36.0);
        let load = Some(Force::new::<kilonewton>(50.0));
        let rod = RodHold::PulledOut { load };
        let hanging = Circuit::plain(Port::Blocked, Port::Blocked, rod);
        let reasons = found(double, &hanging, 250.0);
        assert_eq!(reasons.len(), 1, "{reasons:?}");
        assert!(reasons[0].contains("rod end to 238 bar"), "{reasons:?}");
        let pressed = Circuit {
            supply: Some(GaugePressure::from_bar(100.0)),
            ..Circuit::plain(Port::Supplied, Port::Blocked, rod)
        };
        // 238.17 + 100·1.48485 bar.
        let reasons = found(double, &pressed, 400.0);
        assert!(reasons[0].contains("rod end to 387 bar"), "{reasons:?}");
    }

    #[test]
    fn a_locked_rod_is_not_driven_but_a_failing_seal_lets_the_supply_through() {
        let double = cylinder(Kind::DoubleActing, 100.0, 70.0);
        let locked = Circuit {
            supply: Some(GaugePressure::from_bar(210.0)),
            ..Circuit::plain(Port::Supplied, Port::Blocked, RodHold::Locked)
        };
        assert_eq!(found(double, &locked, 250.0).len(), 0);
        let reasons = found(double, &locked, 220.0);
        assert_eq!(reasons.len(), 2, "{reasons:?}");
    }
}
