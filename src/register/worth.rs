//! Rebuild or replace: what either costs, and what tips it.
//!
//! A sum of what the fitter entered, nothing else: no price is known here and none is guessed. A
//! structural finding decides by itself: what holds a cylinder together is not mended on a bench.
//! The fitter decides; the register keeps what was decided and why.

use super::job::Finding;
use super::job::PartUsed;

/// Money in hundredths of the shop's own.
pub type Hundredths = i64;

/// What a rebuild takes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rebuilding {
    /// Fitter's hours.
    pub hours: f64,
    /// Work done outside: honing, chroming.
    pub outside_work_hundredths: Hundredths,
    /// Days the machine stands for it.
    pub down_days: f64,
}

/// What a replacement takes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Replacing {
    /// Its price.
    pub price_hundredths: Hundredths,
    /// Hours to fit it.
    pub hours: f64,
    /// Days until it is there and fitted, in which the machine stands.
    pub down_days: f64,
}

/// What an hour and a day cost in this shop.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rates {
    /// An hour of a fitter.
    pub hour_hundredths: Hundredths,
    /// A day that the machine stands.
    pub down_day_hundredths: Hundredths,
}

/// A line of the sum.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// What it is for.
    pub what: &'static str,
    /// What it costs.
    pub hundredths: Hundredths,
}

/// Which way the sum points.
#[derive(Debug, Clone, PartialEq)]
pub enum Points {
    /// To a rebuild: it costs so much less.
    ToRebuild(Hundredths),
    /// To a replacement: it costs so much less.
    ToReplace(Hundredths),
    /// To neither.
    ToNeither,
    /// A structural finding decides, whatever it costs: which.
    Structural(String),
}

/// Both sums beside each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Worth {
    /// What a rebuild costs, line by line.
    pub rebuild: Vec<Item>,
    /// What a replacement costs, line by line.
    pub replace: Vec<Item>,
    /// Which way that points.
    pub points: Points,
    /// Hours of rebuilding at which both cost the same; None if an hour costs nothing, or no hours
    /// do.
    pub even_at_hours: Option<f64>,
    /// Days of standing that cost as much as the difference; None if a day costs nothing.
    pub days_that_tip: Option<f64>,
}

/// Adds both up.
pub fn worth(
    (findings, parts): (&[Finding], &[PartUsed]),
    rebuilding: &Rebuilding,
    replacing: &Replacing,
    rates: &Rates,
) -> Worth {
    let times = |rate: Hundredths, n: f64| (rate as f64 * n).round() as Hundredths;
    let of_parts = |from_kit: bool| {
        let own = parts.iter().filter(|part| part.from_kit == from_kit);
        own.map(|part| i64::from(part.count) * i64::from(part.price_hundredths))
            .sum()
    };
    let item = |what, hundredths| Item { what, hundredths };
    let rebuild = vec![
        item("seal kit", of_parts(true)),
        item("other parts", of_parts(false)),
        item("work", times(rates.hour_hundredths, rebuilding.hours)),
        item("outside work", rebuilding.outside_work_hundredths),
        item(
            "machine standing",
            times(rates.down_day_hundredths, rebuilding.down_days),
        ),
    ];
    let replace = vec![
        item("replacement", replacing.price_hundredths),
        item("work", times(rates.hour_hundredths, replacing.hours)),
        item(
            "machine standing",
            times(rates.down_day_hundredths, replacing.down_days),
        ),
    ];
    let sum = |items: &[Item]| items.iter().map(|item| item.hundredths).sum::<Hundredths>();
    let less = sum(&replace) - sum(&rebuild);
    let structural = findings.iter().find(|finding| finding.structural);
    let points = match (structural, less) {
        (Some(found), _) => Points::Structural(format!("{}: {}", found.part, found.condition)),
        (None, 0) => Points::ToNeither,
        (None, less) if less > 0 => Points::ToRebuild(less),
        (None, less) => Points::ToReplace(-less),
    };
    let even = rebuilding.hours + less as f64 / rates.hour_hundredths as f64;
    let days = less.abs() as f64 / rates.down_day_hundredths as f64;
    Worth {
        rebuild,
        replace,
        points,
        even_at_hours: (rates.hour_hundredths > 0 && even >= 0.0).then_some(even),
        days_that_tip: (rates.down_day_hundredths > 0).then_some(days),
    }
}

#[cfg(test)]
#[allow(
    clippy::inconsistent_digit_grouping,
    reason = "money before the last group, hundredths in it"
)]
mod tests {
    use super::*;

    fn part(from_kit: bool, count: u32, price_hundredths: u32) -> PartUsed {
        PartUsed {
            part: "part".into(),
            count,
            price_hundredths,
            from_kit,
        }
    }

    fn finding(structural: bool) -> Finding {
        Finding {
            part: "tube".into(),
            condition: "crack at the port weld".into(),
            structural,
            measured_m: None,
            limit_m: None,
        }
    }

    const RATES: Rates = Rates {
        hour_hundredths: 60_00,
        down_day_hundredths: 150_00,
    };

    /// By hand: kit 84, two guide rings at 12.50, 3.5 h at 60, honing 95, half a day at 150 are 489;
    /// 640, 1 h and 4 days are 1300. 811 less; 3.5 + 811/60 = 17.02 h; 811/150 = 5.41 days.
    #[test]
    fn the_sum_is_that_of_a_slip_of_paper() {
        let parts = [part(true, 1, 84_00), part(false, 2, 12_50)];
        let rebuilding = Rebuilding {
            hours: 3.5,
            outside_work_hundredths: 95_00,
            down_days: 0.5,
        };
        let replacing = Replacing {
            price_hundredths: 640_00,
            hours: 1.0,
            down_days: 4.0,
        };
        let found = worth((&[finding(false)], &parts), &rebuilding, &replacing, &RATES);
        let of = |items: &[Item]| items.iter().map(|i| i.hundredths).collect::<Vec<_>>();
        assert_eq!(of(&found.rebuild), [84_00, 25_00, 210_00, 95_00, 75_00]);
        assert_eq!(of(&found.replace), [640_00, 60_00, 600_00]);
        assert_eq!(found.points, Points::ToRebuild(811_00));
        let even = found.even_at_hours.expect("hours cost");
        assert!((even - 17.0167).abs() < 1e-3, "{even}");
        assert!((found.days_that_tip.expect("days cost") - 5.4067).abs() < 1e-3);
        let dear = Rebuilding {
            hours: 20.0,
            ..rebuilding
        };
        let found = worth((&[], &parts), &dear, &replacing, &RATES);
        assert_eq!(found.points, Points::ToReplace(179_00));
    }

    #[test]
    fn a_structural_finding_decides_whatever_it_costs() {
        let replacing = Replacing {
            price_hundredths: 1_000_000_00,
            ..Replacing::default()
        };
        let nothing = Rebuilding::default();
        let found = worth(
            (&[finding(false), finding(true)], &[]),
            &nothing,
            &replacing,
            &RATES,
        );
        assert_eq!(
            found.points,
            Points::Structural("tube: crack at the port weld".into())
        );
    }

    #[test]
    fn what_costs_nothing_tips_nothing() {
        let found = worth(
            (&[], &[]),
            &Rebuilding::default(),
            &Replacing::default(),
            &Rates::default(),
        );
        assert_eq!(found.points, Points::ToNeither);
        assert_eq!((found.even_at_hours, found.days_that_tip), (None, None));
    }
}
