//! Photos of codes (`tests/data/tag_photos`, made by another encoder), and bytes that are none.

use super::*;
use std::path::PathBuf;

const TAG: &str = "TV-0312";

fn photo(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/tag_photos");
    std::fs::read(folder.join(name)).expect("a photo")
}

fn read(bytes: &[u8]) -> Result<Vec<String>, PhotoError> {
    read_codes(bytes, &mut || true)
}

#[track_caller]
fn check(name: &str, expected: &[&str]) {
    let found = read(&photo(name)).expect(name);
    assert_eq!(found, expected, "{name}");
}

#[test]
fn a_code_is_read_however_the_camera_saw_it() {
    for name in [
        "straight.jpg",
        "turned.jpg",
        "upside-down.jpg",
        "from-the-side.jpg",
        "noise.jpg",
        "dim.jpg",
        "out-of-focus.jpg",
        "uneven-light.jpg",
        "light-on-dark.jpg",
        "progressive.jpg",
        "four-inks.jpg",
        "palette.png",
    ] {
        check(name, &[TAG]);
    }
}

#[test]
fn a_small_code_in_a_large_photo_is_read() {
    check("small-in-12-megapixels.jpg", &[TAG]);
}

#[test]
fn papers_umlauts_and_all_codes_of_a_photo_are_read() {
    let hash = "0123456789abcdef".repeat(4);
    let paper = format!("certificate TV-2026-0001\noutcome pass\nsha256 {hash}");
    check("paper.jpg", &[paper.as_str()]);
    check("tag-with-umlauts.jpg", &["Pflug-Öl 7/3 №2"]);
    check("two-codes.jpg", &["https://depot.example/parts/7", TAG]);
}

#[test]
fn where_there_is_no_code_none_is_read() {
    for name in ["no-code.jpg", "no-code-noise.jpg"] {
        assert_eq!(read(&photo(name)), Err(PhotoError::NoCode), "{name}");
    }
}

#[test]
fn a_code_is_read_at_any_angle() {
    let straight = picture::Grey::of(&photo("straight.jpg")).expect("a picture");
    for degrees in (0..360).step_by(15) {
        let turned = turned(&straight, f64::from(degrees));
        let found = search::read(&turned, &mut || true);
        assert_eq!(found, Ok(vec![TAG.to_owned()]), "{degrees}°");
    }
}

/// A picture turned about its middle; what comes in at the corners is as dark as the bench.
fn turned(of: &picture::Grey, degrees: f64) -> picture::Grey {
    let (sin, cos) = degrees.to_radians().sin_cos();
    let side = of.width + of.height;
    let half = side as f64 / 2.0;
    let luma = (0..side * side).map(|at| {
        let (x, y) = ((at % side) as f64 - half, (at / side) as f64 - half);
        let from_x = cos * x + sin * y + of.width as f64 / 2.0;
        let from_y = cos * y - sin * x + of.height as f64 / 2.0;
        let is_inside = from_x >= 0.0 && from_y >= 0.0;
        let (from_x, from_y) = (from_x as usize, from_y as usize);
        match is_inside && from_x < of.width && from_y < of.height {
            true => of.luma[from_y * of.width + from_x],
            false => 110,
        }
    });
    picture::Grey {
        width: side,
        height: side,
        luma: luma.collect(),
    }
}

#[test]
fn what_is_no_photo_is_said_to_be_none() {
    let wrong: [&[u8]; 7] = [
        b"",
        b"\xff\xd8",
        b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>",
        b"%PDF-1.7",
        b"\0\0\0\x18ftypheic",
        b"RIFF....WEBPVP8 ",
        b"BM......",
    ];
    for bytes in wrong {
        assert_eq!(read(bytes), Err(PhotoError::NoPicture));
    }
    assert_eq!(read(&photo("animation.gif")), Err(PhotoError::NoPicture));
}

/// A PNG that says how large it is, and has this behind it.
fn png_of(width: u32, height: u32, data: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Sixteen);
    let mut writer = encoder.write_header().expect("a head");
    writer.write_chunk(png::chunk::IDAT, data).expect("written");
    drop(writer);
    bytes
}

#[test]
fn a_picture_that_says_it_is_huge_costs_nothing() {
    for (width, height) in [(100_000, 100_000), (7_072, 7_072), (20_001, 1), (1, 20_001)] {
        let found = read(&png_of(width, height, b""));
        assert!(
            matches!(found, Err(PhotoError::TooLarge { .. })),
            "{width} × {height}: {found:?}"
        );
    }
    // The head of a JPEG with the largest sides it can state.
    let mut jpeg = photo("straight.jpg");
    let frame = jpeg.windows(2).position(|two| two == [0xff, 0xc0]);
    let frame = frame.expect("a frame");
    jpeg[frame + 5..frame + 9].fill(0xff);
    let found = read(&jpeg);
    assert!(
        matches!(
            found,
            Err(PhotoError::TooLarge { .. } | PhotoError::Damaged { .. })
        ),
        "{found:?}"
    );
    let found = read(&vec![0xff; LARGEST_PHOTO + 1]);
    assert!(
        matches!(found, Err(PhotoError::TooLarge { .. })),
        "{found:?}"
    );
}

#[test]
fn a_png_without_its_pixels_is_damaged() {
    for data in [&b""[..], b"\x78\x9c\x03\0\0\0\0\x01", b"no stream"] {
        let found = read(&png_of(800, 600, data));
        assert!(
            matches!(found, Err(PhotoError::Damaged { .. })),
            "{found:?}"
        );
    }
}

#[test]
fn a_photo_that_was_cut_off_or_spoiled_is_never_another_code() {
    let whole = photo("straight.jpg");
    let mut seed = 312_u64;
    let mut chance = |below: usize| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (seed >> 33) as usize % below
    };
    for round in 0..60 {
        let mut bytes = whole.clone();
        match round % 2 {
            0 => bytes.truncate(chance(whole.len())),
            _ => {
                for _ in 0..=round / 6 {
                    let at = chance(bytes.len());
                    bytes[at] ^= 1 << chance(8);
                }
            }
        }
        if let Ok(found) = read(&bytes) {
            assert_eq!(found, [TAG], "round {round}");
        }
    }
}

#[test]
fn a_search_ends_when_its_time_is_up() {
    let mut n_looks = 0;
    let found = read_codes(&photo("no-code.jpg"), &mut || {
        n_looks += 1;
        n_looks < 3
    });
    assert_eq!((found, n_looks), (Err(PhotoError::NotInTime), 3));
}

#[test]
fn gravel_does_not_keep_anybody() {
    let mut seed = 7_u64;
    let speck = |_| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (seed >> 56) as u8
    };
    // Without a limit on patterns this takes hours.
    let gravel = picture::Grey {
        width: 2_800,
        height: 2_100,
        luma: (0..2_800 * 2_100).map(speck).collect(),
    };
    let found = search::read(&gravel, &mut || true);
    assert_eq!(found, Err(PhotoError::NoCode));
}
