//! What an account does not know: the kinds of its nuisances, each with what would
//! shrink it.
//!
//! A term can be left out, to see what it is there for: `examples/coverage` does that,
//! a figure that is stated never does.

/// A kind of thing that an account does not know and allows for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Term {
    /// Heat that still moves between oil and wall.
    Heat,
    /// How much of the oil's temperature the probe shows, and how late.
    Probe,
    /// Thermal expansion of the oil.
    Expansion,
    /// Stiffness of oil, wall and hose.
    Stiffness,
    /// Undissolved air.
    Air,
    /// Dead volumes.
    Volumes,
    /// Zero, span and drift of the pressure sensors.
    PressureSensors,
    /// Span of the position sensor.
    PositionSensor,
    /// Exponents of the leak laws, and how a loss is shared between two of them.
    LeakLaw,
    /// Noise that remembers: without it each reading is taken for independent.
    SlowNoise,
    /// Steps of the converters.
    Steps,
    /// What the model leaves out.
    Discrepancy,
}

impl Term {
    /// All terms.
    pub const ALL: [Self; 12] = [
        Self::Heat,
        Self::Probe,
        Self::Expansion,
        Self::Stiffness,
        Self::Air,
        Self::Volumes,
        Self::PressureSensors,
        Self::PositionSensor,
        Self::LeakLaw,
        Self::SlowNoise,
        Self::Steps,
        Self::Discrepancy,
    ];

    /// Its name: plain words with dashes.
    pub fn word(self) -> &'static str {
        match self {
            Self::Heat => "heat",
            Self::Probe => "probe",
            Self::Expansion => "expansion",
            Self::Stiffness => "stiffness",
            Self::Air => "air",
            Self::Volumes => "volumes",
            Self::PressureSensors => "pressure-sensors",
            Self::PositionSensor => "position-sensor",
            Self::LeakLaw => "leak-law",
            Self::SlowNoise => "slow-noise",
            Self::Steps => "steps",
            Self::Discrepancy => "discrepancy",
        }
    }

    /// From its name.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|term| term.word() == word)
    }

    /// Where the uncertainty comes from, in the budget.
    pub(super) fn source(self) -> &'static str {
        match self {
            Self::Heat => "heat still moving in the oil",
            Self::Probe => "oil probe sees only part of the oil",
            Self::Expansion => "expansion of the oil",
            Self::Stiffness => "stiffness of oil, wall and hose",
            Self::Air => "air in the oil",
            Self::Volumes => "oil volumes",
            Self::PressureSensors => "pressure sensors",
            Self::PositionSensor => "position sensor span",
            Self::LeakLaw => "law of the leak",
            Self::SlowNoise | Self::Steps => "sensor noise and steps",
            Self::Discrepancy => "what the model leaves out",
        }
    }

    /// How well its size is known, as degrees of freedom; None for very well, or where
    /// the data say it.
    ///
    /// A size that is known to a part R of itself has ½·R⁻² (JCGM 100 G.4.2): spreads over
    /// oils, cylinders and habits are known to a fifth, what the model leaves out to a
    /// quarter (common practice of ours, no source). What papers state is taken as stated.
    pub(super) fn degrees_of_freedom(self) -> Option<f64> {
        match self {
            Self::Heat
            | Self::Probe
            | Self::Expansion
            | Self::Stiffness
            | Self::Air
            | Self::LeakLaw => Some(12.5),
            Self::Discrepancy => Some(8.0),
            Self::Volumes
            | Self::PressureSensors
            | Self::PositionSensor
            | Self::SlowNoise
            | Self::Steps => None,
        }
    }

    /// What would shrink it, in the budget.
    pub(super) fn remedy(self) -> &'static str {
        match self {
            Self::Heat => "let it settle longer, or hold longer",
            Self::Probe => "put the probe deeper into the oil, or hold longer",
            Self::Expansion => "take it from the oil's data sheet",
            Self::Stiffness => "measure it with a known volume or stroke",
            Self::Air => "bleed, and pre-charge the rod side to 10 to 20 bar",
            Self::Volumes => "measure dead volume and position zero",
            Self::PressureSensors => "check zero while vented; a better calibration",
            Self::PositionSensor => "a better calibration",
            Self::LeakLaw => "hold at a steadier pressure",
            Self::SlowNoise | Self::Steps => "hold longer",
            Self::Discrepancy => "hold longer, or at steadier temperature",
        }
    }
}
