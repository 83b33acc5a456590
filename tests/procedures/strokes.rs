//! What strokes and a squeezed rod end tell of the units of the rig, against what is true of
//! them, and against the limits of the depot.
//!
//! True values are those of friction and areas, by hand: the rod gives way at its greatest
//! friction less what pulls it out, and goes on at the friction of its speed.

use super::Played;
use super::played;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::account::Travel;
use stillrod::channel::Role;
use stillrod::daemon::proof::Proof;
use stillrod::daemon::proof::Shown;
use stillrod::daemon::proof::SqueezedEnd;
use stillrod::daemon::proof::Stroked;
use stillrod::daemon::proof::proved;
use stillrod::recording::Codes;
use stillrod::recording::Gap;
use stillrod::recording::GapCause;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::rig::rig_unit;
use stillrod::settings::Shop;
use stillrod::settings::Test;
use stillrod::settings::with_procedure;
use stillrod::verdict::Outcome;

const CAP_M2: f64 = 3117.245e-6;
const ROD_M2: f64 = 2099.369e-6;
/// What pulls the rod of the rig out all the time, N.
const PULL_N: f64 = 150.0;
/// Speeds of the rig's operator, out and in, m/s.
const SPEEDS: [f64; 2] = [0.012, 0.011];

fn stroked(proof: &Proof) -> &Stroked {
    let mut parts = proof.parts.iter();
    parts
        .find_map(|part| match &part.shown {
            Shown::Strokes(stroked) => Some(stroked.as_ref()),
            _ => None,
        })
        .expect("strokes")
}

fn squeezed(proof: &Proof) -> &SqueezedEnd {
    let mut parts = proof.parts.iter();
    parts
        .find_map(|part| match &part.shown {
            Shown::Squeezed(end) => Some(end.as_ref()),
            _ => None,
        })
        .expect("a squeeze")
}

fn figure(stroked: &Stroked, name: FigureName, travel: Option<Travel>) -> &Figure {
    let mut all = stroked.summary.figures.iter();
    let found = all.find(|f| f.figure.name == name && f.travel == travel);
    &found
        .unwrap_or_else(|| panic!("{name:?}: {:?}", stroked.summary.unstated))
        .figure
}

/// Seals that stick at `static_n` and slide at `coulomb_n` plus 20 kN·s/m, and what is true of
/// their strokes.
fn truths(static_n: f64, coulomb_n: f64) -> Vec<(FigureName, Option<Travel>, f64)> {
    let [out, back] = SPEEDS.map(|speed| coulomb_n + 2e4 * speed);
    vec![
        (
            FigureName::Breakaway,
            Some(Travel::Out),
            (static_n - PULL_N) / CAP_M2,
        ),
        (
            FigureName::Breakaway,
            Some(Travel::In),
            (static_n + PULL_N) / ROD_M2,
        ),
        (
            FigureName::RunningPressure,
            Some(Travel::Out),
            (out - PULL_N) / CAP_M2,
        ),
        (
            FigureName::RunningPressure,
            Some(Travel::In),
            (back + PULL_N) / ROD_M2,
        ),
        (FigureName::Friction, None, 0.5 * (out + back)),
        (FigureName::StrokeLength, None, 0.0),
    ]
}

/// How often the truth lies in the interval of 95 %, over seeds of a unit; says what lay outside.
fn covered(unit: &str, truths: &[(FigureName, Option<Travel>, f64)], air: f64) -> (u32, u32) {
    let (mut inside, mut all) = (0, 0);
    for seed in 1..=15 {
        let played = played(unit, Some(seed));
        let found = stroked(&played.proof);
        for (name, travel, right) in truths {
            let figure = figure(found, *name, *travel);
            let is_in = (figure.lower_si..=figure.upper_si).contains(right);
            inside += u32::from(is_in);
            all += 1;
            if !is_in {
                println!(
                    "{unit} {seed}: {name:?} {travel:?} {right} not in {:?}",
                    figure.measured
                );
            }
        }
        // What is not known of oil and air is the same in every seed: no chance.
        let share = squeezed(&played.proof).air.as_ref().expect("stated");
        assert!(
            (share.lower_si..=share.upper_si).contains(&air),
            "{unit} {seed}: {air} not in {share:?}"
        );
        for travel in Travel::BOTH {
            let slip = figure(found, FigureName::StickSlip, Some(travel));
            assert!(slip.upper_si < 0.02, "{unit} {seed}: {slip:?}");
        }
    }
    println!("{unit}: {inside} of {all}");
    (inside, all)
}

/// Coverage of 95 % within what chance leaves of 90: at least 83 of 90 (binomial, 0.5 % below).
#[test]
fn intervals_of_a_sound_cylinder_hold_what_is_true() {
    let (inside, all) = covered("proof-sound", &truths(520.0, 400.0), 0.006);
    assert!(100 * inside >= 90 * all, "{inside} of {all}");
}

#[test]
fn intervals_of_stiff_seals_hold_what_is_true() {
    let (inside, all) = covered("proof-stiff-seals", &truths(3200.0, 2500.0), 0.006);
    assert!(100 * inside >= 90 * all, "{inside} of {all}");
}

fn failing(played: &Played) -> Vec<(&str, FigureName)> {
    let steps = played.proof.test.steps.iter().zip(&played.proof.parts);
    let mut all = Vec::new();
    for (planned, part) in steps {
        let judged = match &part.shown {
            Shown::Strokes(stroked) => &stroked.judged,
            Shown::Squeezed(end) => &end.judged,
            Shown::Held(held) => &held.judgement.verdict.judged,
            _ => continue,
        };
        let not_passed = judged.iter().filter(|j| j.outcome != Outcome::Pass);
        all.extend(not_passed.map(|j| (planned.step.id.as_str(), j.limit.figure)));
    }
    all
}

#[test]
fn the_fault_of_each_unit_is_told_and_no_other() {
    for (unit, fault) in [
        ("proof-grabs", ("run-in", FigureName::StickSlip)),
        ("proof-stiff-seals", ("run-in", FigureName::Breakaway)),
        ("proof-air-in-rod-end", ("squeeze", FigureName::FreeAir)),
    ] {
        for seed in [None, Some(3), Some(4)] {
            let played = played(unit, seed);
            assert_eq!(
                played.proof.outcome,
                Outcome::Fail,
                "{unit} {:?}",
                played.proof.reasons
            );
            assert_eq!(failing(&played), [fault], "{unit} {seed:?}");
        }
    }
}

/// 1.7 kN stick and 0.5 kN slide: the rod stands and jumps, which is worth more than half of its
/// mean speed. Of twelve intervals of 95 % two or fewer miss (binomial, 2 % that more do).
#[test]
fn a_rod_that_grabs_jerks_and_gives_way_where_it_should() {
    let (mut inside, mut all) = (0, 0);
    for seed in 1..=6 {
        let played = played("proof-grabs", Some(seed));
        let found = stroked(&played.proof);
        for travel in Travel::BOTH {
            let slip = figure(found, FigureName::StickSlip, Some(travel));
            assert!(slip.lower_si > 0.5, "{travel:?} {slip:?}");
        }
        for (name, travel, right) in &truths(1700.0, 500.0)[..2] {
            let figure = figure(found, *name, *travel);
            inside += u32::from((figure.lower_si..=figure.upper_si).contains(right));
            all += 1;
        }
    }
    println!("proof-grabs, breakaway: {inside} of {all}");
    assert!(inside + 2 >= all, "{inside} of {all}");
}

#[test]
fn five_parts_of_air_in_a_hundred_are_found() {
    for seed in [1, 2, 3, 4, 5] {
        let played = played("proof-air-in-rod-end", Some(seed));
        let share = squeezed(&played.proof).air.as_ref().expect("stated");
        assert!(
            (share.lower_si..=share.upper_si).contains(&0.05),
            "{seed}: {share:?}"
        );
    }
}

// ---- what is broken never passes ----

fn changed(recording: &Recording, change: impl Fn(&mut Parts)) -> Proof {
    let mut parts = Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().to_vec(),
        tracks: recording.tracks().to_vec(),
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: recording.entries().to_vec(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    };
    change(&mut parts);
    proved(&Recording::new(parts).unwrap(), None).unwrap()
}

/// Changes the codes of one channel while the rod moves.
fn coded(parts: &mut Parts, role: Role, change: impl Fn(usize, i32) -> i32) {
    let windows: Vec<(f64, f64)> = ["run-in/strokes", "squeeze/squeeze"]
        .iter()
        .map(|name| {
            parts
                .phases
                .iter()
                .find(|p| p.name == *name)
                .expect("moved")
        })
        .map(|phase| (phase.from_s, phase.until_s))
        .collect();
    let times = parts.time_s.clone();
    let track = parts.tracks.iter_mut().find(|t| t.channel.role == role);
    let Codes::Raw(codes) = &mut track.expect("recorded").codes else {
        panic!("raw codes of a board");
    };
    for (index, (code, time_s)) in codes.iter_mut().zip(times).enumerate() {
        if windows
            .iter()
            .any(|(from, until)| (*from..=*until).contains(&time_s))
        {
            *code = change(index, *code);
        }
    }
}

#[track_caller]
fn not_valid(proof: &Proof, what: &str, names: &[FigureName]) {
    let judged = stroked(proof).judged.iter().chain(&squeezed(proof).judged);
    let judged: Vec<_> = judged.collect();
    assert_eq!(judged.len(), 3, "{what}");
    for name in names {
        let own = judged
            .iter()
            .find(|j| j.limit.figure == *name)
            .expect("judged");
        assert_eq!(own.outcome, Outcome::NotValid, "{what}: {own:?}");
    }
    assert_ne!(proof.outcome, Outcome::Pass, "{what}");
}

#[test]
fn a_broken_channel_never_passes_the_strokes() {
    use FigureName::{Breakaway, FreeAir, StickSlip};
    let played = played("proof-sound", None);
    let of = |change: &dyn Fn(&mut Parts)| changed(&played.recording, change);
    let broken = of(&|parts| coded(parts, Role::RodPressure, |_, _| 0));
    not_valid(&broken, "a broken wire", &[Breakaway, FreeAir]);
    let loose = of(&|parts| {
        coded(
            parts,
            Role::CapPressure,
            |i, code| if i % 40 == 0 { 0 } else { code },
        )
    });
    not_valid(&loose, "a loose contact", &[Breakaway]);
    let stuck = of(&|parts| coded(parts, Role::RodPressure, |_, _| 45_000));
    not_valid(
        &stuck,
        "a reading that stands",
        &[Breakaway, StickSlip, FreeAir],
    );
    let gone = of(&|parts| parts.tracks.retain(|t| t.channel.role != Role::RodPressure));
    not_valid(&gone, "no such channel", &[Breakaway]);
    let swapped = of(&|parts| {
        let place = |role| parts.tracks.iter().position(|t| t.channel.role == role);
        let (cap, rod) = (
            place(Role::CapPressure).unwrap(),
            place(Role::RodPressure).unwrap(),
        );
        let codes = parts.tracks[cap].codes.clone();
        parts.tracks[cap].codes = std::mem::replace(&mut parts.tracks[rod].codes, codes);
    });
    let judged = &stroked(&swapped).judged;
    assert!(
        judged
            .iter()
            .all(|j| j.limit.figure != Breakaway || j.outcome == Outcome::NotValid)
    );
    let strokes = played.recording.phase("run-in/strokes").unwrap().clone();
    let holed = of(&|parts| {
        parts.gaps.push(Gap {
            from_s: strokes.from_s + 100.0,
            until_s: strokes.from_s + 110.0,
            cause: GapCause::Unplugged,
        });
    });
    let judged = &stroked(&holed).judged;
    assert!(
        judged.iter().all(|j| j.outcome == Outcome::NotValid),
        "{judged:?}"
    );
}

/// A zero that is off, or moved between the looks, voids the strokes as it voids holds.
#[test]
fn a_zero_that_moved_voids_the_strokes_too() {
    let played = played("proof-sound", None);
    let proof = changed(&played.recording, |parts| {
        let times = parts.time_s.clone();
        let track = parts
            .tracks
            .iter_mut()
            .find(|t| t.channel.role == Role::CapPressure);
        let track = track.expect("recorded");
        let per_code = track.channel.calibration.si_per_code;
        let Codes::Raw(codes) = &mut track.codes else {
            panic!("raw codes of a board");
        };
        for (code, time_s) in codes.iter_mut().zip(times) {
            *code += (8e5 * time_s / 3600.0 / per_code).round() as i32;
        }
    });
    for judged in stroked(&proof)
        .judged
        .iter()
        .chain(&squeezed(&proof).judged)
    {
        assert_eq!(judged.outcome, Outcome::NotValid, "{judged:?}");
        assert!(
            judged.reason.contains("its zero is off"),
            "{}",
            judged.reason
        );
    }
}

/// The record names what scripts ask for.
#[test]
fn the_record_has_the_figures_and_each_way() {
    let played = played("proof-stiff-seals", None);
    let steps = played.record["steps"].as_array().expect("steps");
    let run_in = steps.iter().find(|s| s["id"] == "run-in").expect("strokes");
    let told = &run_in["shown"]["told"];
    let figures = told["figures"].as_array().expect("figures");
    let named = |name: &str| figures.iter().filter(|f| f["name"] == name).count();
    assert_eq!(
        ["breakaway", "running_pressure", "stick_slip"].map(named),
        [2; 3]
    );
    assert_eq!(["friction", "stroke_length"].map(named), [1; 2]);
    assert_eq!(told["ways"].as_array().map(Vec::len), Some(6));
    assert_eq!(told["limits"][0]["outcome"], "fail");
    assert_eq!(run_in["outcome"], "fail");
    let squeeze = steps
        .iter()
        .find(|s| s["id"] == "squeeze")
        .expect("a squeeze");
    assert_eq!(squeeze["shown"]["air"]["figure"]["name"], "free_air");
    assert!(played.archive.exists() && played.folder.path().exists());
}

// ---- what nothing is held against is refused ----

/// What is said of a setup of the rig with a plan behind it.
fn refused(plan: &str, own: &str) -> String {
    let unit = rig_unit("proof-sound").expect("a unit");
    let text = format!("{}{plan}", unit.setup_toml_without_plan());
    let whole = with_procedure("setup.toml", &text, |_| Ok(own.to_owned())).expect("a text");
    let shop = Shop::parse("shop.toml", SHOP_TOML).expect("a shop");
    let error = Test::parse("setup.toml", &whole, Some(&shop)).expect_err("refused");
    error.to_string()
}

#[test]
fn a_limit_of_strokes_that_no_strokes_are_held_against_is_refused() {
    let acceptance = "[acceptance]\nlimits = [\"rebuilt-63-breakaway\"]\n";
    let hold = "cap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"locked\"\n\
                [hold]\nsettle = \"10 s\"\nlength = \"60 s\"\n";
    let said = refused(&format!("{hold}{acceptance}"), "");
    assert!(
        said.contains("which strokes show and no hold does"),
        "{said}"
    );
    let quick = format!("[procedure]\nname = \"quick-leak-down\"\n{acceptance}");
    let said = refused(&quick, "");
    assert!(said.contains("no step of procedure"), "{said}");
    let own = |table: &str| {
        let head = "[procedure]\ntitle = \"t\"\nabout = \"a\"\nkinds = [\"double_acting\"]\n";
        format!("{head}[[step]]\nid = \"s\"\ntitle = \"s\"\nsource = \"common practice\"\n{table}")
    };
    let named = "[procedure]\nfile = \"own.toml\"\n";
    for (table, part) in [
        (
            "[step.strokes]\ncount = 3\nfigures = [\"cap_loss\"]\n",
            "nothing that strokes can show",
        ),
        (
            "[step.strokes]\ncount = 3\nfigures = [\"free_air\"]\n",
            "nothing that strokes can show",
        ),
        (
            "[step.squeeze]\npressure = \"40 bar\"\nfigures = [\"friction\"]\n",
            "nothing that a squeeze can show",
        ),
        (
            "[step.squeeze]\npressure = \"5 bar\"\n",
            "10 bar to 100 bar",
        ),
        (
            "[step.hold]\ncap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"locked\"\npressure = \"1 x rated\"\n\
             settle = \"1 min\"\nlength = \"2 min\"\nfigures = [\"breakaway\"]\n",
            "shown by strokes, and by no hold",
        ),
    ] {
        let said = refused(named, &own(table));
        assert!(said.contains(part), "{part}: {said}");
    }
}
