//! Curves by hand, and what is refused.

use super::*;

fn points(pairs: &[(f64, f64)]) -> Vec<CurvePoint> {
    let point = |&(reference_si, reading)| CurvePoint {
        reference_si,
        reading,
    };
    pairs.iter().map(point).collect()
}

fn line(pairs: &[(f64, f64)], u_si: f64) -> Result<Curve, CurveError> {
    Curve::through(Role::CapPressure, ReadIn::Counts, points(pairs), 1, u_si)
}

/// Readings 0, 1, 2, 3, 4 and references with residuals 1, −2, 0, 2, −1 about 100·reading:
/// they are orthogonal to a constant and to a line if their sums vanish.
fn by_hand() -> Vec<(f64, f64)> {
    // Sum 0; sum of products with 0…4: −2 + 0 + 6 − 4 = 0.
    let residuals = [1.0, -2.0, 0.0, 2.0, -1.0];
    residuals
        .iter()
        .enumerate()
        .map(|(i, e)| (100.0 * i as f64 + e, i as f64))
        .collect()
}

/// Sxx = 10, s² = 10/3; u²(intercept) = s²·(1/5 + 4/10), u(slope) = s/√10; Student's t for
/// 3 degrees of freedom at 97.5 % is 3.182.
#[test]
fn zero_and_span_errors_are_those_reckoned_by_hand() {
    let reference = 0.8;
    let curve = line(&by_hand(), reference).expect("a line");
    assert!((curve.value(2.0) - 200.0).abs() < 1e-9);
    let s_squared = 10.0 / 3.0;
    let widening = 3.182446 / 1.959964;
    assert!((curve.widening() / widening - 1.0).abs() < 1e-5);
    let scatter = widening * widening * s_squared;
    let zero = (scatter * (1.0 + 0.6) + reference * reference).sqrt();
    let span = (scatter / 10.0 / 1e4 + (reference / 400.0).powi(2)).sqrt();
    let found = curve.errors();
    assert!(
        (found.zero_si / zero - 1.0).abs() < 1e-4,
        "{found:?} {zero}"
    );
    assert!(
        (found.span_relative / span - 1.0).abs() < 1e-4,
        "{found:?} {span}"
    );
}

#[test]
fn the_account_never_reckons_with_less_than_the_curve_says() {
    let bent: Vec<(f64, f64)> = by_hand()
        .into_iter()
        .chain([(503.0, 5.0), (599.0, 6.0), (701.0, 7.0)])
        .map(|(p, r)| (p - 50.0 + 0.9 * r * r, r))
        .collect();
    for role in [Role::CapPressure, Role::Position, Role::OilTemperature] {
        let curve = Curve::through(role, ReadIn::Shown, points(&bent), 2, 0.3).expect("a curve");
        let errors = curve.errors();
        for i in 0..=70 {
            let reading = 0.1 * f64::from(i);
            let by_errors = errors
                .zero_si
                .hypot(errors.span_relative * curve.value(reading));
            // Between the places at which it was looked up it may differ in the last digits.
            assert!(
                by_errors > 0.9999 * curve.standard_at(reading),
                "{role:?} {reading}"
            );
        }
        let is_all_zero = role == Role::OilTemperature;
        assert_eq!(errors.span_relative == 0.0, is_all_zero);
    }
}

#[test]
fn codes_go_the_way_of_the_readings_they_stand_for() {
    let pairs: Vec<(f64, f64)> = (0..7)
        .map(|i| {
            let r = 4.0 + 2.0 * f64::from(i);
            (3.0 + 2.0 * r - 0.01 * r * r, r)
        })
        .collect();
    let made = Curve::through(
        Role::CapPressure,
        ReadIn::Milliampere,
        points(&pairs),
        2,
        0.1,
    );
    let curve = made.expect("a parabola");
    // A step of the code is a microampere, counted from 0.5 mA.
    let calibration = curve.calibration(0.5, 1e-3);
    for code in [3_500, 9_500, 15_500] {
        let reading = 0.5 + 1e-3 * f64::from(code);
        assert!((calibration.value(code) - curve.value(reading)).abs() < 1e-10);
    }
    let steepest = 2.0 - 0.02 * 4.0;
    assert!((calibration.step_si((3_500, 15_500)) / (steepest * 1e-3) - 1.0).abs() < 1e-9);
}

#[track_caller]
fn refused(found: Result<Curve, CurveError>, part: &str) {
    let message = found.expect_err(part).to_string();
    assert!(message.contains(part), "{message}");
}

#[test]
fn points_that_make_no_curve_are_refused_with_the_reason() {
    let all = by_hand();
    refused(
        line(&all[..3], 0.1),
        "3 points are too few for degree 1; take at least 4",
    );
    let two_levels = [(0.0, 1.0), (0.0, 1.1), (9.0, 5.0), (9.0, 5.1), (9.0, 5.0)];
    refused(line(&two_levels, 0.1), "2 different values");
    let same_reading = [(0.0, 1.0), (1.0, 1.0), (2.0, 1.0), (3.0, 1.0)];
    refused(line(&same_reading, 0.1), "do not determine");
    let cubic = Curve::through(Role::CapPressure, ReadIn::Counts, points(&all), 3, 0.1);
    refused(cubic, "1 for a line or 2 for a parabola");
    let hill: Vec<(f64, f64)> = (-3..=3)
        .map(|i| (f64::from(i * i) + 0.01 * f64::from(i), f64::from(i)))
        .collect();
    let hill = Curve::through(Role::CapPressure, ReadIn::Counts, points(&hill), 2, 0.1);
    refused(hill, "turns round");
}

#[test]
fn a_misread_point_is_named_and_honest_scatter_is_not() {
    let mut pairs: Vec<(f64, f64)> = (0..10)
        .map(|i| {
            (
                10.0 * f64::from(i),
                f64::from(i) + 0.01 * f64::from((i * 7) % 5 - 2),
            )
        })
        .collect();
    assert!(line(&pairs, 0.1).is_ok());
    pairs[6].0 += 5.0;
    refused(line(&pairs, 0.1), "point 7 lies");
}
