//! What a receiver makes of a line on a bad day: pieces, half frames, noise, foreign text.
//!
//! The noise is pseudo-random with a fixed start (xorshift, Marsaglia 2003), so a failure
//! can be looked at again.
#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use firmware_protocol::{
    BoardFlags, BoardName, Channel, ChannelKind, ChannelTable, Event, Fault, FirmwareVersion,
    Hello, Label, LinkCounters, MAX_CHANNELS, MAX_COUNTS, MAX_ENCODED_BYTES, MAX_FRAME_BYTES,
    Malformed, Message, RangeUnit, Reason, Receiver, Refused, SampleRate, Samples, Status, crc32c,
    encode_frame,
};

#[test]
fn every_message_comes_back_as_it_was_sent() {
    with_messages(|messages| {
        for message in messages {
            assert_eq!(seen(&[&frame(message)]).0, [said(message)]);
        }
    });
}

#[test]
fn longest_hello_and_longest_samples_fit_the_limits() {
    let channel = Channel {
        label: Label::new("0123456789abcdef").unwrap(),
        ..channel()
    };
    let hello = Hello {
        name: BoardName::new("0123456789abcdef0123456789abcdef").unwrap(),
        channels: ChannelTable::new(&[channel; MAX_CHANNELS]).unwrap(),
        ..hello()
    };
    let counts = [-2; MAX_COUNTS];
    let samples = Samples::new(u32::MAX, u32::MAX, 8_196, 1, &counts).unwrap();
    for (message, body_bytes) in [
        (Message::Hello(hello), 412 + 6),
        (Message::Samples(samples), 502 + 6),
    ] {
        let frame = frame(&message);
        assert_eq!(seen(&[&frame]).0, [said(&message)]);
        let n_stuffing = frame.len() - 2 - body_bytes;
        assert!((1..=2).contains(&n_stuffing), "{n_stuffing}");
    }
}

#[test]
fn a_buffer_one_byte_short_is_refused_and_an_exact_one_is_enough() {
    with_messages(|messages| {
        for message in messages {
            let mut exact = frame(message);
            assert_eq!(encode_frame(message, &mut exact), Ok(exact.len()));
            exact.pop();
            assert!(encode_frame(message, &mut exact).is_err());
        }
    });
}

#[test]
fn every_split_of_the_stream_gives_the_same_events() {
    with_messages(|messages| {
        let stream: Vec<u8> = messages.iter().flat_map(frame).collect();
        let whole = seen(&[&stream]);
        assert_eq!(whole.0.len(), messages.len());
        for at in 0..=stream.len() {
            let (before, after) = stream.split_at(at);
            assert_eq!(seen(&[before, after]), whole, "split at {at}");
        }
        let single: Vec<&[u8]> = stream.chunks(1).collect();
        assert_eq!(seen(&single), whole);
    });
}

#[test]
fn a_receiver_that_comes_late_misses_what_it_missed_and_nothing_else() {
    with_messages(|messages| {
        let frames: Vec<Vec<u8>> = messages.iter().map(frame).collect();
        let stream = frames.concat();
        for at in 0..stream.len() {
            let mut begins = 0;
            let expected: Vec<String> = frames
                .iter()
                .zip(messages)
                .filter_map(|(frame, message)| {
                    let is_after = begins + 1 >= at;
                    begins += frame.len();
                    is_after.then(|| said(message))
                })
                .collect();
            let (events, counters) = seen(&[&stream[at..]]);
            let heard: Vec<String> = events
                .into_iter()
                .filter(|event| !event.contains("Fault"))
                .collect();
            assert_eq!(heard, expected, "from byte {at}");
            assert!(counters.n_faults() <= 1, "from byte {at}");
        }
    });
}

#[test]
fn an_oversized_frame_is_counted_once_and_the_next_one_is_good() {
    for surplus in [1, 2, MAX_ENCODED_BYTES, 4_000] {
        let mut stream = vec![0];
        stream.resize(1 + MAX_ENCODED_BYTES + surplus, b'x');
        // The tail is what a frame looks like: only the skipping keeps it from being one.
        let tail = frame(&Message::Start);
        stream.extend_from_slice(&tail[1..]);
        stream.extend(frame(&Message::Stop));
        let (events, counters) = seen(&[&stream]);
        assert_eq!(
            events,
            [
                format!("{:?}", Event::Fault(Fault::Oversized)),
                said(&Message::Stop)
            ]
        );
        assert_eq!(
            counters,
            LinkCounters {
                frames_good: 1,
                oversized: 1,
                ..LinkCounters::default()
            }
        );
    }
}

#[test]
fn a_frame_cut_off_by_a_restart_does_no_harm_to_the_next() {
    with_messages(|messages| {
        for message in messages {
            let whole = frame(message);
            for length in 2..whole.len() {
                let mut stream = whole[..length].to_vec();
                stream.extend(frame(&Message::Hello(hello())));
                let (events, counters) = seen(&[&stream]);
                let last = events.last().expect("the hello arrives");
                assert_eq!(*last, said(&Message::Hello(hello())), "cut at {length}");
                // Cut before its closing delimiter, the frame is whole: the next one's ends it.
                let is_whole = length == whole.len() - 1;
                assert_eq!(counters.frames_good, 1 + u64::from(is_whole));
                assert_eq!(counters.n_faults(), u64::from(!is_whole));
            }
        }
    });
}

#[test]
fn foreign_text_is_counted_and_never_a_message() {
    for text in [
        "AT\r\n",
        "AT\r\nAT\r\n",
        "boot v3\r\n",
        "35,0.42\r\n",
        "$00042,201.35,0.42,250.123,40.15*32\r\n",
        "\u{1}",
        "\u{1}\u{1}\u{1}\u{1}\u{1}\u{1}\u{1}",
    ] {
        let mut stream = text.as_bytes().to_vec();
        stream.extend(frame(&Message::Start));
        let (events, counters) = seen(&[&stream]);
        assert_eq!(events.len(), 2, "{text:?}");
        assert_eq!(events[1], said(&Message::Start));
        assert_eq!(
            (counters.frames_good, counters.malformed + counters.bad_crc),
            (1, 1),
            "{text:?}"
        );
        assert_eq!(counters.n_faults(), 1);
    }
}

#[test]
fn no_single_flipped_bit_makes_another_message() {
    with_messages(|messages| {
        for message in messages {
            let good = frame(message);
            for bit in 0..good.len() * 8 {
                let mut stream = good.clone();
                stream[bit / 8] ^= 1 << (bit % 8);
                stream.extend(frame(&Message::Stop));
                let (events, _) = seen(&[&stream]);
                for event in events.iter().filter(|event| !event.contains("Fault")) {
                    assert!(
                        [said(message), said(&Message::Stop)].contains(event),
                        "bit {bit}: {event}"
                    );
                }
                let between = bit / 8 > 0 && bit / 8 < good.len() - 1;
                assert!(
                    !between || !events.contains(&said(message)) || *message == Message::Stop,
                    "bit {bit} was overlooked"
                );
            }
        }
    });
}

#[test]
fn a_hundred_thousand_random_bytes_make_no_message() {
    // Once evenly distributed, once with a zero in every eighth place, for many short frames.
    for every in [0, 8] {
        let mut noise = Noise(0x5354_494C_4C52_4F44);
        let mut receiver = Receiver::new();
        let mut n_events = 0;
        for at in 0..100_000 {
            let byte = noise.byte();
            let is_zero = every > 0 && at % every == 0;
            match receiver.push(if is_zero { 0 } else { byte }) {
                Some(Event::Message(message)) => panic!("noise became {message:?}"),
                Some(Event::Fault(_)) => n_events += 1,
                None => {}
            }
        }
        assert!(n_events > 100, "{n_events}");
        assert_eq!(receiver.counters().n_faults(), n_events);
        assert_eq!(receiver.counters().frames_good, 0);
    }
}

#[test]
fn random_payloads_with_a_right_checksum_never_panic_and_come_back_the_same() {
    let mut noise = Noise(7);
    let mut n_messages = 0;
    for round in 0..20_000_usize {
        let kind = firmware_protocol::Kind::ALL[round % 8];
        let mut body = vec![1, kind.code()];
        let n_payload = match kind.name() {
            "Status" => 12,
            "Refused" => 2,
            "SetRate" => 4,
            _ => usize::from(noise.byte()),
        };
        // Small numbers, or hardly any would pass the limits of their fields.
        body.extend((0..n_payload).map(|_| noise.byte() & noise.byte() & noise.byte() & 0x0F));
        body.extend(crc32c(&body).to_le_bytes());
        if let Ok(message) = firmware_protocol::decode_body(&body) {
            n_messages += 1;
            assert_eq!(seen(&[&frame(&message)]).0, [said(&message)]);
        }
    }
    assert!(n_messages > 1_000, "{n_messages}");
}

#[test]
fn another_version_is_reported_with_its_number_and_the_remedy() {
    for (version, remedy) in [
        (2, "update stillrod on the host"),
        (0, "update the firmware of the board"),
    ] {
        let (events, counters) = seen(&[&stuffed(&[version, 0x81])]);
        let fault = Fault::UnknownVersion { found: version };
        assert_eq!(events, [format!("{:?}", Event::Fault(fault))]);
        assert_eq!(
            counters,
            LinkCounters {
                unknown_version: 1,
                ..LinkCounters::default()
            }
        );
        let text = fault.to_string();
        assert!(
            text.contains(&format!("version {version},")) && text.contains(remedy),
            "{text}"
        );
    }
}

#[test]
fn an_unknown_kind_is_counted_and_skipped() {
    let mut stream = stuffed(&[1, 0x3F, 1, 2, 3]);
    stream.extend(frame(&Message::Start));
    let (events, counters) = seen(&[&stream]);
    assert_eq!(events[1], said(&Message::Start));
    assert_eq!(
        counters,
        LinkCounters {
            frames_good: 1,
            unknown_kind: 1,
            ..LinkCounters::default()
        }
    );
}

#[test]
fn a_payload_one_byte_too_short_or_too_long_is_malformed() {
    with_messages(|messages| {
        for message in messages {
            let whole = frame(message);
            let mut body = whole[1..whole.len() - 1].to_vec();
            let length = firmware_protocol::cobs_decode_in_place(&mut body).unwrap();
            let content = &body[..length - 4];
            let longer = [content, &[0]].concat();
            let (_, counters) = seen(&[&stuffed(&longer)]);
            assert_eq!(
                (counters.malformed, counters.n_faults()),
                (1, 1),
                "{message:?}"
            );
            if content.len() > 2 {
                let (_, counters) = seen(&[&stuffed(&content[..content.len() - 1])]);
                assert_eq!(
                    (counters.malformed, counters.n_faults()),
                    (1, 1),
                    "{message:?}"
                );
            }
        }
    });
}

#[test]
fn a_body_of_five_bytes_is_malformed() {
    let (events, counters) = seen(&[&stuffed(&[1])]);
    let fault = Fault::Malformed(Malformed::BodyTooShort { length: 5 });
    assert_eq!(events, [format!("{:?}", Event::Fault(fault))]);
    assert_eq!(counters.malformed, 1);
}

/// All events as text (they borrow from the receiver), and the counters at the end.
fn seen(pieces: &[&[u8]]) -> (Vec<String>, LinkCounters) {
    let mut receiver = Receiver::new();
    let mut events = Vec::new();
    for piece in pieces {
        let mut bytes = *piece;
        while let Some(event) = receiver.next_event(&mut bytes) {
            events.push(format!("{event:?}"));
        }
        assert!(bytes.is_empty());
    }
    (events, receiver.counters())
}

fn said(message: &Message<'_>) -> String {
    format!("{:?}", Event::Message(*message))
}

fn frame(message: &Message<'_>) -> Vec<u8> {
    let mut out = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut out).unwrap();
    out[..length].to_vec()
}

/// A frame of any content with the right checksum.
fn stuffed(content: &[u8]) -> Vec<u8> {
    let body = [content, &crc32c(content).to_le_bytes()].concat();
    let mut out = [0; MAX_FRAME_BYTES];
    let length = firmware_protocol::cobs_encode(&body, &mut out[1..]).unwrap();
    out[..length + 2].to_vec()
}

/// One message of each kind, and samples long enough for more than one COBS block.
fn with_messages(run: impl Fn(&[Message<'_>])) {
    let counts: Vec<i32> = (1..=120).map(|n| n * 0x0101_0101).collect();
    let rate = SampleRate::from_millihertz(50_000).unwrap();
    run(&[
        Message::Hello(hello()),
        Message::Samples(Samples::new(0, 0, 100_000, 1, &[0]).unwrap()),
        Message::Samples(Samples::new(7, u32::MAX, 20_000, 4, &counts).unwrap()),
        Message::Status(Status {
            tick_us: 1,
            flags: BoardFlags::RUNNING.with(BoardFlags::SUPPLY_LOW),
            channel_faults: 4,
            supply_mv: 20_000,
            n_dropped: 3,
        }),
        Message::Refused(Refused {
            request: 0x99,
            reason: Reason::UnknownRequest,
        }),
        Message::Identify,
        Message::Start,
        Message::Stop,
        Message::SetRate(rate),
    ]);
}

fn hello() -> Hello {
    Hello {
        board_id: [7; 16],
        firmware: FirmwareVersion {
            major: 0,
            minor: 1,
            patch: 0,
        },
        name: BoardName::new("").unwrap(),
        sample_rate: SampleRate::from_millihertz(10_000).unwrap(),
        channels: ChannelTable::new(&[
            channel(),
            Channel {
                kind: ChannelKind::Other,
                ..channel()
            },
        ])
        .unwrap(),
    }
}

fn channel() -> Channel {
    Channel {
        label: Label::new("AI0").unwrap(),
        kind: ChannelKind::Position,
        unit: RangeUnit::Volt,
        resolution_bits: 24,
        code_low: -8_000_000,
        code_high: 8_000_000,
        value_low: 10.0,
        value_high: -10.0,
        good_lowest: i32::MIN,
        good_highest: i32::MAX,
    }
}

/// Pseudo-random bytes, the same ones every time.
struct Noise(u64);

impl Noise {
    fn byte(&mut self) -> u8 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0.to_le_bytes()[3]
    }
}
