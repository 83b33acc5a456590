//! The board's time line: ticks without wrap-around, and what is missing in between.
//!
//! Fed with every block of samples and every status of one board, in the order they
//! came. The relation to the host's time is not known here.
//!
//! Invariants: a block that is placed on the line after another lies later; nothing
//! between two blocks is lost without being named. Ticks wrap every 71.6 minutes, so
//! two messages in a row must be less than 35.8 minutes apart; a link silent for that
//! long was given up long before (`SILENCE_LIMIT_MS`) and gets a new clock.

use crate::samples::Samples;
use crate::status::Status;

/// The line begins here and not at 0, so that a tick shortly before the first one
/// seen (a block that was begun before a status was sent) has room.
const ORIGIN_US: u64 = 1 << 32;

/// How many samples back a block may begin and still be an old one, not a restart.
const OLD_LIMIT_SAMPLES: u32 = 1_024;

/// Where a message lies on the board's time line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[must_use]
pub struct Placement {
    /// Microseconds of board time of the first sample, or of the status. The origin is
    /// arbitrary and a new one after each restart; only differences mean anything.
    pub at_us: u64,
    /// How it follows what came before.
    pub continuity: Continuity,
}

/// How a message follows what came before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Continuity {
    /// Nothing of its sort came before.
    First,
    /// Follows in number and in time.
    Continues,
    /// Follows in number but came later than one interval: the board had been stopped.
    Pause {
        /// How much later, in microseconds.
        pause_us: u64,
    },
    /// Samples between the last block and this one never arrived.
    Gap {
        /// How many.
        n_lost: u32,
    },
    /// Came before, or belongs before the last block. To be dropped.
    Old,
    /// The board began anew: sequence numbers or ticks went back. Times before and
    /// after cannot be compared.
    Restart,
}

/// Places the messages of one board on its time line.
#[derive(Debug, Clone, Copy, Default)]
pub struct SampleClock {
    newest_us: Option<u64>,
    last_block: Option<LastBlock>,
    last_was_old: bool,
    n_restarts: u32,
}

#[derive(Debug, Clone, Copy)]
struct LastBlock {
    next_sequence: u32,
    last_sample_us: u64,
    interval_us: u32,
}

impl SampleClock {
    /// Begins with nothing known.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            newest_us: None,
            last_block: None,
            last_was_old: false,
            n_restarts: 0,
        }
    }

    /// Places a block by its first sample; sample n lies `n * interval_us` later.
    pub fn place_samples(&mut self, samples: &Samples<'_>) -> Placement {
        let at_us = self.unwrapped(samples.first_tick_us());
        let continuity = match &self.last_block {
            None => Continuity::First,
            Some(last) => last.followed_by(samples, at_us, self.last_was_old),
        };
        self.last_was_old = continuity == Continuity::Old;
        if self.last_was_old {
            return Placement { at_us, continuity };
        }
        let at_us = match continuity {
            Continuity::Restart => self.begin_anew(samples.first_tick_us()),
            _ => at_us,
        };
        let last_sample_us = at_us + u64::from(samples.span_us());
        self.last_block = Some(LastBlock {
            next_sequence: samples.next_sequence(),
            last_sample_us,
            interval_us: samples.interval_us(),
        });
        self.newest_us = self.newest_us.max(Some(last_sample_us));
        Placement { at_us, continuity }
    }

    /// Places a status. Needed while no samples flow, or a long stop would hide a
    /// wrap-around. `First`, `Continues` or `Restart`; the block after such a restart
    /// is again `First`.
    pub fn place_status(&mut self, status: &Status) -> Placement {
        let at_us = self.unwrapped(status.tick_us);
        let (at_us, continuity) = match self.newest_us {
            None => (at_us, Continuity::First),
            Some(newest_us) if at_us < newest_us => {
                (self.begin_anew(status.tick_us), Continuity::Restart)
            }
            Some(_) => (at_us, Continuity::Continues),
        };
        self.newest_us = Some(at_us);
        Placement { at_us, continuity }
    }

    /// Restarts noticed so far.
    #[must_use]
    pub const fn n_restarts(&self) -> u32 {
        self.n_restarts
    }

    fn unwrapped(&self, tick_us: u32) -> u64 {
        let Some(newest_us) = self.newest_us else {
            return ORIGIN_US + u64::from(tick_us);
        };
        // The low half of the line is the tick of the newest message, because the
        // origin is a whole number of wraps.
        let newest_tick_us = (newest_us % (1 << 32)) as u32;
        let forward_us = tick_us.wrapping_sub(newest_tick_us).cast_signed();
        newest_us.saturating_add_signed(i64::from(forward_us))
    }

    fn begin_anew(&mut self, tick_us: u32) -> u64 {
        let at_us = ORIGIN_US + u64::from(tick_us);
        self.newest_us = Some(at_us);
        self.last_block = None;
        self.last_was_old = false;
        self.n_restarts = self.n_restarts.saturating_add(1);
        at_us
    }
}

impl LastBlock {
    fn followed_by(&self, samples: &Samples<'_>, at_us: u64, last_was_old: bool) -> Continuity {
        let first_sequence = samples.first_sequence();
        let ahead = first_sequence
            .wrapping_sub(self.next_sequence)
            .cast_signed();
        if ahead < 0 {
            let n_back = ahead.unsigned_abs();
            // A line does not repeat itself twice; a board that began anew and whose
            // first block was lost does look like that, if it starts always alike.
            let may_be_old = first_sequence != 0 && !last_was_old && n_back <= OLD_LIMIT_SAMPLES;
            return if may_be_old && self.is_where_it_was(n_back, at_us) {
                Continuity::Old
            } else {
                Continuity::Restart
            };
        }
        let Some(step_us) = at_us.checked_sub(self.last_sample_us).filter(|&us| us > 0) else {
            return Continuity::Restart;
        };
        if ahead > 0 {
            return Continuity::Gap {
                n_lost: ahead.unsigned_abs(),
            };
        }
        let interval_us = u64::from(self.interval_us.max(samples.interval_us()));
        match step_us.saturating_sub(interval_us) {
            late_us if late_us > interval_us / 2 => Continuity::Pause { pause_us: late_us },
            _ => Continuity::Continues,
        }
    }

    /// Whether a sample `n_back` before the next one belongs to this time.
    fn is_where_it_was(&self, n_back: u32, at_us: u64) -> bool {
        let interval_us = u64::from(self.interval_us);
        let back_us = interval_us * u64::from(n_back.saturating_sub(1));
        self.last_sample_us.saturating_sub(back_us).abs_diff(at_us) <= interval_us
    }
}

#[cfg(test)]
mod tests {
    use std::vec::Vec;

    use super::Continuity::{Continues, First, Gap, Old, Pause, Restart};
    use super::*;
    use crate::status::BoardFlags;

    /// Three samples a block, 100 ms apart.
    const INTERVAL_US: u32 = 100_000;

    enum Said {
        /// First sequence number and first tick.
        Block(u32, u32),
        /// Tick.
        Status(u32),
    }
    use Said::{Block, Status as Told};

    #[test]
    fn blocks_one_after_the_other_continue() {
        check(
            &[Block(0, 5_000), Block(3, 305_000), Block(6, 605_000)],
            &[(First, 0), (Continues, 300_000), (Continues, 600_000)],
        );
    }

    #[test]
    fn a_small_error_of_the_tick_is_no_pause() {
        check(
            &[Block(0, 0), Block(3, 349_999), Block(6, 600_000)],
            &[(First, 0), (Continues, 349_999), (Continues, 600_000)],
        );
    }

    #[test]
    fn a_missing_block_is_a_gap_of_its_samples() {
        check(
            &[Block(0, 0), Block(6, 600_000), Block(10, 1_000_000)],
            &[
                (First, 0),
                (Gap { n_lost: 3 }, 600_000),
                (Gap { n_lost: 1 }, 1_000_000),
            ],
        );
    }

    #[test]
    fn ticks_and_numbers_wrap_without_a_gap() {
        check(
            &[
                Block(u32::MAX - 5, u32::MAX - 549_999),
                Block(u32::MAX - 2, u32::MAX - 249_999),
                Block(0, 50_000),
                Block(3, 350_000),
            ],
            &[
                (First, 0),
                (Continues, 300_000),
                (Continues, 600_000),
                (Continues, 900_000),
            ],
        );
    }

    #[test]
    fn a_gap_over_both_wraps_is_counted() {
        check(
            &[Block(u32::MAX - 2, u32::MAX - 299_999), Block(3, 300_000)],
            &[(First, 0), (Gap { n_lost: 3 }, 600_000)],
        );
    }

    #[test]
    fn three_hours_of_blocks_unwrap_to_three_hours() {
        let mut clock = SampleClock::new();
        let n_blocks = 3 * 3_600 * 10 / 3;
        let mut begin_us = None;
        for block_index in 0..n_blocks {
            let at_us = u64::from(block_index) * 300_000 + 4_000_000_000;
            let tick_us = (at_us % (1 << 32)) as u32;
            let placement = place(&mut clock, &Block(block_index * 3, tick_us));
            let begin_us = *begin_us.get_or_insert(placement.at_us);
            assert_eq!(placement.at_us - begin_us, u64::from(block_index) * 300_000);
        }
        assert_eq!(clock.n_restarts(), 0);
    }

    #[test]
    fn a_repeated_block_is_old_and_changes_nothing() {
        check(
            &[
                Block(0, 7),
                Block(3, 300_007),
                Block(3, 300_007),
                Block(6, 600_007),
            ],
            &[
                (First, 0),
                (Continues, 300_000),
                (Old, 300_000),
                (Continues, 600_000),
            ],
        );
    }

    #[test]
    fn a_block_that_was_overtaken_is_old() {
        check(
            &[
                Block(3, 300_000),
                Block(9, 900_000),
                Block(6, 600_000),
                Block(12, 1_200_000),
            ],
            &[
                (First, 0),
                (Gap { n_lost: 3 }, 600_000),
                (Old, 300_000),
                (Continues, 900_000),
            ],
        );
    }

    #[test]
    fn number_zero_is_a_restart() {
        check_restart(&[Block(3_000, 300_000_000), Block(0, 1_600_000)]);
    }

    #[test]
    fn number_zero_at_the_tick_of_the_first_time_is_a_restart() {
        check_restart(&[Block(0, 50_000), Block(0, 50_000)]);
    }

    #[test]
    fn a_restart_whose_first_block_was_lost_is_noticed() {
        check_restart(&[Block(3_000, 300_000_000), Block(3, 1_900_000)]);
    }

    #[test]
    fn a_restart_that_hides_in_the_same_ticks_is_noticed_with_its_second_block() {
        let mut clock = SampleClock::new();
        for (said, expected) in [
            (Block(30, 3_000_000), First),
            (Block(3, 300_000), Old),
            (Block(6, 600_000), Restart),
            (Block(9, 900_000), Continues),
        ] {
            assert_eq!(place(&mut clock, &said).continuity, expected);
        }
    }

    #[test]
    fn a_tick_that_goes_back_is_a_restart_though_the_number_goes_on() {
        check_restart(&[Block(30, 9_000_000), Block(33, 2_000_000)]);
        check_restart(&[Block(30, 9_000_000), Block(90, 2_000_000)]);
    }

    #[test]
    fn the_next_number_must_be_later_than_the_last_sample() {
        check_restart(&[Block(30, 9_000_000), Block(33, 9_200_000)]);
        check(
            &[Block(30, 9_000_000), Block(33, 9_200_001)],
            &[(First, 0), (Continues, 200_001)],
        );
    }

    #[test]
    fn a_status_before_an_earlier_status_is_a_restart_though_a_block_came_between() {
        let mut clock = SampleClock::new();
        for (said, expected) in [
            (Told(9_500_000), First),
            (Block(30, 9_200_000), First),
            (Told(9_450_000), Restart),
        ] {
            assert_eq!(place(&mut clock, &said).continuity, expected);
        }
    }

    #[test]
    fn a_status_that_goes_back_is_a_restart_and_the_next_block_a_first_one() {
        let mut clock = SampleClock::new();
        for (said, expected) in [
            (Block(30, 9_000_000), First),
            (Told(9_500_000), Continues),
            (Told(400_000), Restart),
            (Block(0, 300_000), First),
            (Block(3, 600_000), Continues),
        ] {
            assert_eq!(place(&mut clock, &said).continuity, expected);
        }
        assert_eq!(clock.n_restarts(), 1);
    }

    #[test]
    fn a_block_begun_before_a_status_continues() {
        check(
            &[Block(0, 0), Told(500_000), Block(3, 300_000)],
            &[(First, 0), (Continues, 500_000), (Continues, 300_000)],
        );
    }

    #[test]
    fn a_stop_of_two_hours_is_a_pause_of_two_hours_when_each_status_is_heard() {
        let mut clock = SampleClock::new();
        let begin_us = place(&mut clock, &Block(0, 0)).at_us;
        for second in 1..7_200_u64 {
            let tick_us = (second * 1_000_000 % (1 << 32)) as u32;
            let placement = place(&mut clock, &Told(tick_us));
            assert_eq!(placement.at_us - begin_us, second * 1_000_000);
        }
        let tick_us = (7_200_000_000_u64 % (1 << 32)) as u32;
        let pause_us = 7_200_000_000 - 300_000;
        let placement = place(&mut clock, &Block(3, tick_us));
        assert_eq!(placement.continuity, Pause { pause_us });
        assert_eq!(placement.at_us - begin_us, 7_200_000_000);
    }

    /// Compares continuity, and time after the first message.
    #[track_caller]
    fn check(said: &[Said], expected: &[(Continuity, u64)]) {
        let mut clock = SampleClock::new();
        let placements: Vec<Placement> = said.iter().map(|said| place(&mut clock, said)).collect();
        let begin_us = placements[0].at_us;
        let actual: Vec<_> = placements
            .iter()
            .map(|placement| (placement.continuity, placement.at_us - begin_us))
            .collect();
        assert_eq!(actual, expected);
        assert_eq!(clock.n_restarts(), 0);
    }

    /// The last block is a restart, and what follows it continues.
    #[track_caller]
    fn check_restart(said: &[Said; 2]) {
        let mut clock = SampleClock::new();
        assert_eq!(place(&mut clock, &said[0]).continuity, First);
        let restarted = place(&mut clock, &said[1]);
        assert_eq!(restarted.continuity, Restart);
        let Block(sequence, tick_us) = said[1] else {
            panic!("the second one is a block");
        };
        let next = place(&mut clock, &Block(sequence + 3, tick_us + 300_000));
        assert_eq!(next.continuity, Continues);
        assert_eq!(next.at_us - restarted.at_us, 300_000);
        assert_eq!(clock.n_restarts(), 1);
    }

    fn place(clock: &mut SampleClock, said: &Said) -> Placement {
        match *said {
            Block(first_sequence, first_tick_us) => {
                let samples =
                    Samples::new(first_sequence, first_tick_us, INTERVAL_US, 1, &[1, 2, 3]);
                clock.place_samples(&samples.expect("within all limits"))
            }
            Told(tick_us) => clock.place_status(&Status {
                tick_us,
                flags: BoardFlags::NONE,
                channel_faults: 0,
                supply_mv: 24_000,
                n_dropped: 0,
            }),
        }
    }
}
