//! A test that is read by eye, from its first question to its archive file.

use super::person::Heard;
use super::person::Person;
use crate::bench::ByEye;
use crate::bench::Event;
use crate::bench::EyeEffect;
use crate::bench::Question;
use crate::channel::Channel;
use crate::channel::EyeInstrument;
use crate::daemon::clock::Forward;
use crate::daemon::closing::Closing;
use crate::daemon::folder::Shelf;
use crate::daemon::journal_file::JournalFile;
use crate::daemon::journal_file::JournalFileError;
use crate::daemon::journal_file::Stored;
use crate::daemon::screen::Screen;
use crate::daemon::test_run::Keeper;
use crate::daemon::test_run::Step;
use crate::recording::Heading;
use crate::recording::JournalError;
use crate::recording::Loss;
use crate::recording::Row;
use crate::settings::PlannedStep;
use crate::settings::Test;
use anyhow::Context;

/// A test that is read, with its journal.
struct EyeRun {
    eye: ByEye,
    keeper: Keeper,
    instruments: Vec<EyeInstrument>,
    questions: Vec<Question>,
}

/// Records one test that a person reads, up to its archive file.
///
/// # Errors
/// If the journal cannot be begun. What happens later ends the recording as interrupted.
pub async fn record_by_eye(
    shelf: &Shelf,
    mut heading: Heading,
    test: &Test,
    person: &mut Person,
    screen: &mut Screen,
) -> anyhow::Result<Stored> {
    let by_eye = test.by_eye().context("this test is read by a board")?;
    let instruments = by_eye.instruments.clone();
    let channels: Vec<Channel> = instruments.iter().map(EyeInstrument::channel).collect();
    heading.source = "read by eye, without a board".into();
    let run_id = heading.run_id.clone();
    let (keeper, start) = Keeper::begin(&heading, &channels)?;
    let steps = test.steps.iter().map(|planned| planned.step.clone());
    let mut run = EyeRun {
        eye: ByEye::new(steps.collect(), instruments.clone(), stood_m(test)),
        keeper,
        instruments,
        questions: Vec::new(),
    };
    let clock = Forward::start();
    let mut journal = JournalFile::create(&shelf.folder, &run_id, &start, clock.seconds())?;
    let effects = run.eye.begin();
    let mut step = run.carried(effects)?;
    let mut now_s = 0.0;
    loop {
        step = kept(&mut journal, step, &mut run, clock.seconds());
        tell(&step, &run.questions, person, screen, now_s);
        run.questions.clear();
        if step.is_over {
            break;
        }
        let effects = match person.next(run.eye.due_s()).await {
            Heard::Typed(at_s, line) => {
                now_s = at_s;
                run.eye.typed(&line, at_s)
            }
            Heard::Time(at_s) => {
                now_s = at_s;
                run.eye.at(at_s)
            }
            Heard::Gone(at_s) => {
                now_s = at_s;
                run.eye.ends(Event::Stopped)
            }
            Heard::Broken(at_s, why) => {
                now_s = at_s;
                run.eye.ends(Event::BoardFault(why))
            }
        };
        step = run.carried(effects)?;
    }
    let stored = Closing::begin(journal, shelf.key.clone())
        .shown(screen)
        .await;
    screen.recorded();
    stored
}

/// How far out the rod stands at the start of each step, m.
fn stood_m(test: &Test) -> Vec<Option<f64>> {
    let of_step = |planned: &PlannedStep| {
        let own = planned.own_setup()?.subject.by_eye.as_ref()?;
        own.rod_out_m
    };
    test.steps.iter().map(of_step).collect()
}

impl EyeRun {
    /// Effects as blocks and words; questions are put aside.
    fn carried(&mut self, effects: Vec<EyeEffect>) -> Result<Step, JournalError> {
        let mut step = Step::default();
        for effect in effects {
            match effect {
                EyeEffect::Bench(effect) => self.keeper.keep(effect, Loss::default(), &mut step),
                EyeEffect::Ask(question) => self.questions.push(question),
                EyeEffect::Row(time_s, read) => {
                    let pairs = self.instruments.iter().zip(read);
                    let codes = pairs.map(|(own, si)| own.code(si)).collect();
                    let blocks = self.keeper.rows(&[Row { time_s, codes }])?;
                    step.blocks.extend(blocks.unwrap_or_default());
                }
            }
        }
        Ok(step)
    }
}

/// Brings a step to the disk; if that refuses, the recording ends.
fn kept(journal: &mut JournalFile, step: Step, run: &mut EyeRun, now_s: f64) -> Step {
    let mut bring = || -> Result<(), JournalFileError> {
        if !step.blocks.is_empty() {
            journal.append(&step.blocks)?;
        }
        journal.sync_if_due(now_s)?;
        Ok(())
    };
    let Err(error) = bring() else {
        return step;
    };
    let effects = run.eye.ends(Event::DiskFailed(error.to_string()));
    let ending = run.carried(effects).unwrap_or_default();
    // The disk may take the ending although it refused the rows; without one the journal reads
    // as interrupted.
    let _ = journal.append(&ending.blocks);
    Step {
        warnings: vec![error.to_string()],
        is_over: true,
        ..ending
    }
}

/// Tells the person what was understood and what is wanted next.
fn tell(step: &Step, questions: &[Question], person: &mut Person, screen: &Screen, now_s: f64) {
    for warning in &step.warnings {
        screen.warn(warning);
    }
    for text in &step.said {
        screen.say(text);
    }
    if let Some(ask) = &step.ask {
        screen.ask(ask);
        person.asked(ask, now_s);
    }
    if step.is_over {
        return;
    }
    // Of several the last one counts: what came before it is answered or given up.
    if let Some(question) = questions.last() {
        let (Question::Read { words, .. }
        | Question::Strokes { words }
        | Question::Stand { words }) = question;
        screen.say(&format!("  > {words}"));
        person.questioned(question, now_s);
    }
}
