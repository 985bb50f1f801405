//! The pages, one file each, rendered here; their sheet of styles and their script travel inside the program.

pub(super) mod card;
mod cases;
mod close;
mod correct;
mod emergency;
mod entry;
mod fields;
mod form;
pub(super) mod frame;
mod journal;
pub(super) mod metrics;
mod pharmacy;
mod assets;
mod patient;
mod read_back;
mod record;
mod round;
mod sign_in;
mod case_status;

use std::sync::Arc;

use axum::Router;
use axum::routing::{get, post};

use super::site::Site;

/// Every page at its path.
pub(super) fn routes() -> Router<Arc<Site>> {
    Router::new()
        .route("/", get(cases::list).post(cases::open))
        .route("/cases/{before}", get(cases::older))
        .route("/sign-in", get(sign_in::page).post(sign_in::sign_in))
        .route("/hand-over", post(sign_in::hand_over))
        .route("/emergency", get(emergency::page).post(emergency::entered))
        .route("/emergency/whole", get(emergency::whole_page).post(emergency::whole_entered))
        .route("/case/{case}", get(case_status::page))
        .route("/case/{case}/follow", get(case_status::follow))
        .route("/follow", get(cases::follow))
        .route("/session", get(frame::session))
        .route("/session/follow", get(frame::follow))
        .route("/case/{case}/weight", get(patient::weight).post(patient::weight_sent))
        .route("/case/{case}/identifiers", get(patient::identifiers).post(patient::identifiers_sent))
        .route("/case/{case}/round", get(round::page).post(round::sent))
        .route("/case/{case}/round/sign", post(round::sign))
        .route("/case/{case}/enter", get(entry::new_set_up).post(entry::sent_new))
        .route("/case/{case}/{number}/enter/{turn}", get(entry::page).post(entry::sent))
        .route("/case/{case}/{number}/card", get(card::page))
        .route("/case/{case}/{number}/readback", get(read_back::page).post(read_back::sent))
        .route("/case/{case}/{number}/record", get(record::page).post(record::sent))
        .route("/case/{case}/{number}/record/{event}", get(correct::page).post(correct::sent))
        .route("/case/{case}/{number}/close", get(close::page).post(close::sent))
        .merge(pharmacy::routes())
        .route("/journal", get(journal::page).post(journal::against))
        .route("/journal/clock", post(journal::clock_is_right))
        .route("/own/style.css", get(assets::style))
        .route("/own/icon.svg", get(assets::icon))
        .route("/own/script.js", get(assets::script))
}
