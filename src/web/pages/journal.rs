//! Whether the journal is as it was written, what is in it, and heads that were kept elsewhere held against it.

use std::sync::Arc;
use std::time::Instant;

use axum::extract::State;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use super::frame;
use crate::case::{Cases, confirm_clock, kind_in_words};
use crate::journal::{Head, JournalError, KeptHeads, Restore, Tally, VerifyError};
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    drawn(&site, &session, String::new()).await
}

/// With checkpoints that were kept elsewhere.
pub(super) async fn against(State(site): State<Arc<Site>>, Sent { session, typed }: Sent) -> Result<Response, Refusal> {
    drawn(&site, &session, text(&typed, "checkpoints").to_owned()).await
}

/// A person has looked at another clock, and says that this machine's is right.
pub(super) async fn clock_is_right(
    State(site): State<Arc<Site>>,
    Sent { session, .. }: Sent,
) -> Result<Response, Refusal> {
    site.with_journal(move |desk| Ok(confirm_clock(desk.cases.journal_mut(), desk.now, &session.signer)?)).await?;
    site.watch.is_right();
    Ok(Redirect::to("/journal").into_response())
}

/// What one look at a journal comes to.
struct Looked {
    verified: Result<(Head, u64), VerifyError>,
    tally: Option<Tally>,
    milliseconds: u128,
    /// The last of the checkpoints that were given.
    checkpoint: Option<Result<String, String>>,
    /// Every restore of it, in words.
    restores: Vec<String>,
}

async fn drawn(site: &Site, session: &Session, checkpoints: String) -> Result<Response, Refusal> {
    let given = checkpoints.clone();
    let looked = site.run_in_background(move |aside| Ok(looked(&aside.cases, &given))).await?;
    let inside = html! {
        h1 { "Journal" }
        (clock_to_confirm(site, session))
        (stands(&looked))
        (checkpoints_go_to(site))
        (checked_against(session, &checkpoints, looked.checkpoint.as_ref()))
        @if let Some(tally) = &looked.tally { (counts(tally)) (clocks(tally)) }
    };
    Ok(Html(frame::page(site, session, "Journal", inside).into_string()).into_response())
}

fn looked(cases: &Cases, checkpoints: &str) -> Looked {
    let (journal, began) = (cases.journal(), Instant::now());
    let (given, checkpoint) = match journal.checkpoints(checkpoints) {
        Ok(read) => {
            let last = read.iter().max_by_key(|one| one.head.seq);
            let last = last.map(|one| Ok(format!("{}, made {}", one.head, one.at)));
            (read, last)
        }
        Err(error) => (Vec::new(), Some(Err(error.to_string()))),
    };
    // Where it is damaged, the verification says so.
    let KeptHeads { expected, restores } = journal.told_apart(&given).unwrap_or_default();
    let restores = restores.iter().map(Restore::in_words).collect();
    let verified = cases.verify(&expected, &mut |_, _| {}).map(|verified| (verified.head, verified.against));
    let milliseconds = began.elapsed().as_millis();
    let tally: Result<Tally, JournalError> = journal.tally();
    Looked { verified, tally: tally.ok(), milliseconds, checkpoint, restores }
}

fn clock_to_confirm(site: &Site, session: &Session) -> Markup {
    html! {
        @if let Some(why) = site.clock_in_doubt() {
            div.wrong role="alert" {
                p { strong { "The clock is uncertain: " } (why) "." }
                p { "It says " (site.now()) ". Look at another clock. If this time is wrong, set the machine's clock right." }
                form method="post" action="/journal/clock" {
                    input type="hidden" name="once" value=(session.forms.give());
                    p { button { "Confirm the time" } }
                }
            }
        }
    }
}

fn stands(looked: &Looked) -> Markup {
    html! {
        @match &looked.verified {
            Ok((head, against)) => {
                p.right { "Events 1 to " (head.seq) ": each as it was written. Last: " span.code { (head) } }
                @for says in &looked.restores { p.wrong { strong { "RESTORED: " } (says) } }
                @if *against > 0 { p.right { "Held against " (against) " kept elsewhere: they fit." } }
                p { "Looked through in " (looked.milliseconds) " ms; nobody waited for it." }
            }
            Err(why) => {
                p.wrong role="alert" { strong { "BROKEN: " } (why) }
                p { (why.help()) }
            }
        }
    }
}

fn checkpoints_go_to(site: &Site) -> Markup {
    let places = site.proof.places();
    html! {
        @if places.is_empty() {
            p { "No checkpoint goes anywhere by itself: start the server with --checkpoints and a folder on another machine." }
        } @else {
            p { "Checkpoints go by themselves to: " (places.iter().map(|place| place.path().display().to_string()).collect::<Vec<_>>().join(", ")) "." }
        }
    }
}

fn checked_against(session: &Session, typed: &str, checkpoint: Option<&Result<String, String>>) -> Markup {
    html! {
        h2 { "Checkpoints kept elsewhere" }
        p { "A journal whose end was cut off is whole in itself. Only a checkpoint that was kept elsewhere tells: countersign journal checkpoint makes one." }
        @match checkpoint {
            None => p { "None was given here." },
            Some(Ok(last)) => p { "The last that was given: " span.code { (last) } },
            Some(Err(why)) => p.wrong role="alert" { strong { "Not read: " } (why) ". Nothing was held against them." },
        }
        form method="post" action="/journal" {
            input type="hidden" name="once" value=(session.forms.give());
            label for="checkpoints" { "Checkpoints, one a line" }
            textarea #checkpoints name="checkpoints" rows="4" spellcheck="false" autocomplete="off" { (typed) }
            p { button { "Hold them against the journal" } }
        }
    }
}

fn counts(tally: &Tally) -> Markup {
    html! {
        h2 { "What is in it" }
        div.wide role="region" aria-label="Events by kind" tabindex="0" {
            table {
                caption { "Events by kind" }
                thead { tr { th scope="col" { "Kind" } th scope="col" { "Events" } } }
                tbody {
                    @for (kind, count) in &tally.kinds {
                        tr { th scope="row" { (kind_in_words(kind)) } td { (count) } }
                    }
                }
                tfoot { tr { th scope="row" { "In all" } td { (tally.kinds.values().sum::<u64>()) } } }
            }
        }
    }
}

fn clocks(tally: &Tally) -> Markup {
    html! {
        h2 { "Marks of the clock: " (tally.clock.len()) }
        @if tally.clock.is_empty() { p { "No event was written by a clock that was odd." } } @else {
            p { "Order is always by number, never by time." }
            ul.rows {
                @for (seq, at, says) in &tally.clock { li { "Event " (seq) ", " (at) ": " (says) } }
            }
        }
    }
}
