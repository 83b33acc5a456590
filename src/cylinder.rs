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
use crate::quantity::unit::milliliter;
use crate::quantity::unit::millimeter;
use crate::quantity::unit::pascal;

/// How the cylinder is built, as far as its chambers go (ISO 5598 words).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Piston with one rod; both sides can be pressurised.
    DoubleActing,
    /// Piston with a rod through both ends; equal areas.
    DoubleRod,
    /// Piston whose rod side is vented: pressure on the cap side only.
    SingleActing,
    /// Ram without a piston seal; the rod is what is pushed.
    Plunger,
    /// The one stage of a telescopic ram that moves in the test, without a piston seal:
    /// its own outer diameter is what is pushed. All oil round and inside it and the
    /// stages that stand still belongs to the dead volume.
    TelescopicStage,
}

impl Kind {
    /// Whether a piston seal divides the tube, so that oil can pass it.
    pub fn has_piston_seal(self) -> bool {
        match self {
            Self::DoubleActing | Self::DoubleRod | Self::SingleActing => true,
            Self::Plunger | Self::TelescopicStage => false,
        }
    }

    /// Chambers that can hold pressure: the cap side always, the rod side of pistons that
    /// are not vented there.
    pub fn chambers(self) -> &'static [Chamber] {
        match self {
            Self::DoubleActing | Self::DoubleRod => &[Chamber::Cap, Chamber::Rod],
            Self::SingleActing | Self::Plunger | Self::TelescopicStage => &[Chamber::Cap],
        }
    }
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
    /// A volume below nothing.
    #[error("{side}_dead_volume must not be negative, it is {value_ml} mL")]
    DeadVolume {
        /// "cap" or "rod".
        side: &'static str,
        /// Its value in millilitre.
        value_ml: f64,
    },
}

/// Dimensions as they are typed, before they are checked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dimensions {
    /// Inner diameter of the tube.
    pub bore: Length,
    /// Diameter of the rod; the outer one of a plunger or telescopic stage.
    pub rod: Length,
    /// Stroke.
    pub stroke: Length,
    /// Thickness of the tube wall, if it is known.
    pub wall: Option<Length>,
    /// Oil in cap, port and plug that the piston does not sweep, cap end; for a telescopic
    /// stage all oil that is there when it is in.
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
    /// If a dimension is not positive, a volume is negative or the rod does not fit the bore.
    pub fn new(kind: Kind, size: Dimensions) -> Result<Self, CylinderError> {
        let lengths = [
            ("bore", Some(size.bore)),
            ("rod", Some(size.rod)),
            ("stroke", Some(size.stroke)),
            ("wall", size.wall),
        ];
        for (what, length) in lengths {
            let Some(length) = length else { continue };
            let value_mm = length.get::<millimeter>();
            if !(value_mm.is_finite() && value_mm > 0.0) {
                return Err(CylinderError::NotPositive { what, value_mm });
            }
        }
        let volumes = [
            (Chamber::Cap, size.cap_dead_volume),
            (Chamber::Rod, size.rod_dead_volume),
        ];
        for (chamber, volume) in volumes {
            if !(volume.value.is_finite() && volume.value >= 0.0) {
                return Err(CylinderError::DeadVolume {
                    side: chamber.word(),
                    value_ml: volume.get::<milliliter>(),
                });
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

    /// Area on which cap-end pressure pushes: the bore, less a second rod; what moves
    /// alone where there is no piston.
    pub fn cap_area(&self) -> Area {
        match self.kind {
            Kind::DoubleActing | Kind::SingleActing => circle(self.size.bore),
            Kind::DoubleRod => circle(self.size.bore) - circle(self.size.rod),
            Kind::Plunger | Kind::TelescopicStage => circle(self.size.rod),
        }
    }

    /// Area on which rod-end pressure pushes (the annulus); zero where there is no piston.
    pub fn annulus_area(&self) -> Area {
        match self.kind {
            Kind::DoubleActing | Kind::DoubleRod | Kind::SingleActing => {
                circle(self.size.bore) - circle(self.size.rod)
            }
            Kind::Plunger | Kind::TelescopicStage => circle(self.size.rod) * 0.0,
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

    /// Cap area by annulus area, 1 and more: what rod-end pressure is of cap-end pressure
    /// with the rod port shut and no load. Ten and more for the thin annulus of a
    /// telescopic stage that is pulled in by pressure (to be described as double-acting).
    /// None where the rod side is vented or missing.
    pub fn intensification(&self) -> Option<f64> {
        self.kind
            .chambers()
            .contains(&Chamber::Rod)
            .then(|| (self.cap_area() / self.annulus_area()).value)
    }

    /// Pressure in one chamber, shut in, when the other is pressed and the rod is free: what
    /// the other pushes with, and `load` that pushes the same way, carried by its own area.
    /// None where there is only one chamber.
    pub fn driven_pressure(
        &self,
        shut: Chamber,
        other: GaugePressure,
        load: Force,
    ) -> Option<GaugePressure> {
        self.intensification()?;
        let push = other.pa() * self.area(shut.other()).value + load.value;
        Some(GaugePressure::from_pa(push / self.area(shut).value))
    }

    /// Highest cap-end pressure with the rod port shut and no load that keeps the rod end
    /// at its rating: the rating by [`Self::intensification`]. None where the rod side is
    /// vented or missing.
    pub fn cap_limit(&self, rod_rating: GaugePressure) -> Option<GaugePressure> {
        let ratio = self.intensification()?;
        Some(GaugePressure::from_pa(rod_rating.pa() / ratio))
    }

    /// Pressure of the chamber that holds a load alone. None where that chamber has no
    /// area to hold it with.
    pub fn holding_pressure(&self, holding: Chamber, load: Force) -> Option<GaugePressure> {
        self.kind
            .chambers()
            .contains(&holding)
            .then(|| GaugePressure::from_pa(load.value / self.area(holding).value))
    }

    /// Both chambers' pressure when a load pushing in is carried with oil passing
    /// freely from side to side: F/a. None without a rod area to carry it, or without a
    /// second chamber that holds pressure.
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

impl Ratings {
    /// Of one end.
    pub fn of(&self, chamber: Chamber) -> Option<GaugePressure> {
        match chamber {
            Chamber::Cap => self.cap,
            Chamber::Rod => self.rod,
        }
    }
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
    use crate::quantity::unit::square_millimeter;

    fn cylinder(bore_mm: f64, rod_mm: f64, wall_mm: f64) -> Cylinder {
        built(Kind::DoubleActing, bore_mm, rod_mm, wall_mm)
    }

    fn built(kind: Kind, bore_mm: f64, rod_mm: f64, wall_mm: f64) -> Cylinder {
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
        Cylinder::new(kind, size).expect("fits")
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
            (40.0, 22.0, 1.434),
            (40.0, 28.0, 1.961),
            (50.0, 28.0, 1.457),
            (50.0, 36.0, 2.076),
            (63.0, 36.0, 1.485),
            (63.0, 45.0, 2.042),
            (80.0, 45.0, 1.463),
            (80.0, 56.0, 1.961),
            (100.0, 56.0, 1.457),
            (100.0, 70.0, 1.961),
            (125.0, 70.0, 1.457),
            (125.0, 90.0, 2.076),
        ] {
            let found = cylinder(bore, rod, 5.0)
                .intensification()
                .expect("has a rod side");
            assert!((found - ratio).abs() < 5e-4, "{bore}/{rod}: {found}");
        }
    }

    /// Trade: 2000 psi come out as 20 000 psi behind the thin annulus of a telescopic ram.
    #[test]
    fn a_thin_annulus_multiplies_pressure_by_ten() {
        let ratio = cylinder(100.0, 94.9, 5.0)
            .intensification()
            .expect("has a rod side");
        assert!((ratio - 10.0).abs() < 0.1, "{ratio}");
    }

    /// 63/45 at 100 bar with the rod port shut: 204.17 bar; a rod end for 250 bar allows
    /// 122.4 bar (closed form, computed).
    #[test]
    fn the_rod_end_limits_what_may_be_put_on_the_cap_end() {
        let c = cylinder(63.0, 45.0, 5.0);
        let bar = GaugePressure::from_bar;
        let none = Force::new::<kilonewton>(0.0);
        let rod = c
            .driven_pressure(Chamber::Rod, bar(100.0), none)
            .expect("a rod side");
        assert!((rod.bar() - 204.17).abs() < 0.01, "{rod:?}");
        let limit = c.cap_limit(bar(250.0)).expect("a rod side");
        assert!((limit.bar() - 122.4).abs() < 0.06, "{limit:?}");
        // A load that pushes in goes with the rod end's pressure against the cap end's.
        let load = Force::new::<kilonewton>(30.0);
        let cap = c
            .driven_pressure(Chamber::Cap, bar(100.0), load)
            .expect("a cap side");
        let by_hand = (100e5 * c.annulus_area().value + 30e3) / c.cap_area().value;
        assert!((cap.pa() / by_hand - 1.0).abs() < 1e-12);
    }

    /// What moves is what is pushed: areas of circles, by hand.
    #[test]
    fn each_kind_pushes_with_its_own_area_and_says_what_it_cannot_do() {
        let bore = 3117.25;
        let rod = 1017.88;
        let load = Force::new::<kilonewton>(30.0);
        for (kind, cap, annulus, chambers) in [
            (Kind::DoubleActing, bore, bore - rod, 2),
            (Kind::DoubleRod, bore - rod, bore - rod, 2),
            (Kind::SingleActing, bore, bore - rod, 1),
            (Kind::Plunger, rod, 0.0, 1),
            (Kind::TelescopicStage, rod, 0.0, 1),
        ] {
            let c = built(kind, 63.0, 36.0, 5.0);
            assert!(
                (c.cap_area().get::<square_millimeter>() - cap).abs() < 0.01,
                "{kind:?}"
            );
            assert!((c.annulus_area().get::<square_millimeter>() - annulus).abs() < 0.01);
            assert_eq!(kind.chambers().len(), chambers, "{kind:?}");
            assert_eq!(c.intensification().is_some(), chambers == 2, "{kind:?}");
            assert_eq!(c.met_pressure(load).is_some(), kind == Kind::DoubleActing);
            assert_eq!(
                c.holding_pressure(Chamber::Rod, load).is_some(),
                chambers == 2
            );
        }
        // Oil of a telescopic stage: what was there before, and what its area sweeps.
        let stage = built(Kind::TelescopicStage, 63.0, 36.0, 5.0);
        let out = stage.volume(Chamber::Cap, Length::new::<millimeter>(100.0));
        assert!((out.get::<milliliter>() - 20.0 - 101.788).abs() < 1e-3);
    }

    /// Lamé's thick tube with open ends, E 206 GPa, ν 0.3 (computed); a thin one is E·t/D.
    #[test]
    fn a_steel_tube_has_the_wall_stiffness_of_its_thickness() {
        for (bore, wall, gpa) in [
            (40.0, 5.0, 21.21),
            (50.0, 5.0, 17.62),
            (63.0, 5.0, 14.43),
            (80.0, 6.0, 13.73),
            (100.0, 7.5, 13.73),
        ] {
            let stiffness = cylinder(bore, 20.0, wall)
                .wall_stiffness()
                .expect("wall given");
            assert!(
                (stiffness.value / 1e9 - gpa).abs() < 0.005,
                "{}",
                stiffness.value
            );
        }
        let thin = cylinder(100.0, 20.0, 0.1).wall_stiffness().expect("given");
        assert!((thin.value / (206e9 * 0.1 / 100.0) - 1.0).abs() < 0.003);
    }

    #[test]
    fn a_wall_of_nothing_and_a_negative_volume_are_refused() {
        let size = *cylinder(63.0, 36.0, 5.0).size();
        let no_wall = Dimensions {
            wall: Some(Length::new::<millimeter>(0.0)),
            ..size
        };
        let negative = Dimensions {
            rod_dead_volume: Volume::new::<milliliter>(-1.0),
            ..size
        };
        for (wrong, part) in [(no_wall, "wall"), (negative, "rod_dead_volume")] {
            let message = Cylinder::new(Kind::DoubleActing, wrong)
                .expect_err(part)
                .to_string();
            assert!(message.contains(part), "{message}");
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
