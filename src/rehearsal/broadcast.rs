//! What the practice board sends in one run, in order and with its times.
//!
//! Made ahead as a whole: a run is at most an hour, and a list can be sent fast, slow
//! or into a file. Sequence numbers and ticks go on from wherever the board stands.
//!
//! Invariant: the same scenario, seed and origin give the same bytes.

use firmware_protocol::BoardFlags;
use firmware_protocol::BoardName;
use firmware_protocol::Channel;
use firmware_protocol::ChannelKind;
use firmware_protocol::ChannelTable;
use firmware_protocol::FirmwareVersion;
use firmware_protocol::Hello;
use firmware_protocol::Label;
use firmware_protocol::MAX_FRAME_BYTES;
use firmware_protocol::Message;
use firmware_protocol::RangeUnit;
use firmware_protocol::SampleRate;
use firmware_protocol::Samples;
use firmware_protocol::Status;
use firmware_protocol::encode_frame;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::RngCore;
use rand_chacha::rand_core::SeedableRng;

use crate::rehearsal::scenario::Fault;
use crate::rehearsal::scenario::Rehearsal;
use crate::rehearsal::scenario::Scenario;
use crate::rehearsal::sensors::Loop;
use crate::rehearsal::sensors::N_CHANNELS;
use crate::rehearsal::sensors::Senses;
use crate::rehearsal::stiff::StiffError;

/// Samples in one block: 200 ms, so that a page moves and a lost block hurts little.
pub(super) const BLOCK_SAMPLES: usize = 10;

/// Supply of the practice board, mV.
const SUPPLY_MV: u16 = 24_000;

/// Random numbers of the line; the sensors use the low numbers.
const LINE_STREAM: u64 = 100;

/// Where the board stands when a run begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Origin {
    /// Board clock, µs since it started.
    pub tick_us: u64,
    /// Number of the next sample.
    pub sequence: u32,
    /// Samples dropped so far.
    pub n_dropped: u32,
}

/// One thing the board does, and where it stands after it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Deed {
    /// Time since the start of the run, µs.
    pub at_us: u64,
    /// What.
    pub act: Act,
    /// Where the board stands then.
    pub after: Origin,
}

/// What a board does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Act {
    /// Sends a frame.
    Send(Vec<u8>),
    /// Loses its adapter.
    Unplug,
    /// Gets it back.
    Replug,
}

/// The raw bytes of a whole run, without a port: as a host would see them that asks
/// `Identify` and `Start` at once and never stops. What was sent while the adapter was
/// gone is missing; after a pull without return nothing follows.
///
/// # Errors
/// If the physics cannot be integrated.
pub fn bench_bytes(scenario: &Scenario) -> Result<Vec<u8>, StiffError> {
    let rehearsal = scenario.rehearse()?;
    let hello = frame(&Message::Hello(hello(
        &scenario.senses,
        scenario.samples_per_s,
    )));
    // Once for having started, once for having been asked.
    let mut bytes = [hello.clone(), hello].concat();
    bytes.extend(status(&Origin::default(), BoardFlags::RUNNING, 0));
    for deed in broadcast(scenario, &rehearsal, Origin::default()) {
        if let Act::Send(frame) = deed.act {
            bytes.extend(frame);
        }
    }
    Ok(bytes)
}

/// All deeds of one run.
pub(super) fn broadcast(scenario: &Scenario, rehearsal: &Rehearsal, origin: Origin) -> Vec<Deed> {
    let mut sender = Sender::new(&scenario.senses, scenario.samples_per_s, origin)
        .with_faults(&scenario.faults, scenario.seed);
    for block in rehearsal.codes.chunks(BLOCK_SAMPLES) {
        sender.block(block);
    }
    sender.end();
    sender.deeds
}

/// Makes deeds of blocks of samples, one after the other.
pub(super) struct Sender {
    loops: [Loop; N_CHANNELS],
    faults: Vec<Fault>,
    interval_us: u32,
    true_interval_us: u32,
    random: ChaCha8Rng,
    start: Origin,
    now: Origin,
    next_status_us: u64,
    channel_faults: u8,
    overrun: bool,
    unplugged: bool,
    restart: Option<Origin>,
    deeds: Vec<Deed>,
}

impl Sender {
    /// A run of a sound board, from where it stands.
    pub(super) fn new(senses: &Senses, samples_per_s: u32, origin: Origin) -> Self {
        Self {
            loops: senses.loops,
            faults: Vec::new(),
            interval_us: 1_000_000 / samples_per_s,
            true_interval_us: 1_000_000 / samples_per_s,
            random: ChaCha8Rng::seed_from_u64(0),
            start: origin,
            now: origin,
            next_status_us: 1_000_000,
            channel_faults: 0,
            overrun: false,
            unplugged: false,
            restart: None,
            deeds: Vec::new(),
        }
    }

    fn with_faults(mut self, faults: &[Fault], seed: u64) -> Self {
        self.faults = faults.to_vec();
        self.random = ChaCha8Rng::seed_from_u64(seed);
        self.random.set_stream(LINE_STREAM);
        self
    }

    /// What was made since the last call, in order.
    pub(super) fn take(&mut self) -> Vec<Deed> {
        std::mem::take(&mut self.deeds)
    }

    /// Time since the start of the run, µs.
    fn elapsed_us(&self) -> u64 {
        self.now.tick_us - self.start.tick_us
    }

    /// One block of samples, with the statuses that are due by its end.
    pub(super) fn block(&mut self, codes: &[[i32; N_CHANNELS]]) {
        self.keep_time();
        let first = self.now;
        let n_samples = u32::try_from(codes.len()).expect("a block is short");
        let length_us = u64::from(self.interval_us) * u64::from(n_samples);
        let sent_us = first.tick_us + length_us - u64::from(self.interval_us);
        while self.start.tick_us + self.next_status_us <= sent_us {
            self.now.tick_us = self.start.tick_us + self.next_status_us;
            self.next_status_us += 1_000_000;
            self.status(BoardFlags::RUNNING);
        }
        self.now.tick_us = sent_us;
        self.plug();
        self.now.sequence = first.sequence.wrapping_add(n_samples);
        if self.happens(|fault| match fault {
            Fault::BlocksLost { share } => *share,
            _ => 0.0,
        }) {
            self.now.n_dropped = self.now.n_dropped.saturating_add(n_samples);
            self.overrun = true;
        } else if !self.restarts() {
            self.samples(&first, codes);
        }
        self.watch_channels(codes.last());
        self.now.tick_us = first.tick_us + length_us;
    }

    fn samples(&mut self, first: &Origin, codes: &[[i32; N_CHANNELS]]) {
        let counts = codes.as_flattened();
        let first = self.counted(first);
        let samples = Samples::new(
            first.sequence,
            low_half(first.tick_us),
            self.interval_us,
            N_CHANNELS,
            counts,
        )
        .expect("a block of the practice board keeps the limits of the wire");
        let mut bytes = frame(&Message::Samples(samples));
        if self.happens(|fault| match fault {
            Fault::BlocksGarbled { share } => *share,
            _ => 0.0,
        }) {
            let middle = bytes.len() / 2;
            // Never to zero, which would end the frame.
            bytes[middle] = if bytes[middle] == 0x55 {
                0xAA
            } else {
                bytes[middle] ^ 0x55
            };
        }
        self.send(bytes);
    }

    /// A status at once when a channel goes outside its band or comes back.
    fn watch_channels(&mut self, last: Option<&[i32; N_CHANNELS]>) {
        let Some(codes) = last else { return };
        let mut faults = 0;
        for (index, (own, code)) in self.loops.iter().zip(codes).enumerate() {
            let (low, high) = good_band(own);
            if !(low..=high).contains(code) {
                faults |= 1 << index;
            }
        }
        if faults != self.channel_faults {
            self.channel_faults = faults;
            self.status(BoardFlags::RUNNING);
        }
    }

    fn plug(&mut self) {
        let elapsed_s = self.elapsed_us() as f64 * 1e-6;
        let gone = self.faults.iter().any(|fault| match fault {
            Fault::Unplugged { at_s, back_after_s } => {
                elapsed_s >= *at_s && back_after_s.is_none_or(|back| elapsed_s < at_s + back)
            }
            _ => false,
        });
        if gone != self.unplugged {
            self.unplugged = gone;
            self.push(if gone { Act::Unplug } else { Act::Replug });
        }
    }

    /// Whether the board is silent because it starts again; its counters begin anew after that.
    fn restarts(&mut self) -> bool {
        let elapsed_s = self.elapsed_us() as f64 * 1e-6;
        let again = self.faults.iter().find_map(|fault| match fault {
            Fault::Restarted { at_s, silent_s } if elapsed_s >= *at_s => Some(at_s + silent_s),
            _ => None,
        });
        let Some(back_s) = again else { return false };
        if elapsed_s < back_s {
            self.restart = Some(self.now);
        }
        elapsed_s < back_s
    }

    /// What the board itself counts: from its last start.
    fn counted(&self, at: &Origin) -> Origin {
        let Some(base) = &self.restart else {
            return *at;
        };
        Origin {
            tick_us: at.tick_us.saturating_sub(base.tick_us),
            sequence: at.sequence.wrapping_sub(base.sequence),
            n_dropped: at.n_dropped.saturating_sub(base.n_dropped),
        }
    }

    /// The interval by the board's own clock.
    fn keep_time(&mut self) {
        let elapsed_s = self.elapsed_us() as f64 * 1e-6;
        let runs = self.faults.iter().find_map(|fault| match fault {
            Fault::Clock { factor, from_s } if elapsed_s >= *from_s => Some(*factor),
            _ => None,
        });
        self.interval_us = (f64::from(self.true_interval_us) * runs.unwrap_or(1.0)).round() as u32;
    }

    /// Draws whether a fault with a share strikes now; without one draws nothing.
    fn happens(&mut self, share: impl Fn(&Fault) -> f64) -> bool {
        let share: f64 = self.faults.iter().map(share).sum();
        share > 0.0 && f64::from(self.random.next_u32()) < share * f64::from(u32::MAX)
    }

    fn end(&mut self) {
        self.status(BoardFlags::NONE);
    }

    fn status(&mut self, flags: BoardFlags) {
        let flags = if self.overrun {
            flags.with(BoardFlags::BUFFER_OVERRUN)
        } else {
            flags
        };
        self.overrun = false;
        if !self.restarts() {
            self.send(status(&self.counted(&self.now), flags, self.channel_faults));
        }
    }

    fn send(&mut self, bytes: Vec<u8>) {
        if !self.unplugged {
            self.push(Act::Send(bytes));
        }
    }

    fn push(&mut self, act: Act) {
        self.deeds.push(Deed {
            at_us: self.elapsed_us(),
            act,
            after: self.now,
        });
    }
}

/// A whole frame.
pub(super) fn frame(message: &Message<'_>) -> Vec<u8> {
    let mut bytes = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut bytes).expect("the longest frame fits its own limit");
    bytes[..length].to_vec()
}

/// A status frame.
pub(super) fn status(at: &Origin, flags: BoardFlags, channel_faults: u8) -> Vec<u8> {
    frame(&Message::Status(Status {
        tick_us: low_half(at.tick_us),
        flags,
        channel_faults,
        supply_mv: SUPPLY_MV,
        n_dropped: at.n_dropped,
    }))
}

/// What the practice board says of itself.
pub(super) fn hello(senses: &Senses, samples_per_s: u32) -> Hello {
    Hello {
        board_id: *b"TV-practice-0001",
        firmware: FirmwareVersion {
            major: 1,
            minor: 0,
            patch: 0,
        },
        name: BoardName::new("practice bench").expect("short and printable"),
        sample_rate: own_rate(samples_per_s),
        channels: channel_table(senses),
    }
}

/// What a board with these sensors says of its channels.
pub fn channel_table(senses: &Senses) -> ChannelTable {
    let told = [
        ("P cap", ChannelKind::Pressure, RangeUnit::PascalGauge),
        ("P rod", ChannelKind::Pressure, RangeUnit::PascalGauge),
        ("X rod", ChannelKind::Position, RangeUnit::Metre),
        ("T oil", ChannelKind::Temperature, RangeUnit::DegreeCelsius),
    ];
    let mut channels = [channel(&senses.loops[0], told[0]); N_CHANNELS];
    for (index, own) in senses.loops.iter().enumerate() {
        channels[index] = channel(own, told[index]);
    }
    ChannelTable::new(&channels).expect("four sound channels")
}

/// The one rate the board has, by its samples each second.
fn own_rate(samples_per_s: u32) -> SampleRate {
    SampleRate::from_millihertz(1000 * samples_per_s).expect("a rate a board may have")
}

fn channel(own: &Loop, (label, kind, unit): (&str, ChannelKind, RangeUnit)) -> Channel {
    let (good_lowest, good_highest) = good_band(own);
    Channel {
        label: Label::new(label).expect("short and printable"),
        kind,
        unit,
        resolution_bits: own.bits,
        code_low: own.code_at(4.0),
        code_high: own.code_at(20.0),
        value_low: own.range.0 as f32,
        value_high: own.range.1 as f32,
        good_lowest,
        good_highest,
    }
}

/// Codes of 3.6 and 21 mA (NAMUR NE 43).
fn good_band(own: &Loop) -> (i32, i32) {
    (own.code_at(3.6), own.code_at(21.0))
}

/// Ticks wrap at 2³² on the wire.
fn low_half(tick_us: u64) -> u32 {
    (tick_us & u64::from(u32::MAX)) as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::scenario::scenario;
    use firmware_protocol::Continuity;
    use firmware_protocol::Event;
    use firmware_protocol::Receiver;
    use firmware_protocol::SampleClock;

    fn bytes(name: &str) -> Vec<u8> {
        bench_bytes(&scenario(name).expect("there")).expect("integrates")
    }

    #[derive(Debug, Default, PartialEq)]
    struct Heard {
        n_samples: usize,
        n_lost: u32,
        n_faults: u64,
        n_dropped: u32,
        channel_faults: u8,
        n_hello: usize,
        last_running: bool,
    }

    fn heard(bytes: &[u8]) -> Heard {
        let (mut receiver, mut clock) = (Receiver::new(), SampleClock::new());
        let (mut heard, mut rest) = (Heard::default(), bytes);
        while let Some(event) = receiver.next_event(&mut rest) {
            match event {
                Event::Message(Message::Samples(samples)) => {
                    heard.n_samples += samples.n_samples();
                    match clock.place_samples(&samples).continuity {
                        Continuity::Gap { n_lost } => heard.n_lost += n_lost,
                        Continuity::First | Continuity::Continues => {}
                        other => panic!("{other:?}"),
                    }
                }
                Event::Message(Message::Status(status)) => {
                    let placed = clock.place_status(&status).continuity;
                    assert_ne!(placed, Continuity::Restart);
                    heard.n_dropped = status.n_dropped;
                    heard.channel_faults |= status.channel_faults;
                    heard.last_running = status.flags.contains(BoardFlags::RUNNING);
                }
                Event::Message(Message::Hello(_)) => heard.n_hello += 1,
                Event::Message(other) => panic!("{other:?}"),
                Event::Fault(_) => {}
            }
        }
        heard.n_faults = receiver.counters().n_faults();
        heard
    }

    #[test]
    fn one_seed_gives_one_sequence_of_bytes() {
        let of = |seed| {
            let scenario = scenario("tight-rebuild").expect("there").with_seed(seed);
            bench_bytes(&scenario).expect("integrates")
        };
        let once = of(5);
        assert!(once == of(5));
        assert!(once != of(6));
    }

    #[test]
    fn a_sound_run_arrives_whole_and_ends_stopped() {
        let expected = Heard {
            n_samples: 665 * 50,
            n_hello: 2,
            ..Heard::default()
        };
        assert_eq!(heard(&bytes("tight-rebuild")), expected);
    }

    #[test]
    fn a_broken_wire_is_reported_as_a_channel_fault() {
        let heard = heard(&bytes("position-sensor-lost"));
        assert_eq!((heard.channel_faults, heard.n_lost), (0b100, 0));
    }

    #[test]
    fn a_pulled_adapter_cuts_the_bytes_off() {
        let heard = heard(&bytes("adapter-pulled"));
        assert_eq!((heard.n_samples, heard.n_lost), (240 * 50, 0));
        assert!(heard.last_running);
    }

    #[test]
    fn three_seconds_without_adapter_are_three_seconds_of_samples() {
        let heard = heard(&bytes("adapter-pulled-and-back"));
        assert_eq!((heard.n_lost, heard.n_samples), (150, 662 * 50));
    }

    #[test]
    fn what_the_board_drops_is_missing_and_counted() {
        let heard = heard(&bytes("samples-lost"));
        assert_eq!(heard.n_lost, heard.n_dropped);
        assert!((0.04..0.08).contains(&(f64::from(heard.n_lost) / 33_250.0)));
    }

    #[test]
    fn what_the_line_spoils_is_a_fault_and_a_gap() {
        let heard = heard(&bytes("noisy-line"));
        assert_eq!(u64::from(heard.n_lost), 10 * heard.n_faults);
        assert!(heard.n_faults > 100);
    }
}
