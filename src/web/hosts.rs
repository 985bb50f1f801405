//! Under which names this server is asked: a page of another site that lets its own name point here is refused, because a
//! browser says in `Host` which name it used.

use std::net::{IpAddr, SocketAddr};

use axum::extract::Request;
use axum::http::{Method, header, uri::Authority};

/// The names and addresses that a server was started for.
#[derive(Debug, Clone)]
pub struct Hosts {
    listens: SocketAddr,
    /// Lower case; with a port where only that one is meant.
    named: Vec<String>,
}

impl Hosts {
    /// Where it listens, and the names that people type for it: `ward-3.example`, or `ward-3.example:8440`.
    #[must_use]
    pub fn new(listens: SocketAddr, named: &[String]) -> Self {
        Self { listens, named: named.iter().map(|name| name.trim().to_lowercase()).collect() }
    }

    /// The name under which a request asks, where this server was not started for it; nothing where it was.
    pub(super) fn refused(&self, request: &Request) -> Option<String> {
        let headers = request.headers();
        let mut hosts: Vec<String> = request.uri().authority().map(ToString::to_string).into_iter().collect();
        for host in headers.get_all(header::HOST) {
            hosts.push(String::from_utf8_lossy(host.as_bytes()).into_owned());
        }
        // None is as bad as another one, and of two that differ one is another.
        let Some(asked) = hosts.first().cloned() else { return Some("no host".to_owned()) };
        if let Some(other) = hosts.into_iter().find(|host| !self.is_known(host)) {
            return Some(other);
        }
        if request.method() == Method::GET || request.method() == Method::HEAD {
            return None;
        }
        let origin = headers.get(header::ORIGIN)?;
        let origin = String::from_utf8_lossy(origin.as_bytes()).into_owned();
        // A proxy may end TLS in front: the scheme is its own business, name and port are the same.
        let from = origin.split_once("://").map_or("", |(_, authority)| authority);
        let is_own = from.eq_ignore_ascii_case(&asked) || (without_port(from) == asked && self.is_named(from));
        (!is_own).then_some(origin)
    }

    fn is_known(&self, host: &str) -> bool {
        if self.is_named(host) {
            return true;
        }
        let Ok(authority) = host.parse::<Authority>() else { return false };
        let port = authority.port_u16().unwrap_or(80);
        if host.contains('@') || port != self.listens.port() {
            // Port 443 is left out by a browser that came by TLS.
            let left_out = authority.port().is_none() && self.listens.port() == 443;
            if host.contains('@') || !left_out {
                return false;
            }
        }
        let name = authority.host().trim_start_matches('[').trim_end_matches(']').to_lowercase();
        let own = self.listens.ip();
        match name.parse::<IpAddr>() {
            // No name points anywhere in an address. A server that listens at all of them is asked under each.
            Ok(address) => address == own || own.is_unspecified() || (own.is_loopback() && address.is_loopback()),
            Err(_) => name == "localhost" && (own.is_loopback() || own.is_unspecified()),
        }
    }

    fn is_named(&self, host: &str) -> bool {
        let host = host.to_lowercase();
        self.named.iter().any(|name| *name == host || *name == without_port(&host))
    }
}

fn without_port(authority: &str) -> &str {
    match authority.rsplit_once(':') {
        Some((name, port)) if !name.is_empty() && port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => authority,
    }
}

#[cfg(test)]
mod tests {
    use axum::body::Body;

    use super::*;

    fn is_refused(hosts: &Hosts, method: &str, host: &[&str], origin: Option<&str>) -> bool {
        let mut request = Request::builder().method(method).uri("/emergency");
        for host in host {
            request = request.header("host", *host);
        }
        if let Some(origin) = origin {
            request = request.header("origin", origin);
        }
        hosts.refused(&request.body(Body::empty()).expect("a request")).is_some()
    }

    #[test]
    fn only_names_that_it_was_started_for_are_answered() {
        let local = Hosts::new("127.0.0.1:8440".parse().expect("an address"), &["ward-3.example".to_owned()]);
        for good in
            ["127.0.0.1:8440", "localhost:8440", "LOCALHOST:8440", "[::1]:8440", "ward-3.example", "ward-3.example:443"]
        {
            assert!(!is_refused(&local, "GET", &[good], None), "{good}");
        }
        let bad: [&[&str]; 8] = [
            &["evil.example"],
            &["evil.example:8440"],
            &["127.0.0.1"],
            &["127.0.0.1:8441"],
            &["localhost.evil.example:8440"],
            &["ward-3.example@127.0.0.1:8440"],
            &["127.0.0.1:8440", "evil.example"],
            &[],
        ];
        for bad in bad {
            assert!(is_refused(&local, "GET", bad, None), "{bad:?}");
        }
        let everywhere = Hosts::new("0.0.0.0:443".parse().expect("an address"), &[]);
        assert!(!is_refused(&everywhere, "GET", &["192.0.2.7"], None));
        assert!(is_refused(&everywhere, "GET", &["evil.example"], None));
    }

    #[test]
    fn what_is_sent_from_a_page_comes_from_a_page_of_this_server() {
        let local = Hosts::new("127.0.0.1:8440".parse().expect("an address"), &["ward-3.example".to_owned()]);
        for (host, origin, refused) in [
            ("127.0.0.1:8440", None, false),
            ("127.0.0.1:8440", Some("http://127.0.0.1:8440"), false),
            ("127.0.0.1:8440", Some("http://127.0.0.1:3000"), true),
            ("127.0.0.1:8440", Some("http://localhost:8440"), true),
            ("127.0.0.1:8440", Some("http://evil.example"), true),
            ("127.0.0.1:8440", Some("null"), true),
            ("ward-3.example", Some("https://ward-3.example"), false),
            ("ward-3.example", Some("https://evil.example"), true),
        ] {
            assert_eq!(is_refused(&local, "POST", &[host], origin), refused, "{host} {origin:?}");
        }
    }
}
