//! The card of a case: read off the decision about its entries, and led by what runs when it is shown.

use crate::card::{Blocks, Lead, NoPage, Rendering, microgram_in_full};
use crate::check::{Checked, Finding, Severity};
use crate::formulary::Formulary;
use crate::quantity::{Moment, Ratio, grouped, plain};

use super::Cases;
use super::accounting::Course;
use super::card_code::CardCode;
use super::code::SetUpCode;
use super::decision::Decision;
use super::error::{CaseError, refuse};
use super::patient::Twice;
use super::restart::running_lead;
use super::review::{ReviewStage, ReviewState, StartBlock, checked};
use super::state::{Case, Reading, SetUp};

/// A card, as it is shown: what was agreed, and above it what runs by the record at that moment.
///
/// What runs stands outside the card proper. The card is signed, and comes out the same as long as its entries do, so that
/// a sheet of paper can be held against the journal; what runs changes with every line of the record, which keeps it. So
/// each format is led by it, and the code does not cover it.
#[derive(Debug)]
pub struct CardAnswer {
    card: Blocks,
    lead: Option<Lead>,
    led: Blocks,
    stage: ReviewStage,
    clock: Option<String>,
}

impl CardAnswer {
    pub(super) fn new(card: Blocks, lead: Option<Lead>, stage: ReviewStage) -> Self {
        let led = lead.as_ref().map_or_else(|| card.clone(), |lead| card.led_by(lead.clone()));
        Self { card, lead, led, stage, clock: None }
    }

    /// The same below a banner about the clock, where it is uncertain. As what runs, it is no part of what is signed.
    fn with_clock(mut self, clock: Option<String>) -> Self {
        if let Some(says) = &clock {
            self.led = self.led.with_banner(says.clone());
        }
        self.clock = clock;
        self
    }

    /// What is uncertain about the clock by which an emergency card was given.
    #[must_use]
    pub fn clock(&self) -> Option<&str> {
        self.clock.as_deref()
    }

    /// Whether nobody checked it.
    #[must_use]
    pub const fn is_emergency(&self) -> bool {
        !matches!(self.stage, ReviewStage::Agreed(_) | ReviewStage::CheckedAfterwards(..))
    }

    /// Whether two people each signed a blind entry.
    #[must_use]
    pub const fn is_double_checked(&self) -> bool {
        matches!(self.stage, ReviewStage::Agreed(_))
    }

    /// Who checked it afterwards, with an entry that is not independent of the first.
    #[must_use]
    pub fn checked_afterwards_by(&self) -> Option<&str> {
        match &self.stage {
            ReviewStage::CheckedAfterwards(decision, _) => decision.second_by.as_deref(),
            _ => None,
        }
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
    pub fn drawn(&self, form: Rendering) -> Result<Vec<u8>, NoPage> {
        self.led.drawn(form)
    }
}

impl Cases {
    /// The card of a set-up. `current` is the formulary of now, where one is named: a card that has not been started and
    /// that it would stop is not given out. Nothing is written.
    ///
    /// # Errors
    /// When two people have not agreed, or what they agreed on is no longer good.
    pub fn card(&self, code: SetUpCode, current: Option<&Formulary>, now: Moment) -> Result<CardAnswer, CaseError> {
        if let Some(current) = current {
            self.fits(current)?;
        }
        let case = self.case(code.case)?;
        let set_up = case.set_up(code.number)?;
        case.key()?;
        let course = case.course(set_up, now)?;
        if let Some(stopped) = course.as_ref().and_then(|course| course.stopped) {
            let says = format!("{code} was stopped at {}: its card ended with it", stopped.local());
            return Err(refuse("set-up-over", says, format!("see `countersign record show {code}`")));
        }
        let (reading, standing) = case.with_a_card(set_up)?;
        let runs = set_up.running_reading() == Some(reading.number);
        let mut ages = Vec::new();
        if !runs {
            ages = case.refuse_hindered(set_up, reading, &standing, now)?;
            if let Some(current) = current
                && let Some(says) = self.stopped_by(&case, reading, &standing, current, now)?
            {
                return Err(refuse(
                    "new-formulary-stops",
                    format!("{code}: the formulary of now stops what was agreed under an older one: {says}"),
                    format!("begin again under the new limits: `countersign case enter {code} --anew`"),
                ));
            }
        }
        let card = case.card_of(set_up, reading, &standing, runs)?.clone();
        // What is signed follows from the decision alone, and so does the signature: the same code each time.
        let card_code = CardCode::of(&card.json(), code, |bytes| self.journal.sign_as_store(bytes))?;
        let mut lead = course.as_ref().map(|course| case.lead(set_up, reading.number, course)).transpose()?;
        if !ages.is_empty() {
            let own = too_old_lead(case.basis(set_up, reading.number)?.set);
            lead.get_or_insert(own).lines.splice(0..0, ages);
        }
        let clock = case.clock_behind(now).filter(|_| standing.stage.is_unchecked_emergency());
        Ok(CardAnswer::new(card.with_code(card_code.to_string()), lead, standing.stage).with_clock(clock))
    }

    /// What a newer formulary would stop in an agreed reading. What its own formulary stops by now as well, such as a
    /// solution that has grown old, is not the newer one's doing.
    pub(super) fn stopped_by(
        &self,
        case: &Case,
        reading: &Reading,
        standing: &ReviewState,
        current: &Formulary,
        now: Moment,
    ) -> Result<Option<String>, CaseError> {
        let first = standing.stage.same().and_then(|decision| reading.first_of(decision));
        let Some(first) = first.filter(|first| first.edition != current.edition()) else { return Ok(None) };
        let own = self.kept_editions(&[&first.edition])?;
        let patient = standing.stage.same().and_then(|decision| decision.patient.as_ref());
        let by = |formulary| {
            let entry = case.entry(first)?;
            let entry = match patient {
                Some(patient) => Box::new(entry.of_patient(patient.clone())),
                None => entry,
            };
            checked(entry, formulary, now, Checked::of)
        };
        // A formulary that this program cannot read stops nothing that is known.
        let before = own.get(&first.edition).ok().map(by).transpose()?;
        let known = |stop: &Finding| {
            let old = before.iter().flat_map(stops);
            old.into_iter().any(|old| old.code == stop.code && old.field == stop.field)
        };
        let after = by(current)?;
        let new = stops(&after).find(|stop| !known(stop)).map(|stop| stop.message.clone());
        Ok(new)
    }
}

impl Case {
    /// The reading whose card is wanted: the latest; while its entry is still under way, the one that runs.
    fn with_a_card<'c>(&self, set_up: &'c SetUp) -> Result<(&'c Reading, ReviewState), CaseError> {
        let latest = set_up.latest();
        let latest = latest.ok_or_else(|| CaseError::Fault(format!("{} has no reading", set_up.code)))?;
        let standing = self.standing(latest);
        let running = set_up.running_reading().filter(|running| *running != latest.number);
        match running.filter(|_| !standing.stage.has_card()).and_then(|running| set_up.reading(running)) {
            Some(running) => Ok((running, self.standing(running))),
            None => Ok((latest, standing)),
        }
    }

    /// What runs, for the card of one of the readings.
    fn lead(&self, set_up: &SetUp, reading: u16, course: &Course) -> Result<Lead, CaseError> {
        let next = self.next_syringe(set_up, course)?.filter(|next| next.reading == reading);
        let mut lead = match next {
            Some(next) => next.lead(),
            None => running_lead(course, reading)?,
        };
        if let Some(differs) = self.outstanding_difference(set_up)? {
            let says = differs.what.differences_in_words();
            lead.lines.insert(0, format!("THE DISPLAY DIFFERS, read at {}: {says}.", differs.at.local()));
        }
        let own = self.basis(set_up, reading)?;
        if own.counts_by_size && own.weight != own.weight_on_card {
            lead.weighs_otherwise = true;
            let (now, then) = (own.weight, own.weight_on_card);
            let says = format!("THE WEIGHT IS {now} NOW, AND THIS CARD COUNTED BY {then}: ITS DOSES DO NOT HOLD.");
            lead.lines.insert(0, says);
        }
        if own.counts_by_size && self.weight_reading()? != Twice::Quiet {
            let says =
                format!("THE WEIGHT IS BEING READ AGAIN: {} IS IN DOUBT, AND THE DOSES COUNT BY IT.", own.weight);
            lead.lines.insert(0, says);
        }
        if course.syringe().basis.reading == reading {
            let otherwise = [self.runs_otherwise(set_up, course)?, self.is_recorded_otherwise(set_up, course)?];
            for says in otherwise.into_iter().flatten() {
                lead.lines.insert(0, format!("{says}."));
            }
        }
        let entries_differ = set_up.reading(reading).map(|reading| self.standing(reading).stage);
        if let Some(fields) = entries_differ.as_ref().and_then(ReviewStage::fields_that_differ) {
            let fields = fields.join(", ");
            let says = match entries_differ.as_ref().is_some_and(ReviewStage::is_unchecked_emergency) {
                true => format!("NOT READ IN THE EMERGENCY: {fields}. Both people read them, each alone."),
                false => format!("THE ENTRIES DIFFER: {fields}. Read them again, each alone."),
            };
            lead.lines.insert(0, says);
        }
        if let Some(discard) = own.discard_after.filter(|_| !lead.is_the_cards && !lead.started) {
            lead.lines.push(format!("Discard the solution on this card at {}.", discard.shown_as(course.started)));
        }
        if course.syringe().basis.microgram_in_full {
            lead.lines = lead.lines.into_iter().map(microgram_in_full).collect();
        }
        Ok(lead)
    }

    /// The card that was decided on. Of an emergency entry its own, until a second one differs; while it runs, until two
    /// people agree.
    fn card_of<'c>(
        &self,
        set_up: &SetUp,
        reading: &'c Reading,
        standing: &'c ReviewState,
        runs: bool,
    ) -> Result<&'c Blocks, CaseError> {
        let decision: Option<&Decision> = match &standing.stage {
            stage if stage.is_unchecked_emergency() => reading.alone().map(|decision| &**decision),
            stage => stage.same().or_else(|| reading.alone().filter(|_| runs)).map(|decision| &**decision),
        };
        decision.and_then(|decision| decision.card.as_ref()).ok_or_else(|| {
            refuse(
                "not-agreed",
                format!("{}: {}", set_up.code, standing.stage.says()),
                format!("there is no card before two people agree; see `countersign case status {}`", self.code),
            )
        })
    }

    /// Refuses a card that may not be started. The one of an emergency is shown however old it is: what is too old, in
    /// words.
    fn refuse_hindered(
        &self,
        set_up: &SetUp,
        reading: &Reading,
        standing: &ReviewState,
        now: Moment,
    ) -> Result<Vec<String>, CaseError> {
        let Some(hindered) = self.hindered(reading, standing, now)? else { return Ok(Vec::new()) };
        let again = format!("two people enter it again: `countersign case enter {}`", set_up.code);
        let is_age = matches!(
            hindered,
            StartBlock::Expired { .. } | StartBlock::Discard { .. } | StartBlock::ClockWasAhead { .. }
        );
        if is_age && standing.stage.is_unchecked_emergency() {
            return Ok(self.ages_in_words(reading, now));
        }
        let (code, says, help) = match hindered {
            StartBlock::Expired { since } => ("entry-expired", format!("the entries expired at {since}"), again),
            StartBlock::ClockWasAhead { sealed } => (
                "entry-expired",
                format!("it was sealed at {sealed}, by a clock that was ahead and was corrected since"),
                again,
            ),
            StartBlock::ClockUncertain { says } => {
                let help = "look at another clock: where this one is wrong, set it right; where it is right, two people say so: `countersign journal clock --as NAME --and NAME`";
                ("clock-uncertain", says, help.to_owned())
            }
            StartBlock::Discard { since } => {
                ("solution-expired", format!("the solution is discarded since {since}"), again)
            }
            StartBlock::WeightChanged { now, why } if why.is_empty() => (
                "weight-changed",
                format!("the weight is {now} now, and the dose counts by it: the card is void"),
                again,
            ),
            StartBlock::CardVoid { why } => ("card-void", format!("the card is void: {}", why.join("; ")), again),
            StartBlock::Recalled { since } => {
                ("formulary-recalled", format!("its formulary was recalled {}", since.local()), again)
            }
            StartBlock::WeightChanged { now, why } => {
                ("weight-changed", format!("the weight is {now} now, and the card is void: {}", why.join("; ")), again)
            }
            StartBlock::WeightInDoubt => (
                "weight-in-doubt",
                "the weight is being read again, and the dose counts by it".to_owned(),
                format!("finish that first: `countersign case weight {}`", self.code),
            ),
        };
        Err(refuse(code, format!("{}: {says}", set_up.code), help))
    }

    /// What of an emergency entry is too old, each in a line.
    fn ages_in_words(&self, reading: &Reading, now: Moment) -> Vec<String> {
        let syringe = reading.alone().and_then(|alone| alone.syringe.as_ref());
        let past = |end: Option<Moment>| end.filter(|end| end.is_before(now));
        let ahead = reading.entries.iter().map(|entry| entry.at).find(|at| self.not_before_floor(now).is_before(*at));
        let lines = [
            past(syringe.and_then(|one| one.discard_after)).map(|since| {
                format!("THE SOLUTION WAS TO BE DISCARDED AT {since}: look at the syringe, and take another one.")
            }),
            past(syringe.and_then(|one| one.expires))
                .map(|since| format!("THIS ENTRY EXPIRED AT {since}: read the order, the weight and the label again.")),
            ahead.map(|sealed| {
                format!("THIS ENTRY WAS SEALED AT {sealed}, BY A CLOCK THAT WAS AHEAD: its age is not known.")
            }),
        ];
        lines.into_iter().flatten().collect()
    }
}

/// What the card of an emergency is led by, where its solution is too old: the rate stays the card's.
fn too_old_lead(set: Ratio) -> Lead {
    Lead {
        heading: "LOOK AT THE SYRINGE BEFORE THE START".to_owned(),
        value: grouped(&plain(set)),
        unit: "mL/h".into(),
        lines: vec!["NOT DOUBLE-CHECKED.".to_owned()],
        is_the_cards: true,
        weighs_otherwise: false,
        started: false,
        line_runs: false,
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
