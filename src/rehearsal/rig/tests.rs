//! The rig without a port: what is done to it, and what was true then.

use super::hands::Hands;
use super::source::Feed;
use super::*;
use crate::circuit::Circuit;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::cylinder::Chamber;
use crate::oil::STEEL_EXPANSION_PER_K;
use crate::quantity::Length;
use crate::quantity::Temperature;
use crate::quantity::Volume;
use crate::quantity::unit::kelvin;
use crate::quantity::unit::meter;
use crate::quantity::unit::milliliter;
use crate::rehearsal::physics::Instant;
use crate::rehearsal::physics::Leak;
use crate::rehearsal::physics::Specimen;
use crate::rehearsal::rig::world::Timed;
use crate::rehearsal::rig::world::World;
use crate::rehearsal::sensors::N_CHANNELS;
use std::collections::VecDeque;

const ML_MIN: f64 = 1e-6 / 60.0;

fn unit(name: &str) -> RigUnit {
    rig_unit(name).expect("a unit of the rig")
}

/// Cap port shut, rod port open, the rod locked where it stands.
fn cap_shut(x_m: f64, bar: f64) -> Handling {
    let circuit = Circuit::plain(Port::Blocked, Port::OpenToVessel, RodHold::Locked);
    press(circuit, x_m, [bar, 0.0])
}

/// The same the other way round.
fn rod_shut(x_m: f64, bar: f64) -> Handling {
    let circuit = Circuit::plain(Port::OpenToVessel, Port::Blocked, RodHold::Locked);
    press(circuit, x_m, [bar, 0.0])
}

/// Both ports shut, the rod free.
fn both_shut(x_m: f64, bars: [f64; 2]) -> Handling {
    let rod = RodHold::PushedIn { load: None };
    press(Circuit::plain(Port::Blocked, Port::Blocked, rod), x_m, bars)
}

fn press(circuit: Circuit, x_m: f64, [holding_bar, other_bar]: [f64; 2]) -> Handling {
    Handling::Press {
        circuit,
        x_m,
        holding_pa: holding_bar * 1e5,
        other_pa: other_bar * 1e5,
    }
}

/// A run of handlings with all that is streamed of it.
fn streamed(unit: &RigUnit, done: &[Timed], until_s: f64) -> (Hands, Vec<[i32; N_CHANNELS]>) {
    let hands = Hands::default();
    let mut feed = Feed::new(unit, hands.clone());
    for (at_s, handling) in done {
        hands.act(*at_s, *handling);
    }
    let mut codes = Vec::new();
    while hands.streamed_s().is_none_or(|at_s| at_s < until_s) {
        codes.extend(feed.block().expect("integrates"));
    }
    (hands, codes)
}

/// What passed the piston between two times in the middle of which the law of a laminar gap
/// lets `ml_min` by at 100 bar: found and expected, mL/min as it leaves the side under pressure.
fn past_piston(
    unit: &RigUnit,
    hands: &Hands,
    [from_s, until_s]: [f64; 2],
    ml_min: f64,
) -> [f64; 2] {
    let now = hands.instant(0.5 * (from_s + until_s)).expect("streamed");
    let difference_bar = (now.p_cap_pa - now.p_rod_pa) / 1e5;
    let (density, oil_k) = match difference_bar > 0.0 {
        true => (now.density_cap, now.oil_cap_k),
        false => (now.density_rod, now.oil_rod_k),
    };
    let sheet = unit.specimen.oil.viscosity.as_ref().expect("a sheet");
    let mm2_per_s = |k: f64| sheet.viscosity(Temperature::new::<kelvin>(k)).mm2_per_s();
    let thinner = mm2_per_s(unit.specimen.heat.wall_k) / mm2_per_s(oil_k);
    let found = hands.passed(from_s, until_s).piston / density / (until_s - from_s) / ML_MIN;
    [found, ml_min * difference_bar / 100.0 * thinner]
}

#[track_caller]
fn by_its_law(unit: &RigUnit, hands: &Hands, between_s: [f64; 2], ml_min: f64) {
    let [found, expected] = past_piston(unit, hands, between_s, ml_min);
    assert!(
        (found / expected - 1.0).abs() < 0.005,
        "{found} for {expected} mL/min"
    );
}

/// Oil in a chamber, kg, by the rules of the physics written out again; for chambers
/// without a void.
fn oil_kg(specimen: &Specimen, side: Chamber, hose_m3: f64, now: &Instant) -> f64 {
    let (p_pa, wall_k, density, hose_pa) = match side {
        Chamber::Cap => (
            now.p_cap_pa,
            now.wall_cap_k,
            now.density_cap,
            specimen.cap.hose_pa,
        ),
        Chamber::Rod => (
            now.p_rod_pa,
            now.wall_rod_k,
            now.density_rod,
            specimen.rod.hose_pa,
        ),
    };
    let x = Length::new::<meter>(now.x_m);
    let warmed = 1.0 + 3.0 * STEEL_EXPANSION_PER_K * (wall_k - 313.15);
    let tube_m3 =
        specimen.cylinder.volume(side, x).value * warmed * (1.0 + p_pa / specimen.wall_pa);
    density * (tube_m3 + hose_m3 * (1.0 + p_pa / hose_pa))
}

/// A milligram is a thousandth of a millilitre; grams pass in these holds.
#[test]
fn oil_is_neither_made_nor_lost_while_the_rig_is_left_alone() {
    let mut unit = unit("proof-weeping-gland");
    unit.specimen.ills.piston = Leak::laminar(1.0, 100.0);
    let mut free = both_shut(0.3, [120.0, 60.0]);
    if let Handling::Press { circuit, .. } = &mut free {
        circuit.cap_hose = Volume::new::<milliliter>(40.0);
    }
    for (handling, cap_hose_m3, cap_is_shut) in [
        (cap_shut(0.2, 140.0), 0.0, true),
        (rod_shut(0.2, 140.0), 0.0, false),
        (free, 40e-6, true),
    ] {
        let (hands, _) = streamed(&unit, &[(3.0, handling)], 600.0);
        let first = hands.instant(18.0).expect("streamed");
        let mut passed_most_kg: f64 = 0.0;
        for at_s in (18..=600).step_by(6).map(f64::from) {
            let now = hands.instant(at_s).expect("streamed");
            let went = hands.passed(18.0, at_s);
            let kind = unit.specimen.cylinder.kind();
            let (cap_kg, rod_kg) = (went.out_of_cap(kind), went.out_of_rod(kind));
            if cap_is_shut {
                let of = |now| oil_kg(&unit.specimen, Chamber::Cap, cap_hose_m3, now);
                let error_kg = of(&now) + cap_kg - of(&first);
                assert!(
                    error_kg.abs() < 1e-6,
                    "{handling:?} at {at_s} s: {error_kg} kg"
                );
            }
            if now.p_rod_pa > 1e5 {
                let of = |now| oil_kg(&unit.specimen, Chamber::Rod, 0.0, now);
                let error_kg = of(&now) + rod_kg - of(&first);
                assert!(
                    error_kg.abs() < 1e-6,
                    "{handling:?} at {at_s} s: {error_kg} kg"
                );
            }
            passed_most_kg = passed_most_kg.max(cap_kg.abs()).max(rod_kg.abs());
        }
        assert!(passed_most_kg > 1e-3, "{handling:?}: {passed_most_kg} kg");
    }
}

/// Both sides of every border, digit for digit but for what the physics finds its pressure by
/// (a micropascal), and heat that is handed over within a microkelvin.
#[test]
fn nothing_jumps_where_a_handling_begins_or_ends() {
    let unit = unit("proof-seats-retracted");
    let strokes = Handling::Strokes {
        count: 1,
        low_pa: 10e5,
        x_m: 0.1,
    };
    let mut coming = VecDeque::from([
        (2.03, Handling::Vent),
        (12.5, strokes),
        (230.0, both_shut(0.2, [150.0, 20.0])),
        // Left alone for 287 s, then pressed again without a vent.
        (532.21, rod_shut(0.0, 140.0)),
        (610.0, Handling::Vent),
        // Breaks the vent off.
        (613.0, cap_shut(0.35, 90.0)),
        (690.0, Handling::Vent),
    ]);
    let mut world = World::new(&unit);
    let mut borders = Vec::new();
    let mut before: Option<Instant> = None;
    for tenth in 0..7100 {
        let now = world
            .at(0.1 * f64::from(tenth), &mut coming, &mut borders)
            .expect("integrates");
        // The heat of pumping 150 bar in 10 s is 0.04 K in a tenth at the steepest.
        if let Some(before) = before {
            let by_k = (now.oil_cap_k - before.oil_cap_k).abs();
            assert!(by_k < 0.06, "{} s: {by_k} K", now.time_s);
            assert!((now.wall_cap_k - before.wall_cap_k).abs() < 1e-3);
        }
        before = Some(now);
    }
    // Seven begin, and six end: one is broken off.
    assert_eq!(borders.len(), 2 * (7 + 6));
    for pair in borders.chunks_exact(2) {
        let [from, to] = [pair[0], pair[1]];
        assert_eq!(from.time_s, to.time_s);
        for (from, to, most) in [
            (from.p_cap_pa, to.p_cap_pa, 1e-3),
            (from.p_rod_pa, to.p_rod_pa, 1e-3),
            (from.x_m, to.x_m, 1e-12),
            (from.oil_cap_k, to.oil_cap_k, 1e-6),
            (from.oil_rod_k, to.oil_rod_k, 1e-6),
            (from.wall_cap_k, to.wall_cap_k, 1e-6),
            (from.density_cap, to.density_cap, 1e-6),
            (from.passed_kg.piston, to.passed_kg.piston, 1e-15),
            (from.surroundings_k, to.surroundings_k, 1e-12),
        ] {
            assert!(
                (from - to).abs() <= most,
                "{} s: {from} {to}",
                pair[0].time_s
            );
        }
    }
}

/// The wall's way of its temperature is that of the unit over the whole run, whatever is done.
#[test]
fn walls_follow_the_surroundings_over_the_whole_run() {
    let unit = unit("proof-sound");
    let done = [(5.0, cap_shut(0.2, 100.0)), (400.0, cap_shut(0.1, 150.0))];
    let (hands, _) = streamed(&unit, &done, 900.0);
    let heat = unit.specimen.heat;
    for at_s in [0.0, 100.0, 399.0, 410.0, 416.0, 900.0] {
        let now = hands.instant(at_s).expect("streamed");
        let expected = heat.wall_k + heat.wall_k_per_s * at_s;
        assert!((now.surroundings_k - expected).abs() < 1e-9, "{at_s} s");
        assert!((now.wall_cap_k - expected).abs() < 1e-9, "{at_s} s");
    }
    assert!(hands.instant(1000.0).is_none());
}

/// 0.6 mL/min besides a film of 0.01 at 96 bar.
#[test]
fn a_scored_tube_leaks_only_where_it_is_scored() {
    let unit = unit("proof-scored-mid-stroke");
    let film = 0.01 / 0.96;
    for (x_m, ml_min) in [(0.05, film), (0.2, film + 0.6), (0.35, film)] {
        let (hands, _) = streamed(&unit, &[(3.0, cap_shut(x_m, 100.0))], 60.0);
        by_its_law(&unit, &hands, [20.0, 50.0], ml_min);
        let worked = hands.passed(0.0, 17.0).piston;
        assert_eq!(worked, 0.0, "nothing leaks while it is worked");
    }
}

#[test]
fn a_piston_that_sits_on_the_cap_end_lets_nothing_by() {
    let unit = unit("proof-seats-retracted");
    let (hands, _) = streamed(&unit, &[(3.0, rod_shut(0.0, 100.0))], 60.0);
    let seated_kg = hands.passed(0.0, 60.0).piston;
    assert!(seated_kg.abs() < 1e-15, "{seated_kg}");
    let (hands, _) = streamed(&unit, &[(3.0, rod_shut(0.05, 100.0))], 60.0);
    by_its_law(&unit, &hands, [20.0, 50.0], 0.8);
}

/// Short holds one after the other: the factors of the unit, in their order.
#[test]
fn a_seal_that_seats_differently_does_so_with_each_press() {
    let unit = unit("proof-repeats-disagree");
    let Some(Trouble::Erratic { factors }) = unit.trouble.first() else {
        panic!("it is erratic");
    };
    let n = factors.len() + 1;
    let done: Vec<Timed> = (0..n)
        .map(|i| (3.0 + 40.0 * i as f64, cap_shut(0.2, 100.0)))
        .collect();
    let (hands, _) = streamed(&unit, &done, 3.0 + 40.0 * n as f64);
    for (press, factor) in factors.iter().cycle().take(n).enumerate() {
        let from_s = 18.0 + 40.0 * press as f64;
        by_its_law(&unit, &hands, [from_s, from_s + 10.0], 0.028 * factor);
    }
}

#[test]
fn the_gland_weeps_when_there_is_pressure_behind_it() {
    let unit = unit("proof-weeping-gland");
    let done = [(3.0, rod_shut(0.2, 100.0)), (60.0, cap_shut(0.2, 100.0))];
    let (hands, _) = streamed(&unit, &done, 120.0);
    let of = |from_s: f64, until_s: f64| {
        let density = hands.instant(from_s).expect("streamed").density_rod;
        hands.passed(from_s, until_s).gland / density / (until_s - from_s) / ML_MIN
    };
    assert!(
        (of(20.0, 50.0) / 0.15 - 1.0).abs() < 0.1,
        "{}",
        of(20.0, 50.0)
    );
    // What passes the piston runs off through the open port: next to no pressure.
    assert!(of(80.0, 115.0) < 1e-4, "{}", of(80.0, 115.0));
}

/// The open side's cup gets what passed the piston.
#[test]
fn what_passes_the_piston_comes_out_at_the_open_port() {
    let unit = unit("proof-scored-mid-stroke");
    let (hands, _) = streamed(&unit, &[(3.0, cap_shut(0.2, 100.0))], 320.0);
    let went = hands.passed(20.0, 320.0);
    // Oil that cools and shrinks in the open side takes some of it: 0.5 L by 1e-4 in five minutes.
    assert!((went.rod_valve / went.piston - 1.0).abs() < 0.1, "{went:?}");
}

fn let_off(unit: &RigUnit, x_m: f64) -> (f64, Hands) {
    let glass = Handling::LetOff {
        chamber: Chamber::Cap,
        part: 0.1,
    };
    let done = [(3.0, cap_shut(x_m, 158.0)), (60.0, glass)];
    let (hands, _) = streamed(unit, &done, 120.0);
    (hands.let_off_m3().expect("let off") * 1e6, hands)
}

/// 645 mL of oil with its air in a wall of 14 GPa, 142 bar less, a good 1.9 GPa all in all and a
/// little of it back as the oil warms: 4.5 to 6.5 mL; 200 mL of hose of 0.2 GPa give 14.2 mL by
/// itself and 1.6 by their oil (computed).
#[test]
fn oil_that_is_let_off_is_that_of_the_units_own_bore_and_hose() {
    let sound = unit("proof-sound");
    let (plain_ml, hands) = let_off(&sound, 0.2);
    assert!((4.5..6.5).contains(&plain_ml), "{plain_ml}");
    let at = |time_s: f64| hands.instant(time_s).expect("streamed");
    let (before, after) = (at(59.9), at(75.0));
    assert!((after.p_cap_pa / before.p_cap_pa - 0.1).abs() < 1e-3);
    // Shut again, it goes on as any side that is shut, and leaks by what is left.
    let later = at(118.0);
    assert!((later.p_cap_pa - after.p_cap_pa).abs() < 1e5, "{later:?}");
    let leaks = later.going_kg_per_s.piston / before.going_kg_per_s.piston;
    assert!((0.08..0.12).contains(&leaks), "{leaks}");
    assert!((later.x_m - before.x_m).abs() < 1e-9);
    let went = hands.passed(60.0, 75.0);
    assert_eq!(went.piston, 0.0, "nothing counts as leaked meanwhile");
    let mut hosed = sound.clone();
    hosed.specimen.cap.hose_m3 += 200e-6;
    let (hosed_ml, _) = let_off(&hosed, 0.2);
    // The same seed reads with the same error.
    assert!(
        (hosed_ml - plain_ml - 15.8).abs() < 0.5,
        "{hosed_ml} {plain_ml}"
    );
    // Nobody lets off what nobody shut off.
    let glass = Handling::LetOff {
        chamber: Chamber::Cap,
        part: 0.1,
    };
    let (hands, _) = streamed(&sound, &[(3.0, glass)], 30.0);
    assert_eq!(hands.let_off_m3(), None);
}

#[test]
fn full_strokes_reach_both_ends_in_what_is_streamed() {
    let unit = unit("proof-sound");
    let strokes = Handling::Strokes {
        count: 3,
        low_pa: 8e5,
        x_m: 0.12,
    };
    let until_s = 4.0 + strokes.takes_s() + 2.0;
    let (hands, codes) = streamed(&unit, &[(4.0, strokes)], until_s);
    let own = &unit.senses.loops[2];
    // 16 mA for 500 mm; the sensor's zero is good to half a millimetre and its span to 0.05 %.
    let code_by_mm = f64::from(own.code_at(20.0) - own.code_at(4.0)) / 500.0;
    let x_mm = |codes: &[i32; N_CHANNELS]| f64::from(codes[2] - own.code_at(4.0)) / code_by_mm;
    let n_at = |end_mm: f64| {
        let at_end: Vec<bool> = codes
            .iter()
            .map(|c| (x_mm(c) - end_mm).abs() < 2.0)
            .collect();
        at_end.windows(2).filter(|two| !two[0] && two[1]).count()
    };
    assert_eq!((n_at(400.0), n_at(0.0)), (3, 3));
    // Hands that let go of a rod at 11 mm/s stop within two tenths of a millimetre.
    let left_m = hands.instant(until_s - 1.0).expect("streamed").x_m;
    assert!((left_m - 0.12).abs() < 2e-4, "{left_m}");
}

/// One set of errors for the whole run: what a vented rig reads before and after a hold is the
/// same zero, within its noise (0.02 bar in a sample) and 0.005 bar for each kelvin.
#[test]
fn sensors_keep_their_errors_through_the_run() {
    let unit = unit("proof-sound");
    let done = [(30.0, cap_shut(0.2, 150.0)), (200.0, Handling::Vent)];
    let (_, codes) = streamed(&unit, &done, 300.0);
    let own = &unit.senses.loops[0];
    let bar_by_code = 400.0 / f64::from(own.code_at(20.0) - own.code_at(4.0));
    let zero_bar = |from_s: usize, until_s: usize| {
        let own_codes = codes[10 * from_s..10 * until_s].iter().map(|c| c[0]);
        let sum: f64 = own_codes
            .map(|code| f64::from(code - own.code_at(4.0)))
            .sum();
        bar_by_code * sum / (10 * (until_s - from_s)) as f64
    };
    let (before, after) = (zero_bar(0, 29), zero_bar(215, 299));
    assert!((before - after).abs() < 0.008, "{before} {after}");
    assert!(before.abs() > 0.012, "an error to be kept: {before}");
}

#[test]
fn truth_takes_an_instant_for_each_second_and_the_borders() {
    let unit = unit("proof-sound");
    let (hands, codes) = streamed(&unit, &[(3.0, cap_shut(0.2, 100.0))], 700.0);
    let n_seconds = codes.len() / 10;
    assert!(n_seconds >= 700);
    assert_eq!(hands.n_kept(), n_seconds + 4);
}

#[test]
#[should_panic(expected = "comes too late")]
fn what_was_streamed_cannot_be_changed() {
    let (hands, _) = streamed(&unit("proof-sound"), &[], 10.0);
    hands.act(9.5, Handling::Vent);
}

#[test]
fn names_are_plain_words_and_each_stands_for_one_unit() {
    let all = rig_units();
    assert_eq!(all.len(), 8);
    for unit in &all {
        let plain = |c: char| c.is_ascii_lowercase() || c == '-';
        assert!(unit.name.chars().all(plain), "{}", unit.name);
        assert!(unit.description.ends_with('.') && !unit.description.contains('\n'));
        let same = |other: &&RigUnit| other.name == unit.name || other.seed == unit.seed;
        assert_eq!(all.iter().filter(same).count(), 1, "{}", unit.name);
    }
    assert!(rig_unit("no-such-thing").is_none());
}
