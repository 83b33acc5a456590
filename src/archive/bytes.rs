//! Lists as bytes, for sums and hashes: little endian, whatever the machine is.

use crate::recording::Codes;

/// Makes bytes of lists in a buffer that is used again.
#[derive(Debug, Default)]
pub(super) struct LittleEndian {
    buffer: Vec<u8>,
}

impl LittleEndian {
    /// Of numbers that take 64 bits.
    pub(super) fn of_f64(&mut self, values: &[f64]) -> &[u8] {
        self.of(values, |value| value.to_le_bytes())
    }

    /// Of numbers that take 32 bits.
    pub(super) fn of_f32(&mut self, values: &[f32]) -> &[u8] {
        self.of(values, |value| value.to_le_bytes())
    }

    /// Of what a channel delivered.
    pub(super) fn of_codes(&mut self, codes: &Codes) -> &[u8] {
        match codes {
            Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
                self.of(codes, |code| code.to_le_bytes())
            }
            Codes::Si(values) => self.of_f64(values),
        }
    }

    /// Of anything with bytes.
    pub(super) fn of<T, const N: usize>(
        &mut self,
        values: &[T],
        bytes: impl Fn(&T) -> [u8; N],
    ) -> &[u8] {
        self.buffer.clear();
        self.buffer.reserve(N * values.len());
        for value in values {
            self.buffer.extend_from_slice(&bytes(value));
        }
        &self.buffer
    }
}
