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
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::DoubleActing,
        Self::DoubleRod,
        Self::SingleActing,
        Self::Plunger,
        Self::TelescopicStage,
    ];

    /// As in settings and tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::DoubleActing => "double_acting",
            Self::DoubleRod => "double_rod",
            Self::SingleActing => "single_acting",
            Self::Plunger => "plunger",
            Self::TelescopicStage => "telescopic_stage",
        }
    }

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
#[derive(Debug, Clone, PartialEq, Default)]
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
    /// Its ports, "G 3/8".
    pub ports: String,
    /// The valve on it that holds its load.
    pub holding_valve: String,
    /// What its own cap end may stand, whatever is plumbed to it.
    pub cap_rating: Option<GaugePressure>,
    /// What its own rod end may stand.
    pub rod_rating: Option<GaugePressure>,
}

/// A part that stands under the pressure of one end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The cylinder itself.
    Cylinder,
    /// The plug in its port.
    Plug,
    /// The hose on its port.
    Hose,
    /// The pressure sensor.
    Sensor,
}

impl Part {
    /// What a fitter calls it.
    pub fn plain(self) -> &'static str {
        match self {
            Self::Cylinder => "cylinder",
            Self::Plug => "plug",
            Self::Hose => "hose",
            Self::Sensor => "sensor",
        }
    }
}

/// Highest pressure that a part is rated for by its maker.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// The pressure.
    pub pressure: GaugePressure,
    /// The part.
    pub part: Part,
}

/// The lowest rating of all that stands under the pressure of each end, where one is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ratings {
    /// Of the cap end.
    pub cap: Option<Rating>,
    /// Of the rod end.
    pub rod: Option<Rating>,
}

impl Ratings {
    /// The weakest part of one end.
    pub fn weakest(&self, chamber: Chamber) -> Option<Rating> {
        match chamber {
            Chamber::Cap => self.cap,
            Chamber::Rod => self.rod,
        }
    }

    /// Rating of one end.
    pub fn of(&self, chamber: Chamber) -> Option<GaugePressure> {
        self.weakest(chamber).map(|rating| rating.pressure)
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
mod tests;
