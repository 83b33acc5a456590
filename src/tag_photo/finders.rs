//! Whether a look can come to an end: a reader compares each corner pattern with each pair of
//! others, so a picture of gravel, or one made on purpose, could keep it for hours.
//!
//! Corner patterns are counted the way the reader finds them, in a time that goes with the pixels.

use super::picture::Grey;

/// Most corner patterns that a look is begun with: those of eight codes.
const MOST_PATTERNS: usize = 24;

/// Most pixels that a reader may have to walk over while it looks for them.
const MOST_STEPS: u64 = 150_000_000;

/// Most areas of one colour: more of them are noise, and every speck is a place to look at.
const MOST_AREAS: usize = 150_000;

/// Whether a picture in black (0) and white has few enough corner patterns.
pub fn are_few(picture: &Grey) -> bool {
    let areas = Areas::of(picture);
    if areas.n_areas() > MOST_AREAS {
        return false;
    }
    let (mut rings, mut n_steps) = (Vec::new(), 0_u64);
    for y in 0..picture.height {
        for (left, stone, right) in crossings(picture.row(y)) {
            let at = |x: usize| areas.of[y * picture.width + x];
            let (ring, stone) = (at(right), at(stone));
            let (ring_size, stone_size) = (areas.size(ring), areas.size(stone));
            n_steps += u64::from(ring_size) + u64::from(stone_size);
            let part = u64::from(stone_size) * 100 / u64::from(ring_size.max(1));
            let is_ring = at(left) == ring && ring != stone && (11..70).contains(&part);
            if is_ring && !rings.contains(&ring) {
                rings.push(ring);
            }
            if rings.len() > MOST_PATTERNS || n_steps > MOST_STEPS {
                return false;
            }
        }
    }
    true
}

/// Where a row crosses what could be a corner pattern, dark and light as 1 : 1 : 3 : 1 : 1: a
/// pixel of its left edge, of its middle, and of its right edge.
fn crossings(row: &[u8]) -> Vec<(usize, usize, usize)> {
    let mut found = Vec::new();
    let mut runs = [0; 5];
    let (mut start, mut n_runs) = (0, 0);
    for x in 1..=row.len() {
        if x < row.len() && row[x] == row[x - 1] {
            continue;
        }
        runs.rotate_left(1);
        runs[4] = x - start;
        start = x;
        n_runs += 1;
        if n_runs >= 5 && row[x - 1] == 0 && is_pattern(runs) {
            let from_middle: usize = runs[2..].iter().sum();
            found.push((x - runs.iter().sum::<usize>(), x - from_middle, x - runs[4]));
        }
    }
    found
}

fn is_pattern(runs: [usize; 5]) -> bool {
    let one = (runs[0] + runs[1] + runs[3] + runs[4]) / 4;
    let off = one * 3 / 4;
    let parts = [1, 1, 3, 1, 1];
    let mut all = runs.iter().zip(parts);
    all.all(|(run, part)| (part * one - off..=part * one + off).contains(run))
}

/// Connected areas of one colour.
struct Areas {
    /// Area of each pixel.
    of: Vec<u32>,
    sizes: Vec<u32>,
}

impl Areas {
    fn of(picture: &Grey) -> Self {
        let (width, luma) = (picture.width, &picture.luma);
        let mut of: Vec<u32> = Vec::with_capacity(luma.len());
        // Each area points to one that it belongs to; at the end to itself.
        let mut parents: Vec<u32> = Vec::new();
        for at in 0..luma.len() {
            let beside = (at % width > 0 && luma[at] == luma[at - 1]).then(|| of[at - 1]);
            let above = (at >= width && luma[at] == luma[at - width]).then(|| of[at - width]);
            of.push(match (beside, above) {
                (Some(one), Some(other)) if one != other => joined(&mut parents, one, other),
                (Some(own), _) | (None, Some(own)) => own,
                (None, None) => {
                    parents.push(parents.len() as u32);
                    parents.len() as u32 - 1
                }
            });
        }
        let mut sizes = vec![0; parents.len()];
        for area in &mut of {
            *area = root(&mut parents, *area);
            sizes[*area as usize] += 1;
        }
        Self { of, sizes }
    }

    fn n_areas(&self) -> usize {
        self.sizes.iter().filter(|size| **size > 0).count()
    }

    fn size(&self, area: u32) -> u32 {
        self.sizes[area as usize]
    }
}

fn root(parents: &mut [u32], mut area: u32) -> u32 {
    while parents[area as usize] != area {
        let next = parents[parents[area as usize] as usize];
        parents[area as usize] = next;
        area = next;
    }
    area
}

fn joined(parents: &mut [u32], one: u32, other: u32) -> u32 {
    let (one, other) = (root(parents, one), root(parents, other));
    let (first, last) = (one.min(other), one.max(other));
    parents[last as usize] = first;
    first
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Corner patterns of seven squares, `n` in a row.
    fn patterns(n: usize) -> Grey {
        const PATTERN: [&str; 8] = [
            "#######.", "#.....#.", "#.###.#.", "#.###.#.", "#.###.#.", "#.....#.", "#######.",
            "........",
        ];
        let row = |line: &str| line.repeat(n).replace('#', "\0").replace('.', "\u{1}");
        let luma = PATTERN.map(row).concat().into_bytes();
        Grey {
            width: 8 * n,
            height: 8,
            luma,
        }
    }

    #[test]
    fn so_many_patterns_are_few_and_one_more_is_not() {
        assert!(are_few(&patterns(1)));
        assert!(are_few(&patterns(MOST_PATTERNS)));
        assert!(!are_few(&patterns(MOST_PATTERNS + 1)));
    }

    #[test]
    fn areas_that_meet_later_are_one() {
        // A dark U: its arms meet in the last row.
        let picture = Grey {
            width: 3,
            height: 2,
            luma: vec![0, 1, 0, 0, 0, 0],
        };
        let areas = Areas::of(&picture);
        assert_eq!(areas.of[0], areas.of[2]);
        assert_eq!((areas.size(areas.of[0]), areas.size(areas.of[1])), (5, 1));
    }
}
