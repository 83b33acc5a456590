//! A sensor calibrated from the page: the walk along points on a thread of its own.
//!
//! One walk at a time. It ends with its curve, when it is given up, or after half an hour without a
//! word; the curve is kept in a new file, and nothing that stands is written over.

use super::ShopDesk;
use super::bench_ports::may_be_opened;
use super::bench_ports::there;
use super::setups::read;
use super::setups::setups;
use crate::bench::Walk;
use crate::bench::WalkEffect;
use crate::daemon::calibrate::Calibrated;
use crate::daemon::calibrate_walk::Told;
use crate::daemon::calibrate_walk::walked;
use crate::daemon::clock;
use crate::daemon::conduct::NamedText;
use crate::daemon::paper::chain;
use crate::page::Trouble;
use crate::page::view;
use crate::page::view::Fault;
use crate::page::view::WalkEnd;
use crate::page::view::WalkForm;
use crate::page::view::WalkNow;
use crate::page::view::WalkSaid;
use crate::settings::Untaken;
use crate::settings::WalkWords;
use crate::settings::walk_text;
use anyhow::Context;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::MutexGuard;
use std::sync::PoisonError;
use std::time::Duration;
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::sync::mpsc::UnboundedSender;
use tokio::sync::mpsc::unbounded_channel;

/// How long nobody may say anything.
const SILENCE: Duration = Duration::from_secs(1_800);

/// Sentences that are shown.
const MOST_SAID: usize = 6;

/// The walk that goes on, or was the last.
#[derive(Debug, Clone, Default)]
pub(super) struct Walking(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    now: Option<WalkNow>,
    lines: Option<UnboundedSender<((), String)>>,
    is_given_up: bool,
}

impl Walking {
    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn change(&self, change: impl FnOnce(&mut WalkNow)) {
        if let Some(now) = &mut self.state().now {
            change(now);
        }
    }

    fn told(&self, told: Told<'_>) {
        self.change(|now| match told {
            Told::Begun(untaken, points) => {
                let serial = &untaken.sensor.papers.serial;
                now.sensor = format!("{} {serial}", untaken.sensor.role.plain());
                now.reference_in = points.reference_in.clone();
                now.read_in = points.read_in.clone();
            }
            Told::Effect(effect) => {
                let said = match effect {
                    WalkEffect::Say(text) => (false, text.clone()),
                    WalkEffect::Warn(text) => (true, format!("{text}.")),
                };
                now.said.insert(0, said);
                now.said.truncate(MOST_SAID);
            }
            Told::Stands(walk, reading) => stands(now, walk, reading),
            Told::Ends(walk) => stands(now, walk, None),
        });
    }
}

fn stands(now: &mut WalkNow, walk: &Walk, reading: Option<f64>) {
    let text = |value: &f64| format!("{value}");
    let points = walk.points().iter();
    now.points = points.map(|(a, b)| (text(a), text(b))).collect();
    now.is_taking = walk.is_taking();
    now.reading = reading.map_or(String::new(), |reading| format!("{reading:.4}"));
}

pub(super) async fn sheet(desk: &ShopDesk) -> Result<view::WalkSheet, Trouble> {
    let usable = there(desk).await?.into_iter().filter(may_be_opened);
    let names = setups(&desk.folder).into_iter().map(|(name, _)| name);
    Ok(view::WalkSheet {
        setups: names.collect(),
        folder: desk.folder.setups().display().to_string(),
        adapters: usable.map(|one| one.path.display().to_string()).collect(),
        form: WalkForm::default(),
        faults: Vec::new(),
        now: desk.walking.state().now.clone(),
    })
}

pub(super) async fn begin(desk: &ShopDesk, form: WalkForm) -> Result<Vec<Fault>, Trouble> {
    let known = setups(&desk.folder);
    let known = known.into_iter().find(|(name, _)| *name == form.setup);
    let (name, path) = known.ok_or_else(Trouble::not_there)?;
    let there = there(desk).await?;
    let adapter = there
        .iter()
        .find(|one| one.path == Path::new(&form.adapter));
    let port = adapter.ok_or_else(Trouble::not_there)?.path.clone();
    let text = read(&path).map_err(|error| Trouble::no_setup(&chain(&error)))?;
    let file = match to_walk(&name, &text, &form) {
        Ok(text) => (name, text),
        Err(why) => return Ok(vec![Fault::of_form(&why)]),
    };
    let walking = desk.walking.clone();
    let (say, lines) = unbounded_channel();
    {
        let mut state = walking.state();
        if state.lines.as_ref().is_some_and(|lines| !lines.is_closed()) {
            return Err(Trouble::walk_runs());
        }
        *state = State {
            now: Some(WalkNow::default()),
            lines: Some(say),
            is_given_up: false,
        };
    }
    let folder = desk.folder.root().join("calibrations");
    let thread = std::thread::Builder::new().name("calibration".into());
    let spawned = thread.spawn(move || {
        let end = walk(&walking, &file, &port, lines, &folder);
        let mut state = walking.state();
        if let (
            State {
                is_given_up: true, ..
            },
            WalkEnd::Failed(_),
        ) = (&*state, &end)
        {
            state.now = None;
        } else if let Some(now) = &mut state.now {
            now.end = Some(end);
        }
    });
    spawned.map_err(|error| Trouble::broken(&error.to_string()))?;
    Ok(Vec::new())
}

/// The text of the walk, checked before anybody turns a pump.
fn to_walk(name: &str, setup: &str, form: &WalkForm) -> Result<String, String> {
    let words = WalkWords {
        date: clock::utc_date(clock::now_utc_ms()),
        who: form.who.clone(),
        reference: form.reference.clone(),
        reference_certificate: form.reference_certificate.clone(),
        reference_in: form.reference_in.clone(),
        reference_uncertainty: form.reference_uncertainty.clone(),
        read_in: form.read_in.clone(),
        degree: match form.degree.as_str() {
            "2" => 2,
            _ => 1,
        },
    };
    let text = walk_text(name, setup, &form.sensor, &words).map_err(|e| e.to_string())?;
    Untaken::of("the form", &text, Some(&form.sensor)).map_err(|e| e.to_string())?;
    Ok(text)
}

/// The whole walk, on this thread.
fn walk(
    walking: &Walking,
    file: &NamedText,
    port: &Path,
    lines: UnboundedReceiver<((), String)>,
    folder: &Path,
) -> WalkEnd {
    let mut tell = |told: Told<'_>| walking.told(told);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build();
    let walked = runtime
        .context("no runtime can be had")
        .and_then(|r| r.block_on(walked(file, port, None, lines, Some(SILENCE), &mut tell)));
    match walked.and_then(|found| kept(&found, folder)) {
        Ok((found, file)) => WalkEnd::Fitted {
            text: found.text.lines().map(str::to_owned).collect(),
            block: found.block,
            file: file.display().to_string(),
        },
        Err(error) => WalkEnd::Failed(chain(&error)),
    }
}

/// Keeps the table in a file of its own.
fn kept(found: &[Calibrated], folder: &Path) -> anyhow::Result<(Calibrated, PathBuf)> {
    let [found] = found else {
        anyhow::bail!("the walk gave no curve");
    };
    std::fs::create_dir_all(folder)
        .with_context(|| format!("{} cannot be made", folder.display()))?;
    let name = clock::run_id(clock::now_utc_ms(), found.role.word());
    let path = folder.join(format!("{name}.toml"));
    let made = std::fs::File::create_new(&path);
    made.and_then(|mut file| {
        file.write_all(found.block.as_bytes())?;
        file.sync_all()
    })
    .with_context(|| format!("{} cannot be written", path.display()))?;
    Ok((found.clone(), path))
}

pub(super) fn say(desk: &ShopDesk, said: WalkSaid) {
    let mut state = desk.walking.state();
    let line = match said {
        WalkSaid::Reference(text) => text,
        WalkSaid::Back => "back".into(),
        WalkSaid::Done => "done".into(),
        WalkSaid::End => {
            let is_over = state.now.as_ref().is_none_or(|now| now.end.is_some());
            // Without anybody to hear the walk ends.
            state.lines = None;
            state.is_given_up = true;
            if is_over {
                state.now = None;
            }
            return;
        }
    };
    if let Some(lines) = &state.lines {
        // Whoever listens is gone if the walk is over.
        let _ = lines.send(((), line));
    }
}
