//! The running record: what was done, reported by whoever did it; and what follows from it. Nothing here reaches a driver.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use crate::case::{
    Confirmed, Course, NextSyringe, People, Recorded, SetUp, SetUpCode, Signed, drawn as picture, shown_moment,
};
use crate::quantity::{Moment, duration, exact_or_about};

use super::frame;
use crate::web::answer::Refusal;
use crate::web::reported::{happening, put_in, when};
use crate::web::sent::{Sent, SetUpPath, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::{JournalWorker, Site};

/// A word, a button, and a label with its hint.
type Report = (&'static str, &'static str, Option<(&'static str, &'static str)>);

/// What can be reported: its word, the button, and what is typed for it, if anything is.
const DONE: &[Report] = &[
    (
        "start",
        "It was started",
        Some(("At another rate than the card's", "with its unit; empty where it is the card's")),
    ),
    ("rate", "Rate was changed", Some(("The new rate", "with its unit, as it was set"))),
    ("bolus", "A bolus was given", Some(("The dose or the volume", "with its unit, as it was given"))),
    ("pause", "It was paused", None),
    ("resume", "It went on", Some(("At another rate than before", "with its unit; empty where it is the rate before"))),
    ("syringe", "Change syringe", Some(("At another rate", "with its unit; empty where the running dose is kept"))),
    ("stop", "It was stopped", None),
];

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    SetUpPath(code): SetUpPath,
) -> Result<Response, Refusal> {
    drawn(&site, &session, code, Vec::new(), None).await
}

pub(super) async fn sent(
    State(site): State<Arc<Site>>,
    SetUpPath(code): SetUpPath,
    Sent { session, typed: sent }: Sent,
) -> Result<Response, Refusal> {
    let (by, typed) = (Arc::clone(&session), sent.clone());
    let done = site.with_journal(move |desk| {
        // The rate on the button that was pressed: where something else runs meanwhile, that is refused, not put right.
        let value = said(&typed, "value").or_else(|| said(&typed, "keeps"));
        let happening =
            happening(text(&typed, "did"), value, None, put_in(said(&typed, "drug"), said(&typed, "strength"))?)?;
        let when = when(said(&typed, "time"), said(&typed, "late"), desk.now)?;
        let reason = said(&typed, "reason");
        let [even_so, dose_changes] = ["even_so", "dose_changes"].map(|name| text(&typed, name) == "yes");
        let confirmed = Confirmed { even_so, dose_changes };
        Ok(desk
            .cases
            .record(code, (&by.person, &by.signer), &happening, &when, reason, confirmed, desk.now)
            .map(|_| ())?)
    });
    match done.await {
        Ok(()) => Ok(Redirect::to(&format!("/case/{}/{}/record", code.case, code.number)).into_response()),
        Err(refusal) if refusal.code() != "fault" => drawn(&site, &session, code, sent, Some(refusal)).await,
        Err(fault) => Err(fault),
    }
}

async fn drawn(
    site: &Arc<Site>,
    session: &Session,
    code: SetUpCode,
    typed: TypedFields,
    wrong: Option<Refusal>,
) -> Result<Response, Refusal> {
    let status = if wrong.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let says = site.drawn(format!("record {code}"), move |desk| course(code, desk)).await?;
    let next = site.with_journal(move |desk| next_syringe(code, desk)).await?;
    let refused = wrong.as_ref().map(|wrong| wrong.code().to_owned()).unwrap_or_default();
    let inside = html! {
        p { a href=(format!("/case/{}", code.case)) { "Case " (code.case) } }
        h1 { "Record of " (code) }
        p.notice { "This page writes down what was done. It does not control the driver." }
        @if let Some(wrong) = &wrong { (wrong.shown()) }
        (says)
        h2 { "Report what was done" }
        div.done {
            @for (did, button, asked) in DONE {
                @let mine = text(&typed, "did") == *did;
                (report(session, code, (did, button, *asked), if mine { Some((&typed, &refused)) } else { None }, next.as_ref().filter(|_| *did == "syringe")))
            }
        }
        p { a.button href=(format!("/case/{}/{}/close", code.case, code.number)) { "Account for what was drawn up" } }
    };
    Ok((status, Html(frame::page(site, session, "Record", inside).into_string())).into_response())
}

fn report(
    session: &Session,
    code: SetUpCode,
    (did, button, asked): Report,
    refused: Option<(&TypedFields, &str)>,
    next: Option<&NextSyringe>,
) -> Markup {
    let typed = refused.map(|(typed, _)| typed);
    let was = |name: &str| typed.map_or("", |typed| text(typed, name));
    let confirms = |name: &str, why: &str| was(name) == "yes" || refused.is_some_and(|(_, code)| code == why);
    let keeps = next.and_then(|next| Some((next.keeps.as_ref()?.rate_shown(), next.keeps_in_words())));
    html! {
        form.card method="post" action=(format!("/case/{}/{}/record", code.case, code.number)) {
            input type="hidden" name="once" value=(session.forms.give());
            input type="hidden" name="did" value=(did);
            @if let Some(next) = next { (held_against_what_runs(next)) }
            @if let Some((rate, _)) = &keeps { input type="hidden" name="keeps" value=(rate); }
            @if let Some((label, hint)) = asked {
                label for=(format!("{did}-value")) { (label) }
                p.hint id=(format!("{did}-hint")) { (hint) }
                input id=(format!("{did}-value")) name="value" value=(was("value")) autocomplete="off" aria-describedby=(format!("{did}-hint"));
            }
            @if confirms("dose_changes", "dose-would-change") {
                label.choice { input type="checkbox" name="dose_changes" value="yes"; span { "The dose is changed on purpose" } }
            }
            @if confirms("even_so", "not-as-agreed") {
                label.choice { input type="checkbox" name="even_so" value="yes"; span { "It really happened even so" } }
            }
            details open[typed.is_some()] {
                summary { "Earlier, or with a reason" }
                (times(did, typed))
                label for=(format!("{did}-reason")) { "Why it was done" }
                input id=(format!("{did}-reason")) name="reason" value=(was("reason")) autocomplete="off";
            }
            button.main.large { (button) @if let Some((_, keeps)) = &keeps { ": " (keeps) } }
        }
        @if let Some(next) = next.filter(|next| next.entered_changes_dose()) { (dose_changes(session, code, next)) }
    }
}

/// What runs, and what the line still holds: both before anybody presses a button.
fn held_against_what_runs(next: &NextSyringe) -> Markup {
    html! {
        p { strong { "Running now: " } (next.runs.says()) "." }
        p { "Next syringe, " (next.strength) ": " strong { (next.keeps_in_words()) } "." }
        @if let Some(line) = &next.line { p.wrong { (line.says()) "." } }
    }
}

/// The other choice: a form of its own, whose button names both doses.
fn dose_changes(session: &Session, code: SetUpCode, next: &NextSyringe) -> Markup {
    html! {
        form.card method="post" action=(format!("/case/{}/{}/record", code.case, code.number)) {
            input type="hidden" name="once" value=(session.forms.give());
            input type="hidden" name="did" value="syringe";
            input type="hidden" name="value" value=(next.entered.rate_shown());
            input type="hidden" name="dose_changes" value="yes";
            label for="dose-changes-reason" { "Why the dose is changed" }
            input #dose-changes-reason name="reason" autocomplete="off";
            button { "Change syringe and dose: " (next.entered_in_words()) }
        }
    }
}

fn next_syringe(code: SetUpCode, desk: &JournalWorker) -> Result<Option<NextSyringe>, Refusal> {
    let case = desk.cases.case(code.case)?;
    let set_up = case.set_up(code.number)?;
    let course = case.course(set_up, desk.now)?;
    Ok(course.map(|course| case.next_syringe(set_up, &course)).transpose()?.flatten())
}

/// When it happened, where that is not now.
pub(super) fn times(of: &str, typed: Option<&TypedFields>) -> Markup {
    let was = |name: &str| typed.map_or("", |typed| text(typed, name));
    html! {
        label for=(format!("{of}-time")) { "When it happened, where that is not now" }
        input id=(format!("{of}-time")) name="time" value=(was("time")) autocomplete="off" placeholder="14:05";
        label for=(format!("{of}-late")) { "Why it is written down only now" }
        input id=(format!("{of}-late")) name="late" value=(was("late")) autocomplete="off";
    }
}

fn course(code: SetUpCode, desk: &JournalWorker) -> Result<Markup, Refusal> {
    let case = desk.cases.case(code.case)?;
    let set_up = case.set_up(code.number)?;
    let runs = case.course(set_up, desk.now)?;
    let people = desk.cases.people()?;
    let gives = runs.as_ref().map(Course::gives).transpose()?;
    let differs = case.outstanding_difference(set_up)?;
    // What it gives would tell a second person what the first one read.
    let open = runs.as_ref().filter(|course| !course.syringe().basis.sealed);
    let drawing = open.map(picture).transpose()?;
    Ok(html! {
        @if let Some(differs) = differs {
            p.wrong { strong { "THE DISPLAY DIFFERS" } ", read at " (differs.at.local()) ": " (differs.what.differences_in_words()) ". Set the driver right and read it back, or record what it shows." }
        }
        p.now { strong { "Now: " } (gives.map_or_else(|| "not started".to_owned(), |gives| gives.says)) ". By the record, not read off the driver." }
        @if let Some(course) = open { (sums(course, desk.now)) }
        @if let Some(drawing) = drawing { pre.picture role="img" aria-label="Rate in mL/h and volume left in mL, over time" tabindex="0" { (drawing) } }
        h2 { "What happened" }
        @if set_up.record.is_empty() { p { "Nothing is recorded." } }
        ol.lines {
            @for signed in in_order(set_up) {
                (line(signed, set_up, &people))
                @let about = format!("/case/{}/{}/record/{}", code.case, code.number, signed.seq);
                li.may { a href=(about) { "Event " (signed.seq) ": it was otherwise, or has a reason" } }
            }
        }
    })
}

fn sums(course: &Course, now: Moment) -> Markup {
    let syringe = course.syringe();
    let to_empty = course.empty_at.and_then(|at| at.hours_since(now).map(|hours| (at, duration(hours))));
    let bolus = course.boluses.last();
    html! {
        dl.sums {
            div { dt { "In the driver" } dd { (syringe.basis.drug) ", " (syringe.basis.strength_on_label) @if !syringe.basis.agreed { strong { " NOT DOUBLE-CHECKED" } } } }
            div { dt { "Left to infuse" } dd { (exact_or_about(syringe.left)) " mL" } }
            div { dt { "Time to empty" } dd { @match to_empty { Some((at, left)) => { (left) ", at " (at) }, None => "nothing flows" } } }
            div { dt { "Last bolus" } dd { @match bolus { Some((at, volume)) => { (exact_or_about(*volume)) " mL at " (at) }, None => "none" } } }
        }
    }
}

/// As it happened.
fn in_order(set_up: &SetUp) -> Vec<&Signed<Recorded>> {
    let mut lines: Vec<&Signed<Recorded>> = set_up.record.iter().collect();
    let happened = |signed: &Signed<Recorded>| signed.what.happened().unwrap_or(signed.at);
    lines.sort_by(|one, other| happened(one).seconds_since(happened(other)).cmp(&0));
    lines
}

/// One line of the record.
pub(super) fn line(signed: &Signed<Recorded>, set_up: &SetUp, people: &People) -> Markup {
    let recorded = &signed.what;
    html! {
        li {
            (shown_moment(&recorded.happened)) ": " strong { (set_up.line_in_words(signed, people)) } " (" (people.name(&signed.by)) ", event " (signed.seq) ")"
            @if let Some(correction) = set_up.correction(signed.seq) {
                p.wrong { @if correction.instead.is_none() { "DID NOT HAPPEN" } @else { "WAS OTHERWISE" } ": event " (correction.by) " says so" }
            }
            @if let Some(late) = &recorded.late { p { "written down at " (signed.at.local()) ": " (late) } }
            @if let Some(reason) = &recorded.reason { p { "reason: " (reason) } }
            @for mark in &recorded.marks { p.wrong { (mark.says) " " span.code { "[" (mark.code) "]" } } }
        }
    }
}
