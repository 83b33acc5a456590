//! SHA-256 (FIPS 180-4), and bytes as hexadecimal digits.

use sha2::Digest as _;
use sha2::Sha256;

/// A SHA-256 of something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Digest([u8; 32]);

impl Digest {
    /// All zeros: stands for what comes before the first.
    pub const ZERO: Self = Self([0; 32]);

    /// Of some bytes.
    pub fn of(bytes: &[u8]) -> Self {
        let mut hasher = Hasher::default();
        hasher.update(bytes);
        hasher.finish()
    }

    /// 64 lower-case hexadecimal digits.
    pub fn hex(&self) -> String {
        hex(&self.0)
    }

    /// Its 32 bytes.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// The first 16 of the digits, for people to compare.
    pub fn short(&self) -> String {
        hex(&self.0[..8])
    }

    /// From 64 lower-case hexadecimal digits; None for anything else.
    pub fn from_hex(text: &str) -> Option<Self> {
        from_hex(text).map(Self)
    }
}

/// A SHA-256 that grows piece by piece.
#[derive(Debug, Clone, Default)]
pub struct Hasher(Sha256);

impl Hasher {
    /// Adds bytes.
    pub fn update(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// Adds a text behind its length, so that no two lists of texts are the same bytes.
    pub fn text(&mut self, text: &str) {
        self.update(&(text.len() as u64).to_le_bytes());
        self.update(text.as_bytes());
    }

    /// The hash of all that was added.
    pub fn finish(self) -> Digest {
        Digest(self.0.finalize().into())
    }
}

/// Lower-case hexadecimal digits of bytes.
pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Bytes from exactly twice as many lower-case hexadecimal digits.
pub(super) fn from_hex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let digits = text.as_bytes();
    if digits.len() != 2 * N {
        return None;
    }
    let value = |digit: u8| match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    };
    let mut bytes = [0; N];
    for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
        *byte = 16 * value(pair[0])? + value(pair[1])?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4, example of one block, and the empty message of the same series.
    #[test]
    fn abc_has_the_hash_of_the_standard() {
        assert_eq!(
            Digest::of(b"abc").hex(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_eq!(
            Digest::of(b"").hex(),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
        );
    }

    #[test]
    fn pieces_have_the_hash_of_the_whole() {
        let mut hasher = Hasher::default();
        hasher.update(b"a");
        hasher.update(b"");
        hasher.update(b"bc");
        assert_eq!(hasher.finish(), Digest::of(b"abc"));
    }

    #[test]
    fn digits_are_read_in_one_form_only() {
        let digest = Digest::of(b"abc");
        assert_eq!(Digest::from_hex(&digest.hex()), Some(digest));
        let upper = digest.hex().to_uppercase();
        let long = format!("{}0", digest.hex());
        for wrong in ["", "ba", &upper, &long, &"g".repeat(64)] {
            assert_eq!(Digest::from_hex(wrong), None, "{wrong}");
        }
    }
}
