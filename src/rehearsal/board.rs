//! A board that does not exist, on a port that does.
//!
//! A thread that answers requests and sends what its source makes, as fast as the host reads
//! or in step with a clock. Sequence numbers and ticks go on from run to run.
//!
//! It stands for hardware: it is the one place outside the shell with a thread and a
//! clock.

use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::thread::JoinHandle;
use std::thread::sleep;
use std::time::Duration;
use std::time::Instant;

use firmware_protocol::BoardFlags;
use firmware_protocol::Event;
use firmware_protocol::Fault as WireFault;
use firmware_protocol::Hello;
use firmware_protocol::Kind;
use firmware_protocol::Message;
use firmware_protocol::Reason;
use firmware_protocol::Receiver;
use firmware_protocol::Refused;

use crate::rehearsal::broadcast::Act;
use crate::rehearsal::broadcast::Deed;
use crate::rehearsal::broadcast::Origin;
use crate::rehearsal::broadcast::frame;
use crate::rehearsal::broadcast::status;
use crate::rehearsal::pty::Adapter;
use crate::rehearsal::pty::Socket;
use crate::rehearsal::stiff::StiffError;

/// Pause when there is nothing to do; a request is answered within this.
pub(super) const REST: Duration = Duration::from_millis(2);

/// A status is sent at least this often, running or not.
const STATUS_EACH: Duration = Duration::from_secs(1);

/// Bytes waiting for a host that does not read; beyond this frames are lost, as in any
/// adapter.
const MOST_WAITING: usize = 64 * 1024;

/// How long a pull waits for the host to read what was sent before it: on a fast bench
/// the host would otherwise lose seconds it would have had on a real one.
const LAST_READ: Duration = Duration::from_secs(2);

/// Looks in a row that must find nothing unread: for a moment bytes are on their way
/// through the kernel, neither here nor there.
const QUIET_LOOKS: u32 = 25;

/// Shortest absence of the adapter, so that a host cannot miss it on a fast bench.
const SHORTEST_ABSENCE: Duration = Duration::from_millis(300);

/// Why there is no practice board.
#[derive(Debug, thiserror::Error)]
pub enum BoardError {
    /// The physics of the scenario failed.
    #[error("scenario {scenario} cannot be played")]
    Physics {
        /// Name of the scenario.
        scenario: &'static str,
        /// Why.
        #[source]
        source: StiffError,
    },
    /// No pseudo-terminal.
    #[error(
        "no pseudo-terminal for the practice board; check that /dev/pts is mounted and the temporary folder can be written"
    )]
    Port {
        /// Why.
        #[source]
        source: io::Error,
    },
}

/// How fast bench time goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// As fast as the host reads.
    AsFastAsItCan,
    /// So many times real time; must be above zero. 1 is real time.
    Times(f64),
}

/// Where the deeds of a board come from.
pub(super) trait Source: Send + 'static {
    /// What the board says of itself.
    fn hello(&self) -> Hello;

    /// Begins a run where the board stands.
    fn start(&mut self, standing: Origin);

    /// Ends it.
    fn stop(&mut self);

    /// Whether there is a run.
    fn is_running(&self) -> bool;

    /// When the next deed is to be done, µs since the run began; None while there is none.
    fn next_us(&mut self) -> Option<u64>;

    /// The next deed.
    fn take(&mut self) -> Option<Deed>;

    /// Whether a run has nothing to send until the host did something.
    fn waits(&self) -> bool {
        false
    }

    /// Whether nothing will ever come.
    fn is_broken(&self) -> bool {
        false
    }

    /// Waits until there may be something new, for [`REST`] at most.
    fn rest(&self) {
        sleep(REST);
    }
}

/// A board that is plugged in. Dropping it pulls its adapter and ends its thread.
#[derive(Debug)]
pub(super) struct Plugged {
    port_path: PathBuf,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Plugged {
    /// Puts a board on a port.
    ///
    /// # Errors
    /// If the pseudo-terminal fails.
    pub(super) fn new(source: impl Source, pace: Pace) -> Result<Self, BoardError> {
        let port = |source| BoardError::Port { source };
        let socket = Socket::new().map_err(port)?;
        let adapter = socket.plug_in().map_err(port)?;
        let port_path = socket.port_path();
        let stop = Arc::new(AtomicBool::new(false));
        let board = Board {
            source,
            pace,
            socket,
            adapter: Some(adapter),
            receiver: Receiver::new(),
            waiting: Vec::new(),
            standing: Origin::default(),
            started: now(),
            last_status: now(),
            stop: Arc::clone(&stop),
        };
        let thread = std::thread::Builder::new()
            .name("practice board".into())
            .spawn(move || board.live())
            .map_err(port)?;
        Ok(Self {
            port_path,
            stop,
            thread: Some(thread),
        })
    }

    /// The port a host opens.
    pub(super) fn port_path(&self) -> PathBuf {
        self.port_path.clone()
    }

    /// Whether the board still lives.
    pub(super) fn is_alive(&self) -> bool {
        self.thread
            .as_ref()
            .is_some_and(|thread| !thread.is_finished())
    }
}

impl Drop for Plugged {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A panic of the thread was printed already, and a drop must not add one.
            let _ = thread.join();
        }
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "the practice board is hardware: it has a clock of its own"
)]
fn now() -> Instant {
    Instant::now()
}

struct Board<S> {
    source: S,
    pace: Pace,
    socket: Socket,
    adapter: Option<Adapter>,
    receiver: Receiver,
    waiting: Vec<u8>,
    standing: Origin,
    /// When the run began.
    started: Instant,
    last_status: Instant,
    stop: Arc<AtomicBool>,
}

impl<S: Source> Board<S> {
    fn live(mut self) {
        self.send(&frame(&Message::Hello(self.source.hello())));
        // An error of our own side of the port means that there is no port any more.
        while !self.is_stopped() {
            match self.turn() {
                Ok(Turn::Busy) => {}
                Ok(Turn::Idle) => self.source.rest(),
                Ok(Turn::Gone) | Err(_) => return,
            }
        }
    }

    fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn turn(&mut self) -> io::Result<Turn> {
        let heard = self.listen()?;
        let flushed = self.flush()?;
        if let Some(deed) = self.due() {
            return self.act(deed);
        }
        if self.source.is_broken() {
            return Ok(Turn::Gone);
        }
        self.stay_heard();
        Ok(if heard || flushed {
            Turn::Busy
        } else {
            Turn::Idle
        })
    }

    /// A status of a board that has nothing else to send.
    fn stay_heard(&mut self) {
        if self.last_status.elapsed() < STATUS_EACH {
            return;
        }
        if !self.source.is_running() {
            self.standing.tick_us += 1_000_000;
            self.send_status(BoardFlags::NONE);
        } else if self.source.waits() && self.waiting.is_empty() {
            self.send_status(BoardFlags::RUNNING);
        }
    }

    /// The next deed, if its time has come.
    fn due(&mut self) -> Option<Deed> {
        let is_due = match self.pace {
            Pace::AsFastAsItCan => self.waiting.is_empty(),
            Pace::Times(times) => {
                let at_us = self.source.next_us()?;
                self.started.elapsed().as_secs_f64() * times >= at_us as f64 * 1e-6
            }
        };
        match is_due {
            true => self.source.take(),
            false => None,
        }
    }

    fn act(&mut self, deed: Deed) -> io::Result<Turn> {
        self.standing = deed.after;
        match deed.act {
            Act::Send(bytes) => {
                self.send(&bytes);
                self.last_status = now();
            }
            Act::Unplug => {
                self.drain(LAST_READ)?;
                self.adapter = None;
                self.waiting.clear();
                let Some(next_us) = self.source.next_us() else {
                    return Ok(Turn::Gone);
                };
                self.stay_away(next_us - deed.at_us);
            }
            Act::Replug => {
                self.receiver = Receiver::new();
                self.adapter = Some(self.socket.plug_in()?);
                self.send_status(BoardFlags::RUNNING);
                if self.pace == Pace::AsFastAsItCan {
                    // Nobody would hear what is sent before the host is back.
                    self.drain(Duration::MAX)?;
                }
            }
        }
        Ok(Turn::Busy)
    }

    /// Waits for the adapter to come back, a little longer on a fast bench.
    fn stay_away(&self, back_us: u64) {
        let scaled = match self.pace {
            Pace::AsFastAsItCan => Duration::ZERO,
            Pace::Times(times) => Duration::from_micros(back_us).div_f64(times),
        };
        let since = now();
        while since.elapsed() < scaled.max(SHORTEST_ABSENCE) && !self.is_stopped() {
            sleep(REST);
        }
    }

    /// Waits until the host has read everything, or for a time.
    fn drain(&mut self, longest: Duration) -> io::Result<()> {
        let since = now();
        let mut n_quiet = 0;
        while n_quiet < QUIET_LOOKS && since.elapsed() < longest && !self.is_stopped() {
            self.flush()?;
            let read = match &self.adapter {
                Some(adapter) => adapter.is_read_empty()?,
                None => true,
            };
            n_quiet = if read && self.waiting.is_empty() {
                n_quiet + 1
            } else {
                0
            };
            sleep(REST);
        }
        Ok(())
    }

    fn listen(&mut self) -> io::Result<bool> {
        let Some(adapter) = &self.adapter else {
            return Ok(false);
        };
        let bytes = adapter.read()?;
        for byte in &bytes {
            let answer = match self.receiver.push(*byte) {
                Some(Event::Message(Message::Identify)) => Answer::Hello,
                Some(Event::Message(Message::Start)) => Answer::Start,
                Some(Event::Message(Message::Stop)) => Answer::Stop,
                Some(Event::Message(Message::SetRate(rate)))
                    if rate == self.source.hello().sample_rate =>
                {
                    Answer::Hello
                }
                Some(Event::Message(Message::SetRate(_))) => Answer::RateRefused,
                Some(Event::Fault(WireFault::UnknownKind { found })) if found & 0x80 != 0 => {
                    Answer::Unknown(found)
                }
                // What a board says comes back on a line with an echo; the rest is noise.
                Some(Event::Message(_) | Event::Fault(_)) | None => continue,
            };
            self.answer(&answer);
        }
        Ok(!bytes.is_empty())
    }

    fn answer(&mut self, answer: &Answer) {
        let refused = |request, reason| frame(&Message::Refused(Refused { request, reason }));
        match *answer {
            Answer::Hello => self.send(&frame(&Message::Hello(self.source.hello()))),
            Answer::Start => {
                if !self.source.is_running() {
                    self.source.start(self.standing);
                    self.started = now();
                }
                self.send_status(BoardFlags::RUNNING);
            }
            Answer::Stop => {
                self.source.stop();
                self.send_status(BoardFlags::NONE);
            }
            Answer::RateRefused => {
                let reason = if self.source.is_running() {
                    Reason::Running
                } else {
                    Reason::RateUnsupported
                };
                self.send(&refused(Kind::SetRate.code(), reason));
            }
            Answer::Unknown(request) => self.send(&refused(request, Reason::UnknownRequest)),
        }
    }

    fn send_status(&mut self, flags: BoardFlags) {
        let bytes = status(&self.standing, flags, 0);
        self.send(&bytes);
        self.last_status = now();
    }

    /// Queues a whole frame, or loses it whole.
    fn send(&mut self, bytes: &[u8]) {
        if self.waiting.len() + bytes.len() <= MOST_WAITING {
            self.waiting.extend(bytes);
        }
    }

    fn flush(&mut self) -> io::Result<bool> {
        let Some(adapter) = &self.adapter else {
            return Ok(false);
        };
        if self.waiting.is_empty() {
            return Ok(false);
        }
        let n_written = adapter.write(&self.waiting)?;
        self.waiting.drain(..n_written);
        Ok(n_written > 0)
    }
}

enum Turn {
    Busy,
    Idle,
    Gone,
}

enum Answer {
    Hello,
    Start,
    Stop,
    RateRefused,
    Unknown(u8),
}

#[cfg(test)]
mod tests;
