//! The whole journal as JSON lines. Out: each event's bytes as they were written, its hash and signature, and a signed
//! head at the end. In: such lines, as a proof from elsewhere.

use std::io::{self, BufRead, Write};
use std::path::Path;

use data_encoding::HEXLOWER;
use serde::{Deserialize, Serialize};

use super::event::Envelope;
#[cfg(feature = "backup")]
use super::event::KIND_FORGOTTEN;
use super::head::{Hash, Head};
use super::{Journal, JournalError, read};

const WHAT: &str = "export";

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ExportLine<'l> {
    seq: u64,
    /// The bytes of the event, which are JSON themselves, as a text.
    event: std::borrow::Cow<'l, str>,
    hash: Hash,
    signature: String,
}

impl Journal {
    /// Writes every event as a line of JSON, then a line with the last number and hash, signed by the store. Its time is
    /// that of the last event: the same journal gives the same bytes.
    ///
    /// # Errors
    /// [`JournalError`] when an event is damaged, or nothing can be written.
    pub fn export(&self, out: &mut dyn Write) -> Result<Head, JournalError> {
        let view = self.connection.unchecked_transaction()?;
        let mut last = None;
        read::each_row(&view, |row| {
            let (seq, signature) = (row.seq, HEXLOWER.encode(&row.signature));
            let damaged = |why| JournalError::EventDamaged { seq, why };
            let event = read::proved(row, &self.id, &self.keys)?;
            let text = std::str::from_utf8(event.bytes()).map_err(|error| damaged(error.to_string()))?;
            write_line(out, &ExportLine { seq, event: text.into(), hash: event.hash(), signature })?;
            last = Some((event.head(), event.at()));
            Ok::<(), JournalError>(())
        })?;
        let (head, at) = last.ok_or_else(|| JournalError::Damaged { why: "it has no events".to_owned() })?;
        writeln!(out, "{}", self.signed_head(head, at)).map_err(unwritable)?;
        out.flush().map_err(unwritable)?;
        Ok(head)
    }

    /// The head after every event of an export of this journal; see [`Journal::verify`]. Reads it as a stream.
    ///
    /// # Errors
    /// [`JournalError`] when the export is not whole or not as it was written, or is of another journal.
    pub fn exported_heads(&self, export: &mut dyn BufRead) -> Result<Vec<Head>, JournalError> {
        let mut heads = Vec::new();
        self.read_export(export, |head, _| heads.push(head))?;
        Ok(heads)
    }

    /// The scopes that are forgotten in an export.
    #[cfg(feature = "backup")]
    pub(super) fn exported_forgotten(&self, export: &mut dyn BufRead) -> Result<Vec<String>, JournalError> {
        let mut forgotten = Vec::new();
        self.read_export(export, |_, event| {
            forgotten.extend(event.scope.filter(|_| event.kind == KIND_FORGOTTEN));
        })?;
        Ok(forgotten)
    }

    /// Every event is held against its hash and the one before, and the last against what the store signed.
    fn read_export(&self, export: &mut dyn BufRead, mut each: impl FnMut(Head, Envelope)) -> Result<(), JournalError> {
        let mut last: Option<Head> = None;
        let mut text = String::new();
        for number in 1.. {
            let altered = |why: &str| JournalError::Altered { what: WHAT, line: number, why: why.to_owned() };
            text.clear();
            let read = export.read_line(&mut text).map_err(|error| altered(&error.to_string()))?;
            if read == 0 || !text.ends_with('\n') {
                return Err(altered("it ends in the middle"));
            }
            let Ok(line) = serde_json::from_str::<ExportLine<'_>>(&text) else {
                let end = self.read_checkpoint(&text, WHAT, number)?;
                return if last == Some(end.head) { Ok(()) } else { Err(altered("another last event was signed")) };
            };
            let head = Head { seq: last.map_or(0, |last| last.seq) + 1, hash: Hash::of(line.event.as_bytes()) };
            if line.seq != head.seq {
                return Err(altered(&format!("event {} is missing", head.seq)));
            }
            if line.hash != head.hash {
                return Err(altered("the event has another hash"));
            }
            let event: Envelope = serde_json::from_str(&line.event).map_err(|error| altered(&error.to_string()))?;
            if event.previous != last.map_or(Hash::NONE, |last| last.hash) {
                return Err(altered("it does not follow the event before"));
            }
            each(head, event);
            last = Some(head);
        }
        Err(JournalError::Altered { what: WHAT, line: u64::MAX, why: "it never ends".to_owned() })
    }
}

fn write_line(out: &mut dyn Write, line: &ExportLine<'_>) -> Result<(), JournalError> {
    let mut text = serde_json::to_string(line).expect("every key is a string");
    text.push('\n');
    out.write_all(text.as_bytes()).map_err(unwritable)
}

/// Kept as it is: a pipe that was closed is no fault.
fn unwritable(error: io::Error) -> JournalError {
    JournalError::File { path: Path::new("the export").to_owned(), error }
}
