//! The sensors of a hold: poor, middle or good, from 10 to 24 bits.

use super::chance::Chance;
use stillrod::cylinder::Chamber;
use stillrod::quantity::unit::meter;
use stillrod::rehearsal::physics::Specimen;
use stillrod::rehearsal::sensors::Loop;
use stillrod::rehearsal::sensors::Noise;
use stillrod::rehearsal::sensors::Probe;
use stillrod::rehearsal::sensors::Senses;
use stillrod::rehearsal::sensors::Stated;

/// How good sensors and their papers are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quality {
    /// 10 to 12 bits, papers of an industrial transmitter.
    Poor,
    /// 14 to 16 bits.
    Middle,
    /// 18 to 24 bits, checked against a standard.
    Good,
}

/// What a quality means; pressures by full scale.
struct Grade {
    bits: &'static [u8],
    pressure_zero: f64,
    pressure_span: f64,
    pressure_per_k: f64,
    pressure_noise: (f64, f64),
    position_zero_m: f64,
    position_span: f64,
    position_noise_m: (f64, f64),
    probe_zero_k: f64,
    probe_noise_k: (f64, f64),
}

const POOR: Grade = Grade {
    bits: &[10, 11, 12],
    pressure_zero: 2.5e-3,
    pressure_span: 5e-3,
    pressure_per_k: 2e-4,
    pressure_noise: (1e-4, 1e-3),
    position_zero_m: 1e-3,
    position_span: 2e-3,
    position_noise_m: (10e-6, 100e-6),
    probe_zero_k: 1.0,
    probe_noise_k: (0.02, 0.1),
};

const MIDDLE: Grade = Grade {
    bits: &[14, 15, 16],
    pressure_zero: 5e-4,
    pressure_span: 2e-3,
    pressure_per_k: 5e-5,
    pressure_noise: (2e-5, 2e-4),
    position_zero_m: 0.5e-3,
    position_span: 5e-4,
    position_noise_m: (3e-6, 30e-6),
    probe_zero_k: 0.3,
    probe_noise_k: (0.01, 0.05),
};

const GOOD: Grade = Grade {
    bits: &[18, 20, 24],
    pressure_zero: 2e-4,
    pressure_span: 5e-4,
    pressure_per_k: 2e-5,
    pressure_noise: (5e-6, 5e-5),
    position_zero_m: 0.2e-3,
    position_span: 2e-4,
    position_noise_m: (1e-6, 10e-6),
    probe_zero_k: 0.1,
    probe_noise_k: (0.003, 0.02),
};

/// Full scales of pressure sensors, bar.
const RANGES_BAR: [f64; 6] = [60.0, 100.0, 160.0, 250.0, 400.0, 600.0];

/// Strokes of position sensors, m.
const RANGES_M: [f64; 4] = [0.3, 0.4, 0.5, 0.75];

impl Quality {
    /// Its name.
    pub fn word(self) -> &'static str {
        match self {
            Self::Poor => "poor",
            Self::Middle => "middle",
            Self::Good => "good",
        }
    }

    /// One of the three.
    pub fn drawn(chance: &mut Chance) -> Self {
        chance.one_of(&[Self::Poor, Self::Middle, Self::Good])
    }

    fn grade(self) -> &'static Grade {
        match self {
            Self::Poor => &POOR,
            Self::Middle => &MIDDLE,
            Self::Good => &GOOD,
        }
    }
}

/// Sensors that fit a specimen.
pub fn senses(
    quality: Quality,
    specimen: &Specimen,
    probe: Chamber,
    chance: &mut Chance,
) -> Senses {
    let grade = quality.grade();
    let bits = chance.one_of(grade.bits);
    let start = &specimen.start;
    // A fitter leaves room for what the test may do.
    let highest_bar = start.p_cap_pa.max(start.p_rod_pa) * chance.even(1.3, 2.5) / 1e5;
    let full_bar = first_above(&RANGES_BAR, highest_bar);
    let mut pressure = || {
        let full_pa = full_bar * 1e5;
        Loop {
            range: (0.0, full_pa),
            bits,
            stated: Stated {
                zero: grade.pressure_zero * full_pa,
                span_relative: grade.pressure_span,
                zero_per_k: grade.pressure_per_k * full_pa,
            },
            noise: noise(grade.pressure_noise, full_pa, chance),
        }
    };
    let pressures = [pressure(), pressure()];
    let stroke_m = specimen.cylinder.size().stroke.get::<meter>();
    let position = Loop {
        range: (0.0, first_above(&RANGES_M, stroke_m)),
        bits,
        stated: Stated {
            zero: grade.position_zero_m,
            span_relative: grade.position_span,
            zero_per_k: 0.0,
        },
        noise: noise(grade.position_noise_m, 1.0, chance),
    };
    let temperature = Loop {
        range: (0.0, 100.0),
        bits,
        stated: Stated {
            zero: grade.probe_zero_k,
            span_relative: 0.0,
            zero_per_k: 0.0,
        },
        noise: noise(grade.probe_noise_k, 1.0, chance),
    };
    let fresh_k = match probe {
        Chamber::Cap => specimen.cap.fresh_heat_k,
        Chamber::Rod => specimen.rod.fresh_heat_k,
    };
    Senses {
        loops: [pressures[0], pressures[1], position, temperature],
        probe: Probe {
            chamber: probe,
            immersion: chance.even(0.7, 1.0),
            lag_s: chance.even(20.0, 90.0),
            // It was in the fresh oil for a while, or has just been put in.
            starts_k: fresh_k * chance.even(0.0, 1.0),
        },
    }
}

fn noise((low, high): (f64, f64), by: f64, chance: &mut Chance) -> Noise {
    let white = by * chance.even_in_log(low, high);
    Noise {
        white,
        slow: white * chance.even(0.0, 0.5),
        memory_s: chance.even_in_log(0.3, 5.0),
    }
}

fn first_above(ranges: &[f64], wanted: f64) -> f64 {
    let last = ranges[ranges.len() - 1];
    ranges
        .iter()
        .copied()
        .find(|r| *r >= wanted)
        .unwrap_or(last)
}
