//! A word for each reading while a test runs: steady, settling, doubtful, lost.
//!
//! For people who look, by the last seconds alone. What counts is decided by `bench` and `health`.

use crate::channel::Role;

/// How a reading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingState {
    /// It does not change.
    Steady,
    /// It changes, or it came too short a time ago to say.
    Settling,
    /// It was lost within the last seconds, or nothing new comes.
    Doubtful,
    /// There is none.
    Lost,
}

/// Length of a cell of readings, s.
const CELL_S: f64 = 1.0;

/// Cells that are kept.
const N_CELLS: usize = 10;

/// Cells at either end that are compared.
const N_ENDS: usize = 3;

/// A change is more than chance beyond so many of its standard uncertainties.
const SIGMAS: f64 = 4.0;

/// Changes within ten seconds that nobody at a bench calls one (common practice, no source), SI.
fn still(role: Role) -> f64 {
    match role {
        Role::CapPressure | Role::RodPressure => 0.1e5,
        Role::Position => 0.02e-3,
        Role::OilTemperature | Role::WallTemperature => 0.05,
        Role::Supply => 0.005,
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    index: i64,
    n: f64,
    sum: f64,
    squares: f64,
    n_lost: u32,
}

/// The last seconds of one reading.
#[derive(Debug, Clone)]
pub struct Recent {
    role: Role,
    /// First reading of all; sums are of differences from it.
    from: f64,
    cells: Vec<Cell>,
    latest: Option<f64>,
}

impl Recent {
    /// Nothing yet.
    pub fn new(role: Role) -> Self {
        Self {
            role,
            from: 0.0,
            cells: Vec::new(),
            latest: None,
        }
    }

    /// Takes a reading in SI units at a bench time in seconds; None where it is lost.
    pub fn push(&mut self, time_s: f64, si: Option<f64>) {
        self.latest = si;
        let index = (time_s / CELL_S).floor() as i64;
        if self.cells.last().is_none_or(|cell| cell.index != index) {
            if self.cells.len() == N_CELLS {
                self.cells.remove(0);
            }
            self.cells.push(Cell {
                index,
                ..Cell::default()
            });
        }
        if self.cells.iter().all(|cell| cell.n == 0.0) {
            self.from = si.unwrap_or(0.0);
        }
        let Some(cell) = self.cells.last_mut() else {
            return;
        };
        match si {
            Some(si) => {
                let by = si - self.from;
                cell.n += 1.0;
                cell.sum += by;
                cell.squares += by * by;
            }
            None => cell.n_lost += 1,
        }
    }

    /// The latest reading, SI.
    pub fn latest(&self) -> Option<f64> {
        self.latest
    }

    /// How it is.
    pub fn state(&self) -> ReadingState {
        if self.latest.is_none() {
            return ReadingState::Lost;
        }
        let has_gaps = self.cells.windows(2).any(|w| w[1].index - w[0].index > 2);
        if has_gaps || self.cells.iter().any(|cell| cell.n_lost > 0) {
            return ReadingState::Doubtful;
        }
        if self.cells.len() < N_CELLS {
            return ReadingState::Settling;
        }
        let (first, first_u2) = mean(&self.cells[..N_ENDS]);
        let (last, last_u2) = mean(&self.cells[N_CELLS - N_ENDS..]);
        let by = (last - first).abs();
        let is_more_than_chance = by > SIGMAS * (first_u2 + last_u2).sqrt();
        match is_more_than_chance && by > still(self.role) {
            true => ReadingState::Settling,
            false => ReadingState::Steady,
        }
    }
}

/// Mean of cells, and the square of its standard uncertainty by scatter within them.
fn mean(cells: &[Cell]) -> (f64, f64) {
    let n: f64 = cells.iter().map(|cell| cell.n).sum();
    let sum: f64 = cells.iter().map(|cell| cell.sum).sum();
    let within: f64 = cells
        .iter()
        .filter(|cell| cell.n > 0.0)
        .map(|cell| (cell.squares - cell.sum * cell.sum / cell.n).max(0.0))
        .sum();
    let freedom = (n - cells.len() as f64).max(1.0);
    (sum / n.max(1.0), within / freedom / n.max(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Twenty readings a second with noise of two values, 0.04 bar apart.
    fn after(s: f64, course: impl Fn(f64) -> Option<f64>) -> ReadingState {
        let mut recent = Recent::new(Role::CapPressure);
        let n = (s * 20.0) as i32;
        for i in 0..n {
            let at_s = f64::from(i) / 20.0;
            let noise = if i % 2 == 0 { 2e3 } else { -2e3 };
            recent.push(at_s, course(at_s).map(|pa| pa + noise));
        }
        recent.state()
    }

    #[test]
    fn a_pressure_is_steady_when_it_stands_and_not_before_ten_seconds() {
        assert_eq!(after(60.0, |_| Some(160e5)), ReadingState::Steady);
        assert_eq!(after(5.0, |_| Some(160e5)), ReadingState::Settling);
        // A slow loss of 0.1 bar/min cannot be seen in ten seconds; one of 6 bar/min can.
        let loss = |per_min: f64| move |s: f64| Some(160e5 - per_min * 1e5 * s / 60.0);
        assert_eq!(after(60.0, loss(0.1)), ReadingState::Steady);
        assert_eq!(after(60.0, loss(6.0)), ReadingState::Settling);
    }

    #[test]
    fn what_was_lost_is_lost_and_then_doubtful_for_ten_seconds() {
        let gone_at =
            |from: f64, until: f64| move |s: f64| (!(from..until).contains(&s)).then_some(160e5);
        assert_eq!(after(60.0, gone_at(59.0, 99.0)), ReadingState::Lost);
        assert_eq!(after(60.0, gone_at(54.0, 55.0)), ReadingState::Doubtful);
        assert_eq!(after(60.0, gone_at(30.0, 31.0)), ReadingState::Steady);
    }

    #[test]
    fn a_stretch_without_readings_is_doubtful() {
        let mut recent = Recent::new(Role::Position);
        for i in 0..200 {
            let at_s = f64::from(i) / 20.0;
            recent.push(if i < 100 { at_s } else { at_s + 30.0 }, Some(0.2));
        }
        assert_eq!(recent.state(), ReadingState::Doubtful);
    }
}
