//! The bedside page: what the commands do, in a browser. In: requests of people who have signed in. Out: pages, and one
//! event more in the journal where something was done.
//!
//! One file per page. No rule, limit or computation lives here: whose turn it is, what a field says and what follows are
//! answers of `case` and `entry`, in the words that the commands use.

mod answer;
mod card;
mod cases;
mod close;
mod drafts;
mod emergency;
mod entry;
mod form;
mod frame;
mod journal;
mod keeping;
mod once;
mod own;
mod read_back;
mod record;
mod served;
mod session;
mod sign_in;
mod site;
mod stands;

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware;
use axum::routing::{get, post};

pub use served::{Listen, NotServed, serve};
pub use site::{Clock, Site};

/// A form is a few hundred short answers at most.
const LARGEST_FORM: usize = 64 * 1024;

/// Every page at its path.
pub fn router(site: Arc<Site>) -> Router {
    Router::new()
        .route("/", get(cases::list).post(cases::open))
        .route("/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .route("/hand-over", post(sign_in::hand_over))
        .route("/emergency", get(emergency::page).post(emergency::entered))
        .route("/case/{case}", get(stands::page))
        .route("/case/{case}/state", get(stands::state))
        .route("/case/{case}/enter", get(entry::new_set_up).post(entry::sent_new))
        .route("/case/{case}/{number}/enter/{turn}", get(entry::page).post(entry::sent))
        .route("/case/{case}/{number}/card", get(card::page))
        .route("/case/{case}/{number}/readback", get(read_back::page).post(read_back::sent))
        .route("/case/{case}/{number}/record", get(record::page).post(record::sent))
        .route("/case/{case}/{number}/close", get(close::page).post(close::sent))
        .route("/formulary", get(keeping::book))
        .route("/formulary/lint", get(keeping::lint))
        .route("/journal", get(journal::page))
        .route("/own/style.css", get(own::style))
        .route("/own/script.js", get(own::script))
        .fallback(|| async { answer::plain(StatusCode::NOT_FOUND, "Nothing is here", "Go back to the list of cases.") })
        .method_not_allowed_fallback(|| async {
            answer::plain(StatusCode::METHOD_NOT_ALLOWED, "This cannot be done here", "Go back to the list of cases.")
        })
        .layer(DefaultBodyLimit::max(LARGEST_FORM))
        .layer(middleware::from_fn(answer::guard))
        .with_state(site)
}
