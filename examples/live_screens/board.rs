//! A board with eight channels behind a pseudo-terminal, a thousand samples a second.

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
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::thread::JoinHandle;
use std::time::Duration;
use std::time::Instant;

const N_CHANNELS: usize = 8;

/// Samples in a frame: eight channels of four bytes fit no more than so many.
const N_IN_FRAME: u32 = 5;

/// Samples between two steps of the position.
const STEP_EACH: u32 = 500;

/// Codes of a step, and those of zero; 0.5 m have 51 200.
const STEP_CODES: i32 = 1024;
const ZERO_CODE: i32 = 12_800;

/// A step of the position: when its first frame was written, and its value in mm as it is shown.
pub type Steps = Vec<(Instant, String)>;

/// The board.
pub struct Board {
    master: File,
    _slave: File,
}

/// The board while it sends.
pub struct Sending {
    ends: Arc<AtomicBool>,
    steps: Arc<Mutex<Steps>>,
    thread: JoinHandle<()>,
}

impl Sending {
    /// Ends it; what it stepped.
    pub fn ended(self) -> Steps {
        self.ends.store(true, Ordering::Relaxed);
        self.thread.join().expect("the board");
        self.steps.lock().expect("steps").clone()
    }
}

impl Board {
    /// Plugs it in; its adapter is found under `name`.
    pub fn plug_in(name: &Path) -> Self {
        let master = rustix::pty::openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a port");
        rustix::pty::grantpt(&master).expect("ours");
        rustix::pty::unlockpt(&master).expect("ours");
        let slave = rustix::pty::ptsname(&master, Vec::new()).expect("a name");
        let flags = OFlags::RDWR | OFlags::NOCTTY;
        let hold = rustix::fs::open(slave.as_c_str(), flags, Mode::empty()).expect("our slave");
        let mut settings = rustix::termios::tcgetattr(&hold).expect("a terminal");
        settings.make_raw();
        rustix::termios::tcsetattr(&hold, OptionalActions::Now, &settings).expect("ours");
        rustix::fs::fcntl_setfl(&master, OFlags::NONBLOCK).expect("ours");
        let target = std::ffi::OsStr::from_bytes(slave.to_bytes());
        std::os::unix::fs::symlink(target, name).expect("a folder");
        Self {
            master: master.into(),
            _slave: hold.into(),
        }
    }

    /// Sends from now on.
    pub fn start(mut self) -> Sending {
        let (ends, steps) = (Arc::new(AtomicBool::new(false)), Arc::default());
        let sending = (Arc::clone(&ends), Arc::clone(&steps));
        let thread = std::thread::spawn(move || self.send(&sending.0, &sending.1));
        Sending {
            ends,
            steps,
            thread,
        }
    }

    fn send(&mut self, ends: &AtomicBool, steps: &Mutex<Steps>) {
        let began = Instant::now();
        let mut sequence = 0;
        let mut is_asked = false;
        while !ends.load(Ordering::Relaxed) {
            let mut bytes = [0; 512];
            if self.master.read(&mut bytes).is_ok_and(|n| n > 0) {
                self.write(&frame(&Message::Hello(hello())));
                is_asked = true;
            }
            let due = began + Duration::from_millis(u64::from(sequence + N_IN_FRAME));
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
            if is_asked {
                self.write(&samples(sequence));
                if sequence.is_multiple_of(STEP_EACH) {
                    let shown = shown_mm(sequence);
                    steps.lock().expect("steps").push((Instant::now(), shown));
                }
            }
            sequence += N_IN_FRAME;
        }
    }

    fn write(&mut self, mut bytes: &[u8]) {
        while !bytes.is_empty() {
            match self.master.write(bytes) {
                Ok(n) => bytes = &bytes[n..],
                Err(_) => std::thread::sleep(Duration::from_micros(200)),
            }
        }
    }
}

/// The position of a sample, a code: another after each step, never twice in a row the same.
fn position(sequence: u32) -> i32 {
    let step = (sequence / STEP_EACH % 32).cast_signed();
    ZERO_CODE + STEP_CODES * (step + 4)
}

/// As it is shown.
fn shown_mm(sequence: u32) -> String {
    let mm = f64::from(position(sequence) - ZERO_CODE) / 51_200.0 * 500.0;
    format!("{mm:.2}")
}

fn samples(first: u32) -> Vec<u8> {
    let noise = |i: u32, of: u32| ((i.wrapping_mul(2_654_435_761) >> of) & 3).cast_signed();
    let counts: Vec<i32> = (first..first + N_IN_FRAME)
        .flat_map(|i| {
            let mut codes = [30_000; N_CHANNELS];
            for (of, code) in (3_u32..).zip(&mut codes) {
                *code += noise(i, of);
            }
            codes[2] = position(i);
            codes
        })
        .collect();
    let block = Samples::new(first, first.wrapping_mul(1000), 1000, N_CHANNELS, &counts);
    frame(&Message::Samples(block.expect("a block")))
}

fn frame(message: &Message<'_>) -> Vec<u8> {
    let mut bytes = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut bytes).expect("it fits");
    bytes[..length].to_vec()
}

fn hello() -> Hello {
    let channel = |label, kind, unit, (value_low, value_high)| Channel {
        label: Label::new(label).expect("a label"),
        kind,
        unit,
        resolution_bits: 16,
        code_low: ZERO_CODE,
        code_high: 64_000,
        value_low,
        value_high,
        good_lowest: 11_520,
        good_highest: 67_200,
    };
    let pressure = |label| {
        channel(
            label,
            ChannelKind::Pressure,
            RangeUnit::PascalGauge,
            (0.0, 4e7),
        )
    };
    let channels = [
        pressure("AI0"),
        pressure("AI1"),
        channel("AI2", ChannelKind::Position, RangeUnit::Metre, (0.0, 0.5)),
        channel(
            "AI3",
            ChannelKind::Temperature,
            RangeUnit::DegreeCelsius,
            (-20.0, 120.0),
        ),
        pressure("AI4"),
        pressure("AI5"),
        pressure("AI6"),
        pressure("AI7"),
    ];
    Hello {
        board_id: [7; 16],
        firmware: FirmwareVersion {
            major: 1,
            minor: 0,
            patch: 0,
        },
        name: BoardName::new("TV bench 8").expect("a name"),
        sample_rate: SampleRate::from_millihertz(1_000_000).expect("1 kHz"),
        channels: ChannelTable::new(&channels).expect("eight channels"),
    }
}
