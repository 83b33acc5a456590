//! Follows the rod from end to end, reading by reading.

use super::bins::Bins;
use super::mean::Mean;
use super::paces::Paces;
use super::rest::Peak;
use super::rest::Rest;
use super::summary::SideSums;
use super::summary::StrokeSummary;
use super::way::OneWay;
use super::way::Travel;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use std::collections::VecDeque;

/// Part of the stroke from an end within which the rod is at that end: as strokes are counted.
const END_PART: f64 = 0.05;

/// The middle half of the stroke.
const MIDDLE: (f64, f64) = (0.25, 0.75);

/// Movement that is seen, m, and in steps of the sensor, whichever is more.
const SEEN_M: f64 = 0.2e-3;
const SEEN_STEPS: f64 = 5.0;

/// A pause of this many usual intervals between readings is a hole.
const HOLE_INTERVALS: f64 = 5.0;

/// Ways that are kept one by one; of older ones only the sums.
const WAYS_KEPT: usize = 64;

/// The cylinder and its sensors, as far as strokes ask.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokePlan {
    /// Piston area at the cap end, m².
    pub cap_m2: f64,
    /// At the rod end, m²; None for a kind whose rod end holds no pressure.
    pub rod_m2: Option<f64>,
    /// Nominal stroke, m.
    pub stroke_m: f64,
    /// What the papers of cap pressure, rod pressure and position allow.
    pub errors: [SensorErrors; 3],
    /// Steps of the three, SI units.
    pub step_si: [f64; 3],
}

/// What the sensors said at one instant; None for what is missing or outside its good band.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StrokeRow {
    /// Bench time, s.
    pub time_s: f64,
    /// Cap-end pressure, Pa gauge.
    pub cap_pa: Option<f64>,
    /// Rod-end pressure, Pa gauge.
    pub rod_pa: Option<f64>,
    /// Extension, m.
    pub x_m: Option<f64>,
}

/// The channels that strokes are read from, in the order of [`StrokePlan::errors`].
pub(super) const ROLES: [Role; 3] = [Role::CapPressure, Role::RodPressure, Role::Position];

impl StrokePlan {
    /// Of a cylinder and the channels there are; one that is not there has no errors, and no
    /// readings either.
    pub fn of<'a>(cylinder: &Cylinder, channel: impl Fn(Role) -> Option<&'a Channel>) -> Self {
        let has_rod_side = cylinder.kind().chambers().contains(&Chamber::Rod);
        const NONE: SensorErrors = SensorErrors {
            zero_si: 0.0,
            span_relative: 0.0,
            zero_si_per_k: 0.0,
        };
        Self {
            cap_m2: cylinder.area(Chamber::Cap).value,
            rod_m2: has_rod_side.then(|| cylinder.area(Chamber::Rod).value),
            stroke_m: cylinder.size().stroke.value,
            errors: ROLES.map(|role| channel(role).map_or(NONE, |c| c.errors)),
            step_si: ROLES.map(|role| channel(role).map_or(0.0, |c| c.resolution_si())),
        }
    }

    /// Whether a channel is needed at all.
    pub(super) fn needs(&self, index: usize) -> bool {
        index != 1 || self.rod_m2.is_some()
    }

    /// Area that pushes one way, m²; a kind that only its load retracts has the cap's for both.
    pub(super) fn pushing_m2(&self, travel: Travel) -> f64 {
        match (travel, self.rod_m2) {
            (Travel::In, Some(rod_m2)) => rod_m2,
            _ => self.cap_m2,
        }
    }

    fn seen_m(&self) -> f64 {
        SEEN_M.max(SEEN_STEPS * self.step_si[2])
    }
}

impl StrokeRow {
    /// Forces of cap and rod side on the piston, N; None if one was not read.
    fn forces_n(&self, plan: &StrokePlan) -> Option<(f64, f64)> {
        let rod_n = match plan.rod_m2 {
            Some(rod_m2) => self.rod_pa? * rod_m2,
            None => 0.0,
        };
        Some((self.cap_pa? * plan.cap_m2, rod_n))
    }
}

/// Where the rod is.
#[derive(Debug, Clone, PartialEq)]
enum Place {
    /// Somewhere; nothing is known of how it came there.
    Unknown,
    /// At an end, with the way that brought it there.
    AtEnd(Rest, Option<Box<Done>>),
    /// Under way from an end.
    Under(Box<Under>),
}

/// A way that is going on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Under {
    pub travel: Travel,
    pub from_s: f64,
    start_m: f64,
    is_from_rest: bool,
    pub breakaway: Option<Peak>,
    pub bins: Bins,
    pub paces: Paces,
    pub cap_n: Mean,
    pub rod_n: Mean,
    pub is_read: bool,
}

/// A way that came to its end, and is only waiting for its rest.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Done {
    pub under: Under,
    pub until_s: f64,
}

/// Follows strokes. Its size does not grow with their number.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeWatch {
    pub(super) plan: StrokePlan,
    place: Place,
    latest_s: Option<f64>,
    interval: Mean,
    /// Position before, while the rod stands; with squares of what it trembles, m².
    still_m: Option<f64>,
    trembles: Mean,
    pub(super) n_rows: u64,
    pub(super) n_lost: [u64; 3],
    pub(super) n_holes: u32,
    pub(super) sides: [SideSums; 2],
    pub(super) lengths: Mean,
    pub(super) ways: VecDeque<OneWay>,
}

impl StrokeWatch {
    /// Nothing seen yet.
    pub fn new(plan: StrokePlan) -> Self {
        Self {
            plan,
            place: Place::Unknown,
            latest_s: None,
            interval: Mean::default(),
            still_m: None,
            trembles: Mean::default(),
            n_rows: 0,
            n_lost: [0; 3],
            n_holes: 0,
            sides: Default::default(),
            lengths: Mean::default(),
            ways: VecDeque::new(),
        }
    }

    /// Takes what was read at an instant; times rise.
    pub fn push(&mut self, row: &StrokeRow) {
        self.n_rows += 1;
        let read = [row.cap_pa, row.rod_pa, row.x_m];
        for (index, value) in read.iter().enumerate() {
            let is_lost = self.plan.needs(index) && value.is_none_or(|v| !v.is_finite());
            self.n_lost[index] += u64::from(is_lost);
        }
        let is_hole = self.is_hole(row.time_s);
        self.latest_s = Some(row.time_s);
        let x_m = row.x_m.filter(|x| x.is_finite() && !is_hole);
        let Some(x_m) = x_m else {
            self.settle();
            self.place = Place::Unknown;
            self.still_m = None;
            return;
        };
        let place = std::mem::replace(&mut self.place, Place::Unknown);
        self.place = match place {
            Place::Unknown => self.found(row.time_s, x_m),
            Place::AtEnd(rest, done) => self.at_end(rest, done, row, x_m),
            Place::Under(under) => self.under(under, row, x_m),
        };
    }

    /// What was seen so far, as figures with their uncertainty.
    pub fn summary(&self) -> StrokeSummary {
        let mut whole = self.clone();
        whole.settle();
        StrokeSummary::of(&whole)
    }

    /// Standard deviation of one reading of the position, m, as the rod stood.
    pub(super) fn noise_m(&self) -> f64 {
        let trembles = self
            .trembles
            .value()
            .map_or(0.0, |square| (0.5 * square).sqrt());
        trembles.max(self.plan.step_si[2] / 12.0_f64.sqrt())
    }

    fn is_hole(&mut self, time_s: f64) -> bool {
        let Some(interval_s) = self.latest_s.map(|latest_s| time_s - latest_s) else {
            return false;
        };
        let usual_s = self.interval.value().unwrap_or(interval_s);
        if interval_s > HOLE_INTERVALS * usual_s {
            self.n_holes += 1;
            return true;
        }
        self.interval.push(interval_s);
        false
    }

    /// The end at which a place lies, as the way that leads from there.
    fn way_from(&self, x_m: f64) -> Option<Travel> {
        let part = x_m / self.plan.stroke_m;
        if part <= END_PART {
            Some(Travel::Out)
        } else {
            (part >= 1.0 - END_PART).then_some(Travel::In)
        }
    }

    fn found(&self, time_s: f64, x_m: f64) -> Place {
        match self.way_from(x_m) {
            Some(travel) => Place::AtEnd(Rest::new(travel, time_s, x_m), None),
            None => Place::Unknown,
        }
    }

    fn at_end(
        &mut self,
        mut rest: Rest,
        done: Option<Box<Done>>,
        row: &StrokeRow,
        x_m: f64,
    ) -> Place {
        let before = rest.clone();
        let is_gone = rest.goes(row.time_s, x_m, self.plan.seen_m());
        rest.pushed(row.forces_n(&self.plan).map(|(cap_n, rod_n)| cap_n - rod_n));
        if !is_gone {
            if let Some(still_m) = self.still_m.filter(|_| before.is_long() && rest.is_long()) {
                self.trembles.push((x_m - still_m).powi(2));
            }
            self.still_m = Some(x_m);
            return Place::AtEnd(rest, done);
        }
        self.still_m = None;
        if let Some(done) = done {
            self.finish(*done, Some(&before));
        }
        Place::Under(Box::new(Under {
            travel: rest.travel,
            from_s: row.time_s,
            start_m: before.place_m(),
            is_from_rest: before.is_long(),
            breakaway: rest.breakaway(),
            bins: Bins::default(),
            paces: Paces::default(),
            cap_n: Mean::default(),
            rod_n: Mean::default(),
            is_read: true,
        }))
    }

    fn under(&mut self, mut under: Box<Under>, row: &StrokeRow, x_m: f64) -> Place {
        let sign = under.travel.sign();
        match self.way_from(x_m) {
            Some(from) if from == under.travel.back() => {
                let rest = Rest::new(from, row.time_s, x_m);
                let done = Done {
                    under: *under,
                    until_s: row.time_s,
                };
                return Place::AtEnd(rest, Some(Box::new(done)));
            }
            // It came back: no way of its own.
            Some(_) if sign * (x_m - under.start_m) < 0.5 * self.plan.seen_m() => {
                return self.found(row.time_s, x_m);
            }
            _ => {}
        }
        let part = (x_m / self.plan.stroke_m - MIDDLE.0) / (MIDDLE.1 - MIDDLE.0);
        if (0.0..=1.0).contains(&part) {
            under.paces.push(row.time_s, sign * x_m);
            match row.forces_n(&self.plan) {
                Some((cap_n, rod_n)) => {
                    under.bins.push(part, sign * (cap_n - rod_n));
                    under.cap_n.push(cap_n);
                    under.rod_n.push(rod_n);
                }
                None => under.is_read = false,
            }
        }
        Place::Under(under)
    }

    /// What waits for its rest need not wait any longer.
    fn settle(&mut self) {
        if let Place::AtEnd(rest, done) = &mut self.place {
            let (rest, done) = (rest.clone(), done.take());
            if let Some(done) = done {
                self.finish(*done, Some(&rest));
            }
        }
    }

    /// Counts a way that came to its end.
    fn finish(&mut self, done: Done, rest: Option<&Rest>) {
        let under = &done.under;
        let rest = rest.filter(|rest| rest.is_long() && under.is_from_rest);
        let length_m = rest.map(|rest| (rest.place_m() - under.start_m).abs());
        if let Some(length_m) = length_m {
            self.lengths.push(length_m);
        }
        let noise_m = self.noise_m();
        let side = match under.travel {
            Travel::Out => &mut self.sides[0],
            Travel::In => &mut self.sides[1],
        };
        let way = side.add(&done, self.plan.pushing_m2(under.travel), noise_m, length_m);
        if self.ways.len() == WAYS_KEPT {
            self.ways.pop_front();
        }
        self.ways.push_back(way);
    }
}
