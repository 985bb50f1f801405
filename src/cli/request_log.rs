//! One line of JSON on the standard error for each request that `serve` answers: its method, the pattern of its address, the
//! status and the time. No value, no name and no case is in it.

use std::fmt;
use std::io::{self, Write as _};

use serde_json::{Map, Value, json};
use tracing::field::{Field, Visit};
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Metadata, Subscriber};

use crate::quantity::Moment;
use crate::web::REQUEST_LOG;

/// From here on requests are logged, and nothing else.
pub(super) fn begin() {
    // Another subscriber of the process stays what it is.
    let _ = tracing::subscriber::set_global_default(RequestLog);
}

struct RequestLog;

impl Subscriber for RequestLog {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        metadata.is_event() && metadata.target() == REQUEST_LOG
    }

    fn new_span(&self, _: &Attributes<'_>) -> Id {
        Id::from_u64(1)
    }

    fn record(&self, _: &Id, _: &Record<'_>) {}

    fn record_follows_from(&self, _: &Id, _: &Id) {}

    fn event(&self, event: &Event<'_>) {
        let mut line = LogLine(Map::new());
        line.0.insert("at".to_owned(), json!(Moment::now().to_utc()));
        event.record(&mut line);
        // A log that cannot be written keeps no answer back.
        let _ = writeln!(io::stderr().lock(), "{}", Value::Object(line.0));
    }

    fn enter(&self, _: &Id) {}

    fn exit(&self, _: &Id) {}
}

struct LogLine(Map<String, Value>);

impl Visit for LogLine {
    fn record_u64(&mut self, field: &Field, value: u64) {
        self.0.insert(field.name().to_owned(), json!(value));
    }

    fn record_str(&mut self, field: &Field, value: &str) {
        self.0.insert(field.name().to_owned(), json!(value));
    }

    fn record_debug(&mut self, field: &Field, value: &dyn fmt::Debug) {
        self.0.insert(field.name().to_owned(), json!(format!("{value:?}")));
    }
}
