//! One way of the rod from end to end.

/// Which way the rod goes (ISO 5598, from memory: outstroke and instroke).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Travel {
    /// It extends.
    Out,
    /// It retracts.
    In,
}

impl Travel {
    /// Both, in the order of printing.
    pub const BOTH: [Self; 2] = [Self::Out, Self::In];

    /// The word in data files and on paper.
    pub fn word(self) -> &'static str {
        match self {
            Self::Out => "out",
            Self::In => "in",
        }
    }

    /// The other way.
    pub(super) fn back(self) -> Self {
        match self {
            Self::Out => Self::In,
            Self::In => Self::Out,
        }
    }

    /// +1 outwards, −1 inwards.
    pub(super) fn sign(self) -> f64 {
        match self {
            Self::Out => 1.0,
            Self::In => -1.0,
        }
    }
}

/// What one whole way showed, in SI units. What was not read, or not well enough, is None.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneWay {
    /// Which way.
    pub travel: Travel,
    /// When the rod left its end, s.
    pub from_s: f64,
    /// When it came to the other, s.
    pub until_s: f64,
    /// From rest to rest, m; None if it did not come to rest.
    pub length_m: Option<f64>,
    /// Pressure of the pushing side, less what the other side pushes back, when it gave way, Pa.
    pub breakaway_pa: Option<f64>,
    /// The same in the middle half of the stroke, median over the way, Pa.
    pub running_pa: Option<f64>,
    /// Half of what lies between the tenth and ninetieth part of it over the way, Pa.
    pub spread_pa: Option<f64>,
    /// Mean speed in the middle half, m/s.
    pub speed_m_per_s: Option<f64>,
    /// Spread of the speed by its mean there.
    pub stick_slip: Option<f64>,
}
