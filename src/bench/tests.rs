//! Tests of one hold, and of the steps of a procedure, event by event.

use super::*;
use crate::procedure::Asked;
use crate::procedure::Hold;
use crate::procedure::HoldPlan;
use crate::procedure::Reach;
use crate::procedure::Steady;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::PressureRate;
use crate::quantity::Time;
use crate::quantity::unit::meter;
use crate::quantity::unit::second;

fn seconds(s: f64) -> Time {
    Time::new::<second>(s)
}

fn plain() -> Bench {
    let plan = HoldPlan::new(seconds(60.0), seconds(300.0)).expect("a plan");
    Bench::new(vec![Step::only_hold(plan)])
}

fn at(time_s: f64) -> Event {
    Event::Recorded(Reading {
        time_s,
        ..Reading::default()
    })
}

fn finished(effects: &[Effect]) -> Option<Ending> {
    effects.iter().find_map(|e| match e {
        Effect::Finish(ending) => Some(ending.clone()),
        _ => None,
    })
}

#[test]
fn a_hold_that_was_reached_row_by_row_is_complete() {
    let mut bench = plain();
    let mut all = Vec::new();
    for tenth in 0..=3600 {
        all.extend(bench.take(at(f64::from(tenth) / 10.0)));
    }
    assert_eq!(
        all,
        [
            Effect::PhaseBegins(SETTLE.into(), 0.0),
            Effect::PhaseEnds(SETTLE.into(), 60.0),
            Effect::PhaseBegins(HOLD.into(), 60.0),
            Effect::PhaseEnds(HOLD.into(), 360.0),
            Effect::Finish(Ending::Complete),
        ]
    );
    assert_eq!(bench.take(Event::GaveUp), [], "over stays over");
}

#[test]
fn whatever_ends_a_test_early_interrupts_it() {
    for event in [
        Event::GaveUp,
        Event::OtherBoard,
        Event::Stopped,
        Event::BoardFault("supply low".into()),
        Event::DiskFailed("full".into()),
    ] {
        let mut bench = plain();
        let _ = bench.take(at(100.0));
        let ending = finished(&bench.take(event.clone())).expect("ends");
        assert!(matches!(ending, Ending::Interrupted(_)), "{event:?}");
        assert_eq!(finished(&bench.take(at(400.0))), None);
    }
}

#[test]
fn an_adapter_that_comes_back_does_not_end_the_test() {
    let mut bench = plain();
    let _ = bench.take(at(100.0));
    assert_eq!(finished(&bench.take(Event::Lost("pulled".into()))), None);
    assert_eq!(finished(&bench.take(Event::Back { away_s: 3.0 })), None);
    assert_eq!(finished(&bench.take(at(360.0))), Some(Ending::Complete));
}

// ---- a procedure ----

fn step(id: &str, act: Act) -> Step {
    Step {
        id: id.into(),
        title: id.into(),
        tell: vec!["Do it.".into()],
        source: "common practice".into(),
        act,
    }
}

fn reach() -> Reach {
    Reach {
        chamber: Chamber::Cap,
        pressure: GaugePressure::from_bar(160.0),
        other: None,
        at: Some(Length::new::<meter>(0.2)),
    }
}

/// Zero, strokes, a hold with a settle rule, a class, in this order.
fn proof() -> Bench {
    let hold = Hold {
        reach: Some(reach()),
        plan: HoldPlan::new(seconds(60.0), seconds(120.0)).expect("a plan"),
        steady: Some(Steady {
            bend_most: PressureRate::from_pa_per_s(0.5e5 / 60.0),
            window: seconds(20.0),
            at_most: seconds(600.0),
        }),
    };
    Bench::new(vec![
        step(
            "zero",
            Act::Vented {
                length: seconds(30.0),
                place_within: None,
            },
        ),
        step(
            "run-in",
            Act::Strokes {
                count: 2,
                stroke: Length::new::<meter>(0.4),
            },
        ),
        step("seal", Act::Hold(hold)),
        step("outside", Act::Reading(Asked::OutsideClass)),
    ])
}

/// Plays rows of ten each second up to a time, with a pressure in bar and a place in m.
fn play(
    bench: &mut Bench,
    from_s: f64,
    until_s: f64,
    readings: impl Fn(f64) -> (f64, f64),
) -> Vec<Effect> {
    let n = ((until_s - from_s) * 10.0).round() as u32;
    (1..=n)
        .flat_map(|i| {
            let time_s = from_s + f64::from(i) / 10.0;
            let (bar, x_m) = readings(time_s);
            bench.take(Event::Recorded(Reading {
                time_s,
                cap_pa: Some(bar * 1e5),
                rod_pa: Some(0.0),
                x_m: Some(x_m),
            }))
        })
        .collect()
}

fn asked(effects: &[Effect]) -> Vec<(&str, Answer)> {
    effects
        .iter()
        .filter_map(|e| match e {
            Effect::Ask(ask) => Some((ask.step.as_str(), ask.answer)),
            _ => None,
        })
        .collect()
}

fn phases(effects: &[Effect]) -> Vec<String> {
    effects
        .iter()
        .filter_map(|e| match e {
            Effect::PhaseBegins(name, at_s) => Some(format!("{name} from {at_s:.1}")),
            Effect::PhaseEnds(name, at_s) => Some(format!("{name} to {at_s:.1}")),
            _ => None,
        })
        .collect()
}

#[test]
fn a_procedure_goes_on_only_when_people_say_so_and_readings_agree() {
    let mut bench = proof();
    // Nothing begins before somebody says that it can.
    let begun = play(&mut bench, 0.0, 20.0, |_| (0.0, 0.1));
    assert_eq!(asked(&begun), [("zero", Answer::Done)]);
    assert!(phases(&begun).is_empty());
    assert_eq!(phases(&bench.take(Event::Done)), ["zero/vented from 20.0"]);
    assert!(bench.take(Event::Done).is_empty(), "said once");
    let zero = play(&mut bench, 20.0, 55.0, |_| (0.0, 0.1));
    assert_eq!(phases(&zero), ["zero/vented to 50.0"]);
    assert_eq!(asked(&zero), [("run-in", Answer::Done)]);

    // Two full strokes, however long they take.
    let _ = bench.take(Event::Done);
    let stroke = |t: f64| (5.0, 0.2 - 0.2 * (t * 0.3).cos());
    let run = play(&mut bench, 55.0, 120.0, stroke);
    assert_eq!(asked(&run), [("seal", Answer::Done)]);
    assert_eq!(phases(&run).len(), 1);

    // The pressure alone is not enough, nor is the place.
    let begun = bench.take(Event::Done);
    assert_eq!(asked(&begun), [("seal", Answer::Reach(reach()))]);
    assert!(phases(&play(&mut bench, 120.0, 130.0, |_| (160.0, 0.1))).is_empty());
    assert!(phases(&play(&mut bench, 130.0, 140.0, |_| (100.0, 0.2))).is_empty());
    // It settles for longer than the least while its rate changes, then counts.
    let falls = |t: f64| (164.0 - 8.0 * (1.0 - (-(t - 140.0) / 60.0_f64).exp()), 0.2);
    let held = play(&mut bench, 140.0, 600.0, falls);
    let found = phases(&held);
    assert_eq!(found[0], "seal/settle from 140.1");
    assert_eq!(found.len(), 4, "{found:?}");
    let settled_s: f64 = found[1]
        .trim_start_matches("seal/settle to ")
        .parse()
        .expect("a time");
    assert!((220.0..400.0).contains(&settled_s), "{settled_s}");
    assert_eq!(found[3], format!("seal/hold to {:.1}", settled_s + 120.0));
    assert_eq!(
        asked(&held),
        [("outside", Answer::Typed(Asked::OutsideClass))]
    );

    // What is not understood is asked again; nothing is lost.
    let again = bench.take(Event::Typed("wet".into()));
    assert_eq!(asked(&again).len(), 1);
    assert_eq!(finished(&again), None);
    let last = bench.take(Event::Typed(" 2 ".into()));
    assert_eq!(finished(&last), Some(Ending::Complete));
    assert!(last.contains(&Effect::Entry(Entry {
        at_s: 600.0,
        step: "outside".into(),
        kind: EntryKind::Reading,
        text: "2".into(),
    })));
}

fn sayings(effects: &[Effect]) -> Vec<&str> {
    let said = effects.iter().filter_map(|effect| match effect {
        Effect::Say(text) => Some(text.as_str()),
        _ => None,
    });
    said.collect()
}

/// Whoever brings a pressure up by a gauge of their own is told what the bench still misses.
#[test]
fn a_step_that_does_not_come_says_each_three_minutes_what_it_waits_for() {
    let mut bench = proof();
    let _ = play(&mut bench, 0.0, 20.0, |_| (0.0, 0.1));
    let _ = bench.take(Event::Done);
    let _ = play(&mut bench, 20.0, 55.0, |_| (0.0, 0.1));
    let _ = bench.take(Event::Done);
    // Half a stroke and no more.
    let run = play(&mut bench, 55.0, 240.0, |_| (5.0, 0.1));
    assert_eq!(
        sayings(&run),
        [
            "Still waiting: 0 of 2 full strokes so far; a full stroke goes from one stop to the other and back."
        ]
    );
    let _ = play(&mut bench, 240.0, 340.0, |t| {
        (5.0, 0.2 - 0.2 * (t * 0.3).cos())
    });
    let _ = bench.take(Event::Done);
    let low = play(&mut bench, 340.0, 521.0, |_| (98.0, 0.2));
    assert_eq!(
        sayings(&low),
        ["Still waiting: the cap end reads 98 bar, asked are 160 bar (152 to 176)."]
    );
    let off = play(&mut bench, 521.0, 701.0, |_| (160.0, 0.1));
    assert_eq!(
        sayings(&off),
        ["Still waiting: the rod stands at 100 mm and is asked to stand at 200 mm."]
    );
    let there = play(&mut bench, 701.0, 1100.0, |_| (160.0, 0.2));
    assert!(sayings(&there).is_empty(), "{:?}", sayings(&there));
}

/// What stands from the step before is no pressure that anybody has brought it to.
#[test]
fn a_pressure_from_before_is_let_off_first() {
    let hold = |id| {
        let plan = HoldPlan::new(seconds(10.0), seconds(20.0)).expect("a plan");
        let hold = Hold {
            reach: Some(reach()),
            plan,
            steady: None,
        };
        step(id, Act::Hold(hold))
    };
    let mut bench = Bench::new(vec![hold("one"), hold("two")]);
    let _ = play(&mut bench, 0.0, 1.0, |_| (0.0, 0.2));
    let _ = bench.take(Event::Done);
    let held = play(&mut bench, 1.0, 40.0, |_| (158.0, 0.2));
    assert_eq!(phases(&held).len(), 4);
    // Whoever says "done" while it stands is told so, and asked again.
    let told = bench.take(Event::Done);
    assert!(told.contains(&Effect::Warn(
        "the cap end still stands at 158 bar: let it off first".into()
    )));
    let Some(Effect::Ask(ask)) = told.last() else {
        panic!("asks again");
    };
    assert!(
        ask.tell[0].starts_with("FIRST let the pressure off at both ends"),
        "{:?}",
        ask.tell
    );
    assert_eq!(ask.answer, Answer::Done);
    assert!(phases(&play(&mut bench, 40.0, 60.0, |_| (158.0, 0.2))).is_empty());
    assert!(phases(&play(&mut bench, 60.0, 62.0, |_| (1.0, 0.2))).is_empty());
    let Some(Effect::Ask(ask)) = bench.take(Event::Done).pop() else {
        panic!("asks for a pressure");
    };
    assert_eq!(ask.answer, Answer::Reach(reach()));
    assert!(bench.take(Event::NotDone).is_empty());
    let held = play(&mut bench, 62.0, 100.0, |_| (158.0, 0.2));
    assert_eq!(phases(&held)[0], "two/settle from 62.1");
}

/// Oil that came out of an end whose pressure still stands came from somewhere else.
#[test]
fn oil_that_was_let_off_is_taken_once_its_pressure_is_off() {
    let plan = HoldPlan::new(seconds(10.0), seconds(20.0)).expect("a plan");
    let hold = Hold {
        reach: Some(reach()),
        plan,
        steady: None,
    };
    let glass = Asked::LetOff {
        chamber: Chamber::Cap,
        standard: crate::quantity::Volume::default(),
    };
    let steps = vec![
        step("one", Act::Hold(hold)),
        step("glass", Act::Reading(glass)),
    ];
    let mut bench = Bench::new(steps);
    let _ = play(&mut bench, 0.0, 1.0, |_| (0.0, 0.2));
    let _ = bench.take(Event::Done);
    let held = play(&mut bench, 1.0, 40.0, |_| (158.0, 0.2));
    assert_eq!(asked(&held).last(), Some(&("glass", Answer::Typed(glass))));
    let Some(Effect::Ask(ask)) = held.iter().rfind(|e| matches!(e, Effect::Ask(_))) else {
        panic!("asks for the glass");
    };
    assert!(
        ask.tell[1].starts_with("Oil under pressure goes through the skin")
            && ask.tell[2].starts_with("Let the pressure of the cap end off slowly into a glass"),
        "{:?}",
        ask.tell
    );
    let early = bench.take(Event::Typed("8,5 mL".into()));
    let Some(Effect::Warn(why)) = early.first() else {
        panic!("not taken");
    };
    assert!(
        why.starts_with("the cap end still stands at 158 bar"),
        "{why}"
    );
    assert_eq!(asked(&early).len(), 1);
    let _ = play(&mut bench, 40.0, 60.0, |_| (16.0, 0.2));
    let taken = bench.take(Event::Typed("8,5 mL".into()));
    assert_eq!(sayings(&taken), ["Understood: 8.5 mL, ± 0.0 mL."]);
    assert_eq!(finished(&taken), Some(Ending::Complete));
}

/// A gross leak is counted while its pressure lasts and ends at half of it: 160 bar that fall
/// with 40 s are at 85 % after 6.5 s and at half after 27.7 s (computed).
#[test]
fn a_gross_leak_is_counted_while_its_pressure_lasts() {
    let mut bench = proof();
    let _ = play(&mut bench, 0.0, 1.0, |_| (0.0, 0.1));
    let _ = bench.take(Event::Done);
    let _ = play(&mut bench, 1.0, 40.0, |_| (0.0, 0.1));
    let _ = bench.take(Event::Done);
    let _ = play(&mut bench, 40.0, 120.0, |t| {
        (5.0, 0.2 - 0.2 * (t * 0.3).cos())
    });
    let _ = bench.take(Event::Done);
    let gross = |t: f64| (160.0 * (-(t - 120.0) / 40.0).exp(), 0.2);
    let found = phases(&play(&mut bench, 120.0, 200.0, gross));
    assert_eq!(
        found,
        [
            "seal/settle from 120.1",
            "seal/settle to 126.6",
            "seal/hold from 126.6",
            "seal/hold to 147.8"
        ]
    );
}

/// What never settles is counted in the end: what it shows is for the evaluation to say.
#[test]
fn waiting_for_a_settled_pressure_has_an_end() {
    let mut bench = proof();
    let _ = play(&mut bench, 0.0, 1.0, |_| (0.0, 0.1));
    let _ = bench.take(Event::Done);
    let _ = play(&mut bench, 1.0, 40.0, |_| (0.0, 0.1));
    let _ = bench.take(Event::Done);
    let _ = play(&mut bench, 40.0, 120.0, |t| {
        (5.0, 0.2 - 0.2 * (t * 0.3).cos())
    });
    let _ = bench.take(Event::Done);
    let restless = |t: f64| (160.0 + 3.0 * (t * 0.05).sin(), 0.2);
    let found = phases(&play(&mut bench, 120.0, 900.0, restless));
    assert_eq!(found[1], "seal/settle to 720.1");
}

#[test]
fn a_procedure_that_is_stopped_ends_the_phase_it_was_in() {
    let mut bench = proof();
    let _ = play(&mut bench, 0.0, 1.0, |_| (0.0, 0.1));
    let _ = bench.take(Event::Done);
    let _ = play(&mut bench, 1.0, 10.0, |_| (0.0, 0.1));
    let ended = bench.take(Event::Stopped);
    assert_eq!(phases(&ended), ["zero/vented to 10.0"]);
    assert!(matches!(finished(&ended), Some(Ending::Interrupted(_))));
}

// ---- a hold that may end as decided ----

fn decided(at_s: f64) -> Event {
    Event::Decided {
        at_s,
        why: "within the limit".into(),
    }
}

#[test]
fn a_decided_hold_ends_at_its_look_and_says_why() {
    let plan = HoldPlan::new(seconds(60.0), seconds(300.0)).expect("a plan");
    let mut bench = Bench::new(vec![Step::only_hold(plan.ending_as_decided())]);
    let _ = bench.take(at(30.0));
    assert_eq!(bench.take(decided(30.0)), [], "it does not count yet");
    let _ = bench.take(at(179.9));
    assert_eq!(bench.take(decided(65.0)), [], "no hold is as short");
    assert_eq!(bench.take(decided(360.0)), [], "no longer than planned");
    assert_eq!(
        bench.take(decided(180.0)),
        [
            Effect::Entry(Entry {
                at_s: 180.0,
                step: String::new(),
                kind: EntryKind::Decided,
                text: "within the limit".into(),
            }),
            Effect::PhaseEnds(HOLD.into(), 180.0),
            Effect::Finish(Ending::Complete),
        ]
    );
    assert_eq!(bench.take(at(360.0)), [], "over stays over");
}

#[test]
fn a_hold_of_fixed_length_cannot_be_ended_as_decided() {
    let mut bench = plain();
    let _ = bench.take(at(200.0));
    assert_eq!(bench.take(decided(200.0)), []);
    assert_eq!(finished(&bench.take(at(360.0))), Some(Ending::Complete));
}
