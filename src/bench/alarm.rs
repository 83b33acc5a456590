//! The warning that a pressure has passed its rating, raised with the very reading.
//!
//! It commands nothing: it says what a person has to do. Raised again only after the
//! pressure has fallen well below.

use crate::cylinder::Chamber;
use crate::cylinder::Ratings;

/// Part of a rating that a pressure must fall below before it is warned of again.
const AGAIN_BELOW: f64 = 0.95;

/// Watches both pressures.
#[derive(Debug, Clone, PartialEq)]
pub struct Alarm {
    ratings: Ratings,
    is_high: [bool; 2],
}

impl Alarm {
    /// Nothing seen yet.
    pub fn new(ratings: Ratings) -> Self {
        Self {
            ratings,
            is_high: [false; 2],
        }
    }

    /// For what is plumbed now: a pressure that stands from before counts as warned of.
    pub fn follow(&mut self, ratings: Ratings, standing_pa: [Option<f64>; 2]) {
        self.ratings = ratings;
        for (chamber, pressure) in [Chamber::Cap, Chamber::Rod].into_iter().zip(standing_pa) {
            let rating = self.ratings.weakest(chamber);
            let is_over = rating
                .zip(pressure)
                .is_some_and(|(rating, pa)| pa > rating.pressure.pa());
            self.is_high[usize::from(chamber == Chamber::Rod)] = is_over;
        }
    }

    /// Takes a reading in Pa gauge; the warning, if this one begins to be over a rating.
    pub fn take(&mut self, chamber: Chamber, pressure_pa: f64) -> Option<String> {
        let rating = self.ratings.weakest(chamber)?;
        let is_high = &mut self.is_high[usize::from(chamber == Chamber::Rod)];
        if pressure_pa < AGAIN_BELOW * rating.pressure.pa() {
            *is_high = false;
        }
        let is_over = pressure_pa > rating.pressure.pa();
        if *is_high || !is_over {
            return None;
        }
        *is_high = true;
        Some(format!(
            "OVER RATING: the {} end stands at {:.0} bar, its {} is rated for {:.0} bar. Keep away from it. Take the load \
             or the supply off from a distance, let the pressure down by its valve, loosen no fitting. stillrod cannot do \
             it for you",
            chamber.word(),
            pressure_pa / 1e5,
            rating.part.plain(),
            rating.pressure.bar()
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cylinder::Part;
    use crate::cylinder::Rating;
    use crate::quantity::GaugePressure;

    #[test]
    fn the_first_reading_over_the_rating_warns_and_the_next_ones_do_not() {
        let rod = Rating {
            pressure: GaugePressure::from_bar(250.0),
            part: Part::Plug,
        };
        let mut alarm = Alarm::new(Ratings {
            cap: None,
            rod: Some(rod),
        });
        assert_eq!(alarm.take(Chamber::Rod, 249e5), None);
        assert_eq!(alarm.take(Chamber::Rod, f64::NAN), None);
        let warning = alarm.take(Chamber::Rod, 251e5).expect("over");
        assert!(warning.contains("251 bar") && warning.contains("plug is rated for 250 bar"));
        assert_eq!(alarm.take(Chamber::Rod, 260e5), None);
        assert_eq!(alarm.take(Chamber::Rod, 245e5), None);
        assert_eq!(alarm.take(Chamber::Rod, 252e5), None);
        assert_eq!(alarm.take(Chamber::Rod, 100e5), None);
        assert!(alarm.take(Chamber::Rod, 252e5).is_some());
        // What stands from a step that allowed it is warned of only when it rises again.
        alarm.follow(
            Ratings {
                cap: None,
                rod: Some(rod),
            },
            [None, Some(380e5)],
        );
        assert_eq!(alarm.take(Chamber::Rod, 370e5), None);
        assert_eq!(alarm.take(Chamber::Rod, 100e5), None);
        assert!(alarm.take(Chamber::Rod, 252e5).is_some());
        // No rating, no warning.
        assert_eq!(alarm.take(Chamber::Cap, 900e5), None);
    }
}
