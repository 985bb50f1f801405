//! The read-back: what the driver shows, held against the card, or against the latest recorded rate.

use crate::agreement::Agreed;
use crate::check::cause;
use crate::formulary::RATE;
use crate::journal::Signer;
use crate::quantity::{
    BodyMass, DoseRate, FlowRate, Moment, Number, NumberForm, Quantity, Ratio, Strength, Time, Volume, exact_or_about,
    trimmed,
};

use super::Cases;
use super::accounting::Course;
use super::basis::SyringeParameters;
use super::code::SetUpCode;
use super::error::{CaseError, refuse};
use super::people::Person;
use super::record_event::{Difference, Mark, ReadBack, RecordEvent, Shown};
use super::state::{Case, Header, READ_BACK, SetUp, Signed};
use super::timeline::{TimelineEvent, steps};

/// Values that a read-back holds against something, with the question for each. What else a driver shows is kept as read.
pub const HELD: &[(&str, &str)] = &[
    (RATE, "the rate, with its unit: 3.6 mL/h"),
    ("dose", "the dose, with its unit: 0.08 mcg/kg/min"),
    ("strength", "the strength, with its unit: 80 mcg/mL"),
    ("weight", "the weight, with its unit: 84.2 kg"),
    ("drug", "the drug's name"),
    ("syringe", "the syringe, as the card names it: syringe 50 mL"),
];

impl ReadBack {
    /// The values that were held against something, and those that were only kept as read.
    #[must_use]
    pub fn compared_and_kept(&self) -> (Vec<&str>, Vec<&str>) {
        let is_held = |value: &&str| HELD.iter().any(|(held, _)| held == value);
        self.shown.iter().map(|one| one.value.as_str()).partition(is_held)
    }
}

impl Cases {
    /// Which values of a set-up's driver are read back.
    ///
    /// # Errors
    /// When the set-up has no card yet.
    pub fn to_read_back(&self, code: SetUpCode, now: Moment) -> Result<Vec<String>, CaseError> {
        let case = self.case(code.case)?;
        let set_up = case.set_up(code.number)?;
        Ok(case.expected(set_up, now)?.0.shows())
    }

    /// Writes down what the driver shows, and what of it differs. A difference stays outstanding until the display is read
    /// again equal, or the record says what it showed.
    ///
    /// # Errors
    /// When there is nothing to hold it against, or a value cannot be read.
    pub fn read_back(
        &mut self,
        code: SetUpCode,
        by: (&Person, &Signer),
        shown: &[Shown],
        reason: Option<&str>,
        now: Moment,
    ) -> Result<ReadBack, CaseError> {
        self.act(now, code.case, |case, _| {
            let set_up = case.set_up(code.number)?;
            let (basis, course) = case.expected(set_up, now)?;
            let shows = basis.shows();
            if let Some(known) = shown.iter().find(|one| !shows.contains(&one.value)) {
                let says = format!("driver {} does not show `{}`", basis.driver(), known.value);
                return Err(refuse("value-not-shown", says, format!("it shows: {}", shows.join(", "))));
            }
            let missing = |value: &&String| {
                HELD.iter().any(|(held, _)| held == value) && !shown.iter().any(|one| &one.value == *value)
            };
            if let Some(missing) = shows.iter().find(missing) {
                let says = format!("the {missing} was not read back, and driver {} shows it", basis.driver());
                return Err(refuse("value-missing", says, "read it off the display, not off the card"));
            }
            let mut differences = Vec::new();
            for one in shown {
                is_what_it_names(one)?;
                differences.extend(held_against(one, &basis, course.as_ref(), Some(set_up))?);
            }
            let against = match &course {
                Some(course) if course.rate.is_none() => "the record: paused or stopped".to_owned(),
                Some(course) if set_up.record.len() > 1 || course.rate != Some(basis.set) => {
                    "the latest recorded rate".to_owned()
                }
                _ => "the card".to_owned(),
            };
            let against = match course.as_ref().map(|course| case.runs_otherwise(set_up, course)).transpose()?.flatten()
            {
                Some(_) => {
                    format!("{against}, which is NOT what two people agreed on: {} mL/h", exact_or_about(basis.set))
                }
                None => against,
            };
            let marks = beyond(&basis, &differences)?;
            let reason = reason.map(str::to_owned);
            let read_back = ReadBack { shown: shown.to_vec(), against, differences, reason, marks };
            let header = Header { set_up: Some(code.number), ..Header::default() };
            Ok((vec![case.draft(READ_BACK, Some(by.1), header, Some(&read_back))?], read_back))
        })
    }
}

impl Case {
    /// What the display should show: by the syringe that runs, else by the card.
    fn expected(&self, set_up: &SetUp, now: Moment) -> Result<(SyringeParameters, Option<Course>), CaseError> {
        if let Some(course) = self.course(set_up, now)? {
            return Ok((course.syringe().basis.clone(), Some(course)));
        }
        let reading = set_up.latest();
        let has_card = match reading {
            Some(reading) => self.standing(reading).stage.has_card() || reading.began_in_an_emergency(),
            None => false,
        };
        match reading.filter(|_| has_card) {
            Some(reading) => Ok((self.basis(set_up, reading.number)?, None)),
            None => Err(refuse(
                "no-card-yet",
                format!("{} has no card yet: there is nothing to hold a display against", set_up.code),
                format!("see `countersign case status {}`", self.code),
            )),
        }
    }

    /// The last read-back, while it is outstanding: its display differed, it was not read again equal, and the record does
    /// not say what it showed, neither of the moment when it was read nor by a later change of rate. A pause, a stop or
    /// another syringe says nothing of the time before it.
    ///
    /// # Errors
    /// When the record cannot be followed.
    pub fn outstanding_difference<'s>(&self, set_up: &'s SetUp) -> Result<Option<&'s Signed<ReadBack>>, CaseError> {
        for last in [set_up.read_backs.last(), set_up.read_on_a_round()].into_iter().flatten() {
            if !last.what.is_equal() && self.still_differs(set_up, last)? {
                return Ok(Some(last));
            }
        }
        Ok(None)
    }

    /// Whether the record does not say what a display showed that differed, neither of the moment when it was read nor by a
    /// later change of rate.
    fn still_differs(&self, set_up: &SetUp, last: &Signed<ReadBack>) -> Result<bool, CaseError> {
        let steps = steps(&set_up.record, None)?;
        let sets_a_rate = |step: &&TimelineEvent| {
            matches!(step.what, RecordEvent::Rate { .. } | RecordEvent::Resume { rate: Some(_) })
        };
        let later = steps.iter().filter(sets_a_rate).map(|step| step.at).filter(|at| last.at.is_before(*at));
        for moment in std::iter::once(last.at).chain(later) {
            let Some(course) = self.course(set_up, moment)? else { continue };
            let basis = &course.syringe().basis;
            let mut differs = false;
            for one in &last.what.shown {
                differs = differs || held_against(one, basis, Some(&course), Some(set_up))?.is_some();
            }
            if !differs {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Why a read-back is owed, if one is: nothing good was read since the last change.
    ///
    /// # Errors
    /// When the record cannot be followed.
    pub fn read_back_owed(&self, set_up: &SetUp) -> Result<Option<&'static str>, CaseError> {
        let Some(reading) = set_up.latest() else { return Ok(None) };
        let standing = self.standing(reading);
        let with_card = standing.stage.has_card();
        let mut changes: Vec<(u64, &'static str)> = Vec::new();
        let running = set_up.running_reading();
        if with_card && running.is_none() {
            changes.push((standing.since, "once it is programmed"));
        }
        for signed in &set_up.record {
            // What did not happen, a stop not least, changes nothing: its correction does.
            let Some((what, _)) = set_up.says_now(signed.seq)? else { continue };
            let why = match what {
                RecordEvent::Syringe { .. } => "the syringe was changed",
                RecordEvent::Rate { .. } | RecordEvent::Resume { rate: Some(_) } => "the rate was changed",
                RecordEvent::Start { .. } => "it was started",
                RecordEvent::Bolus { .. } => "a bolus leaves another rate behind",
                RecordEvent::Correct { .. } => "the record was corrected",
                RecordEvent::Stop => return Ok(None),
                _ => continue,
            };
            changes.push((signed.seq, why));
        }
        if let Some(number) = running {
            let basis = self.basis(set_up, number)?;
            let begun = set_up.reading(number).and_then(|one| one.entries.first()).map_or(0, |entry| entry.head.seq);
            let mut before = basis.weight_on_card;
            for weighed in self.weights_agreed()?.iter().filter(|one| basis.counts_by_size && one.seq > begun) {
                if weighed.weight != before {
                    changes.push((weighed.seq, "the weight has changed"));
                }
                before = weighed.weight;
            }
        }
        let good = set_up.read_backs.iter().filter(|one| one.what.is_equal()).map(|one| one.seq).max().unwrap_or(0);
        // What was read back between programming and start need not be read again at the start.
        changes.retain(|(seq, why)| *seq > good && !(good > standing.since && *why == "it was started"));
        Ok(changes.into_iter().max_by_key(|(seq, _)| *seq).map(|(_, why)| why))
    }
}

/// What differs between a driver's display and the set-up that two people agreed on, before it is started.
///
/// # Errors
/// [`CaseError`], when a value cannot be read.
pub fn against_agreed(agreed: &Agreed<'_>, shown: &[Shown]) -> Result<Vec<Difference>, CaseError> {
    let basis = SyringeParameters::of(agreed.pair().first())?;
    let held = shown.iter().map(|one| held_against(one, &basis, None, None));
    Ok(held.collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect())
}

impl ReadBack {
    /// What it shows and what it should show, in words, as of a display that differs.
    #[must_use]
    pub fn differences_in_words(&self) -> String {
        let one =
            |one: &Difference| format!("{} showed {}, and {} was expected then", one.value, one.shown, one.expected);
        self.differences.iter().map(one).collect::<Vec<_>>().join("; ")
    }
}

/// The limits that a displayed rate crosses.
pub(super) fn beyond(basis: &SyringeParameters, differences: &[Difference]) -> Result<Vec<Mark>, CaseError> {
    match differences.iter().find(|one| one.value == RATE && !is_zero_rate(&one.shown)) {
        Some(rate) => super::reported::of_rate(basis, FlowRate::parse(&rate.shown)?.value(), &[]),
        None => Ok(Vec::new()),
    }
}

/// Whether a value that is kept as read, and not compared, is a volume or a time at all. Asked before it is written down
/// alone: what an older program took stays readable.
fn is_what_it_names(one: &Shown) -> Result<(), CaseError> {
    let text = trimmed(&one.typed);
    match one.value.as_str() {
        "volume given" | "volume left" => drop(Quantity::<Volume>::parse_or_zero(text)?),
        // A display counts down in many forms, `17:48` or `1 h 5 min`: each begins with a digit.
        "time left" if !text.starts_with(|first: char| first.is_ascii_digit()) => drop(Quantity::<Time>::parse(text)?),
        _ => {}
    }
    Ok(())
}

pub(super) fn held_against(
    one: &Shown,
    basis: &SyringeParameters,
    course: Option<&Course>,
    set_up: Option<&SetUp>,
) -> Result<Option<Difference>, CaseError> {
    let rate = match course {
        Some(course) => course.rate.unwrap_or(Ratio::ZERO),
        None => basis.set,
    };
    let text = trimmed(&one.typed);
    let differs = |expected: String, cause: Option<String>| {
        Some(Difference { value: one.value.clone(), shown: text.to_owned(), expected, cause })
    };
    Ok(match one.value.as_str() {
        RATE => {
            let shown = if is_zero_rate(text) { Ratio::ZERO } else { FlowRate::parse(text)?.value() };
            if shown == rate {
                None
            } else {
                differs(format!("{} mL/h", exact_or_about(rate)), why_rate(shown, rate, basis, set_up))
            }
        }
        "dose" => {
            let shown = DoseRate::parse_displayed(text)?;
            let right = basis.dose(rate)?;
            let same_unit = shown.unit() == basis.unit;
            // A display rounds: what it shows is right when the exact dose rounds to it.
            let rounds = same_unit && rounds_to(right, shown.number().ratio(), text)?;
            let cause = same_unit.then(|| cause::of_ratio(shown.number().ratio(), right)).flatten().map(str::to_owned);
            let cause =
                if same_unit { cause } else { Some(format!("another unit: this drug is dosed in {}", basis.unit)) };
            if rounds { None } else { differs(basis.dose_shown(rate)?, cause) }
        }
        "strength" => {
            let shown = Strength::parse_label(text)?;
            // In the unit that is on the display, so that the two can be held beside each other.
            let unit = if shown.amount_unit().kind() == basis.amount_unit().kind() {
                shown.amount_unit()
            } else {
                basis.amount_unit()
            };
            let Some(right) = basis.concentration() else { return Ok(None) };
            let shown = shown.concentration();
            if shown == right {
                None
            } else {
                let cause = (shown.kind == right.kind).then(|| cause::of_ratio(shown.per_ml, right.per_ml)).flatten();
                differs(right.shown_in(unit), cause.map(str::to_owned))
            }
        }
        "weight" => {
            let shown = Quantity::<BodyMass>::parse(text)?;
            if shown == basis.weight {
                None
            } else {
                let cause = cause::of_ratio(shown.value(), basis.weight.value()).map(str::to_owned);
                differs("the weight on the card".to_owned(), cause)
            }
        }
        "drug" => {
            if folded(text) == folded(&basis.drug) {
                None
            } else {
                differs(basis.drug.clone(), None)
            }
        }
        "syringe" => {
            if folded(text) == folded(basis.container()) {
                None
            } else {
                differs(
                    basis.container().to_owned(),
                    Some("another syringe size: the driver moves another volume for each mm".to_owned()),
                )
            }
        }
        _ => None,
    })
}

fn folded(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// The exact value rounds, at the display's last digit, to what is shown: it lies within half of that digit.
fn rounds_to(right: Ratio, shown: Ratio, displayed: &str) -> Result<bool, CaseError> {
    let number = displayed.split(|c: char| !(c.is_ascii_digit() || c == '.')).next().unwrap_or_default();
    let places = number.split_once('.').map_or(0, |(_, after)| after.len());
    let half = Ratio::new(1, 2 * 10_u128.pow(u32::try_from(places).unwrap_or(0).min(12)))?;
    // A display with few digits proves little: it must also lie within a twentieth of what it should be.
    let near = right.over(Ratio::whole(20))?;
    let apart = right.apart(shown)?;
    Ok(apart <= half && apart <= near)
}

/// Names what a wrong rate on a display comes from, where the numbers tell.
fn why_rate(shown: Ratio, right: Ratio, basis: &SyringeParameters, set_up: Option<&SetUp>) -> Option<String> {
    if let Some((_, bolus)) = &basis.bolus
        && !bolus.over.is_zero()
        && bolus.volume.over(bolus.over).is_ok_and(|rate| rate == shown)
    {
        return Some("the bolus's rate, left behind".to_owned());
    }
    let rates = set_up
        .map(|set_up| super::timeline::steps(&set_up.record, None).unwrap_or_default())
        .unwrap_or_default()
        .into_iter()
        .filter_map(|step| match step.what {
            RecordEvent::Start { rate, .. }
            | RecordEvent::Rate { to: rate, .. }
            | RecordEvent::Resume { rate: Some(rate) }
            | RecordEvent::Syringe { rate, .. } => super::accounting::ml_per_hour(&rate).ok(),
            _ => None,
        });
    let rates: Vec<Ratio> = rates.collect();
    if !right.is_zero() && rates.iter().rev().skip(1).any(|old| *old == shown) {
        return Some("an old rate, from before the last change".to_owned());
    }
    if right.is_zero() {
        return Some("by the record it does not run".to_owned());
    }
    if shown == basis.set {
        return Some(
            "the card's rate: where the driver is set to it on purpose, record that, `record rate`".to_owned(),
        );
    }
    let named = cause::of_ratio(shown, right).map(str::to_owned);
    named.or_else(|| {
        let weight = basis.weight.value();
        let ratio = if shown > right { shown.over(right) } else { right.over(shown) }.ok()?;
        (ratio == weight).then(|| format!("{} times, which is the weight", exact_or_about(weight)))
    })
}

pub(super) fn is_zero_rate(text: &str) -> bool {
    text.strip_suffix("mL/h")
        .map(trimmed)
        .is_some_and(|number| Number::parse(number, NumberForm::MeasuredOrZero).is_ok_and(Number::is_zero))
}
