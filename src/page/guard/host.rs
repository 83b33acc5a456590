//! Where a request was sent to, and from which page.
//!
//! A page elsewhere can make a browser send requests here, under a name of its own that leads to
//! this computer. So a request counts only if it names the very address its connection came in by.

use std::net::IpAddr;
use std::net::SocketAddr;

/// Both ends of a connection.
#[derive(Debug, Clone, Copy)]
pub(in crate::page) struct Connection {
    /// Our end.
    pub local: SocketAddr,
    /// The other.
    pub peer: SocketAddr,
}

/// Whether a `Host` header names our end of the connection.
pub(super) fn is_ours(host: &str, local: SocketAddr) -> bool {
    let (name, port) = match host.rsplit_once(':') {
        // The colons of `[::1]` are its own.
        Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
        _ => (host, Some(80)),
    };
    if port != Some(local.port()) {
        return false;
    }
    let own = local.ip().to_canonical();
    if name.eq_ignore_ascii_case("localhost") {
        return own.is_loopback();
    }
    let bare = match name.strip_prefix('[') {
        Some(rest) => rest.strip_suffix(']').unwrap_or_default(),
        None => name,
    };
    bare.parse::<IpAddr>()
        .is_ok_and(|named| named.to_canonical() == own)
}

/// Whether what is sent by a form comes from a page of ours. One of both headers is there in every
/// browser of the last years; a request with neither is refused.
pub(super) fn is_from_here(host: &str, origin: Option<&str>, site: Option<&str>) -> bool {
    let same = origin.map(|origin| {
        let named = origin.strip_prefix("http://");
        named.is_some_and(|named| named.eq_ignore_ascii_case(host))
    });
    match (same, site) {
        (Some(false), _) => false,
        (_, Some(site)) => site == "same-origin",
        (Some(true), None) => true,
        (None, None) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_address_of_the_connection_is_ours() {
        for (host, local, expected) in [
            ("127.0.0.1:8377", "127.0.0.1:8377", true),
            ("localhost:8377", "127.0.0.1:8377", true),
            ("LocalHost:8377", "[::1]:8377", true),
            ("[::1]:8377", "[::1]:8377", true),
            ("192.168.1.20:8377", "192.168.1.20:8377", true),
            ("192.168.1.20:8377", "[::ffff:192.168.1.20]:8377", true),
            ("192.168.1.20", "192.168.1.20:80", true),
            ("[fe80::1]", "[fe80::1]:80", true),
            ("localhost:8377", "192.168.1.20:8377", false),
            ("127.0.0.1:8377", "192.168.1.20:8377", false),
            ("127.0.0.1:80", "127.0.0.1:8377", false),
            ("127.0.0.1", "127.0.0.1:8377", false),
            ("elsewhere.example:8377", "127.0.0.1:8377", false),
            ("127.0.0.1.elsewhere.example:8377", "127.0.0.1:8377", false),
            ("127.0.0.1:8377:8377", "127.0.0.1:8377", false),
            ("[::1", "[::1]:80", false),
            ("", "127.0.0.1:80", false),
            (":8377", "127.0.0.1:8377", false),
        ] {
            let local = local.parse().expect("an address");
            assert_eq!(is_ours(host, local), expected, "{host} {local}");
        }
    }

    #[test]
    fn a_form_counts_only_from_a_page_of_ours() {
        let host = "127.0.0.1:8377";
        let ours = Some("http://127.0.0.1:8377");
        for (origin, site, expected) in [
            (ours, Some("same-origin"), true),
            (ours, None, true),
            (None, Some("same-origin"), true),
            (None, None, false),
            (ours, Some("cross-site"), false),
            (ours, Some("none"), false),
            (Some("null"), None, false),
            (Some("null"), Some("same-origin"), false),
            (Some("https://127.0.0.1:8377"), None, false),
            (Some("http://127.0.0.1:8378"), None, false),
            (Some("http://elsewhere.example"), Some("same-origin"), false),
        ] {
            assert_eq!(
                is_from_here(host, origin, site),
                expected,
                "{origin:?} {site:?}"
            );
        }
    }
}
