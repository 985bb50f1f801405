//! The counts of a server, for the house's own monitoring.

use std::fmt::Write as _;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};

use crate::web::site::Site;

pub(in crate::web) async fn page(State(site): State<Arc<Site>>) -> Response {
    let folder = site.folder.clone();
    let events = tokio::task::spawn_blocking(move || crate::journal::Journal::open(&folder)?.head());
    let events = events.await.ok().and_then(Result::ok).map(|head| head.seq);
    let text = written(&site, events);
    ([(header::CONTENT_TYPE, "text/plain; version=0.0.4; charset=utf-8")], text).into_response()
}

fn written(site: &Site, events: Option<u64>) -> String {
    let mut text = site.metrics.written();
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
