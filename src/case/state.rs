//! The state of a case: a fold over its events. Nothing here is ever written back; entries stay sealed.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::journal::{CaseKey, Event, Hash, Head, NewEvent, Signer};
use crate::quantity::Moment;

use super::code::{CaseCode, SetUpCode};
use super::decision::{Decided, Decision};
use super::editions::EditionsNow;
use super::error::{CaseError, refuse};
use super::record_event::{ReadBack, Recorded};
use super::recount::{KeptRecount, Recount, RecountOutcome};
use super::rounds::{RoundRead, RoundSignature};

/// One patient, any number of set-ups.
#[derive(Debug)]
pub struct Case {
    /// Its code.
    pub code: CaseCode,
    /// When it was opened.
    pub opened_at: Moment,
    /// By whom.
    pub opened_by: String,
    /// When what was sealed in it was made unreadable.
    pub forgotten_at: Option<Moment>,
    /// Its set-ups, in the order they were begun.
    pub set_ups: Vec<SetUp>,
    /// Readings of the weight after the first agreement.
    pub weights: Vec<Reread>,
    /// Identifiers that followed later.
    pub identifiers: Vec<Reread>,
    /// Every round.
    pub(super) rounds: Vec<Signed<RoundRead>>,
    /// The second signatures of rounds, each with the event of its round.
    pub(super) rounds_signed: Vec<Signed<u64>>,
    /// The last event.
    pub last: u64,
    /// It is no earlier than this, whatever the clock says: see [`Event::floor`].
    pub(super) floor: Moment,
    /// Which editions of the formulary were recalled, and which is in use: of the journal, and no event of the case.
    pub(super) editions: Arc<EditionsNow>,
    requests: Vec<(Hash, u64)>,
    key: Option<CaseKey>,
    journal: String,
}

/// One drug in one driver, syringe after syringe.
#[derive(Debug)]
pub struct SetUp {
    /// Its name.
    pub code: SetUpCode,
    /// Each syringe's entries, or another try at the same syringe.
    pub readings: Vec<Reading>,
    /// Every read-back, with the sequence number of its event.
    pub read_backs: Vec<Signed<ReadBack>>,
    /// What was read of it on rounds, with the event of the round.
    pub(super) round_reads: Vec<Signed<ReadBack>>,
    /// What happened, as recorded.
    pub record: Vec<Signed<Recorded>>,
}

/// The entries of two people about one syringe, over as many rounds as it took.
#[derive(Debug)]
pub struct Reading {
    /// Which reading of the set-up, from 1.
    pub number: u16,
    /// In the order they were sealed.
    pub entries: Vec<Sealed>,
    /// What followed from them.
    pub(super) decisions: Vec<Decided>,
    /// The set-up that it belongs to.
    pub(super) of_set_up: u16,
    /// What it came to with another weight, or with identifiers that followed.
    pub(super) recounts: Vec<KeptRecount>,
}

/// In which turn somebody enters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[serde(rename_all = "lowercase")]
pub enum EntryTurn {
    /// The first person.
    First,
    /// The second, blind.
    Second,
    /// A third, after two disagreements.
    Third,
    /// Alone, without a PIN.
    Emergency,
}

impl EntryTurn {
    /// How it is bound into what is sealed: these words never change.
    const fn as_bound(self) -> &'static str {
        match self {
            Self::First => "First",
            Self::Second => "Second",
            Self::Third => "Third",
            Self::Emergency => "Emergency",
        }
    }
}

/// One sealed entry.
#[derive(Debug)]
pub struct Sealed {
    /// The event.
    pub head: Head,
    /// When.
    pub at: Moment,
    /// Who signed it: a person, or the store for an emergency entry.
    pub by: String,
    /// In which turn.
    pub place: EntryTurn,
    /// In which round, from 1.
    pub round: u8,
    /// Against which formulary, byte for byte.
    pub edition: String,
    bound_to: Vec<String>,
    sealed: String,
}

/// What is inside a sealed entry.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Opened {
    /// The form, as typed.
    pub form: String,
    /// Whether it is JSON; else YAML.
    pub json: bool,
    /// Who entered it.
    pub name: String,
    /// In which role.
    pub role: String,
    /// Whether the form says the patient itself; else it is the one agreed on before.
    pub patient: bool,
    /// Whether that one was agreed on by two people who each signed; older entries took an emergency's too.
    #[serde(default)]
    pub patient_of_two: bool,
    /// The dose as it was typed again, in an emergency beyond the limits.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub dose_again: Option<String>,
}

/// A value of the patient that one person read again.
#[derive(Debug)]
pub struct Reread {
    /// The event.
    pub head: Head,
    /// When.
    pub at: Moment,
    /// By whom.
    pub by: String,
    bound_to: Vec<String>,
    sealed: String,
}

/// Something that somebody signed.
#[derive(Debug, Clone)]
pub struct Signed<T> {
    /// The event.
    pub seq: u64,
    /// When it was written down.
    pub at: Moment,
    /// By whom.
    pub by: String,
    /// What was odd about the clock then.
    pub clock: Option<String>,
    /// What.
    pub what: T,
}

pub(super) const OPENED: &str = "case-opened";
/// A second signature under a closing.
pub(super) const WITNESSED: &str = "witnessed";
pub(super) const ENTRY: &str = "entry-sealed";
/// What followed from entries, after the last one that was needed.
pub(super) const DECISION: &str = "decision";
/// What agreed entries came to with another weight, or with identifiers that followed.
pub(super) const RECOUNT: &str = "recount";
/// Earlier programs wrote down each look at a card.
pub(super) const CARD: &str = "card-given";
pub(super) const WEIGHT: &str = "weight-sealed";
pub(super) const IDENTIFIERS: &str = "identifiers-sealed";
/// Every driver of a patient, read blind at a handover.
pub(super) const ROUND: &str = "round";
/// The second signature of a round.
pub(super) const ROUND_SIGNED: &str = "round-signed";
pub(super) const READ_BACK: &str = "read-back";
pub(super) const RECORD: &str = "record";
/// Known to the journal too: a restored backup forgets again.
pub(super) const FORGOTTEN: &str = "forgotten";

/// The part of a body that anybody with the file may see.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct Header {
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) set_up: Option<u16>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) reading: Option<u16>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) place: Option<EntryTurn>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) round: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) edition: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) card: Option<CardHeader>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) sealed: Option<String>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct CardHeader {
    pub(super) hash: String,
    pub(super) program: String,
    pub(super) emergency: bool,
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub(super) checked_afterwards: bool,
}

impl Case {
    /// The event that was written for a request, if it was done before.
    pub(super) fn done_for(&self, request: Hash) -> Option<u64> {
        self.requests.iter().find(|(known, _)| *known == request).map(|(_, event)| *event)
    }

    /// The moment by which it is decided what has grown too old: now, and never before what was written already.
    pub(super) fn not_before_floor(&self, now: Moment) -> Moment {
        if now.is_before(self.floor) { self.floor } else { now }
    }

    /// Folds the events of one case. Without its key, what was sealed stays unread.
    ///
    /// # Errors
    /// When there is no such case, or an event is not what its kind says.
    pub(super) fn fold(
        code: CaseCode,
        events: &[Event],
        key: Option<CaseKey>,
        journal: &str,
    ) -> Result<Self, CaseError> {
        let Some(opened) = events.first().filter(|event| event.kind() == OPENED) else {
            return Err(refuse("case-unknown", format!("there is no case {code} here"), "see `countersign case list`"));
        };
        let mut case = Self {
            code,
            opened_at: opened.at(),
            opened_by: opened.by().to_owned(),
            forgotten_at: None,
            set_ups: Vec::new(),
            weights: Vec::new(),
            identifiers: Vec::new(),
            rounds: Vec::new(),
            rounds_signed: Vec::new(),
            last: 0,
            floor: opened.floor(),
            editions: Arc::default(),
            requests: Vec::new(),
            key,
            journal: journal.to_owned(),
        };
        for event in events {
            case.requests.extend(event.request().map(|request| (request, event.seq())));
            case.take(event)?;
        }
        if case.forgotten_at.is_some() {
            // A key that was read a moment before it was removed seals nothing more.
            case.key = None;
        }
        Ok(case)
    }

    /// Takes one event more of this case.
    pub(super) fn take(&mut self, event: &Event) -> Result<(), CaseError> {
        self.last = event.seq();
        match event.kind() {
            FORGOTTEN => {
                self.forgotten_at = Some(event.at());
                return Ok(());
            }
            ENTRY | DECISION | RECOUNT | WEIGHT | IDENTIFIERS | READ_BACK | RECORD | ROUND | ROUND_SIGNED => {}
            _ => return Ok(()),
        }
        let header: Header = super::read_body(event)?;
        let bound_to = self.bound_to(event.kind(), event.by(), &header);
        let sealed = header.sealed.clone().unwrap_or_default();
        match event.kind() {
            WEIGHT | IDENTIFIERS => {
                let by = event.by().to_owned();
                let reread = Reread { head: event.head(), at: event.at(), by, bound_to, sealed };
                let into = if event.kind() == WEIGHT { &mut self.weights } else { &mut self.identifiers };
                into.push(reread);
            }
            ENTRY => {
                let entry = Sealed {
                    head: Head { seq: event.seq(), hash: event.hash() },
                    at: event.at(),
                    by: event.by().to_owned(),
                    place: header.place.unwrap_or(EntryTurn::First),
                    round: header.round.unwrap_or(1),
                    edition: header.edition.clone().unwrap_or_default(),
                    bound_to,
                    sealed,
                };
                let number = header.reading.unwrap_or(1);
                let set_up = self.set_up_mut(&header);
                let of_set_up = set_up.code.number;
                match set_up.readings.iter_mut().find(|reading| reading.number == number) {
                    Some(reading) => reading.entries.push(entry),
                    None => set_up.readings.push(Reading {
                        number,
                        entries: vec![entry],
                        decisions: Vec::new(),
                        of_set_up,
                        recounts: Vec::new(),
                    }),
                }
            }
            DECISION => {
                let Some(key) = &self.key else { return Ok(()) };
                let plain = key.open(&as_strs(&bound_to), &sealed).map_err(|_| unsealable(event.seq()))?;
                let decision = Decision::read(&plain).map(Arc::new);
                let (number, place, round) = (header.reading, header.place, header.round);
                let set_up = self.set_up_mut(&header);
                let reading = set_up.readings.iter_mut().find(|reading| Some(reading.number) == number);
                let about = |entry: &&Sealed| Some(entry.place) == place && Some(entry.round) == round;
                let Some((reading, after)) = reading.and_then(|reading| {
                    let after = reading.entries.iter().find(about)?.head.seq;
                    Some((reading, after))
                }) else {
                    return Err(CaseError::Fault(format!("event {} decides about no entry of its case", event.seq())));
                };
                reading.decisions.push(Decided { after, decision, is_kept: true });
            }
            RECOUNT => {
                let Some(key) = &self.key else { return Ok(()) };
                let plain = key.open(&as_strs(&bound_to), &sealed).map_err(|_| unsealable(event.seq()))?;
                let recount = Recount::read(&plain).map(Arc::new);
                let decision = recount.as_ref().ok().and_then(|recount| match &recount.outcome {
                    RecountOutcome::NewCard(decision) => Some(Arc::new(Decision::clone(decision))),
                    RecountOutcome::BackToBoth(_) => None,
                });
                let number = header.reading;
                let set_up = self.set_up_mut(&header);
                let reading = set_up.readings.iter_mut().find(|reading| Some(reading.number) == number);
                let lost = || CaseError::Fault(format!("event {} counts no reading of its case", event.seq()));
                let kept = KeptRecount { seq: event.seq(), at: event.at(), recount, decision };
                reading.ok_or_else(lost)?.recounts.push(kept);
            }
            _ => {
                let Some(key) = &self.key else { return Ok(()) };
                let plain = key.open(&as_strs(&bound_to), &sealed).map_err(|_| unsealable(event.seq()))?;
                if event.kind() == ROUND {
                    let what: RoundRead = parse(&plain, event.seq())?;
                    for (number, read_back) in &what.of_set_ups {
                        let of_set_up = Header { set_up: Some(*number), ..Header::default() };
                        self.set_up_mut(&of_set_up).round_reads.push(signed(event, read_back.clone()));
                    }
                    self.rounds.push(signed(event, what));
                } else if event.kind() == ROUND_SIGNED {
                    let what: RoundSignature = parse(&plain, event.seq())?;
                    self.rounds_signed.push(signed(event, what.round));
                } else if event.kind() == READ_BACK {
                    let what = parse(&plain, event.seq())?;
                    self.set_up_mut(&header).read_backs.push(signed(event, what));
                } else {
                    let what = parse(&plain, event.seq())?;
                    self.set_up_mut(&header).record.push(signed(event, what));
                }
            }
        }
        Ok(())
    }

    fn set_up_mut(&mut self, header: &Header) -> &mut SetUp {
        let number = header.set_up.unwrap_or(1);
        let code = SetUpCode { case: self.code, number };
        let at = self.set_ups.iter().position(|set_up| set_up.code == code).unwrap_or_else(|| {
            self.set_ups.push(SetUp {
                code,
                readings: Vec::new(),
                read_backs: Vec::new(),
                round_reads: Vec::new(),
                record: Vec::new(),
            });
            self.set_ups.len() - 1
        });
        &mut self.set_ups[at]
    }

    /// One of its set-ups.
    ///
    /// # Errors
    /// When there is none of this number.
    pub fn set_up(&self, number: u16) -> Result<&SetUp, CaseError> {
        self.set_ups.iter().find(|set_up| set_up.code.number == number).ok_or_else(|| {
            let last = self.set_ups.len();
            let says = format!("case {} has no set-up {number}; it has {last}", self.code);
            refuse("set-up-unknown", says, format!("see `countersign case status {}`", self.code))
        })
    }

    /// What is inside a sealed entry. Only for the comparison, for the card, and for its own author's next round.
    pub(super) fn open(&self, entry: &Sealed) -> Result<Opened, CaseError> {
        parse(&self.unseal(&entry.bound_to, &entry.sealed, entry.head.seq)?, entry.head.seq)
    }

    /// What somebody read again of the patient.
    pub(super) fn open_reread<T: for<'de> Deserialize<'de>>(&self, reread: &Reread) -> Result<T, CaseError> {
        parse(&self.unseal(&reread.bound_to, &reread.sealed, reread.head.seq)?, reread.head.seq)
    }

    /// What is sealed in an event of this case that no second person reads blind.
    pub(super) fn unsealed<T: for<'de> Deserialize<'de>>(
        &self,
        event: &Event,
        header: &Header,
    ) -> Result<T, CaseError> {
        let bound_to = self.bound_to(event.kind(), event.by(), header);
        parse(&self.unseal(&bound_to, header.sealed.as_deref().unwrap_or_default(), event.seq())?, event.seq())
    }

    fn unseal(&self, bound_to: &[String], sealed: &str, seq: u64) -> Result<Vec<u8>, CaseError> {
        self.key()?.open(&as_strs(bound_to), sealed).map_err(|_| unsealable(seq))
    }

    pub(super) fn journal_id(&self) -> &str {
        &self.journal
    }

    pub(super) fn key(&self) -> Result<&CaseKey, CaseError> {
        self.key.as_ref().ok_or_else(|| {
            let says = format!("case {} was forgotten: what was sealed in it cannot be read any more", self.code);
            refuse("case-forgotten", says, "`countersign journal export` still tells what happened when, and by whom")
        })
    }

    /// An event of this case: `payload` sealed under its key and bound to the header and its author.
    pub(super) fn draft<'s>(
        &self,
        kind: &'static str,
        by: Option<&'s Signer>,
        mut header: Header,
        payload: Option<&impl Serialize>,
    ) -> Result<NewEvent<'s>, CaseError> {
        if let Some(payload) = payload {
            let bound_to = self.bound_to(kind, by.map_or(STORE, Signer::id), &header);
            let plain = serde_json::to_vec(payload).map_err(|error| CaseError::Fault(error.to_string()))?;
            header.sealed = Some(self.key()?.seal(&as_strs(&bound_to), &plain));
        }
        let body = super::to_value(&header)?;
        Ok(NewEvent { kind, scope: Some(self.code.scope()), by, body, introduces: None })
    }

    fn bound_to(&self, kind: &str, by: &str, header: &Header) -> Vec<String> {
        let number = |value: Option<u16>| value.map_or_else(String::new, |value| value.to_string());
        let place = header.place.map_or_else(String::new, |place| place.as_bound().to_owned());
        let round = number(header.round.map(u16::from));
        let edition = header.edition.clone().unwrap_or_default();
        let (set_up, reading) = (number(header.set_up), number(header.reading));
        vec![
            self.journal.clone(),
            self.code.scope(),
            kind.to_owned(),
            by.to_owned(),
            set_up,
            reading,
            place,
            round,
            edition,
        ]
    }
}

impl SetUp {
    /// The reading that is being made, or was made last.
    #[must_use]
    pub fn latest(&self) -> Option<&Reading> {
        self.readings.last()
    }

    /// One of its readings.
    #[must_use]
    pub fn reading(&self, number: u16) -> Option<&Reading> {
        self.readings.iter().find(|reading| reading.number == number)
    }
}

impl Reading {
    /// The entry of a turn in a round. An emergency entry stands for the first of the first round.
    #[must_use]
    pub fn entry(&self, place: EntryTurn, round: u8) -> Option<&Sealed> {
        self.entries.iter().rev().find(|entry| {
            let same_place = entry.place == place || (entry.place == EntryTurn::Emergency && place == EntryTurn::First);
            same_place && entry.round == round
        })
    }

    /// Whether it began with an entry that nobody checked.
    #[must_use]
    pub fn began_in_an_emergency(&self) -> bool {
        self.entries.first().is_some_and(|entry| entry.place == EntryTurn::Emergency)
    }
}

/// The author of events that no person signs.
pub(super) const STORE: &str = "store";

fn signed<T>(event: &Event, what: T) -> Signed<T> {
    let clock = event.clock().map(str::to_owned);
    Signed { seq: event.seq(), at: event.at(), by: event.by().to_owned(), clock, what }
}

fn parse<T: for<'de> Deserialize<'de>>(plain: &[u8], seq: u64) -> Result<T, CaseError> {
    serde_json::from_slice(plain)
        .map_err(|error| CaseError::Fault(format!("event {seq} holds something else: {error}")))
}

fn unsealable(seq: u64) -> CaseError {
    CaseError::Fault(format!("what is sealed in event {seq} does not open: it was altered, or moved from elsewhere"))
}

fn as_strs(texts: &[String]) -> Vec<&str> {
    texts.iter().map(String::as_str).collect()
}
