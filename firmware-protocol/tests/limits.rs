//! What the constructors refuse, at the edge and one beyond it.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use firmware_protocol::{
    BoardFlags, Channel, ChannelKind, ChannelTable, Fault, FieldError, Label, MAX_COUNTS,
    RangeUnit, SampleRate, Samples,
};

#[test]
fn counts_are_read_by_sample_and_channel() {
    let samples = Samples::new(0, 0, 1, 2, &[1, 2, 3, 4, 5, 6]).unwrap();
    assert_eq!((samples.n_channels(), samples.n_samples()), (2, 3));
    assert_eq!(samples.get(0, 0), Some(1));
    assert_eq!(samples.get(0, 1), Some(2));
    assert_eq!(samples.get(2, 1), Some(6));
}

#[test]
fn counts_outside_the_block_do_not_exist() {
    let samples = Samples::new(0, 0, 1, 2, &[1, 2, 3, 4]).unwrap();
    for (sample_index, channel_index) in [(0, 2), (2, 0), (usize::MAX, 0), (0, usize::MAX)] {
        assert_eq!(samples.get(sample_index, channel_index), None);
    }
}

#[test]
fn a_block_holds_whole_samples_of_one_to_eight_channels() {
    for (n_channels, n_counts, is_good) in [
        (1, 1, true),
        (8, 8, true),
        (8, 120, true),
        (1, MAX_COUNTS, true),
        (1, MAX_COUNTS + 1, false),
        (9, 9, false),
        (0, 0, false),
        (0, 4, false),
        (2, 0, false),
        (2, 3, false),
        (usize::MAX, 3, false),
    ] {
        let block = Samples::new(0, 0, 1, n_channels, &[0; MAX_COUNTS + 1][..n_counts]);
        assert_eq!(
            block.is_ok(),
            is_good,
            "{n_counts} counts of {n_channels} channels"
        );
    }
}

#[test]
fn a_block_lasts_at_most_a_second_and_has_an_interval() {
    for (interval_us, n_samples, is_good) in [
        (1_000_000, 2, true),
        (1_000_001, 2, false),
        (500_000, 3, true),
        (500_001, 3, false),
        (u32::MAX, 1, true),
        (u32::MAX, 122, false),
        (0, 1, false),
    ] {
        let block = Samples::new(0, 0, interval_us, 1, &[0; 122][..n_samples]);
        assert_eq!(
            block.is_ok(),
            is_good,
            "{n_samples} samples, {interval_us} us"
        );
    }
}

#[test]
fn rate_is_one_millihertz_to_one_kilohertz() {
    for (millihertz, interval_us) in [
        (1, 1_000_000_000),
        (10_000, 100_000),
        (30_000, 33_333),
        (60_000, 16_667),
        (1_000_000, 1_000),
    ] {
        let rate = SampleRate::from_millihertz(millihertz).unwrap();
        assert_eq!(
            (rate.as_millihertz(), rate.interval_us()),
            (millihertz, interval_us)
        );
    }
    for millihertz in [0, 1_000_001, u32::MAX] {
        let error = FieldError::RateOutOfRange { millihertz };
        assert_eq!(SampleRate::from_millihertz(millihertz), Err(error));
    }
}

#[test]
fn label_is_printable_ascii_of_at_most_sixteen_characters() {
    for good in ["", "A", "0123456789abcdef", " ~"] {
        assert_eq!(Label::new(good).unwrap().as_str(), good);
    }
    for bad in ["0123456789abcdefg", "\n", "\u{7f}", "°C", "\0"] {
        assert!(Label::new(bad).is_err(), "{bad:?}");
    }
}

#[test]
fn a_channel_that_can_never_be_right_is_refused() {
    let channel_index = 1;
    check_channel(|_| {}, None);
    check_channel(
        |it| it.code_low = it.code_high,
        Some(FieldError::CodeRange { channel_index }),
    );
    check_channel(
        |it| it.value_low = it.value_high,
        Some(FieldError::ValueRange { channel_index }),
    );
    check_channel(
        |it| it.value_low = f32::NAN,
        Some(FieldError::ValueRange { channel_index }),
    );
    check_channel(
        |it| it.value_high = f32::INFINITY,
        Some(FieldError::ValueRange { channel_index }),
    );
    check_channel(|it| it.good_lowest = it.good_highest, None);
    check_channel(
        |it| it.good_lowest = it.good_highest + 1,
        Some(FieldError::GoodBand { channel_index }),
    );
    check_channel(|it| it.resolution_bits = 32, None);
    check_channel(
        |it| it.resolution_bits = 33,
        Some(FieldError::Resolution { channel_index }),
    );
    check_channel(
        |it| it.resolution_bits = 0,
        Some(FieldError::Resolution { channel_index }),
    );
}

#[test]
fn a_board_has_one_to_eight_channels() {
    for (n_channels, is_good) in [(0, false), (1, true), (8, true), (9, false)] {
        let table = ChannelTable::new(&[channel(); 9][..n_channels]);
        assert_eq!(table.is_ok(), is_good, "{n_channels}");
        if let Ok(table) = table {
            assert_eq!(table.as_slice().len(), n_channels);
        }
    }
}

#[test]
fn flags_without_a_name_are_refused() {
    let all = BoardFlags::from_bits(0x0F).unwrap();
    assert!(all.contains(BoardFlags::CLOCK_FAULT.with(BoardFlags::RUNNING)));
    assert!(!BoardFlags::RUNNING.contains(BoardFlags::RUNNING.with(BoardFlags::SUPPLY_LOW)));
    for bit in 4..8 {
        assert!(BoardFlags::from_bits(1 << bit).is_err());
    }
}

#[test]
fn messages_for_people_begin_lower_case_and_end_without_a_full_stop() {
    let errors: [&dyn std::error::Error; 5] = [
        &Fault::Oversized,
        &Fault::BadCrc {
            computed: 1,
            found: 2,
        },
        &Fault::UnknownVersion { found: 2 },
        &Fault::UnknownKind { found: 5 },
        &FieldError::CodeRange { channel_index: 0 },
    ];
    for error in errors {
        let text = error.to_string();
        assert!(
            text.starts_with(|c: char| !c.is_uppercase()) && !text.ends_with('.'),
            "{text}"
        );
        assert!(
            text.contains(';'),
            "a message says what to do after a semicolon: {text}"
        );
    }
}

fn check_channel(change: impl Fn(&mut Channel), expected: Option<FieldError>) {
    let mut changed = channel();
    change(&mut changed);
    assert_eq!(ChannelTable::new(&[channel(), changed]).err(), expected);
}

fn channel() -> Channel {
    Channel {
        label: Label::new("AI0").unwrap(),
        kind: ChannelKind::Pressure,
        unit: RangeUnit::PascalGauge,
        resolution_bits: 16,
        code_low: 0,
        code_high: 65_535,
        value_low: 0.0,
        value_high: 4e7,
        good_lowest: 100,
        good_highest: 65_000,
    }
}
