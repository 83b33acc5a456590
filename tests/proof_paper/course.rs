//! A recording of many steps, put together row by row.

use crate::play::recording as played;
use stillrod::channel::Role;
use stillrod::recording::Codes;
use stillrod::recording::Ending;
use stillrod::recording::Heading;
use stillrod::recording::Loss;
use stillrod::recording::Parts;
use stillrod::recording::PhaseMark;
use stillrod::recording::Recording;
use stillrod::recording::Track;
use stillrod::rehearsal::Scenario;

/// Rows of what is put between the holds, for each second.
const PER_S: f64 = 10.0;

/// A recording in the making.
pub struct Course {
    time_s: Vec<f64>,
    roles: Vec<Role>,
    tracks: Vec<(Track, Vec<f64>)>,
    phases: Vec<PhaseMark>,
    heading: Heading,
    n_noise: u32,
}

/// What the sensors see in a step that is no hold: Pa, Pa, m.
#[derive(Clone, Copy)]
pub struct Seen {
    pub p_cap_pa: f64,
    pub p_rod_pa: f64,
    pub x_m: f64,
}

impl Course {
    /// With the sensors of a scenario, and its heading under another name.
    pub fn new(scenario: &Scenario, practice: &str) -> Self {
        let of = played(scenario);
        Self {
            time_s: Vec::new(),
            roles: of.tracks().iter().map(|t| t.channel.role).collect(),
            tracks: of
                .tracks()
                .iter()
                .map(|t| (t.clone(), Vec::new()))
                .collect(),
            phases: Vec::new(),
            heading: Heading {
                run_id: "20260314-080500-tv-0312".into(),
                started_utc_ms: 1_773_475_500_000,
                practice: practice.into(),
                ..of.heading().clone()
            },
            n_noise: 0,
        }
    }

    fn now_s(&self) -> f64 {
        self.time_s.last().map_or(0.0, |t| t + 1.0 / PER_S)
    }

    /// Noise of one, the same each time.
    fn noise(&mut self) -> f64 {
        self.n_noise = self
            .n_noise
            .wrapping_mul(1_664_525)
            .wrapping_add(1_013_904_223);
        f64::from(self.n_noise >> 16) / 65_536.0 - 0.5
    }

    /// A stretch whose readings follow from the part of it that is over, 0 to 1; its name is
    /// left away for the way from one step to the next.
    pub fn stretch(&mut self, name: &str, length_s: f64, at: impl Fn(f64) -> Seen) {
        let from_s = self.now_s();
        let n_rows = (length_s * PER_S) as usize;
        for row in 0..=n_rows {
            let seen = at(row as f64 / n_rows as f64);
            self.time_s.push(from_s + row as f64 / PER_S);
            for index in 0..self.roles.len() {
                let value = match self.roles[index] {
                    Role::CapPressure => seen.p_cap_pa + 4e3 * self.noise(),
                    Role::RodPressure => seen.p_rod_pa + 4e3 * self.noise(),
                    Role::Position => seen.x_m + 4e-6 * self.noise(),
                    Role::OilTemperature | Role::WallTemperature => 315.15 + 0.1 * self.noise(),
                    Role::Supply => 5.0,
                };
                self.tracks[index].1.push(value);
            }
        }
        self.mark(name, from_s);
    }

    /// Steady readings.
    pub fn stay(&mut self, name: &str, length_s: f64, seen: Seen) {
        self.stretch(name, length_s, |_| seen);
    }

    /// A hold that the practice bench played, as `id/settle` and `id/hold`.
    pub fn hold(&mut self, id: &str, scenario: &Scenario) {
        let from_s = self.now_s();
        let hold = played(scenario);
        self.time_s.extend(hold.time_s().iter().map(|t| from_s + t));
        for (role, (_, values)) in self.roles.iter().zip(&mut self.tracks) {
            values.extend(hold.track(*role).expect("the same sensors").values());
        }
        for phase in hold.phases() {
            self.phases.push(PhaseMark {
                name: format!("{id}/{}", phase.name),
                from_s: from_s + phase.from_s,
                until_s: from_s + phase.until_s,
            });
        }
    }

    fn mark(&mut self, name: &str, from_s: f64) {
        if !name.is_empty() {
            self.phases.push(PhaseMark {
                name: name.into(),
                from_s,
                until_s: *self.time_s.last().expect("rows"),
            });
        }
    }

    /// The whole of it.
    pub fn finished(self) -> Recording {
        let tracks = self.tracks.into_iter().map(|(track, values)| Track {
            codes: Codes::Si(values),
            ..track
        });
        Recording::new(Parts {
            heading: self.heading,
            time_s: self.time_s,
            tracks: tracks.collect(),
            gaps: Vec::new(),
            phases: self.phases,
            entries: Vec::new(),
            loss: Loss::default(),
            ending: Ending::Complete,
        })
        .expect("rows rise in time")
    }
}
