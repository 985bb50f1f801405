//! Appends events. In: what is to be written, decided in sight of the past. Out: events on the disk, or none.

use rusqlite::{Connection, Transaction, TransactionBehavior};

use super::event::{Envelope, Event, EventRow, Introduced, IntroducedHex, KIND_CLOCK_CORRECTED};
use super::head::{Hash, Head};
use super::keys::{self, Keys, Signer};
use super::{Journal, JournalError, Of, STORE, Scoped, projection, proof, read, scoped};
use crate::quantity::Moment;

/// Before this no journal was written: an earlier clock was never set.
const FIRST_DAY: &str = "2026-01-01T00:00:00Z";

/// So long nothing was written, or the clock is wrong.
const LONG_SILENCE: i64 = 30 * DAY;
const DAY: i64 = 86_400;

/// Apart from everything else of which the journal makes a proof.
const REQUEST: &[u8] = b"countersign request 1\0";

/// What is to be appended.
#[derive(Debug)]
pub struct NewEvent<'s> {
    /// What kind of event it is.
    pub kind: &'static str,
    /// What it is about.
    pub scope: Option<String>,
    /// Who signs it: an unlocked person, or the store.
    pub by: Option<&'s Signer>,
    /// What is written.
    pub body: serde_json::Value,
    /// A new signer, whose signature counts from the next event on.
    pub introduces: Option<Introduced>,
}

/// Everything before, while nobody else can write.
#[derive(Debug, Clone, Copy)]
pub struct WriteView<'t> {
    connection: &'t Connection,
    journal: &'t str,
    keys: &'t Keys,
    head: Head,
    now: Moment,
    floor: Moment,
    doubt: Option<&'t str>,
    request: Option<Hash>,
}

impl WriteView<'_> {
    /// The events in question, in order.
    ///
    /// # Errors
    /// [`JournalError`] when one cannot be read or is damaged.
    pub fn events(&self, of: Of<'_>) -> Result<Vec<Event>, JournalError> {
        read::events(self.connection, self.journal, self.keys, of)
    }

    /// The event of this number, if there is one.
    ///
    /// # Errors
    /// [`JournalError`] when it cannot be read or is damaged.
    pub fn event(&self, seq: u64) -> Result<Option<Event>, JournalError> {
        read::event(self.connection, self.journal, self.keys, seq)
    }

    /// Hands on the events of a kind from the newest back, until `take` has enough.
    ///
    /// # Errors
    /// [`JournalError`] when one cannot be read or is damaged, or the newest is missing.
    pub fn newest(&self, kind: &str, take: impl FnMut(Event) -> bool) -> Result<(), JournalError> {
        read::newest(self.connection, self.journal, self.keys, kind, None, take)
    }

    /// What the projection says under a key of one of its tables; nothing where its row does not carry this journal's tag.
    ///
    /// # Errors
    /// [`JournalError`] when the database cannot be read.
    pub fn projected(&self, name: &str, key: &str) -> Result<Option<String>, JournalError> {
        projection::value(self.connection, self.keys, name, key)
    }

    /// The rows of a table of the projection; nothing where it is not whole.
    ///
    /// # Errors
    /// [`JournalError`] when the database cannot be read.
    pub fn projection(&self, name: &str) -> Result<Option<Vec<(String, String)>>, JournalError> {
        projection::rows(self.connection, self.keys, self.head, name)
    }

    /// What is kept of a scope.
    ///
    /// # Errors
    /// [`JournalError`] when the database or the scope's key cannot be read.
    pub fn scoped(&self, scope: &str) -> Result<Scoped, JournalError> {
        scoped::read(self.connection, self.journal, self.keys, scope)
    }

    /// Number and hash of the last event.
    #[must_use]
    pub const fn head(&self) -> Head {
        self.head
    }

    /// The request for which something is written, where its sender named one.
    #[must_use]
    pub const fn request(&self) -> Option<Hash> {
        self.request
    }

    /// Which journal it is.
    #[must_use]
    pub const fn journal_id(&self) -> &str {
        self.journal
    }

    /// The keys of the journal.
    #[must_use]
    pub const fn keys(&self) -> &Keys {
        self.keys
    }

    /// Signs in the store's name, as [`Journal::sign_as_store`].
    #[must_use]
    pub fn sign_as_store(&self, bytes: &[u8]) -> [u8; 64] {
        self.keys.sign_as_store(bytes)
    }

    /// What holds by the time never goes back before this; see [`Event::floor`].
    #[must_use]
    pub const fn floor(&self) -> Moment {
        self.floor
    }

    /// Why the time is in doubt, where somebody must say first that it is right.
    #[must_use]
    pub const fn clock_in_doubt(&self) -> Option<&str> {
        self.doubt
    }

    /// When what is decided will have been written; when the last event was, where nothing is to be written.
    #[must_use]
    pub const fn now(&self) -> Moment {
        self.now
    }
}

/// What is being written: the past, and every event that was appended since.
#[derive(Debug)]
pub struct Writing<'t> {
    transaction: &'t Transaction<'t>,
    past: WriteView<'t>,
    last: Event,
    appended: Vec<Event>,
}

impl<'t> std::ops::Deref for Writing<'t> {
    type Target = WriteView<'t>;

    fn deref(&self) -> &WriteView<'t> {
        &self.past
    }
}

impl Writing<'_> {
    /// Appends one event, which what follows already sees.
    ///
    /// # Errors
    /// [`JournalError`]; then nothing at all is written.
    pub fn append(&mut self, draft: NewEvent<'_>) -> Result<Event, JournalError> {
        self.last = append(self.transaction, &self.past, Some(&self.last), draft)?;
        (self.past.head, self.past.floor) = (self.last.head(), self.last.floor());
        self.appended.push(self.last.clone());
        Ok(self.last.clone())
    }
}

impl<'t> WriteView<'t> {
    /// Of a journal without any event.
    pub(super) const fn of_nothing(connection: &'t Connection, journal: &'t str, keys: &'t Keys, now: Moment) -> Self {
        let head = Head { seq: 0, hash: Hash::NONE };
        Self { connection, journal, keys, head, now, floor: now, doubt: None, request: None }
    }
}

impl Journal {
    /// Names the request for which something is written from now on, as its sender chose it; nothing where nobody waits
    /// for an answer that may be lost.
    pub fn for_request(&mut self, chosen: Option<&str>) {
        self.request = chosen.map(|chosen| Hash(self.keys.proof(&[REQUEST, chosen.as_bytes()].concat())));
    }

    /// Says why the time of what is written from now on is in doubt; nothing where it is not.
    pub fn doubt_clock(&mut self, why: Option<String>) {
        self.doubt = why;
    }

    /// The request for which something is written now.
    #[must_use]
    pub const fn request(&self) -> Option<Hash> {
        self.request
    }

    /// Names a request as it was kept before.
    pub const fn for_same_request(&mut self, request: Option<Hash>) {
        self.request = request;
    }

    /// Decides and appends as one: `decide` sees the past while nobody else can write, so that of two people who send
    /// the same thing one is first, and the other sees it. Returns when it is on the disk.
    ///
    /// # Errors
    /// Those of `decide`; [`JournalError`]. After an error nothing was written, unless the disk itself fails in the
    /// middle of the commit: then look before you do it again.
    pub fn write<'s, T, E: From<JournalError>>(
        &mut self,
        now: Moment,
        decide: impl FnOnce(&WriteView<'_>) -> Result<(Vec<NewEvent<'s>>, T), E>,
    ) -> Result<T, E> {
        self.write_in_steps(now, |writing| {
            let (drafts, answer) = decide(writing)?;
            for draft in drafts {
                writing.append(draft)?;
            }
            Ok(answer)
        })
    }

    /// As [`Journal::write`], where an event follows from another that is written with it.
    ///
    /// # Errors
    /// As for [`Journal::write`].
    pub fn write_in_steps<T, E: From<JournalError>>(
        &mut self,
        now: Moment,
        act: impl FnOnce(&mut Writing<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let begun = self.connection.transaction_with_behavior(TransactionBehavior::Immediate);
        let transaction = begun.map_err(JournalError::from)?;
        let last = read::last(&transaction, &self.id, &self.keys)?;
        let (request, floor, doubt) = (self.request, last.floor(), self.doubt.as_deref());
        let (journal, keys) = (&*self.id, &self.keys);
        let view = |head| WriteView { connection: &transaction, journal, keys, head, now, floor, doubt, request };
        let past = view(last.head());
        let before = last.head();
        let mut writing = Writing { transaction: &transaction, past, last, appended: Vec::new() };
        let answer = act(&mut writing)?;
        let Writing { last, appended, .. } = writing;
        if !appended.is_empty() && projection::is_whole(&transaction, &self.keys, before)? {
            // The rows are still tagged with the event before these.
            let changes = match &self.projector {
                Some(projector) => projector(&view(before), &appended)?,
                None => Vec::new(),
            };
            projection::follow(&transaction, &self.id, &self.keys, last.head(), changes)?;
        }
        transaction.commit().map_err(JournalError::from)?;
        Ok(answer)
    }

    /// Gives one view of the file: events that are written meanwhile are not in it.
    ///
    /// # Errors
    /// Those of `look`; [`JournalError`].
    pub fn look<T, E: From<JournalError>>(&self, look: impl FnOnce(&WriteView<'_>) -> Result<T, E>) -> Result<T, E> {
        let view = self.view()?;
        let last = read::last(&view, &self.id, &self.keys)?;
        let (head, now, floor, doubt) = (last.head(), last.at(), last.floor(), self.doubt.as_deref());
        let (journal, keys) = (&*self.id, &self.keys);
        look(&WriteView { connection: &view, journal, keys, head, now, floor, doubt, request: None })
    }
}

/// Writes one event after `last`, with its tag.
pub(super) fn append(
    transaction: &Transaction<'_>,
    view: &WriteView<'_>,
    last: Option<&Event>,
    draft: NewEvent<'_>,
) -> Result<Event, JournalError> {
    let WriteView { keys, journal, now, doubt, request, .. } = *view;
    if let Some(signer) = draft.by {
        let known = read::introducing(transaction, journal, keys, signer.id())?.and_then(|event| event.introduces());
        if known.is_none_or(|known| known.key != signer.public()) {
            return Err(JournalError::SignerUnknown { id: signer.id().to_owned() });
        }
    }
    if let Some(introduced) = draft.introduces.as_ref().filter(|new| new.id == STORE || new.id.is_empty()) {
        return Err(JournalError::SignerName { id: introduced.id.clone() });
    }
    let before = proof::head(transaction, keys, proof::group_of(draft.scope.as_deref()))?;
    let floor = last.map(Event::floor).filter(|floor| says_floor(*floor, now, doubt, draft.kind));
    let envelope = Envelope {
        v: Envelope::version(floor.is_some()),
        journal: journal.to_owned(),
        seq: last.map_or(0, Event::seq) + 1,
        previous: last.map_or(Hash::NONE, Event::hash),
        at: now.to_utc(),
        offset: now.offset(),
        by: draft.by.map_or(STORE, Signer::id).to_owned(),
        kind: draft.kind.to_owned(),
        scope: draft.scope,
        number: Some(before.map_or(0, |before| before.events) + 1),
        follows: before.map(|before| before.last.hash).into_iter().collect(),
        request,
        clock: odd_clock(now, last, doubt),
        floor: floor.map(Moment::to_utc),
        introduces: draft.introduces.map(|new| IntroducedHex { id: new.id, key: Hash(new.key) }),
        body: draft.body,
    };
    let bytes = envelope.bytes();
    let (hash, signature) = (Hash::of(&bytes), keys.sign_event(draft.by, &bytes));
    let sql =
        "INSERT INTO event (seq, kind, scope, introduces, bytes, hash, signature) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
    let introduces = envelope.introduces.as_ref().map(|new| &new.id);
    let seq =
        i64::try_from(envelope.seq).map_err(|_| JournalError::Damaged { why: "its numbers are used up".to_owned() })?;
    transaction.prepare_cached(sql)?.execute((
        seq,
        &envelope.kind,
        &envelope.scope,
        introduces,
        &bytes,
        hash.as_bytes(),
        signature,
    ))?;
    let row = EventRow {
        seq: envelope.seq,
        kind: envelope.kind,
        scope: envelope.scope,
        introduces: envelope.introduces.map(|new| new.id),
        bytes,
        hash: hash.as_bytes().to_vec(),
        signature: signature.to_vec(),
        tag: None,
    };
    let event = Event::of_row(row, journal).map_err(|why| JournalError::Damaged { why })?;
    proof::append(transaction, keys, &event)?;
    Ok(event)
}

/// Whether an event says the floor of time that held before it: its own time is earlier, or in doubt, and nobody corrects
/// the clock with it.
fn says_floor(floor: Moment, now: Moment, doubt: Option<&str>, kind: &str) -> bool {
    kind != KIND_CLOCK_CORRECTED && (now.is_before(floor) || doubt.is_some())
}

/// What the next reader should know about the time of this event.
fn odd_clock(now: Moment, last: Option<&Event>, doubt: Option<&str>) -> Option<String> {
    let mut notes = Vec::new();
    let first_day = Moment::parse(FIRST_DAY).expect("it is a moment");
    if now.is_before(first_day) {
        notes.push("the clock is not set".to_owned());
    }
    if let Some(last) = last {
        let seconds = now.seconds_since(last.at());
        if seconds < 0 {
            notes.push(format!("clock uncertain: it went back {}", lasting(seconds.unsigned_abs())));
        } else if now.is_before(last.floor()) {
            let behind = last.floor().seconds_since(now).unsigned_abs();
            notes.push(format!("clock uncertain: {} behind the latest event", lasting(behind)));
        } else if seconds > LONG_SILENCE {
            notes.push(format!("the clock is {} ahead of the event before", lasting(seconds.unsigned_abs())));
        }
        let (before, after) = (last.local_offset(), now.offset());
        if before != after {
            notes.push(format!("local time changed from {before} to {after}"));
        }
    }
    notes.extend(doubt.map(|why| format!("clock uncertain: {why}")));
    (!notes.is_empty()).then(|| notes.join("; "))
}

fn lasting(seconds: u64) -> String {
    match seconds {
        0..120 => format!("{seconds} s"),
        120..7_200 => format!("{} min", seconds / 60),
        7_200..172_800 => format!("{} h", seconds / 3_600),
        _ => format!("{} days", seconds / 86_400),
    }
}

/// The public key that must have signed an event, from those introduced before it.
pub(super) fn signed_by(public: &[u8; 32], bytes: &[u8], signature: &[u8]) -> bool {
    keys::verify_event(public, bytes, signature)
}

#[cfg(test)]
mod tests {
    use super::*;

    // hazard: H-RECORD
    #[test]
    fn a_full_disk_is_told_and_loses_nothing() {
        let folder = std::env::temp_dir().join(format!("countersign-full-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let mut journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        let write = |journal: &mut Journal, number: u64| {
            let body = serde_json::json!({"number": number, "fill": "x".repeat(500)});
            let draft = NewEvent { kind: "noted", scope: None, by: None, body, introduces: None };
            journal.write(now, |_| Ok::<_, JournalError>((vec![draft], number)))
        };
        journal.connection.pragma_update(None, "max_page_count", 20).expect("SQLite");
        let written: Vec<u64> = (0..1000).map_while(|number| write(&mut journal, number).ok()).collect();
        assert!((10..500).contains(&written.len()), "{}", written.len());
        for _ in 0..3 {
            assert!(matches!(write(&mut journal, 1000), Err(JournalError::Full)));
        }
        let head = journal.verify(&[], &mut |_, _| {}).expect("what was written is whole").head;
        assert_eq!(head.seq, 1 + written.len() as u64);
        journal.connection.pragma_update(None, "max_page_count", 1000).expect("SQLite");
        assert_eq!(write(&mut journal, 1000).expect("there is room again"), 1000);
        assert_eq!(journal.head().expect("a journal").seq, head.seq + 1);
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
