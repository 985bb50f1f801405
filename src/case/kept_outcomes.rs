//! The outcomes of a case that is over, kept beside its events: reading them takes a fraction of working them out. In: the
//! case as its last event leaves it. Out: the same outcomes, sealed under the case's key.

use serde::{Deserialize, Serialize};

use crate::journal::{Scoped, WriteView};
use crate::quantity::Moment;

use super::alert_outcomes::{EntryOutcome, Uncounted};
use super::code::CaseCode;
use super::error::CaseError;
use super::formularies::Known;
use super::list::set_up_rows;
use super::state::Case;
use super::{Cases, opened_cases, read_case};

/// As they are kept.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct KeptOutcomes {
    version: u8,
    /// The program whose rules were asked.
    program: String,
    /// The latest time in the case. Counts as of an earlier time are worked out for that time.
    as_of: Moment,
    pub(super) outcomes: Vec<EntryOutcome>,
}

const VERSION: u8 = 1;

impl KeptOutcomes {
    /// What is kept of a case; nothing where it must be worked out.
    pub(super) fn read(past: &WriteView<'_>, code: CaseCode, now: Moment) -> Result<Option<Self>, CaseError> {
        let Scoped::Kept(text) = past.scoped(&code.scope())? else { return Ok(None) };
        let kept = serde_json::from_str(&text).ok();
        Ok(kept.filter(|kept: &Self| kept.version == VERSION && !now.is_before(kept.as_of)))
    }

    /// As it is kept of a case that is over; nothing where it cannot be worked out, or somebody is waited for.
    pub(super) fn text(case: &Case, past: &WriteView<'_>, known: &Known) -> Option<String> {
        let records = case.set_ups.iter().flat_map(|set_up| &set_up.record).map(|one| one.at);
        let entries = case.set_ups.iter().flat_map(|set_up| &set_up.readings).flat_map(|reading| &reading.entries);
        let later = |one: Moment, other: Moment| if one.is_before(other) { other } else { one };
        let as_of = records.chain(entries.map(|entry| entry.at)).reduce(later)?;
        let mut waiting = Vec::new();
        let outcomes = case.outcomes(past, known, as_of, &mut waiting).ok().filter(|_| waiting.is_empty())?;
        let kept = Self { version: VERSION, program: env!("CARGO_PKG_VERSION").to_owned(), as_of, outcomes };
        serde_json::to_string(&kept).ok()
    }

    /// Whether what is kept of a case is something else than this program would keep. What a program of another version has
    /// kept stays: it says what was said by the rules of then.
    pub(super) fn differs(text: Option<&str>, past: &WriteView<'_>, code: CaseCode) -> Result<bool, CaseError> {
        let kept = match past.scoped(&code.scope())? {
            Scoped::NotKept => return Ok(false),
            Scoped::Altered => return Ok(true),
            Scoped::Kept(kept) => kept,
        };
        let by_this = |kept: &Self| kept.version == VERSION && kept.program == env!("CARGO_PKG_VERSION");
        Ok(text != Some(&kept) && serde_json::from_str(&kept).is_ok_and(|kept| by_this(&kept)))
    }
}

impl Cases {
    /// Calls `with` for every reading of every set-up whose latest reading waits for nobody, in the order of their cases.
    ///
    /// # Errors
    /// When a case cannot be read.
    pub fn each_judged(&self, now: Moment, mut with: impl FnMut(EntryOutcome)) -> Result<Uncounted, CaseError> {
        self.journal.look(|past| {
            let mut uncounted = Uncounted::default();
            for code in opened_cases(past)? {
                if let Some(kept) = KeptOutcomes::read(past, code, now)? {
                    kept.outcomes.into_iter().for_each(&mut with);
                    continue;
                }
                let case = read_case(code, past, &self.known)?;
                if case.forgotten_at.is_some() {
                    uncounted.forgotten += 1;
                    continue;
                }
                let outcomes = case.outcomes(past, &self.known, now, &mut uncounted.waiting)?;
                outcomes.into_iter().for_each(&mut with);
                let rows = set_up_rows(&case, &|_, _| Ok(None), now)?;
                for owed in rows.iter().filter(|row| !row.over).flat_map(|row| &row.owed) {
                    *uncounted.outstanding.entry(owed.code).or_default() += 1;
                }
            }
            Ok(uncounted)
        })
    }
}
