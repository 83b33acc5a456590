//! How long a reading takes from the board to a screen, with ten screens looking on.
//!
//!     cargo run --release --example live_screens -- [SCREENS] [SECONDS]
//!
//! A board with eight channels sends a thousand samples a second in frames of ten through a
//! pseudo-terminal; the page records and shows them in a process of its own. The position steps
//! twice a second, and each screen, a plain connection to `/bench/live`, says when the new value
//! came. The time is that from writing the first frame with the new value to the event on the
//! screen's connection; what a browser takes to draw a text is not in it.

#![allow(
    clippy::disallowed_methods,
    reason = "an example that measures reads the clock"
)]

mod board;
mod screen;
mod served;

use std::process::Command;
use std::process::Stdio;
use std::time::Duration;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let [role, folder, port] = arguments.as_slice()
        && role == "serve"
    {
        served::serve(folder.as_ref(), port);
        return;
    }
    let of = |place: usize, usual: usize| {
        let found = arguments.get(place).and_then(|text| text.parse().ok());
        found.unwrap_or(usual)
    };
    measure(of(0, 10), of(1, 60) as u64);
}

fn measure(n_screens: usize, seconds: u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let port = folder.path().join("board");
    let board = board::Board::plug_in(&port);
    let itself = std::env::current_exe().expect("a program");
    let mut page = Command::new(itself)
        .arg("serve")
        .arg(folder.path())
        .arg(&port)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the page");
    let address = served::address(&mut page);
    let steps = board.start();
    let cookie = screen::cookie(address);
    let screens: Vec<_> = (0..n_screens)
        .map(|_| screen::look(address, cookie.clone()))
        .collect();
    // Until all of them look and the first figures are there.
    std::thread::sleep(Duration::from_secs(15));
    let before = served::used(page.id());
    std::thread::sleep(Duration::from_secs(seconds));
    let after = served::used(page.id());
    let steps = steps.ended();
    let mut took_ms: Vec<f64> = screens
        .iter()
        .flat_map(|seen| screen::took_ms(&steps, &seen.lock().expect("a screen")))
        .collect();
    took_ms.sort_by(f64::total_cmp);
    let at = |part: f64| took_ms[((took_ms.len() - 1) as f64 * part) as usize];
    println!(
        "{n_screens} screens, {} steps seen of {}: median {:.0} ms, 95 % within {:.0} ms, longest {:.0} ms",
        took_ms.len(),
        steps.len() * n_screens,
        at(0.5),
        at(0.95),
        at(1.0)
    );
    println!(
        "the page's process: {:.0} % of one core, {:.0} MB",
        (after.cpu_s - before.cpu_s) / seconds as f64 * 100.0,
        after.resident_mb
    );
    let _ = page.kill();
    let _ = page.wait();
}
