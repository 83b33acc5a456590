//! The link: an adapter that may come and go, and the board behind it.
//!
//! All state is here and in the decoder; waiting is the only thing done between two
//! looks at it, so [`Link::next`] may be dropped and called again at any time.
//!
//! Invariants: the adapter is opened at most once a second; an adapter is dropped before it
//! is opened again; a board that should run and says it does not is started again.

use super::Adapter;
use super::LinkError;
use super::LinkEvent;
use super::Request;
use super::decode::Decoder;
use super::decode::is_running;
use super::decode::version_in_words;
use super::pump::Pump;
use crate::recording::GapCause;
use crate::recording::Loss;
use firmware_protocol::Hello;
use firmware_protocol::MAX_FRAME_BYTES;
use firmware_protocol::Message;
use firmware_protocol::SILENCE_LIMIT_MS;
use firmware_protocol::encode_frame;
use std::collections::VecDeque;
use std::time::Duration;
use std::time::Instant;

/// Silence after which a board is taken for lost.
const SILENCE_LIMIT: Duration = Duration::from_millis(SILENCE_LIMIT_MS as u64);

/// Time between two tries to open an adapter that is gone, and between two askings of a request.
const PAUSE: Duration = Duration::from_secs(1);

/// How long a board may take to answer after opening: it may restart, and send a boot text first.
const HELLO_LIMIT: Duration = Duration::from_secs(5);

/// Bytes decoded at once, so that one look stays short.
const PIECE_BYTES: usize = 16 * 1024;

/// A link to one board. Needs a tokio runtime.
#[derive(Debug)]
pub struct Link {
    adapter: Adapter,
    patience: Duration,
    begun: Instant,
    line: Line,
    decoder: Decoder,
    events: VecDeque<LinkEvent>,
    /// When the last good frame came, or the first opening.
    heard: Instant,
    /// Whether Silent or Lost was said and Back not yet.
    is_away: bool,
    is_wanted_running: bool,
    asked: Instant,
    n_bytes: u64,
}

#[derive(Debug)]
enum Line {
    Open(Pump),
    Gone { next_try: Instant },
    GivenUp,
}

impl Link {
    /// Opens an adapter and waits for the board to say who it is, at most five seconds.
    ///
    /// An adapter that is lost later is tried again each second for as long as `patience`.
    ///
    /// # Errors
    /// If the adapter cannot be opened, or no board of this protocol answers.
    pub async fn open(adapter: Adapter, patience: Duration) -> Result<(Self, Hello), LinkError> {
        let pump = Pump::begin(adapter.open()?);
        let begun = now();
        let mut link = Self {
            adapter,
            patience,
            begun,
            line: Line::Open(pump),
            decoder: Decoder::default(),
            events: VecDeque::new(),
            heard: begun,
            is_away: false,
            is_wanted_running: false,
            asked: begun,
            n_bytes: 0,
        };
        link.ask(Request::Identify);
        loop {
            let wake = link.look();
            if let Some(hello) = link.decoder.hello().copied() {
                link.events
                    .retain(|event| !matches!(event, LinkEvent::Hello(_)));
                return Ok((link, hello));
            }
            if now() >= begun + HELLO_LIMIT || !matches!(link.line, Line::Open(_)) {
                let error = link.no_board();
                link.close().await;
                return Err(error);
            }
            link.rest(wake).await;
        }
    }

    /// The next thing that happens on the line. May be dropped while it waits; nothing is lost.
    pub async fn next(&mut self) -> LinkEvent {
        loop {
            if let Some(event) = self.events.pop_front() {
                return event;
            }
            let wake = self.look();
            if self.events.is_empty() {
                self.rest(wake).await;
            }
        }
    }

    /// Puts a request on its way. The answer is an event.
    pub fn send(&mut self, request: Request) {
        match request {
            Request::Start => self.is_wanted_running = true,
            Request::Stop => self.is_wanted_running = false,
            Request::Identify => {}
        }
        self.ask(request);
    }

    /// A new recording begins: the next sample is at 0 s, and losses are counted from here.
    /// Samples that were decoded and not yet fetched are dropped.
    pub fn begin_recording(&mut self) {
        self.events
            .retain(|event| !matches!(event, LinkEvent::Samples(_) | LinkEvent::Gap(_)));
        self.decoder.begin_anew();
    }

    /// What was lost since the link was opened or [`Link::begin_recording`], in total.
    pub fn loss(&self) -> Loss {
        self.decoder.loss()
    }

    /// Closes the adapter, so that it can be opened again at once.
    pub async fn close(mut self) {
        if let Line::Open(pump) = std::mem::replace(&mut self.line, Line::GivenUp) {
            pump.close().await;
        }
    }

    /// Takes what is there and does what is due. Returns when to look again at the latest.
    fn look(&mut self) -> Option<Instant> {
        match &self.line {
            Line::Open(_) => {
                if self.take_bytes() == PIECE_BYTES {
                    // There may be more, and nobody will call for it.
                    return Some(now());
                }
            }
            Line::Gone { next_try } if now() >= *next_try => self.try_again(),
            Line::Gone { .. } | Line::GivenUp => {}
        }
        self.watch()
    }

    fn take_bytes(&mut self) -> usize {
        let Line::Open(pump) = &mut self.line else {
            return 0;
        };
        let mut buffer = [0; PIECE_BYTES];
        let n_bytes = pump.take(&mut buffer);
        let end = pump.end().map(str::to_owned);
        let (n_good, n_events) = (self.decoder.n_good(), self.events.len());
        let host_s = now().duration_since(self.begun).as_secs_f64();
        self.n_bytes += n_bytes as u64;
        self.decoder.note_overrun(pump.take_overrun());
        self.decoder
            .push(&buffer[..n_bytes], host_s, &mut self.events);
        if self.decoder.n_good() > n_good && self.decoder.is_known() {
            if std::mem::take(&mut self.is_away) {
                let away_s = now().duration_since(self.heard).as_secs_f64();
                self.events.insert(n_events, LinkEvent::Back { away_s });
            }
            self.heard = now();
        }
        let is_stopped = self
            .events
            .iter()
            .skip(n_events)
            .any(|event| matches!(event, LinkEvent::Status(status) if !is_running(status)));
        if is_stopped && self.is_wanted_running && now() >= self.asked + PAUSE {
            self.ask(Request::Start);
        }
        if let Some(why) = end {
            self.lose(why);
        }
        n_bytes
    }

    fn lose(&mut self, why: String) {
        self.line = Line::Gone {
            next_try: now() + PAUSE,
        };
        if self.decoder.is_known() {
            self.is_away = true;
            self.decoder.note_absence(GapCause::Unplugged);
            self.events.push_back(LinkEvent::Lost(why));
        }
        self.decoder.reopen();
    }

    fn try_again(&mut self) {
        match self.adapter.open() {
            Ok(stream) => {
                self.line = Line::Open(Pump::begin(stream));
                self.ask(Request::Identify);
            }
            // Which error hardly matters: while it is gone it is "not found", then perhaps
            // "in use" by a modem manager for some seconds.
            Err(_) => {
                self.line = Line::Gone {
                    next_try: now() + PAUSE,
                }
            }
        }
    }

    /// What is due because time has passed. Returns when something may be due next.
    fn watch(&mut self) -> Option<Instant> {
        let now = now();
        let is_known = self.decoder.is_known();
        let next = match &self.line {
            Line::GivenUp => return None,
            Line::Gone { next_try } => *next_try,
            Line::Open(_) if is_known && !self.is_away => {
                let silent = self.heard + SILENCE_LIMIT;
                if now >= silent {
                    self.is_away = true;
                    self.decoder.note_absence(GapCause::Silent);
                    self.events.push_back(LinkEvent::Silent);
                }
                silent.max(now + PAUSE)
            }
            Line::Open(_) if is_known => now + PAUSE,
            Line::Open(_) => {
                if now >= self.asked + PAUSE {
                    self.ask(Request::Identify);
                }
                self.asked + PAUSE
            }
        };
        // A board that is silent on an open line is lost as one that was pulled.
        let is_lost = self.is_away;
        let enough = self.heard + self.patience;
        if is_lost && now >= enough {
            self.line = Line::GivenUp;
            self.events.push_back(LinkEvent::GaveUp);
        }
        Some(if is_lost { next.min(enough) } else { next })
    }

    async fn rest(&self, wake: Option<Instant>) {
        let wake = async {
            match wake {
                Some(wake) => tokio::time::sleep_until(wake.into()).await,
                None => std::future::pending().await,
            }
        };
        match &self.line {
            Line::Open(pump) => {
                tokio::select! {
                    () = pump.news() => {}
                    () = wake => {}
                }
            }
            Line::Gone { .. } | Line::GivenUp => wake.await,
        }
    }

    fn ask(&mut self, request: Request) {
        self.asked = now();
        let message = match request {
            Request::Identify => Message::Identify,
            Request::Start => Message::Start,
            Request::Stop => Message::Stop,
        };
        let mut frame = [0; MAX_FRAME_BYTES];
        let length = encode_frame(&message, &mut frame).expect("a frame fits its longest size");
        if let Line::Open(pump) = &self.line {
            pump.send(&frame[..length]);
        }
    }

    fn no_board(&self) -> LinkError {
        let heard = match (self.decoder.other_version(), self.n_bytes) {
            (Some(found), _) => version_in_words(found),
            (None, 0) => {
                "nothing came; check power and cable of the board, and that this is its adapter"
                    .into()
            }
            (None, n_bytes) => format!(
                "{n_bytes} bytes came and no message in them; check the baud rate ({}), and that this is the adapter of the board",
                self.adapter.baud
            ),
        };
        LinkError::NoBoard {
            path: self.adapter.path.clone(),
            heard,
        }
    }
}

/// The host's clock that never goes back. The one place where the link reads a clock.
#[allow(
    clippy::disallowed_methods,
    reason = "silence and the time over a restart can only be measured by the host"
)]
fn now() -> Instant {
    Instant::now()
}
