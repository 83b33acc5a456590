//! `stillrod hold-length`: how long a hold must be, before anything is held; and the line that is
//! said at the start of one that is too short.

use super::conduct::NamedText;
use super::intended::intended;
use super::judgement::rule_of;
use crate::channel::Channel;
use crate::channel::Role;
use crate::foresight::FIRST_S;
use crate::foresight::Foreseen;
use crate::foresight::Intended;
use crate::foresight::LONGEST_S;
use crate::foresight::Mostly;
use crate::foresight::Needs;
use crate::foresight::Short;
use crate::foresight::foresee;
use crate::foresight::lengths_needed;
use crate::foresight::too_short;
use crate::procedure::Act;
use crate::procedure::Reach;
use crate::procedure::STEPS_TO_CROSS;
use crate::quantity::number;
use crate::quantity::unit::minute;
use crate::settings::Setup;
use crate::settings::Shop;
use crate::settings::Test;
use crate::settings::with_lines;
use crate::verdict::DecisionRule;
use crate::verdict::Limit;
use anyhow::bail;
use std::fmt::Write;

/// What is foreseen for one hold of a test.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldForeseen {
    /// Name of its step for people; empty for the only hold of a test.
    pub title: String,
    /// The hold.
    pub intended: Intended,
    /// What was assumed of it, as phrases.
    pub assumed: Vec<String>,
    /// What each limit needs.
    pub limits: Vec<Foreseen>,
}

/// Foresees the holds of a setup, or of the procedure that it names, for each limit they are held
/// against; without `[acceptance]` for each limit of the shop that fits.
///
/// # Errors
/// If settings cannot be used, or there is nothing to foresee.
pub fn hold_lengths(
    setup: &NamedText,
    shop: Option<&NamedText>,
) -> anyhow::Result<Vec<HoldForeseen>> {
    let shop = shop
        .map(|(file, text)| Shop::parse(file, text))
        .transpose()?;
    let test = Test::parse(&setup.0, &setup.1, shop.as_ref())?;
    let rule = rule_of(shop.as_ref());
    // Nobody named a limit: whatever the shop has may be meant.
    let names_none = holds(&test).iter().all(|(_, own, _)| own.limits.is_empty());
    let any = match names_none {
        true => with_fitting_limits(setup, shop.as_ref()),
        false => None,
    };
    let mut all = Vec::new();
    for (title, own, reach) in holds(any.as_ref().unwrap_or(&test)) {
        if own.limits.is_empty() {
            continue;
        }
        let Some((intended, assumed)) = intended(own, reach, None, rule) else {
            bail!(
                "a length is foreseen for a cylinder filled with oil; the setup describes something else"
            );
        };
        let mut limits = foresee(&intended);
        if any.is_some() {
            limits.retain(|f| !matches!(f.needs, Needs::Never(_)));
        }
        all.push(HoldForeseen {
            title,
            intended,
            assumed,
            limits,
        });
    }
    if all.is_empty() {
        bail!(
            "how long a hold must be hangs on its limits, and there is none: name them in [acceptance] of the setup, and \
             give --shop shop.toml"
        );
    }
    Ok(all)
}

/// The holds of a test: title, setup, what the step asks for. Repeats stand once.
fn holds(test: &Test) -> Vec<(String, &Setup, Option<&Reach>)> {
    let steps = test.steps.iter().filter(|planned| {
        let again = planned.repeat.as_ref().is_some_and(|r| r.number > 1);
        matches!(planned.step.act, Act::Hold(_)) && !again
    });
    steps
        .filter_map(|planned| {
            let title = planned.step.title.clone();
            Some((title, planned.own_setup()?, planned.step.reach()))
        })
        .collect()
}

/// The test with every limit of the shop that goes with it.
fn with_fitting_limits(setup: &NamedText, shop: Option<&Shop>) -> Option<Test> {
    let mut named: Vec<String> = Vec::new();
    let mut fits = None;
    for set in &shop?.limits {
        let more = [&named[..], &[format!("\"{}\"", set.id)]].concat();
        let lines = format!("[acceptance]\nlimits = [{}]", more.join(", "));
        if let Ok(found) = Test::parse(&setup.0, &with_lines(&setup.1, &lines), shop) {
            named = more;
            fits = Some(found);
        }
    }
    fits
}

/// What is foreseen, as text.
pub fn hold_lengths_text(all: &[HoldForeseen]) -> String {
    let mut out = String::from("Foreseen on paper; nothing was measured.\n");
    // Writing to a String cannot fail.
    for hold in all {
        if !hold.title.is_empty() {
            let _ = writeln!(out, "\n{}", hold.title);
        }
        for foreseen in &hold.limits {
            let _ = writeln!(out, "\n{}", foreseen.limit.figure.plain());
            for line in lines(hold, foreseen) {
                let _ = writeln!(out, "  {line}");
            }
        }
        if !hold.assumed.is_empty() {
            let _ = writeln!(
                out,
                "\nAssumed, because the setup does not say it: {}.",
                hold.assumed.join("; ")
            );
        }
    }
    out += "\nAt the first time a tight cylinder can pass if its oil is as warm as expected; after the second nine of ten do, whatever \
            heat is still moving in their oil, and most at twice the limit fail. Noise of sensors is taken from what is stated of \
            their zeros; a hold that is judged goes by what was measured.\n";
    out
}

fn lines(hold: &HoldForeseen, foreseen: &Foreseen) -> Vec<String> {
    let limit = &foreseen.limit.text;
    let settle_s = hold.intended.plan.settle().value;
    let settled = match settle_s > 0.0 {
        true => format!("settled for {} before", exactly(settle_s)),
        false => "without any settling before".into(),
    };
    let mut lines = vec![match &foreseen.needs {
        Needs::Never(why) => format!("No length is enough for {limit}: {why}."),
        Needs::TooLong => format!(
            "Hopeless as it stands: not even {} of counted hold, {settled}, are enough for {limit}.",
            time(LONGEST_S)
        ),
        needs => format!(
            "A tight cylinder passes {limit} after {} of counted hold, {settled}.",
            range(needs)
        ),
    }];
    if !matches!(foreseen.needs, Needs::Never(_)) {
        lines.extend(foreseen.mostly.map(|mostly| mostly_words(mostly, limit)));
    }
    if let Some(reason) = &foreseen.in_the_way {
        lines.push(format!(
            "After {} it would still say: {reason}.",
            time(LONGEST_S)
        ));
    }
    if matches!(foreseen.needs, Needs::From(..)) {
        let planned_s = hold.intended.plan.length().value;
        lines.push(planned(planned_s, &foreseen.needs));
    }
    if !foreseen.shorter.is_empty() {
        let changes = foreseen.shorter.iter();
        let changes = changes.map(|c| format!("{} → {}", c.what, range(&c.needs)));
        lines.push(format!(
            "Shorter: {}.",
            changes.collect::<Vec<_>>().join("; ")
        ));
    }
    lines
}

/// Whether the planned length is enough.
fn planned(planned_s: f64, needs: &Needs) -> String {
    let text = exactly(planned_s);
    let is_enough = |needed: Option<f64>| needed.is_some_and(|s| s <= planned_s);
    match (is_enough(needs.earliest_s()), is_enough(needs.likely_s())) {
        (_, true) => format!("The planned {text} are enough."),
        (true, false) => format!("The planned {text} may be enough, and may not."),
        _ => format!("Hopeless as planned: {text} are not enough."),
    }
}

fn mostly_words(mostly: Mostly, limit: &str) -> String {
    match mostly {
        Mostly::Source(source, part) => {
            let most = if part >= 0.5 {
                "Most"
            } else {
                "The largest part"
            };
            format!("{most} of the ± is {source} ({:.0} %).", 100.0 * part)
        }
        Mostly::Steps(role, step_si, one_s) => {
            format!(
                "{}: {STEPS_TO_CROSS} of them make a hold.",
                steps(role, step_si, one_s, limit)
            )
        }
    }
}

/// "position is read in steps of 0.49 mm, and one takes 18 min at 1.6 mm/h"
fn steps(role: Role, step_si: f64, one_s: f64, limit: &str) -> String {
    let (step, unit) = match role {
        Role::Position => (step_si * 1e3, "mm"),
        _ => (step_si * 1e-5, "bar"),
    };
    format!(
        "{} is read in steps of {} {unit}, and one takes {} at {limit}",
        role.plain(),
        number(step, 0.5 * step),
        about(one_s)
    )
}

/// "4 to 6 min"
fn range(needs: &Needs) -> String {
    match needs {
        Needs::Never(_) => "no length".into(),
        Needs::TooLong => format!("more than {}", time(LONGEST_S)),
        Needs::From(earliest, None) => {
            format!("{} to more than {}", time(*earliest), time(LONGEST_S))
        }
        Needs::From(earliest, Some(likely)) => {
            let (from, to) = (time(*earliest), time(*likely));
            match from == to {
                true if *likely <= FIRST_S => format!("{to} or less"),
                true => to,
                // The unit stands once where both have it.
                false => match (from.strip_suffix(" min"), to.ends_with(" min")) {
                    (Some(number), true) => format!("{number} to {to}"),
                    _ => format!("{from} to {to}"),
                },
            }
        }
    }
}

/// A time for people: seconds below a minute, whole minutes rounded up, hours from two on.
fn time(s: f64) -> String {
    // A rounding error is no minute more.
    let minutes = (s / 60.0 - 1e-6).ceil();
    if s < 59.5 {
        format!("{s:.0} s")
    } else if minutes < 120.0 {
        format!("{minutes:.0} min")
    } else {
        format!("{:.1} h", minutes / 60.0)
    }
}

/// A time that somebody wrote: seconds where it is no whole number of minutes.
fn exactly(s: f64) -> String {
    let minutes = s / 60.0;
    match (minutes - minutes.round()).abs() < 1e-6 || s > 600.0 {
        true => time(s),
        false => format!("{s:.0} s"),
    }
}

/// The same rounded to the nearest.
fn about(s: f64) -> String {
    time(if s < 59.5 {
        s
    } else {
        (s / 60.0).round() * 60.0
    })
}

/// A sentence for each hold of a test that is planned shorter than its limits need, said before it
/// starts. It warns and refuses nothing: the outcome would be undecided, and a hold can be stopped.
pub fn too_short_for(test: &Test, channels: &[&Channel], rule: DecisionRule) -> Vec<String> {
    let mut sentences = Vec::new();
    for (title, setup, reach) in holds(test) {
        let Some((intended, _)) = intended(setup, reach, Some(channels), rule) else {
            continue;
        };
        let planned = exactly(setup.plan.length().get::<minute>() * 60.0);
        let short = too_short(&intended);
        let words: Vec<String> = short.iter().map(needed_words).collect();
        if !words.is_empty() {
            let title = match title.is_empty() {
                true => String::new(),
                false => format!("{title}: "),
            };
            sentences.push(format!(
                "{title}a hold of {planned} will hardly decide {}",
                words.join("; ")
            ));
        }
    }
    sentences
}

/// For each hold of a test and each limit it is held against: how long a hold must be, and whether it
/// is planned so long. Of a cylinder filled with oil; nothing of anything else.
pub fn needs_told(test: &Test, rule: DecisionRule) -> Vec<String> {
    // Each takes a second or more, and they have nothing to do with each other.
    std::thread::scope(|scope| {
        let told = holds(test).into_iter().map(|(title, setup, reach)| {
            scope.spawn(move || needs_of_hold(&title, setup, reach, rule))
        });
        let told: Vec<_> = told.collect();
        let told = told.into_iter();
        told.flat_map(|hold| hold.join().unwrap_or_default())
            .collect()
    })
}

fn needs_of_hold(
    title: &str,
    setup: &Setup,
    reach: Option<&Reach>,
    rule: DecisionRule,
) -> Vec<String> {
    let Some((intended, _)) = intended(setup, reach, None, rule) else {
        return Vec::new();
    };
    let title = match title.is_empty() {
        true => String::new(),
        false => format!("{title}: "),
    };
    let planned_s = setup.plan.length().value;
    let told = |(limit, needs): (&Limit, Needs)| {
        let text = &limit.text;
        match &needs {
            Needs::Never(why) => format!("{title}no length is enough for {text}: {why}."),
            Needs::TooLong => format!(
                "{title}not even {} of counted hold are enough for {text}.",
                time(LONGEST_S)
            ),
            Needs::From(..) => format!(
                "{title}a tight cylinder passes {text} after {} of counted hold. {}",
                range(&needs),
                planned(planned_s, &needs)
            ),
        }
    };
    let all = setup.limits.iter().zip(lengths_needed(&intended));
    all.map(told).collect()
}

fn needed_words(short: &Short) -> String {
    let limit = &short.limit.text;
    let because = match short.mostly {
        Some(Mostly::Steps(role, step_si, one_s)) => {
            format!(": {}", steps(role, step_si, one_s, "that limit"))
        }
        Some(Mostly::Source(source, _)) => format!(": most in its way is {source}"),
        None => String::new(),
    };
    match &short.needs {
        Needs::Never(why) => format!("{limit}, whatever its length: {why}"),
        needs => format!("{limit} (plan {}){because}", range(needs)),
    }
}
