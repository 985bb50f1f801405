//! The page's own sheet of styles and script, from inside the program.

use axum::http::header;
use axum::response::{IntoResponse, Response};

pub(super) async fn style() -> Response {
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], include_str!("style.css")).into_response()
}

pub(super) async fn icon() -> Response {
    ([(header::CONTENT_TYPE, "image/svg+xml")], include_str!("icon.svg")).into_response()
}

pub(super) async fn script() -> Response {
    ([(header::CONTENT_TYPE, "text/javascript; charset=utf-8")], include_str!("script.js")).into_response()
}
