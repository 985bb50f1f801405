//! The bedside page: what the commands do, in a browser. In: requests of people who have signed in. Out: pages, and one
//! event more in the journal where something was done.
//!
//! One file per page, in `pages/`. No rule, limit or computation lives here: whose turn it is, what a field says and what follows are
//! answers of `case` and `entry`, in the words that the commands use.

mod answer;
mod drafts;
mod follow;
mod once;
mod pages;
mod proposed;
mod sent;
mod served;
mod session;
mod site;
mod tries;
mod words;

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::middleware;

pub use served::{Listen, NotServed, serve};
pub use site::{Clock, Site};

/// A form is a few hundred short answers at most.
const LARGEST_FORM: usize = 64 * 1024;

/// Everything that is answered. Looks for news as long as the site is there.
pub fn router(site: Arc<Site>) -> Router {
    follow::Beat::begin(&site);
    Router::new()
        .merge(pages::routes())
        .fallback(|| async { answer::plain(StatusCode::NOT_FOUND, "nothing is here", "go back to the list of cases") })
        .method_not_allowed_fallback(|| async {
            answer::plain(StatusCode::METHOD_NOT_ALLOWED, "this cannot be done here", "go back to the list of cases")
        })
        .layer(DefaultBodyLimit::max(LARGEST_FORM))
        .layer(middleware::from_fn_with_state(Arc::clone(&site), answer::guard))
        .with_state(site)
}
