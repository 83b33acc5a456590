//! Adapters on the sheet of the sensors, and a look at zeros through a practice board.

use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::serve;
use std::path::Path;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::rig::Handling;
use stillrod::rehearsal::rig::Hands;
use stillrod::rehearsal::rig::RigBoard;
use stillrod::rehearsal::rig::rig_unit;

fn board() -> (RigBoard, Hands) {
    let unit = rig_unit("proof-sound").unwrap();
    let (board, hands) = RigBoard::start(&unit, Pace::Times(20.0)).unwrap();
    // A real board does not wait for anybody.
    hands.seen(f64::MAX);
    (board, hands)
}

/// A bench whose data folder has a setup, with sensors that are allowed this.
fn bench(zero_uncertainty: &str) -> tempfile::TempDir {
    let folder = own_shop();
    let setups = folder.path().join("stillrod-data/setups");
    std::fs::create_dir(&setups).unwrap();
    let sensor = |role: &str, channel: u8| {
        format!(
            "[sensors.{role}]\nchannel = {channel}\nserial = \"P-{channel}\"\n\
             zero_uncertainty = \"{zero_uncertainty}\"\nspan_uncertainty_percent = 0.1\n\n"
        )
    };
    let text = sensor("p_cap", 0) + &sensor("p_rod", 1);
    std::fs::write(setups.join("bench.toml"), text).unwrap();
    let none =
        "[sensors.x]\nchannel = 2\nzero_uncertainty = \"0.1 mm\"\nspan_uncertainty_percent = 0.1\n";
    std::fs::write(setups.join("none.toml"), none).unwrap();
    std::fs::write(setups.join("broken.toml"), "[sensors\n").unwrap();
    std::fs::write(setups.join("notes.txt"), "").unwrap();
    folder
}

fn look(browser: &mut Browser, setup: &str, adapter: &str) -> crate::browser::Reply {
    let token = browser.token("/tag");
    let fields = [
        ("token", token.as_str()),
        ("setup", setup),
        ("adapter", adapter),
        ("vented", "yes"),
    ];
    browser.post("/sensors/zero", &fields)
}

fn path_text(path: &Path) -> String {
    path.to_str().unwrap().to_owned()
}

#[test]
fn zeros_are_read_through_an_adapter_and_stand_there_afterwards() {
    let (board, _hands) = board();
    let port = path_text(&board.port_path());
    let folder = bench("0.5 bar");
    let served = serve(folder.path(), &["--adapter", &port]);
    let mut browser = Browser::new(served.at);
    let text = browser.page("/sensors");
    assert!(
        text.contains(&port) && text.contains("/sensors/zero"),
        "{text}"
    );
    let text = browser.page("/sensors/zero");
    for part in [
        "<option>bench.toml</option>",
        &format!("<option>{port}</option>"),
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert!(
        !text.contains("notes.txt") && !text.contains("Looked at"),
        "{text}"
    );
    let reply = look(&mut browser, "bench.toml", &port);
    assert_eq!(
        (reply.status, reply.header("location")),
        (303, "/sensors/zero"),
        "{}",
        reply.text()
    );
    let text = browser.page("/sensors/zero");
    for part in [
        "Looked at",
        "P-0",
        "P-1",
        "scatter ",
        "its papers allow ± 1.5",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    assert_eq!(text.matches("stamp pass").count(), 2, "{text}");
    // The adapter is free again.
    assert_eq!(look(&mut browser, "bench.toml", &port).status, 303);
}

#[test]
fn a_zero_that_its_papers_do_not_allow_is_off() {
    let (board, hands) = board();
    let port = path_text(&board.port_path());
    // Pressed while the look is taken: whoever says it is vented is wrong.
    let stroke = Handling::Strokes {
        count: 40,
        low_pa: 12e5,
        x_m: 0.3,
    };
    hands.act(0.0, stroke);
    let folder = bench("0.05 bar");
    let served = serve(folder.path(), &["--adapter", &port]);
    let mut browser = Browser::new(served.at);
    let reply = look(&mut browser, "bench.toml", &port);
    assert_eq!(reply.status, 303, "{}", reply.text());
    let text = browser.page("/sensors/zero");
    assert!(
        text.contains("stamp fail") && text.contains("still under pressure"),
        "{text}"
    );
}

#[test]
fn what_is_not_in_the_lists_is_not_opened_and_bad_setups_are_said() {
    let (board, _hands) = board();
    let port = path_text(&board.port_path());
    let folder = bench("0.5 bar");
    let served = serve(folder.path(), &["--adapter", &port]);
    let mut browser = Browser::new(served.at);
    for (setup, adapter) in [
        ("bench.toml", "/dev/null"),
        ("bench.toml", ""),
        ("../setups/bench.toml", port.as_str()),
        ("notes.txt", port.as_str()),
        ("", port.as_str()),
    ] {
        let reply = look(&mut browser, setup, adapter);
        assert_eq!(reply.status, 404, "{setup} {adapter}");
    }
    for (setup, sentence) in [
        ("none.toml", "no pressure sensor"),
        ("broken.toml", "broken.toml"),
    ] {
        let reply = look(&mut browser, setup, &port);
        assert_eq!(reply.status, 400, "{setup}");
        assert!(
            reply.text().contains(sentence),
            "{sentence}\n{}",
            reply.text()
        );
    }
    // Nobody said that it is vented.
    let token = browser.token("/tag");
    let fields = [("token", token.as_str()), ("setup", "bench.toml")];
    let reply = browser.post("/sensors/zero", &fields);
    assert_eq!(reply.status, 400);
    assert!(
        reply.text().contains("not said to be open"),
        "{}",
        reply.text()
    );
}
