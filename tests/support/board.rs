//! A scripted board behind a pseudo-terminal: says what a test tells it to say.
//!
//! Closing the master side is what pulling the adapter looks like on Linux: the host
//! reads an end, and writing gives an error.

use firmware_protocol::BoardFlags;
use firmware_protocol::BoardName;
use firmware_protocol::Channel;
use firmware_protocol::ChannelKind;
use firmware_protocol::ChannelTable;
use firmware_protocol::Event;
use firmware_protocol::FirmwareVersion;
use firmware_protocol::Hello;
use firmware_protocol::Kind;
use firmware_protocol::Label;
use firmware_protocol::MAX_FRAME_BYTES;
use firmware_protocol::Message;
use firmware_protocol::RangeUnit;
use firmware_protocol::Receiver;
use firmware_protocol::SampleRate;
use firmware_protocol::Samples;
use firmware_protocol::Status;
use firmware_protocol::encode_frame;
use rustix::fs::Mode;
use rustix::fs::OFlags;
use rustix::pty::OpenptFlags;
use rustix::termios::OptionalActions;
use std::fs::File;
use std::io::Read;
use std::io::Write;
use std::os::unix::ffi::OsStrExt;
use std::path::Path;

/// Interval of the samples of this board, µs.
pub const INTERVAL_US: u32 = 100_000;

/// A board that is plugged in; dropping it unplugs it.
pub struct ScriptedBoard {
    master: File,
    // A master without any open slave reads an error.
    _slave: File,
}

impl ScriptedBoard {
    /// Plugs a board in; its adapter is found under `name`.
    pub fn plug_in(name: &Path) -> Self {
        let master = rustix::pty::openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)
            .expect("pseudo-terminals are there");
        rustix::pty::grantpt(&master).expect("ours");
        rustix::pty::unlockpt(&master).expect("ours");
        let slave = rustix::pty::ptsname(&master, Vec::new()).expect("it has a name");
        let hold = rustix::fs::open(
            slave.as_c_str(),
            OFlags::RDWR | OFlags::NOCTTY,
            Mode::empty(),
        )
        .expect("our slave");
        let mut settings = rustix::termios::tcgetattr(&hold).expect("a terminal");
        settings.make_raw();
        rustix::termios::tcsetattr(&hold, OptionalActions::Now, &settings).expect("ours");
        // Reading what the host asked must not wait.
        rustix::fs::fcntl_setfl(&master, OFlags::NONBLOCK).expect("ours");
        let _ = std::fs::remove_file(name);
        std::os::unix::fs::symlink(std::ffi::OsStr::from_bytes(slave.to_bytes()), name)
            .expect("a folder that can be written");
        Self {
            master: master.into(),
            _slave: hold.into(),
        }
    }

    /// Sends bytes to the host.
    pub fn send(&mut self, bytes: &[u8]) {
        self.master.write_all(bytes).expect("room on the line");
    }

    /// What the host has asked since the last call.
    pub fn asked(&mut self) -> Vec<Kind> {
        let mut bytes = [0; 4_096];
        let n_read = self.master.read(&mut bytes).unwrap_or(0);
        let mut receiver = Receiver::new();
        let mut rest = &bytes[..n_read];
        let mut kinds = Vec::new();
        while let Some(event) = receiver.next_event(&mut rest) {
            if let Event::Message(message) = event {
                kinds.push(message.kind());
            }
        }
        kinds
    }
}

/// One message as bytes.
pub fn frame(message: &Message<'_>) -> Vec<u8> {
    let mut bytes = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut bytes).expect("it fits");
    bytes[..length].to_vec()
}

/// What a board with two channels says of itself.
pub fn hello_of(id: u8) -> Hello {
    let channel = |label, kind, unit, value_high| Channel {
        label: Label::new(label).expect("a label"),
        kind,
        unit,
        resolution_bits: 16,
        code_low: 12_800,
        code_high: 64_000,
        value_low: 0.0,
        value_high,
        good_lowest: 11_520,
        good_highest: 67_200,
    };
    let channels = [
        channel("AI0", ChannelKind::Pressure, RangeUnit::PascalGauge, 4e7),
        channel("AI1", ChannelKind::Position, RangeUnit::Metre, 0.5),
    ];
    Hello {
        board_id: [id; 16],
        firmware: FirmwareVersion {
            major: 1,
            minor: 0,
            patch: 0,
        },
        name: BoardName::new("TV bench 1").expect("a name"),
        sample_rate: SampleRate::from_millihertz(10_000).expect("10 Hz"),
        channels: ChannelTable::new(&channels).expect("two channels"),
    }
}

/// The same as bytes.
pub fn hello(id: u8) -> Vec<u8> {
    frame(&Message::Hello(hello_of(id)))
}

/// Samples of both channels; the codes are the sequence number, and its negative.
pub fn samples(first: u32, n_samples: u32, first_tick_us: u32) -> Vec<u8> {
    let counts: Vec<i32> = (first..first + n_samples)
        .flat_map(|i| [i.cast_signed(), -i.cast_signed()])
        .collect();
    let samples = Samples::new(first, first_tick_us, INTERVAL_US, 2, &counts);
    frame(&Message::Samples(samples.expect("two channels")))
}

/// A status.
pub fn status(tick_us: u32, flags: BoardFlags, n_dropped: u32) -> Vec<u8> {
    frame(&Message::Status(Status {
        tick_us,
        flags,
        channel_faults: 0,
        supply_mv: 24_000,
        n_dropped,
    }))
}
