//! Who looks on while a test runs: the terminal, or the page.

use super::screen::Screen;
use super::test_run::TestRun;
use crate::account::Evaluation;
use crate::archive::Progress;
use crate::bench::Ask;

/// Somebody who is told how a test stands. Nothing that is told here decides anything.
pub trait Onlooker: Send {
    /// Something to read now.
    fn warn(&mut self, text: &str);

    /// Something to read, which is no warning.
    fn say(&mut self, text: &str);

    /// What a person is asked for.
    fn ask(&mut self, ask: &Ask);

    /// How the test stands, with its figures so far.
    fn show(&mut self, run: &TestRun, so_far: Option<&Evaluation>);

    /// The recording is over and goes into its file.
    fn storing(&mut self, progress: Progress);

    /// The recording is in its file.
    fn recorded(&mut self);
}

impl Onlooker for Screen {
    fn warn(&mut self, text: &str) {
        Screen::warn(self, text);
    }

    fn say(&mut self, text: &str) {
        Screen::say(self, text);
    }

    fn ask(&mut self, ask: &Ask) {
        Screen::ask(self, ask);
    }

    fn show(&mut self, run: &TestRun, so_far: Option<&Evaluation>) {
        Screen::show(self, run, so_far);
    }

    fn storing(&mut self, progress: Progress) {
        Screen::storing(self, progress);
    }

    fn recorded(&mut self) {
        Screen::recorded(self);
    }
}
