//! Holds that end as soon as they are decided: on the rig with all steps, on the practice bench
//! from captured bytes, and judged again from their archive.
#![cfg(target_os = "linux")]

use std::path::Path;
use std::time::Duration;

use stillrod::archive;
use stillrod::daemon::conduct::Conducted;
use stillrod::daemon::conduct::Task;
use stillrod::daemon::conduct::conduct;
use stillrod::daemon::found::found;
use stillrod::daemon::hand::Hand;
use stillrod::daemon::judge::judge_file;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::rig_operator::RigOperator;
use stillrod::daemon::test_run::recording_from_capture;
use stillrod::link::Adapter;
use stillrod::procedure::HOLD;
use stillrod::recording::Ending;
use stillrod::recording::EntryKind;
use stillrod::recording::Heading;
use stillrod::recording::Recording;
use stillrod::register::PaperKind;
use stillrod::register::Register;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::bench_bytes;
use stillrod::rehearsal::rig::RigBoard;
use stillrod::rehearsal::rig::rig_unit;
use stillrod::rehearsal::scenario;
use stillrod::settings::Shop;
use stillrod::settings::Test;
use stillrod::settings::with_procedure;
use stillrod::verdict::Outcome;

const PLAN: &str = "\n[procedure]\nname = \"seal-along-the-stroke\"\n\n\
    [acceptance]\nlimits = [\"rebuilt-63-cap-loss\"]\n";

/// Lengths of the counted holds, s, and how many were said to end as decided.
fn holds(recording: &Recording) -> (Vec<f64>, usize) {
    let phases = recording.phases().iter();
    let of_holds = phases.filter(|phase| phase.name.ends_with(HOLD));
    let decided = recording.entries().iter();
    (
        of_holds.map(|p| p.until_s - p.from_s).collect(),
        decided.filter(|e| e.kind == EntryKind::Decided).count(),
    )
}

async fn proven(unit: &str, folder: &Path) -> Conducted {
    let unit = rig_unit(unit).expect("a unit of the rig");
    let text = format!("{}{PLAN}", unit.setup_toml_without_plan());
    let whole = with_procedure("setup.toml", &text, |_| Err("none".into())).expect("built in");
    let task = Task {
        setup: ("setup.toml".into(), whole),
        shop: Some(("shop.toml".into(), SHOP_TOML.into())),
        practice: "practice".into(),
        word: "early".into(),
        patience: Duration::from_secs(20),
        folder: folder.into(),
        quiet: true,
    };
    let (_, test) = task.settings().expect("settings");
    let (board, hands) = RigBoard::start(&unit, Pace::AsFastAsItCan).expect("a port");
    let hand = Hand::Rig(Box::new(RigOperator::new(hands, test)));
    conduct(&task, Adapter::new(board.port_path()), hand)
        .await
        .expect("conducted")
}

async fn ends_early_and_stays(unit: &str, expected: Outcome) {
    let folder = tempfile::tempdir().expect("a folder");
    let Conducted::Done {
        entered, archive, ..
    } = proven(unit, folder.path()).await
    else {
        panic!("refused");
    };
    let recording = archive::read(&archive).expect("an archive");
    let (lengths, n_decided) = holds(&recording);
    assert_eq!(*recording.ending(), Ending::Complete);
    assert_eq!(lengths.len(), 5);
    assert!(n_decided >= 1, "{lengths:?}");
    let n_short = lengths.iter().filter(|s| **s < 599.0).count();
    assert_eq!(n_short, n_decided, "{lengths:?}");
    let again = judge_file(&archive, None, None, None).expect("judged");
    println!("{}", again.text());
    assert_eq!(again.outcome(), expected, "{}", again.text());
    assert_eq!(entered.found.outcome(), expected);
    assert_eq!(entered.found.text(), again.text());
    // The register, and so the signature, says what the paper says.
    let register = Register::open(&folder.path().join("register.db"))
        .await
        .expect("a register");
    let entry = register
        .find_by_number(&entered.number)
        .await
        .expect("read");
    assert_eq!(entry.expect("entered").kind, PaperKind::Certificate);
    // Each hold that was ended says by which interval.
    let n_said = again.text().matches("ended as decided after").count();
    assert_eq!(n_said, n_decided, "{}", again.text());
}

#[tokio::test]
async fn a_sound_unit_passes_early_at_all_places_and_again_from_its_archive() {
    ends_early_and_stays("proof-sound", Outcome::Pass).await;
}

#[tokio::test]
async fn a_scored_tube_fails_early_where_it_is_scored() {
    ends_early_and_stays("proof-scored-mid-stroke", Outcome::Fail).await;
}

/// A scenario of the practice bench whose setup says that it ends as decided.
fn captured(name: &str, added: &str) -> Recording {
    let scenario = scenario(name).expect("a scenario");
    let shop = Shop::parse("shop", SHOP_TOML).expect("a shop file");
    let own = scenario.setup_toml();
    let text = own.replace("[hold]\n", &format!("[hold]\n{added}"));
    assert!(added.is_empty() || text != own);
    let test = Test::parse("setup", &text, Some(&shop)).expect("a setup");
    let heading = Heading {
        run_id: "early".into(),
        started_utc_ms: 0,
        time_zone: "UTC".into(),
        software: String::new(),
        source: String::new(),
        setup_toml: text,
        shop_toml: SHOP_TOML.into(),
        practice: "practice".into(),
    };
    let bytes = bench_bytes(&scenario).expect("physics that can be integrated");
    recording_from_capture(&bytes, heading, &test).expect("a recording")
}

#[test]
fn a_plain_hold_ends_at_the_same_look_each_time() {
    for (name, expected) in [
        ("tight-rebuild", Outcome::Pass),
        ("piston-seal-bypass", Outcome::Fail),
    ] {
        let first = captured(name, "until_decided = true\n");
        let (lengths, n_decided) = holds(&first);
        assert_eq!(n_decided, 1, "{name}: {lengths:?}");
        assert_eq!(first, captured(name, "until_decided = true\n"));
        let judgement = judged(&first, None).expect("settings");
        assert_eq!(judgement.verdict.outcome, expected, "{name}");
        let planned = judgement.setup.plan.length().value;
        assert!(lengths[0] < planned, "{name}: {lengths:?} of {planned}");
        // Without the word the same scenario is held to its end.
        let (fixed, none) = holds(&captured(name, ""));
        assert_eq!(none, 0);
        assert!((fixed[0] - planned).abs() < 1e-6, "{fixed:?}");
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("early.h5");
        archive::write(&first, &file).expect("written");
        let again = archive::read(&file).expect("read");
        assert_eq!(again.entries(), first.entries());
        let found = found(&again, None).expect("judged");
        assert_eq!(found.outcome(), expected, "{name}");
    }
}
