//! The test as it goes on, sent to every screen that looks (server-sent events, WHATWG HTML).
//!
//! Two kinds of events: `readings`, small and often, a line for each reading; and `part`, the
//! changing part of the sheet, when anything else in it is new. `gone` says that the bench is
//! another, and the sheet is to be loaded again.
//!
//! Invariants: a slow screen gets less and never holds up another; a screen that hears nothing for
//! five seconds can know that the line is dead, because readings come every two.

use super::bench::Live;
use crate::page::desk::Desk;
use crate::page::desk::Kind;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::guard::Visit;
use crate::page::looking::Looking;
use crate::page::routes::Shared;
use crate::page::view::Bench;
use crate::page::view::BenchNow;
use crate::page::words::words;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::Response;
use axum::response::sse::Event;
use axum::response::sse::Sse;
use std::convert::Infallible;
use std::fmt::Write as _;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::Instant;
use tokio_stream::wrappers::ReceiverStream;

/// Shortest time between two events of readings.
const READINGS_EACH: Duration = Duration::from_millis(100);

/// Shortest time between two parts of the sheet.
const PARTS_EACH: Duration = Duration::from_millis(400);

/// Longest time without an event.
const BEATS_EACH: Duration = Duration::from_secs(2);

/// Sends it.
pub async fn live<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    Extension(looking): Extension<Looking>,
) -> Result<Response, Trouble> {
    let Some(place) = looking.place() else {
        let w = words();
        return Err(Trouble {
            kind: Kind::Busy,
            what: w.bench.too_many_looking.into(),
            what_to_do: w.bench.too_many_looking_do.into(),
        });
    };
    let (send, sent) = mpsc::channel(1);
    tokio::spawn(async move {
        let screen = Screen {
            page,
            visit,
            send,
            told: Told::default(),
        };
        tokio::select! {
            () = screen.looks_on() => {}
            () = looking.ended() => {}
        }
        drop(place);
    });
    let reply = Sse::new(ReceiverStream::new(sent)).into_response();
    Ok(reply)
}

type Sent = Result<Event, Infallible>;

/// One screen that looks.
struct Screen<D> {
    page: Shared<D>,
    visit: Visit,
    send: mpsc::Sender<Sent>,
    told: Told,
}

/// What a screen was told last.
#[derive(Default)]
struct Told {
    run: Option<u64>,
    readings: String,
    part: String,
}

impl<D: Desk> Screen<D> {
    /// Until the screen goes away.
    async fn looks_on(mut self) {
        let mut seen = 0;
        let long_ago = Instant::now().checked_sub(BEATS_EACH);
        let mut beat = long_ago.unwrap_or_else(Instant::now);
        let mut part = beat;
        loop {
            let Ok(bench) = self.page.desk.bench(&self.visit.token, "").await else {
                return;
            };
            let Bench::Taken(now) = bench else {
                self.tell("gone", String::new()).await;
                return;
            };
            if self.told.run.is_some_and(|run| run != now.run) {
                self.tell("gone", String::new()).await;
                return;
            }
            self.told.run = Some(now.run);
            let readings = readings(&now);
            if readings != self.told.readings || beat.elapsed() >= BEATS_EACH {
                beat = Instant::now();
                if !self.tell("readings", readings.clone()).await {
                    return;
                }
                self.told.readings = readings;
            }
            if part.elapsed() >= PARTS_EACH {
                part = Instant::now();
                let html = self.part(*now);
                if html != self.told.part {
                    if !self.tell("part", html.clone()).await {
                        return;
                    }
                    self.told.part = html;
                }
            }
            tokio::time::sleep(READINGS_EACH).await;
            // What changed meanwhile is looked at once; the picture of nothing is a beat.
            let changed = self.page.desk.bench_changed(seen);
            seen = tokio::time::timeout(PARTS_EACH, changed)
                .await
                .unwrap_or(seen);
        }
    }

    /// Sends an event; false if nobody is there.
    async fn tell(&self, name: &str, data: String) -> bool {
        let event = Event::default().event(name).data(data);
        self.send.send(Ok(event)).await.is_ok()
    }

    /// The part of the sheet that changes, without what `readings` tell.
    fn part(&self, now: BenchNow) -> String {
        let live = Live {
            f: Frame::new(&self.page, &self.visit, Here::Start),
            v: now.without_readings(),
        };
        // Nothing of ours writes to anything but memory.
        live.render().unwrap_or_default()
    }
}

/// A line for each reading: key, value, key and word of its state; then a line for each rating.
fn readings(now: &BenchNow) -> String {
    let f = Frame::of_no_sheet();
    let mut text = String::new();
    for r in &now.readings {
        let (key, word) = (f.sense_key(&r.sense), f.reading_state(&r.state));
        let state = f.reading_state_key(&r.state);
        let _ = writeln!(text, "reading\t{key}\t{}\t{state}\t{word}", r.value);
    }
    for r in &now.ratings {
        let key = f.sense_key(&r.sense);
        let (state, word) = (f.safety_key(&r.safety), f.safety(r));
        let _ = writeln!(text, "rating\t{key}\t{}\t{state}\t{word}", r.percent);
    }
    text
}
