//! Journals that were cut, damaged, or never were journals.

use super::*;
use crate::channel::AgainstSupply;
use crate::channel::CalibratedBy;
use crate::channel::Calibration;
use crate::channel::Channel;
use crate::channel::Role;
use crate::channel::SensorErrors;
use crate::channel::SensorPapers;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::Entry;
use crate::recording::EntryKind;
use crate::recording::Gap;
use crate::recording::GapCause;
use crate::recording::Heading;
use crate::recording::Loss;
use crate::recording::Parts;
use crate::recording::PhaseMark;
use crate::recording::Recording;
use crate::recording::Row;
use crate::recording::RowSource;
use rand::RngCore;
use rand::SeedableRng;

fn heading() -> Heading {
    Heading {
        run_id: "tv-0312-1".into(),
        started_utc_ms: 1_767_225_600_123,
        time_zone: "Europe/Oslo".into(),
        software: "0.1.0".into(),
        source: "TV bench 1".into(),
        setup_toml: "# \"quotes\", umlauts äöü and a line\n[unit]\r\n".into(),
        shop_toml: String::new(),
        practice: String::new(),
    }
}

fn channel(role: Role) -> Channel {
    Channel {
        role,
        label: "AI0".into(),
        // Numbers without a short decimal form.
        calibration: Calibration {
            si_at_zero_code: -0.1 - 1e-17,
            si_per_code: 1.0 / 3.0,
            si_per_code_squared: -1.0 / 7e9,
        },
        good_codes: (i32::MIN, i32::MAX),
        range_si: (0.1 + 0.2, 5e-324),
        errors: SensorErrors {
            zero_si: 1.0 / 7.0,
            span_relative: f64::MAX,
            zero_si_per_k: 0.0,
        },
        papers: SensorPapers {
            serial: "P-11".into(),
            certificate: "TV-CAL-2026-031".into(),
            due: "2027-03-31".into(),
            by: Some(CalibratedBy::Maker),
        },
        against_supply: (role == Role::CapPressure).then_some(AgainstSupply {
            code_at_zero_volt: -1.0 / 3.0,
            signal_codes: (-5, i32::MAX),
            supply_step_relative: 1e-5 / 3.0,
        }),
    }
}

/// A small journal, and the offsets at which its blocks end.
fn journal() -> (Vec<u8>, Vec<usize>) {
    let channels = [channel(Role::CapPressure), channel(Role::Position)];
    let (mut writer, mut bytes) =
        JournalWriter::begin(&heading(), &channels).expect("finite numbers");
    let mut ends = vec![bytes.len()];
    let mut append = |block: Vec<u8>| {
        bytes.extend(block);
        ends.push(bytes.len());
    };
    append(writer.phase_begins("settle", 0.0));
    for block in 0..4 {
        let rows: Vec<Row> = (0..3)
            .map(|i| Row {
                time_s: f64::from(block * 3 + i) * 0.1,
                codes: vec![block * 3 + i, -i],
            })
            .collect();
        append(writer.rows(&rows).expect("two codes, rising"));
        if block == 1 {
            append(writer.phase_ends("settle", 0.5));
            append(writer.phase_begins("hold", 0.5));
            append(writer.gap(&Gap {
                from_s: 0.5,
                until_s: 0.6,
                cause: GapCause::Lost,
            }));
        }
    }
    append(writer.loss(&Loss {
        n_samples_lost: 1,
        n_frames_bad: 2,
        n_board_dropped: 3,
        n_bytes_overrun: u64::MAX,
    }));
    append(writer.phase_ends("hold", 1.1));
    append(writer.ending(&Ending::Complete));
    (bytes, ends)
}

fn codes(parts: &Parts, index: usize) -> &[i32] {
    match &parts.tracks[index].codes {
        Codes::Raw(codes) => codes,
        _ => panic!("a journal holds codes"),
    }
}

#[test]
fn what_was_written_is_what_is_read() {
    let (bytes, _) = journal();
    let (parts, report) = read_journal(&bytes).expect("a journal");
    assert_eq!(parts.heading, heading());
    assert_eq!(parts.tracks[0].channel, channel(Role::CapPressure));
    assert_eq!(parts.tracks[1].channel, channel(Role::Position));
    assert_eq!(codes(&parts, 0), (0..12).collect::<Vec<_>>());
    assert_eq!(parts.time_s[7], 7.0 * 0.1);
    assert_eq!(
        parts.phases,
        [("settle", 0.0, 0.5), ("hold", 0.5, 1.1)].map(|(name, from_s, until_s)| PhaseMark {
            name: name.into(),
            from_s,
            until_s
        })
    );
    assert_eq!(parts.gaps.len(), 1);
    assert_eq!(parts.loss.n_bytes_overrun, u64::MAX);
    assert_eq!(parts.ending, Ending::Complete);
    assert!(report.has_ending && report.cut.is_none() && report.n_bytes_cut == 0);
    Recording::new(parts).expect("parts that fit");
}

#[test]
fn a_journal_cut_anywhere_keeps_all_whole_blocks_and_is_interrupted() {
    let (bytes, ends) = journal();
    let (whole, _) = read_journal(&bytes).expect("a journal");
    for n_bytes in 0..bytes.len() {
        let Ok((parts, report)) = read_journal(&bytes[..n_bytes]) else {
            assert!(n_bytes < ends[0], "cut at {n_bytes}: the heading is whole");
            continue;
        };
        let kept = ends.iter().rev().find(|end| **end <= n_bytes);
        assert_eq!(Some(&report.n_bytes_good), kept, "cut at {n_bytes}");
        assert_eq!(report.n_bytes_good + report.n_bytes_cut, n_bytes);
        assert_eq!(report.cut.is_some(), report.n_bytes_cut > 0);
        assert!(matches!(parts.ending, Ending::Interrupted(_)));
        for index in 0..2 {
            let found = codes(&parts, index);
            assert_eq!(found, &codes(&whole, index)[..parts.time_s.len()]);
        }
        Recording::new(parts).expect("a shortened recording is a recording");
    }
}

#[test]
fn a_flipped_bit_anywhere_ends_the_reading_there() {
    let (bytes, ends) = journal();
    for at in START_BYTES..bytes.len() {
        let mut damaged = bytes.clone();
        damaged[at] ^= 1 << (at % 8);
        let Ok((_, report)) = read_journal(&damaged) else {
            assert!(at < ends[0]);
            continue;
        };
        assert!(report.n_bytes_good <= at, "flip at {at} was read over");
        assert!(report.cut.is_some());
    }
}

#[test]
fn a_phase_that_was_not_ended_ends_with_the_last_row() {
    let (bytes, ends) = journal();
    let (parts, _) = read_journal(&bytes[..ends[ends.len() - 4]]).expect("a journal");
    let hold = parts.phases.last().expect("the hold began");
    assert_eq!((hold.name.as_str(), hold.until_s), ("hold", 11.0 * 0.1));
}

#[test]
fn what_follows_an_ending_is_not_believed() {
    let (mut bytes, ends) = journal();
    let surplus = bytes[ends[0]..ends[1]].to_vec();
    bytes.extend(surplus);
    let (parts, report) = read_journal(&bytes).expect("a journal");
    assert_eq!(report.cut, Some(Cut::AfterEnding));
    assert_eq!(parts.ending, Ending::Complete);
}

#[test]
fn random_bytes_are_no_journal() {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    for n_bytes in 0..300 {
        let mut bytes = vec![0; n_bytes];
        random.fill_bytes(&mut bytes);
        assert!(matches!(
            read_journal(&bytes),
            Err(JournalError::Foreign { .. })
        ));
        let mut begun = MAGIC.to_vec();
        begun.extend(JOURNAL_VERSION.to_le_bytes());
        begun.extend(&bytes);
        assert!(matches!(
            read_journal(&begun),
            Err(JournalError::NoHeading { .. })
        ));
        let (mut journal, ends) = journal();
        journal.truncate(ends[3]);
        journal.extend(&bytes);
        let (_, report) = read_journal(&journal).expect("the heading is whole");
        assert_eq!(report.n_bytes_good, ends[3]);
    }
}

#[test]
fn a_later_layout_asks_for_a_newer_program() {
    let mut bytes = MAGIC.to_vec();
    bytes.extend(3_u32.to_le_bytes());
    assert!(matches!(
        read_journal(&bytes),
        Err(JournalError::Newer { found: 3 })
    ));
}

#[test]
fn a_journal_of_the_first_layout_is_read_as_it_was() {
    let (new, _) = journal();
    let mut old = new.clone();
    old[MAGIC.len()..START_BYTES].copy_from_slice(&1_u32.to_le_bytes());
    let (parts, _) = read_journal(&old).expect("the layout before");
    assert_eq!(parts, read_journal(&new).expect("this layout").0);
}

/// Words may have lines; what stands behind a damaged kind is not believed.
#[test]
fn what_people_said_is_read_as_they_said_it() {
    let (writer, mut bytes) =
        JournalWriter::begin(&heading(), &[channel(Role::Position)]).expect("finite numbers");
    let entries = [
        ("zero-before", EntryKind::Done, ""),
        ("outside", EntryKind::Reading, "2"),
        (
            "note",
            EntryKind::Reading,
            "seal lip nicked\nat the \"top\", äöü",
        ),
    ]
    .map(|(step, kind, text)| Entry {
        at_s: 12.5,
        step: step.into(),
        kind,
        text: text.into(),
    });
    for entry in &entries {
        bytes.extend(writer.entry(entry));
    }
    let (parts, _) = read_journal(&bytes).expect("whole");
    assert_eq!(parts.entries, entries);
    let odd = block_of_kind(8, b"\0\0\0\0\0\0\0\0shouted\nstep\ntext");
    bytes.extend(odd);
    let (parts, report) = read_journal(&bytes).expect("whole up to there");
    assert_eq!(parts.entries.len(), 3);
    assert_eq!(report.cut, Some(Cut::Senseless));
}

/// A block with a right checksum, whatever it says.
fn block_of_kind(kind: u8, payload: &[u8]) -> Vec<u8> {
    let length = u32::try_from(payload.len()).expect("short");
    let mut bytes = length.to_le_bytes().to_vec();
    bytes.push(kind);
    bytes.extend(payload);
    bytes.extend(checksum(&bytes).to_le_bytes());
    bytes
}

#[test]
fn a_row_out_of_order_is_refused_and_leaves_no_trace() {
    let (mut writer, _) = JournalWriter::begin(&heading(), &[]).expect("no channels");
    let row = |time_s| Row {
        time_s,
        codes: vec![],
    };
    assert!(writer.rows(&[row(1.0)]).is_ok());
    assert!(writer.rows(&[row(2.0), row(2.0)]).is_err());
    assert!(writer.rows(&[row(f64::NAN)]).is_err());
    assert!(writer.rows(&[row(2.0)]).is_ok());
    let wide = Row {
        time_s: 3.0,
        codes: vec![1],
    };
    assert!(writer.rows(&[wide]).is_err());
}

/// Check value of CRC-32C over "123456789": RFC 3720, and the CRC catalogue of Greg Cook.
#[test]
fn the_checksum_is_that_of_the_standard() {
    assert_eq!(checksum(b"123456789"), 0xe306_9283);
}

/// The rows of a journal in pieces, and all else.
fn in_pieces(bytes: &[u8], n_most: usize) -> Result<(Parts, TailReport), JournalError> {
    let (outline, report) = scan_journal(bytes)?;
    let mut rows = JournalRows::begin(bytes, outline.clone())?;
    let mut parts = Parts {
        heading: outline.heading,
        time_s: Vec::new(),
        tracks: Vec::new(),
        gaps: outline.gaps,
        phases: outline.phases,
        entries: outline.entries,
        loss: outline.loss,
        ending: outline.ending,
    };
    loop {
        let piece = rows.next_piece(n_most)?;
        parts.time_s.extend(piece.time_s());
        if parts.tracks.is_empty() {
            parts.tracks = piece.tracks().to_vec();
        } else {
            for (track, more) in parts.tracks.iter_mut().zip(piece.tracks()) {
                let all = [
                    track.codes.raw().expect("codes"),
                    more.codes.raw().expect("codes"),
                ];
                track.codes = Codes::Raw(all.concat());
            }
        }
        if piece.is_empty() {
            return Ok((parts, report));
        }
    }
}

#[test]
fn pieces_of_any_cut_journal_are_the_whole_of_it() {
    let (bytes, _) = journal();
    for n_bytes in 0..=bytes.len() {
        let cut = &bytes[..n_bytes];
        match (read_journal(cut), in_pieces(cut, 1 + n_bytes % 7)) {
            (Ok((whole, report)), Ok((pieces, same_report))) => {
                assert_eq!(report, same_report);
                let whole = Recording::new(whole).expect("rising");
                let pieces = Recording::new(pieces).expect("rising");
                assert_eq!(whole, pieces, "cut at {n_bytes}");
            }
            (Err(one), Err(other)) => assert_eq!(one.to_string(), other.to_string()),
            (one, other) => panic!("cut at {n_bytes}: {one:?} {other:?}"),
        }
    }
}

#[test]
fn a_journal_that_changed_between_two_looks_is_refused() {
    let (bytes, ends) = journal();
    let (outline, _) = scan_journal(&bytes[..]).expect("a journal");
    let mut rows = JournalRows::begin(&bytes[..ends[3]], outline.clone()).expect("begins");
    let refused = rows.next_piece(1_000);
    assert!(matches!(refused, Err(JournalError::Changed)));
    let (other, _) = JournalWriter::begin(&heading(), &[])
        .map(|(_, b)| (b, ()))
        .expect("none");
    let refused = JournalRows::begin(&other[..], outline);
    assert!(matches!(refused, Err(JournalError::Changed)));
}
