//! What a hold gives to a fit over several holds: its measured sums, the pressures that
//! drove them, and how sure the sums are.

use super::Subject;
use super::conditions::pressure_role;
use super::figure::Figure;
use super::figure::FigureName;
use super::figure::Measured;
use super::figure::coverage_factor;
use super::layout::P;
use super::series::HoldSeries;
use super::solution::Solution;
use crate::channel::Role;
use crate::circuit::Port;
use crate::cylinder::Chamber;
use crate::fit::Matrix;

/// The measured sums of one hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Counted {
    /// Chambers with a sum, cap before rod: what the cap side lost, what the rod side gained.
    pub chambers: Vec<Chamber>,
    /// Means over the hold, m³/s, one for each chamber.
    pub mean_m3_per_s: Vec<f64>,
    /// Covariance of their errors, (m³/s)²; 1.96 of its roots cover 95 %.
    pub covariance: Matrix,
    /// Pressures over the hold.
    pub drive: Drive,
    /// Undissolved air in the oil by volume at the atmosphere, as the hold showed it.
    pub air: Measured,
}

/// What drove the leaks of a hold, as means of its blocks.
#[derive(Debug, Clone, PartialEq)]
pub struct Drive {
    /// Cap-end pressure, Pa gauge.
    pub p_cap_pa: Vec<f64>,
    /// Rod-end pressure, Pa gauge; None where it is neither measured nor that of an open vessel.
    pub p_rod_pa: Option<Vec<f64>>,
    /// Standard uncertainties of the zeros of both pressure sensors, Pa, cap before rod; zero
    /// for an open vessel.
    pub zero_pa: [f64; 2],
    /// Oil temperature, mean over the hold, K; None without a probe.
    pub oil_k: Option<f64>,
    /// Extension at the start, m.
    pub x_m: f64,
    /// Length of the hold, s.
    pub length_s: f64,
}

impl Counted {
    /// The sum of one chamber with its standard uncertainty, m³/s.
    pub fn sum(&self, chamber: Chamber) -> Option<(f64, f64)> {
        let index = self.chambers.iter().position(|c| *c == chamber)?;
        let standard = self.covariance[(index, index)].sqrt();
        Some((self.mean_m3_per_s[index], standard))
    }
}

/// The sums of a fitted hold, of which `figures` have been stated.
pub(super) fn counted(
    solution: &Solution<'_>,
    subject: &Subject,
    figures: &[Figure],
) -> Option<Counted> {
    let sides = [
        (Chamber::Cap, P::CapLoss, FigureName::CapLoss),
        (Chamber::Rod, P::RodGain, FigureName::RodGain),
    ];
    let mut found = Vec::new();
    for (chamber, side, name) in sides {
        let Some(figure) = figures.iter().find(|f| f.name == name) else {
            continue;
        };
        let mean = figure.mean_over_hold?;
        // Few degrees of freedom widen an interval; a normal one as wide stands for it.
        let wider = figure.coverage_factor / coverage_factor(None);
        found.push((chamber, side, mean.value_si, mean.standard_si * wider));
    }
    let derived = |side: P| move |theta: &_| solution.mean_flow(theta, side);
    let covariance = Matrix::from_fn(found.len(), found.len(), |i, j| {
        let ((_, a, _, of_a), (_, b, _, of_b)) = (found[i], found[j]);
        let correlation = if i == j {
            1.0
        } else {
            solution.correlation(&derived(a), &derived(b))
        };
        correlation * of_a * of_b
    });
    Some(Counted {
        chambers: found.iter().map(|f| f.0).collect(),
        mean_m3_per_s: found.iter().map(|f| f.2).collect(),
        covariance,
        drive: drive(solution.balance.series, subject)?,
        air: solution
            .derive(&|theta| solution.balance.layout.get(theta, P::Air))
            .0,
    })
}

fn drive(series: &HoldSeries, subject: &Subject) -> Option<Drive> {
    let blocks = |chamber| {
        let signal = series.signal(pressure_role(chamber))?;
        Some(series.block_means(&signal.smooth))
    };
    let open = |chamber| {
        (subject.circuit.port(chamber) == Port::OpenToVessel).then(|| vec![0.0; series.n_blocks])
    };
    let of = |chamber| blocks(chamber).or_else(|| open(chamber));
    let first = series.signal(Role::Position)?.smooth.first().copied()?;
    let has_probe = series.signal(Role::OilTemperature).is_some();
    Some(Drive {
        p_cap_pa: of(Chamber::Cap)?,
        p_rod_pa: of(Chamber::Rod),
        zero_pa: [Chamber::Cap, Chamber::Rod].map(|chamber| {
            let signal = series.signal(pressure_role(chamber));
            signal.map_or(0.0, |signal| signal.errors.zero_si)
        }),
        oil_k: has_probe.then(|| series.oil_k().0),
        x_m: first,
        length_s: series.length_s,
    })
}
