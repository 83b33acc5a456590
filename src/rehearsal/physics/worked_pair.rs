//! Worked examples of two cylinders on one load, computed apart from this room.
//!
//! Closed forms from continuity and the balance of forces on a rigid beam; oil of 1.4 GPa.

use super::worked_examples::free;
use super::worked_examples::ideal;
use super::worked_examples::near;
use super::*;
use crate::cylinder::Chamber;
use crate::cylinder::Kind;
use crate::quantity::Length;
use crate::quantity::unit::meter;

const ML_MIN: f64 = 1e-6 / 60.0;
const K_PA: f64 = 1.4e9;
const LOAD_N: f64 = 30e3;
const CAP_M2: f64 = std::f64::consts::FRAC_PI_4 * 63e-3 * 63e-3;
const ROD_SIDE_M2: f64 = CAP_M2 - std::f64::consts::FRAC_PI_4 * 36e-3 * 36e-3;
const SHARE_PA: f64 = 0.5 * LOAD_N / CAP_M2;

/// One of two 63/36 that carry 30 kN together, 300 mm out of 400.
fn half() -> Specimen {
    let mut specimen = ideal(Kind::DoubleActing, 63.0, 36.0, 400.0, 20.0);
    specimen.motion = free(0.5 * LOAD_N, 0.0);
    specimen.start.p_cap_pa = SHARE_PA;
    specimen
}

fn volume(chamber: Chamber, x_m: f64) -> f64 {
    half()
        .cylinder
        .volume(chamber, Length::new::<meter>(x_m))
        .value
}

/// Both cylinders at each of these times: the measured ones, then the partner's.
fn play(
    measured: &Specimen,
    partner: Specimen,
    lines: Lines,
    times_s: &[f64],
) -> [Vec<Instant>; 2] {
    let partner = Partner {
        specimen: partner,
        lines,
    };
    let until_s = times_s.last().copied().expect("a time");
    let both = Course::of_pair(measured, &partner, until_s).expect("integrates");
    both.map(|course| course.run(times_s, Chamber::Cap).instants)
}

/// What both carry, N.
fn carried_n(own: &Instant, other: &Instant) -> f64 {
    let push = |now: &Instant| now.p_cap_pa * CAP_M2 - now.p_rod_pa * ROD_SIDE_M2;
    push(own) + push(other)
}

#[test]
fn two_sound_cylinders_stand_and_keep_their_pressures() {
    for lines in [Lines::Apart, Lines::Joined] {
        let [own, other] = play(&half(), half(), lines, &[0.0, 600.0]);
        near(own[1].x_m - own[0].x_m, 0.0, 1e-9);
        for now in [&own[1], &other[1]] {
            near(now.p_cap_pa, SHARE_PA, 1.0);
            near(now.p_rod_pa, 0.0, 1.0);
        }
    }
}

/// Closed form (continuity and forces, rod sides open): Q out of one cap side alone gives
/// u = A·Q/V₁ / (A²/V₁ + A²/V₂), so Q/2A for equal columns: half of what one would sink.
/// The pressure of the leaking one falls by K·(Q − A·u)/V, that of its partner rises as much.
#[test]
fn a_partner_takes_over_what_the_leaking_one_lets_go() {
    let mut measured = half();
    let mut partner = half();
    for specimen in [&mut measured, &mut partner] {
        specimen.ills.rod_port = WayOut::Vessel;
    }
    measured.ills.cap_port = WayOut::Plug(Leak::with_exponent(0.5, SHARE_PA / 1e5, 0.0));
    let times_s: Vec<f64> = (0..=60).map(f64::from).collect();
    let [own, other] = play(&measured, partner, Lines::Apart, &times_s);
    let flow = 0.5 * ML_MIN;
    let column = volume(Chamber::Cap, 0.3);
    let sinks = 0.5 * flow / CAP_M2;
    let changes = K_PA * 0.5 * flow / column;
    near((own[0].x_m - own[60].x_m) / 60.0 / sinks, 1.0, 2e-3);
    near(
        (own[0].p_cap_pa - own[60].p_cap_pa) / 60.0 / changes,
        1.0,
        5e-3,
    );
    near(
        (other[60].p_cap_pa - other[0].p_cap_pa) / 60.0 / changes,
        1.0,
        5e-3,
    );
    for (own, other) in own.iter().zip(&other).skip(1) {
        // What brakes both rods, 4e4 N·s/m, carries a tenth of a newton.
        near(carried_n(own, other) + 4e4 * sinks - LOAD_N, 0.0, 1e-3);
        near(own.x_m - other.x_m, 0.0, 1e-12);
    }
}

/// The same with 15 bar shut in on both rod sides: they soften with A_r²/V_r each, so
/// u = A·Q/V_c / (2·A²/V_c + 2·A_r²/V_r), and the load stays carried.
#[test]
fn rod_sides_that_are_shut_in_hold_a_part_of_it() {
    let charged = || {
        let mut specimen = half();
        specimen.start.p_rod_pa = 15e5;
        specimen.start.p_cap_pa = (0.5 * LOAD_N + 15e5 * ROD_SIDE_M2) / CAP_M2;
        specimen
    };
    let mut measured = charged();
    let p_bar = measured.start.p_cap_pa / 1e5;
    measured.ills.cap_port = WayOut::Plug(Leak::with_exponent(0.2, p_bar, 0.0));
    let [own, other] = play(&measured, charged(), Lines::Apart, &[0.0, 30.0, 60.0]);
    let (cap, rod) = (volume(Chamber::Cap, 0.3), volume(Chamber::Rod, 0.3));
    let stiff = 2.0 * (CAP_M2.powi(2) / cap + ROD_SIDE_M2.powi(2) / rod);
    let sinks = CAP_M2 * 0.2 * ML_MIN / cap / stiff;
    near((own[0].x_m - own[2].x_m) / 60.0 / sinks, 1.0, 5e-3);
    let falls = K_PA * ROD_SIDE_M2 * sinks / rod;
    near(
        (other[0].p_rod_pa - other[2].p_rod_pa) / 60.0 / falls,
        1.0,
        1e-2,
    );
    near(
        carried_n(&own[2], &other[2]) + 4e4 * sinks - LOAD_N,
        0.0,
        1e-3,
    );
}

/// Where a bad piston seal of one of two comes to rest, both plugged: its sides at one
/// pressure p₂, the partner at what its oil is pressed to, A·p₁ − A_r·p_r1 + a·p₂ = F. Exact
/// in masses, solved here by halving.
#[test]
fn a_bad_seal_of_one_comes_to_rest_where_its_sides_meet() {
    let (start_pa, charge_pa) = ((0.5 * LOAD_N + 60e5 * ROD_SIDE_M2) / CAP_M2, 60e5);
    let charged = || {
        let mut specimen = half();
        specimen.start.p_rod_pa = charge_pa;
        specimen.start.p_cap_pa = start_pa;
        specimen
    };
    let mut measured = charged();
    measured.ills.piston = Leak::laminar(20.0, 50.0);
    let pressed = |chamber, from_pa: f64, x_m: f64| {
        from_pa + K_PA * (volume(chamber, 0.3) / volume(chamber, x_m)).ln()
    };
    let met_pa = |x_m: f64| {
        let kg = volume(Chamber::Cap, 0.3) * (start_pa / K_PA).exp()
            + volume(Chamber::Rod, 0.3) * (charge_pa / K_PA).exp();
        K_PA * (kg / (volume(Chamber::Cap, x_m) + volume(Chamber::Rod, x_m))).ln()
    };
    let missing_n = |x_m: f64| {
        let partner_n = pressed(Chamber::Cap, start_pa, x_m) * CAP_M2
            - pressed(Chamber::Rod, charge_pa, x_m) * ROD_SIDE_M2;
        partner_n + met_pa(x_m) * (CAP_M2 - ROD_SIDE_M2) - LOAD_N
    };
    let (mut low, mut high) = (0.29, 0.3);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if missing_n(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let [own, other] = play(&measured, charged(), Lines::Apart, &[0.0, 3600.0]);
    near((own[1].x_m - low) * 1e6, 0.0, 0.05);
    near(own[1].p_cap_pa / met_pa(low), 1.0, 1e-5);
    near(own[1].p_rod_pa / met_pa(low), 1.0, 1e-5);
    near(
        other[1].p_cap_pa / pressed(Chamber::Cap, start_pa, low),
        1.0,
        1e-5,
    );
    assert!(other[1].p_cap_pa > start_pa && own[1].p_cap_pa < start_pa);
}

/// Closed form (continuity): on a common valve, rod sides open, both sink by Q/2A with their
/// pressures as they were, and half of what leaks comes from the sound one, through the line.
#[test]
fn on_a_common_valve_both_sink_and_neither_pressure_tells() {
    let mut measured = half();
    measured.ills.cap_port = WayOut::Plug(Leak::laminar(1.0, SHARE_PA / 1e5));
    let mut partner = half();
    for specimen in [&mut measured, &mut partner] {
        specimen.ills.rod_port = WayOut::Vessel;
    }
    let [own, other] = play(&measured, partner, Lines::Joined, &[0.0, 600.0]);
    let u = (own[0].x_m - own[1].x_m) / 600.0;
    near(u / (0.5 * ML_MIN / CAP_M2), 1.0, 2e-3);
    for now in [&own[1], &other[1]] {
        near(now.p_cap_pa / SHARE_PA, 1.0, 1e-3);
    }
    let (out, over) = (own[1].passed_kg.cap_plug, other[1].passed_kg.cap_valve);
    near(over / out, 0.5, 2e-3);
    near((own[1].passed_kg.cap_valve + over) / out, 0.0, 1e-9);
}
