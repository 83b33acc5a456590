//! The key that signs, the one that checks, and a signature (Ed25519, RFC 8032).
//!
//! Invariant: the secret is never printed, not even for debugging; it leaves only through
//! [`SigningKey::to_text`], for the file it is kept in.

use ed25519_dalek::Signer as _;

use crate::signature::digest::from_hex;
use crate::signature::digest::hex;

/// A text that is no secret of a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a signing key is one line of 64 lower-case hexadecimal digits")]
pub struct SecretError;

/// The secret half of a key: whoever has it can sign.
#[derive(Clone)]
pub struct SigningKey(ed25519_dalek::SigningKey);

impl SigningKey {
    /// From 32 random bytes, which must come from the system's source of chance.
    pub fn from_random(bytes: &[u8; 32]) -> Self {
        Self(ed25519_dalek::SigningKey::from_bytes(bytes))
    }

    /// The public half.
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.verifying_key())
    }

    /// As it is kept: 64 hexadecimal digits and a line end. Secret.
    pub fn to_text(&self) -> String {
        hex(self.0.as_bytes()) + "\n"
    }

    /// From [`SigningKey::to_text`].
    ///
    /// # Errors
    /// For any other text.
    pub fn from_text(text: &str) -> Result<Self, SecretError> {
        let digits = text.strip_suffix('\n').ok_or(SecretError)?;
        let bytes = from_hex(digits).ok_or(SecretError)?;
        Ok(Self::from_random(&bytes))
    }

    /// Signs a message.
    pub(super) fn sign(&self, message: &[u8]) -> Signature {
        Signature(self.0.sign(message).to_bytes())
    }
}

impl std::fmt::Debug for SigningKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "SigningKey(of {})", self.public().hex())
    }
}

/// The public half of a key: checks, and may be handed out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublicKey(ed25519_dalek::VerifyingKey);

impl PublicKey {
    /// 64 lower-case hexadecimal digits.
    pub fn hex(&self) -> String {
        hex(self.0.as_bytes())
    }

    /// From 64 lower-case hexadecimal digits; None for what is no key.
    pub fn from_hex(text: &str) -> Option<Self> {
        let bytes = from_hex(text)?;
        ed25519_dalek::VerifyingKey::from_bytes(&bytes)
            .ok()
            .map(Self)
    }

    /// Whether this key's other half signed the message.
    pub(super) fn signed(&self, message: &[u8], signature: &Signature) -> bool {
        let signature = ed25519_dalek::Signature::from_bytes(&signature.0);
        // The strict form also refuses keys for which one signature fits many messages.
        self.0.verify_strict(message, &signature).is_ok()
    }
}

/// An Ed25519 signature, 64 bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Signature([u8; 64]);

impl Signature {
    /// Hexadecimal digits of a signature.
    pub(super) const N_DIGITS: usize = 128;

    pub(super) fn hex(&self) -> String {
        hex(&self.0)
    }

    pub(super) fn from_hex(text: &str) -> Option<Self> {
        from_hex(text).map(Self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8032, section 7.1: tests 1 to 3 (secret key, public key, message, signature).
    const VECTORS: [[&str; 4]; 3] = [
        [
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            "",
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155\
             5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        ],
        [
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            "72",
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da\
             085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        ],
        [
            "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
            "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            "af82",
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac\
             18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
        ],
    ];

    fn bytes(digits: &str) -> Vec<u8> {
        let pairs = digits.as_bytes().chunks(2);
        pairs
            .map(|pair| {
                u8::from_str_radix(std::str::from_utf8(pair).expect("ASCII"), 16).expect("hex")
            })
            .collect()
    }

    #[test]
    fn signatures_are_those_of_rfc_8032() {
        for [secret, public, message, signature] in VECTORS {
            let key = SigningKey::from_random(&from_hex(secret).expect("32 bytes"));
            assert_eq!(key.public().hex(), public);
            assert_eq!(key.sign(&bytes(message)).hex(), signature);
        }
    }

    #[test]
    fn one_flipped_bit_anywhere_is_no_signature() {
        for [_, public, message, signature] in VECTORS {
            let key = PublicKey::from_hex(public).expect("a key");
            let message = bytes(message);
            let whole = Signature::from_hex(signature).expect("64 bytes");
            assert!(key.signed(&message, &whole));
            for bit in 0..512 {
                let mut other = whole;
                other.0[bit / 8] ^= 1 << (bit % 8);
                assert!(!key.signed(&message, &other), "bit {bit}");
            }
            for bit in 0..8 * message.len() {
                let mut other = message.clone();
                other[bit / 8] ^= 1 << (bit % 8);
                assert!(!key.signed(&other, &whole), "bit {bit}");
            }
        }
    }

    #[test]
    fn a_key_is_kept_as_one_line_and_read_in_that_form_only() {
        let key = SigningKey::from_random(&[0xab; 32]);
        let text = key.to_text();
        let again = SigningKey::from_text(&text).expect("the same");
        assert_eq!(again.public(), key.public());
        for wrong in ["", "\n", text.trim_end(), &text.to_uppercase(), "ab\n"] {
            assert!(SigningKey::from_text(wrong).is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn the_secret_is_not_shown() {
        let key = SigningKey::from_random(&[0xab; 32]);
        let shown = format!("{key:?}");
        assert!(!shown.contains(&"ab".repeat(8)), "{shown}");
        assert!(shown.contains(&key.public().hex()));
    }
}
