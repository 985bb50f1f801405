//! Which cases are not over: an index beside the events, so that the list reads none of those that are. In: events as they
//! are written. Out: one row for each case that is not over, and for the few that came to their end last.
//!
//! The rule is here alone. A case is over when it was forgotten, or when each of its set-ups is closed and nothing is
//! outstanding; a correction can open it again. A case that cannot be read is not over.

use std::collections::{BTreeMap, BTreeSet};

use crate::formulary::Formulary;
use crate::journal::{
    Event, Head, JournalError, Of, Projected, ProjectedChange, Projection, Projector, Verified, VerifyError, WriteView,
};
use crate::quantity::Moment;

use super::Cases;
use super::code::CaseCode;
use super::error::CaseError;
use super::formularies::{KEPT, Known, indexed};
use super::list::{SetUpRow, set_up_rows};
use super::read_case;
use super::record_event::RecordEvent;
use super::state::{Case, FORGOTTEN, OPENED};

/// The table of the index.
const TABLE: &str = "case";

/// Number of cases shown that ended last.
const RECENTLY_OVER: usize = 10;

/// Number of cases read at once by a walk over all of them.
const PAGE: usize = 50;

/// Which of the cases that are over a list reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OverCases {
    /// None.
    LeftOut,
    /// The ten that came to their end last.
    Recent,
    /// Every one there ever was: it takes the longer, the more there are.
    All,
}

/// The cases at a glance.
#[derive(Debug, Clone)]
pub struct CaseList {
    /// The rows, in the order in which the cases were opened; a display that differs first.
    pub rows: Vec<SetUpRow>,
    /// How many cases are over and were not read.
    pub over_left_out: u64,
    /// Where they are, looked at from the newest back: see [`Cases::opened_before`].
    pub older: Option<u64>,
    /// The index is not as it was written: what is wrong. Then every case was read instead.
    pub altered: Option<String>,
}

impl CaseList {
    /// What is said above the rows where the index is not as it was written.
    #[must_use]
    pub fn warning(&self) -> Option<String> {
        self.altered.as_ref().map(|why| {
            format!(
                "THE INDEX OF CASES WAS CHANGED: {why}. Every case was read instead; run `countersign journal verify`."
            )
        })
    }
}

/// A row of the index.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct IndexedCase {
    code: CaseCode,
    /// The event that opened it.
    opened: u64,
    /// Its last event, once it is over.
    over_since: Option<u64>,
}

impl IndexedCase {
    fn parse(key: &str, value: &str) -> Option<Self> {
        let mut words = value.split(' ');
        let state = words.next()?;
        let opened = words.next()?.parse().ok()?;
        let over_since = words.next().map(str::parse).transpose().ok()?;
        (over_since.is_some() == (state == "over") && words.next().is_none()).then_some(Self {
            code: CaseCode::parse(key).ok()?,
            opened,
            over_since,
        })
    }

    fn row(&self) -> Projected {
        let value = match self.over_since {
            None => format!("open {}", self.opened),
            Some(since) => format!("over {} {since}", self.opened),
        };
        Projected { name: TABLE, key: self.code.scope(), value }
    }
}

/// What the events of a case say of it.
struct CaseNow {
    /// Nothing once it was forgotten.
    indexed: Option<IndexedCase>,
    /// What is not readable counts as not over.
    is_readable: bool,
}

/// Works new events into the index.
pub(super) fn projector(known: Known) -> Projector {
    Box::new(move |past, appended| {
        let mut changes: Vec<ProjectedChange> = Vec::new();
        for event in appended {
            // What this program has just written, it can read.
            changes.extend(indexed(event).ok().flatten().map(ProjectedChange::Put));
        }
        let touched: BTreeSet<CaseCode> = appended.iter().filter_map(case_of).collect();
        if touched.is_empty() {
            return Ok(changes);
        }
        let rows = past.projection(TABLE)?.unwrap_or_default();
        let mut over: Vec<IndexedCase> =
            rows.iter().filter_map(|(key, value)| IndexedCase::parse(key, value)).collect();
        over.retain(|row| row.over_since.is_some() && !touched.contains(&row.code));
        for code in touched {
            match case_now(past, &known, code)?.indexed {
                None => changes.push(ProjectedChange::Remove(TABLE, code.scope())),
                Some(row) => {
                    over.extend(row.over_since.map(|_| row));
                    changes.push(ProjectedChange::Put(row.row()));
                }
            }
        }
        over.sort_by_key(|row| row.over_since);
        let too_many = over.len().saturating_sub(RECENTLY_OVER);
        changes.extend(over[..too_many].iter().map(|row| ProjectedChange::Remove(TABLE, row.code.scope())));
        Ok(changes)
    })
}

fn case_of(event: &Event) -> Option<CaseCode> {
    CaseCode::parse(event.scope()?).ok()
}

fn case_now(past: &WriteView<'_>, known: &Known, code: CaseCode) -> Result<CaseNow, JournalError> {
    let scope = code.scope();
    let events = past.events(Of::Scope(&scope))?;
    let (Some(first), Some(last)) = (events.first(), events.last()) else {
        return Ok(CaseNow { indexed: None, is_readable: true });
    };
    let read = || {
        let case = read_case(code, past, known)?;
        if case.forgotten_at.is_some() {
            return Ok(None);
        }
        is_over(&case, past).map(Some)
    };
    let read: Result<Option<bool>, CaseError> = read();
    let is_readable = read.is_ok();
    let indexed = read.unwrap_or(Some(false)).map(|is_over| IndexedCase {
        code,
        opened: first.seq(),
        over_since: is_over.then_some(last.seq()),
    });
    Ok(CaseNow { indexed, is_readable })
}

fn is_over(case: &Case, past: &WriteView<'_>) -> Result<bool, CaseError> {
    let may_be_closed = |what: &RecordEvent| matches!(what, RecordEvent::Close { .. } | RecordEvent::Correct { .. });
    let records = || case.set_ups.iter().map(|set_up| &set_up.record);
    if case.set_ups.is_empty() || !records().all(|record| record.iter().any(|one| may_be_closed(&one.what.what))) {
        return Ok(false);
    }
    // By the record as a whole: what was written by a clock that was ahead counts too.
    let mut now = past.now();
    for signed in records().flatten() {
        now = if now.is_before(signed.at) { signed.at } else { now };
    }
    let rows = set_up_rows(case, &|_, _| Ok(None), now)?;
    Ok(rows.iter().all(|row| row.over && row.owed.is_empty()))
}

impl Cases {
    /// The cases at a glance: those that are not over, and of the others as many as asked for.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn list(&self, over: OverCases, current: Option<&Formulary>, now: Moment) -> Result<CaseList, CaseError> {
        if let Some(current) = current {
            self.fits(current)?;
        }
        let mut found = if over == OverCases::All { None } else { Some(self.journal.projection(TABLE)?) };
        if found == Some(Projection::NotFilled) {
            self.fill_index()?;
            found = Some(self.journal.projection(TABLE)?);
        }
        match found {
            Some(Projection::Whole(rows)) => {
                let mut indexed: Vec<IndexedCase> =
                    rows.iter().filter_map(|(key, value)| IndexedCase::parse(key, value)).collect();
                indexed.retain(|row| row.over_since.is_none() || over == OverCases::Recent);
                indexed.sort_by_key(|row| row.opened);
                let rows = self.rows_of_cases(indexed.iter().map(|row| row.code), current, now)?;
                let in_all = self.journal.count(OPENED)?.saturating_sub(self.journal.count(FORGOTTEN)?);
                let over_left_out = in_all.saturating_sub(indexed.len().try_into().unwrap_or(u64::MAX));
                let older = if over_left_out > 0 { Some(self.journal.head()?.seq + 1) } else { None };
                Ok(CaseList { rows, over_left_out, older, altered: None })
            }
            found => {
                let rows = self.rows_of_cases(self.codes()?.into_iter(), current, now)?;
                let altered = match found {
                    Some(Projection::Altered { why, rows: kept }) => Some(in_words(&why, &kept, &rows)),
                    _ => None,
                };
                Ok(CaseList { rows, over_left_out: 0, older: None, altered })
            }
        }
    }

    /// The cases opened before an event, the newest first: at most 50 at once, over or not.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn opened_before(&self, before: u64, current: Option<&Formulary>, now: Moment) -> Result<CaseList, CaseError> {
        let mut opened = Vec::new();
        self.journal.newest(OPENED, Some(before), |event| {
            opened.push((event.seq(), case_of(&event)));
            opened.len() <= PAGE
        })?;
        let older = (opened.len() > PAGE).then(|| opened[PAGE - 1].0);
        let codes = opened.iter().take(PAGE).filter_map(|(_, code)| *code);
        Ok(CaseList { rows: self.rows_of_cases(codes, current, now)?, over_left_out: 0, older, altered: None })
    }

    /// Works the index out where an earlier program wrote the journal, and none ever was: once for each journal.
    ///
    /// # Errors
    /// When the journal cannot be read or written.
    pub fn fill_index(&self) -> Result<(), CaseError> {
        if self.journal.projection(TABLE)? == Projection::NotFilled { self.index_anew() } else { Ok(()) }
    }

    /// Works the index out from every event there is, and puts it in the place of the one that is kept. Others may write
    /// meanwhile.
    ///
    /// # Errors
    /// When the journal cannot be read or written.
    pub fn index_anew(&self) -> Result<(), CaseError> {
        let mut cases: BTreeMap<CaseCode, CaseNow> = BTreeMap::new();
        let mut after = 0;
        loop {
            let (_, touched) = self.journal.scopes_after(after)?;
            let touched: Vec<CaseCode> = touched.iter().filter_map(|scope| CaseCode::parse(scope).ok()).collect();
            let (head, editions) = self.journal.look(|past| {
                for code in touched {
                    cases.insert(code, case_now(past, &self.known, code)?);
                }
                Ok::<_, CaseError>((past.head(), editions(past)?))
            })?;
            let mut indexed: Vec<IndexedCase> = cases.values().filter_map(|case| case.indexed).collect();
            indexed.sort_by_key(|row| (row.over_since.is_some(), row.over_since));
            let over = indexed.iter().filter(|row| row.over_since.is_some()).count();
            let first_over = indexed.len() - over;
            indexed.drain(first_over..indexed.len() - over.min(RECENTLY_OVER));
            let rows: Vec<Projected> = indexed.iter().map(IndexedCase::row).chain(editions).collect();
            if self.journal.replace_projection(head, &rows)? {
                return Ok(());
            }
            after = head.seq;
        }
    }

    /// Reads every event, as [`crate::journal::Journal::verify`], and then holds the index against what they say.
    ///
    /// # Errors
    /// [`VerifyError`], which names the first event or row that is not as it was written.
    pub fn verify(&self, against: &[Head], progress: &mut dyn FnMut(u64, u64)) -> Result<Verified, VerifyError> {
        let verified = self.journal.verify(against, progress)?;
        match self.index_differs() {
            Ok(None) => Ok(verified),
            Ok(Some(why)) => Err(VerifyError::Index(why)),
            Err(CaseError::Journal(error)) => Err(error.into()),
            Err(error) => Err(VerifyError::File(error.to_string())),
        }
    }

    /// Holds the index against every event there is: what does not follow from them, if anything.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn index_differs(&self) -> Result<Option<String>, CaseError> {
        let Projection::Whole(_) = self.journal.projection(TABLE)? else { return Ok(None) };
        self.journal.look(|past| {
            let rows = past.projection(TABLE)?.unwrap_or_default();
            let mut kept: BTreeMap<&str, &str> =
                rows.iter().map(|(key, value)| (key.as_str(), value.as_str())).collect();
            for code in past.events(Of::Kind(OPENED))?.iter().filter_map(case_of) {
                let CaseNow { indexed, is_readable } = case_now(past, &self.known, code)?;
                let expected = indexed.filter(|_| is_readable).map(|row| (row, row.row().value));
                match (expected, kept.remove(&*code.scope())) {
                    (Some((row, _)), None) if row.over_since.is_none() => {
                        return Ok(Some(format!("case {code} is not over, and is missing from it")));
                    }
                    (Some((_, value)), Some(kept)) if value != kept => {
                        return Ok(Some(format!("it says `{kept}` of case {code}, and by its events it is `{value}`")));
                    }
                    (None, Some(_)) if is_readable => {
                        return Ok(Some(format!("case {code} was forgotten, and is still in it")));
                    }
                    _ => {}
                }
            }
            if let Some(key) = kept.keys().next() {
                return Ok(Some(format!("`{key}` is in it, and no such case was opened")));
            }
            for row in editions(past)? {
                if past.projected(row.name, &row.key)?.as_ref() != Some(&row.value) {
                    return Ok(Some(format!("it does not say that event {} keeps an edition", row.value)));
                }
            }
            Ok(None)
        })
    }

    fn rows_of_cases(
        &self,
        codes: impl Iterator<Item = CaseCode>,
        current: Option<&Formulary>,
        now: Moment,
    ) -> Result<Vec<SetUpRow>, CaseError> {
        let mut rows = Vec::new();
        for code in codes {
            let of_case = self.case(code).and_then(|case| match case.forgotten_at {
                Some(_) => Ok(Vec::new()),
                None => self.rows(&case, current, now),
            });
            match of_case {
                Ok(of_case) => rows.extend(of_case),
                Err(error) => rows.push(SetUpRow::unreadable(code, error)?),
            }
        }
        rows.sort_by_key(SetUpRow::urgency);
        Ok(rows)
    }
}

/// Which event keeps which edition: of two that keep the same, the later.
fn editions(past: &WriteView<'_>) -> Result<Vec<Projected>, CaseError> {
    let mut rows: BTreeMap<String, Projected> = BTreeMap::new();
    for event in past.events(Of::Kind(KEPT))? {
        rows.extend(indexed(&event)?.map(|row| (row.key.clone(), row)));
    }
    Ok(rows.into_values().collect())
}

/// What is wrong with the index, with the cases that it hides.
fn in_words(why: &str, kept: &[(String, String)], rows: &[SetUpRow]) -> String {
    let mut hidden: Vec<String> = Vec::new();
    for row in rows.iter().filter(|row| !row.over || !row.owed.is_empty()) {
        let is_listed = kept.iter().any(|(key, value)| {
            IndexedCase::parse(key, value).is_some_and(|known| known.code == row.case && known.over_since.is_none())
        });
        let name = row.case.to_string();
        if !is_listed && hidden.last() != Some(&name) {
            hidden.push(name);
        }
    }
    if hidden.is_empty() { why.to_owned() } else { format!("{why}; it hides {}", hidden.join(", ")) }
}
