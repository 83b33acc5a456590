//! Which hold a pressure is let off from, and what is refused at its own line.

use super::HEAD;
use super::HOLD;
use super::test_of;
use crate::cylinder::Chamber;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::settings::SettingsError;
use crate::settings::Test;

const LET_OFF: &str = "[[step]]\nid = \"glass\"\ntitle = \"Oil let off\"\nsource = \"common practice\"\n\
    [step.reading]\nwhat = \"let_off\"\nuncertainty = \"0.5 mL\"\n";
const OUTSIDE: &str = "[[step]]\nid = \"outside\"\ntitle = \"Outside\"\nsource = \"common practice\"\n\
    [step.reading]\nwhat = \"outside_class\"\n";
const CONFIRM: &str = "[[step]]\nid = \"open\"\ntitle = \"Opened\"\nsource = \"common practice\"\n";

fn of(steps: &str) -> Result<Test, SettingsError> {
    test_of("double_acting", &format!("{HEAD}{steps}"))
}

/// The hold and the end that a test lets off.
fn let_off(test: &Test) -> (&str, Chamber) {
    let at = test.steps.iter().position(|s| s.step.id == "glass");
    let at = at.expect("a step");
    let Act::Reading(Asked::LetOff { chamber, standard }) = test.steps[at].step.act else {
        panic!("lets off");
    };
    assert!((standard.value - 0.5e-6).abs() < 1e-15);
    let held = test.let_off_from(at).expect("a hold");
    (held.step.id.as_str(), chamber)
}

#[test]
fn a_pressure_is_let_off_from_the_hold_before_it() {
    let test = of(&format!("{HOLD}{LET_OFF}")).expect("a test");
    assert_eq!(let_off(&test), ("seal", Chamber::Cap));
    assert_eq!(test.let_off_from(0), None, "a hold lets nothing off");
    // Somebody looked at the outside first, while it still stood.
    let test = of(&format!("{HOLD}{OUTSIDE}{LET_OFF}")).expect("a test");
    assert_eq!(let_off(&test), ("seal", Chamber::Cap));
    let from_rod = HOLD
        .replace("cap_port = \"blocked\"", "cap_port = \"open_to_vessel\"")
        .replace("rod_port = \"open_to_vessel\"", "rod_port = \"blocked\"");
    let test = of(&format!("{from_rod}{LET_OFF}")).expect("a test");
    assert_eq!(let_off(&test), ("seal", Chamber::Rod));
    // The last of those that ought to agree.
    let repeated = format!("{HOLD}repeats = 3\n{LET_OFF}");
    let test = of(&repeated).expect("a test");
    assert_eq!(let_off(&test), ("seal-3", Chamber::Cap));
}

#[track_caller]
fn refused(steps: &str, part: &str) {
    let error = of(steps).expect_err(part);
    assert!(error.message.contains(part), "{error}");
    let text = format!("{HEAD}{steps}");
    let lines: Vec<&str> = text.lines().collect();
    let place = lines.iter().rposition(|line| *line == "[step.reading]");
    // Told at the table of the reading.
    let own = place.expect("a reading") + 1;
    assert_eq!((error.file.as_str(), error.line), ("own.toml", own));
}

#[test]
fn what_could_not_be_reckoned_is_refused_at_its_own_line() {
    refused(&format!("{LET_OFF}{HOLD}"), "straight after a [step.hold]");
    refused(
        &format!("{HOLD}{CONFIRM}{LET_OFF}"),
        "straight after a [step.hold]",
    );
    // What was let off is gone.
    let again = LET_OFF.replace("glass", "again");
    refused(
        &format!("{HOLD}{LET_OFF}{again}"),
        "straight after a [step.hold]",
    );
    let free = HOLD
        .replace("rod = \"locked\"", "rod = \"pushed_in\"")
        .replace("figures = [\"cap_loss\"]\n", "");
    refused(&format!("{free}{LET_OFF}"), "a rod that stays where it is");
    let on_valve = HOLD.replace("cap_port = \"blocked\"", "cap_port = \"on_valve\"");
    refused(&format!("{on_valve}{LET_OFF}"), "blocked at its port");
    let bare = LET_OFF.replace("uncertainty = \"0.5 mL\"\n", "");
    refused(&format!("{HOLD}{bare}"), "needs `uncertainty`");
    refused(
        &format!("{HOLD}{LET_OFF}drop = \"0.05 mL\"\n"),
        "leave `drop` away",
    );
    let none = LET_OFF.replace("0.5 mL", "0 mL");
    refused(&format!("{HOLD}{none}"), "above zero");
}
