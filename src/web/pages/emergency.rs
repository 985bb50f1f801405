//! An emergency entry: alone, without a PIN. Its card says that nobody checked it. Five questions by touch; everything is asked
//! by the whole form, for a syringe that is not stocked.

use std::sync::Arc;

use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

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

type Sending = Result<Form<TypedFields>, FormRejection>;

/// Which form it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asks {
    /// Drug, weight, dose and strength; the rest is assumed.
    Few,
    /// Everything.
    All,
}

impl Asks {
    const fn address(self) -> &'static str {
        match self {
            Self::Few => "/emergency",
            Self::All => "/emergency/whole",
        }
    }

    fn filled(self, sent: TypedFields, task: &Task, desk: &JournalWorker) -> Filled {
        match self {
            Self::Few => Filled::of_emergency(sent),
            Self::All => Filled::of(sent, task, desk),
        }
    }
}

pub(super) async fn page(State(site): State<Arc<Site>>, headers: HeaderMap) -> Result<Response, Refusal> {
    drawn(&site, &headers, TypedFields::new(), Asks::Few, false, None).await
}

pub(super) async fn whole_page(State(site): State<Arc<Site>>, headers: HeaderMap) -> Result<Response, Refusal> {
    drawn(&site, &headers, TypedFields::new(), Asks::All, false, None).await
}

pub(super) async fn entered(site: State<Arc<Site>>, headers: HeaderMap, form: Sending) -> Result<Response, Refusal> {
    taken(site, headers, form?.0, Asks::Few).await
}

pub(super) async fn whole_entered(
    site: State<Arc<Site>>,
    headers: HeaderMap,
    form: Sending,
) -> Result<Response, Refusal> {
    taken(site, headers, form?.0, Asks::All).await
}

/// Who enters it, as typed. A name may follow: nobody is held up by it, and the card says that there is none.
fn author_of(sent: &TypedFields, asks: Asks) -> (String, String) {
    let [name, role] = ["by", "role"].map(|field| text(sent, field).trim().to_owned());
    let or = |said: String, not: &str| if said.is_empty() && asks == Asks::Few { not.to_owned() } else { said };
    (or(name, "name not given"), or(role, "role not given"))
}

async fn taken(
    State(site): State<Arc<Site>>,
    headers: HeaderMap,
    sent: TypedFields,
    asks: Asks,
) -> Result<Response, Refusal> {
    let (browser, once) = (browser(&headers), text(&sent, "once").to_owned());
    let (seals, judges) = (text(&sent, "do") == "seal", text(&sent, "do") == "judge");
    let is_open = site.threshold.knows(Purpose::Emergency, &browser, &once);
    if !seals && is_open {
        return drawn(&site, &headers, sent, asks, !judges, None).await;
    }
    let kept = sent.clone();
    let done = site.with_journal(move |desk| {
        // A second press, or a page that is sent again: the same form makes one case, after a restart too.
        desk.cases.journal_mut().for_request(Some(&format!("emergency\n{once}")));
        let (name, role) = author_of(&sent, asks);
        let author = Author::Typed { name: &name, role: &role };
        let [seen, again] = ["seen", "dose_again"].map(|name| text(&sent, name).trim().to_owned());
        let task = Task::emergency_without_a_case();
        let judged = asks.filled(sent, &task, desk).judged(&task, &author, desk, true, &seen)?;
        let Some(form) = judged.form else { return Ok(None) };
        let form = CaseForm { dose_again: Some(again), ..form };
        let JournalWorker { cases, formulary, now } = desk;
        let before = cases.emergency_sent_before(&form, &author, *now)?;
        let entry = match before {
            Some(entry) => entry,
            None if is_open && judged.may_be_sealed => cases.enter_emergency(&task, &form, &author, formulary, *now)?,
            None => return Ok(None),
        };
        match entry {
            EmergencyEntry::Recorded(code, card) => Ok(Some((card.html(), Some(code)))),
            EmergencyEntry::NotRecorded(card) => Ok(Some((card.html(), None))),
            EmergencyEntry::WithoutCard(code, why) => Err(Refusal::without_a_card(code, why)),
        }
    });
    match done.await {
        Ok(Some((card, code))) => {
            let case = code.map(|code| (format!("/case/{}", code.case), format!("Go on with {code}")));
            let mut ways: Vec<(&str, &str)> = case.iter().map(|(to, says)| (to.as_str(), says.as_str())).collect();
            ways.push((Asks::Few.address(), "Another emergency entry"));
            Ok(card::given(&card, &ways))
        }
        Ok(None) if !is_open => {
            let refusal = site.refuses(None, Refusal::not_this_form()).await;
            drawn(&site, &headers, kept, asks, false, Some(refusal)).await
        }
        Ok(None) => drawn(&site, &headers, kept, asks, true, None).await,
        // It is written: the form is not shown again.
        Err(refusal) if refusal.code() == "sealed-without-a-card" => Err(refusal),
        Err(refusal) if refusal.code() != "fault" => drawn(&site, &headers, kept, asks, true, Some(refusal)).await,
        Err(fault) => Err(fault),
    }
}

async fn drawn(
    site: &Arc<Site>,
    headers: &HeaderMap,
    sent: TypedFields,
    asks: Asks,
    whole: bool,
    wrong: Option<Refusal>,
) -> Result<Response, Refusal> {
    let browser = browser_or_new(headers);
    let once = site.threshold.give(Purpose::Emergency, &browser);
    let cookie = baked(site, DOOR, &browser);
    let shared = Arc::clone(site);
    let status = if whole || wrong.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let page = site.with_journal(move |desk| {
        let (name, role) = author_of(&sent, asks);
        let author = Author::Typed { name: &name, role: &role };
        let (task, seen) = (Task::emergency_without_a_case(), text(&sent, "seen"));
        let filled = asks.filled(sent.clone(), &task, desk);
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
        let questions = form::drawn(&filled, &judged, desk, whole, seen);
        let again = judged.dose_again.then(|| dose_again(text(&sent, "dose_again")));
        let by = who(text(&sent, "by"), text(&sent, "role"));
        let few = asks == Asks::Few;
        let inside = html! {
            h1 { "Emergency entry: NOT DOUBLE-CHECKED" }
            @if few { p { "No PIN. What is not asked is assumed, and the card says so." } }
            @else { p { "One person, no PIN. The card says so, and a second check is outstanding." } }
            @if let Some(wrong) = &wrong { (wrong.shown()) }
            @else if whole { p.wrong role="alert" { "No card yet: look at what is marked, and at " a href="#found" { "what was found" } "." } }
            form.entry.short[few] method="post" action=(asks.address()) data-judged=[few.then_some("yes")] novalidate {
                input type="hidden" name="once" value=(once);
                @if !few { (by) }
                (questions)
                @if let Some(again) = again { (again) }
                @if few { details open[!text(&sent, "by").is_empty()] { summary { "Your name and role, where there is time" } (by) } }
                p.does {
                    @if !few { button name="do" value="check" { "Check what I have typed" } }
                    button.main name="do" value="seal" { "Make the emergency card" }
                    @if few { noscript { button name="do" value="check" { "Next questions" } } }
                }
            }
            @if few { p { a.button href=(Asks::All.address()) { "Another syringe: the whole form" } } }
            p { a.back href="/" { "Back" } }
        };
        Ok(frame::at_the_door(&shared, "Emergency entry", inside).into_string())
    });
    Ok((status, [(header::SET_COOKIE, cookie)], Html(page.await?)).into_response())
}

fn dose_again(typed: &str) -> Markup {
    html! {
        div.question data-question="dose_again" {
            label for="dose_again" { "Dose again" }
            p.hint id="h-dose_again" { "BEYOND THE LIMITS: read it off the order once more; its rate is shown then" }
            (form::keyed_input("dose_again", typed, form::keys_of("dose"), "h-dose_again", false))
        }
    }
}

fn who(name: &str, role: &str) -> Markup {
    html! {
        p.field { label for="by" { "Your name" } input #by name="by" value=(name) autocomplete="off"; }
        fieldset { legend { "Your role" }
            @for word in at_the_bedside() { label.choice { input type="radio" name="role" value=(word) checked[role == word]; span { (word) } } }
        }
    }
}

/// The roles that somebody may enter in.
fn at_the_bedside() -> impl Iterator<Item = &'static str> {
    Role::WORDS.iter().copied().filter(|word| Role::written(word).is_some_and(Role::is_at_the_bedside))
}
