//! COBS and CRC-32C against vectors that were made elsewhere.
//!
//! Origin and licence of each file stand in `data/ORIGIN.md`. Each test also counts its
//! rows: an empty file must not be green.
#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use firmware_protocol::{Crc32c, Decoded, FrameDecoder, cobs_decode_in_place, cobs_encode, crc32c};

#[test]
fn cobs_encodes_every_published_vector() {
    for (raw, encoded) in cobs_vectors() {
        let mut out = [0; 600];
        let length = cobs_encode(&raw, &mut out).unwrap();
        assert_eq!(out[..length], encoded, "raw {raw:02x?}");
    }
}

#[test]
fn cobs_decodes_every_published_vector() {
    for (raw, mut encoded) in cobs_vectors() {
        let length = cobs_decode_in_place(&mut encoded).unwrap();
        assert_eq!(encoded[..length], raw);
    }
}

#[test]
fn cobs_needs_no_more_room_than_it_says() {
    for (raw, encoded) in cobs_vectors() {
        let mut exact = vec![0; encoded.len()];
        assert_eq!(cobs_encode(&raw, &mut exact), Ok(encoded.len()));
        exact.pop();
        assert!(cobs_encode(&raw, &mut exact).is_err(), "raw {raw:02x?}");
    }
}

#[test]
fn cobs_rejects_every_broken_vector() {
    let rows = rows(include_str!("data/cobs_decode_errors.csv"), 2);
    assert_eq!(rows.len(), 4);
    for row in rows {
        assert_eq!(row[1], "reject");
        let mut encoded = bytes(row[0]);
        assert!(cobs_decode_in_place(&mut encoded).is_err(), "{}", row[0]);
    }
}

#[test]
fn frame_decoder_finds_every_vector_between_delimiters() {
    let mut decoder = FrameDecoder::<600>::new();
    for (raw, encoded) in cobs_vectors() {
        for byte in encoded {
            assert_eq!(decoder.push(byte), Decoded::Pending);
        }
        assert_eq!(decoder.push(0), Decoded::Frame(&raw));
    }
}

#[test]
fn crc32c_agrees_with_rfc_3720_appendix_b4() {
    let rows = rows(include_str!("data/crc32c_rfc3720_B4.csv"), 2);
    assert_eq!(rows.len(), 4);
    for row in rows {
        let data: Vec<u8> = match row[0] {
            "32 bytes 0x00" => vec![0x00; 32],
            "32 bytes 0xFF" => vec![0xFF; 32],
            "32 bytes 00..1F" => (0x00..=0x1F).collect(),
            "32 bytes 1F..00" => (0x00..=0x1F).rev().collect(),
            other => panic!("no data for {other}"),
        };
        assert_eq!(crc32c(&data), number(row[1]), "{}", row[0]);
    }
}

#[test]
fn crc32c_agrees_with_the_check_values_of_its_catalogue_entry() {
    let rows = rows(include_str!("data/crc_check_values.csv"), 11);
    let row = rows
        .iter()
        .find(|row| row[0] == "CRC-32/ISCSI (CRC-32C)")
        .expect("the entry is there");
    let all: Vec<u8> = (0..=255).collect();
    assert_eq!(crc32c(b"123456789"), number(row[7]));
    assert_eq!(crc32c(b""), number(row[8]));
    assert_eq!(crc32c(&[0]), number(row[9]));
    assert_eq!(crc32c(&all), number(row[10]));
}

#[test]
fn crc32c_is_the_same_in_pieces() {
    let mut pieces = Crc32c::new();
    pieces.update(b"1234");
    pieces.update(b"");
    pieces.update(b"56789");
    assert_eq!(pieces.value(), crc32c(b"123456789"));
}

fn cobs_vectors() -> Vec<(Vec<u8>, Vec<u8>)> {
    let rows = rows(include_str!("data/cobs_vectors.csv"), 3);
    assert_eq!(rows.len(), 23);
    rows.iter()
        .map(|row| (bytes(row[1]), bytes(row[2])))
        .collect()
}

fn rows(csv: &str, n_columns: usize) -> Vec<Vec<&str>> {
    let rows: Vec<Vec<&str>> = csv
        .lines()
        .skip(1)
        .map(|line| line.split(',').collect())
        .collect();
    for row in &rows {
        assert_eq!(row.len(), n_columns, "{row:?}");
    }
    rows
}

fn bytes(hex: &str) -> Vec<u8> {
    assert!(hex.len().is_multiple_of(2), "{hex}");
    (0..hex.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap())
        .collect()
}

fn number(hex: &str) -> u32 {
    u32::from_str_radix(hex.strip_prefix("0x").unwrap(), 16).unwrap()
}
