//! What people report of a running set-up, from the words of a page or of a program to what the record keeps.

use axum::http::StatusCode;

use crate::case::{Otherwise, ReportedAction, SyringeSaid, When};
use crate::quantity::{BolusDose, FlowRate, Moment, Refused};

use super::answer::Refusal;

/// What happened: its word, and the rate or bolus that goes with it, as typed.
pub(super) fn happening(
    did: &str,
    value: Option<&str>,
    reading: Option<u16>,
    said: SyringeSaid,
) -> Result<ReportedAction, Refusal> {
    let typed = value.unwrap_or_default();
    let rate = || -> Result<Option<FlowRate>, Refused> { value.map(FlowRate::parse).transpose() };
    let puts_in = matches!(did, "start" | "syringe");
    let nothing_said = said == SyringeSaid::default();
    if (value.is_some() && matches!(did, "pause" | "stop"))
        || (reading.is_some() && did != "syringe")
        || !(puts_in || nothing_said)
    {
        let says = format!("nothing more is said when `{did}` is reported");
        let help = "leave it out, or report the other thing that happened too";
        return Err(Refusal::said(StatusCode::UNPROCESSABLE_ENTITY, "not-asked", says, help));
    }
    Ok(match did {
        "start" => ReportedAction::Started(rate()?, said),
        "rate" => ReportedAction::RateChanged(FlowRate::parse(typed)?),
        "bolus" => ReportedAction::BolusGiven(BolusDose::parse(typed)?),
        "pause" => ReportedAction::Paused,
        "resume" => ReportedAction::Resumed(rate()?),
        "syringe" => ReportedAction::SyringeChanged { rate: rate()?, reading, said },
        "stop" => ReportedAction::Stopped,
        _ => {
            let (says, help) = ("nothing of that name is recorded", "use one of the buttons of the page");
            return Err(Refusal::said(StatusCode::UNPROCESSABLE_ENTITY, "word-unknown", says, help));
        }
    })
}

/// What is in a syringe, by the person who put it in.
pub(super) fn put_in(drug: Option<&str>, strength: Option<&str>) -> Result<SyringeSaid, Refused> {
    SyringeSaid::read(drug, strength)
}

/// When it happened, as typed.
pub(super) fn when(time: Option<&str>, late: Option<&str>, now: Moment) -> Result<When, Refusal> {
    let happened = time.map(|time| Moment::parse_local(time, now)).transpose()?;
    Ok(When { happened, late: late.map(str::to_owned) })
}

/// How something that was written down was instead.
pub(super) fn correction(
    event: u64,
    instead: &str,
    value: Option<&str>,
    time: Option<&str>,
    now: Moment,
) -> Result<ReportedAction, Refusal> {
    let typed = value.unwrap_or_default();
    let what = match instead {
        "not" => return Ok(ReportedAction::Corrected { event, otherwise: None }),
        "rate" => Some(ReportedAction::RateChanged(FlowRate::parse(typed)?)),
        "bolus" => Some(ReportedAction::BolusGiven(BolusDose::parse(typed)?)),
        "pause" => Some(ReportedAction::Paused),
        "resume" => Some(ReportedAction::Resumed(value.map(FlowRate::parse).transpose()?)),
        "stop" => Some(ReportedAction::Stopped),
        "time" => None,
        _ => return Err(says_nothing("say what happened instead, or that it did not happen")),
    };
    let happened = time.map(|time| Moment::parse_local(time, now)).transpose()?;
    if what.is_none() && happened.is_none() {
        return Err(says_nothing("write at which time it happened"));
    }
    Ok(ReportedAction::Corrected { event, otherwise: Some(Otherwise { what: what.map(Box::new), happened }) })
}

fn says_nothing(help: &str) -> Refusal {
    Refusal::said(StatusCode::UNPROCESSABLE_ENTITY, "correction-empty", "how it was is not said", help)
}
