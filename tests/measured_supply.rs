//! Ratiometric pressure sensors on a board that measures their supply, from samples to outcome.
//!
//! The practice bench's own rows, as a board would send them whose two pressure sensors send a
//! part of a supply, 0.5 to 4.5 V of 5 V, and which reads that supply on a fifth channel; 16 bits
//! over 6 V, and 0.2 mV of noise on the supply. Sizes of sag: own choice, a contactor that pulls on
//! a weak supply.

use firmware_protocol::Channel;
use firmware_protocol::ChannelKind;
use firmware_protocol::ChannelTable;
use firmware_protocol::Hello;
use firmware_protocol::Label;
use firmware_protocol::RangeUnit;
use stillrod::account::Figure;
use stillrod::account::FigureName;
use stillrod::archive;
use stillrod::channel::Role;
use stillrod::daemon::judge::judge_hold;
use stillrod::daemon::judgement::Judgement;
use stillrod::daemon::judgement::judged;
use stillrod::daemon::test_run::TestRun;
use stillrod::health::Weight;
use stillrod::link::LinkEvent;
use stillrod::link::replay;
use stillrod::recording::Codes;
use stillrod::recording::Heading;
use stillrod::recording::Parts;
use stillrod::recording::Recording;
use stillrod::recording::Row;
use stillrod::recording::read_journal;
use stillrod::rehearsal::SHOP_FILE_NAME;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::Scenario;
use stillrod::rehearsal::bench_bytes;
use stillrod::rehearsal::scenario;
use stillrod::settings::Setup;
use stillrod::settings::Shop;
use stillrod::settings::Test;
use stillrod::verdict::Outcome;

const HIGHEST_CODE: i32 = 65_535;
const HIGHEST_V: f64 = 6.0;
const SUPPLY_NOISE_V: f64 = 0.2e-3;

/// Whether the setup says that the pressure sensors are read against the supply.
#[derive(Clone, Copy, PartialEq)]
enum Taken {
    AsFiveVolts,
    Measured,
}

/// The setup of a scenario with ratiometric pressure sensors of these ranges in bar.
fn setup_toml(scenario: &Scenario, ranges_bar: [f64; 2], taken: Taken) -> String {
    let mut text = scenario.setup_toml();
    for (index, (word, bar)) in ["p_cap", "p_rod"].into_iter().zip(ranges_bar).enumerate() {
        let plain = format!("[sensors.{word}]\nchannel = {index}\n");
        assert!(text.contains(&plain), "{text}");
        let mut keys = format!("signal = \"0.5-4.5 V\"\nrange = [\"0 bar\", \"{bar} bar\"]\n");
        if taken == Taken::Measured {
            keys += "supply = \"measured\"\n";
        }
        text = text.replace(&plain, &format!("{plain}{keys}"));
    }
    text + "\n[sensors.v_supply]\nchannel = 4\nserial = \"V-01\"\nzero_uncertainty = \"0.2 mV\"\n\
            span_uncertainty_percent = 0.005\n"
}

fn in_volts(label: &str, kind: ChannelKind) -> Channel {
    Channel {
        label: Label::new(label).expect("a label"),
        kind,
        unit: RangeUnit::Volt,
        resolution_bits: 16,
        code_low: 0,
        code_high: HIGHEST_CODE,
        value_low: 0.0,
        value_high: HIGHEST_V as f32,
        good_lowest: 0,
        good_highest: HIGHEST_CODE,
    }
}

fn code(volts: f64) -> i32 {
    (volts / HIGHEST_V * f64::from(HIGHEST_CODE)).round() as i32
}

/// The practice bench with its pressure sensors on a supply.
struct Rig {
    known: Vec<Channel>,
    hello: Hello,
}

impl Rig {
    fn new(hello: &Hello) -> Self {
        let known = hello.channels.as_slice().to_vec();
        let mut channels = known.clone();
        channels[0] = in_volts("P cap", ChannelKind::Pressure);
        channels[1] = in_volts("P rod", ChannelKind::Pressure);
        channels.push(in_volts("supply", ChannelKind::Other));
        let channels = ChannelTable::new(&channels).expect("five channels");
        Self {
            known,
            hello: Hello { channels, ..*hello },
        }
    }

    fn ranges_bar(&self) -> [f64; 2] {
        [0, 1].map(|index| f64::from(self.known[index].value_high) / 1e5)
    }

    /// A row of the practice board as this one sends it.
    fn row(&self, row: &Row, supply_v: f64) -> Row {
        let mut codes = row.codes.clone();
        for (index, own) in self.known.iter().enumerate().take(2) {
            let of_range =
                f64::from(codes[index] - own.code_low) / f64::from(own.code_high - own.code_low);
            codes[index] = code(supply_v * (0.1 + 0.8 * of_range));
        }
        codes.push(code(
            supply_v + SUPPLY_NOISE_V * noise(row.time_s * supply_v),
        ));
        Row {
            time_s: row.time_s,
            codes,
        }
    }
}

/// Noise of one standard deviation that a number decides, another one for each: a sum of twelve
/// even ones less six (splitmix64).
fn noise(seed: f64) -> f64 {
    let even = |i: u64| {
        let mut z = (seed.to_bits() ^ i).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    };
    (1..=12).map(even).sum::<f64>() - 6.0
}

/// What is recorded of a scenario while the supply takes its course over the part of the hold that
/// is over, below 0 while it settles.
fn recorded(scenario: &Scenario, taken: Taken, supply_v: impl Fn(f64) -> f64) -> Recording {
    let bytes = bench_bytes(scenario).expect("physics that can be integrated");
    let mut events = replay(&bytes);
    let hello = events.find_map(|event| match event {
        LinkEvent::Hello(hello) => Some(hello),
        _ => None,
    });
    let rig = Rig::new(&hello.expect("a board"));
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).expect("a shop file");
    let setup_toml = setup_toml(scenario, rig.ranges_bar(), taken);
    let test = Test::parse("setup.toml", &setup_toml, Some(&shop)).expect("a setup file");
    let heading = Heading {
        run_id: format!("{}-1", scenario.name),
        started_utc_ms: 1_767_225_600_000,
        time_zone: "UTC".into(),
        software: env!("CARGO_PKG_VERSION").into(),
        source: String::new(),
        setup_toml,
        shop_toml: SHOP_TOML.into(),
        practice: "practice bench: not a measurement of a real cylinder".into(),
    };
    let (mut run, mut journal) = TestRun::begin(heading, &test, &rig.hello).expect("it fits");
    while let Some(event) = events.next() {
        let event = match event {
            LinkEvent::Samples(rows) => {
                let of_hold = |t: f64| (t - scenario.settle_s) / scenario.hold_s;
                let rows = rows.iter().map(|r| rig.row(r, supply_v(of_hold(r.time_s))));
                LinkEvent::Samples(rows.collect())
            }
            other => other,
        };
        let step = run.take(event, events.loss()).expect("rows in order");
        journal.extend(step.blocks);
        if step.is_over {
            break;
        }
    }
    let (parts, _) = read_journal(&journal).expect("our own journal");
    Recording::new(parts).expect("rows in order")
}

fn steady(_: f64) -> f64 {
    5.0
}

/// 2 % less for a fifth of the hold, in its middle.
fn sag(part: f64) -> f64 {
    if (0.4..0.6).contains(&part) { 4.9 } else { 5.0 }
}

/// 2 % less at the end, little by little.
fn slope(part: f64) -> f64 {
    5.0 - 0.1 * part.clamp(0.0, 1.0)
}

fn voids(judgement: &Judgement) -> Vec<&str> {
    let voids = judgement.flags.iter().filter(|f| f.weight == Weight::Voids);
    voids.map(|flag| flag.evidence.as_str()).collect()
}

fn figure(judgement: &Judgement) -> &Figure {
    let evaluation = judgement.evaluation.as_ref().expect("a hold");
    evaluation.figure(FigureName::CapLoss).expect("a figure")
}

/// Value and expanded uncertainty (k = 2) of the cap loss, mL/min.
fn cap_loss(judgement: &Judgement) -> (f64, f64) {
    let measured = figure(judgement).measured.as_ref().expect("stated");
    (measured.value_si * 60e6, 2.0 * measured.standard_si * 60e6)
}

fn said(judgement: &Judgement, part: &str) -> bool {
    judgement.flags.iter().any(|f| f.evidence.contains(part))
}

#[test]
fn a_sag_of_two_percent_moves_no_figure_where_the_supply_is_measured() {
    for name in ["tight-rebuild", "piston-seal-bypass"] {
        let scenario = scenario(name).expect("in the catalogue");
        let play = |taken, course: fn(f64) -> f64| {
            judged(&recorded(&scenario, taken, course), None).expect("settings that can be used")
        };
        let sound = play(Taken::Measured, steady);
        let (value, expanded) = cap_loss(&sound);
        println!(
            "{name}: {value:.4} ± {expanded:.4} mL/min, {:?}",
            sound.verdict.outcome
        );
        assert_eq!(voids(&sound), [""; 0]);
        assert!(!said(&sound, "supply"), "{:?}", sound.flags);
        for (what, course) in [("sag", sag as fn(f64) -> f64), ("slope", slope)] {
            let found = play(Taken::Measured, course);
            let (moved, own) = (cap_loss(&found).0 - value, cap_loss(&found).1);
            println!("  {what}, measured: moved by {moved:+.1e}, ± {own:.4} mL/min");
            assert_eq!(voids(&found), [""; 0]);
            assert!(
                moved.abs() < 0.1 * expanded,
                "{what}: {moved} of {expanded}"
            );
            assert_eq!(found.verdict.outcome, sound.verdict.outcome);
            assert!(said(
                &found,
                "by 2.0 % of 5 V: cap-end pressure and rod-end pressure"
            ));

            let blind = play(Taken::AsFiveVolts, course);
            println!(
                "  {what}, taken for 5 V: {:?}, {:?}",
                blind.verdict.outcome,
                voids(&blind)
            );
            let of_blind = blind.evaluation.as_ref().ok().and_then(|evaluation| {
                let figure = evaluation.figure(FigureName::CapLoss)?;
                Some(figure.measured.as_ref()?.value_si * 60e6 - value)
            });
            println!("    moved by {of_blind:?} mL/min");
            match what {
                "sag" => assert_eq!(blind.verdict.outcome, Outcome::NotValid),
                // Nothing sees a slow course; it moves a tight unit by more than its ±.
                _ if name == "tight-rebuild" => {
                    assert!(of_blind.is_some_and(|by| by.abs() > expanded));
                }
                _ => assert!(of_blind.is_some_and(|by| by.abs() > 100.0 * moved.abs())),
            }
            assert!(said(&blind, "no reading was taken against it"));
        }
    }
}

#[test]
fn what_is_read_back_is_the_same_bit_by_bit() {
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let recording = recorded(&scenario, Taken::Measured, sag);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.h5");
    archive::write(&recording, &path).expect("written");
    let read = archive::read(&path).expect("whole");
    assert_eq!(read, recording);
    let bits = |recording: &Recording, role| -> Vec<u64> {
        let values = recording.track(role).expect("recorded").values();
        values.into_iter().map(f64::to_bits).collect()
    };
    for role in [Role::CapPressure, Role::RodPressure, Role::Supply] {
        assert_eq!(bits(&read, role), bits(&recording, role));
    }
    // The codes are those of the board: they sag with the supply.
    let cap = read.track(Role::CapPressure).expect("recorded");
    let hold = read.phase("hold").expect("a hold");
    let raw = cap.codes.raw().expect("a board's");
    let mean = |from: f64, until: f64| {
        let at = |part: f64| hold.from_s + part * (hold.until_s - hold.from_s);
        let rows = read.rows_within(at(from), at(until));
        let n_rows = rows.len() as f64;
        rows.map(|row| f64::from(raw[row])).sum::<f64>() / n_rows
    };
    let ratio = mean(0.45, 0.55) / (0.5 * (mean(0.35, 0.39) + mean(0.61, 0.65)));
    assert!((ratio - 0.98).abs() < 1e-3, "{ratio}");
    let before = judged(&recording, None).expect("settings");
    let after = judged(&read, None).expect("settings");
    assert_eq!(cap_loss(&before), cap_loss(&after));

    let file = judge_hold(&path, None, None).expect("a recording");
    assert_eq!(cap_loss(&file.judgement), cap_loss(&before));
    let record: serde_json::Value = serde_json::from_str(&file.record_json).expect("JSON");
    let sensors = record["sensors"].as_array().expect("a list");
    let told = |role: &str| sensors.iter().find(|s| s["role"] == role).expect(role);
    assert_eq!(told("p_cap")["read_against"], "v_supply");
    assert_eq!(told("x").get("read_against"), None);
    assert_eq!(
        (
            told("v_supply")["unit"].as_str(),
            told("v_supply")["serial"].as_str()
        ),
        (Some("v"), Some("V-01"))
    );
}

/// A table shows bar: whether its logger looked at the supply, nobody can tell from it.
#[test]
fn a_table_of_values_is_not_taken_for_one_read_against_a_supply() {
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("log.csv");
    std::fs::write(
        &path,
        "t_s, p_cap_bar, v_supply_v\n0, 100, 5.0\n1, 100, 4.9\n",
    )
    .expect("written");
    let setup = setup_toml(&scenario, [400.0, 400.0], Taken::Measured);
    let setup = ("setup.toml".to_owned(), setup);
    let shop = (SHOP_FILE_NAME.to_owned(), SHOP_TOML.to_owned());
    let error = judge_hold(&path, Some(&setup), Some(&shop)).expect_err("values");
    assert!(
        error.to_string().contains("a table of values is not"),
        "{error:#}"
    );
}

/// The same recording with the codes of a channel changed in rows of the hold, by their number
/// in it.
fn changed(recording: &Recording, role: Role, change: impl Fn(usize, i32) -> i32) -> Recording {
    let hold = recording.phase("hold").expect("a hold");
    let rows = recording.rows_within(hold.from_s, hold.until_s);
    let mut tracks = recording.tracks().to_vec();
    let own = tracks.iter_mut().find(|t| t.channel.role == role);
    let own = own.expect("recorded");
    let mut codes = own.codes.raw().expect("a board's").to_vec();
    for (number, row) in rows.enumerate() {
        codes[row] = change(number, codes[row]);
    }
    own.codes = Codes::Raw(codes);
    Recording::new(Parts {
        heading: recording.heading().clone(),
        time_s: recording.time_s().to_vec(),
        tracks,
        gaps: recording.gaps().to_vec(),
        phases: recording.phases().to_vec(),
        entries: Vec::new(),
        loss: recording.loss(),
        ending: recording.ending().clone(),
    })
    .expect("as whole as it was")
}

/// A supply out of 4.5 to 5.5 V: half a percent of the hold is a remark, two percent is no
/// measurement, by the rule of missing readings.
#[test]
fn rows_without_a_plausible_supply_are_missing_readings() {
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let whole = recorded(&scenario, Taken::Measured, steady);
    let n_rows = {
        let hold = whole.phase("hold").expect("a hold");
        whole.rows_within(hold.from_s, hold.until_s).len()
    };
    for (volts, part, is_void) in [(4.4, 0.005, false), (4.4, 0.02, true), (0.0, 0.02, true)] {
        let until = (part * n_rows as f64) as usize;
        let change = |number, now| if number < until { code(volts) } else { now };
        let found = judged(&changed(&whole, Role::Supply, change), None).expect("settings");
        let missing = "the supply it is read against missing or outside 4.5 to 5.5 V";
        assert!(said(&found, missing), "{:?}", found.flags);
        assert_eq!(!voids(&found).is_empty(), is_void, "{volts} V, {part}");
    }
}

/// A converter that sends one code of the pressure for ever, beside a supply whose reading lives.
#[test]
fn a_dead_channel_is_not_made_alive_by_the_noise_of_its_supply() {
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let whole = recorded(&scenario, Taken::Measured, steady);
    let raw = whole
        .track(Role::CapPressure)
        .expect("recorded")
        .codes
        .raw();
    let raw = raw.expect("a board's");
    let middle = raw[raw.len() / 2];
    let dead = changed(&whole, Role::CapPressure, |_, _| middle);
    let found = judged(&dead, None).expect("settings");
    let values = dead.track(Role::CapPressure).expect("there").values();
    assert!(values.windows(2).any(|w| w[0] != w[1]), "the supply lives");
    let voids = voids(&found);
    assert!(
        voids
            .iter()
            .any(|why| why.contains("cap-end pressure did not change by a single step")),
        "{voids:?}"
    );
}

/// 0.1 V, and 4.9 V, for a hundred rows of the hold.
#[test]
fn a_broken_wire_and_a_short_are_told_apart_beside_a_supply() {
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let whole = recorded(&scenario, Taken::Measured, steady);
    for (volts, part) in [(0.1, "as with a broken wire"), (4.9, "as with a short")] {
        let broken = |number, now| if number < 100 { code(volts) } else { now };
        let found = judged(&changed(&whole, Role::CapPressure, broken), None).expect("settings");
        assert!(said(&found, part), "{:?}", found.flags);
    }
}

/// Line and message of a setup that is refused.
fn refused(text: &str) -> (usize, String) {
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).expect("a shop file");
    let error = Setup::parse("setup.toml", text, Some(&shop)).expect_err(text);
    (error.line, error.message)
}

#[test]
fn a_setup_that_cannot_be_read_against_its_supply_is_refused_at_its_line() {
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let sound = setup_toml(&scenario, [400.0, 400.0], Taken::Measured);
    let key = "supply = \"measured\"";
    let line_of = |text: &str, key: &str| text[..text.find(key).expect(key)].lines().count() + 1;
    let line = line_of(&sound, key);
    let signal = "signal = \"0.5-4.5 V\"\nrange = [\"0 bar\", \"400 bar\"]\n";
    let without_supply = &sound[..sound.find("\n[sensors.v_supply]").expect("at the end")];
    let cases = [
        (without_supply.to_owned(), line, "nothing measures it here"),
        (
            sound.replacen("0.5-4.5 V", "4-20 mA", 1),
            line,
            "the current of a loop does not go with its supply",
        ),
        (
            sound.replacen(signal, "", 1),
            line - 2,
            "values that a board states are finished",
        ),
        (sound.replacen(key, "supply = \"5 V\"", 1), line, "measured"),
    ];
    for (text, line, part) in cases {
        let (found, message) = refused(&text);
        assert!(message.contains(part), "{message}");
        assert_eq!(found, line, "{message}");
    }
    let at_supply = line_of(&sound, "[sensors.v_supply]");
    for (keys, part) in [
        (
            "channel = 4\nsignal = \"0.5-4.5 V\"\nrange = [\"0 V\", \"5 V\"]\n",
            "in volts as it is",
        ),
        (
            "channel = 4\nmotion_ratio = 2.0\n",
            "for the position sensor only",
        ),
        (
            "channel = 4\nsupply = \"measured\"\n",
            "values that a board states",
        ),
    ] {
        let text = sound.replace("channel = 4\n", keys);
        let (found, message) = refused(&text);
        assert!(message.contains(part), "{message}");
        assert!(
            (at_supply..at_supply + 3).contains(&found),
            "{found}: {message}"
        );
    }
}

/// 0.2 mV and 0.005 % of 5 V are 0.0064 %; √2 of that each on the span and on the eighth of it that
/// the signal begins with.
#[test]
fn what_is_not_known_of_the_supply_goes_into_each_sensor_that_is_read_against_it() {
    let scenario = scenario("tight-rebuild").expect("in the catalogue");
    let shop = Shop::parse(SHOP_FILE_NAME, SHOP_TOML).expect("a shop file");
    let errors = |taken| {
        let text = setup_toml(&scenario, [400.0, 400.0], taken);
        let setup = Setup::parse("setup.toml", &text, Some(&shop)).expect("a setup");
        let cap = setup.sensors.iter().find(|s| s.role == Role::CapPressure);
        cap.expect("a sensor").errors
    };
    let (own, with) = (errors(Taken::AsFiveVolts), errors(Taken::Measured));
    let part = 2.0_f64.sqrt() * (0.2e-3_f64 / 5.0).hypot(0.005e-2);
    let span = own.span_relative.hypot(part);
    assert!((with.span_relative / span - 1.0).abs() < 1e-12);
    let zero = own.zero_si.hypot(part * 50e5);
    assert!((with.zero_si / zero - 1.0).abs() < 1e-12);
}
