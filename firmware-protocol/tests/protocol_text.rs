//! `PROTOCOL.md` is true: its bytes, limits and kinds are those of the codec.
//!
//! A heading "Example `name`" is followed by two fenced blocks, `hex body` and
//! `hex frame`; what a name means as a value stands in `meaning` below. The blocks were
//! made by a separate implementation.
#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use std::collections::BTreeMap;
use std::fs;

use firmware_protocol::{
    BoardFlags, BoardName, Channel, ChannelKind, ChannelTable, Event, Fault, FieldError,
    FirmwareVersion, Hello, Kind, Label, MAX_FRAME_BYTES, Malformed, Message, RangeUnit, Reason,
    Receiver, Refused, SampleRate, Samples, Status, cobs_decode_in_place, crc32c, encode_frame,
};

const TEXT: &str = include_str!("../PROTOCOL.md");

/// Every example of the text: a message, or the fault a receiver must report.
fn meaning(name: &str) -> Option<Result<Message<'static>, Fault>> {
    Some(match name {
        "hello of a board with two channels" => Ok(Message::Hello(hello())),
        "samples of two channels" => Ok(Message::Samples(
            Samples::new(
                258,
                25_800_000,
                100_000,
                2,
                &[38_400, -7, 38_399, -6, 38_397, -6],
            )
            .unwrap(),
        )),
        "samples all zero after a restart" => Ok(Message::Samples(
            Samples::new(0, 0, 100_000, 1, &[0, 0]).unwrap(),
        )),
        "status of a running board" => Ok(Message::Status(Status {
            tick_us: u32::MAX,
            flags: BoardFlags::RUNNING,
            channel_faults: 0,
            supply_mv: 24_050,
            n_dropped: 0,
        })),
        "status of a board in trouble" => Ok(Message::Status(Status {
            tick_us: 61_000_000,
            flags: BoardFlags::RUNNING
                .with(BoardFlags::BUFFER_OVERRUN)
                .with(BoardFlags::SUPPLY_LOW)
                .with(BoardFlags::CLOCK_FAULT),
            channel_faults: 0b1000_0010,
            supply_mv: 9_800,
            n_dropped: 70_000,
        })),
        "refused change of rate" => Ok(Message::Refused(Refused {
            request: Kind::SetRate.code(),
            reason: Reason::Running,
        })),
        "identify" => Ok(Message::Identify),
        "start" => Ok(Message::Start),
        "stop" => Ok(Message::Stop),
        "set rate to 12.5 Hz" => Ok(Message::SetRate(
            SampleRate::from_millihertz(12_500).unwrap(),
        )),
        "fault: version 2" => Err(Fault::UnknownVersion { found: 2 }),
        "fault: reserved kind" => Err(Fault::UnknownKind { found: 0x05 }),
        "fault: wrong checksum" => Err(Fault::BadCrc {
            computed: crc32c(&[1, 0x83]),
            found: crc32c(&[1, 0x83]) ^ 1,
        }),
        "fault: surplus byte" => Err(Fault::Malformed(Malformed::PayloadTooLong {
            kind: Kind::Start,
            n_surplus: 1,
        })),
        "fault: reserved flag" => Err(Fault::Malformed(Malformed::Field {
            kind: Kind::Status,
            error: FieldError::ReservedFlags { bits: 0x10 },
        })),
        _ => return None,
    })
}

fn hello() -> Hello {
    let pressure = Channel {
        label: Label::new("AI0").unwrap(),
        kind: ChannelKind::Pressure,
        unit: RangeUnit::PascalGauge,
        resolution_bits: 16,
        code_low: 12_800,
        code_high: 64_000,
        value_low: 0.0,
        value_high: 4e7,
        good_lowest: 11_520,
        good_highest: 67_200,
    };
    let temperature = Channel {
        label: Label::new("T0").unwrap(),
        kind: ChannelKind::Temperature,
        unit: RangeUnit::DegreeCelsius,
        resolution_bits: 12,
        code_low: -200,
        code_high: 1_500,
        value_low: -20.0,
        value_high: 150.0,
        good_lowest: -210,
        good_highest: 1_510,
    };
    Hello {
        board_id: *b"TV\0\0\0\0\0\0\0\0\0\0\0\0\xa1\xb2",
        firmware: FirmwareVersion {
            major: 1,
            minor: 4,
            patch: 2,
        },
        name: BoardName::new("TV bench 1").unwrap(),
        sample_rate: SampleRate::from_millihertz(10_000).unwrap(),
        channels: ChannelTable::new(&[pressure, temperature]).unwrap(),
    }
}

#[test]
fn every_example_is_encoded_as_printed() {
    for (name, example) in examples() {
        if let Ok(message) = known(&name) {
            let mut out = [0; MAX_FRAME_BYTES];
            let length = encode_frame(&message, &mut out).unwrap();
            assert_eq!(
                hex(&out[..length]),
                hex(&example.frame),
                "frame of `{name}`"
            );
        }
    }
}

#[test]
fn every_example_is_decoded_as_meant() {
    for (name, example) in examples() {
        let mut receiver = Receiver::new();
        let mut bytes = example.frame.as_slice();
        let expected = match known(&name) {
            Ok(message) => Event::Message(message),
            Err(fault) => Event::Fault(fault),
        };
        assert_eq!(receiver.next_event(&mut bytes), Some(expected), "`{name}`");
        assert!(bytes.is_empty(), "`{name}` ends with its frame");
    }
}

#[test]
fn every_body_is_its_frame_without_delimiters_and_stuffing() {
    for (name, example) in examples() {
        let [0, encoded @ .., 0] = example.frame.as_slice() else {
            panic!("`{name}` has a delimiter at both ends");
        };
        let mut encoded = encoded.to_vec();
        let length = cobs_decode_in_place(&mut encoded).unwrap();
        assert_eq!(
            hex(&encoded[..length]),
            hex(&example.body),
            "body of `{name}`"
        );
    }
}

#[test]
fn every_kind_has_an_example() {
    let shown: Vec<Kind> = examples()
        .keys()
        .filter_map(|name| known(name).ok())
        .map(|message| message.kind())
        .collect();
    for kind in Kind::ALL {
        assert!(
            shown.contains(&kind),
            "PROTOCOL.md shows no {}",
            kind.name()
        );
    }
}

#[test]
fn table_of_kinds_is_that_of_the_codec() {
    for kind in Kind::ALL {
        let from = if kind.is_from_host() { "host" } else { "board" };
        let row = format!("| `{:02x}` | `{}` | {from} |", kind.code(), kind.name());
        assert!(TEXT.contains(&row), "PROTOCOL.md has no row {row}");
        assert_eq!(Kind::from_code(kind.code()), Some(kind));
    }
    let n_known = (0..=255)
        .filter(|&code| Kind::from_code(code).is_some())
        .count();
    assert_eq!(n_known, Kind::ALL.len());
}

#[test]
fn table_of_limits_is_that_of_the_codec() {
    let limits = [
        ("MAX_FRAME_BYTES", firmware_protocol::MAX_FRAME_BYTES),
        ("MAX_ENCODED_BYTES", firmware_protocol::MAX_ENCODED_BYTES),
        ("MAX_BODY_BYTES", firmware_protocol::MAX_BODY_BYTES),
        ("MAX_PAYLOAD_BYTES", firmware_protocol::MAX_PAYLOAD_BYTES),
        ("MAX_CHANNELS", firmware_protocol::MAX_CHANNELS),
        ("MAX_COUNTS", firmware_protocol::MAX_COUNTS),
        (
            "MAX_BLOCK_SPAN_US",
            firmware_protocol::MAX_BLOCK_SPAN_US as usize,
        ),
        (
            "MAX_SAMPLE_RATE_MILLIHERTZ",
            firmware_protocol::MAX_SAMPLE_RATE_MILLIHERTZ as usize,
        ),
        (
            "SILENCE_LIMIT_MS",
            firmware_protocol::SILENCE_LIMIT_MS as usize,
        ),
    ];
    for (name, value) in limits {
        let start = format!("| `{name}` | ");
        let row = TEXT.lines().find_map(|line| line.strip_prefix(&start));
        let digits: String = row
            .unwrap_or_else(|| panic!("PROTOCOL.md has no row for {name}"))
            .chars()
            .take_while(|&c| c != '|')
            .filter(char::is_ascii_digit)
            .collect();
        assert_eq!(digits, value.to_string(), "{name}");
    }
    let n_rows = TEXT
        .lines()
        .filter(|line| line.starts_with("| `MAX_") || line.starts_with("| `SILENCE_"))
        .count();
    assert_eq!(
        n_rows,
        limits.len(),
        "a limit of PROTOCOL.md is not checked here"
    );
}

#[test]
fn protocol_text_changes_together_with_the_layout() {
    let listed = TEXT
        .split_once("```files\n")
        .and_then(|(_, rest)| rest.split_once("```"))
        .expect("PROTOCOL.md lists the files that hold the layout")
        .0;
    let actual: String = [
        "hello.rs",
        "message.rs",
        "samples.rs",
        "status.rs",
        "wire.rs",
    ]
    .iter()
    .map(|file| {
        let path = format!("{}/src/{file}", env!("CARGO_MANIFEST_DIR"));
        let source = fs::read_to_string(path).unwrap().replace("\r\n", "\n");
        format!("{file} {:#010x}\n", crc32c(source.as_bytes()))
    })
    .collect();
    assert_eq!(
        listed, actual,
        "a file that holds the layout of messages has changed. Read firmware-protocol/PROTOCOL.md \
         again, correct it where bytes or their meaning changed (then the version changes, too), \
         and put the new list (right) under \"Changes together\""
    );
}

struct Example {
    body: Vec<u8>,
    frame: Vec<u8>,
}

fn known(name: &str) -> Result<Message<'static>, Fault> {
    meaning(name)
        .unwrap_or_else(|| panic!("give example `{name}` of PROTOCOL.md a meaning in this test"))
}

fn examples() -> BTreeMap<String, Example> {
    let examples: BTreeMap<String, Example> = TEXT
        .split("\n### Example `")
        .skip(1)
        .map(|part| {
            let (name, rest) = part.split_once("`\n").expect("a name ends the heading");
            let example = Example {
                body: block(name, rest, "body"),
                frame: block(name, rest, "frame"),
            };
            (name.to_owned(), example)
        })
        .collect();
    assert_eq!(
        examples.len(),
        15,
        "examples in PROTOCOL.md, each with a name of its own"
    );
    examples
}

/// The bytes of a fenced block; what follows a `;` is a comment.
fn block(name: &str, text: &str, language: &str) -> Vec<u8> {
    let fence = format!("```hex {language}\n");
    let (_, rest) = text
        .split_once(&fence)
        .unwrap_or_else(|| panic!("`{name}` has no {language}"));
    let (block, _) = rest.split_once("```").expect("a block is closed");
    block
        .lines()
        .flat_map(|line| {
            line.split(';')
                .next()
                .unwrap_or_default()
                .split_whitespace()
        })
        .map(|byte| u8::from_str_radix(byte, 16).unwrap_or_else(|_| panic!("`{byte}` in `{name}`")))
        .collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x} ")).collect()
}
