//! A test that a person reads, word by word.

use super::*;
use crate::channel::CountsUp;
use crate::channel::EyeUnit;
use crate::channel::SensorPapers;
use crate::procedure::Hold;
use crate::procedure::HoldPlan;
use crate::procedure::Reach;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Time;
use crate::quantity::unit::millimeter;
use crate::quantity::unit::second;
use crate::recording::Ending;
use crate::recording::Entry;

fn instrument(
    role: Role,
    (name, si_per_unit): (&'static str, f64),
    high: f64,
    division: f64,
) -> EyeInstrument {
    EyeInstrument {
        role,
        unit: EyeUnit {
            name,
            si_per_unit,
            si_at_zero: 0.0,
        },
        range_si: (0.0, high * si_per_unit),
        division_si: division * si_per_unit,
        error_si: division * si_per_unit,
        class: None,
        counts_up: (role == Role::Position).then_some(CountsUp::RodIn),
        papers: SensorPapers::default(),
    }
}

fn instruments() -> Vec<EyeInstrument> {
    vec![
        instrument(Role::CapPressure, ("bar", 1e5), 250.0, 1.0),
        instrument(Role::Position, ("mm", 1e-3), 10.0, 0.01),
    ]
}

fn time(s: f64) -> Time {
    Time::new::<second>(s)
}

fn only_hold() -> Vec<Step> {
    let plan = HoldPlan::new(time(60.0), time(600.0)).expect("a plan");
    vec![Step::only_hold(plan)]
}

/// What was said and done so far.
#[derive(Default)]
struct Seen {
    rows: Vec<(f64, Vec<Option<f64>>)>,
    asked: Vec<Role>,
    warned: Vec<String>,
    entries: Vec<Entry>,
    phases: Vec<(String, f64)>,
    ending: Option<Ending>,
}

impl Seen {
    fn take(&mut self, effects: Vec<EyeEffect>) {
        for effect in effects {
            match effect {
                EyeEffect::Row(at_s, read) => self.rows.push((at_s, read)),
                EyeEffect::Ask(Question::Read { role, .. }) => self.asked.push(role),
                EyeEffect::Ask(_) => {}
                EyeEffect::Bench(Effect::Warn(text)) => self.warned.push(text),
                EyeEffect::Bench(Effect::Entry(entry)) => self.entries.push(entry),
                EyeEffect::Bench(Effect::PhaseBegins(name, at_s)) => {
                    self.phases.push((format!("+{name}"), at_s));
                }
                EyeEffect::Bench(Effect::PhaseEnds(name, at_s)) => {
                    self.phases.push((format!("-{name}"), at_s));
                }
                EyeEffect::Bench(Effect::Finish(ending)) => self.ending = Some(ending),
                EyeEffect::Bench(Effect::Ask(_) | Effect::Say(_)) => {}
            }
        }
    }

    fn kinds(&self, kind: EntryKind) -> Vec<&Entry> {
        self.entries.iter().filter(|e| e.kind == kind).collect()
    }
}

fn begun() -> (ByEye, Seen) {
    let mut eye = ByEye::new(only_hold(), instruments(), vec![Some(0.2)]);
    let mut seen = Seen::default();
    seen.take(eye.begin());
    (eye, seen)
}

/// Types a look: pressure 4 s, dial 8 s after `at_s`.
fn look(eye: &mut ByEye, seen: &mut Seen, at_s: f64, words: [&str; 2]) {
    seen.take(eye.at(at_s));
    seen.take(eye.typed(words[0], at_s + 4.0));
    seen.take(eye.typed(words[1], at_s + 8.0));
}

const AT_S: [f64; 7] = [60.0, 120.0, 180.0, 240.0, 360.0, 480.0, 660.0];

#[test]
fn a_hold_is_read_when_it_was_said_and_ends_when_its_readings_stand() {
    let (mut eye, mut seen) = begun();
    assert_eq!(eye.due_s(), Some(60.0));
    for (n, at_s) in AT_S.into_iter().enumerate() {
        let bar = format!("{},5", 160 - n);
        let mm = format!("{:.2}", 5.0 + 0.1 * n as f64);
        look(&mut eye, &mut seen, at_s, [&bar, &mm]);
    }
    assert_eq!(seen.ending, None);
    seen.take(eye.typed("", 670.0));
    assert_eq!(seen.ending, Some(Ending::Complete));
    assert_eq!(seen.rows.len(), 7);
    // In the middle between the question and the last word.
    let (at_s, read) = &seen.rows[1];
    assert!((at_s - 124.0).abs() < 1e-9);
    assert!((read[0].expect("read") - 159.5e5).abs() < 1e-6);
    // A dial that counts up while the rod goes in: from 200 mm out.
    assert!((read[1].expect("read") - 0.1999).abs() < 1e-9, "{read:?}");
    let looks = seen.kinds(EntryKind::Look);
    assert_eq!(
        (looks.len(), looks[1].text.as_str()),
        (7, "p_cap 159.5 bar; x 5.1 mm")
    );
    assert!((looks[1].at_s - 120.0).abs() < 1e-9);
    let names: Vec<&str> = seen.phases.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["+settle", "-settle", "+hold", "-hold"]);
    assert!((seen.phases[3].1 - 664.0).abs() < 1e-9);
}

#[test]
fn what_is_far_off_or_no_reading_is_asked_again() {
    let (mut eye, mut seen) = begun();
    look(&mut eye, &mut seen, 60.0, ["160", "5"]);
    seen.take(eye.at(120.0));
    for wrong in ["", "many", "300", "1.5,9", "46"] {
        seen.take(eye.typed(wrong, 122.0));
    }
    assert_eq!(seen.warned.len(), 5, "{:?}", seen.warned);
    assert!(
        seen.warned[4].contains("far from the last"),
        "{:?}",
        seen.warned
    );
    // Still the gauge that is asked for; what is right is typed once more.
    assert_eq!(seen.asked.last(), Some(&Role::CapPressure));
    seen.take(eye.typed("46", 126.0));
    assert_eq!(seen.asked.last(), Some(&Role::Position));
}

#[test]
fn a_reading_is_taken_back_until_the_next_one_is_in() {
    let (mut eye, mut seen) = begun();
    // Within a look.
    seen.take(eye.at(60.0));
    seen.take(eye.typed("165", 63.0));
    seen.take(eye.typed(WRONG, 64.0));
    assert_eq!(seen.asked.last(), Some(&Role::CapPressure));
    seen.take(eye.typed("160", 66.0));
    seen.take(eye.typed("5,00", 68.0));
    // After it, while nothing is asked: it is asked for again.
    seen.take(eye.typed("Wrong", 70.0));
    assert_eq!(seen.asked.last(), Some(&Role::Position));
    seen.take(eye.typed("5,20", 72.0));
    assert_eq!(seen.rows.len(), 0);
    // The next one is in: the row stands, with the time up to the last word.
    seen.take(eye.at(120.0));
    seen.take(eye.typed("159", 123.0));
    let (at_s, read) = &seen.rows[0];
    assert!((at_s - 66.0).abs() < 1e-9 && read[0] == Some(160e5));
    let taken: Vec<&str> = seen
        .kinds(EntryKind::TakenBack)
        .iter()
        .map(|e| e.text.as_str())
        .collect();
    assert_eq!(taken, ["p_cap 165 bar", "x 5 mm"]);
    seen.take(eye.typed(WRONG, 124.0));
    seen.take(eye.typed("158", 126.0));
    // That was the open look's own; of the one before nothing can be taken any more.
    seen.take(eye.typed("5,3", 128.0));
    assert_eq!(seen.rows.len(), 1);
    assert!((seen.rows[0].1[1].expect("read") - 0.2).abs() < 1e-9);
}

#[test]
fn a_look_that_is_missed_leaves_a_gap_and_the_next_one_comes() {
    let (mut eye, mut seen) = begun();
    look(&mut eye, &mut seen, 60.0, ["160", "5"]);
    // Nothing at the second look, half of the third.
    seen.take(eye.at(185.0));
    seen.take(eye.typed("158", 186.0));
    for (at_s, bar) in AT_S[3..].iter().zip(["157", "156", "155", "154"]) {
        look(&mut eye, &mut seen, *at_s, [bar, "5"]);
    }
    seen.take(eye.typed("", 670.0));
    let missed: Vec<&str> = seen
        .kinds(EntryKind::Missed)
        .iter()
        .map(|e| e.text.as_str())
        .collect();
    assert_eq!(missed, ["p_cap", "x", "x"]);
    assert_eq!(seen.rows.len(), 6);
    assert_eq!(seen.rows[1].1, [Some(158e5), None]);
    assert_eq!(seen.ending, Some(Ending::Complete));
}

#[test]
fn who_leaves_the_last_look_leaves_a_hold_without_its_end() {
    let (mut eye, mut seen) = begun();
    for at_s in &AT_S[..6] {
        look(&mut eye, &mut seen, *at_s, ["160", "5"]);
    }
    seen.take(eye.at(3600.0));
    assert_eq!(seen.ending, Some(Ending::Complete));
    assert_eq!(seen.rows.len(), 6);
    assert_eq!(seen.kinds(EntryKind::Missed).len(), 2);
}

#[test]
fn a_recording_that_is_stopped_keeps_what_was_read() {
    let (mut eye, mut seen) = begun();
    look(&mut eye, &mut seen, 60.0, ["160", "5"]);
    seen.take(eye.ends(Event::Stopped));
    assert_eq!(seen.rows.len(), 1);
    assert!(matches!(seen.ending, Some(Ending::Interrupted(_))));
    // Nothing follows.
    seen.take(eye.typed("159", 70.0));
    assert_eq!(seen.rows.len(), 1);
}

fn procedure() -> Vec<Step> {
    let step = |id: &str, act: Act| Step {
        id: id.into(),
        title: id.into(),
        tell: Vec::new(),
        source: "common practice".into(),
        act,
    };
    let reach = Reach {
        chamber: Chamber::Cap,
        pressure: GaugePressure::from_bar(160.0),
        other: None,
        at: Some(Length::new::<millimeter>(200.0)),
    };
    let hold = Act::Hold(Hold {
        reach: Some(reach),
        plan: HoldPlan::new(time(60.0), time(120.0)).expect("a plan"),
        steady: None,
    });
    let stroke = Length::new::<millimeter>(400.0);
    vec![
        step("zero", vented(20.0)),
        step("strokes", Act::Strokes { count: 3, stroke }),
        step("hold", hold),
        step("zero-after", vented(20.0)),
    ]
}

#[test]
fn a_procedure_goes_by_the_person_s_words_and_never_opens_what_stands() {
    let mut eye = ByEye::new(
        procedure(),
        instruments(),
        vec![None, None, Some(0.2), None],
    );
    let mut seen = Seen::default();
    seen.take(eye.begin());
    // Zero: read at the end of its time.
    seen.take(eye.typed("", 10.0));
    assert_eq!(eye.due_s(), Some(30.0));
    seen.take(eye.at(30.0));
    seen.take(eye.typed("0", 33.0));
    // Strokes: two are too few.
    seen.take(eye.typed("", 40.0));
    seen.take(eye.typed("2", 60.0));
    assert!(
        seen.warned
            .last()
            .is_some_and(|w| w.contains("3 are asked for"))
    );
    seen.take(eye.typed("3", 70.0));
    // The pressure is read, and asked for again while it is not there.
    seen.take(eye.typed("", 80.0));
    assert_eq!(eye.bench().stage(), Stage::Reaching);
    seen.take(eye.typed("120", 95.0));
    assert_eq!(eye.bench().stage(), Stage::Reaching);
    seen.take(eye.typed("159", 105.0));
    assert_eq!(eye.bench().stage(), Stage::Settling);
    let settles_s = eye.due_s().expect("a time");
    for (n, part) in [0.0, 30.0, 60.0, 90.0, 120.0].into_iter().enumerate() {
        let bar = format!("{}", 158 - n);
        look(&mut eye, &mut seen, settles_s + part, [&bar, "5"]);
    }
    seen.take(eye.typed("", settles_s + 130.0));
    // What stands is read before anything is opened.
    assert_eq!(eye.bench().stage(), Stage::Asking);
    seen.take(eye.typed("", settles_s + 150.0));
    assert_eq!(seen.asked.last(), Some(&Role::CapPressure));
    seen.take(eye.typed("154", settles_s + 155.0));
    assert!(
        seen.warned
            .last()
            .is_some_and(|w| w.contains("let it off first")),
        "{:?}",
        seen.warned
    );
    assert_eq!(eye.bench().stage(), Stage::Asking);
    seen.take(eye.typed("", settles_s + 170.0));
    seen.take(eye.typed("0", settles_s + 175.0));
    assert_eq!(eye.bench().stage(), Stage::Vented);
    seen.take(eye.at(settles_s + 196.0));
    seen.take(eye.typed("-0,5", settles_s + 199.0));
    assert_eq!(seen.ending, Some(Ending::Complete));
    let strokes = seen.kinds(EntryKind::Reading);
    assert_eq!((strokes.len(), strokes[0].text.as_str()), (1, "3"));
}

fn vented(s: f64) -> Act {
    Act::Vented {
        length: time(s),
        place_within: None,
    }
}
