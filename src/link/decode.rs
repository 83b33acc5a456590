//! Bytes to what happened, without a port and without a clock.
//!
//! Used by the link as bytes arrive, and by [`replay`] over a capture.
//!
//! Invariants: no bytes can panic; samples count only from the board that was greeted first.

use super::LinkEvent;
use super::timeline::Timeline;
use super::timeline::seconds;
use crate::recording::GapCause;
use crate::recording::Loss;
use crate::recording::Row;
use firmware_protocol::BoardFlags;
use firmware_protocol::Event;
use firmware_protocol::Fault;
use firmware_protocol::Hello;
use firmware_protocol::Kind;
use firmware_protocol::Message;
use firmware_protocol::PROTOCOL_VERSION;
use firmware_protocol::Reason;
use firmware_protocol::Receiver;
use firmware_protocol::Refused;
use firmware_protocol::Samples;
use firmware_protocol::Status;
use std::collections::VecDeque;

/// Turns the bytes of one board into events.
#[derive(Debug, Default)]
pub(super) struct Decoder {
    receiver: Receiver,
    board: Board,
}

/// What is known of the board, apart from the frame being received.
#[derive(Debug, Default)]
struct Board {
    timeline: Timeline,
    hello: Option<Hello>,
    /// Whether the board that is being heard now is that of `hello`.
    is_known: bool,
    loss: Loss,
    n_dropped: Option<u32>,
    n_good: u64,
    /// Until the first good frame after opening, foreign bytes are ordinary.
    is_in_step: bool,
    other_version: Option<u8>,
    is_other_told: bool,
}

impl Decoder {
    /// The adapter was opened again: half a frame is gone, and who answers is not known yet.
    pub(super) fn reopen(&mut self) {
        self.receiver = Receiver::new();
        self.board.is_known = false;
        self.board.is_in_step = false;
        self.board.is_other_told = false;
        self.board.other_version = None;
    }

    /// The next sample is at 0 s again, and losses are counted from here.
    pub(super) fn begin_anew(&mut self) {
        self.board.timeline.begin_anew();
        self.board.loss = Loss::default();
    }

    pub(super) fn note_absence(&mut self, cause: GapCause) {
        self.board.timeline.note_absence(cause);
    }

    pub(super) fn note_overrun(&mut self, n_bytes: u64) {
        self.board.loss.n_bytes_overrun += n_bytes;
    }

    pub(super) fn is_known(&self) -> bool {
        self.board.is_known
    }

    pub(super) fn hello(&self) -> Option<&Hello> {
        self.board.hello.as_ref()
    }

    pub(super) fn loss(&self) -> Loss {
        self.board.loss
    }

    pub(super) fn n_good(&self) -> u64 {
        self.board.n_good
    }

    pub(super) fn other_version(&self) -> Option<u8> {
        self.board.other_version
    }

    /// Takes bytes that arrived at `host_s` of the host's clock.
    pub(super) fn push(&mut self, mut bytes: &[u8], host_s: f64, out: &mut VecDeque<LinkEvent>) {
        while let Some(event) = self.receiver.next_event(&mut bytes) {
            match event {
                Event::Message(message) => self.board.take(&message, host_s, out),
                Event::Fault(fault) => self.board.fault(fault, out),
            }
        }
    }
}

impl Board {
    fn take(&mut self, message: &Message<'_>, host_s: f64, out: &mut VecDeque<LinkEvent>) {
        match message {
            Message::Hello(hello) => self.greet(hello, out),
            Message::Samples(samples) => self.samples(samples, host_s, out),
            Message::Status(status) => self.status(*status, host_s, out),
            Message::Refused(refused) => out.push_back(LinkEvent::Refused(in_words(*refused))),
            // An echo of what we sent says nothing of the board.
            Message::Identify | Message::Start | Message::Stop | Message::SetRate(_) => return,
        }
        self.is_in_step = true;
        self.n_good += 1;
    }

    fn greet(&mut self, hello: &Hello, out: &mut VecDeque<LinkEvent>) {
        let is_same =
            |first: &Hello| first.board_id == hello.board_id && first.channels == hello.channels;
        self.is_known = self.hello.as_ref().is_none_or(is_same);
        if self.is_known {
            self.hello = Some(*hello);
            out.push_back(LinkEvent::Hello(Box::new(*hello)));
        } else if !std::mem::replace(&mut self.is_other_told, true) {
            out.push_back(LinkEvent::OtherBoard(Box::new(*hello)));
        }
    }

    fn samples(&mut self, samples: &Samples<'_>, host_s: f64, out: &mut VecDeque<LinkEvent>) {
        // What is dropped here is missed by its sequence numbers, if it was of our board.
        let Some(hello) = self.hello.as_ref().filter(|_| self.is_known) else {
            return;
        };
        if samples.n_channels() != hello.channels.as_slice().len() {
            self.loss.n_frames_bad += 1;
            return;
        }
        let Some(placed) = self.timeline.place(samples, host_s) else {
            return;
        };
        self.loss.n_samples_lost += placed.n_lost;
        out.extend(placed.gap.map(LinkEvent::Gap));
        let rows = (0..samples.n_samples()).map(|sample| Row {
            time_s: seconds(placed.first_us + sample as u64 * u64::from(samples.interval_us())),
            codes: (0..samples.n_channels())
                .filter_map(|channel| samples.get(sample, channel))
                .collect(),
        });
        out.push_back(LinkEvent::Samples(rows.collect()));
    }

    fn status(&mut self, status: Status, host_s: f64, out: &mut VecDeque<LinkEvent>) {
        if !self.is_known {
            return;
        }
        self.timeline.follow(&status, host_s);
        let n_before = self.n_dropped.replace(status.n_dropped);
        // A count that went back is that of a board that began anew.
        let n_new = n_before.map_or(0, |before| {
            status
                .n_dropped
                .checked_sub(before)
                .unwrap_or(status.n_dropped)
        });
        self.loss.n_board_dropped += u64::from(n_new);
        out.push_back(LinkEvent::Status(status));
    }

    fn fault(&mut self, fault: Fault, out: &mut VecDeque<LinkEvent>) {
        if self.is_in_step {
            self.loss.n_frames_bad += 1;
        }
        if let Fault::UnknownVersion { found } = fault
            && self.other_version.replace(found) != Some(found)
        {
            out.push_back(LinkEvent::OtherVersion(version_in_words(found)));
        }
    }
}

/// Whether a status says that the board takes samples.
pub(super) fn is_running(status: &Status) -> bool {
    status.flags.contains(BoardFlags::RUNNING)
}

pub(super) fn version_in_words(found: u8) -> String {
    let older = if found > PROTOCOL_VERSION {
        "this program"
    } else {
        "the firmware of the board"
    };
    format!(
        "the board speaks protocol version {found}, this program {PROTOCOL_VERSION}; update {older}"
    )
}

fn in_words(refused: Refused) -> String {
    let request = Kind::from_code(refused.request).map_or("a request", Kind::name);
    let why = match refused.reason {
        Reason::UnknownRequest => "it does not know it; update the firmware of the board",
        Reason::RateUnsupported => "it cannot keep up with that rate; choose a lower one",
        Reason::Running => "it takes samples; stop it first",
        Reason::NotReady => "a converter or the supply of the sensors is at fault; check the board",
    };
    format!("the board refused {request}: {why}")
}

/// The events of a capture: the bytes of a board from the opening of the adapter on.
///
/// A capture has no host time: over a restart of the board, time goes on by one interval.
pub fn replay(bytes: &[u8]) -> Replay<'_> {
    // In pieces, so that the events of a long capture need not all be there at once.
    const PIECE_BYTES: usize = 4_096;
    Replay {
        pieces: bytes.chunks(PIECE_BYTES),
        decoder: Decoder::default(),
        events: VecDeque::new(),
    }
}

/// A capture being replayed.
#[derive(Debug)]
pub struct Replay<'a> {
    pieces: std::slice::Chunks<'a, u8>,
    decoder: Decoder,
    events: VecDeque<LinkEvent>,
}

impl Replay<'_> {
    /// What was lost so far, in total.
    pub fn loss(&self) -> Loss {
        self.decoder.loss()
    }
}

impl Iterator for Replay<'_> {
    type Item = LinkEvent;

    fn next(&mut self) -> Option<LinkEvent> {
        loop {
            if let Some(event) = self.events.pop_front() {
                return Some(event);
            }
            self.decoder
                .push(self.pieces.next()?, 0.0, &mut self.events);
        }
    }
}
