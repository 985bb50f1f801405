//! The bedside page: what the commands do, in a browser. In: requests of people who have signed in. Out: pages, and one
//! event more in the journal where something was done.
//!
//! One file per page, in `pages/`, and per subject of the interface for other programs, in `api/`. No rule, limit or
//! computation lives here: whose turn it is, what a field says and what follows are answers of `case` and `entry`, in the
//! words that the commands use.

mod accesses;
mod answer;
mod api;
mod beat;
mod clock_watch;
mod connections;
mod device;
mod door_tokens;
mod drafts;
mod filled;
mod follow;
mod fragment_cache;
mod form_tokens;
mod guard;
mod hosts;
mod kept_answers;
mod locked;
mod metrics;
mod pages;
mod peer;
mod proof_watch;
mod proposed;
mod sent;
mod served;
mod session;
mod sessions;
mod site;
mod sign_in_throttle;
mod typed_fields;
mod words;

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{StatusCode, Uri};
use axum::middleware;

pub use hosts::Hosts;
pub use metrics::REQUEST as REQUEST_LOG;
pub use served::{Listen, NotServed, UntilAsked, serve};
pub use site::{Clock, Site};

/// A form is a few hundred short answers at most.
const LARGEST_FORM: usize = 64 * 1024;

/// Everything that is answered. Looks for news as long as the site is there.
pub fn router(site: Arc<Site>) -> Router {
    follow::begin_to_beat(&site);
    Router::new()
        .merge(pages::routes())
        .merge(api::routes())
        .route("/metrics", axum::routing::get(pages::metrics::page))
        .route(&format!("{}{{key}}", kept_answers::PATH), axum::routing::get(guard::kept))
        .fallback(|uri: Uri| async move { guard::not_here(&uri, StatusCode::NOT_FOUND, "nothing is here") })
        .method_not_allowed_fallback(|uri: Uri| async move {
            guard::not_here(&uri, StatusCode::METHOD_NOT_ALLOWED, "this cannot be done here")
        })
        .layer(DefaultBodyLimit::max(LARGEST_FORM))
        .layer(middleware::from_fn_with_state(Arc::clone(&site), guard::guard))
        .with_state(site)
}
