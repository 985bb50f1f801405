//! An emergency entry: alone, without a PIN. Its card says that nobody checked it.

use std::sync::Arc;

use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use maud::html;

use crate::case::{Author, EmergencyEntry, Role, SubmittedForm as CaseForm, Task};

use super::card;
use super::form;
use super::frame;
use super::sign_in::{DOOR, baked, browser, browser_or_new};
use crate::web::answer::Refusal;
use crate::web::door_tokens::Purpose;
use crate::web::filled::Filled;
use crate::web::sent::{TypedFields, text};
use crate::web::site::{JournalWorker, Site};

pub(super) async fn page(State(site): State<Arc<Site>>, headers: HeaderMap) -> Result<Response, Refusal> {
    drawn(&site, &headers, TypedFields::new(), false, None).await
}

pub(super) async fn entered(
    State(site): State<Arc<Site>>,
    headers: HeaderMap,
    form: Result<Form<TypedFields>, FormRejection>,
) -> Result<Response, Refusal> {
    let Form(sent) = form?;
    let (browser, once, seals) = (browser(&headers), text(&sent, "once"), text(&sent, "do") == "seal");
    let is_open = if seals {
        site.threshold.take(Purpose::Emergency, &browser, once)
    } else {
        site.threshold.knows(Purpose::Emergency, &browser, once)
    };
    if !is_open {
        let refusal = site.refuses(None, Refusal::not_this_form()).await;
        return drawn(&site, &headers, sent, false, Some(refusal)).await;
    }
    if !seals {
        return drawn(&site, &headers, sent, true, None).await;
    }
    let kept = sent.clone();
    let done = site.with_journal(move |desk| {
        let [name, role, seen, again] =
            ["by", "role", "seen", "dose_again"].map(|name| text(&sent, name).trim().to_owned());
        let author = Author::Typed { name: &name, role: &role };
        let task = Task::emergency_without_a_case();
        let judged = Filled::of(sent, &task, desk).judged(&task, &author, desk, true, &seen)?;
        let Some(form) = judged.form.filter(|_| judged.may_be_sealed) else { return Ok(None) };
        let form = CaseForm { dose_again: Some(again), ..form };
        let JournalWorker { cases, formulary, now } = desk;
        match cases.enter_emergency(&task, &form, &author, formulary, *now)? {
            EmergencyEntry::Recorded(_, card) | EmergencyEntry::NotRecorded(card) => Ok(Some(card.html())),
            EmergencyEntry::WithoutCard(code, why) => Err(Refusal::without_a_card(code, why)),
        }
    });
    match done.await {
        Ok(Some(html)) => Ok(card::given(html)),
        Ok(None) => drawn(&site, &headers, kept, true, None).await,
        // It is written: the form is not shown again.
        Err(refusal) if refusal.code() == "sealed-without-a-card" => Err(refusal),
        Err(refusal) if refusal.code() != "fault" => drawn(&site, &headers, kept, true, Some(refusal)).await,
        Err(fault) => Err(fault),
    }
}

async fn drawn(
    site: &Arc<Site>,
    headers: &HeaderMap,
    sent: TypedFields,
    whole: bool,
    wrong: Option<Refusal>,
) -> Result<Response, Refusal> {
    let browser = browser_or_new(headers);
    let once = site.threshold.give(Purpose::Emergency, &browser);
    let cookie = baked(site, DOOR, &browser);
    let shared = Arc::clone(site);
    let status = if whole || wrong.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let page = site.with_journal(move |desk| {
        let (name, role) = (text(&sent, "by"), text(&sent, "role"));
        let author = Author::Typed { name: name.trim(), role: role.trim() };
        let (task, seen) = (Task::emergency_without_a_case(), text(&sent, "seen"));
        let filled = Filled::of(sent.clone(), &task, desk);
        let judged = filled.judged(&task, &author, desk, whole, seen);
        // Without a name nothing can be judged yet; what was typed is shown all the same.
        let (judged, wrong) = match judged {
            Ok(judged) => (judged, wrong),
            Err(refusal) => {
                let nobody = Author::Typed { name: "nobody yet", role: "" };
                let judged = filled.judged(&task, &nobody, desk, false, "")?;
                (judged, wrong.or(whole.then_some(refusal)))
            }
        };
        let inside = html! {
            h1 { "Emergency entry: NOT DOUBLE-CHECKED" }
            p { "One person, no PIN. The card says so, and a second check is owed." }
            @if let Some(wrong) = &wrong { (wrong.shown()) }
            @else if whole { p.wrong role="alert" { "No card yet: look at what is marked, and at " a href="#found" { "what was found" } "." } }
            form.entry method="post" action="/emergency" novalidate {
                input type="hidden" name="once" value=(once);
                p.field { label for="by" { "Your name" } input #by name="by" value=(name) autocomplete="off"; }
                fieldset { legend { "Your role" }
                    @for word in at_the_bedside() { label.choice { input type="radio" name="role" value=(word) checked[role == word]; span { (word) } } }
                }
                (form::drawn(&filled, &judged, desk, whole, seen))
                @if judged.dose_again {
                    div.question {
                        label for="dose_again" { "Dose again" }
                        p.hint id="h-dose_again" { "BEYOND THE LIMITS: read it off the order once more; its rate is shown then" }
                        input #dose_again name="dose_again" value=(text(&sent, "dose_again")) autocomplete="off" aria-describedby="h-dose_again";
                    }
                }
                p.does {
                    button name="do" value="check" { "Check what I have typed" }
                    button.main name="do" value="seal" { "Make the emergency card" }
                }
            }
            p { a.back href="/" { "Back" } }
        };
        Ok(frame::at_the_door(&shared, "Emergency entry", inside).into_string())
    });
    Ok((status, [(header::SET_COOKIE, cookie)], Html(page.await?)).into_response())
}

/// The roles that somebody may enter in.
fn at_the_bedside() -> impl Iterator<Item = &'static str> {
    Role::WORDS.iter().copied().filter(|word| Role::written(word).is_some_and(Role::is_at_the_bedside))
}
