//! Counts and times for the house's own monitoring, in the text form that such programs read, and one line of the log for
//! each request. Nothing of a person, a case or a value is in either: both name an address by its pattern.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Mutex;
use std::time::Duration;

use axum::extract::{MatchedPath, Request};
use axum::http::{Method, StatusCode};

use super::locked::locked;

/// Upper bounds of the times of answers, in ms.
const BOUNDS: [u64; 6] = [10, 50, 200, 1_000, 5_000, 30_000];

/// What was answered since the start.
#[derive(Debug, Default)]
pub(super) struct Metrics(Mutex<Counts>);

#[derive(Debug, Default)]
struct Counts {
    requests: BTreeMap<(String, String, u16), u64>,
    within: [u64; BOUNDS.len()],
    all: u64,
    milliseconds: u64,
}

/// A request without its values: its method and the pattern of its address.
#[derive(Debug, Clone)]
pub(super) struct RequestPattern {
    method: String,
    route: String,
}

impl RequestPattern {
    pub(super) fn read(request: &Request) -> Self {
        const USUAL: [Method; 3] = [Method::GET, Method::POST, Method::HEAD];
        let method = request.method();
        let method = if USUAL.contains(method) { method.as_str() } else { "OTHER" };
        let route = request.extensions().get::<MatchedPath>().map_or("none", MatchedPath::as_str);
        Self { method: method.to_owned(), route: route.to_owned() }
    }
}

impl Metrics {
    /// Counts an answer, and writes its line into the log.
    pub(super) fn answered(&self, pattern: RequestPattern, status: StatusCode, took: Duration) {
        let ms = u64::try_from(took.as_millis()).unwrap_or(u64::MAX);
        tracing::info!(
            target: REQUEST,
            method = pattern.method.as_str(),
            route = pattern.route.as_str(),
            status = u64::from(status.as_u16()),
            ms
        );
        let mut counts = locked(&self.0);
        *counts.requests.entry((pattern.method, pattern.route, status.as_u16())).or_default() += 1;
        counts.all += 1;
        counts.milliseconds = counts.milliseconds.saturating_add(ms);
        for (within, bound) in counts.within.iter_mut().zip(BOUNDS) {
            *within += u64::from(ms <= bound);
        }
    }
}

/// Under which target the lines of requests are logged.
pub const REQUEST: &str = "countersign::request";

impl Metrics {
    /// As text.
    pub(super) fn written(&self) -> String {
        let mut text = String::new();
        let counts = locked(&self.0);
        let _ = writeln!(text, "# TYPE countersign_requests_total counter");
        for ((method, route, status), count) in &counts.requests {
            let labels = format!("method=\"{method}\",route=\"{route}\",status=\"{status}\"");
            let _ = writeln!(text, "countersign_requests_total{{{labels}}} {count}");
        }
        let _ = writeln!(text, "# TYPE countersign_request_milliseconds histogram");
        for (within, bound) in counts.within.iter().zip(BOUNDS) {
            let _ = writeln!(text, "countersign_request_milliseconds_bucket{{le=\"{bound}\"}} {within}");
        }
        let _ = writeln!(text, "countersign_request_milliseconds_bucket{{le=\"+Inf\"}} {}", counts.all);
        let _ = writeln!(text, "countersign_request_milliseconds_sum {}", counts.milliseconds);
        let _ = writeln!(text, "countersign_request_milliseconds_count {}", counts.all);
        text
    }
}
