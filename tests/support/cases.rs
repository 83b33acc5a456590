//! Cases of practice as recordings: a cylinder of 100/56, its courses with noise, its limits.
//!
//! Each course goes through the whole way of a test: settings, account, verdict.

use super::made::recording;
use super::made::track;
use stillrod::account::Evaluation;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::channel::Role;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::recording::Track;
use stillrod::verdict::Judged;

/// One bar in pascal.
pub const BAR: f64 = 1e5;

const PROBE: &str =
    "[sensors.t_oil]\nzero_uncertainty = \"0.3 K\"\nspan_uncertainty_percent = 0.1\n";

/// What is on the bench, how it is held, and the limits it is judged by.
pub struct Case<'a> {
    /// Lines of the table `[circuit]`.
    pub circuit: &'a str,
    /// Dead volume of the cap end, mL.
    pub dead_ml: f64,
    /// A shop's limits: the figure's word, the value.
    pub limits: &'a [(&'a str, &'a str)],
}

impl Case<'_> {
    /// The setup file.
    pub fn setup_toml(&self) -> String {
        let ids: Vec<String> = self
            .limits
            .iter()
            .map(|(id, _)| format!("\"{id}\""))
            .collect();
        let pressure = "zero_uncertainty = \"0.05 bar\"\nspan_uncertainty_percent = 0.1\n";
        format!(
            "[unit]\ntag = \"TV-0312\"\n[cylinder]\nkind = \"double_acting\"\nbore = \"100 mm\"\nrod = \"56 mm\"\n\
             stroke = \"600 mm\"\ncap_dead_volume = \"{} mL\"\nrod_dead_volume = \"20 mL\"\n\
             [oil]\nname = \"VG 46\"\nviscosity_40c = \"46 mm²/s\"\nviscosity_100c = \"6.8 mm²/s\"\n\
             expansion = \"7.2e-4 1/K\"\nstiffness = \"1.4 GPa\"\n[circuit]\n{}\n\
             [hold]\nsettle = \"0 s\"\nlength = \"600 s\"\n\
             [sensors.p_cap]\n{pressure}[sensors.p_rod]\n{pressure}\
             [sensors.x]\nzero_uncertainty = \"0.1 mm\"\nspan_uncertainty_percent = 0.05\n\
             {}[acceptance]\nlimits = [{}]\n",
            self.dead_ml,
            self.circuit,
            if self.has_probe() { PROBE } else { "" },
            ids.join(", ")
        )
    }

    fn has_probe(&self) -> bool {
        self.circuit.contains("probe")
    }

    /// Judges a course of five readings a second over `length_s`; `course` gives cap and
    /// rod pressure (bar), extension (mm) and oil temperature (°C) by time (s).
    pub fn judge(&self, length_s: f64, course: impl Fn(f64) -> [f64; 4]) -> Judgement {
        self.judge_tracks(length_s, &course, |tracks| tracks)
    }

    /// The same with the tracks changed.
    pub fn judge_tracks(
        &self,
        length_s: f64,
        course: &dyn Fn(f64) -> [f64; 4],
        change: impl FnOnce(Vec<Track>) -> Vec<Track>,
    ) -> Judgement {
        let time_s: Vec<f64> = (0..=(5.0 * length_s) as u32)
            .map(|index| 0.2 * f64::from(index))
            .collect();
        let mut noise = Noise(1);
        let mut one =
            |role, index: usize, (steps, sd): (f64, f64), errors, si: &dyn Fn(f64) -> f64| {
                let readings = time_s
                    .iter()
                    .map(|t| ((si(course(*t)[index]) + sd * noise.next()) / steps).round() * steps)
                    .collect();
                track(role, steps, errors, readings)
            };
        let mut tracks = vec![
            one(Role::CapPressure, 0, (500.0, 1e3), (5e3, 1e-3), &|bar| {
                bar * BAR
            }),
            one(Role::RodPressure, 1, (500.0, 1e3), (5e3, 1e-3), &|bar| {
                bar * BAR
            }),
            one(Role::Position, 2, (1e-6, 3e-6), (1e-4, 5e-4), &|mm| {
                mm * 1e-3
            }),
            one(Role::OilTemperature, 3, (0.01, 0.02), (0.3, 1e-3), &|c| {
                c + 273.15
            }),
        ];
        tracks.retain(|t| t.channel.role != Role::OilTemperature || self.has_probe());
        let texts = [&*self.setup_toml(), &limits_toml(self.limits)];
        let made = recording(time_s, change(tracks), 0.0, texts);
        judged(&made, None).expect("settings that can be used")
    }
}

/// A shop with limits: the figure's word, the value.
pub fn limits_toml(limits: &[(&str, &str)]) -> String {
    let mut text = String::from(
        "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
         [decision]\nrule = \"guarded\"\nprobability = 0.95\n",
    );
    for (figure, value) in limits {
        text += &format!(
            "[[limit]]\nid = \"{figure}\"\nfigure = \"{figure}\"\nvalue = \"{value}\"\nsource = \"test\"\n"
        );
    }
    text
}

/// Standard normal noise, the same each time: twelve uniform numbers less six.
pub struct Noise(pub u64);

impl Noise {
    /// The next number.
    pub fn next(&mut self) -> f64 {
        let mut uniform = || {
            // Knuth's multiplier (MMIX).
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1u64 << 53) as f64
        };
        (0..12).map(|_| uniform()).sum::<f64>() - 6.0
    }
}

/// The evaluation of a judgement.
#[track_caller]
pub fn evaluation(judgement: &Judgement) -> &Evaluation {
    judgement.evaluation.as_ref().expect("a hold")
}

/// A figure that must be stated.
#[track_caller]
pub fn figure(judgement: &Judgement, name: FigureName) -> &Figure {
    let evaluation = evaluation(judgement);
    evaluation
        .figure(name)
        .unwrap_or_else(|| panic!("{name:?}: {evaluation:?}"))
}

/// How the limit of a figure came out.
#[track_caller]
pub fn of<'a>(judgement: &'a Judgement, id: &str) -> &'a Judged {
    let mut judged = judgement.verdict.judged.iter();
    judged.find(|j| j.limit.id == id).expect("a limit")
}
