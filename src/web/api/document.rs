//! The document of the interface, from the handlers: OpenAPI 3.1.

use std::sync::LazyLock;

use axum::http::header;
use axum::response::{IntoResponse, Response};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{Object, Schema};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::{Modify, OpenApi};

use super::refused::RefusedBody;

/// What stands above all actions.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "countersign",
        description = "The actions of the bedside page, for other programs: two people enter a set-up blind, and it gives \
            one card when both agree. Not a medical device: verify against the order, the label and local policy; \
            licensed practitioners decide. It writes down what people do, and controls no driver.\n\n\
            A number that was typed is text with its unit, as it was written (`84.2 kg`, `0.08 mcg/kg/min`). One that \
            follows from others and does not end is cut to twelve digits; where `exact` stands beside it, that is the \
            fraction itself. A moment is RFC 3339 with its offset.\n\n\
            Sign in with name and PIN for a token. Whatever writes takes `idempotency_key`, a text of 16 to 64 characters that the \
            program chooses anew for each thing that happened: sent again, it is refused with `form-not-open`, and nothing \
            is written twice, as long as the token is the same. With a new one, look first what is written. After a refusal of the 400s nothing was written (but `sealed-without-a-card`), and the same `idempotency_key` may be sent with the \
            corrected request. After no answer, or one of the 500s, look first whether it was written."
    ),
    components(schemas(RefusedBody)),
    security(("bearer" = [])),
    modifiers(&Bearer)
)]
pub(super) struct Document;

struct Bearer;

impl Modify for Bearer {
    fn modify(&self, openapi: &mut utoipa::openapi::OpenApi) {
        let scheme = HttpBuilder::new()
            .scheme(HttpAuthScheme::Bearer)
            .description(Some("The token that signing in answers; it ends after some minutes without a request"));
        let components = openapi.components.get_or_insert_default();
        components.add_security_scheme("bearer", SecurityScheme::Http(scheme.build()));
    }
}

/// This document
#[utoipa::path(get, path = "/api/v1/openapi.json", security(()),
    responses((status = 200, description = "OpenAPI 3.1", body = Object)))]
pub(super) async fn openapi() -> Response {
    static TEXT: LazyLock<String> =
        LazyLock::new(|| one_object_each(super::described().into_openapi()).to_json().expect("every key is a string"));
    ([(header::CONTENT_TYPE, "application/json")], TEXT.as_str()).into_response()
}

/// A request with its key is one object: of two that each refuse what the other has, nothing could be sent.
fn one_object_each(mut openapi: utoipa::openapi::OpenApi) -> utoipa::openapi::OpenApi {
    let Some(components) = &mut openapi.components else { return openapi };
    let known = components.schemas.clone();
    for (_, schema) in components.schemas.iter_mut().filter(|(name, _)| name.starts_with("Keyed_")) {
        let RefOr::T(Schema::AllOf(parts)) = schema else { continue };
        let mut whole: Option<Object> = None;
        for part in &parts.items {
            let part = match part {
                RefOr::Ref(to) => to.ref_location.rsplit('/').next().and_then(|name| known.get(name)),
                RefOr::T(_) => Some(part),
            };
            let Some(RefOr::T(Schema::Object(part))) = part else { continue };
            let whole = whole.get_or_insert_with(Object::default);
            whole.properties.extend(part.properties.clone());
            whole.required.extend(part.required.iter().cloned());
            whole.description = whole.description.take().or_else(|| part.description.clone());
            if part.additional_properties.is_some() {
                whole.additional_properties.clone_from(&part.additional_properties);
            }
        }
        if let Some(whole) = whole {
            *schema = RefOr::T(Schema::Object(whole));
        }
    }
    openapi
}
