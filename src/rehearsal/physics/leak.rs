//! Laws of the leak paths: how much passes at a pressure difference.
//!
//! A [`Leak`] is a power law between orifice and laminar gap, perhaps on one side of a
//! pressure only; a [`Relief`] opens at its setting. Which chamber is upstream is decided by whoever asks.

/// Below this difference the power law turns into a straight line, Pa: a square
/// root has no slope at zero that a solver could use.
const STRAIGHT_BELOW_PA: f64 = 1e3;

/// Width of the bend where a seat shuts or opens, Pa (common practice, no source): so smooth
/// that a solver can follow it.
const SEATS_OVER_PA: f64 = 0.3e5;

/// At which differences of pressure a leak passes oil at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Passes {
    /// At any.
    Always,
    /// Only above this one, Pa: a poppet that seats, a gap that pressure opens.
    Above(f64),
    /// Only below this one, Pa: a seal that pressure presses on.
    Below(f64),
}

impl Passes {
    /// Part of the leak that passes at a difference, 0 to 1.
    fn part(self, difference_pa: f64) -> f64 {
        let open = |above_pa: f64| 1.0 / (1.0 + (-above_pa / SEATS_OVER_PA).exp());
        match self {
            Self::Always => 1.0,
            Self::Above(pa) => open(difference_pa - pa),
            Self::Below(pa) => open(pa - difference_pa),
        }
    }
}

/// A leak path by one point of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leak {
    /// Flow at the reference difference and viscosity, m³/s at the upstream state.
    pub flow_m3_per_s: f64,
    /// Reference difference of pressure, Pa.
    pub at_pa: f64,
    /// Exponent of the difference: 0.5 orifice, 1 laminar gap.
    pub exponent: f64,
    /// Difference that presses a lip against its tube, Pa: at it the leak is a third of what
    /// it would be, well above it nothing; infinite for what no pressure closes.
    pub closes_at_pa: f64,
    /// At which differences it passes oil.
    pub passes: Passes,
}

impl Leak {
    /// No leak at all.
    pub const NONE: Self = Self {
        flow_m3_per_s: 0.0,
        at_pa: 1e5,
        exponent: 1.0,
        closes_at_pa: f64::INFINITY,
        passes: Passes::Always,
    };

    /// Laminar, by millilitre per minute at a difference in bar.
    pub const fn laminar(ml_per_min: f64, at_bar: f64) -> Self {
        Self::with_exponent(ml_per_min, at_bar, 1.0)
    }

    /// With an exponent, by millilitre per minute at a difference in bar.
    pub const fn with_exponent(ml_per_min: f64, at_bar: f64, exponent: f64) -> Self {
        Self {
            flow_m3_per_s: ml_per_min * 1e-6 / 60.0,
            at_pa: at_bar * 1e5,
            exponent,
            closes_at_pa: f64::INFINITY,
            passes: Passes::Always,
        }
    }

    /// The same as a worn lip that a difference in bar presses shut.
    pub const fn closed_at(self, closes_at_bar: f64) -> Self {
        Self {
            closes_at_pa: closes_at_bar * 1e5,
            ..self
        }
    }

    /// The same with a seat that shuts below a difference in bar.
    pub const fn only_above(self, bar: f64) -> Self {
        Self {
            passes: Passes::Above(bar * 1e5),
            ..self
        }
    }

    /// The same with a lip that is shut above a difference in bar.
    pub const fn only_below(self, bar: f64) -> Self {
        Self {
            passes: Passes::Below(bar * 1e5),
            ..self
        }
    }

    /// Flow at a difference, m³/s at the upstream state; negative backwards.
    ///
    /// `thinner` is reference viscosity by viscosity now. A laminar path follows it
    /// fully, an orifice not at all, in between with twice the exponent less one.
    pub fn flow(&self, difference_pa: f64, thinner: f64) -> f64 {
        let smooth = difference_pa.hypot(STRAIGHT_BELOW_PA);
        self.flow_m3_per_s
            * (difference_pa / self.at_pa)
            * (smooth / self.at_pa).powf(self.exponent - 1.0)
            * thinner.powf((2.0 * self.exponent - 1.0).max(0.0))
            * (-(difference_pa / self.closes_at_pa).powi(2)).exp()
            * self.passes.part(difference_pa)
    }

    /// Flow out to the atmosphere; nothing comes back in.
    pub fn flow_out(&self, gauge_pa: f64, thinner: f64) -> f64 {
        self.flow(gauge_pa.max(0.0), thinner)
    }
}

/// A relief or counterbalance valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relief {
    /// Pressure at which it opens, Pa gauge.
    pub opens_at_pa: f64,
    /// Flow by pressure above that, m³/(s·Pa).
    pub slope_m3_per_s_pa: f64,
}

impl Relief {
    /// Flow at a pressure, m³/s.
    pub fn flow(&self, gauge_pa: f64) -> f64 {
        self.slope_m3_per_s_pa * (gauge_pa - self.opens_at_pa).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hagen-Poiseuille and orifice scaling: laminar with the difference, orifice
    /// with its root and no viscosity.
    #[test]
    fn four_times_the_difference_is_four_times_a_gap_and_twice_an_orifice() {
        let (gap, hole) = (
            Leak::laminar(1.0, 100.0),
            Leak::with_exponent(1.0, 100.0, 0.5),
        );
        let unit = 1e-6 / 60.0;
        assert!((gap.flow(400e5, 1.0) / unit - 4.0).abs() < 1e-6);
        assert!((hole.flow(400e5, 1.0) / unit - 2.0).abs() < 1e-6);
        assert!((gap.flow(100e5, 3.0) / unit - 3.0).abs() < 1e-6);
        assert!((hole.flow(-100e5, 3.0) / unit + 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_lip_leaks_at_low_pressure_and_is_shut_at_high() {
        let lip = Leak::laminar(1.0, 10.0).closed_at(25.0);
        let unit = 1e-6 / 60.0;
        let low = lip.flow(10e5, 1.0) / unit;
        assert!((low - (-0.16f64).exp()).abs() < 1e-6, "{low}");
        assert!(lip.flow(100e5, 1.0) / unit < 1e-5);
    }

    /// The logistic function: half at the seat, all but e⁻¹⁰ of all ten widths from it.
    #[test]
    fn a_seat_passes_on_one_side_of_its_pressure_only() {
        let (above, below) = (
            Leak::laminar(1.0, 100.0).only_above(92.0),
            Leak::laminar(1.0, 100.0).only_below(92.0),
        );
        let unit = 1e-6 / 60.0;
        assert!((above.flow(92e5, 1.0) / unit - 0.46).abs() < 1e-6);
        assert!((below.flow(92e5, 1.0) / unit - 0.46).abs() < 1e-6);
        for (shut, open) in [(89e5, 95e5), (-95e5, 100e5)] {
            assert!((above.flow(shut, 1.0) / unit).abs() < 1e-4);
            assert!((above.flow(open, 1.0) / unit - open / 100e5).abs() < 1e-4);
        }
        assert!((below.flow(95e5, 1.0) / unit).abs() < 1e-4);
        assert!((below.flow(89e5, 1.0) / unit - 0.89).abs() < 1e-4);
    }

    #[test]
    fn nothing_is_sucked_in_through_a_seal() {
        assert_eq!(Leak::laminar(1.0, 100.0).flow_out(-0.5e5, 1.0), 0.0);
    }
}
