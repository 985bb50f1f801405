//! Requests, taken apart once for every action: who sends them, what they name, their one object, and that it is new.

use std::fmt;
use std::marker::PhantomData;
use std::sync::Arc;

use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, Path, Request};
use axum::http::{HeaderMap, StatusCode, header, request::Parts};
use serde::Deserialize;
use serde::de::value::MapAccessDeserializer;
use serde::de::{
    DeserializeOwned, DeserializeSeed, Deserializer, Error as _, IntoDeserializer as _, MapAccess, Visitor,
};
use serde_json::error::Category;
use utoipa::openapi::path::{Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::{ObjectBuilder, Required, Type};
use utoipa::{IntoParams, ToSchema};

use crate::case::{CaseCode, SetUpCode};
use crate::diagnostic::Fault;
use crate::quantity::clip;
use crate::web::answer::Refusal;
use crate::web::form_tokens::FormTokens;
use crate::web::sent::{self as pages, TypedFields};
use crate::web::session::{At, Session};
use crate::web::site::{JournalWorker, Site};

use super::Refused;

/// A request with the token of a session.
#[derive(Debug)]
pub(super) struct ApiSession(pub(super) Arc<Session>);

/// The case that an address names.
#[derive(Debug)]
pub(super) struct CasePath(pub(super) CaseCode);

/// The set-up that an address names.
#[derive(Debug)]
pub(super) struct SetUpPath(pub(super) SetUpCode);

/// The set-up and the line of its record that an address names.
#[derive(Debug)]
pub(super) struct LinePath(pub(super) SetUpCode, pub(super) u64);

/// The event of the journal before which an address looks.
#[derive(Debug)]
pub(super) struct OpenedBefore(pub(super) u64);

/// The one object of a request.
#[derive(Debug)]
pub(super) struct Body<T>(pub(super) T);

/// A request, with the key under which it counts once.
#[derive(Debug, ToSchema)]
pub(super) struct Keyed<T> {
    /// Chosen anew for each thing that happened: the same one twice is one bolus, not two.
    #[schema(min_length = 16, max_length = 64)]
    pub(super) idempotency_key: String,
    #[serde(flatten)]
    pub(super) request: T,
}

/// An object, and no list of its values in their order.
#[derive(Debug)]
pub(super) struct Object<T>(pub(super) T);

/// Answers by the paths of their questions; none twice.
#[derive(Debug)]
pub(super) struct ByPath(pub(super) TypedFields);

/// Does something that must not be done twice, and keeps the key that its sender chose for it: in memory, and with what is
/// written. Where nothing was written the same key may be sent again.
pub(super) async fn once<T: Send + 'static>(
    site: &Arc<Site>,
    session: Option<&Arc<Session>>,
    chosen: &str,
    what: impl FnOnce(&mut JournalWorker) -> Result<T, Refusal> + Send + 'static,
) -> Result<T, Refused> {
    if !(16..=64).contains(&chosen.chars().count()) {
        let help = "choose 16 to 64 characters anew for each thing that happened";
        let fault = Fault::new("key-length", "`idempotency_key` is too short or too long").in_field(KEY).help(help);
        return Err(Refusal::of_fields(vec![fault]).into());
    }
    let known: &FormTokens = session.map_or(&site.chosen, |session| &session.chosen);
    if !known.is_new(chosen) {
        let says = "a request with this `idempotency_key` was taken before";
        let help = "look whether what it asked for was done; for something else choose another `idempotency_key`";
        let refusal = Refusal::said(StatusCode::CONFLICT, "form-not-open", says, help);
        return Err(site.refuses(session.map(|session| &**session), refusal).await.into());
    }
    // Two people may choose the same.
    let request = format!("{}\n{chosen}", session.map_or("", |session| &session.person.id));
    let done = site.with_journal(move |desk| {
        desk.cases.journal_mut().for_request(Some(&request));
        what(desk)
    });
    let done = done.await;
    // What was written in spite of it is not written again.
    let is_unwritten = |refusal: &Refusal| {
        (refusal.status().is_client_error() || refusal.status() == StatusCode::SERVICE_UNAVAILABLE)
            && refusal.code() != "sealed-without-a-card"
    };
    if done.as_ref().is_err_and(is_unwritten) {
        known.take(chosen);
    }
    Ok(done?)
}

/// What was typed, without the blanks around it; nothing where nothing is left.
pub(super) fn said(typed: Option<&String>) -> Option<&str> {
    typed.map(|text| text.trim()).filter(|text| !text.is_empty())
}

impl FromRequestParts<Arc<Site>> for ApiSession {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refused> {
        site.follow_people();
        let found = token(&parts.headers).and_then(|token| site.sessions.find(At::Program, token, true));
        found.map(Self).ok_or(Refused(Refusal::SignIn))
    }
}

fn token(headers: &HeaderMap) -> Option<&str> {
    let (scheme, token) = headers.get(header::AUTHORIZATION)?.to_str().ok()?.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
}

impl FromRequestParts<Arc<Site>> for CasePath {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refused> {
        let pages::CasePath(code) = pages::CasePath::from_request_parts(parts, site).await?;
        Ok(Self(code))
    }
}

impl FromRequestParts<Arc<Site>> for SetUpPath {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refused> {
        let pages::SetUpPath(code) = pages::SetUpPath::from_request_parts(parts, site).await?;
        Ok(Self(code))
    }
}

impl FromRequestParts<Arc<Site>> for LinePath {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refused> {
        let path = Path::<(String, u16, u64)>::from_request_parts(parts, site).await;
        let Path((case, number, event)) = path.map_err(Refusal::from)?;
        let case = CaseCode::parse(&case).map_err(Refusal::from)?;
        Ok(Self(SetUpCode { case, number }, event))
    }
}

impl FromRequestParts<Arc<Site>> for OpenedBefore {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refused> {
        let Path(event) = Path::<u64>::from_request_parts(parts, site).await.map_err(Refusal::from)?;
        Ok(Self(event))
    }
}

impl<T: DeserializeOwned> FromRequest<Arc<Site>> for Body<T> {
    type Rejection = Refused;

    async fn from_request(request: Request, site: &Arc<Site>) -> Result<Self, Refused> {
        let content_type = request.headers().get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok());
        let essence = content_type.map(|value| value.split(';').next().unwrap_or_default().trim());
        if !essence.is_some_and(|essence| essence.eq_ignore_ascii_case("application/json")) {
            let (says, help) = ("the body is not said to be JSON", "send it with `Content-Type: application/json`");
            return Err(Refusal::said(StatusCode::UNSUPPORTED_MEDIA_TYPE, "not-json", says, help).into());
        }
        let bytes = Bytes::from_request(request, site).await.map_err(|rejection| {
            let help = "send one object of at most 64 KiB";
            Refusal::said(rejection.status(), "body-not-read", "the body cannot be read", help)
        })?;
        let mut reader = serde_json::Deserializer::from_slice(&bytes);
        let Object(read) = serde_path_to_error::deserialize(&mut reader).map_err(|error| not_taken(&error))?;
        let rest = reader.end().map_err(|_| not_json("more stands after it"));
        rest.map(|()| Self(read)).map_err(Refused)
    }
}

fn not_json(says: &str) -> Refusal {
    let help = "send one JSON object in UTF-8";
    Refusal::said(StatusCode::BAD_REQUEST, "json-malformed", format!("the body is not JSON: {says}"), help)
}

/// In words that repeat the name of a field at most, and never a value.
fn not_taken(error: &serde_path_to_error::Error<serde_json::Error>) -> Refusal {
    let inner = error.inner();
    if inner.classify() != Category::Data {
        return not_json(&format!("line {}, column {}", inner.line(), inner.column()));
    }
    let text = inner.to_string();
    let text = text.rsplit_once(" at line ").map_or(&*text, |(text, _)| text);
    let path = error.path().to_string();
    let at = if path == "." { String::new() } else { clip(&path).to_string() };
    // In what follows only names of this program's own stand between the marks.
    let own = || text.split('`').nth(1).unwrap_or_default();
    let (fault, field) = match text.split(' ').next() {
        Some("unknown") => (Fault::new("field-unknown", "nothing is asked under this name"), at),
        Some("missing") => {
            let dot = if at.is_empty() { "" } else { "." };
            (Fault::new("field-missing", "this is needed"), format!("{at}{dot}{}", own()))
        }
        Some("duplicate") => (Fault::new("field-twice", "this is said twice"), own().to_owned()),
        Some("twice") => (Fault::new("field-twice", "this is said twice"), at),
        _ => (Fault::new("value-of-another-kind", "another kind of value is asked for here"), at),
    };
    // What was expected is this program's own text.
    let expected = text.rsplit_once(", expected ").map(|(_, expected)| format!("write {expected}"));
    let fault = fault.in_field(field);
    Refusal::of_fields(vec![if let Some(expected) = expected { fault.help(expected) } else { fault }])
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Object<T> {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        struct Only<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Only<T> {
            type Value = Object<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Object<T>, A::Error> {
                T::deserialize(MapAccessDeserializer::new(map)).map(Object)
            }
        }
        reader.deserialize_map(Only(PhantomData))
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Keyed<T> {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        struct Whole<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Whole<T> {
            type Value = Keyed<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Keyed<T>, A::Error> {
                let mut key = None;
                let request = T::deserialize(MapAccessDeserializer::new(WithoutKey { map, key: &mut key }))?;
                let idempotency_key = key.ok_or_else(|| A::Error::missing_field(KEY))?;
                Ok(Keyed { idempotency_key, request })
            }
        }
        reader.deserialize_map(Whole(PhantomData))
    }
}

const KEY: &str = "idempotency_key";

/// The members of an object but for its key, which is put aside.
struct WithoutKey<'k, A> {
    map: A,
    key: &'k mut Option<String>,
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for WithoutKey<'_, A> {
    type Error = A::Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, A::Error> {
        loop {
            let Some(name) = self.map.next_key::<String>()? else { return Ok(None) };
            if name != KEY {
                return seed.deserialize(name.into_deserializer()).map(Some);
            }
            if self.key.replace(self.map.next_value()?).is_some() {
                return Err(A::Error::duplicate_field(KEY));
            }
        }
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, A::Error> {
        self.map.next_value_seed(seed)
    }
}

impl<'de> Deserialize<'de> for ByPath {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        struct Each;
        impl<'de> Visitor<'de> for Each {
            type Value = ByPath;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object of texts")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<ByPath, A::Error> {
                let mut typed = TypedFields::new();
                while let Some((path, text)) = map.next_entry::<String, String>()? {
                    if typed.iter().any(|(known, _)| *known == path) {
                        return Err(A::Error::custom("twice"));
                    }
                    typed.push((path, text));
                }
                Ok(ByPath(typed))
            }
        }
        reader.deserialize_map(Each)
    }
}

impl IntoParams for CasePath {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        vec![case()]
    }
}

impl IntoParams for SetUpPath {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        vec![case(), number("number", "Which set-up of the case, from 1")]
    }
}

impl IntoParams for LinePath {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        let event = number("event", "Which line of the record, by its number in the journal");
        vec![case(), number("number", "Which set-up of the case, from 1"), event]
    }
}

impl IntoParams for OpenedBefore {
    fn into_params(_: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        vec![number("event", "As the list or the page before names it")]
    }
}

fn case() -> Parameter {
    let text = ObjectBuilder::new().schema_type(Type::String).examples(["K7M-4QX"]).build();
    parameter("case", "The code of the case: six letters and digits", text.into())
}

fn number(name: &str, says: &str) -> Parameter {
    parameter(name, says, ObjectBuilder::new().schema_type(Type::Integer).minimum(Some(0)).build().into())
}

/// A place of an address with a closed list of words.
pub(super) fn words(name: &str, says: &str, words: &'static [&'static str]) -> Parameter {
    let one_of = ObjectBuilder::new().schema_type(Type::String).enum_values(Some(words.iter().copied())).build();
    parameter(name, says, one_of.into())
}

fn parameter(name: &str, says: &str, schema: utoipa::openapi::schema::Schema) -> Parameter {
    ParameterBuilder::new()
        .name(name)
        .parameter_in(ParameterIn::Path)
        .required(Required::True)
        .description(Some(says))
        .schema(Some(schema))
        .build()
}
