//! Whether the texts of a damaged file point to where texts are.
//!
//! HDF5 keeps texts in heaps ("GCOL") and points to each by length, address and index. The
//! library of stable distributions follows an index without a look at how many the heap has: one turned bit
//! there ends the program. So a file that is not as it was signed is looked through before the
//! library gets it.
//!
//! Invariant: any bytes are taken, and nothing panics.

/// Bytes of a heap's head, and of the head of each of its texts.
const HEAD: usize = 16;

fn number(bytes: &[u8], at: usize, n_bytes: usize) -> Option<u64> {
    let found = bytes.get(at..at.checked_add(n_bytes)?)?;
    Some(
        found
            .iter()
            .rev()
            .fold(0, |sum, b| sum << 8 | u64::from(*b)),
    )
}

/// Address of each heap, its largest index, and how long its texts are.
fn heaps(bytes: &[u8]) -> Vec<(u64, u64, Vec<u64>)> {
    let starts = (0..bytes.len()).step_by(8);
    let starts = starts.filter(|at| bytes[*at..].starts_with(b"GCOL\x01"));
    starts
        .filter_map(|start| {
            let size = usize::try_from(number(bytes, start + 8, 8)?).ok()?;
            let end = start.checked_add(size)?.min(bytes.len());
            let (mut at, mut largest, mut lengths) = (start + HEAD, 0, Vec::new());
            while at + HEAD <= end {
                let index = number(bytes, at, 2)?;
                let length = usize::try_from(number(bytes, at + 8, 8)?).ok()?;
                if index == 0 {
                    break;
                }
                largest = largest.max(index);
                lengths.push(length as u64);
                let padded = length.checked_next_multiple_of(8)?;
                at = at.checked_add(HEAD)?.checked_add(padded)?;
            }
            Some((start as u64, largest, lengths))
        })
        .collect()
}

/// Whether a pointer to a text has an index that its heap has not; `bytes` begin where
/// addresses of the file count from. Bytes that look like a pointer by chance are told by their
/// length, which no text has; a pointer with a damaged length is not seen.
pub(super) fn point_nowhere(bytes: &[u8]) -> bool {
    let heaps = heaps(bytes);
    heaps.iter().any(|(address, largest, lengths)| {
        let address = address.to_le_bytes();
        let mut pointers = bytes.windows(16).filter(|w| w[4..12] == address);
        pointers.any(|w| {
            let (length, index) = (number(w, 0, 4), number(w, 12, 4));
            let is_of_a_text = length.is_some_and(|n| n > 0 && lengths.contains(&n));
            is_of_a_text && index > Some(*largest)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A heap at 8 with texts 1 and 2, and a pointer to text `index` behind it.
    fn file(index: u32) -> Vec<u8> {
        let mut bytes = vec![0; 8];
        bytes.extend(b"GCOL\x01\0\0\0");
        bytes.extend(64u64.to_le_bytes());
        for (index, text) in [(1u16, b"one\0\0\0\0\0"), (2, b"two\0\0\0\0\0")] {
            bytes.extend(index.to_le_bytes());
            bytes.extend([0; 6]);
            bytes.extend(3u64.to_le_bytes());
            bytes.extend(text);
        }
        bytes.extend([0; 8]);
        bytes.extend(3u32.to_le_bytes());
        bytes.extend(8u64.to_le_bytes());
        bytes.extend(index.to_le_bytes());
        bytes
    }

    #[test]
    fn an_index_that_the_heap_has_not_points_nowhere() {
        assert!(!point_nowhere(&file(1)) && !point_nowhere(&file(2)));
        for bit in 2..32 {
            assert!(point_nowhere(&file(1 | 1 << bit)), "bit {bit}");
        }
    }

    #[test]
    fn cut_off_or_odd_bytes_are_taken() {
        let whole = file(2);
        for n in 0..whole.len() {
            let _ = point_nowhere(&whole[..n]);
            for bit in 0..8 {
                let mut other = whole.clone();
                other[n] ^= 1 << bit;
                let _ = point_nowhere(&other);
            }
        }
    }
}
