//! Whether the journal is as it was written.

use std::sync::Arc;

use axum::extract::State;
use axum::response::{Html, IntoResponse, Response};
use maud::html;

use super::frame;
use crate::web::answer::Refusal;
use crate::web::session::Here;
use crate::web::site::Site;

pub(super) async fn page(State(site): State<Arc<Site>>, Here(session): Here) -> Result<Response, Refusal> {
    let verified = site
        .with(|desk| Ok(desk.cases.journal().verify(&[], &mut |_, _| {}).map_err(|error| error.to_string())))
        .await?;
    let inside = html! {
        h1 { "Journal" }
        @match verified {
            Ok(verified) => p.right { "Events 1 to " (verified.head.seq) ": each as it was written. Last: " span.code { (verified.head) } },
            Err(why) => {
                p.wrong role="alert" { strong { "BROKEN: " } (why) }
                p { "Write nothing more into it. Keep the folder as it is, and restore the last backup into a new one." }
            }
        }
    };
    Ok(Html(frame::page(&site, &session, "Journal", inside).into_string()).into_response())
}
