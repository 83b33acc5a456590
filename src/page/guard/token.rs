//! Marks that only this program can make: HMAC-SHA-256 (RFC 2104) over a purpose and a text.

use crate::signature::Hasher;

const BLOCK: usize = 64;

/// A mark of a text for one purpose, 64 hexadecimal digits.
pub(super) fn mark(secret: &[u8; 32], purpose: &str, text: &str) -> String {
    hmac(secret, format!("{purpose}:{text}").as_bytes())
}

fn hmac(key: &[u8], message: &[u8]) -> String {
    let mut inner = [0x36_u8; BLOCK];
    let mut outer = [0x5c_u8; BLOCK];
    for (index, byte) in key.iter().take(BLOCK).enumerate() {
        inner[index] ^= byte;
        outer[index] ^= byte;
    }
    let mut hasher = Hasher::default();
    hasher.update(&inner);
    hasher.update(message);
    let digest = hasher.finish();
    let mut hasher = Hasher::default();
    hasher.update(&outer);
    hasher.update(digest.bytes());
    hasher.finish().hex()
}

/// Whether two texts are the same; takes as long whichever sign differs.
pub(in crate::page) fn is_same(a: &str, b: &str) -> bool {
    let differs = a
        .bytes()
        .zip(b.bytes())
        .fold(0, |all, (a, b)| all | (a ^ b));
    a.len() == b.len() && differs == 0
}

/// Bytes as hexadecimal digits.
pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4231, test cases 1 and 2.
    #[test]
    fn marks_are_those_of_the_standard() {
        assert_eq!(
            hmac(&[0x0b; 20], b"Hi There"),
            "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"
        );
        assert_eq!(
            hmac(b"Jefe", b"what do ya want for nothing?"),
            "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
        );
        let secret = [7; 32];
        assert_ne!(mark(&secret, "form", "a"), mark(&secret, "paired", "a"));
    }

    #[test]
    fn texts_are_the_same_only_if_all_of_them_is() {
        assert!(is_same("", "") && is_same("abc", "abc"));
        for (a, b) in [("abc", "abd"), ("abc", "ab"), ("", "a")] {
            assert!(!is_same(a, b), "{a} {b}");
        }
    }
}
