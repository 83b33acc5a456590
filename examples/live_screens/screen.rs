//! A screen: a plain connection that notes when a new position came.

use super::board::Steps;
use std::io::BufRead as _;
use std::io::BufReader;
use std::io::Read as _;
use std::io::Write as _;
use std::net::SocketAddr;
use std::net::TcpStream;
use std::sync::Arc;
use std::sync::Mutex;
use std::time::Duration;
use std::time::Instant;

/// What a screen saw: when each new position came.
pub type Seen = Arc<Mutex<Vec<(Instant, String)>>>;

/// The cookie of a browser that asked once.
pub fn cookie(address: SocketAddr) -> String {
    let mut stream = TcpStream::connect(address).expect("the page");
    let request = format!("GET /bench HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("asked");
    let mut text = String::new();
    stream.read_to_string(&mut text).expect("answered");
    let set = text
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "));
    set.and_then(|set| set.split(';').next())
        .expect("a cookie")
        .into()
}

/// Looks on from now.
pub fn look(address: SocketAddr, cookie: String) -> Seen {
    let seen = Seen::default();
    let noted = Arc::clone(&seen);
    std::thread::spawn(move || {
        let mut stream = TcpStream::connect(address).expect("the page");
        let request =
            format!("GET /bench/live HTTP/1.1\r\nHost: {address}\r\nCookie: {cookie}\r\n\r\n");
        stream.write_all(request.as_bytes()).expect("asked");
        let mut last = String::new();
        for line in BufReader::new(stream).lines() {
            let Ok(line) = line else {
                return;
            };
            let at = Instant::now();
            let Some(rest) = line.split("reading\tposition\t").nth(1) else {
                continue;
            };
            let value = rest.split('\t').next().unwrap_or_default();
            if value != last {
                last = value.into();
                noted.lock().expect("a screen").push((at, last.clone()));
            }
        }
    });
    seen
}

/// How long each step took to be seen, ms. One that was not seen within its half second is left
/// out, and shows in the count.
pub fn took_ms(steps: &Steps, seen: &[(Instant, String)]) -> Vec<f64> {
    let of_step = |(began, value): &(Instant, String)| {
        let until = *began + Duration::from_millis(2000);
        let found = seen
            .iter()
            .find(|(at, shown)| at >= began && *at < until && shown == value);
        found.map(|(at, _)| at.duration_since(*began).as_secs_f64() * 1e3)
    };
    steps.iter().filter_map(of_step).collect()
}
