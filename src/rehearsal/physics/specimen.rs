//! The practice cylinder with everything about it that a real test does not know.
//!
//! Plain data; nothing here is computed.

use crate::cylinder::Cylinder;
use crate::oil::Oil;
use crate::rehearsal::physics::leak::Leak;
use crate::rehearsal::physics::leak::Relief;

/// Oil without air, as it really is.
#[derive(Debug, Clone, PartialEq)]
pub struct OilNature {
    /// Isentropic bulk modulus near the atmosphere, Pa.
    pub isentropic_pa: f64,
    /// Rise of the bulk modulus with pressure, Pa/Pa.
    pub stiffening: f64,
    /// Volumetric expansion, 1/K.
    pub expansion_per_k: f64,
    /// Warming by fast compression, K/Pa; zero for oil that does not warm.
    pub pressing_k_per_pa: f64,
    /// Viscosity with temperature; without it leaks do not care.
    pub viscosity: Option<Oil>,
}

/// What is in one chamber besides its geometry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChamberOil {
    /// Undissolved air by volume at the atmosphere, 0 to 0.2.
    pub air: f64,
    /// Oil in a hose between port and plug, m³.
    pub hose_m3: f64,
    /// Stiffness of that hose against its oil, Pa.
    pub hose_pa: f64,
    /// Oil warmer than the wall before it was pressed, K.
    pub fresh_heat_k: f64,
    /// What gives way slowly.
    pub creep: Creep,
}

impl ChamberOil {
    /// No air, no hose, no heat; a hose would be as stiff as rubber hoses are.
    pub const PLAIN: Self = Self {
        air: 0.0,
        hose_m3: 0.0,
        hose_pa: 0.2e9,
        fresh_heat_k: 0.0,
        creep: Creep::NONE,
    };
}

/// Hoses and seals that give way slowly under pressure: room that grows towards what the
/// pressure gives it in the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Creep {
    /// Room in the end by pressure, m³/Pa.
    pub m3_per_pa: f64,
    /// Time constant, s; above zero.
    pub slow_s: f64,
}

impl Creep {
    /// Nothing that gives way.
    pub const NONE: Self = Self {
        m3_per_pa: 0.0,
        slow_s: 1.0,
    };
}

/// How heat leaves the oil, and what the surroundings do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heat {
    /// Slow time constant of the cap-end oil, s.
    pub cap_slow_s: f64,
    /// Slow time constant of the rod-end oil, s.
    pub rod_slow_s: f64,
    /// Slow by fast time constant. The first two eigenvalues of conduction in a
    /// long cylinder give (5.520/2.405)² = 5.27.
    pub slow_by_fast: f64,
    /// Share of the heat in the fast mode, 0 to 1.
    pub fast_share: f64,
    /// Surroundings at the start, and the walls that have their temperature, K.
    pub wall_k: f64,
    /// Surroundings with time, and walls that no oil warms, K/s.
    pub wall_k_per_s: f64,
    /// Heat that cap-end oil holds by what its steel holds; 0 for a wall that oil cannot warm.
    pub cap_oil_by_steel: f64,
    /// The same at the rod end.
    pub rod_oil_by_steel: f64,
    /// Time constant of the bare steel to the air around it, s.
    pub air_s: f64,
}

/// How the rod moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RodNature {
    /// Free under a load.
    Free {
        /// Load, N; positive pushes the rod in.
        load_n: f64,
        /// Coulomb friction of the seals, N; zero for none.
        friction_n: f64,
        /// Viscous friction, N·s/m; must be above zero.
        viscous_n_s_per_m: f64,
    },
    /// Held by a stop, in mid-stroke or at an end.
    Held,
}

/// What a port leads to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WayOut {
    /// A plug that leaks outwards.
    Plug(Leak),
    /// A plug, and behind it a valve to a line at the atmosphere, oil on both sides.
    Valve {
        /// Leak of the fitting, outwards.
        fitting: Leak,
        /// Leak of the valve, both ways.
        valve: Leak,
        /// A setting at which it opens.
        relief: Option<Relief>,
    },
    /// A short hose into a vessel of oil at the atmosphere.
    Vessel,
    /// A line that keeps its pressure, oil on both sides: a supply, or what a worn spool
    /// passes of it.
    Line {
        /// Pressure of the line, Pa gauge.
        line_pa: f64,
        /// What lies between, both ways.
        through: Leak,
    },
}

impl WayOut {
    /// A supply without anything between: one litre a minute for each bar.
    pub const fn supply(line_pa: f64) -> Self {
        Self::Line {
            line_pa,
            through: Leak::laminar(1000.0, 1.0),
        }
    }
}

/// The leaks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ills {
    /// Past the piston seal; nothing without one.
    pub piston: Leak,
    /// Out at the gland: of the rod end, of the only chamber where there is no piston seal.
    pub gland: Leak,
    /// At the cap port.
    pub cap_port: WayOut,
    /// At the rod port; without meaning where the rod side is vented or missing.
    pub rod_port: WayOut,
}

/// The moment the recording begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Extension, m.
    pub x_m: f64,
    /// Cap-end pressure, Pa gauge.
    pub p_cap_pa: f64,
    /// Rod-end pressure, Pa gauge.
    pub p_rod_pa: f64,
}

/// A cylinder in one test, as it really is.
#[derive(Debug, Clone, PartialEq)]
pub struct Specimen {
    /// Geometry.
    pub cylinder: Cylinder,
    /// How stiff tube and ends really are against their oil, Pa; infinite for rigid ones.
    pub wall_pa: f64,
    /// Oil.
    pub oil: OilNature,
    /// Cap-end chamber.
    pub cap: ChamberOil,
    /// Rod-end chamber.
    pub rod: ChamberOil,
    /// Heat.
    pub heat: Heat,
    /// Rod.
    pub motion: RodNature,
    /// Leaks.
    pub ills: Ills,
    /// Start.
    pub start: Start,
}
