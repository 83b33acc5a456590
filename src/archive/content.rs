//! The checksum over everything a recording holds.
//!
//! The library checks its data blocks, not the numbers and names around them; one
//! flipped bit in a calibration would make a wrong result that looks right.
//!
//! Invariant: two recordings with the same checksum input are the same recording, so
//! every text and list goes in with its length.

use super::bytes::LittleEndian;
use crate::channel::CalibratedBy;
use crate::channel::Channel;
use crate::recording::Ending;
use crate::recording::Outline;
use crate::recording::Piece;
use crate::recording::RECORDING_VERSION;
use crate::recording::Recording;
use crate::recording::RowSource;

const CASTAGNOLI: crc::Crc<u32, crc::Table<16>> =
    crc::Crc::<u32, crc::Table<16>>::new(&crc::CRC_32_ISCSI);

/// The polynomial of the sum without its highest power, lowest bit highest (RFC 3720, B.4).
const POLYNOMIAL: u32 = 0x82f6_3b78;

/// CRC-32C of a recording.
pub(super) fn checksum(recording: &Recording) -> u32 {
    let mut rows = recording.rows();
    let mut sums = RowSums::new(rows.outline());
    let mut bytes = LittleEndian::default();
    loop {
        let Ok(piece) = rows.next_piece(super::PIECE_ROWS);
        if piece.is_empty() {
            return sums.checksum(rows.outline());
        }
        sums.take(&piece, &mut bytes);
    }
}

/// Sums of the lists of rows, which grow side by side and stand one behind the other in the
/// checksum.
pub(super) struct RowSums {
    time: Sum,
    lanes: Vec<Sum>,
}

impl RowSums {
    /// Before the first row.
    pub(super) fn new(outline: &Outline) -> Self {
        let begun = || {
            let mut sum = Sum::default();
            sum.number((outline.n_rows as u64).to_le_bytes());
            sum
        };
        Self {
            time: begun(),
            lanes: outline.lanes.iter().map(|_| begun()).collect(),
        }
    }

    /// Takes the next rows.
    pub(super) fn take(&mut self, piece: &Piece, bytes: &mut LittleEndian) {
        self.time.bytes(bytes.of_f64(piece.time_s()));
        for (sum, track) in self.lanes.iter_mut().zip(piece.tracks()) {
            sum.bytes(bytes.of_codes(&track.codes));
        }
    }

    /// The checksum of the recording with these rows.
    pub(super) fn checksum(self, outline: &Outline) -> u32 {
        let mut sum = Sum::default();
        sum.number(RECORDING_VERSION.to_le_bytes());
        let heading = &outline.heading;
        sum.number(heading.started_utc_ms.to_le_bytes());
        for text in [
            &heading.run_id,
            &heading.time_zone,
            &heading.software,
            &heading.source,
            &heading.setup_toml,
            &heading.shop_toml,
            &heading.practice,
        ] {
            sum.text(text);
        }
        let mut whole = sum.closed().with(self.time.closed());
        for (lane, codes) in outline.lanes.iter().zip(self.lanes) {
            let mut sum = Sum::default();
            channel(&mut sum, &lane.channel);
            whole = whole.with(sum.closed()).with(codes.closed());
        }
        whole.with(behind_rows(outline).closed()).crc
    }
}

fn behind_rows(outline: &Outline) -> Sum {
    let mut sum = Sum::default();
    for gap in &outline.gaps {
        sum.list(&[gap.from_s, gap.until_s], |time_s| time_s.to_le_bytes());
        sum.text(gap.cause.word());
    }
    for phase in &outline.phases {
        sum.list(&[phase.from_s, phase.until_s], |s| s.to_le_bytes());
        sum.text(&phase.name);
    }
    // Without entries the sum is what it was before there were any.
    for entry in &outline.entries {
        sum.list(&[entry.at_s], |at_s| at_s.to_le_bytes());
        for text in [entry.kind.word(), &entry.step, &entry.text] {
            sum.text(text);
        }
    }
    let loss = outline.loss;
    let totals = [
        loss.n_samples_lost,
        loss.n_frames_bad,
        loss.n_board_dropped,
        loss.n_bytes_overrun,
    ];
    sum.list(&totals, |total| total.to_le_bytes());
    if let Ending::Interrupted(reason) = &outline.ending {
        sum.text(reason);
    }
    sum
}

fn channel(sum: &mut Sum, channel: &Channel) {
    sum.text(channel.role.word());
    sum.text(&channel.label);
    let numbers = [
        channel.calibration.si_at_zero_code,
        channel.calibration.si_per_code,
        channel.range_si.0,
        channel.range_si.1,
        channel.errors.zero_si,
        channel.errors.span_relative,
        channel.errors.zero_si_per_k,
    ];
    // What is usual adds nothing, so that older recordings keep their sums.
    let by = channel.papers.by.map_or("", CalibratedBy::word);
    let bend = channel.calibration.si_per_code_squared;
    if bend == 0.0 && by.is_empty() {
        sum.list(&numbers, |number| number.to_le_bytes());
    } else {
        // The length of the list tells the two forms apart.
        let more = [&numbers[..], &[bend]].concat();
        sum.list(&more, |number| number.to_le_bytes());
        sum.text(by);
    }
    let band = [channel.good_codes.0, channel.good_codes.1];
    sum.list(&band, |code| code.to_le_bytes());
    sum.text(&channel.papers.serial);
    sum.text(&channel.papers.certificate);
    sum.text(&channel.papers.due);
    if let Some(against) = &channel.against_supply {
        let numbers = [against.code_at_zero_volt, against.supply_step_relative];
        sum.list(&numbers, |number| number.to_le_bytes());
        let band = [against.signal_codes.0, against.signal_codes.1];
        sum.list(&band, |code| code.to_le_bytes());
    }
}

/// A sum that grows.
struct Sum {
    digest: crc::Digest<'static, u32, crc::Table<16>>,
    n_bytes: u64,
}

impl Default for Sum {
    fn default() -> Self {
        Self {
            digest: CASTAGNOLI.digest(),
            n_bytes: 0,
        }
    }
}

impl Sum {
    fn bytes(&mut self, bytes: &[u8]) {
        self.digest.update(bytes);
        self.n_bytes += bytes.len() as u64;
    }

    fn number<const N: usize>(&mut self, bytes: [u8; N]) {
        self.bytes(&bytes);
    }

    fn text(&mut self, text: &str) {
        self.number((text.len() as u64).to_le_bytes());
        self.bytes(text.as_bytes());
    }

    /// A short list.
    fn list<T, const N: usize>(&mut self, values: &[T], bytes: impl Fn(&T) -> [u8; N]) {
        self.number((values.len() as u64).to_le_bytes());
        for value in values {
            self.bytes(&bytes(value));
        }
    }

    fn closed(self) -> Closed {
        Closed {
            crc: self.digest.finalize(),
            n_bytes: self.n_bytes,
        }
    }
}

/// The sum of some bytes, and how many they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Closed {
    crc: u32,
    n_bytes: u64,
}

impl Closed {
    /// The sum of these bytes with others behind them. Zeros behind the first ones multiply their
    /// remainder by x to the number of bits; start and end of the sum, all ones, cancel out.
    fn with(self, behind: Self) -> Self {
        Self {
            crc: times(power_of_x(8 * behind.n_bytes), self.crc) ^ behind.crc,
            n_bytes: self.n_bytes + behind.n_bytes,
        }
    }
}

/// The product of two remainders; bit 31 is the power 0.
fn times(one: u32, mut other: u32) -> u32 {
    let mut product = 0;
    for power in 0..32 {
        if one >> (31 - power) & 1 == 1 {
            product ^= other;
        }
        // By x: one power up, the highest is what the polynomial makes of it.
        other = other >> 1 ^ if other & 1 == 1 { POLYNOMIAL } else { 0 };
    }
    product
}

/// The remainder of x to a power.
fn power_of_x(mut power: u64) -> u32 {
    let (mut product, mut square) = (1 << 31, 1 << 30);
    while power > 0 {
        if power & 1 == 1 {
            product = times(product, square);
        }
        square = times(square, square);
        power >>= 1;
    }
    product
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_of_pieces_make_the_sum_of_the_whole() {
        let bytes: Vec<u8> = (0..70_000_u32)
            .map(|i| (i.wrapping_mul(i) >> 3) as u8)
            .collect();
        let sum = |bytes: &[u8]| {
            let mut sum = Sum::default();
            sum.bytes(bytes);
            sum.closed()
        };
        for cut in [0, 1, 2, 3, 255, 4_096, 69_999, 70_000] {
            let (before, behind) = bytes.split_at(cut);
            assert_eq!(sum(before).with(sum(behind)), sum(&bytes), "cut at {cut}");
        }
    }
}
