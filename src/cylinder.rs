//! Geometry of the tested piece: areas, chamber volumes, intensification.
//!
//! Leaves oil and plumbing to other rooms. Position is the extension counted
//! from fully retracted, so the cap-end column grows with it and the rod-end
//! column is what is left of the stroke.
//!
//! Invariant: a [`Cylinder`] that exists has a rod thinner than its bore, a
//! positive stroke and finite dimensions.

use crate::quantity::Area;
use crate::quantity::Force;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Pressure;
use crate::quantity::Volume;
use crate::quantity::unit::meter;
use crate::quantity::unit::millimeter;
use crate::quantity::unit::pascal;

/// How the cylinder is built, as far as its chambers go (ISO 5598 words).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Piston with one rod; both sides can be pressurised.
    DoubleActing,
    /// Piston with a rod through both ends; equal areas.
    DoubleRod,
    /// Ram without a piston seal; the rod is what is pushed.
    Plunger,
}

/// Why dimensions make no cylinder.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CylinderError {
    /// The rod does not fit.
    #[error("rod {rod_mm} mm does not fit into bore {bore_mm} mm; check which is which")]
    RodTooThick {
        /// Rod diameter in millimetre.
        rod_mm: f64,
        /// Bore in millimetre.
        bore_mm: f64,
    },
    /// A dimension that must be above zero is not.
    #[error("{what} must be above zero, it is {value_mm} mm")]
    NotPositive {
        /// Which dimension.
        what: &'static str,
        /// Its value in millimetre.
        value_mm: f64,
    },
}

/// Dimensions as they are typed, before they are checked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dimensions {
    /// Inner diameter of the tube.
    pub bore: Length,
    /// Diameter of the rod.
    pub rod: Length,
    /// Stroke.
    pub stroke: Length,
    /// Thickness of the tube wall, if it is known.
    pub wall: Option<Length>,
    /// Oil in cap, port and plug that the piston does not sweep, cap end.
    pub cap_dead_volume: Volume,
    /// The same at the rod end.
    pub rod_dead_volume: Volume,
}

/// A cylinder with checked dimensions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cylinder {
    kind: Kind,
    size: Dimensions,
}

/// Which chamber of the piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Chamber {
    /// The end without the gland (blind, base).
    Cap,
    /// The end with the gland.
    Rod,
}

impl Chamber {
    /// "cap" or "rod", as in data files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Cap => "cap",
            Self::Rod => "rod",
        }
    }

    /// The other chamber.
    pub fn other(self) -> Self {
        match self {
            Self::Cap => Self::Rod,
            Self::Rod => Self::Cap,
        }
    }
}

impl Cylinder {
    /// Checks the dimensions.
    ///
    /// # Errors
    /// If a dimension is not positive or the rod does not fit the bore.
    pub fn new(kind: Kind, size: Dimensions) -> Result<Self, CylinderError> {
        for (what, length) in [
            ("bore", size.bore),
            ("rod", size.rod),
            ("stroke", size.stroke),
        ] {
            let value_mm = length.get::<millimeter>();
            if !(value_mm.is_finite() && value_mm > 0.0) {
                return Err(CylinderError::NotPositive { what, value_mm });
            }
        }
        let (rod_mm, bore_mm) = (size.rod.get::<millimeter>(), size.bore.get::<millimeter>());
        if rod_mm >= bore_mm {
            return Err(CylinderError::RodTooThick { rod_mm, bore_mm });
        }
        Ok(Self { kind, size })
    }

    /// How it is built.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Its dimensions.
    pub fn size(&self) -> &Dimensions {
        &self.size
    }

    /// Area of the rod.
    pub fn rod_area(&self) -> Area {
        circle(self.size.rod)
    }

    /// Area on which cap-end pressure pushes: the bore, less a second rod; the
    /// rod alone for a plunger.
    pub fn cap_area(&self) -> Area {
        match self.kind {
            Kind::DoubleActing => circle(self.size.bore),
            Kind::DoubleRod => circle(self.size.bore) - circle(self.size.rod),
            Kind::Plunger => circle(self.size.rod),
        }
    }

    /// Area on which rod-end pressure pushes (the annulus); zero for a plunger.
    pub fn annulus_area(&self) -> Area {
        match self.kind {
            Kind::DoubleActing | Kind::DoubleRod => circle(self.size.bore) - circle(self.size.rod),
            Kind::Plunger => circle(self.size.rod) * 0.0,
        }
    }

    /// Area of one chamber's oil column.
    pub fn area(&self, chamber: Chamber) -> Area {
        match chamber {
            Chamber::Cap => self.cap_area(),
            Chamber::Rod => self.annulus_area(),
        }
    }

    /// Oil in a chamber at the extension `x`, dead volume included, hoses not.
    ///
    /// A plunger's tube is filled around the rod too.
    pub fn volume(&self, chamber: Chamber, x: Length) -> Volume {
        match (chamber, self.kind) {
            (Chamber::Cap, Kind::Plunger) => {
                let around = circle(self.size.bore) - circle(self.size.rod);
                self.size.cap_dead_volume + around * self.size.stroke + self.cap_area() * x
            }
            (Chamber::Cap, _) => self.size.cap_dead_volume + self.cap_area() * x,
            (Chamber::Rod, _) => {
                self.size.rod_dead_volume + self.annulus_area() * (self.size.stroke - x)
            }
        }
    }

    /// Cap area by annulus area; what rod-end pressure is multiplied by.
    pub fn intensification(&self) -> f64 {
        self.cap_area().value / self.annulus_area().value
    }

    /// Both chambers' pressure when a load pushing in is carried with oil passing
    /// freely from side to side: F/a. None without a rod area to carry it.
    pub fn met_pressure(&self, load: Force) -> Option<GaugePressure> {
        (self.kind == Kind::DoubleActing)
            .then(|| GaugePressure::from_pa(load.value / self.rod_area().value))
    }

    /// How stiff the tube is against its oil: E/(2·[(Do²+Di²)/(Do²−Di²)+ν]).
    ///
    /// Thick tube with open ends after Lamé; E = 206 GPa, ν = 0.3 (steel).
    /// None while the wall is not known.
    pub fn wall_stiffness(&self) -> Option<Pressure> {
        let wall = self.size.wall?.get::<meter>();
        let inner = self.size.bore.get::<meter>();
        let outer = inner + 2.0 * wall;
        let ratio = (outer.powi(2) + inner.powi(2)) / (outer.powi(2) - inner.powi(2));
        Some(Pressure::new::<pascal>(206e9 / (2.0 * (ratio + 0.3))))
    }
}

/// Which piece it is, in the shop's own words; a field not given is empty.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct UnitIdentity {
    /// Tag on the piece, "TV-0312".
    pub tag: String,
    /// What it is, "plough lift cylinder".
    pub description: String,
    /// The machine it belongs to.
    pub machine: String,
    /// The maker's serial number.
    pub serial: String,
    /// Kind of piston seal.
    pub seal: String,
}

/// Highest pressure each end is rated for by its maker, if it is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ratings {
    /// Of the cap end.
    pub cap: Option<GaugePressure>,
    /// Of the rod end.
    pub rod: Option<GaugePressure>,
}

/// A rigid vessel under pressure: the simplest piece that can be tested.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RigidChamber {
    /// What it holds, if that is known.
    pub volume: Option<Volume>,
}

/// What is on the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Piece {
    /// A cylinder.
    Cylinder(Cylinder),
    /// A plain chamber without a moving part.
    Chamber(RigidChamber),
}

impl Piece {
    /// The cylinder, if it is one.
    pub fn cylinder(&self) -> Option<&Cylinder> {
        match self {
            Self::Cylinder(cylinder) => Some(cylinder),
            Self::Chamber(_) => None,
        }
    }
}

fn circle(diameter: Length) -> Area {
    diameter * diameter * std::f64::consts::FRAC_PI_4
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit::kilonewton;
    use crate::quantity::unit::milliliter;
    use crate::quantity::unit::square_millimeter;

    fn cylinder(bore_mm: f64, rod_mm: f64, wall_mm: f64) -> Cylinder {
        let mm = Length::new::<millimeter>;
        let dead = Volume::new::<milliliter>(20.0);
        let size = Dimensions {
            bore: mm(bore_mm),
            rod: mm(rod_mm),
            stroke: mm(400.0),
            wall: Some(mm(wall_mm)),
            cap_dead_volume: dead,
            rod_dead_volume: dead,
        };
        Cylinder::new(Kind::DoubleActing, size).expect("fits")
    }

    /// Areas and volumes of the worked example 63/36: circle areas, computed.
    #[test]
    fn the_63_36_cylinder_has_its_textbook_areas_and_volumes() {
        let c = cylinder(63.0, 36.0, 5.0);
        let near =
            |a: f64, b: f64, tolerance: f64| assert!((a - b).abs() < tolerance, "{a} is not {b}");
        near(c.cap_area().get::<square_millimeter>(), 3117.25, 0.005);
        near(c.rod_area().get::<square_millimeter>(), 1017.88, 0.005);
        near(c.annulus_area().get::<square_millimeter>(), 2099.37, 0.005);
        let x = Length::new::<millimeter>(300.0);
        near(
            c.volume(Chamber::Cap, x).get::<milliliter>(),
            955.174,
            0.001,
        );
        near(
            c.volume(Chamber::Rod, x).get::<milliliter>(),
            229.937,
            0.001,
        );
        let met = c
            .met_pressure(Force::new::<kilonewton>(30.0))
            .expect("has a rod");
        near(met.bar(), 294.731, 0.001);
    }

    /// Ratios of ISO 3320 bore and rod pairs, computed.
    #[test]
    fn intensification_is_the_ratio_of_areas() {
        for (bore, rod, ratio) in [
            (63.0, 45.0, 2.042),
            (100.0, 56.0, 1.457),
            (40.0, 28.0, 1.961),
        ] {
            assert!((cylinder(bore, rod, 5.0).intensification() - ratio).abs() < 5e-4);
        }
    }

    /// Lamé's thick tube, E 206 GPa, ν 0.3: computed by hand.
    #[test]
    fn a_63_73_tube_has_a_wall_stiffness_of_14_43_gigapascal() {
        for (bore, wall, gpa) in [(40.0, 5.0, 21.21), (63.0, 5.0, 14.43), (80.0, 6.0, 13.73)] {
            let stiffness = cylinder(bore, 20.0, wall)
                .wall_stiffness()
                .expect("wall given");
            assert!(
                (stiffness.value / 1e9 - gpa).abs() < 0.005,
                "{}",
                stiffness.value
            );
        }
    }

    #[test]
    fn a_rod_as_thick_as_the_bore_is_refused() {
        let size = *cylinder(63.0, 36.0, 5.0).size();
        let swapped = Dimensions {
            bore: size.rod,
            rod: size.bore,
            ..size
        };
        assert!(matches!(
            Cylinder::new(Kind::DoubleActing, swapped),
            Err(CylinderError::RodTooThick { .. })
        ));
    }
}
