//! Signatures: what is signed, in which words, and what a look at it later finds.
//!
//! A *statement* is a few plain lines that anybody can read; it is signed with Ed25519
//! (RFC 8032) and holds SHA-256 hashes (FIPS 180-4) of what it speaks for. Certificates,
//! papers and recordings each have their own form of it. Where the key comes from, where
//! files lie and whose key it is are the shell's business.
//!
//! Invariants: pure, no clock, no file, no chance: 32 random bytes are handed in; a text
//! that is a statement is the only text of that statement; everything that is not exactly
//! as it was signed is *changed*, never an error that ends the look.

mod digest;
mod key;
mod statement;

mod certificate;
mod paper;
mod record;
mod recording;

mod checked;

pub use certificate::CertificateStatement;
pub use certificate::Section;
pub use certificate::issued_utc;
pub use checked::Checked;
pub use checked::Standing;
pub use digest::Digest;
pub use digest::Hasher;
pub use key::PublicKey;
pub use key::SecretError;
pub use key::SigningKey;
pub use paper::PaperError;
pub use paper::check_paper;
pub use paper::paper_label;
pub use paper::sign_paper;
pub use record::RecordError;
pub use record::check_record;
pub use record::check_record_file;
pub use record::sections;
pub use record::with_signature;
pub use recording::BLOCK_BYTES;
pub use recording::BlockError;
pub use recording::RecordingStatement;
pub use statement::SignedStatement;
pub use statement::Statement;
pub use statement::StatementError;
