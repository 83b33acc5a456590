//! The first screen.

use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::guard::back_to;
use crate::page::link;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::Alarm;
use crate::page::view::Start;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::response::Response;

#[derive(Template)]
#[template(path = "start.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: Start,
}

impl Screen {
    /// What is wrong, why it matters, what to do.
    fn alarm(&self, alarm: &Alarm) -> (String, &'static str, &'static str) {
        let w = self.f.w;
        let say = |sentence: &str, parts: &[&str]| self.f.filled(sentence, parts);
        match alarm {
            Alarm::LittleRoom(free, hours) => {
                let hours = hours.to_string();
                let what = say(w.alarm_little_room, &[free, &hours]);
                (what, w.alarm_room_why, w.alarm_room_do)
            }
            Alarm::NoRoom(free) => {
                let what = say(w.alarm_no_room, &[free]);
                (what, w.alarm_room_why, w.alarm_no_room_do)
            }
            Alarm::ClockForward(at, by) => {
                let what = say(w.alarm_clock_forward, &[by, at]);
                (what, w.alarm_clock_why, w.alarm_clock_do)
            }
            Alarm::ClockBack(at, by) => {
                let what = say(w.alarm_clock_back, &[by, at]);
                (what, w.alarm_clock_why, w.alarm_clock_do)
            }
            Alarm::Slept(at, long) => {
                let what = say(w.alarm_slept, &[long, at]);
                (what, w.alarm_slept_why, w.alarm_slept_do)
            }
            Alarm::MoreBefore(n) => {
                let what = say(w.alarm_more, &[&n.to_string()]);
                (what, w.alarm_clock_why, w.alarm_clock_do)
            }
            Alarm::Records(name, pid, run) => {
                let what = say(w.alarm_records, &[name, &pid.to_string(), run]);
                (what, w.alarm_records_why, w.alarm_records_do)
            }
            Alarm::AlsoOpen(name, pid) => {
                let what = say(w.alarm_also_open, &[name, &pid.to_string()]);
                (what, w.alarm_also_open_why, w.alarm_also_open_do)
            }
        }
    }
}

/// Somebody has read what happened.
pub async fn read<D: Desk>(State(page): State<Shared<D>>, sent: Sent) -> Result<Response, Trouble> {
    // A mark that is none is that of nothing.
    if let Ok(last) = sent.fields.get("last").parse() {
        page.desk.read_alarms(last).await?;
    }
    Ok(back_to("/", &[]))
}

/// Shows it.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
) -> Result<Response, Trouble> {
    Ok(shown(&Screen {
        v: page.desk.start().await?,
        f: Frame::new(&page, &visit, Here::Start),
    }))
}
