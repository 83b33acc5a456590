//! CRC-32C, the checksum of a frame.
//!
//! The Castagnoli polynomial as used by iSCSI (RFC 3720, appendix B.4): reflected,
//! start and final inversion `0xFFFF_FFFF`, check value `0xE306_9283`. The table is
//! computed by the compiler; it costs 1 KiB of read-only memory.

/// The polynomial `0x1EDC_6F41`, lowest bit first.
const POLYNOMIAL_REFLECTED: u32 = 0x82F6_3B78;

static TABLE: [u32; 256] = table();

/// A checksum in the making, for bytes that come piece by piece.
#[derive(Debug, Clone, Copy)]
pub struct Crc32c(u32);

impl Crc32c {
    /// Begins with no bytes taken.
    #[must_use]
    pub const fn new() -> Self {
        Self(u32::MAX)
    }

    /// Takes the next bytes.
    pub fn update(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            let [lowest, ..] = self.0.to_le_bytes();
            self.0 = TABLE[usize::from(lowest ^ byte)] ^ (self.0 >> 8);
        }
    }

    /// The checksum of all bytes taken so far.
    #[must_use]
    pub const fn value(self) -> u32 {
        !self.0
    }
}

impl Default for Crc32c {
    fn default() -> Self {
        Self::new()
    }
}

/// The CRC-32C of `bytes`.
#[must_use]
pub fn crc32c(bytes: &[u8]) -> u32 {
    let mut crc = Crc32c::new();
    crc.update(bytes);
    crc.value()
}

const fn table() -> [u32; 256] {
    let mut table = [0; 256];
    let mut index = 0;
    while index < 256 {
        let mut remainder = index as u32;
        let mut bit = 0;
        while bit < 8 {
            let out = remainder & 1;
            remainder >>= 1;
            if out == 1 {
                remainder ^= POLYNOMIAL_REFLECTED;
            }
            bit += 1;
        }
        table[index] = remainder;
        index += 1;
    }
    table
}
