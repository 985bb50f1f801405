//! Entering a set-up: first, second and third, and fields again. Each sees their own entry and nothing of the other's.

use std::sync::Arc;

use axum::Form;
use axum::extract::rejection::{FormRejection, PathRejection};
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::html;

use crate::case::{Author, CaseCode, EntryTurn, Task, Turn};

use super::form;
use super::frame;
use crate::web::answer::Refusal;
use crate::web::filled::{Filled, name_of};
use crate::web::sent::{CasePath, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::{JournalWorker, Site};

type Sending = Result<Form<TypedFields>, FormRejection>;
type OneTurn = Result<Path<(String, u16, String)>, PathRejection>;

/// What is entered, as its address says.
#[derive(Debug, Clone)]
struct Where {
    case: CaseCode,
    number: Option<u16>,
    turn: Turn,
    address: String,
}

pub(super) async fn new_set_up(
    state: State<Arc<Site>>,
    here: PageSession,
    CasePath(case): CasePath,
) -> Result<Response, Refusal> {
    shown(state, here, Where::new_set_up(case)).await
}

pub(super) async fn page(state: State<Arc<Site>>, here: PageSession, path: OneTurn) -> Result<Response, Refusal> {
    shown(state, here, Where::set_up(path?.0)?).await
}

pub(super) async fn sent_new(
    state: State<Arc<Site>>,
    here: PageSession,
    CasePath(case): CasePath,
    form: Sending,
) -> Result<Response, Refusal> {
    taken(state, here, Where::new_set_up(case), form?.0).await
}

pub(super) async fn sent(
    state: State<Arc<Site>>,
    here: PageSession,
    path: OneTurn,
    form: Sending,
) -> Result<Response, Refusal> {
    taken(state, here, Where::set_up(path?.0)?, form?.0).await
}

impl Where {
    fn new_set_up(case: CaseCode) -> Self {
        Self { case, number: None, turn: Turn::First { anew: false }, address: format!("/case/{case}/enter") }
    }

    fn set_up((case, number, turn): (String, u16, String)) -> Result<Self, Refusal> {
        let case = CaseCode::parse(&case)?;
        let address = format!("/case/{case}/{number}/enter/{turn}");
        let turn = match &*turn {
            "first" => Turn::First { anew: false },
            "anew" => Turn::First { anew: true },
            "second" => Turn::Second,
            _ => {
                return Err(Refusal::said(StatusCode::NOT_FOUND, "not-here", "nothing is here", "go back to the case"));
            }
        };
        Ok(Self { case, number: Some(number), turn, address })
    }
}

async fn shown(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    of: Where,
) -> Result<Response, Refusal> {
    let shared = Arc::clone(&site);
    let done = site.with_journal(move |desk| {
        let author = Author::Signed(&session.person, &session.signer);
        let task = desk.cases.task((of.case, of.number), of.turn, &author, desk.now)?;
        let draft = shared.drafts.find(&session.signer, &name_of(&task));
        let kept = draft.is_some();
        let filled = Filled::of(draft.unwrap_or_default(), &task, desk);
        drawn(&shared, &session, &of, &task, &filled, desk, &PageOptions { whole: false, seen: "", kept, wrong: None })
    });
    Ok(Html(done.await?).into_response())
}

/// What is done with a form that was sent.
enum Done {
    Kept,
    Page(StatusCode, String),
    Sealed(CaseCode),
}

async fn taken(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    of: Where,
    sent: TypedFields,
) -> Result<Response, Refusal> {
    let [once, does, seen] = ["once", "do", "seen"].map(|name| text(&sent, name).to_owned());
    let seals = does == "seal";
    if !(if seals { session.forms.take(&once) } else { session.forms.knows(&once) }) {
        return Err(site.refuses(Some(&session), Refusal::not_this_form()).await);
    }
    // A PIN that is wrong seals nothing, and what was typed besides stays.
    let again = match said(&sent, "pin").filter(|_| seals) {
        Some(pin) => site.tries.signs_again(&site, &session, Some(pin)).await,
        None => Ok(None),
    };
    let shared = Arc::clone(&site);
    let done = site.with_journal(move |desk| {
        let (again, mut wrong) = match again {
            Ok(again) => (again, None),
            Err(refusal) => (None, Some(refusal)),
        };
        let author = Author::Signed(&session.person, again.as_ref().unwrap_or(&session.signer));
        let task = desk.cases.task((of.case, of.number), of.turn, &author, desk.now)?;
        let filled = Filled::of(sent, &task, desk);
        // Before anything is judged: whatever goes wrong from here on, what was typed is still there.
        let _ = shared.drafts.keep(&session.signer, &name_of(&task), filled.typed());
        if does == "keep" {
            return Ok(Done::Kept);
        }
        if seals && wrong.is_none() {
            let judged = filled.judged(&task, &author, desk, true, &seen)?;
            if let Some(form) = judged.form.filter(|_| judged.may_be_sealed) {
                let JournalWorker { cases, formulary, now } = &mut *desk;
                match cases.seal(&task, &form, &author, formulary, *now).map_err(Refusal::from) {
                    Ok(_) => {
                        shared.drafts.drop_one(&session.signer, &name_of(&task));
                        return Ok(Done::Sealed(of.case));
                    }
                    Err(refusal) if refusal.code() == "pin-needed" => wrong = Some(refusal),
                    Err(refusal) => return Err(refusal),
                }
            }
        }
        let whole = does != "judge";
        let options = PageOptions { whole, seen: &seen, kept: false, wrong: wrong.as_ref() };
        let page = drawn(&shared, &session, &of, &task, &filled, desk, &options)?;
        Ok(Done::Page(if whole { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK }, page))
    });
    Ok(match done.await? {
        Done::Kept => StatusCode::NO_CONTENT.into_response(),
        Done::Page(status, page) => (status, Html(page)).into_response(),
        Done::Sealed(case) => Redirect::to(&format!("/case/{case}")).into_response(),
    })
}

struct PageOptions<'a> {
    whole: bool,
    seen: &'a str,
    kept: bool,
    wrong: Option<&'a Refusal>,
}

fn drawn(
    site: &Site,
    session: &Session,
    of: &Where,
    task: &Task,
    filled: &Filled,
    desk: &JournalWorker,
    asked: &PageOptions<'_>,
) -> Result<String, Refusal> {
    let author = Author::Signed(&session.person, &session.signer);
    let judged = filled.judged(task, &author, desk, asked.whole, asked.seen)?;
    let heading = match task.place {
        EntryTurn::First => "First entry",
        EntryTurn::Second => "Second entry",
        EntryTurn::Third => "Third entry",
        EntryTurn::Emergency => "Emergency entry",
    };
    let once = session.forms.give();
    let inside = html! {
        p { a href=(format!("/case/{}", of.case)) { "Case " (of.case) } }
        h1 { (heading) " for " (task.set_up) }
        p { "Read the order, the label and the line yourself. Nobody sees this before both entries are sealed." }
        @if let Some(wrong) = asked.wrong { (wrong.shown()) } @else if asked.whole { p.wrong role="alert" { "Not sealed yet: look at what is marked, and at " a href="#found" { "what was found" } "." } }
        @if asked.kept { p.kept role="status" { "What you had typed is still here. Look at each value again." } }
        @if let Some(fields) = &task.fields {
            p { @if fields.as_slice() == ["reasons"] { "The entries say the same. Your reasons are missing." }
                @else { "To be read again, from the order, the label and the line: " strong { (fields.join(", ")) } } }
        }
        @if task.patient.is_some() { p { "The patient is the one that two people agreed on in this case." } }
        form.entry method="post" action=(of.address) data-judged="yes" data-drafts="yes" novalidate {
            input type="hidden" name="once" value=(once);
            (form::drawn(filled, &judged, desk, asked.whole, asked.seen))
            @if desk.formulary.policy().sealing_asks_pin { p.field { label for="pin" { "Your own PIN, to seal it" } input #pin name="pin" type="password" autocomplete="off"; } }
            p.does {
                button name="do" value="check" { "Check what I have typed" }
                button.main name="do" value="seal" { "Seal it" }
            }
        }
    };
    Ok(frame::page(site, session, heading, inside).into_string())
}
