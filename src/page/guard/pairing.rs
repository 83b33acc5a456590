//! Pairing: who is in the network types a code once in each browser.
//!
//! The code stands in the terminal of the bench computer and is another at each start. A browser
//! that typed it keeps a cookie that only this shop can have made. Wrong codes are counted for each
//! address and for all together, so that trying them out takes years.

use super::token;
use std::collections::VecDeque;
use std::net::IpAddr;
use std::sync::Mutex;
use std::time::Duration;
use tokio::time::Instant;

/// Wrong codes of one address within [`SPAN`] before it has to wait.
const MOST_OF_ONE: usize = 5;

/// Wrong codes of all addresses within [`SPAN`] before all have to wait.
const MOST_OF_ALL: usize = 30;

/// How long a wrong code counts.
const SPAN: Duration = Duration::from_secs(60);

/// What a typed code comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::page) enum Typed {
    /// It is the code.
    Right,
    /// It is another.
    Wrong,
    /// There were too many wrong ones; it was not looked at.
    Wait,
}

/// The code of this start, and the secret of paired browsers.
#[derive(Debug)]
pub struct Pairing {
    code: String,
    secret: [u8; 32],
    wrong: Mutex<VecDeque<(Instant, IpAddr)>>,
}

impl Pairing {
    /// Pairing by a code; `secret` is what cookies of paired browsers are made with.
    pub fn new(code: &str, secret: [u8; 32]) -> Self {
        Self {
            code: digits(code),
            secret,
            wrong: Mutex::default(),
        }
    }

    /// The cookie of a browser of this name.
    pub(super) fn cookie(&self, id: &str) -> String {
        format!("{id}.{}", token::mark(&self.secret, "paired", id))
    }

    /// The name of the browser that has this cookie, if it is paired.
    pub(super) fn known<'a>(&self, cookie: &'a str) -> Option<&'a str> {
        let (id, mark) = cookie.split_once('.')?;
        token::is_same(mark, &token::mark(&self.secret, "paired", id)).then_some(id)
    }

    /// Looks at a code that was typed.
    pub(in crate::page) fn typed(&self, code: &str, peer: IpAddr) -> Typed {
        self.typed_at(Instant::now(), code, peer)
    }

    fn typed_at(&self, now: Instant, code: &str, peer: IpAddr) -> Typed {
        let Ok(mut wrong) = self.wrong.lock() else {
            return Typed::Wait;
        };
        while wrong
            .front()
            .is_some_and(|(at, _)| now.duration_since(*at) >= SPAN)
        {
            wrong.pop_front();
        }
        let of_one = wrong.iter().filter(|(_, known)| *known == peer).count();
        if of_one >= MOST_OF_ONE || wrong.len() >= MOST_OF_ALL {
            return Typed::Wait;
        }
        if token::is_same(&digits(code), &self.code) {
            return Typed::Right;
        }
        wrong.push_back((now, peer));
        Typed::Wrong
    }
}

/// The digits of a code: people type it with spaces.
fn digits(code: &str) -> String {
    code.chars().filter(char::is_ascii_digit).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairing() -> Pairing {
        Pairing::new("1234 5678", [1; 32])
    }

    fn peer(last: u8) -> IpAddr {
        IpAddr::from([192, 168, 1, last])
    }

    #[test]
    fn wrong_codes_have_to_wait() {
        let pairing = pairing();
        let now = Instant::now();
        let typed = |code: &str, last: u8| pairing.typed_at(now, code, peer(last));
        assert_eq!(typed("12345678", 1), Typed::Right);
        for _ in 0..MOST_OF_ONE {
            assert_eq!(typed("12345679", 1), Typed::Wrong);
        }
        // Not even the right one counts now, except from elsewhere.
        assert_eq!(typed("12345678", 1), Typed::Wait);
        assert_eq!(typed("1234 5678", 2), Typed::Right);
        let later = now + SPAN;
        let typed = |code: &str, last: u8| pairing.typed_at(later, code, peer(last));
        assert_eq!(typed("12345678", 1), Typed::Right);
        for n in 0..MOST_OF_ALL as u8 {
            assert_eq!(typed("", 100 + n), Typed::Wrong);
        }
        assert_eq!(typed("12345678", 9), Typed::Wait);
    }

    #[test]
    fn a_cookie_is_known_only_to_who_made_it() {
        let pairing = pairing();
        let cookie = pairing.cookie("abc");
        assert_eq!(pairing.known(&cookie), Some("abc"));
        let other = Pairing::new("1234 5678", [2; 32]);
        for wrong in [
            &other.cookie("abc"),
            &cookie.replace("abc", "abd"),
            "abc",
            "abc.",
            "",
        ] {
            assert_eq!(pairing.known(wrong), None, "{wrong}");
        }
    }
}
