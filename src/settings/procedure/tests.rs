//! Procedures on a unit: what comes of a file, and what is refused at its own line.

use super::*;
use crate::account::FigureName;
use crate::circuit::Port;
use crate::circuit::RodHold;
use crate::procedure::Act;
use crate::procedure::Reach;
use crate::settings::Setup;
use crate::settings::Shop;

mod let_off;

const SHOP: &str = "[shop]\nname = \"Tarn Valley road depot\"\ntime_zone = \"UTC\"\nnumber_prefix = \"TV\"\n\
    [decision]\nrule = \"simple\"\n\
    [[limit]]\nid = \"loss\"\nfigure = \"cap_loss\"\nvalue = \"0.12 mL/min\"\nsource = \"depot\"\n\
    [[limit]]\nid = \"gain\"\nfigure = \"rod_gain\"\nvalue = \"0.12 mL/min\"\nsource = \"depot\"\n\
    [[limit]]\nid = \"loss-at-50\"\nfigure = \"cap_loss\"\nvalue = \"0.05 mL/min\"\nat_pressure = \"50 bar\"\nsource = \"depot\"\n";

/// A unit without plumbing: what a procedure brings.
fn setup(kind: &str, naming: &str) -> String {
    let rod_side = match kind {
        "double_acting" | "double_rod" => "rod_rating = \"160 bar\"\nrod_dead_volume = \"20 mL\"\n",
        _ => "",
    };
    let rod_sensor = match kind {
        "double_acting" | "double_rod" => {
            "[sensors.p_rod]\nchannel = 1\nzero_uncertainty = \"0.05 bar\"\nspan_uncertainty_percent = 0.1\n"
        }
        _ => "",
    };
    format!(
        "[procedure]\n{naming}\n\
         [unit]\ntag = \"TV-0312\"\n\
         [cylinder]\nkind = \"{kind}\"\nbore = \"63 mm\"\nrod = \"36 mm\"\nstroke = \"400 mm\"\nwall = \"5 mm\"\n\
         cap_dead_volume = \"20 mL\"\ncap_rating = \"160 bar\"\n{rod_side}\
         [oil]\nname = \"ISO VG 46\"\nviscosity_40c = \"46 mm²/s\"\nviscosity_100c = \"6.8 mm²/s\"\n\
         expansion = \"7.0e-4 1/K\"\nstiffness = \"1.6 GPa\"\n\
         [circuit]\nprobe = \"cap\"\n\
         [ratings]\ncap_plug = \"400 bar\"\nrod_plug = \"400 bar\"\n\
         [sensors.p_cap]\nchannel = 0\nzero_uncertainty = \"0.05 bar\"\nspan_uncertainty_percent = 0.1\n\
         {rod_sensor}[sensors.x]\nchannel = 2\nzero_uncertainty = \"0.5 mm\"\nspan_uncertainty_percent = 0.05\n\
         [acceptance]\nlimits = [\"loss\"]\n"
    )
}

fn shop() -> Shop {
    Shop::parse("shop.toml", SHOP).expect("a shop")
}

fn test_of(kind: &str, procedure: &str) -> Result<Test, crate::settings::SettingsError> {
    let text = setup(kind, "file = \"own.toml\"");
    let whole = with_procedure("setup.toml", &text, |_| Ok(procedure.into())).expect("a setup");
    Test::parse("setup.toml", &whole, Some(&shop()))
}

const HEAD: &str = "[procedure]\ntitle = \"t\"\nabout = \"a\"\nkinds = [\"double_acting\"]\n";
const HOLD: &str = "[[step]]\nid = \"seal\"\ntitle = \"Seal\"\ntell = [\"Lock the rod.\"]\nsource = \"common practice\"\n\
    [step.hold]\ncap_port = \"blocked\"\nrod_port = \"open_to_vessel\"\nrod = \"locked\"\npressure = \"1 x rated\"\n\
    at = \"50 %\"\nsettle = \"60 s\"\nlength = \"5 min\"\nfigures = [\"cap_loss\"]\n";

fn reach(test: &Test, id: &str) -> Reach {
    let step = test.steps.iter().find(|s| s.step.id == id).expect(id);
    *step.step.reach().expect("a pressure")
}

#[test]
fn every_built_in_procedure_fits_each_kind_it_says_it_is_for() {
    let mut n_tests = 0;
    for built_in in built_ins() {
        let mut n_kinds = 0;
        for kind in [
            "double_acting",
            "double_rod",
            "single_acting",
            "plunger",
            "telescopic_stage",
        ] {
            let text = setup(kind, &format!("name = \"{}\"", built_in.name));
            let whole =
                with_procedure("setup.toml", &text, |_| Err("no file".into())).expect("built in");
            let is_named = built_in.text.contains(&format!("\"{kind}\""));
            match Test::parse("setup.toml", &whole, Some(&shop())) {
                Ok(test) => {
                    assert!(is_named, "{} took a {kind}", built_in.name);
                    assert_eq!(test.hazards(), Vec::<String>::new(), "{}", built_in.name);
                    assert!(test.steps.iter().all(|s| !s.step.source.is_empty()));
                    n_kinds += 1;
                }
                Err(error) => assert!(!is_named, "{} and {kind}: {error}", built_in.name),
            }
        }
        assert!(n_kinds > 0, "{}", built_in.name);
        n_tests += n_kinds;
    }
    assert!(n_tests >= 20, "{n_tests}");
}

/// 160 bar rated: one and a half times are 240 bar; half of 400 mm are 200 mm (computed).
#[test]
fn pressures_are_multiples_of_the_rating_and_places_parts_of_the_stroke() {
    let text = setup("double_acting", "name = \"rebuild-proof-double-acting\"");
    let whole = with_procedure("setup.toml", &text, |_| Err("no file".into())).expect("built in");
    let test = Test::parse("setup.toml", &whole, Some(&shop())).expect("a test");
    let mid = reach(&test, "seal-mid-2");
    assert!((mid.pressure.bar() - 160.0).abs() < 1e-9);
    assert!((mid.at.expect("a place").value - 0.2).abs() < 1e-12);
    assert!((reach(&test, "proof-rod").pressure.bar() - 240.0).abs() < 1e-9);
    assert_eq!(
        reach(&test, "proof-rod").chamber,
        crate::cylinder::Chamber::Rod
    );
    assert!((reach(&test, "low-cap").pressure.bar() - 5.0).abs() < 1e-9);
    // Three repeats of one hold, each with a name of its own.
    let repeats = test
        .steps
        .iter()
        .filter(|s| s.repeat.as_ref().is_some_and(|r| r.of == "seal-mid"));
    assert_eq!(repeats.count(), 3);
    // A proof may go above what the cylinder alone is rated for, and no further.
    let proof = test
        .steps
        .iter()
        .find(|s| s.step.id == "proof-cap")
        .expect("a step");
    let most = proof
        .ratings
        .expect("its own")
        .cap
        .expect("rated")
        .pressure
        .bar();
    assert!((240.0..=265.0).contains(&most), "{most}");
}

#[test]
fn small_bores_have_a_low_pressure_of_their_own() {
    let text = setup("double_acting", "name = \"rebuild-proof-double-acting\"");
    let small = text
        .replace("63 mm", "32 mm")
        .replace("36 mm", "18 mm")
        .replace("5 mm\"\ncap_dead", "4 mm\"\ncap_dead");
    let whole = with_procedure("setup.toml", &small, |_| Err("no file".into())).expect("built in");
    let test = Test::parse("setup.toml", &whole, Some(&shop())).expect("a test");
    assert!((reach(&test, "low-cap").pressure.bar() - 10.0).abs() < 1e-9);
}

/// What the step says of plumbing and the setup of the unit become one setup that could have
/// been written by hand.
#[test]
fn a_hold_has_a_setup_that_stands_alone() {
    let test = test_of("double_acting", &format!("{HEAD}{HOLD}")).expect("a test");
    let (text, setup) = test.steps[0].setup.as_ref().expect("a setup");
    let again = Setup::parse("again.toml", text, Some(&shop())).expect("stands alone");
    assert_eq!(&again, setup);
    assert_eq!(setup.subject.circuit.cap_port, Port::Blocked);
    assert_eq!(setup.subject.circuit.rod, RodHold::Locked);
    assert_eq!(setup.unit.tag, "TV-0312");
    // Limits of its figure.
    let limits: Vec<(&str, FigureName)> = setup
        .limits
        .iter()
        .map(|l| (l.id.as_str(), l.figure))
        .collect();
    assert_eq!(limits, [("loss", FigureName::CapLoss)]);
    let Act::Hold(hold) = &test.steps[0].step.act else {
        panic!("a hold");
    };
    assert_eq!(hold.plan, setup.plan);
}

#[test]
fn a_procedure_travels_behind_the_setup_that_names_it() {
    let text = setup("double_acting", "file = \"own.toml\"");
    let procedure = format!("{HEAD}{HOLD}");
    let whole = with_procedure("setup.toml", &text, |name| {
        assert_eq!(name, "own.toml");
        Ok(procedure.clone())
    })
    .expect("a setup");
    assert!(whole.starts_with(&text) && whole.ends_with(&procedure));
    // It needs no file any more, and stays as it is.
    let again = with_procedure("setup.toml", &whole, |_| Err("gone".into())).expect("whole");
    assert_eq!(again, whole);
    // A setup without a procedure stays as it is.
    let plain = text.replace("[procedure]\nfile = \"own.toml\"\n", "");
    assert_eq!(
        with_procedure("s", &plain, |_| Err("none".into())).expect("plain"),
        plain
    );
    let error =
        with_procedure("setup.toml", &text, |_| Err("no such file".into())).expect_err("gone");
    assert_eq!(error.line, 1);
    assert!(
        error
            .message
            .contains("`own.toml` cannot be read: no such file"),
        "{error}"
    );
    let error = with_procedure("s", &setup("plunger", "name = \"nonsense\""), |_| {
        Err("".into())
    });
    assert!(
        error
            .expect_err("unknown")
            .message
            .contains("rebuild-proof-ram")
    );
}

#[track_caller]
fn refused(change: (&str, &str), line: usize, part: &str) {
    let procedure = format!("{HEAD}{HOLD}");
    assert!(procedure.contains(change.0), "{}", change.0);
    let error =
        test_of("double_acting", &procedure.replacen(change.0, change.1, 1)).expect_err(part);
    assert!(error.message.contains(part), "{error}");
    assert_eq!(
        (error.file.as_str(), error.line),
        ("own.toml", line),
        "{error}"
    );
}

#[test]
fn what_is_wrong_is_said_at_its_own_line() {
    refused(("\"seal\"", "\"Seal 1\""), 6, "lower-case letters");
    refused(
        ("source = \"common practice\"", "source = \" \""),
        9,
        "needs a source",
    );
    refused(("1 x rated", "rated times two"), 14, "1.5 x rated");
    refused(("1 x rated", "160"), 14, "unit");
    refused(("1 x rated", "1.6,0 bar"), 14, "decimal sign");
    refused(("50 %", "450 mm"), 15, "outside the stroke");
    refused(("50 %", "half"), 15, "part of the stroke");
    refused(("\"cap_loss\"", "\"loss\""), 18, "is no figure");
    refused(
        ("rod = \"locked\"", "rod = \"free\""),
        10,
        "step `seal` with setup.toml",
    );
    refused(("length = \"5 min\"", "length = \"5 s\""), 10, "10 s");
    refused(
        ("kinds = [\"double_acting\"]", "kinds = [\"plunger\"]"),
        4,
        "not for this kind",
    );
    refused(
        (
            "[step.hold]",
            "[step.vented]\nlength = \"30 s\"\n[step.hold]",
        ),
        5,
        "more than one table",
    );
    refused(("figures", "repeats = 1\nfigures"), 18, "2 to 20");
    refused(("tell = ", "telling = "), 8, "telling");
}

#[test]
fn a_pressure_above_a_plugs_rating_is_refused_before_the_start() {
    let strong = format!("{HEAD}{}", HOLD.replace("1 x rated", "450 bar"));
    let text = setup("double_acting", "file = \"own.toml\"");
    let text = text.replace("cap_rating = \"160 bar\"", "cap_rating = \"500 bar\"");
    let whole = with_procedure("setup.toml", &text, |_| Ok(strong.clone())).expect("a setup");
    let test = Test::parse("setup.toml", &whole, Some(&shop())).expect("a test");
    let reasons = test.hazards();
    assert_eq!(reasons.len(), 1, "{reasons:?}");
    let said = "Seal: asks for 450 bar at the cap end, whose plug is rated for 400 bar";
    assert!(reasons[0].starts_with(said), "{reasons:?}");
}

#[test]
fn a_rating_that_a_step_goes_by_has_to_be_there() {
    let text =
        setup("double_acting", "file = \"own.toml\"").replace("cap_rating = \"160 bar\"\n", "");
    let whole =
        with_procedure("setup.toml", &text, |_| Ok(format!("{HEAD}{HOLD}"))).expect("a setup");
    let error = Test::parse("setup.toml", &whole, Some(&shop())).expect_err("no rating");
    assert!(error.message.contains("write `cap_rating`"), "{error}");
}

/// A limit that is named must be one that a step is held against, by its figure and its pressure:
/// what nobody judges would look kept.
#[test]
fn a_limit_that_no_step_is_held_against_is_refused() {
    let of = |limits: &str, procedure: &str| {
        let text = setup("double_acting", "file = \"own.toml\"");
        let text = text.replace("limits = [\"loss\"]", &format!("limits = [{limits}]"));
        let whole = with_procedure("setup.toml", &text, |_| Ok(procedure.into())).expect("a setup");
        Test::parse("setup.toml", &whole, Some(&shop()))
    };
    let at_160 = format!("{HEAD}{HOLD}");
    let at_50 = at_160.replace("1 x rated", "50 bar");
    assert!(of("\"loss\"", &at_160).is_ok());
    for (limits, which) in [
        ("\"loss\", \"gain\"", "gain"),
        ("\"loss-at-50\"", "loss-at-50"),
    ] {
        let error = of(limits, &at_160).expect_err(which);
        assert!(
            error.message.contains(&format!("limit `{which}` is named")),
            "{error}"
        );
        assert_eq!(error.file, "setup.toml");
        assert!(error.line > 20, "{error}");
    }
    let both = of("\"loss\", \"loss-at-50\"", &at_50).expect("both are for it");
    assert_eq!(both.first_setup().limits.len(), 2);
    assert!(
        of("\"nonsense\"", &at_160)
            .expect_err("unknown")
            .message
            .contains("no limit `nonsense`")
    );
}

/// 63/36 mm: pressure on the cap side of a rod that is free drives the rod side, shut in, to 1.485
/// times as much (areas of ISO 3320 sizes, computed); a charge and a proof have ratings too.
#[test]
fn what_a_step_could_do_to_the_other_end_is_refused_before_the_start() {
    let of = |change: &[(&str, &str)]| {
        let mut procedure = format!("{HEAD}{HOLD}");
        for (from, to) in change {
            assert!(procedure.contains(from), "{from}");
            procedure = procedure.replace(from, to);
        }
        test_of("double_acting", &procedure)
            .expect("a test")
            .hazards()
            .join("\n")
    };
    assert_eq!(of(&[]), "");
    // The rod side, shut in, of a rod that is free.
    let shut = (
        "rod_port = \"open_to_vessel\"\nrod = \"locked\"",
        "rod_port = \"blocked\"\nrod = \"pushed_in\"",
    );
    let said = of(&[shut]);
    assert!(
        said.contains("could raise the rod end to 238 bar") && said.contains("144 bar"),
        "{said}"
    );
    // More than the cylinder bears, in a hold, is a typing mistake.
    let said = of(&[("1 x rated", "1600 bar")]);
    assert!(
        said.contains("asks for 1600 bar") && said.contains("rated for 160 bar"),
        "{said}"
    );
    let said = of(&[("1 x rated", "1.5 x rated")]);
    assert!(said.contains("asks for 240 bar"), "{said}");
    // A charge of the other end.
    let charge = (
        "pressure = \"1 x rated\"",
        "pressure = \"1 x rated\"\nother_pressure = \"900 bar\"",
    );
    let said = of(&[charge]);
    assert!(said.contains("asks for 900 bar at the rod end"), "{said}");
}

#[test]
fn a_step_that_could_never_end_is_refused() {
    let of = |without: &str| {
        let text = setup("double_acting", "file = \"own.toml\"");
        let begin = text.find(without).expect("a sensor");
        let end = begin + 1 + text[begin + 1..].find("\n[").expect("a table after it") + 1;
        let text = format!("{}{}", &text[..begin], &text[end..]);
        let holds = format!("{HEAD}{HOLD}");
        let whole = with_procedure("setup.toml", &text, |_| Ok(holds.clone())).expect("a setup");
        Test::parse("setup.toml", &whole, Some(&shop()))
            .expect_err("no sensor")
            .message
    };
    assert!(of("[sensors.x]").contains("`sensors.x`"));
    assert!(of("[sensors.p_cap]").contains("`sensors.p_cap`"));
    refused(
        (
            "settle = \"60 s\"",
            "settle = \"60 s\"\nsteady = { within = \"-1 bar/min\", window = \"30 s\", at_most = \"5 min\" }",
        ),
        10,
        "`steady` needs",
    );
    refused(
        (
            "settle = \"60 s\"",
            "settle = \"60 s\"\nsteady = { within = \"1 bar/min\", window = \"30 s\", at_most = \"50 s\" }",
        ),
        10,
        "`steady` needs",
    );
}

#[test]
fn readings_are_held_against_flows_only_and_have_sizes() {
    let reading = |table: &str| {
        let step = format!(
            "{HEAD}{HOLD}[[step]]\nid = \"cup\"\ntitle = \"Cup\"\nsource = \"common practice\"\n[step.reading]\n{table}\n"
        );
        test_of("double_acting", &step)
    };
    assert!(
        reading("what = \"collected\"\nuncertainty = \"0.1 mL\"\nfigure = \"cap_loss\"").is_ok()
    );
    for (table, part) in [
        (
            "what = \"collected\"\nuncertainty = \"0.1 mL\"\nfigure = \"drift\"",
            "only against a flow",
        ),
        (
            "what = \"outside_class\"\nfigure = \"cap_loss\"",
            "only what was collected",
        ),
        (
            "what = \"drops\"\ndrop = \"0 mL\"\nuncertainty = \"0.01 mL\"",
            "above zero",
        ),
        (
            "what = \"collected\"\nuncertainty = \"-1 mL\"",
            "above zero",
        ),
        ("what = \"collected\"", "needs `uncertainty`"),
    ] {
        let error = reading(table).expect_err(part);
        assert!(error.message.contains(part), "{error}");
    }
    // A file of one's own does not take the name of one that is built in.
    let text = setup("double_acting", "file = \"quick-leak-down\"");
    let error = with_procedure("setup.toml", &text, |_| Ok(String::new())).expect_err("a name");
    assert!(error.message.contains("built in"), "{error}");
}
