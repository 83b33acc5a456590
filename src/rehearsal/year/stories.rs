//! What happens to each cylinder in the year.

use crate::rehearsal::scenario::Fault;
use crate::rehearsal::scenario::Unit;
use crate::rehearsal::year::Becomes;
use crate::rehearsal::year::DAY_MS;
use crate::rehearsal::year::Planned;
use crate::rehearsal::year::Purpose;
use crate::rehearsal::year::Seen;
use crate::rehearsal::year::Sums;
use crate::rehearsal::year::Used;
use crate::rehearsal::year::Visit;
use crate::rehearsal::year::YEAR_UTC_MS;
use crate::rehearsal::year::units::State;
use crate::rehearsal::year::units::bought;
use crate::rehearsal::year::units::test_of;
use crate::rehearsal::year::units::units;
use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;

/// Counted hold of a cylinder as it comes in, and of one that goes out, s.
const FOUND_HOLD_S: f64 = 300.0;
const LEFT_HOLD_S: f64 = 600.0;

/// How many kinds of story there are; cylinders take them in turn.
const N_STORIES: usize = 16;

/// A good piston seal.
const TIGHT: State = State {
    piston: 0.08,
    gland: 0.0,
    valve: None,
};

const ROLES: [&str; 3] = ["fitter 1", "fitter 2", "bench technician"];

type Piece = (Unit, Purpose);

/// All visits of a year, in the order in which they come in.
pub fn visits(seed: u64) -> Vec<Visit> {
    let mut year = Year {
        dice: ChaCha8Rng::seed_from_u64(seed),
        taken: BTreeSet::new(),
        n_bought: 0,
        all: Vec::new(),
    };
    for (index, piece) in units().into_iter().enumerate() {
        let is_kept = year.story(index % N_STORIES, piece);
        if is_kept {
            year.check(piece);
        }
    }
    let mut all = year.all;
    all.sort_by_key(|visit| visit.in_and_out_utc_ms);
    all
}

struct Year {
    dice: ChaCha8Rng,
    taken: BTreeSet<i64>,
    n_bought: usize,
    all: Vec<Visit>,
}

impl Year {
    /// The year's main visit of a cylinder; whether the depot still has it afterwards.
    fn story(&mut self, story: usize, piece: Piece) -> bool {
        let day = self.dice.random_range(2..150);
        match story {
            6 | 7 => {
                self.rebuild(piece, day, "");
                let back = day + self.dice.random_range(60..100);
                self.rebuild(piece, back, ", came back after the last rebuild");
            }
            8 => self.replaced(piece, day, true),
            9 => self.replaced(piece, day, false),
            10 => self.valve(piece, day),
            12 => self.gland(piece, day),
            13 => self.close(piece, day),
            14 => self.trouble(piece, day),
            15 => self.mistaken(piece, day),
            _ => self.rebuild(piece, day, ""),
        }
        if story == 3 {
            self.entered_wrongly(piece, day - 2);
        }
        !matches!(story, 8 | 9)
    }

    /// A free half hour of a working day, from a day on; 1 January 2025 was a Wednesday.
    fn slot(&mut self, day: i64) -> i64 {
        let mut day = day;
        loop {
            let is_weekend = (day + 2) % 7 >= 5;
            let half_hour = self.dice.random_range(16..32);
            let at_utc_ms = YEAR_UTC_MS + day * DAY_MS + half_hour * DAY_MS / 48;
            if !is_weekend && self.taken.insert(at_utc_ms) {
                return at_utc_ms;
            }
            day += i64::from(is_weekend);
        }
    }

    fn test(
        &mut self,
        piece: Piece,
        day: i64,
        (name, state, hold_s): (&'static str, State, f64),
    ) -> Planned {
        let at_utc_ms = self.slot(day);
        let mut scenario = test_of(piece, state, hold_s, self.dice.random());
        scenario.name = name;
        Planned {
            at_utc_ms,
            scenario,
            withdrawn: "",
        }
    }

    /// A leak as it comes in, as a part of what may be.
    fn worn(&mut self) -> State {
        State {
            piston: self.dice.random_range(3.0..12.0),
            ..TIGHT
        }
    }

    /// A test as it came in and one as it goes out, two days later.
    fn before_and_after(&mut self, piece: Piece, day: i64, state: State) -> Vec<Planned> {
        let found = self.test(piece, day + 1, ("as-found", state, FOUND_HOLD_S));
        let after = self.test(
            piece,
            day_of(found.at_utc_ms) + 2,
            ("after-rebuild", TIGHT, LEFT_HOLD_S),
        );
        vec![found, after]
    }

    fn visit(&mut self, (unit, purpose): Piece, tests: Vec<Planned>) -> Visit {
        let first = tests.first().map_or(YEAR_UTC_MS, |test| test.at_utc_ms);
        let last = tests.last().map_or(YEAR_UTC_MS, |test| test.at_utc_ms);
        // In at seven on the day of the first test, out at five on that of the last.
        let at = |utc_ms: i64, hour: i64| utc_ms - utc_ms % DAY_MS + hour * DAY_MS / 24;
        Visit {
            unit,
            in_and_out_utc_ms: (at(first, 7), at(last, 17)),
            symptom: self.symptom(purpose),
            drifts_and_class: (falls(purpose), 0),
            role: ROLES[self.dice.random_range(0..ROLES.len())],
            tests,
            seen: Vec::new(),
            used: Vec::new(),
            sums: None,
            becomes: Becomes::Left(""),
        }
    }

    fn symptom(&mut self, purpose: Purpose) -> String {
        let what = match purpose {
            Purpose::PloughLift => ["plough sinks overnight", "plough drops on the road"],
            Purpose::TippingRam => ["hopper comes down by itself", "ram sinks when tipped"],
            Purpose::LoaderTilt => ["bucket tips forward", "tilt creeps under load"],
            Purpose::SweeperLift => ["brush sinks to the road", "brush will not stay up"],
        };
        what[self.dice.random_range(0..what.len())].to_owned()
    }

    fn rebuild(&mut self, piece: Piece, day: i64, back: &str) {
        let state = self.worn();
        let tests = self.before_and_after(piece, day, state);
        let mut visit = self.visit(piece, tests);
        visit.symptom.push_str(back);
        visit.seen = vec![match back.is_empty() {
            true => worn_part("piston seal", "lip torn", (0.12, 0.05)),
            false => worn_part("tube", "scored lengthways, seal cut again", (0.06, 0.03)),
        }];
        visit.used = kit(piece.1);
        if !back.is_empty() {
            visit.used.push(("guide ring", 12.5, false));
        }
        visit.sums = Some(Sums {
            outside_work: if back.is_empty() { 0.0 } else { 95.0 },
            ..sound(piece.1)
        });
        visit.becomes = Becomes::Rebuilt;
        self.all.push(visit);
    }

    fn replaced(&mut self, piece: Piece, day: i64, is_structural: bool) {
        let state = self.worn();
        let found = self.test(piece, day + 1, ("as-found", state, FOUND_HOLD_S));
        let new = bought(piece, self.n_bought);
        self.n_bought += 1;
        let later = day_of(found.at_utc_ms) + 3;
        let mut visit = self.visit(piece, vec![found]);
        visit.seen = vec![worn_part("piston seal", "lip torn", (0.2, 0.05))];
        visit.used = kit(piece.1);
        match is_structural {
            true => visit.seen.push(Seen {
                part: "tube",
                condition: "crack at the port weld",
                structural: true,
                wear_mm: None,
            }),
            false => {
                let rod = worn_part("rod", "chrome gone over a third", (0.4, 0.02));
                visit.seen.push(rod);
                visit.used.push(("rod", 380.0, false));
            }
        }
        let sums = sound(piece.1);
        visit.sums = Some(match is_structural {
            true => sums,
            false => Sums {
                rebuild_hours: 9.0,
                outside_work: 0.6 * sums.replace_price,
                rebuild_days: 8.0,
                replace_days: 3.0,
                ..sums
            },
        });
        visit.becomes = Becomes::Replaced;
        let place = visit.unit.tag;
        self.all.push(visit);
        let test = self.test(new, later, ("new-cylinder", TIGHT, LEFT_HOLD_S));
        let mut visit = self.visit(new, vec![test]);
        visit.symptom = format!("new, in place of {place}");
        visit.drifts_and_class = ("no", 0);
        visit.becomes = Becomes::Left("new; tested before it is fitted");
        self.all.push(visit);
    }

    fn valve(&mut self, piece: Piece, day: i64) {
        let on = |valve| State {
            valve: Some(valve),
            ..TIGHT
        };
        let found = ("on-the-valve", on(4.0), FOUND_HOLD_S);
        let found = self.test(piece, day + 1, found);
        let blocked = ("blocked-ports", TIGHT, LEFT_HOLD_S);
        let blocked = self.test(piece, day_of(found.at_utc_ms) + 1, blocked);
        let after = ("on-a-new-valve", on(0.02), LEFT_HOLD_S);
        let after = self.test(piece, day_of(blocked.at_utc_ms) + 2, after);
        let mut visit = self.visit(piece, vec![found, blocked, after]);
        visit.seen = vec![Seen {
            part: "holding valve",
            condition: "seat marked, dirt under it",
            structural: false,
            wear_mm: None,
        }];
        visit.used = vec![("holding valve cartridge", 72.0, false)];
        visit.becomes = Becomes::Left("with blocked ports it holds: the valve was changed");
        self.all.push(visit);
    }

    fn gland(&mut self, piece: Piece, day: i64) {
        let state = State {
            piston: 4.0,
            gland: self.dice.random_range(2.0..6.0),
            valve: None,
        };
        let tests = self.before_and_after(piece, day, state);
        let mut visit = self.visit(piece, tests);
        visit.symptom.push_str(", oil on the rod");
        visit.drifts_and_class = (falls(piece.1), 3);
        visit.seen = vec![
            worn_part("rod seal", "hard and cracked", (0.1, 0.05)),
            worn_part("piston seal", "worn flat", (0.08, 0.05)),
        ];
        visit.used = kit(piece.1);
        visit.sums = Some(sound(piece.1));
        visit.becomes = Becomes::Rebuilt;
        self.all.push(visit);
    }

    fn close(&mut self, piece: Piece, day: i64) {
        let state = State {
            piston: 1.05,
            ..TIGHT
        };
        let found = self.test(piece, day + 1, ("as-found", state, FOUND_HOLD_S));
        let next = day_of(found.at_utc_ms) + 1;
        let longer = self.test(piece, next, ("a-longer-hold", state, 1.5 * LEFT_HOLD_S));
        let next = day_of(longer.at_utc_ms) + 2;
        let after = self.test(piece, next, ("after-rebuild", TIGHT, LEFT_HOLD_S));
        let mut visit = self.visit(piece, vec![found, longer, after]);
        visit.symptom.push_str(" after a night, a little");
        visit.seen = vec![worn_part("piston seal", "worn evenly", (0.05, 0.05))];
        visit.used = kit(piece.1);
        visit.sums = Some(sound(piece.1));
        visit.becomes = Becomes::Rebuilt;
        self.all.push(visit);
    }

    fn trouble(&mut self, piece: Piece, day: i64) {
        let state = self.worn();
        let mut lost = self.test(piece, day + 1, ("as-found", state, FOUND_HOLD_S));
        lost.scenario.faults = vec![match self.dice.random_range(0..2) {
            0 => Fault::PositionLost {
                from_s: 150.0,
                length_s: 12.0,
            },
            _ => Fault::BlocksLost { share: 0.06 },
        }];
        let next = day_of(lost.at_utc_ms);
        let again = self.test(piece, next + 1, ("once-more", state, FOUND_HOLD_S));
        let next = day_of(again.at_utc_ms) + 2;
        let after = self.test(piece, next, ("after-rebuild", TIGHT, LEFT_HOLD_S));
        let mut visit = self.visit(piece, vec![lost, again, after]);
        visit.seen = vec![worn_part("piston seal", "lip torn", (0.15, 0.05))];
        visit.used = kit(piece.1);
        visit.sums = Some(sound(piece.1));
        visit.becomes = Becomes::Rebuilt;
        self.all.push(visit);
    }

    fn mistaken(&mut self, piece: Piece, day: i64) {
        let state = self.worn();
        let mut wrong = self.test(piece, day + 1, ("as-found", TIGHT, FOUND_HOLD_S));
        wrong.withdrawn = "another cylinder was on the bench: its tag was read wrong";
        let next = day_of(wrong.at_utc_ms);
        let again = self.test(piece, next + 1, ("once-more", state, FOUND_HOLD_S));
        let next = day_of(again.at_utc_ms) + 2;
        let after = self.test(piece, next, ("after-rebuild", TIGHT, LEFT_HOLD_S));
        let mut visit = self.visit(piece, vec![wrong, again, after]);
        visit.seen = vec![worn_part("piston seal", "lip torn", (0.1, 0.05))];
        visit.used = kit(piece.1);
        visit.sums = Some(sound(piece.1));
        visit.becomes = Becomes::Rebuilt;
        self.all.push(visit);
    }

    fn entered_wrongly(&mut self, piece: Piece, day: i64) {
        let mut visit = self.visit(piece, Vec::new());
        let at = YEAR_UTC_MS + day * DAY_MS + DAY_MS / 2;
        visit.in_and_out_utc_ms = (at, at + DAY_MS / 24);
        visit.becomes = Becomes::NeverCame("entered for the wrong cylinder");
        self.all.push(visit);
    }

    /// The yearly check before winter.
    fn check(&mut self, piece: Piece) {
        let day = self.dice.random_range(256..340);
        let test = self.test(piece, day, ("yearly-check", TIGHT, LEFT_HOLD_S));
        let mut visit = self.visit(piece, vec![test]);
        visit.symptom = "yearly check before winter".into();
        visit.drifts_and_class = ("no", 0);
        visit.becomes = Becomes::Left("nothing found");
        self.all.push(visit);
    }
}

fn day_of(utc_ms: i64) -> i64 {
    (utc_ms - YEAR_UTC_MS) / DAY_MS
}

fn falls(purpose: Purpose) -> &'static str {
    match purpose {
        Purpose::SweeperLift => "extends",
        _ => "retracts",
    }
}

fn worn_part(part: &'static str, condition: &'static str, wear_mm: (f64, f64)) -> Seen {
    Seen {
        part,
        condition,
        structural: false,
        wear_mm: Some(wear_mm),
    }
}

fn kit(purpose: Purpose) -> Vec<Used> {
    vec![match purpose {
        Purpose::PloughLift => ("seal kit 63/36", 84.0, true),
        Purpose::TippingRam => ("seal kit 80/45", 96.0, true),
        Purpose::LoaderTilt => ("seal kit 100/56", 128.0, true),
        Purpose::SweeperLift => ("seal kit 50/28", 61.0, true),
    }]
}

/// What either way costs for one that is sound but for its seals.
fn sound(purpose: Purpose) -> Sums {
    Sums {
        rebuild_hours: 3.5,
        outside_work: 0.0,
        rebuild_days: 2.0,
        replace_price: match purpose {
            Purpose::PloughLift => 640.0,
            Purpose::TippingRam => 890.0,
            Purpose::LoaderTilt => 1240.0,
            Purpose::SweeperLift => 480.0,
        },
        replace_days: 6.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_has_one_year_and_no_two_tests_at_once() {
        let year = visits(1);
        assert_eq!(year, visits(1));
        assert_ne!(year, visits(2));
        let tests = |of: &[Visit]| {
            let tests = of.iter().flat_map(|visit| visit.tests.iter());
            tests.map(|test| test.at_utc_ms).collect::<Vec<_>>()
        };
        let all: BTreeSet<i64> = tests(&year).into_iter().collect();
        assert_eq!(all.len(), tests(&year).len());
        assert!(all.len() >= 200, "{}", all.len());
        let in_year = YEAR_UTC_MS..YEAR_UTC_MS + 365 * DAY_MS;
        assert!(all.iter().all(|at| in_year.contains(at)));
        let tags: BTreeSet<&str> = year.iter().map(|visit| visit.unit.tag).collect();
        assert!(tags.len() >= 60, "{}", tags.len());
        let machines: BTreeSet<&str> = year.iter().map(|visit| visit.unit.machine).collect();
        assert!(machines.len() >= 12, "{}", machines.len());
    }

    #[test]
    fn a_cylinder_is_in_the_shop_once_at_a_time() {
        for seed in 1..20 {
            let mut year = visits(seed);
            year.retain(|visit| !visit.tests.is_empty());
            year.sort_by_key(|visit| (visit.unit.tag, visit.in_and_out_utc_ms));
            for pair in year.windows(2) {
                let is_same = pair[0].unit.tag == pair[1].unit.tag;
                let (out, back) = (pair[0].in_and_out_utc_ms.1, pair[1].in_and_out_utc_ms.0);
                assert!(!is_same || out < back, "{} {out} {back}", pair[0].unit.tag);
            }
        }
    }
}
