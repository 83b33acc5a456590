//! A stored recording: any stretch of it, what is marked in it, and values.
//!
//! The address says the stretch and the channels, so that reloading, going back and handing the
//! address on show the same. The script draws along the picture and reads values; all of it can
//! be done by links and the form as well.

mod json;

use super::shared::asked;
use crate::page::desk::Desk;
use crate::page::desk::Trouble;
use crate::page::fields::Fields;
use crate::page::frame::Frame;
use crate::page::frame::Here;
use crate::page::frame::shown;
use crate::page::guard::Visit;
use crate::page::link;
use crate::page::look::look;
use crate::page::routes::Shared;
use crate::page::sent::Sent;
use crate::page::view::AgainAsked;
use crate::page::view::GapWhy;
use crate::page::view::Judging;
use crate::page::view::MarkWhat;
use crate::page::view::ReadOut;
use crate::page::view::RecordingAsked;
use crate::page::view::RecordingSheet;
use crate::page::view::Stretch;
use askama::Template;
use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::Uri;
use axum::http::header;
use axum::response::IntoResponse;
use axum::response::Redirect;
use axum::response::Response;

/// Channels that are looked for in an address; there are no more.
const MOST_CHANNELS: usize = 16;

#[derive(Template)]
#[template(path = "recording.html", config = "src/page/askama.toml")]
struct Screen {
    f: Frame,
    v: RecordingSheet,
    /// What was typed, or what is shown.
    from: String,
    until: String,
    at: String,
    script: &'static str,
    /// What was chosen to judge by.
    again: AgainAsked,
    is_judged: bool,
}

impl Screen {
    /// An address of this recording with its channels; nothing of them where all are shown.
    fn to(&self, path: &str, more: &[(&str, &str)]) -> String {
        let mut asked = vec![("number", self.v.test.number.as_str())];
        asked.extend_from_slice(more);
        let channels = &self.v.channels;
        if channels.iter().any(|channel| !channel.is_on) {
            let on = channels.iter().filter(|channel| channel.is_on);
            asked.extend(on.map(|channel| ("channel", channel.word.as_str())));
        }
        link::to(path, &asked)
    }

    /// Another stretch of it.
    fn there(&self, stretch: &Stretch) -> String {
        let more = [("from", stretch.from.as_str()), ("until", &stretch.until)];
        self.to("/recording", &more) + "#chart"
    }

    /// All of it.
    fn all(&self) -> String {
        self.to("/recording", &[]) + "#chart"
    }

    fn picture(&self, width: &str) -> String {
        let shown = &self.v.shown;
        let more = [
            ("from", shown.from.as_str()),
            ("until", &shown.until),
            ("width", width),
        ];
        self.to("/recording/picture", &more)
    }

    fn values(&self) -> String {
        let shown = &self.v.shown;
        let more = [("from", shown.from.as_str()), ("until", &shown.until)];
        self.to("/recording/values", &more)
    }

    /// Where the stretch that is drawn is put behind.
    fn any(&self) -> String {
        self.to("/recording", &[])
    }

    /// The ways to another stretch: word, and where it leads if it does.
    fn ways(&self) -> [(&'static str, Option<String>); 5] {
        let (w, v) = (self.f.w, &self.v);
        let way = |stretch: &Option<Stretch>| stretch.as_ref().map(|stretch| self.there(stretch));
        [
            (w.closer, way(&v.closer)),
            (w.wider, way(&v.wider)),
            (w.earlier, way(&v.earlier)),
            (w.later, way(&v.later)),
            (w.whole, (!v.is_whole).then(|| self.all())),
        ]
    }

    fn mark(&self, what: &MarkWhat) -> String {
        let w = self.f.w;
        match what {
            MarkWhat::Step(number, title) => self.f.filled(w.step_n, &[&number.to_string(), title]),
            MarkWhat::Settling => w.settling.into(),
            MarkWhat::Hold => w.counted_hold.into(),
            MarkWhat::Other(name) => name.clone(),
        }
    }

    /// Whether a mark belongs to the step above it.
    fn is_within(&self, what: &MarkWhat) -> bool {
        let steps = self
            .v
            .marks
            .iter()
            .any(|m| matches!(m.what, MarkWhat::Step(..)));
        steps && !matches!(what, MarkWhat::Step(..))
    }

    fn is_chosen(&self, id: &str) -> bool {
        self.again.limits.iter().any(|chosen| chosen == id)
    }

    fn is_figure(&self, word: &str) -> bool {
        self.again.figure == word
    }

    /// The first judgement beside the others, the latest first.
    fn all_judgings(&self) -> impl Iterator<Item = (bool, &Judging)> {
        let judgings = &self.v.judgings;
        let again = judgings.again.iter().map(|judging| (false, judging));
        std::iter::once((true, &judgings.first)).chain(again)
    }

    fn why(&self, why: &GapWhy) -> &'static str {
        let w = self.f.w;
        match why {
            GapWhy::Lost => w.gap_lost,
            GapWhy::Unplugged => w.gap_unplugged,
            GapWhy::Silent => w.gap_silent,
            GapWhy::Restarted => w.gap_restarted,
        }
    }

    fn thousandths(&self, (left, right): &(u32, u32)) -> String {
        format!("{left} {right}")
    }
}

/// What an address asks of a recording.
fn of(fields: &Fields) -> RecordingAsked {
    let channels = fields.iter().filter(|(name, _)| *name == "channel");
    RecordingAsked {
        number: fields.get("number").into(),
        from: fields.get("from").into(),
        until: fields.get("until").into(),
        channels: channels
            .take(MOST_CHANNELS)
            .map(|(_, word)| word.into())
            .collect(),
        at: fields.get("at").into(),
    }
}

/// Shows a stretch.
pub async fn show<D: Desk>(
    State(page): State<Shared<D>>,
    Extension(visit): Extension<Visit>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let fields = asked(&uri)?;
    let asked = of(&fields);
    let v = page.desk.recording(asked.clone()).await?;
    let typed = |text: &str, shown: &str| match v.faults.is_empty() {
        true => shown.to_owned(),
        // What was typed is still there.
        false => text.to_owned(),
    };
    let screen = Screen {
        from: typed(&asked.from, &v.shown.from_said),
        until: typed(&asked.until, &v.shown.until_said),
        at: asked.at,
        f: Frame::new(&page, &visit, Here::Papers),
        script: &look().recording,
        again: AgainAsked::default(),
        is_judged: fields.get("said") == "judged",
        v,
    };
    let status = match screen.v.faults.is_empty() {
        true => StatusCode::OK,
        false => StatusCode::UNPROCESSABLE_ENTITY,
    };
    Ok((status, shown(&screen)).into_response())
}

/// Judges a test again by other limits.
pub async fn judge<D: Desk>(
    State(page): State<Shared<D>>,
    sent: Sent,
) -> Result<Response, Trouble> {
    let fields = &sent.fields;
    let limits = fields.iter().filter(|(name, _)| *name == "limit");
    let again = AgainAsked {
        number: fields.get("number").into(),
        limits: limits.map(|(_, id)| id.into()).collect(),
        figure: fields.get("figure").into(),
        most: fields.get("most").into(),
        by: fields.get("by").into(),
    };
    let faults = page.desk.judge_again(again.clone()).await?;
    let number = again.number.as_str();
    if faults.is_empty() {
        let there = link::to("/recording", &[("number", number), ("said", "judged")]);
        return Ok(Redirect::to(&(there + "#again")).into_response());
    }
    let asked = RecordingAsked {
        number: number.into(),
        ..RecordingAsked::default()
    };
    let v = page.desk.recording(asked).await?;
    let screen = shown(&Screen {
        from: v.shown.from_said.clone(),
        until: v.shown.until_said.clone(),
        at: String::new(),
        f: Frame::new(&page, &sent.visit, Here::Papers),
        script: &look().recording,
        again,
        is_judged: false,
        v: RecordingSheet { faults, ..v },
    });
    Ok((StatusCode::UNPROCESSABLE_ENTITY, screen).into_response())
}

/// Draws a stretch.
pub async fn picture<D: Desk>(
    State(page): State<Shared<D>>,
    uri: Uri,
) -> Result<Response, Trouble> {
    let fields = asked(&uri)?;
    let is_wide = fields.get("width") != "narrow";
    let svg = page.desk.recording_picture(of(&fields), is_wide).await?;
    Ok(([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response())
}

/// Hands out the values of a stretch.
pub async fn values<D: Desk>(State(page): State<Shared<D>>, uri: Uri) -> Result<Response, Trouble> {
    let found = page.desk.recording_values(of(&asked(&uri)?)).await?;
    let text = json::written(&found);
    Ok(([(header::CONTENT_TYPE, "application/json")], text).into_response())
}
