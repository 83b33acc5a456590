//! The program showing its page, and a browser of the plainest kind: bytes over a connection.

use std::io::BufRead as _;
use std::io::BufReader;
use std::io::Read as _;
use std::io::Write as _;
use std::net::SocketAddr;
use std::net::TcpStream;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;

/// The program while it shows the page; ends with this value.
pub struct Served {
    child: Child,
    /// Where it listens.
    pub at: SocketAddr,
    /// The pairing code, if one is asked for.
    pub code: Option<String>,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Starts the program in a folder with its data; the system chooses the port.
#[track_caller]
pub fn serve(folder: &Path, more: &[&str]) -> Served {
    let mut child = Command::new(env!("CARGO_BIN_EXE_stillrod"))
        .args(["serve", "--port", "0"])
        .args(more)
        .current_dir(folder)
        .env("TZ", "UTC")
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let (mut at, mut code) = (None, None);
    for line in &mut lines {
        let line = line.unwrap();
        if let Some(address) = line.strip_prefix("Page       http://") {
            at = at.or(address.trim_end_matches('/').parse().ok());
        }
        if let Some(rest) = line.strip_prefix("Code       ") {
            code = Some(rest.chars().take(9).collect());
        }
        if line == "Ctrl-C ends it." {
            break;
        }
    }
    // Somebody has to listen, or the program could not write its last line.
    std::thread::spawn(move || lines.count());
    Served {
        child,
        at: at.expect("an address"),
        code,
    }
}

impl Served {
    /// Its number among the programs.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Asks it to end, as Ctrl-C does; its exit status.
    pub fn end(mut self) -> Option<i32> {
        let pid = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(pid, rustix::process::Signal::INT).unwrap();
        self.child.wait().unwrap().code()
    }
}

/// What came back.
#[derive(Debug)]
pub struct Reply {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Reply {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The value of a header, "" if it is not there.
    pub fn header(&self, name: &str) -> &str {
        let found = self.head.lines().find_map(|line| {
            let (known, value) = line.split_once(':')?;
            known.eq_ignore_ascii_case(name).then(|| value.trim())
        });
        found.unwrap_or_default()
    }
}

/// A browser: keeps cookies, sends what a browser sends.
pub struct Browser {
    at: SocketAddr,
    pub cookies: Vec<(String, String)>,
    pub host: String,
    pub origin: Option<String>,
}

impl Browser {
    pub fn new(at: SocketAddr) -> Self {
        Self {
            at,
            cookies: Vec::new(),
            host: at.to_string(),
            origin: Some(format!("http://{at}")),
        }
    }

    /// Sends a request as it is; what comes back until the connection ends.
    #[track_caller]
    pub fn raw(&self, request: &[u8]) -> Reply {
        let mut stream = TcpStream::connect(self.at).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(60)))
            .unwrap();
        // A refusal may come before all of a large body is sent.
        let _ = stream.write_all(request);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        let end = bytes
            .windows(4)
            .position(|w| w == b"\r\n\r\n")
            .expect("a head");
        let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
        let status = head
            .split(' ')
            .nth(1)
            .and_then(|s| s.parse().ok())
            .expect("a status");
        Reply {
            status,
            head,
            body: bytes[end + 4..].to_vec(),
        }
    }

    #[track_caller]
    pub fn send(&mut self, method: &str, path: &str, more: &str, body: &[u8]) -> Reply {
        let cookies: Vec<String> = self
            .cookies
            .iter()
            .map(|(n, v)| format!("{n}={v}"))
            .collect();
        let mut request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nCookie: {}\r\n{more}",
            self.host,
            cookies.join("; ")
        );
        if method != "GET" {
            request += &format!("Content-Length: {}\r\n", body.len());
            if let Some(origin) = &self.origin {
                request += &format!("Origin: {origin}\r\n");
            }
        }
        request += "\r\n";
        let reply = self.raw(&[request.as_bytes(), body].concat());
        for line in reply.head.lines() {
            let Some(set) = line.strip_prefix("set-cookie: ") else {
                continue;
            };
            assert!(
                set.contains("HttpOnly") && set.contains("SameSite=Strict"),
                "{set}"
            );
            let (name, value) = set.split(';').next().unwrap().split_once('=').unwrap();
            self.cookies.retain(|(known, _)| known != name);
            self.cookies.push((name.into(), value.into()));
        }
        reply
    }

    #[track_caller]
    pub fn get(&mut self, path: &str) -> Reply {
        self.send("GET", path, "", b"")
    }

    /// A page that must be there; its text.
    #[track_caller]
    pub fn page(&mut self, path: &str) -> String {
        let reply = self.get(path);
        assert_eq!(reply.status, 200, "{path}\n{}", reply.text());
        reply.text()
    }

    /// The mark that forms of a page send along.
    #[track_caller]
    pub fn token(&mut self, path: &str) -> String {
        let text = self.page(path);
        let start = text.find("name=\"token\" value=\"").expect("a form") + 20;
        text[start..start + 64].into()
    }

    /// Sends a form as it is.
    #[track_caller]
    pub fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Reply {
        let fields: Vec<String> = fields
            .iter()
            .map(|(n, v)| format!("{}={}", encoded(n), encoded(v)))
            .collect();
        let more = "Content-Type: application/x-www-form-urlencoded\r\n";
        self.send("POST", path, more, fields.join("&").as_bytes())
    }
}

/// A value as it stands in an address.
pub fn encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte.is_ascii_alphanumeric() {
            true => char::from(byte).to_string(),
            false => format!("%{byte:02X}"),
        })
        .collect()
}
