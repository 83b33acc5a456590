//! The checksum over everything a recording holds.
//!
//! The library checks its data blocks, not the numbers and names around them; one
//! flipped bit in a calibration would make a wrong result that looks right.
//!
//! Invariant: two recordings with the same checksum input are the same recording, so
//! every text and list goes in with its length.

use crate::channel::CalibratedBy;
use crate::channel::Channel;
use crate::recording::Codes;
use crate::recording::Ending;
use crate::recording::RECORDING_VERSION;
use crate::recording::Recording;

const CASTAGNOLI: crc::Crc<u32, crc::Table<16>> =
    crc::Crc::<u32, crc::Table<16>>::new(&crc::CRC_32_ISCSI);

/// CRC-32C of a recording.
pub(super) fn checksum(recording: &Recording) -> u32 {
    let mut sum = Sum {
        digest: CASTAGNOLI.digest(),
    };
    sum.number(RECORDING_VERSION.to_le_bytes());
    let heading = recording.heading();
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
    sum.list(recording.time_s(), |time_s| time_s.to_le_bytes());
    for track in recording.tracks() {
        channel(&mut sum, &track.channel);
        match &track.codes {
            Codes::Raw(codes) | Codes::AgainstSupply { raw: codes, .. } => {
                sum.list(codes, |code| code.to_le_bytes());
            }
            Codes::Si(values) => sum.list(values, |value| value.to_le_bytes()),
        }
    }
    for gap in recording.gaps() {
        sum.list(&[gap.from_s, gap.until_s], |time_s| time_s.to_le_bytes());
        sum.text(gap.cause.word());
    }
    for phase in recording.phases() {
        sum.list(&[phase.from_s, phase.until_s], |s| s.to_le_bytes());
        sum.text(&phase.name);
    }
    // Without entries the sum is what it was before there were any.
    for entry in recording.entries() {
        sum.list(&[entry.at_s], |at_s| at_s.to_le_bytes());
        for text in [entry.kind.word(), &entry.step, &entry.text] {
            sum.text(text);
        }
    }
    let loss = recording.loss();
    let totals = [
        loss.n_samples_lost,
        loss.n_frames_bad,
        loss.n_board_dropped,
        loss.n_bytes_overrun,
    ];
    sum.list(&totals, |total| total.to_le_bytes());
    if let Ending::Interrupted(reason) = recording.ending() {
        sum.text(reason);
    }
    sum.digest.finalize()
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

struct Sum {
    digest: crc::Digest<'static, u32, crc::Table<16>>,
}

impl Sum {
    fn number<const N: usize>(&mut self, bytes: [u8; N]) {
        self.digest.update(&bytes);
    }

    fn text(&mut self, text: &str) {
        self.number((text.len() as u64).to_le_bytes());
        self.digest.update(text.as_bytes());
    }

    fn list<T, const N: usize>(&mut self, values: &[T], bytes: impl Fn(&T) -> [u8; N]) {
        // In portions: one value at a time is slow, all at once doubles the memory.
        const PORTION: usize = 8_192;
        self.number((values.len() as u64).to_le_bytes());
        let mut buffer = Vec::with_capacity(N * PORTION.min(values.len()));
        for portion in values.chunks(PORTION) {
            buffer.clear();
            portion
                .iter()
                .for_each(|value| buffer.extend_from_slice(&bytes(value)));
            self.digest.update(&buffer);
        }
    }
}
