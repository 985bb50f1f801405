//! The card of a case: recomputed each time from the sealed entries, and held against what was given out before.

use crate::card::{Blocks, Card, EmergencyCard, Form, Lead, NoPage, Provenance, microgram_in_full};
use crate::check::{Checked, Finding, Severity};
use crate::formulary::Formulary;
use crate::quantity::Moment;

use super::Cases;
use super::accounting::Course;
use super::card_code::CardCode;
use super::code::SetUpCode;
use super::error::{CaseError, refuse};
use super::fold::{CARD, CardHeader, Case, Header, Place, Reading, SetUp};
use super::restart::running_lead;
use super::standing::{Formularies, Hindered, Stage, Standing, checked};

/// What was agreed, or entered in an emergency: a function of the sealed entries alone.
#[derive(Debug)]
pub(super) enum Drawn {
    /// Two people agreed.
    Agreed(Card),
    /// One signed entry checked an emergency entry afterwards: whose it is.
    CheckedAfterwards(Card, String),
    /// Nobody checked it.
    Emergency(EmergencyCard),
}

impl std::ops::Deref for Drawn {
    type Target = Blocks;

    fn deref(&self) -> &Blocks {
        match self {
            Self::Agreed(card) | Self::CheckedAfterwards(card, _) => card,
            Self::Emergency(card) => card,
        }
    }
}

impl Drawn {
    fn with_code(self, code: &CardCode) -> Self {
        match self {
            Self::Agreed(card) => Self::Agreed(card.with_code(code.to_string())),
            Self::CheckedAfterwards(card, by) => Self::CheckedAfterwards(card.with_code(code.to_string()), by),
            Self::Emergency(card) => Self::Emergency(card.with_code(code.to_string())),
        }
    }

    const fn is_emergency(&self) -> bool {
        matches!(self, Self::Emergency(_))
    }

    fn checked_afterwards_by(&self) -> Option<&str> {
        match self {
            Self::CheckedAfterwards(_, by) => Some(by),
            Self::Agreed(_) | Self::Emergency(_) => None,
        }
    }
}

/// A card, as it is given out: what was agreed, and above it what runs by the record when it is given out.
///
/// What runs stands outside the card proper. The card is signed and hashed, and comes out the same as long as its entries
/// do, so that a sheet of paper can be held against the journal; what runs changes with every line of the record, which
/// keeps it. So each format is led by it, and neither the code nor the hash covers it.
#[derive(Debug)]
pub struct CardAnswer {
    card: Drawn,
    lead: Option<Lead>,
    led: Blocks,
}

impl CardAnswer {
    fn new(card: Drawn, lead: Option<Lead>) -> Self {
        let led = lead.as_ref().map_or_else(|| Blocks::clone(&card), |lead| card.led_by(lead.clone()));
        Self { card, lead, led }
    }

    /// Whether nobody checked it.
    #[must_use]
    pub const fn is_emergency(&self) -> bool {
        self.card.is_emergency()
    }

    /// Whether two people each signed a blind entry.
    #[must_use]
    pub const fn is_double_checked(&self) -> bool {
        matches!(self.card, Drawn::Agreed(_))
    }

    /// Who checked an emergency entry afterwards, with one signed entry.
    #[must_use]
    pub fn checked_afterwards_by(&self) -> Option<&str> {
        self.card.checked_afterwards_by()
    }

    /// What runs by the record, where anything does.
    #[must_use]
    pub const fn lead(&self) -> Option<&Lead> {
        self.lead.as_ref()
    }

    /// What was agreed, as data: what its code signs.
    #[must_use]
    pub fn json(&self) -> serde_json::Value {
        self.card.json()
    }

    /// Its code.
    #[must_use]
    pub fn code(&self) -> Option<&str> {
        self.card.code()
    }

    /// For a terminal.
    #[must_use]
    pub fn text(&self) -> String {
        self.led.text()
    }

    /// For a browser.
    #[must_use]
    pub fn html(&self) -> String {
        self.led.html()
    }

    /// In one of these forms.
    ///
    /// # Errors
    /// As for [`Blocks::drawn`].
    pub fn drawn(&self, form: Form) -> Result<Vec<u8>, NoPage> {
        self.led.drawn(form)
    }
}

/// What drew a card, the program and its way of drawing: another one may draw it otherwise.
const PROGRAM: &str = concat!(env!("CARGO_PKG_VERSION"), " card 3");

impl Cases {
    /// The card of a set-up, which is written down as given out. `current` is the formulary of now, where one is named: a
    /// card that has not been started and that it would stop is not given out.
    ///
    /// # Errors
    /// When two people have not agreed, or what they agreed on is no longer good; a fault of the program when the card
    /// is not the same, byte for byte, as it was before.
    pub fn card(&mut self, code: SetUpCode, current: Option<&Formulary>, now: Moment) -> Result<CardAnswer, CaseError> {
        if let Some(current) = current {
            self.fits(current)?;
        }
        let journal = self.journal.id().to_owned();
        self.act(now, code.case, |case, kept, past| {
            let set_up = case.set_up(code.number)?;
            let course = case.course(set_up, now, kept)?;
            if let Some(stopped) = course.as_ref().and_then(|course| course.stopped) {
                let says = format!("{code} was stopped at {}: its card ended with it", stopped.local());
                return Err(refuse("set-up-over", says, format!("see `countersign record show {code}`")));
            }
            let (reading, standing) = case.with_a_card(set_up, kept)?;
            let runs = set_up.running_reading() == Some(reading.number);
            if !runs {
                case.refuse_hindered(set_up, reading, &standing, now, kept)?;
                if let Some(current) = current {
                    case.refuse_what_the_new_formulary_stops(set_up, reading, &standing, current, kept, now)?;
                }
            }
            let card = case.draw(set_up, reading, &standing, &journal, kept)?;
            // What is signed follows from the entries alone, and so does the signature: the same code each time.
            let card_code = CardCode::of(&card.json(), code, |bytes| past.sign_as_store(bytes))?;
            let card = card.with_code(&card_code);
            let hash = case.key()?.salted_hash(card.text().as_bytes()).to_string();
            let before = set_up.cards.iter().find(|given| {
                given.reading == reading.number
                    && given.program == PROGRAM
                    && given.emergency == card.is_emergency()
                    && given.checked_afterwards == card.checked_afterwards_by().is_some()
            });
            if before.is_some_and(|before| before.hash != hash) {
                return Err(CaseError::Fault(format!("the card of {code} is not the one that was given out before")));
            }
            let header = Header {
                set_up: Some(code.number),
                reading: Some(reading.number),
                card: Some(CardHeader {
                    hash,
                    program: PROGRAM.to_owned(),
                    emergency: card.is_emergency(),
                    checked_afterwards: card.checked_afterwards_by().is_some(),
                }),
                ..Header::default()
            };
            let lead = course.as_ref().map(|course| case.lead(set_up, reading.number, course, kept)).transpose()?;
            Ok((vec![case.draft(CARD, None, header, None::<&()>)?], CardAnswer::new(card, lead)))
        })
    }
}

impl Case {
    /// The reading whose card is wanted: the latest; while its entry is still under way, the one that runs.
    fn with_a_card<'c, 'f>(
        &'c self,
        set_up: &'c SetUp,
        kept: &'f Formularies,
    ) -> Result<(&'c Reading, Standing<'f>), CaseError> {
        let latest = set_up.latest();
        let latest = latest.ok_or_else(|| CaseError::Fault(format!("{} has no reading", set_up.code)))?;
        let standing = self.standing(latest, kept)?;
        let has_card = matches!(standing.stage, Stage::Agreed(_) | Stage::CheckedAfterwards(_) | Stage::Unchecked);
        let running = set_up.running_reading().filter(|running| *running != latest.number && !has_card);
        match running.and_then(|running| set_up.reading(running)) {
            Some(running) => Ok((running, self.standing(running, kept)?)),
            None => Ok((latest, standing)),
        }
    }

    /// What runs, for the card of one of the readings.
    fn lead(&self, set_up: &SetUp, reading: u16, course: &Course, kept: &Formularies) -> Result<Lead, CaseError> {
        let next = self.next_syringe(set_up, course, kept)?.filter(|next| next.reading == reading);
        let mut lead = match next {
            Some(next) => next.lead(),
            None => running_lead(course, reading)?,
        };
        if let Some(differs) = self.outstanding_difference(set_up, kept)? {
            let says = differs.what.differences_in_words();
            lead.lines.insert(0, format!("THE DISPLAY DIFFERS, read at {}: {says}.", differs.at.local()));
        }
        if course.syringe().basis.microgram_in_full {
            lead.lines = lead.lines.into_iter().map(microgram_in_full).collect();
        }
        Ok(lead)
    }

    pub(super) fn draw(
        &self,
        set_up: &SetUp,
        reading: &Reading,
        standing: &Standing<'_>,
        journal: &str,
        kept: &Formularies,
    ) -> Result<Drawn, CaseError> {
        let last = reading.entries.iter().find(|entry| entry.head.seq == standing.since);
        let head = last.map(|entry| entry.head.to_string()).unwrap_or_default();
        let provenance = |first_signed| Provenance::Case {
            code: set_up.code.to_string(),
            journal: journal.to_owned(),
            head: head.clone(),
            first_signed,
        };
        match &standing.stage {
            Stage::Agreed(agreed) => Ok(Drawn::Agreed(Card::of(agreed, standing.at, &provenance(true)))),
            Stage::CheckedAfterwards(agreed) => {
                let by = agreed.pair().second().computed().entry().name().to_owned();
                Ok(Drawn::CheckedAfterwards(Card::of(agreed, standing.at, &provenance(false)), by))
            }
            Stage::Unchecked => {
                let entry = reading.entry(Place::First, 1);
                let entry = entry.ok_or_else(|| CaseError::Fault(format!("{} holds no entry", set_up.code)))?;
                let checked = self.checked_by(entry, entry.at, kept, Checked::in_an_emergency)?;
                match EmergencyCard::of(&checked, entry.at, &provenance(false)) {
                    Ok(card) => Ok(Drawn::Emergency(card)),
                    Err(stops) => Err(impossible(&stops)),
                }
            }
            other => Err(refuse(
                "not-agreed",
                format!("{}: {}", set_up.code, other.says()),
                format!("there is no card before two people agree; see `countersign case status {}`", self.code),
            )),
        }
    }

    fn refuse_hindered(
        &self,
        set_up: &SetUp,
        reading: &Reading,
        standing: &Standing<'_>,
        now: Moment,
        kept: &Formularies,
    ) -> Result<(), CaseError> {
        let Some(hindered) = self.hindered(reading, standing, now, kept)? else { return Ok(()) };
        let again = format!("two people enter it again: `countersign case enter {}`", set_up.code);
        let (code, says, help) = match hindered {
            Hindered::Expired { since } => ("entry-expired", format!("the entries expired at {since}"), again),
            Hindered::Discard { since } => {
                ("solution-expired", format!("the solution is discarded since {since}"), again)
            }
            Hindered::WeightChanged { now } => (
                "weight-changed",
                format!("the weight is {now} now, and the dose counts by it: the card is void"),
                again,
            ),
            Hindered::WeightInDoubt => (
                "weight-in-doubt",
                "the weight is being read again, and the dose counts by it".to_owned(),
                format!("finish that first: `countersign case weight {}`", self.code),
            ),
        };
        Err(refuse(code, format!("{}: {says}", set_up.code), help))
    }

    fn refuse_what_the_new_formulary_stops(
        &self,
        set_up: &SetUp,
        reading: &Reading,
        standing: &Standing<'_>,
        current: &Formulary,
        kept: &Formularies,
        now: Moment,
    ) -> Result<(), CaseError> {
        match self.stopped_by(reading, standing, current, kept, now)? {
            None => Ok(()),
            Some(says) => Err(refuse(
                "new-formulary-stops",
                format!("{}: the formulary of now stops what was agreed under an older one: {says}", set_up.code),
                format!("begin again under the new limits: `countersign case enter {} --anew`", set_up.code),
            )),
        }
    }

    /// What a newer formulary would stop in an agreed reading. What its own formulary stops by now as well, such as a
    /// solution that has grown old, is not the newer one's doing.
    pub(super) fn stopped_by(
        &self,
        reading: &Reading,
        standing: &Standing<'_>,
        current: &Formulary,
        kept: &Formularies,
        now: Moment,
    ) -> Result<Option<String>, CaseError> {
        let Some(agreed) = standing.stage.same() else { return Ok(None) };
        if reading.entries.iter().all(|entry| entry.edition == current.edition()) {
            return Ok(None);
        }
        let first = agreed.pair().first();
        let own = reading.entries.iter().find(|entry| Some(entry.head.seq) == standing.pair.map(|(first, _)| first));
        let own = own.ok_or_else(|| CaseError::Fault("an agreement without its first entry".to_owned()))?;
        let entry = || Box::new(first.computed().entry().clone());
        let by = |formulary| checked(entry(), formulary, now, Checked::of);
        let (before, after) = (by(kept.get(&own.edition)?)?, by(current)?);
        let known = |stop: &Finding| stops(&before).any(|old| old.code == stop.code && old.field == stop.field);
        let new = stops(&after).find(|stop| !known(stop)).map(|stop| stop.message.clone());
        Ok(new)
    }
}

fn stops<'c>(checked: &'c Checked<'_>) -> impl Iterator<Item = &'c Finding> {
    checked.findings().iter().filter(|finding| matches!(finding.severity(), Severity::Stop(_)))
}

/// The refusal of an emergency entry from which nothing true can be computed.
pub(super) fn impossible(stops: &[&Finding]) -> CaseError {
    let says: Vec<&str> = stops.iter().map(|stop| stop.message.as_str()).collect();
    let says = format!("nothing true can be computed: {}", says.join("; "));
    refuse("impossible", says, "nothing was written; put it right and enter it again: `countersign case emergency`")
}
