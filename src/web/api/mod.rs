//! The interface for other programs: the actions of the pages as JSON. In: a bearer token and one object. Out: the shapes
//! that the commands write with `--format json`, or one shape of refusal.
//!
//! One file per subject. As for the pages, no rule lives here. No cookie is read, so that no page of another site can
//! reach it.

mod card;
mod cases;
mod clock;
mod close;
mod document;
mod emergency;
mod entry;
mod pharmacy;
mod patient;
mod read_back;
mod record;
mod refused;
mod round;
mod sent;
mod sign_in;

use std::sync::Arc;

use axum::Router;
use utoipa::OpenApi as _;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use super::site::Site;

pub(super) use refused::Refused;

/// Every path of it begins so.
pub(super) const ROOT: &str = "/api/";

/// Every action at its path.
pub(super) fn routes() -> Router<Arc<Site>> {
    described().split_for_parts().0
}

/// The actions, described for the document.
fn described() -> OpenApiRouter<Arc<Site>> {
    OpenApiRouter::with_openapi(document::Document::openapi())
        .routes(routes!(document::openapi))
        .routes(routes!(sign_in::sign_in))
        .routes(routes!(sign_in::hand_over))
        .routes(routes!(cases::list_cases, cases::open_case))
        .routes(routes!(cases::older_cases))
        .routes(routes!(cases::case_stands))
        .routes(routes!(patient::read_weight))
        .routes(routes!(patient::read_identifiers))
        .routes(routes!(round::take_round))
        .routes(routes!(round::sign_round))
        .routes(routes!(entry::new_set_up, entry::seal_new_set_up))
        .routes(routes!(entry::judge_new_set_up))
        .routes(routes!(entry::entry, entry::seal_entry))
        .routes(routes!(entry::judge_entry))
        .routes(routes!(emergency::emergency, emergency::seal_emergency))
        .routes(routes!(emergency::judge_emergency))
        .routes(routes!(card::card))
        .routes(routes!(card::card_page))
        .routes(routes!(read_back::to_read_back, read_back::read_back))
        .routes(routes!(record::what_is_recorded))
        .routes(routes!(record::show_record, record::report))
        .routes(routes!(record::correct))
        .routes(routes!(close::close))
        .routes(routes!(clock::clock, clock::confirm))
        .routes(routes!(pharmacy::formulary))
        .routes(routes!(pharmacy::lint))
        .routes(routes!(pharmacy::journal))
}
