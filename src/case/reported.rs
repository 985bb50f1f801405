//! What somebody says has happened: made whole from the card, and marked where it is not as agreed.

use crate::formulary::Side;
use crate::quantity::{
    BolusDose, DoseRate, FlowRate, Moment, Quantity, Ratio, TooLarge, Volume, exact_or_about, plain,
};

use super::accounting::{Course, ml_per_hour};
use super::basis::SyringeParameters;
use super::error::{CaseError, refuse};
use super::patient::Twice;
use super::record_event::{Mark, RecordEvent, Recorded, SyringeSaid, kept_bolus, kept_rate, typed_rate};
use super::restart::{DOSE_CHANGED, NextSyringe, RateAndDose, after_a_pause};
use super::review::ReviewStage;
use super::state::{Case, SetUp};

/// What somebody says has happened.
#[derive(Debug, Clone)]
pub enum ReportedAction {
    /// Started, at the card's rate or another, with what is in the syringe where two people have not agreed on it.
    Started(Option<FlowRate>, SyringeSaid),
    /// The rate was changed.
    RateChanged(FlowRate),
    /// The rate was changed to the one that gives a dose with the syringe that runs.
    DoseChanged {
        /// The dose.
        dose: DoseRate,
        /// The rate that the driver was set to for it, where that was said: another one is refused.
        set_to: Option<FlowRate>,
    },
    /// A bolus was given.
    BolusGiven(BolusDose),
    /// Paused.
    Paused,
    /// Went on, at the rate before or another.
    Resumed(Option<FlowRate>),
    /// The next syringe was put in.
    SyringeChanged {
        /// At which rate, where it is not the one that keeps the running dose.
        rate: Option<FlowRate>,
        /// Which reading of the set-up it is; the latest that was begun by then where it is left out.
        reading: Option<u16>,
        /// What is in it, where two people have not agreed on it.
        said: SyringeSaid,
    },
    /// Stopped.
    Stopped,
    /// An event was otherwise, or did not happen. A correction may be corrected too.
    Corrected {
        /// Which event.
        event: u64,
        /// What happened instead; nothing did where this is empty.
        otherwise: Option<Otherwise>,
    },
    /// The reason for an event that was written down before.
    Explained {
        /// Which event.
        event: u64,
    },
}

/// How an event was otherwise.
#[derive(Debug, Clone, Default)]
pub struct Otherwise {
    /// What happened, where that was wrong. Another rate of a start, of a resuming or of the next syringe leaves it what
    /// it is.
    pub what: Option<Box<ReportedAction>>,
    /// When it happened, where that was wrong.
    pub happened: Option<Moment>,
}

/// Makes whole what was said: which reading, at which rate.
pub(super) fn resolve(
    case: &Case,
    set_up: &SetUp,
    happening: &ReportedAction,
    (happened, dose_changes): (Moment, bool),
    now: Moment,
) -> Result<RecordEvent, CaseError> {
    Ok(match happening {
        ReportedAction::Started(rate, said) => {
            let reading = begun_by(set_up, happened, None)?;
            RecordEvent::Start {
                reading,
                rate: rate_or_card(case, set_up, reading, *rate, happened)?,
                said: said.kept(),
            }
        }
        ReportedAction::SyringeChanged { rate, reading, said } => {
            let running = set_up.reading_at(happened)?;
            let reading = match reading {
                Some(number) if set_up.reading(*number).is_some() => *number,
                Some(number) => {
                    let says = format!("{} has no reading {number}; it has {}", set_up.code, set_up.readings.len());
                    return Err(refuse("reading-unknown", says, "leave it out: the latest one is taken"));
                }
                None => begun_by(set_up, happened, running)?,
            };
            if running == Some(reading) {
                return Err(refuse(
                    "next-syringe-not-entered",
                    format!("no next syringe of {} has been entered", set_up.code),
                    format!(
                        "two people enter it beforehand: `countersign case enter {}`; where that was left out, one enters \
                         it now, and the change is recorded with --even-so and its time",
                        set_up.code
                    ),
                ));
            }
            let rate = match rate {
                Some(rate) => typed_rate(*rate),
                None => rate_of_next(case, set_up, reading, dose_changes, happened)?,
            };
            RecordEvent::Syringe { reading, rate, said: said.kept() }
        }
        ReportedAction::RateChanged(rate) => RecordEvent::Rate { to: typed_rate(*rate), dose: None, strength: None },
        ReportedAction::DoseChanged { dose, set_to } => {
            let (rate, strength) = rate_for_dose(case, set_up, *dose, (happened, now))?;
            if let Some(other) = set_to.filter(|set_to| set_to.value() != rate) {
                let says = format!(
                    "{dose} needs {} mL/h now, and the driver was set to {other}: what runs has changed meanwhile",
                    exact_or_about(rate)
                );
                return Err(refuse("rate-changed-meanwhile", says, "look at the record, and set the driver anew"));
            }
            RecordEvent::Rate { to: kept_rate(rate), dose: Some(dose.to_string()), strength: Some(strength) }
        }
        ReportedAction::BolusGiven(bolus) => {
            let reading = set_up.reading_at(happened)?;
            let known = reading.map(|reading| case.basis_known(set_up, reading, (u64::MAX, happened))).transpose()?;
            let basis = known.as_ref().filter(|basis| !basis.sealed);
            let counted = basis.and_then(|basis| Some((basis.volume(*bolus).ok()?, basis.strength_on_label.clone())));
            // A later weight changes nothing of what was given. A part of a mL that does not end is counted anew.
            let kept = counted.map(|(volume, strength)| (format!("{} mL", plain(volume)), strength));
            let kept = kept.filter(|(volume, _)| Quantity::<Volume>::parse(volume).is_ok());
            let (volume, strength) = kept.unzip();
            RecordEvent::Bolus { given: kept_bolus(*bolus), volume, strength }
        }
        ReportedAction::Paused => RecordEvent::Pause,
        ReportedAction::Resumed(rate) => RecordEvent::Resume { rate: rate.map(typed_rate) },
        ReportedAction::Stopped => RecordEvent::Stop,
        ReportedAction::Corrected { event, otherwise } => {
            corrected(case, set_up, *event, otherwise.as_ref(), (now, dose_changes))?
        }
        ReportedAction::Explained { event } => {
            known_event(set_up, *event)?;
            RecordEvent::Reason { event: *event }
        }
    })
}

fn corrected(
    case: &Case,
    set_up: &SetUp,
    event: u64,
    otherwise: Option<&Otherwise>,
    (now, dose_changes): (Moment, bool),
) -> Result<RecordEvent, CaseError> {
    let recorded = known_event(set_up, event)?;
    let Some(otherwise) = otherwise else {
        return match recorded.what {
            RecordEvent::Reason { .. } => Err(refuse(
                "reason-stays",
                format!("event {event} is a reason, which stays as it was given"),
                "write another reason for the same event: `countersign record reason`",
            )),
            _ => Ok(RecordEvent::Correct { event, instead: None, happened: None }),
        };
    };
    // What a correction says is taken for what it corrects; of what did not happen, what was first written down counts.
    let (what, at) = match (set_up.says_now(event)?, &recorded.what) {
        (Some((RecordEvent::Correct { event: about, instead: Some(what), happened }, _)), _) => {
            let first = known_event(set_up, about)?.happened()?;
            (*what, happened.map(|text| Moment::parse(&text)).transpose()?.unwrap_or(first))
        }
        (Some((what, at)), _) => (what, at),
        (None, what) => (what.clone(), recorded.happened()?),
    };
    if matches!(
        what,
        RecordEvent::Reason { .. }
            | RecordEvent::Close { .. }
            | RecordEvent::ClosingRead { .. }
            | RecordEvent::Correct { .. }
    ) {
        let says = format!("event {event} is {}: it is taken back, and not changed", in_a_word(&what));
        return Err(refuse("correct-by-not", says, "take it back with --not, and record it anew as it was"));
    }
    if let Some(happened) = otherwise.happened.filter(|happened| now.is_before(*happened)) {
        let says = format!("{happened} is still to come; it is {now}");
        return Err(refuse("time-to-come", says, "write down what has happened, when it has"));
    }
    let at = otherwise.happened.unwrap_or(at);
    let instead = match &otherwise.what {
        Some(happening)
            if matches!(**happening, ReportedAction::Corrected { .. } | ReportedAction::Explained { .. }) =>
        {
            return Err(refuse(
                "correct-by-not",
                "a correction says what happened instead",
                "name a rate, a bolus, a pause",
            ));
        }
        Some(happening) => match (&**happening, &what) {
            (ReportedAction::RateChanged(rate), RecordEvent::Start { reading, said, .. }) => {
                RecordEvent::Start { reading: *reading, rate: typed_rate(*rate), said: said.clone() }
            }
            (ReportedAction::RateChanged(rate), RecordEvent::Syringe { reading, said, .. }) => {
                RecordEvent::Syringe { reading: *reading, rate: typed_rate(*rate), said: said.clone() }
            }
            (ReportedAction::RateChanged(rate), RecordEvent::Resume { .. }) => {
                RecordEvent::Resume { rate: Some(typed_rate(*rate)) }
            }
            _ => resolve(case, set_up, happening, (at, dose_changes), now)?,
        },
        None => what,
    };
    Ok(RecordEvent::Correct { event, instead: Some(Box::new(instead)), happened: Some(at.to_rfc3339()) })
}

const fn in_a_word(what: &RecordEvent) -> &'static str {
    match what {
        RecordEvent::Close { .. } => "a closing",
        RecordEvent::ClosingRead { .. } => "a reading for the closing",
        RecordEvent::Reason { .. } => "a reason",
        _ => "a correction that takes an event back",
    }
}

/// What is odd about what happened, held against the card, the order and the limits of its phase.
pub(super) fn marks(
    case: &Case,
    set_up: &SetUp,
    what: &RecordEvent,
    before: Option<&Course>,
    happened: Moment,
) -> Result<Vec<Mark>, CaseError> {
    let mut marks = Vec::new();
    match what {
        RecordEvent::Start { reading, rate, .. } | RecordEvent::Syringe { reading, rate, .. } => {
            marks = case.reading_not_startable(set_up, *reading, happened)?;
            let older = set_up.reading(*reading).and_then(|reading| case.editions.older(reading));
            marks.extend(older.map(|says| Mark::new("older-edition", says)));
            if let Some(differs) = case.outstanding_difference(set_up)?.filter(|_| before.is_none()) {
                let says = format!(
                    "the display read at {} differs: {}",
                    differs.at.local(),
                    differs.what.differences_in_words()
                );
                marks.push(Mark::new("display-differs", says));
            }
            let (basis, rate) = (case.basis_by(set_up, *reading, Some(happened))?, ml_per_hour(rate)?);
            let next = match before.filter(|_| matches!(what, RecordEvent::Syringe { .. })) {
                Some(course) => NextSyringe::after(course, &basis)?,
                None => None,
            };
            let mut off_card = rate != basis.set && !basis.sealed;
            if let Some(next) = next {
                let given = RateAndDose::given_by(&basis, rate)?;
                let changes = next.changes_dose(&given);
                // What keeps the running dose leads on the card, whatever was entered for it.
                off_card &= changes;
                if changes {
                    marks.push(Mark::new(DOSE_CHANGED, next.change_in_words(&given)));
                }
            }
            if off_card {
                let card = exact_or_about(basis.set);
                marks.push(Mark::new(
                    "not-the-card-rate",
                    format!("the card says {card} mL/h, not {} mL/h", exact_or_about(rate)),
                ));
            }
            // What two people agreed on lies within the limits; what nobody checked, or another rate, may not.
            if rate != basis.set || !basis.agreed {
                marks.extend(of_rate(&basis, rate, &[])?);
            }
            marks.extend(case.beside_the_same_drug(set_up, (&basis, rate), before.is_none(), happened)?);
        }
        RecordEvent::Rate { to: rate, .. } | RecordEvent::Resume { rate: Some(rate) } => {
            if let Some(course) = before {
                let (basis, rate_set) = (&course.syringe().basis, ml_per_hour(rate)?);
                marks = of_rate(basis, rate_set, &rates_before(course, happened))?;
                marks.extend(case.beside_the_same_drug(set_up, (basis, rate_set), false, happened)?);
                if matches!(what, RecordEvent::Resume { .. }) {
                    marks.extend(after_a_pause(course, ml_per_hour(rate)?)?);
                }
            }
        }
        RecordEvent::Bolus { given, volume: kept, .. } => {
            if let Some(course) = before.filter(|course| !course.syringe().basis.sealed) {
                let syringe = course.syringe();
                let volume = match kept {
                    Some(kept) => Quantity::<Volume>::parse(kept)?.value(),
                    None => syringe.basis.volume(BolusDose::parse(given)?)?,
                };
                if syringe.basis.bolus.is_none_or(|(_, ordered)| ordered.volume != volume) {
                    let says = if syringe.basis.bolus.is_some() {
                        "another bolus was ordered"
                    } else {
                        "no bolus was ordered"
                    };
                    marks.push(Mark::new("bolus-not-ordered", says));
                    if syringe.basis.bolus_limits.is_none() {
                        marks.push(Mark::new("bolus-without-limits", "this use has no limits for a bolus"));
                    }
                    marks.extend(of_bolus(&syringe.basis, volume)?);
                }
                if volume > syringe.left_counted {
                    let left = exact_or_about(syringe.left_counted);
                    marks.push(Mark::new("bolus-more-than-left", format!("the syringe should hold {left} mL")));
                }
            }
        }
        RecordEvent::Correct { instead: Some(instead), .. } => {
            return self::marks(case, set_up, instead, before, happened);
        }
        _ => {}
    }
    Ok(marks)
}

/// A bolus that was not ordered, against the limits of its use. What holds a limit is worked out as for any bolus.
fn of_bolus(basis: &SyringeParameters, volume: Ratio) -> Result<Option<Mark>, CaseError> {
    let Some(limits) = &basis.bolus_limits else { return Ok(None) };
    let bands = [
        ("bolus-beyond-hard-limit", "hard", &limits.beyond.hard),
        ("bolus-beyond-soft-limit", "soft", &limits.beyond.soft),
    ];
    for (code, kind, band) in bands {
        let Some(band) = band else { continue };
        for (limit, side) in [(band.to, "above"), (band.from, "below")] {
            let Some(limit) = limit else { continue };
            let holds = basis.volume(limit)?;
            if (side == "above" && volume > holds) || (side == "below" && volume < holds) {
                let (volume, holds) = (exact_or_about(volume), exact_or_about(holds));
                let says = format!("{volume} mL is {side} the {kind} limit of a bolus, {limit}: {holds} mL");
                return Ok(Some(Mark::new(code, says)));
            }
        }
    }
    Ok(None)
}

/// Limits on the rate itself, whatever dose it gives.
fn of_flow(basis: &SyringeParameters, rate: Ratio, kind: &str) -> Option<Mark> {
    let (code, band) = match kind {
        "hard" => ("flow-beyond-hard-limit", &basis.flow.hard),
        _ => ("flow-beyond-soft-limit", &basis.flow.soft),
    };
    let outside = band.as_ref()?.outside(rate)?;
    // A limit covers its own nearest rate of the driver; a hard maximum covers nothing beyond itself.
    let rounds_down = kind == "hard" && outside.side == Side::Above;
    if !rounds_down && basis.covers_flow(outside.limit.value(), rate) {
        return None;
    }
    let side = match outside.side {
        Side::Above => "above",
        Side::Below => "below",
    };
    let says =
        format!("{} mL/h is {side} the {kind} limit of {} on the rate itself", exact_or_about(rate), outside.limit);
    Some(Mark::new(code, says))
}

/// A rate, and those that ran before it, the last one first.
pub(super) fn of_rate(basis: &SyringeParameters, rate: Ratio, before: &[Ratio]) -> Result<Vec<Mark>, CaseError> {
    if basis.sealed {
        // What it gives would tell the second person what the first one read; two recorded rates tell nothing of it.
        return Ok(tenfold(before, rate)?.into_iter().collect());
    }
    let dose = basis.dose(rate)?;
    let shown = format!("{} {}", exact_or_about(dose), basis.unit);
    let mut marks = Vec::new();
    if !basis.can_be_set(rate) {
        let (smallest, largest) = basis.rates();
        let rate = exact_or_about(rate);
        let says = format!("{rate} mL/h cannot be set: this driver goes from {smallest} to {largest}, in its steps");
        marks.push(Mark::new("not-a-driver-rate", says));
    }
    let flow_hard = of_flow(basis, rate, "hard");
    let flow_soft = if flow_hard.is_none() { of_flow(basis, rate, "soft") } else { None };
    let covered = |limit: Option<DoseRate>| limit.map_or(Ok(false), |limit| basis.covers(limit, rate));
    let hard = basis.hard().and_then(|band| band.outside(dose));
    let hard_covered = covered(hard.as_ref().filter(|outside| outside.side == Side::Below).map(|one| one.limit))?;
    let hard = hard.filter(|_| !hard_covered);
    let soft = basis.soft().and_then(|band| band.outside(dose));
    let soft_covered = covered(soft.as_ref().map(|outside| outside.limit))?;
    let soft = soft.filter(|_| !soft_covered);
    let in_order = match basis.titration.filter(|range| range.to.unit() == basis.unit) {
        None => false,
        Some(range) => {
            let within = dose >= range.from.number().ratio() && dose <= range.to.number().ratio();
            within || covered(Some(range.from))? || covered(Some(range.to))?
        }
    };
    let is_hard = hard.is_some();
    if let Some(outside) = hard {
        let (code, side) = match outside.side {
            Side::Above => ("dose-above-hard-limit", "above"),
            Side::Below => ("dose-below-hard-limit", "below"),
        };
        marks.push(Mark::new(
            code,
            format!("{shown} is {side} the hard limit of {} for {}", outside.limit, basis.phase()),
        ));
    }
    marks.extend(flow_hard);
    let slip = tenfold(before, rate)?;
    if in_order && !is_hard {
        // Two people agreed on this range: within it only a slip of the keys is asked about.
        marks.extend(slip);
        return Ok(marks);
    }
    if let Some(outside) = soft.filter(|_| !is_hard) {
        let (code, side) = match outside.side {
            Side::Above => ("dose-above-soft-limit", "above"),
            Side::Below => ("dose-below-soft-limit", "below"),
        };
        marks.push(Mark::new(
            code,
            format!("{shown} is {side} the soft limit of {} for {}", outside.limit, basis.phase()),
        ));
    }
    // Within the ordered range it was asked when that was agreed on.
    marks.extend(flow_soft.filter(|_| !in_order));
    if let Some(range) = basis.titration.filter(|_| !in_order) {
        let says = format!("{shown} is outside the ordered range of {} to {}", range.from.number(), range.to);
        marks.push(Mark::new("outside-ordered-range", says));
    }
    if let Some(mark) = slip {
        marks.push(mark);
    } else if let (Some(last), Some(most)) = (before.first(), basis.largest_jump)
        && times(*last, rate)?.is_some_and(|factor| factor > most)
    {
        let [last, rate, most] = [*last, rate, most].map(exact_or_about);
        marks.push(Mark::new("jump", format!("from {last} mL/h to {rate} mL/h is more than {most} times at once")));
    }
    Ok(marks)
}

/// Changes of a rate within so many minutes are judged as one (common practice, no source).
const AS_ONE_MINUTES: i64 = 10;

/// The rate that is changed, and those of this syringe in the minutes before: ten times in two steps is ten times.
fn rates_before(course: &Course, happened: Moment) -> Vec<Ratio> {
    let since = course.syringe().since;
    let recent = course.segments.iter().rev().filter(|segment| {
        segment.to.seconds_since(since) > 0 && happened.seconds_since(segment.to) < AS_ONE_MINUTES * 60
    });
    course.rate.or(course.before_pause).into_iter().chain(recent.map(|segment| segment.rate)).collect()
}

/// How many times the greater of two rates is the other; nothing where one is none.
fn times(one: Ratio, other: Ratio) -> Result<Option<Ratio>, TooLarge> {
    let (more, less) = if one > other { (one, other) } else { (other, one) };
    if less.is_zero() { Ok(None) } else { more.over(less).map(Some) }
}

/// A change to ten times a rate, or to a tenth, or by more: a point or a zero slips so.
fn tenfold(before: &[Ratio], rate: Ratio) -> Result<Option<Mark>, CaseError> {
    for (steps_ago, from) in before.iter().enumerate() {
        let Some(factor) = times(*from, rate)?.filter(|factor| *factor >= Ratio::whole(10)) else { continue };
        let [from, rate, factor] = [*from, rate, factor].map(exact_or_about);
        let within = if steps_ago == 0 { String::new() } else { format!("within {AS_ONE_MINUTES} min ") };
        let says = format!("{within}from {from} mL/h to {rate} mL/h is {factor} times: ten times?");
        return Ok(Some(Mark::new("tenfold-change", says)));
    }
    Ok(None)
}

/// The rate that gives a dose with the syringe that runs, and its strength. What may be otherwise than two people agreed
/// on, or was otherwise then, is recorded in mL/h.
fn rate_for_dose(
    case: &Case,
    set_up: &SetUp,
    dose: DoseRate,
    (happened, now): (Moment, Moment),
) -> Result<(Ratio, String), CaseError> {
    let in_ml = "record the rate that the driver is set to, in mL/h";
    let refused = |says: &str| Err(refuse("dose-not-computed", says, in_ml));
    if now.seconds_since(happened) >= 60 {
        return refused("what was set earlier is read off the record or the driver, and not worked out anew");
    }
    let not_running = || refuse("not-started", format!("{} does not run", set_up.code), "record the start first");
    let course = case.course(set_up, happened)?.ok_or_else(not_running)?;
    let basis = &course.syringe().basis;
    let reading = set_up.reading(basis.reading);
    if reading.is_none_or(|reading| case.standing(reading).stage.same().is_none()) {
        return refused("two people have not agreed on what is in this syringe: the rate for a dose cannot be told");
    }
    if basis.counts_by_size && case.weight_reading()? != Twice::Quiet {
        return refused("the weight is being read again by two people: the rate for a dose cannot be told until then");
    }
    Ok((basis.rate_giving(dose)?, basis.strength_on_label.clone()))
}

fn rate_or_card(
    case: &Case,
    set_up: &SetUp,
    reading: u16,
    rate: Option<FlowRate>,
    happened: Moment,
) -> Result<String, CaseError> {
    match rate {
        Some(rate) => Ok(typed_rate(rate)),
        None => {
            let basis = case.basis(set_up, reading)?;
            refuse_recounted_since(case, set_up, reading, happened)?;
            let stage = set_up.reading(reading).map(|reading| case.standing(reading).stage);
            if basis.sealed || matches!(stage, Some(ReviewStage::Stopped(_))) {
                let says = format!("{} has no card: two people have not agreed on it", set_up.code);
                return Err(refuse("rate-not-said", says, "say at which rate it really runs: --rate \"RATE mL/h\""));
            }
            Ok(kept_rate(basis.set))
        }
    }
}

/// The rate of the next syringe where none was said: it keeps the dose that runs, or changes to the one entered for it.
fn rate_of_next(
    case: &Case,
    set_up: &SetUp,
    reading: u16,
    dose_changes: bool,
    happened: Moment,
) -> Result<String, CaseError> {
    refuse_recounted_since(case, set_up, reading, happened)?;
    let next = match case.course(set_up, happened)? {
        Some(course) => NextSyringe::after(&course, &case.basis(set_up, reading)?)?,
        None => None,
    };
    match next {
        Some(next) if !dose_changes => match &next.keeps {
            Some(keeps) => Ok(kept_rate(keeps.rate)),
            None => {
                let says = format!("the running dose cannot be kept: {}", next.keeps_in_words());
                let help = "say at which rate it really runs, --rate \"RATE mL/h\", with --dose-changes";
                Err(refuse("dose-not-kept", says, help))
            }
        },
        _ => rate_or_card(case, set_up, reading, None, happened),
    }
}

/// What was put in before its card was counted again was not set by the card of now: the rate is said.
fn refuse_recounted_since(case: &Case, set_up: &SetUp, number: u16, happened: Moment) -> Result<(), CaseError> {
    let recounted = set_up.reading(number).and_then(|reading| case.is_recounted_since(reading, happened));
    let Some(at) = recounted else { return Ok(()) };
    let says = format!("the card of {} was counted again at {}, after this", set_up.code, at.shown_as(happened));
    Err(refuse("rate-not-said", says, "say at which rate it really ran then: --rate \"RATE mL/h\""))
}

/// The latest reading that was begun by a moment, after the one that runs; the latest of all where there is none.
fn begun_by(set_up: &SetUp, happened: Moment, running: Option<u16>) -> Result<u16, CaseError> {
    let begun = |reading: &&super::state::Reading| {
        // Times are said to the minute: what was begun in the same minute was begun by then.
        let begun = reading.entries.first().is_some_and(|entry| entry.at.seconds_since(happened) < 60);
        begun && Some(reading.number) > running
    };
    let reading = set_up.readings.iter().rev().find(begun).or_else(|| set_up.latest());
    reading.map(|reading| reading.number).ok_or_else(|| {
        refuse(
            "nothing-entered",
            format!("nothing was entered for {}", set_up.code),
            "enter it first: `countersign case enter`",
        )
    })
}

fn known_event(set_up: &SetUp, event: u64) -> Result<&Recorded, CaseError> {
    set_up.record.iter().find(|signed| signed.seq == event).map(|signed| &signed.what).ok_or_else(|| {
        let says = format!("event {event} is not one of the record of {}", set_up.code);
        refuse("event-unknown", says, format!("see `countersign record show {}`", set_up.code))
    })
}
