//! Counts and times for the house's own monitoring, in the text form that such programs read, and one line of the log for
//! each request. Nothing of a person, a case or a value is in either: both name an address by its pattern.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use axum::extract::{MatchedPath, Request, State};
use axum::http::{Method, StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::site::{Site, locked};

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

pub(super) async fn page(State(site): State<Arc<Site>>) -> Response {
    let folder = site.folder.clone();
    let events = tokio::task::spawn_blocking(move || crate::journal::Journal::open(&folder)?.head());
    let events = events.await.ok().and_then(Result::ok).map(|head| head.seq);
    let text = written(&site, events);
    ([(header::CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], text).into_response()
}

fn written(site: &Site, events: Option<u64>) -> String {
    let mut text = String::new();
    let counts = locked(&site.metrics.0);
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
    drop(counts);
    let (verified, sent) = site.proof.ages();
    let seconds = |age: Option<Duration>| age.map(|age| age.as_secs());
    let gauges = [
        ("countersign_journal_events", events),
        ("countersign_journal_whole", site.proof.is_whole().map(u64::from)),
        ("countersign_journal_verified_seconds_ago", seconds(verified)),
        ("countersign_checkpoint_sent_seconds_ago", seconds(sent)),
        ("countersign_warnings", u64::try_from(site.warnings().len()).ok()),
        ("countersign_sessions", u64::try_from(site.sessions.how_many()).ok()),
        ("countersign_accesses_not_written", Some(site.accesses.missed())),
    ];
    for (name, value) in gauges {
        if let Some(value) = value {
            let _ = writeln!(text, "# TYPE {name} gauge\n{name} {value}");
        }
    }
    text
}
