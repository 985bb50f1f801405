//! The second pharmacist types every value from its source, file by file, without seeing the author's. What was typed is
//! kept for that person alone; where it comes to something else, places are named and no value is.

use std::sync::Arc;

use axum::Form;
use axum::extract::rejection::{FormRejection, PathRejection};
use axum::extract::{Path as InPath, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};

use super::typed::{Mine, name_of};
use super::{counted, for_pharmacists, opened, shown};
use crate::formulary::Formulary;
use crate::journal::Signer;
use crate::pharmacy::approval::{
    Answers, ApprovalError, NONE, Proposal, TypedPlace, fault_of, in_words, shares_in_words,
};
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, TypedFields, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::{Aside, Site};

const TITLE: &str = "Type its values";

pub(super) async fn files(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    let who = Arc::clone(&session);
    let inside = begun(&site, &session, move |_, mine| Ok(listed(&who, &mine))).await?;
    Ok(shown(&site, &session, StatusCode::OK, TITLE, inside))
}

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    path: Result<InPath<usize>, PathRejection>,
) -> Result<Response, Refusal> {
    let InPath(number) = path?;
    let who = Arc::clone(&session);
    let shared = Arc::clone(&site);
    let inside = begun(&site, &session, move |_, mut mine| {
        mine.shows(&shared, &who, number)?;
        typed_form(&mine, &who, number)
    })
    .await?;
    Ok(shown(&site, &session, StatusCode::OK, TITLE, inside))
}

pub(super) async fn sent(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    path: Result<InPath<usize>, PathRejection>,
    form: Result<Form<TypedFields>, FormRejection>,
) -> Result<Response, Refusal> {
    let (InPath(number), Form(typed)) = (path?, form?);
    let keeps = text(&typed, "do") == "keep";
    let once = text(&typed, "once");
    if !(if keeps { session.forms.knows(once) } else { session.forms.take(once) }) {
        return Err(site.refuses(Some(&session), Refusal::not_this_form()).await);
    }
    let (who, shared) = (Arc::clone(&session), Arc::clone(&site));
    let wrong = begun(&site, &session, move |_, mut mine| {
        still_the_same(&mine.proposal, &typed)?;
        mine.sent(number, &typed)?;
        mine.keep(&shared, &who, number)?;
        if keeps {
            return Ok(None);
        }
        let wrong = mine.of_file(number)?.any(|(at, _)| {
            let (place, typed) = (&mine.proposal.changes.typed[at], &mine.typed[at]);
            !typed.is_empty() && fault_of(place, typed).is_some()
        });
        if wrong { Ok(Some(typed_form(&mine, &who, number)?)) } else { Ok(None) }
    });
    Ok(match wrong.await? {
        Some(inside) => shown(&site, &session, StatusCode::UNPROCESSABLE_ENTITY, TITLE, inside),
        None if keeps => StatusCode::NO_CONTENT.into_response(),
        None => Redirect::to("/formulary/proposal/type").into_response(),
    })
}

/// Every finished file, held against the proposal: the places that differ; or what is left; or the words, to be read.
pub(super) async fn compare(State(site): State<Arc<Site>>, Sent { session, typed }: Sent) -> Result<Response, Refusal> {
    let (who, shared) = (Arc::clone(&session), Arc::clone(&site));
    let inside = begun(&site, &session, move |aside, mut mine| {
        still_the_same(&mine.proposal, &typed)?;
        let by = (&who.person, &who.signer);
        let mut differ: Vec<TypedPlace> = Vec::new();
        for (number, answers, seconds) in mine.finished()? {
            let found = mine.proposal.take(&mut aside.cases, aside.now, by, &answers, seconds)?;
            if found.is_empty() {
                shared.drafts.drop_one(&who.signer, &mine.task(number));
            }
            differ.extend(found.into_iter().cloned());
        }
        mine.progress = mine.proposal.progress(&aside.cases)?;
        if !differ.is_empty() {
            mine.again(&shared, &who, &differ)?;
            return Ok(differs(&differ));
        }
        Ok(to_be_signed(&who, &mine, html! {}))
    });
    Ok(shown(&site, &session, StatusCode::OK, TITLE, inside.await?))
}

/// The signature of the second pharmacist.
pub(super) async fn approve(State(site): State<Arc<Site>>, Sent { session, typed }: Sent) -> Result<Response, Refusal> {
    let (who, shared) = (Arc::clone(&session), Arc::clone(&site));
    let done = begun(&site, &session, move |aside, mut mine| {
        still_the_same(&mine.proposal, &typed)?;
        mine.progress.may_be_signed_by(&who.person)?;
        let refused = |mine: &Mine, refusal: Refusal| Ok(Err(to_be_signed(&who, mine, refusal.shown())));
        if !mine.proposal.changes.words.is_empty() && text(&typed, "read") != "read" {
            let help = "Say that they are read, or leave: nothing is approved then.";
            let refusal = Refusal::said(StatusCode::CONFLICT, "words-not-read", "they are not said to be read", help);
            return refused(&mine, refusal);
        }
        let mut again = Answers::default();
        for (at, place) in mine.progress.again(&mine.proposal.changes).into_iter().enumerate() {
            let typed = text(&typed, &again_name(at)).trim();
            if let Some(fault) = fault_of(place, typed) {
                let says = format!("{}: {}", place.says(), fault.message);
                let help = fault.help.unwrap_or_default();
                return refused(&mine, Refusal::said(StatusCode::CONFLICT, fault.code, says, help));
            }
            again.put(place, typed);
        }
        let signer = match signs_now(aside, &who, &typed) {
            Ok(signer) => signer,
            Err(refusal) => return refused(&mine, refusal),
        };
        let by = (&who.person, &signer);
        let approval = match mine.proposal.approve(&mut aside.cases, aside.now, by, &again) {
            Err(ApprovalError::Again(places)) => {
                let changes = &mine.proposal.changes.typed;
                let differ: Vec<TypedPlace> =
                    changes.iter().filter(|place| places.contains(&place.says())).cloned().collect();
                mine.progress = mine.proposal.progress(&aside.cases)?;
                mine.again(&shared, &who, &differ)?;
                return Ok(Err(differs(&differ)));
            }
            approval => approval?,
        };
        for number in 1..=mine.files.len() {
            shared.drafts.drop_one(&who.signer, &mine.task(number));
        }
        let approved = Formulary::open(&mine.proposal.folder)?;
        approved.load_all()?;
        if approved.fingerprint() != mine.proposal.formulary.fingerprint() {
            let says =
                "the folder was changed while it was approved: what was approved is written down, and is not used here";
            let help = "put the approved files back, and start the server with them";
            return Err(Refusal::said(StatusCode::CONFLICT, "formulary-altered-since", says, help));
        }
        Ok(Ok((approval.author().name.clone(), mine.proposal.changes.typed.len(), approved)))
    });
    match done.await? {
        Err(inside) => Ok(shown(&site, &session, StatusCode::CONFLICT, TITLE, inside)),
        Ok((author, values, approved)) => {
            let (fingerprint, folder) = (approved.fingerprint().to_string(), super::folder(&site)?);
            // The journal takes no set-up with the one before from now on.
            site.uses(approved);
            site.proposed.approved();
            let inside = html! {
                p.right { span.code { (fingerprint) } " is approved by " (author) " and " (session.person.name) ": " (counted(values, "value")) " came to the same." }
                p { "From now on this server uses it. Whenever the server is started again, name its folder: " }
                p.code { "countersign serve --formulary " (folder.display()) }
            };
            Ok(shown(&site, &session, StatusCode::OK, "Approved", inside))
        }
    }
}

/// A signature is given with the PIN: a session that was left open signs nothing for somebody else.
pub(super) fn signs_now(aside: &mut Aside, session: &Session, typed: &TypedFields) -> Result<Signer, Refusal> {
    let (journal, name) = (aside.cases.journal_mut(), &session.person.name);
    Ok(crate::case::unlock(journal, aside.now, name, text(typed, "pin")).map(|(_, signer)| signer)?)
}

/// Where it is typed.
pub(super) fn pin_field() -> Markup {
    html! {
        p.field { label for="pin" { "PIN" } input #pin name="pin" type="password" required autocomplete="off"; }
    }
}

/// A form that was drawn for other bytes says nothing about these.
pub(super) fn still_the_same(proposal: &Proposal, typed: &TypedFields) -> Result<(), Refusal> {
    if text(typed, "fingerprint") == proposal.formulary.fingerprint().to_string() {
        return Ok(());
    }
    let says = "the files of the proposal were changed since this page was drawn";
    Err(Refusal::said(StatusCode::CONFLICT, "proposal-changed", says, "Load the page again, and look at it anew."))
}

/// Does something for somebody who may be the second pharmacist.
async fn begun<T: Send + 'static>(
    site: &Arc<Site>,
    session: &Arc<Session>,
    what: impl FnOnce(&mut Aside, Mine) -> Result<T, Refusal> + Send + 'static,
) -> Result<T, Refusal> {
    for_pharmacists(session)?;
    let folder = super::folder(site)?;
    let (shared, who) = (Arc::clone(site), Arc::clone(session));
    site.run_in_background(move |aside| {
        let proposal = opened(&aside.cases, &folder)?;
        aside.cases.to_be_approved(&who.person, &proposal.formulary)?;
        if shared.proposed.was_shown_to(&who) {
            let says = format!("{} has looked at the values of the proposal here", who.person.name);
            let help = "Another pharmacist, who has not seen them, goes to the sources.";
            return Err(Refusal::said(StatusCode::CONFLICT, "formulary-values-seen", says, help));
        }
        let progress = proposal.progress(&aside.cases)?;
        let mine = Mine::found(&shared, &who, proposal, progress);
        what(aside, mine)
    })
    .await
}

fn listed(session: &Session, mine: &Mine) -> Markup {
    html! {
        p { "You go to the sources and type every value that differs from the formulary approved before. You see neither the old value nor the author's. What differs is named by its place." }
        ul.rows {
            @for (at, file) in mine.progress.files(&mine.proposal.changes).iter().enumerate() {
                @let mine_now = mine.of_file(at + 1).map(|places| places.filter(|(at, _)| !mine.typed[*at].is_empty()).count());
                li {
                    @if file.typed < file.values {
                        a.button href=(format!("/formulary/proposal/type/{}", at + 1)) { (file.file) }
                        " " (file.typed + mine_now.unwrap_or_default()) " of " (counted(file.values, "value")) " typed"
                    } @else {
                        strong { (file.file) } " " (counted(file.values, "value")) " came to the same"
                    }
                    @for (share, at) in &file.by { ": " (shares_in_words(std::slice::from_ref(share))) ", " (at.local()) }
                }
            }
        }
        @if mine.files.is_empty() { p { "No value differs: only texts are to be read." } }
        form method="post" action="/formulary/proposal/compare" {
            (hidden(session, &mine.proposal))
            p { button.main { "Hold it against the proposal" } }
        }
        p.hint { "A file is held against the proposal when all of it is typed; others can type the rest, on other days. Where they differ, the places are written into the journal, and no value is." }
    }
}

/// Once every value came to the same: who signs. Else how far it is.
fn to_be_signed(session: &Session, mine: &Mine, says: Markup) -> Markup {
    let (left, at_once) = (mine.progress.left(), mine.progress.at_once());
    html! {
        @if left > 0 {
            (says)
            p.right { "What was typed came to the same, and is kept. " (counted(left, "value")) " left to be typed." }
            p { a.button.main href="/formulary/proposal/type" { "All files" } }
        } @else if mine.progress.may_be_signed_by(&session.person).is_ok() {
            (words(session, mine, says))
        } @else {
            (says)
            p.wrong role="alert" { strong { "NOT APPROVED. FILLED IN AT ONCE: " } (shares_in_words(&at_once)) "." }
            p { "Values came faster than anybody types them from a source. A third pharmacist, neither the author nor the one who filled them in, signs in here, types some of them again and signs." }
        }
    }
}

/// What one of the values that are typed once more is called in the form.
fn again_name(at: usize) -> String {
    format!("again-{}", at + 1)
}

fn typed_form(mine: &Mine, session: &Session, number: usize) -> Result<Markup, Refusal> {
    let places: Vec<(usize, &TypedPlace)> = mine.of_file(number)?.collect();
    let file = places.first().map_or("", |(_, place)| place.file.as_str());
    let address = format!("/formulary/proposal/type/{number}");
    Ok(html! {
        p { a href="/formulary/proposal/type" { "All files" } }
        h2 { (file) ": " (counted(places.len(), "value")) }
        p { "Each from its source, as it stands there, with its unit; " b { (NONE) } " where nothing stands. Keep it now and then: what is kept is there for you for two weeks, and for nobody else." }
        form method="post" action=(address) data-kept="yes" novalidate {
            (hidden(session, &mine.proposal))
            @for (at, place) in places { (question(&name_of(at), place, &mine.typed[at])) }
            p.does { button.main { "Keep it" } }
        }
    })
}

fn question(name: &str, place: &TypedPlace, typed: &str) -> Markup {
    let fault = Some(typed).filter(|typed| !typed.is_empty()).and_then(|typed| fault_of(place, typed));
    let (hint, wrong) = (format!("h-{name}"), format!("w-{name}"));
    let described = if fault.is_some() { format!("{hint} {wrong}") } else { hint.clone() };
    html! {
        div.question {
            label for=(name) { (in_words(&place.place)) }
            p.hint id=(hint) { @match &place.source { Some(source) => { "from: " (source) } None => "no source is named in the file" } }
            input id=(name) name=(name) value=(typed) autocomplete="off" autocapitalize="off" spellcheck="false" aria-describedby=(described) aria-invalid=[fault.as_ref().map(|_| "true")];
            @if let Some(fault) = &fault {
                p.wrong id=(wrong) { strong { "Look again: " } (fault.message) @if let Some(help) = &fault.help { ". " (help) } }
            }
        }
    }
}

fn differs(differ: &[TypedPlace]) -> Markup {
    html! {
        p.wrong role="alert" { strong { "NOT APPROVED. " } "The second reading differs from the file here:" }
        ul { @for place in differ { li { (place.says()) } } }
        p { "Both go back to the sources. Where the file is wrong, its author mends it and signs it anew; where the reading was, it is typed once more. These places stand empty now; everything else is as you typed it." }
        p { a.button.main href="/formulary/proposal/type" { "Type them once more" } }
    }
}

/// What is not typed is read, once everything that is typed came to the same.
fn words(session: &Session, mine: &Mine, says: Markup) -> Markup {
    let proposal = &mine.proposal;
    let words = &proposal.changes.words;
    let (shares, again) = (mine.progress.shares(), mine.progress.again(&proposal.changes));
    let nothing = "(nothing)";
    html! {
        (says)
        p.right { (counted(proposal.changes.typed.len(), "value")) " came to the same." }
        @if !shares.is_empty() { p { "Typed by " (shares_in_words(&shares)) "." } }
        form method="post" action="/formulary/proposal/approve" novalidate {
            (hidden(session, proposal))
            @if !again.is_empty() {
                h2 { (counted(again.len(), "value")) " to be typed once more" }
                p { "They were drawn by lot. Go to the sources again." }
                @for (at, place) in again.iter().enumerate() {
                    p.hint { (place.file) }
                    (question(&again_name(at), place, ""))
                }
            }
            @if !words.is_empty() {
                h2 { (counted(words.len(), "text")) " to be read" }
                (super::wide("Texts to be read", html! {
                    table {
                        caption { "Texts that are otherwise" }
                        thead { tr { th scope="col" { "Where" } th scope="col" { "Was" } th scope="col" { "Is" } } }
                        tbody {
                            @for one in words {
                                tr {
                                    th scope="row" { (one.file) ", " (in_words(&one.place)) }
                                    td { (one.old.as_deref().unwrap_or(nothing)) }
                                    td { (one.new.as_deref().unwrap_or(nothing)) }
                                }
                            }
                        }
                    }
                }))
                label.choice for="read" { input #read type="checkbox" name="read" value="read"; "They are read, and right" }
            }
            p { "With your signature the formulary is approved. From then on set-ups are entered with it; an entry that waits for its second person is entered anew." }
            (pin_field())
            p { button.main.large { "Approve it" } }
        }
    }
}

fn hidden(session: &Session, proposal: &Proposal) -> Markup {
    html! {
        input type="hidden" name="once" value=(session.forms.give());
        input type="hidden" name="fingerprint" value=(proposal.formulary.fingerprint());
    }
}
