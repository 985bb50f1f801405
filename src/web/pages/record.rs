//! The running record of one set-up: what runs, what is outstanding, what can be done now, and what was done. Nothing here
//! reaches a driver.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use crate::case::actions::{Did, Report};
use crate::case::data::owed_for;
use crate::case::{
    Course, DoseStep, NextSyringe, Owed, People, Recorded, ReviewStage, SetUp, SetUpCode, Signed, StepAsked,
    drawn as picture, shown_moment,
};
use crate::quantity::{DoseRate, FlowRate, Moment, duration, exact_or_about, plain};

use super::{fields, frame, read_back};
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, SetUpPath, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::{JournalWorker, Site};
use crate::web::words::on_the_page;

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
        let mut report: Report = fields::request(&typed)?;
        // The rate on the button that was pressed: where something else runs meanwhile, that is refused, not put right.
        let step = said(&typed, "step").map(str::to_owned);
        if let (Some(value), Some(step)) = (&report.value, &step) {
            let says = format!("`{value}` was typed, and the button of {step} was pressed");
            let help = "clear the field, or press “Change rate”";
            return Err(Refusal::said(StatusCode::UNPROCESSABLE_ENTITY, "two-values", says, help));
        }
        if let (Some(step), None) = (&step, said(&typed, "runs")) {
            return Ok(Some(asked(code, desk, step, None)?));
        }
        if let Some(step) = &step {
            asked(code, desk, step, said(&typed, "runs"))?;
        }
        // The rate that stood on the button goes with its dose: where another is needed meanwhile, that is refused.
        if let Some((dose, rate)) = step.as_deref().and_then(|step| step.split_once(" = ")) {
            (report.value, report.set_to) = (Some(dose.to_owned()), Some(rate.to_owned()));
        }
        report.value =
            report.value.or_else(|| Some(text(&typed, "keeps").to_owned()).filter(|keeps| !keeps.is_empty()));
        desk.acts(&by, |cases, actor| report.run(cases, code, actor)).map(|_| None)
    });
    match done.await {
        Ok(Some(step)) => asks_once(&site, &session, code, &sent, &step).await,
        Ok(None) => Ok(Redirect::to(&format!("/case/{}/{}/record", code.case, code.number)).into_response()),
        Err(refusal) if refusal.code() != "fault" => drawn(&site, &session, code, sent, Some(refusal)).await,
        Err(fault) => Err(fault),
    }
}

/// What the step of a button changes, as things stand now.
fn asked(code: SetUpCode, desk: &JournalWorker, step: &str, shown: Option<&str>) -> Result<StepAsked, Refusal> {
    let case = desk.cases.case(code.case)?;
    let course = case.course(case.set_up(code.number)?, desk.now)?;
    let (dose, rate) = step.split_once(" = ").ok_or_else(Refusal::not_this_form)?;
    let (dose, rate) = (DoseRate::parse(dose)?, FlowRate::parse(rate)?);
    let course = course.ok_or_else(Refusal::not_this_form)?;
    Ok(course.ask_step(dose, rate, shown)?)
}

/// What a report of a step carries from the page to the question, and from there to the record.
const CARRIED: [&str; 7] = ["did", "step", "time", "late", "reason", "even_so", "dose_changes"];

/// One touch on a step is not enough: the old and the new rate and dose are read first.
async fn asks_once(
    site: &Arc<Site>,
    session: &Session,
    code: SetUpCode,
    typed: &TypedFields,
    step: &StepAsked,
) -> Result<Response, Refusal> {
    let around = site.with_journal(move |desk| Around::of(code, desk)).await?;
    let record = format!("/case/{}/{}/record", code.case, code.number);
    let rate = text(typed, "step").split_once(" = ").map_or("", |(_, rate)| rate);
    let inside = html! {
        p { a href=(record) { "Record of " (code) } }
        h1 { (around.title) }
        @if let Some(patient) = &around.patient { p { strong { "Patient: " } (patient) } }
        form.card method="post" action=(record) {
            h2 { "Change rate" }
            input type="hidden" name="once" value=(session.forms.give());
            input type="hidden" name="runs" value=(step.runs);
            @for name in CARRIED { @if let Some(said) = said(typed, name) { input type="hidden" name=(name) value=(said); } }
            dl.sums {
                div { dt { "From" } dd { (step.now) } }
                div { dt { "To" } dd { strong { (step.then) } } }
            }
            p.notice { "This page records what was done. It does not control the driver." }
            button.main.large { "Record " (rate) }
        }
        p { a.button href=(record) { "Back" } " Nothing is recorded yet." }
    };
    Ok(Html(frame::page(site, session, "Change rate", inside).into_string()).into_response())
}

/// What stands around the actions, as it is when the page is asked for.
struct Around {
    possible: &'static [Did],
    next: Option<NextSyringe>,
    steps: Vec<DoseStep>,
    owed: Vec<Owed>,
    /// What the driver's display is read back for; empty where nothing is.
    shows: Vec<String>,
    /// Whether the syringe of the next report has no card.
    unagreed: bool,
    title: String,
    patient: Option<String>,
    closes: bool,
}

impl Around {
    fn of(code: SetUpCode, desk: &JournalWorker) -> Result<Self, Refusal> {
        let case = desk.cases.case(code.case)?;
        let set_up = case.set_up(code.number)?;
        let course = case.course(set_up, desk.now)?;
        let next = course.as_ref().map(|course| case.next_syringe(set_up, course)).transpose()?.flatten();
        let steps = course.as_ref().map(Course::dose_steps).transpose()?.unwrap_or_default();
        let owed = owed_for(&desk.cases, code, Some(&*desk.formulary), desk.now)?;
        let reads = course.as_ref().is_some_and(|course| course.stopped.is_none());
        let shows = if reads { desk.cases.to_read_back(code, desk.now)? } else { Vec::new() };
        let has_card = |stage: &ReviewStage| stage.has_card();
        let unagreed = set_up.latest().is_none_or(|latest| !has_card(&case.standing(latest).stage));
        let closed = course.as_ref().is_some_and(|course| course.closed);
        Ok(Self {
            possible: Did::possible(course.as_ref()),
            title: case.named(set_up)?,
            patient: case.patient_in_words()?,
            closes: course.as_ref().is_some_and(|course| course.stopped.is_some()) && !closed,
            next,
            steps,
            owed,
            shows,
            unagreed,
        })
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
    let now = site.drawn(format!("running {code}"), move |desk| running(code, desk)).await?;
    let lines = site.drawn(format!("record {code}"), move |desk| recorded(code, desk)).await?;
    let around = site.with_journal(move |desk| Around::of(code, desk)).await?;
    let refused = wrong.as_ref().map(|wrong| wrong.code().to_owned()).unwrap_or_default();
    let asked = Did::named(text(&typed, "did"));
    let was = |did: Did| (asked == Some(did)).then_some((&typed, &*refused));
    let others: Vec<Did> = Did::ALL.iter().map(|one| one.did).filter(|did| !around.possible.contains(did)).collect();
    let inside = html! {
        p { a href=(format!("/case/{}", code.case)) { "Case " (code.case) } }
        h1 { (around.title) }
        @if let Some(patient) = &around.patient { p { strong { "Patient: " } (patient) } }
        @if let Some(wrong) = &wrong { (wrong.shown()) }
        (now)
        @for owed in &around.owed { p.owed { strong { "Outstanding: " } (on_the_page(&owed.says)) " " span.code { "[" (owed.code) "]" } } }
        @if !around.shows.is_empty() {
            details.card open[around.owed.iter().any(|owed| matches!(owed.code, "read-back" | "display-differs"))] {
                summary { "Read back the driver" }
                (read_back::form(session, code, &around.shows, &Vec::new()))
            }
        }
        @if !around.possible.is_empty() {
            h2 { "Record what was done" }
            p.notice { "This page records what was done. It does not control the driver." }
            div.done { @for did in around.possible { (report(session, code, *did, was(*did), &around)) } }
        }
        @if around.closes { p { a.button.main.large href=(format!("/case/{}/{}/close", code.case, code.number)) { "Account for what was drawn up" } } }
        @if !others.is_empty() {
            details open[asked.is_some_and(|asked| others.contains(&asked))] {
                summary { "Something that was done earlier" }
                div.done { @for did in &others { (report(session, code, *did, was(*did), &around)) } }
            }
        }
        (lines)
    };
    Ok((status, Html(frame::page(site, session, "Record", inside).into_string())).into_response())
}

fn report(
    session: &Session,
    code: SetUpCode,
    did: Did,
    refused: Option<(&TypedFields, &str)>,
    around: &Around,
) -> Markup {
    let (words, prefix, typed) = (did.reportable(), did.word(), refused.map(|(typed, _)| typed));
    let next = around.next.as_ref().filter(|_| did == Did::Syringe);
    let was = |name: &str| typed.is_some_and(|typed| text(typed, name) == "yes");
    let confirms = |name: &str, why: &str| was(name) || refused.is_some_and(|(_, code)| code == why);
    let keeps = next.and_then(|next| Some((next.keeps.as_ref()?.rate_shown(), next.keeps_in_words())));
    html! {
        form.card method="post" action=(format!("/case/{}/{}/record", code.case, code.number)) {
            input type="hidden" name="once" value=(session.forms.give());
            input type="hidden" name="did" value=(prefix);
            @if let Some(next) = next { (held_against_what_runs(next)) }
            @if let Some((rate, _)) = &keeps { input type="hidden" name="keeps" value=(rate); }
            @if let Some(label) = words.value { (fields::worded::<Report>(prefix, "value", (label, words.value_hint), typed)) }
            @if around.unagreed && did.asks("drug") {
                (fields::field::<Report>(prefix, "drug", typed)) (fields::field::<Report>(prefix, "strength", typed))
            }
            @if confirms("dose_changes", "dose-would-change") { (fields::field::<Report>(prefix, "dose_changes", None)) }
            @if confirms("even_so", "not-as-agreed") { (fields::field::<Report>(prefix, "even_so", None)) }
            details open[typed.is_some()] {
                summary { "Earlier, or with a reason" }
                @for name in ["time", "late", "reason"] { (fields::field::<Report>(prefix, name, typed)) }
            }
            button.main.large { (words.button) @if let Some((_, keeps)) = &keeps { ": " (keeps) } }
            @if did == Did::Rate && !around.steps.is_empty() {
                p.hint { "Or one step of the ordered range:" }
                @for step in &around.steps {
                    button name="step" value=(format!("{} = {} mL/h", step.dose, plain(step.rate))) { (step.dose) ": " (exact_or_about(step.rate)) " mL/h" }
                }
            }
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

/// What runs now.
fn running(code: SetUpCode, desk: &mut JournalWorker) -> Result<Markup, Refusal> {
    let case = desk.cases.case(code.case)?;
    let set_up = case.set_up(code.number)?;
    let runs = case.course(set_up, desk.now)?;
    let gives = runs.as_ref().map(Course::gives).transpose()?;
    let differs = case.outstanding_difference(set_up)?;
    let open = runs.as_ref().filter(|course| !course.syringe().basis.sealed);
    Ok(html! {
        @if let Some(differs) = differs {
            p.wrong { strong { "THE DISPLAY DIFFERS" } ", read at " (differs.at.local()) ": " (differs.what.differences_in_words()) ". Set the driver right and read it back, or record what it shows." }
        }
        p.now { strong { "Now: " } (gives.map_or_else(|| "not started".to_owned(), |gives| gives.says)) ". By the record, not read off the driver." }
        @if let Some(course) = open { (sums(course, desk.now)) }
    })
}

/// The picture of the course, and every line of the record.
fn recorded(code: SetUpCode, desk: &mut JournalWorker) -> Result<Markup, Refusal> {
    let case = desk.cases.case(code.case)?;
    let set_up = case.set_up(code.number)?;
    let (runs, people) = (case.course(set_up, desk.now)?, desk.cases.people()?);
    // What it gives would tell a second person what the first one read.
    let open = runs.as_ref().filter(|course| !course.syringe().basis.sealed);
    let drawing = open.map(picture).transpose()?;
    Ok(html! {
        h2 { "What happened" }
        @if set_up.record.is_empty() { p { "Nothing is recorded." } }
        @if let Some(drawing) = drawing { pre.picture role="img" aria-label="Rate in mL/h and volume left in mL, over time" tabindex="0" { (drawing) } }
        ol.lines {
            @for signed in set_up.record_in_order() {
                (line(signed, set_up, &people))
                @let about = format!("/case/{}/{}/record/{}", code.case, code.number, signed.seq);
                li.may { a href=(about) { "Correct event " (signed.seq) ", or give a reason" } }
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
            div { dt { "Left to infuse" } dd { @match syringe.left_known() { Some(left) => { (exact_or_about(left)) " mL" }, None => "not known: nobody read the volume" } } }
            div { dt { "Time to empty" } dd { @match to_empty { Some((at, left)) => { (left) ", at " (at) }, None => @if syringe.left_known().is_none() { "not known" } @else { "nothing flows" } } } }
            div { dt { "Last bolus" } dd { @match bolus { Some((at, volume)) => { (exact_or_about(*volume)) " mL at " (at) }, None => "none" } } }
        }
    }
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
