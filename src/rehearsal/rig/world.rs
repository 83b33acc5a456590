//! The rig in time: worked, standing, or left alone after a press.
//!
//! It knows nothing of boards and hosts. Times rise; a handling that begins or ends between
//! two of them is a border, and what stood there on both sides is kept.

use std::collections::VecDeque;

use crate::cylinder::Chamber;
use crate::rehearsal::physics::Growing;
use crate::rehearsal::physics::Handled;
use crate::rehearsal::physics::Instant;
use crate::rehearsal::physics::Moved;
use crate::rehearsal::physics::Passed;
use crate::rehearsal::physics::Specimen;
use crate::rehearsal::physics::Start;
use crate::rehearsal::rig::glass::Glass;
use crate::rehearsal::rig::handling::Handling;
use crate::rehearsal::rig::handling::Pose;
use crate::rehearsal::rig::unit::RigUnit;
use crate::rehearsal::rig::valve::Hands;
use crate::rehearsal::rig::valve::squeezing;
use crate::rehearsal::stiff::StiffError;

/// Hose of the bench at a port: oil in it, m³, and how stiff it is against that, Pa (0.07 to 0.35
/// GPa are usual, from memory).
pub(super) const BENCH_HOSE: (f64, f64) = (1e-3, 0.1e9);

/// What pulls the rod out all the time, N: its eye and what hangs on it.
pub(super) const PULL_N: f64 = 150.0;

/// An operator raises a pressure that only has to be passed a little over.
const SQUEEZED_OVER: f64 = 1.04;

/// A handling and when it begins, s.
pub(super) type Timed = (f64, Handling);

/// The rig in time.
pub(super) struct World {
    unit: RigUnit,
    handled: Handled,
    doing: Doing,
    /// What had passed when it was worked last, kg.
    passed_kg: Passed,
    n_presses: usize,
    stroke_m: f64,
    glass: Glass,
    /// What the glass showed of the oil that was let off last, m³.
    let_off_m3: Option<f64>,
}

/// What is going on.
enum Doing {
    /// Ports open to the tank.
    Standing(Pose),
    /// Somebody works it.
    Worked(Work),
    /// Somebody moves its rod.
    Moving(Box<Moving>),
    /// Shut off and left alone.
    Alone(Box<Growing>),
}

struct Work {
    from_s: f64,
    from: Pose,
    handling: Handling,
    filled: f64,
    /// What is let off: the cylinder as it was shut off, and the oil it held when that began, kg.
    held: Option<(Box<Specimen>, f64)>,
}

impl Work {
    /// Oil from the tank takes the place of the old.
    fn fills(&mut self, handled: &mut Handled, time_s: f64, stroke_m: f64) {
        let filled = self
            .handling
            .filled(&self.from, time_s - self.from_s, stroke_m);
        if filled > self.filled {
            handled.fill((filled - self.filled) / (1.0 - self.filled));
            self.filled = filled;
        }
    }
}

/// A rod that is moved.
struct Moving {
    work: Work,
    body: Moved,
    hands: Hands,
}

impl Moving {
    /// How the cylinder stands at a time, s, that is not before the last.
    fn pose(&mut self, time_s: f64) -> Pose {
        let since_s = time_s - self.work.from_s;
        match self.work.handling {
            Handling::Squeeze { to_pa } => self
                .body
                .goes_on(since_s, |at_s, _| squeezing(at_s, SQUEEZED_OVER * to_pa)),
            _ => self.hands.take(&mut self.body, since_s),
        }
        let (pressures_pa, x_m) = self.body.stands();
        Pose { pressures_pa, x_m }
    }
}

impl World {
    /// The unit as it is found at 0 s: vented.
    pub(super) fn new(unit: &RigUnit) -> Self {
        let found = Pose {
            pressures_pa: [0.0; 2],
            x_m: unit.specimen.start.x_m,
        };
        Self {
            unit: unit.clone(),
            handled: Handled::vented(&unit.specimen),
            doing: Doing::Standing(found),
            passed_kg: Passed::default(),
            n_presses: 0,
            stroke_m: unit.specimen.cylinder.size().stroke.value,
            glass: Glass::new(unit.seed),
            let_off_m3: None,
        }
    }

    /// What the glass showed of the oil that was let off last, as it was read, m³.
    pub(super) fn let_off_m3(&self) -> Option<f64> {
        self.let_off_m3
    }

    /// The rig at a time, s, that is not before the last. Takes what begins by then from the
    /// front of `coming`, and adds how it stood on both sides of each border to `borders`.
    ///
    /// # Errors
    /// If the physics cannot be integrated.
    pub(super) fn at(
        &mut self,
        time_s: f64,
        coming: &mut VecDeque<Timed>,
        borders: &mut Vec<Instant>,
    ) -> Result<Instant, StiffError> {
        loop {
            let begins_s = coming.front().map(|(at_s, _)| *at_s);
            let next = begins_s.filter(|at_s| *at_s <= time_s);
            if let Some(end_s) = self
                .end_s()
                .filter(|end_s| *end_s <= time_s && next.is_none_or(|at_s| *end_s <= at_s))
            {
                borders.push(self.now(end_s)?);
                self.leave_alone();
                borders.push(self.now(end_s)?);
                continue;
            }
            let Some((at_s, handling)) = next.and_then(|_| coming.pop_front()) else {
                return self.now(time_s);
            };
            borders.push(self.now(at_s)?);
            self.begin(at_s, handling)?;
            borders.push(self.now(at_s)?);
        }
    }

    /// When the work that is going on ends, s.
    fn end_s(&self) -> Option<f64> {
        match &self.doing {
            Doing::Worked(work) => Some(work.from_s + work.handling.takes_s()),
            Doing::Moving(moving) => Some(moving.work.from_s + moving.work.handling.takes_s()),
            Doing::Standing(_) | Doing::Alone(_) => None,
        }
    }

    /// The rig at a time up to the next border.
    fn now(&mut self, time_s: f64) -> Result<Instant, StiffError> {
        let worked = match &mut self.doing {
            Doing::Alone(growing) => {
                let now = growing.at(time_s)?;
                let passed_kg = now.passed_kg.and(&self.passed_kg);
                return Ok(Instant { passed_kg, ..now });
            }
            Doing::Standing(pose) => self.handled.at(time_s, pose.pressures_pa, pose.x_m),
            Doing::Worked(work) => {
                let pose = work.handling.pose(&work.from, time_s - work.from_s);
                work.fills(&mut self.handled, time_s, self.stroke_m);
                self.handled.at(time_s, pose.pressures_pa, pose.x_m)
            }
            Doing::Moving(moving) => {
                let pose = moving.pose(time_s);
                moving.work.fills(&mut self.handled, time_s, self.stroke_m);
                self.handled.at(time_s, pose.pressures_pa, pose.x_m)
            }
        };
        Ok(Instant {
            passed_kg: self.passed_kg,
            ..worked
        })
    }

    fn begin(&mut self, at_s: f64, handling: Handling) -> Result<(), StiffError> {
        let now = self.now(at_s)?;
        let mut held = None;
        if let Doing::Alone(growing) = &mut self.doing {
            growing.leave(&mut self.handled, at_s)?;
            self.passed_kg = now.passed_kg;
            if let Handling::LetOff { chamber, .. } = handling {
                let plumbed = growing.specimen().clone();
                let (kg, _) = self.handled.holds_kg(&plumbed, chamber, now.x_m);
                held = Some((Box::new(plumbed), kg));
            }
        }
        let from = Pose {
            pressures_pa: [now.p_cap_pa, now.p_rod_pa],
            x_m: now.x_m,
        };
        let work = Work {
            from_s: at_s,
            from,
            handling,
            filled: 0.0,
            held,
        };
        self.doing = match handling {
            Handling::Strokes { .. } | Handling::Squeeze { .. } => {
                Doing::Moving(Box::new(self.moving(work)))
            }
            Handling::Vent | Handling::LetOff { .. } | Handling::Press { .. } => {
                Doing::Worked(work)
            }
        };
        Ok(())
    }

    /// The rod in the hands of an operator.
    fn moving(&self, work: Work) -> Moving {
        let cylinder = &self.unit.specimen.cylinder;
        let areas_m2 = [cylinder.cap_area().value, cylinder.annulus_area().value];
        let (strokes, relief_pa, rod_hose) = match work.handling {
            Handling::Strokes { count, low_pa, x_m } => ((count, x_m), low_pa, Some(BENCH_HOSE)),
            // Shut at its port, without a hose.
            _ => ((0, work.from.x_m), 0.0, None),
        };
        let Pose { pressures_pa, x_m } = work.from;
        Moving {
            body: Moved::new(
                &self.unit.specimen,
                (self.unit.seals, PULL_N),
                [Some(BENCH_HOSE), rod_hose],
                (pressures_pa, x_m),
            ),
            hands: Hands::new(strokes, relief_pa, self.stroke_m, areas_m2),
            work,
        }
    }

    /// The work is done.
    fn leave_alone(&mut self) {
        if let Doing::Moving(moving) = &mut self.doing {
            let end_s = moving.work.from_s + moving.work.handling.takes_s();
            self.doing = Doing::Standing(moving.pose(end_s));
            return;
        }
        let Doing::Worked(work) = &mut self.doing else {
            return;
        };
        let handling = work.handling;
        let pose = handling.end(&work.from);
        let held = work.held.take();
        self.doing = match handling {
            Handling::Vent | Handling::Strokes { .. } | Handling::Squeeze { .. } => {
                Doing::Standing(pose)
            }
            Handling::LetOff { chamber, .. } => match held {
                Some((plumbed, held_kg)) => self.shut_again(&pose, chamber, (*plumbed, held_kg)),
                // Nobody had shut anything off: nothing comes out that could be read.
                None => Doing::Standing(pose),
            },
            Handling::Press { circuit, .. } => {
                let specimen = self.unit.pressed(&circuit, &pose, self.n_presses);
                self.n_presses += 1;
                let growing = Growing::after(&self.handled, specimen, self.unit.wear());
                Doing::Alone(Box::new(growing))
            }
        };
    }

    /// A pressure was let off in part: what came out is read, and the cylinder is left alone as it
    /// was plumbed before.
    fn shut_again(
        &mut self,
        pose: &Pose,
        chamber: Chamber,
        (mut plumbed, held_kg): (Specimen, f64),
    ) -> Doing {
        let (left_kg, kg_per_m3) = self.handled.holds_kg(&plumbed, chamber, pose.x_m);
        let m3 = (held_kg - left_kg) / kg_per_m3;
        self.let_off_m3 = Some(self.glass.reads_m3(m3));
        plumbed.start = Start {
            x_m: pose.x_m,
            p_cap_pa: pose.pressures_pa[0],
            p_rod_pa: pose.pressures_pa[1],
        };
        let growing = Growing::after(&self.handled, plumbed, self.unit.wear());
        Doing::Alone(Box::new(growing))
    }
}
