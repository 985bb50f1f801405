//! Proves that nothing was changed, moved or taken out. In: the database, and heads that were kept elsewhere. Out: how
//! many events there are, or the first that is not as it was written.

use std::collections::{BTreeMap, HashMap};

use super::event::{Event, EventRow, KIND_CREATED, KIND_FORGOTTEN};
use super::head::{Hash, Head};
use super::keys::Keys;
use super::proof::{self, GroupHeads};
use super::{Journal, JournalError, Of, STORE, projection, read, schema, write};

/// Every event is as it was written, and every head that was held against them fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Verified {
    /// The last event.
    pub head: Head,
    /// How many heads from elsewhere were held against it.
    pub against: u64,
}

/// What is not as it was written.
#[derive(Debug, thiserror::Error)]
pub enum VerifyError {
    /// The first event that does not fit.
    #[error("event {seq}: {why}")]
    Event {
        /// Its number.
        seq: u64,
        /// What about it.
        why: String,
    },
    /// Every event is whole, and the file around them is not.
    #[error("the file: {0}")]
    File(String),
    /// Every event is whole, and the index beside them, which follows from them, is not as it was written.
    #[error("the index beside the events: {0}")]
    Index(String),
    /// It could not be read.
    #[error(transparent)]
    Journal(#[from] JournalError),
}

impl VerifyError {
    /// What to do now.
    #[must_use]
    pub const fn help(&self) -> &'static str {
        match self {
            Self::Index(_) => {
                "Every event is as it was written. Until the index is mended, the list reads every case there ever was: \
                 countersign journal verify --mend"
            }
            _ => "Write nothing more into it. Keep the folder as it is, and restore the last backup into a new one.",
        }
    }
}

impl Journal {
    /// Reads every event once, in order: hash, link to the event before, signature, number, and each column against the
    /// bytes, and its tag; then how many events each case and kind has, and the triggers and indexes of the file. An older
    /// copy of the whole file proves itself: only a head kept elsewhere reveals the missing events. `progress` is given
    /// how many events are done, of how many.
    ///
    /// # Errors
    /// [`VerifyError`], which names the first bad event.
    pub fn verify(&self, against: &[Head], progress: &mut dyn FnMut(u64, u64)) -> Result<Verified, VerifyError> {
        // One view of the file, whatever is written meanwhile.
        let view = self.connection.unchecked_transaction().map_err(JournalError::from)?;
        let total = read::last(&view, &self.id, &self.keys).map_or(0, |last| last.seq());
        let mut chain = Chain::new(self, against);
        let read = read::each_row(&view, |row| {
            let seq = chain.next(row)?;
            progress(seq, total.max(seq));
            Ok(())
        });
        match read {
            Err(VerifyError::Journal(error)) => return Err(chain.unreadable(error)),
            read => read?,
        }
        chain.none_cut_off(&view)?;
        let groups = std::mem::take(&mut chain.groups);
        let head = chain.end()?;
        if let Some((group, why)) = groups.differs(&view, &self.keys)? {
            return Err(VerifyError::File(format!("the group `{group}`: {why}")));
        }
        if let Some(why) = projection::altered(&view, &self.keys, head, self.is_projected)? {
            return Err(VerifyError::Index(why));
        }
        file_is_sound(&view)?;
        // A key that came back after its case was forgotten goes again.
        for forgotten in read::events(&view, &self.id, &self.keys, Of::Kind(KIND_FORGOTTEN))? {
            forgotten.scope().map_or(Ok(()), |scope| self.keys.forget(scope))?;
        }
        Ok(Verified { head, against: against.len().try_into().unwrap_or(u64::MAX) })
    }
}

impl Journal {
    /// Reads what was written since an event up to which the journal was verified before, and that this event and every
    /// head from elsewhere are there still.
    ///
    /// # Errors
    /// [`VerifyError`], which names the first bad event.
    pub fn verify_since(&self, since: Head, against: &[Head]) -> Result<Verified, VerifyError> {
        let view = self.connection.unchecked_transaction().map_err(JournalError::from)?;
        let (before, later): (Vec<Head>, Vec<Head>) = against.iter().partition(|head| head.seq <= since.seq);
        for kept in before.iter().chain([&since]) {
            let event = read::event(&view, &self.id, &self.keys, kept.seq)?;
            let why = match event {
                Some(event) if event.hash() == kept.hash => continue,
                Some(event) => format!("its hash is {}, and {} was kept elsewhere", event.hash(), kept.hash),
                None => format!("it is missing: event {} was known elsewhere", kept.seq),
            };
            return Err(VerifyError::Event { seq: kept.seq, why });
        }
        let mut chain = Chain::new(self, &later);
        for event in read::introductions(&view, &self.id, &self.keys, since.seq)? {
            chain.signers.extend(event.introduces().map(|new| (new.id, new.key)));
        }
        chain.go_on_after(since);
        let after = i64::try_from(since.seq).unwrap_or(i64::MAX);
        match read::each_row_after(&view, after, |row| chain.next(row).map(|_| ())) {
            Err(VerifyError::Journal(error)) => return Err(chain.unreadable(error)),
            read => read?,
        }
        chain.none_cut_off(&view)?;
        let head = chain.end()?;
        if let Some(why) = projection::altered(&view, &self.keys, head, self.is_projected)? {
            return Err(VerifyError::Index(why));
        }
        Ok(Verified { head, against: against.len().try_into().unwrap_or(u64::MAX) })
    }
}

/// How far the chain has been followed.
pub(super) struct Chain<'j> {
    journal: &'j str,
    keys: &'j Keys,
    /// Whether each event has its tag: none has while a journal of an earlier program is brought up.
    tagged: bool,
    groups: GroupHeads,
    last: Option<Head>,
    signers: HashMap<String, [u8; 32]>,
    heads: BTreeMap<u64, Vec<Hash>>,
}

impl<'j> Chain<'j> {
    fn new(journal: &'j Journal, against: &[Head]) -> Self {
        let mut heads: BTreeMap<u64, Vec<Hash>> = BTreeMap::new();
        for head in against {
            heads.entry(head.seq).or_default().push(head.hash);
        }
        Self { heads, tagged: true, ..Self::untagged(&journal.id, &journal.keys) }
    }

    pub(super) fn untagged(journal: &'j str, keys: &'j Keys) -> Self {
        let (groups, heads) = (GroupHeads::default(), BTreeMap::new());
        Self { journal, keys, tagged: false, groups, last: None, signers: HashMap::new(), heads }
    }

    /// Leaves an event that does not fit, and follows the chain from there.
    pub(super) fn go_on_after(&mut self, head: Head) {
        self.last = Some(head);
    }

    /// The number of the next event, if this is it.
    pub(super) fn next(&mut self, row: EventRow) -> Result<u64, VerifyError> {
        let seq = self.expected();
        let refuse = |why: String| Err(VerifyError::Event { seq, why });
        if row.seq != seq {
            return refuse(format!("it is missing: the next that is there is event {}", row.seq));
        }
        let signature = row.signature.clone();
        let is_tagged = !self.tagged || proof::is_tagged(&row, Hash::of(&row.bytes), self.keys);
        let event = Event::of_row(row, self.journal).or_else(refuse_with(seq))?;
        let before = self.last.map_or(Hash::NONE, |last| last.hash);
        if event.envelope().previous != before {
            return refuse(format!("it follows {}, and the event before it is {before}", event.envelope().previous));
        }
        if seq == 1 && event.kind() != KIND_CREATED {
            return refuse("it does not say how the journal was made".to_owned());
        }
        let store = self.keys.store_public();
        let public = if event.by() == STORE { Some(&store) } else { self.signers.get(event.by()) };
        let Some(public) = public else {
            return refuse(format!("`{}` signs, and no event before introduces that key", event.by()));
        };
        if !write::signed_by(public, event.bytes(), &signature) {
            return refuse(format!("its signature is not that of `{}`", event.by()));
        }
        if !is_tagged {
            return refuse("its tag is not the store's".to_owned());
        }
        if let Some(new) = event.introduces() {
            if new.id == STORE {
                return refuse("it introduces another store".to_owned());
            }
            self.signers.insert(new.id, new.key);
        }
        if let Some(kept) = self.heads.remove(&seq).into_iter().flatten().find(|kept| *kept != event.hash()) {
            return refuse(format!("its hash is {}, and {kept} was kept elsewhere", event.hash()));
        }
        self.last = Some(event.head());
        self.groups.take(&event);
        Ok(seq)
    }

    /// As many events are there as were written.
    fn none_cut_off(&self, view: &rusqlite::Connection) -> Result<(), VerifyError> {
        let seq = self.expected();
        match proof::head(view, self.keys, Of::All)? {
            Some(head) if head.events >= seq => {
                let why = format!("it is missing: {} events were written", head.events);
                Err(VerifyError::Event { seq, why })
            }
            _ => Ok(()),
        }
    }

    fn end(mut self) -> Result<Head, VerifyError> {
        let missing = self.expected();
        if let Some((seq, _)) = self.heads.pop_first() {
            let why = match self.last {
                Some(last) if seq > 0 => {
                    format!(
                        "it is missing: the journal ends with event {}, and event {seq} was known elsewhere",
                        last.seq
                    )
                }
                _ => "there is no such event".to_owned(),
            };
            return Err(VerifyError::Event { seq: if seq == 0 { 0 } else { missing }, why });
        }
        self.last.ok_or_else(|| VerifyError::Event { seq: 1, why: "it is missing: there are no events".to_owned() })
    }

    fn unreadable(&self, error: JournalError) -> VerifyError {
        match error {
            JournalError::EventDamaged { seq, why } => VerifyError::Event { seq, why },
            JournalError::Damaged { why } | JournalError::EventsMissing { why, .. } => {
                VerifyError::Event { seq: self.expected(), why }
            }
            error => error.into(),
        }
    }

    fn expected(&self) -> u64 {
        self.last.map_or(0, |last| last.seq) + 1
    }
}

fn refuse_with<T>(seq: u64) -> impl FnOnce(String) -> Result<T, VerifyError> {
    move |why| Err(VerifyError::Event { seq, why })
}

/// Events that are whole can still be hidden by an index, or be unguarded by a trigger that was taken away.
fn file_is_sound(view: &rusqlite::Connection) -> Result<(), VerifyError> {
    let damaged = |error: rusqlite::Error| match JournalError::from(error) {
        JournalError::Damaged { why } => VerifyError::File(why),
        error => error.into(),
    };
    let found = schema::definition(view).map_err(damaged)?;
    let expected = schema::expected_definition().map_err(damaged)?;
    let differs =
        expected.iter().find(|item| !found.contains(item)).or(found.iter().find(|item| !expected.contains(item)));
    if let Some((kind, name, _)) = differs {
        return Err(VerifyError::File(format!("the {kind} `{name}` is not as this program makes it")));
    }
    let said: String = view.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0)).map_err(damaged)?;
    if said == "ok" { Ok(()) } else { Err(VerifyError::File(said)) }
}

#[cfg(test)]
mod tests;
