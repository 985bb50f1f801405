//! Where a case stands, and what may be done with it now.

use std::sync::Arc;

use axum::extract::State;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::{Author, Board, BoardDriver, CaseCode, DriverState, SetUpCode, Turn};

use super::frame;
use crate::web::answer::Refusal;
use crate::web::follow::{self, Topic};
use crate::web::sent::CasePath;
use crate::web::session::{PageSession, Session};
use crate::web::site::{JournalWorker, Site};
use crate::web::words::on_the_page;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    CasePath(code): CasePath,
) -> Result<Response, Refusal> {
    let shared = Arc::clone(&session);
    let stands = site.drawn(key(code, &session), move |desk| drawn(code, &shared, desk)).await?;
    let inside = html! {
        h1 { "Case " (code) }
        div #state data-follow=(format!("/case/{code}/follow")) aria-live="polite" { (stands) }
        noscript { p { a.button href=(format!("/case/{code}")) { "Look again" } } }
        p {
            a.button href=(format!("/case/{code}/enter")) { "Enter a set-up" }
            a.button href=(format!("/case/{code}/weight")) { "Weigh: read the weight" }
            a.button href=(format!("/case/{code}/round")) { "Take over: the round" }
        }
    };
    Ok(Html(frame::page(&site, &session, &format!("Case {code}"), inside).into_string()).into_response())
}

/// The part that follows what others do.
pub(super) async fn follow(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    CasePath(code): CasePath,
) -> Response {
    let topic = Topic::Case(code.scope());
    follow::follow(site, &session, topic, key(code, &session), move |session, desk| drawn(code, session, desk))
}

/// Whose turn it is differs from one person to the next.
fn key(code: CaseCode, session: &Session) -> String {
    format!("case {code} for {}", session.person.id)
}

fn drawn(code: CaseCode, session: &Session, desk: &mut JournalWorker) -> Result<Markup, Refusal> {
    let case = desk.cases.case(code)?;
    if let Some(at) = case.forgotten_at {
        return Ok(html! { p { "Forgotten at " (at.local()) "." } });
    }
    let rows = desk.cases.rows(&case, Some(&*desk.formulary), desk.now)?;
    let author = Author::Signed(&session.person, &session.signer);
    // Whether it is this person's turn, and whether only some fields are read again.
    let may = |number, turn| {
        let task = desk.cases.task((code, Some(number)), turn, &author, desk.now);
        task.ok().map(|task| task.fields.is_some())
    };
    let board = Board::of_case(&case, &rows, desk.now)?;
    let patient = case.patient_in_words()?;
    let mut drivers = Vec::new();
    for driver in &board.drivers {
        let Some(code) = driver.row.set_up else { continue };
        let first = may(code.number, Turn::First { anew: false });
        drivers.push(hangs(driver, code, first, may(code.number, Turn::Second)));
    }
    let signs = case.round_to_sign().is_some_and(|round| round.by != session.person.id);
    let follow = rows.iter().any(|row| row.owed.iter().any(|owed| owed.code == "identifiers"));
    Ok(html! {
        div.board {
            p.patient { @match &patient { Some(patient) => { strong { "Patient: " } (patient) }, None => "No patient yet: two people enter the first set-up." } }
            @if let Some(next) = &board.next { p.next { strong { "Next: " } (on_the_page(&next.says)) } }
            @if follow { p { a.button.main href=(format!("/case/{code}/identifiers")) { "Patient arrived: read the wristband" } } }
            @if signs { p { a.button.main href=(format!("/case/{code}/round")) { "Countersign the round" } } }
            @for same in &board.same_drug { p.wrong { strong { "SAME DRUG TWICE: " } (same.says) } }
            @for row in rows.iter().filter(|row| row.set_up.is_none()) { p { (row.stands) } }
            ul.drivers { @for driver in &drivers { (driver) } }
            @if let Some(fluid) = &board.fluid { p.fluid { strong { "All drivers together: " } (fluid.says()) } p.hint { "By the record, not read off the drivers." } }
        }
    })
}

/// One driver as it hangs, with what can be done with it now.
fn hangs(driver: &BoardDriver, code: SetUpCode, first: Option<bool>, second: Option<bool>) -> Markup {
    let row = &driver.row;
    let at = format!("/case/{}/{}", code.case, code.number);
    let name = code.to_string();
    let drug = row.named.strip_suffix(&format!(", {name}")).unwrap_or(&row.named);
    let records = match driver.state {
        DriverState::NotStarted if row.has_card => "Start",
        _ => "Record",
    };
    html! {
        li.driver data-state=(driver.state.word()) {
            h2 { a href=(format!("{at}/record")) { (drug) } @if drug != name { " " span.of { (name) } } }
            p.state { (symbol(driver.state)) " " (driver.state.word()) @if let Some(runs) = &row.runs { ", driver " (runs.driver) } }
            @if !driver.hangs.is_empty() { p.hangs { (driver.hangs) } }
            @if let Some(rate) = &driver.rate { p.rate { (rate) @if driver.state == DriverState::DisplayDiffers { " " span.of { "by the record" } } } }
            @if let Some(dose) = &driver.dose { p.dose { (dose) } }
            @if let Some(left) = &driver.left {
                p.left { (left.percent) " % left: " (left.says) @if let Some(change) = &left.change { "; " strong { (change) } } }
                svg.level viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true" {
                    rect.whole width="100" height="6" {}
                    rect.held width=(left.percent) height="6" {}
                }
            }
            p { (row.stands) }
            @for owed in &row.owed { p.owed { strong { "Outstanding: " } (on_the_page(&owed.says)) " " span.code { "[" (owed.code) "]" } } }
            p.may {
                @if let Some(again) = second { a.button.main href=(format!("{at}/enter/second")) { (if again { "Read again" } else { "Do the second check" }) } }
                @if row.has_card { a.button href=(format!("{at}/card")) { "Card" } }
                @if row.has_card && !row.started { a.button href=(format!("{at}/readback")) { "Read back" } }
                a.button.main[row.has_card && second.is_none()] href=(format!("{at}/record")) { (records) }
                @if let Some(again) = first {
                    @let says = if again { "Read again" } else if row.started { "Prepare next syringe" } else { "Enter" };
                    a.button.main[again] href=(format!("{at}/enter/first")) { (says) }
                }
                @if !row.started { a.button href=(format!("{at}/enter/anew")) { "Discard and enter again" } }
            }
        }
    }
}

/// A shape for each state, beside its word.
const fn symbol(state: DriverState) -> &'static str {
    match state {
        DriverState::DisplayDiffers => "\u{26a0}",
        DriverState::NotStarted => "\u{25cb}",
        DriverState::Running => "\u{25b6}",
        DriverState::Paused => "||",
        DriverState::Empty => "!",
        DriverState::Stopped => "\u{25a0}",
        DriverState::Closed => "\u{2713}",
    }
}
