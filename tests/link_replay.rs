//! Captured bytes give the same events in whatever pieces, and damage is counted, not believed.

mod support {
    #[allow(dead_code, reason = "there is no line here, only its bytes")]
    #[cfg(target_os = "linux")]
    pub mod board;
}

#[cfg(target_os = "linux")]
mod on_linux {
    use super::support::board::frame;
    use super::support::board::hello;
    use super::support::board::hello_of;
    use super::support::board::samples;
    use super::support::board::status;
    use firmware_protocol::BoardFlags;
    use firmware_protocol::Message;
    use firmware_protocol::Reason;
    use firmware_protocol::Refused;
    use rand::Rng;
    use rand::RngCore;
    use rand::SeedableRng;
    use stillrod::link::LinkEvent;
    use stillrod::link::replay;
    use stillrod::recording::Gap;
    use stillrod::recording::GapCause;

    fn rows(events: &[LinkEvent]) -> Vec<(f64, i32)> {
        let blocks = events.iter().filter_map(|event| match event {
            LinkEvent::Samples(rows) => Some(rows),
            _ => None,
        });
        blocks
            .flatten()
            .map(|row| (row.time_s, row.codes[0]))
            .collect()
    }

    fn gaps(events: &[LinkEvent]) -> Vec<Gap> {
        let gaps = events.iter().filter_map(|event| match event {
            LinkEvent::Gap(gap) => Some(*gap),
            _ => None,
        });
        gaps.collect()
    }

    fn played(parts: &[Vec<u8>]) -> Vec<LinkEvent> {
        replay(&parts.concat()).collect()
    }

    #[test]
    fn a_missing_block_is_a_gap_and_a_repeated_one_is_dropped() {
        let events = played(&[
            hello(1),
            samples(10, 2, 4_294_900_000),
            samples(10, 2, 4_294_900_000),
            samples(15, 2, 432_704),
        ]);
        assert_eq!(
            rows(&events),
            [(0.0, 10), (0.1, 11), (0.5, 15), (0.6, 16)],
            "also over the wrap of the ticks"
        );
        let lost = Gap {
            from_s: 0.1,
            until_s: 0.5,
            cause: GapCause::Lost,
        };
        assert_eq!(gaps(&events), [lost]);
    }

    #[test]
    fn a_restart_in_a_capture_goes_on_by_one_interval() {
        let events = played(&[hello(1), samples(7, 2, 900_000), samples(0, 1, 5)]);
        assert_eq!(rows(&events), [(0.0, 7), (0.1, 8), (0.2, 0)]);
        assert_eq!(gaps(&events)[0].cause, GapCause::Restarted);
    }

    #[test]
    fn a_stopped_board_is_a_gap_too() {
        let events = played(&[hello(1), samples(0, 1, 0), samples(1, 1, 5_000_000)]);
        assert_eq!(rows(&events), [(0.0, 0), (5.0, 1)]);
        assert_eq!(gaps(&events)[0].cause, GapCause::Silent);
    }

    #[test]
    fn samples_without_a_greeting_or_of_another_board_are_no_rows() {
        let events = played(&[
            samples(0, 2, 0),
            hello(1),
            samples(2, 1, 200_000),
            hello(2),
            samples(3, 1, 300_000),
            hello(1),
            samples(4, 1, 400_000),
        ]);
        assert_eq!(rows(&events), [(0.0, 2), (0.2, 4)]);
        assert!(events.contains(&LinkEvent::OtherBoard(Box::new(hello_of(2)))));
    }

    #[test]
    fn statuses_and_refusals_come_through() {
        let refused = Message::Refused(Refused {
            request: 0x82,
            reason: Reason::NotReady,
        });
        let events = played(&[hello(1), status(5, BoardFlags::RUNNING, 3), frame(&refused)]);
        assert!(matches!(events[1], LinkEvent::Status(status) if status.n_dropped == 3));
        assert!(
            matches!(&events[2], LinkEvent::Refused(why) if why.starts_with("the board refused Start"))
        );
    }

    /// Version byte and checksum of the example "version 2" in PROTOCOL.md.
    #[test]
    fn another_version_is_said_once() {
        let later = vec![0, 7, 2, 0x81, 0x47, 0xff, 0xb9, 0xa6, 0];
        let events = played(&[hello(1), later.clone(), later]);
        assert_eq!(events.len(), 2);
        assert!(
            matches!(&events[1], LinkEvent::OtherVersion(what) if what.contains("update this program"))
        );
    }

    #[test]
    fn damaged_captures_never_invent_a_row() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        let mut capture = hello(1);
        for block in 0..200 {
            capture.extend(samples(block * 3, 3, block * 300_000));
        }
        let whole: Vec<_> = replay(&capture).collect();
        let whole = rows(&whole);
        assert_eq!(whole.len(), 600);
        for _ in 0..200 {
            let mut damaged = capture.clone();
            for _ in 0..random.random_range(1..30) {
                let at = random.random_range(hello(1).len()..damaged.len());
                match random.random_range(0..3) {
                    0 => damaged[at] ^= 1 << random.random_range(0..8),
                    1 => drop(damaged.remove(at)),
                    _ => damaged.insert(at, random.random()),
                }
            }
            let events: Vec<_> = replay(&damaged).collect();
            let found = rows(&events);
            let first_code = found[0].1;
            for (time_s, code) in found {
                let due_s = f64::from(code - first_code) / 10.0;
                assert!((time_s - due_s).abs() < 1e-9, "{code} at {time_s} s");
            }
        }
    }

    #[test]
    fn random_bytes_are_nothing() {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(6);
        let mut bytes = vec![0; 100_000];
        random.fill_bytes(&mut bytes);
        assert_eq!(replay(&bytes).count(), 0);
    }
}
