//! Looking for codes: the same picture in several sizes and lights, the quick looks first.
//!
//! A code of a few pixels a square is lost when a photo is made small, one out of focus or in noise
//! is only found when it is; and an even light is made where the photo has none.

use super::PhotoError;
use super::finders::are_few;
use super::guarded;
use super::picture::Grey;

/// Longest sides at which a picture is looked at, in this order. The last is for a small code in a
/// large photo.
const SIDES: [usize; 5] = [1_600, 800, 2_800, 500, 5_000];

/// Most codes that are read in one look.
const MOST_CODES: usize = 16;

/// Longest text of a code that is kept, bytes: a code holds less than this.
const LONGEST_TEXT: usize = 4_096;

/// Looks until something is read.
pub fn read(
    picture: &Grey,
    may_go_on: &mut dyn FnMut() -> bool,
) -> Result<Vec<String>, PhotoError> {
    let mut was_looked_at = false;
    for side in SIDES {
        let small = picture.within(side);
        if small.is_none() && was_looked_at {
            continue;
        }
        was_looked_at |= small.is_none();
        let sized = small.as_ref().unwrap_or(picture);
        let longest = sized.width.max(sized.height);
        let lights: [&dyn Fn() -> Grey; 4] = [
            &|| sized.against_surroundings(longest / 16 + 2, 1, 5),
            &|| sized.against_surroundings(longest / 24 + 2, 4, 0),
            &|| sized.against_surroundings(longest / 64 + 4, 10, 0),
            &|| {
                sized
                    .inverted()
                    .against_surroundings(longest / 16 + 2, 4, 0)
            },
        ];
        for light in lights {
            if !may_go_on() {
                return Err(PhotoError::NotInTime);
            }
            // A look that fails on what is no code ends here, and the next may see it.
            let found = guarded(|| look(&light())).unwrap_or_default();
            if !found.is_empty() {
                return Ok(found);
            }
        }
    }
    Err(PhotoError::NoCode)
}

/// Texts of the codes that can be read in a picture of black and white.
fn look(picture: &Grey) -> Vec<String> {
    if !are_few(picture) {
        return Vec::new();
    }
    let is_dark = |x: usize, y: usize| picture.luma[y * picture.width + x] == 0;
    let mut prepared =
        rqrr::PreparedImage::prepare_from_bitmap(picture.width, picture.height, is_dark);
    let mut texts = Vec::new();
    for grid in prepared.detect_grids().iter().take(MOST_CODES) {
        let mut bytes = Vec::new();
        // One damaged code does not hide another.
        let read = guarded(|| grid.decode_to(&mut bytes).is_ok()).unwrap_or(false);
        if !read || bytes.is_empty() || bytes.len() > LONGEST_TEXT {
            continue;
        }
        let text = String::from_utf8_lossy(&bytes).into_owned();
        if !texts.contains(&text) {
            texts.push(text);
        }
    }
    texts
}
