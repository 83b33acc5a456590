//! Addresses of this page. What comes from people is written so that it stays one value.

use std::fmt::Write as _;

/// An address with its question.
pub(super) fn to(path: &str, asked: &[(&str, &str)]) -> String {
    let mut link = path.to_owned();
    for (index, (name, value)) in asked
        .iter()
        .filter(|(_, value)| !value.is_empty())
        .enumerate()
    {
        link.push(if index == 0 { '?' } else { '&' });
        link.push_str(name);
        link.push('=');
        link.push_str(&encoded(value));
    }
    link
}

fn encoded(value: &str) -> String {
    let mut text = String::new();
    for byte in value.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                text.push(char::from(byte));
            }
            byte => {
                let _ = write!(text, "%{byte:02X}");
            }
        }
    }
    text
}

/// A unit.
pub(super) fn unit(tag: &str) -> String {
    to("/unit", &[("tag", tag)])
}

/// A job.
pub(super) fn job(number: &i64) -> String {
    to("/job", &[("number", &number.to_string())])
}

/// A sheet for a new job of a unit.
pub(super) fn new_job(tag: &str) -> String {
    to("/job/new", &[("tag", tag)])
}

/// A test of a unit.
pub(super) fn test(tag: &str) -> String {
    to("/bench", &[("tag", tag)])
}

/// A paper.
pub(super) fn paper(number: &str) -> String {
    to("/paper", &[("number", number)])
}

/// The recording behind a paper.
pub(super) fn recording(number: &str) -> String {
    to("/recording", &[("number", number)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_stays_one_value() {
        assert_eq!(unit("TV-0312"), "/unit?tag=TV-0312");
        assert_eq!(unit("../a b&c=\"é"), "/unit?tag=..%2Fa%20b%26c%3D%22%C3%A9");
        assert_eq!(
            to("/units", &[("words", ""), ("after", "a")]),
            "/units?after=a"
        );
    }
}
