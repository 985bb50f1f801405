//! What stands around every request: under which name and from which site it comes, how long it may be, who read what,
//! and what every answer forbids a browser.

use std::panic::AssertUnwindSafe;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::extract::{Path, Request, State};
use axum::http::header::{self, HeaderValue};
use axum::http::{HeaderMap, HeaderName, Method, StatusCode, Uri};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use futures_util::FutureExt as _;

use crate::case::CaseCode;
use crate::journal::AccessKind;
use crate::quantity::clip;

use super::LARGEST_FORM;
use super::answer::Refusal;
use super::api;
use super::kept_answers;
use super::metrics::RequestPattern;
use super::peer::{self, Peer};
use super::sessions::{At, SESSION, cookie};
use super::site::Site;

/// Nothing is loaded but the page's own sheet and script; nothing is sent anywhere else; nobody frames it.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self'; \
                      form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// Where nothing is, or nothing of that kind is done.
pub(super) fn not_here(uri: &Uri, status: StatusCode, says: &str) -> Response {
    rendered(uri, Refusal::said(status, "not-here", says, "go back to the list of cases"))
}

/// As data for programs, as a page for everybody else.
fn rendered(uri: &Uri, refusal: Refusal) -> Response {
    if uri.path().starts_with(api::ROOT) { api::Refused(refusal).into_response() } else { refusal.into_response() }
}

/// So long a whole body may take to arrive.
const BODY_TIME: Duration = Duration::from_secs(20);

/// Before: nothing under another name, nothing that another site sends, and no body that is endless. After: nothing is kept
/// by the browser, framed, or loaded from elsewhere. What panics is one refusal.
pub(super) async fn guard(State(site): State<Arc<Site>>, request: Request, next: Next) -> Response {
    let (uri, began, pattern) = (request.uri().clone(), Instant::now(), RequestPattern::read(&request));
    let peer = request.extensions().get::<Peer>().copied();
    let reading = NotedReading::begun(&site, request.method(), &uri, request.headers());
    let answered = async {
        let response = answered(&site, request, next).await;
        if let Some(reading) = reading.filter(|_| response.status().is_success()) {
            reading.was_answered(&site);
        }
        response
    };
    let answered = AssertUnwindSafe(peer::answering(peer, answered)).catch_unwind().await;
    let mut response = answered.unwrap_or_else(|_| rendered(&uri, Refusal::fault("the program fell over")));
    site.metrics.answered(pattern, response.status(), began.elapsed());
    let headers = response.headers_mut();
    let mut set = |name, value| headers.insert(name, HeaderValue::from_static(value));
    set(header::CACHE_CONTROL, "no-store");
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // Nothing is told to other sites; this one is told which of its pages sent a form.
    set(header::REFERRER_POLICY, "same-origin");
    set(header::X_FRAME_OPTIONS, "DENY");
    if !headers.contains_key(header::CONTENT_SECURITY_POLICY) {
        headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    }
    response
}

async fn answered(site: &Arc<Site>, request: Request, next: Next) -> Response {
    const SITE: HeaderName = HeaderName::from_static("sec-fetch-site");
    if let Some(name) = site.hosts.get().and_then(|hosts| hosts.refused(&request)) {
        let says = format!("this server was not started for `{}`", clip(&name));
        let help = "use the address that it printed when it started, or start it with --host and this name";
        return rendered(request.uri(), Refusal::said(StatusCode::MISDIRECTED_REQUEST, "host-unknown", says, help));
    }
    let foreign = request.headers().get(SITE).is_some_and(|from| from != "same-origin" && from != "none");
    if foreign && request.method() != axum::http::Method::GET {
        let refusal =
            Refusal::said(StatusCode::FORBIDDEN, "another-site", "another site sent this", "use the page itself");
        return rendered(request.uri(), site.refuses(None, refusal).await);
    }
    match arrived(request, BODY_TIME).await {
        Ok(request) => {
            let (parts, body) = request.into_parts();
            let is_sent_by_a_page = kept_answers::is_sent_by_a_page(&parts) && !parts.uri.path().starts_with(api::ROOT);
            let sent_with = parts.headers.clone();
            let response = next.run(Request::from_parts(parts, body)).await;
            if is_sent_by_a_page {
                kept_answers::redirected((&site.answers, &site.sessions), &sent_with, response).await
            } else {
                response
            }
        }
        Err(refused) => refused,
    }
}

/// The request with its whole body: it comes within some seconds and is no larger than a form, or is refused.
async fn arrived(request: Request, within: Duration) -> Result<Request, Response> {
    let (parts, body) = request.into_parts();
    let refused = |status, says: &str| {
        let is_program = parts.uri.path().starts_with(api::ROOT);
        let code = if is_program { "body-not-read" } else { "form-not-read" };
        rendered(&parts.uri, Refusal::said(status, code, says, "send one form or object of at most 64 KiB"))
    };
    let bytes = match tokio::time::timeout(within, axum::body::to_bytes(body, LARGEST_FORM)).await {
        Ok(Ok(bytes)) => bytes,
        Ok(Err(_)) => return Err(refused(StatusCode::PAYLOAD_TOO_LARGE, "the body is cut off or larger than 64 KiB")),
        Err(_) => return Err(refused(StatusCode::REQUEST_TIMEOUT, "the body did not arrive in time")),
    };
    Ok(Request::from_parts(parts, bytes.into()))
}

/// The page that answers a form, for the session that sent it.
pub(super) async fn kept(State(site): State<Arc<Site>>, Path(key): Path<String>, headers: HeaderMap) -> Response {
    let session = cookie(&headers, SESSION).filter(|token| site.sessions.find(At::Page, token, true).is_some());
    site.answers.find(&key, session).unwrap_or_else(|| Redirect::to("/").into_response())
}

/// What is read at an address, and of which case. What a page asks by itself is no reading: it follows one.
fn what_is_read(path: &str) -> Option<(AccessKind, Option<String>)> {
    let segments: Vec<&str> = path.split('/').filter(|segment| !segment.is_empty()).collect();
    let has = |word: &str| segments.contains(&word);
    if has("follow") {
        return None;
    }
    if has("journal") {
        return Some((AccessKind::Journal, None));
    }
    if !has("case") && !has("cases") {
        return None;
    }
    let code = segments.iter().find_map(|segment| CaseCode::parse(segment).ok())?;
    let kind = if has("card") {
        AccessKind::Card
    } else if has("record") || has("close") {
        AccessKind::Record
    } else {
        AccessKind::Case
    };
    Some((kind, Some(code.to_string())))
}

/// A reading that may be noted once it was answered.
#[derive(Debug)]
struct NotedReading {
    kind: AccessKind,
    scope: Option<String>,
    who: Option<String>,
}

impl NotedReading {
    fn begun(site: &Site, method: &Method, uri: &Uri, headers: &HeaderMap) -> Option<Self> {
        let (kind, scope) = what_is_read(uri.path()).filter(|_| method == Method::GET)?;
        let session = if uri.path().starts_with(api::ROOT) {
            let sent = headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
            let token = sent.and_then(|sent| sent.split_once(' ')).map(|(_, token)| token.trim());
            token.and_then(|token| site.sessions.find(At::Program, token, false))
        } else {
            cookie(headers, SESSION).and_then(|token| site.sessions.find(At::Page, token, false))
        };
        Some(Self { kind, scope, who: session.map(|session| session.person.id.clone()) })
    }

    fn was_answered(self, site: &Site) {
        site.accesses.note(site.now(), self.kind, self.who.as_deref(), self.scope);
    }
}

#[cfg(test)]
mod tests {
    use axum::Router;
    use axum::body::Body;
    use axum::middleware;
    use axum::routing::{get, post};
    use rstest::rstest;
    use tower::ServiceExt as _;

    use super::*;
    use crate::case::Cases;
    use crate::formulary::Formulary;
    use crate::journal::Journal;
    use crate::quantity::Moment;
    use crate::web::Clock;

    #[tokio::test]
    async fn a_request_that_falls_over_is_one_refusal_and_a_body_that_never_ends_another() {
        let folder = std::env::temp_dir().join(format!("countersign-falls-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let now = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        let formulary = Formulary::open(std::path::Path::new("formulary")).expect("the demonstration");
        let site = Site::new(Cases::of(journal), formulary, Clock::Stands(now), Duration::from_mins(5), false);
        let falls = || async {
            assert!(std::hint::black_box(false), "it fell over");
            StatusCode::OK
        };
        let router: Router = Router::new()
            .route("/falls", get(falls))
            .route("/api/v1/falls", get(falls))
            .route("/stands", get(|| async { StatusCode::OK }))
            .route("/sent", post(|_: String| async { StatusCode::OK }))
            .layer(middleware::from_fn_with_state(site, guard));
        let status = |request: Request| {
            let router = router.clone();
            async move { router.oneshot(request).await.expect("an answer").status() }
        };
        let of = |path: &str, body: Body| Request::builder().method("POST").uri(path).body(body).expect("a request");
        let get = |path: &str| Request::get(path).body(Body::empty()).expect("a request");
        for path in ["/falls", "/api/v1/falls"] {
            assert_eq!(status(get(path)).await, StatusCode::INTERNAL_SERVER_ERROR);
        }
        assert_eq!(status(get("/stands")).await, StatusCode::OK);
        let endless = Body::from_stream(futures_util::stream::pending::<Result<String, std::convert::Infallible>>());
        let refused =
            arrived(of("/sent", endless), Duration::from_millis(20)).await.err().map(|refused| refused.status());
        assert_eq!(refused, Some(StatusCode::REQUEST_TIMEOUT));
        assert_eq!(status(of("/sent", Body::from(vec![b'x'; LARGEST_FORM + 1]))).await, StatusCode::PAYLOAD_TOO_LARGE);
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }

    #[rstest]
    #[case("/case/K7M-4QX", Some((AccessKind::Case, Some("K7M-4QX"))))]
    #[case("/case/K7M-4QX/1/card", Some((AccessKind::Card, Some("K7M-4QX"))))]
    #[case("/api/v1/cases/K7M-4QX/1/card", Some((AccessKind::Card, Some("K7M-4QX"))))]
    #[case("/case/K7M-4QX/1/record/12", Some((AccessKind::Record, Some("K7M-4QX"))))]
    #[case("/case/K7M-4QX/follow", None)]
    #[case("/api/v1/journal", Some((AccessKind::Journal, None)))]
    #[case("/", None)]
    #[case("/sign-in", None)]
    fn a_reading_is_known_by_its_address(#[case] path: &str, #[case] expected: Option<(AccessKind, Option<&str>)>) {
        assert_eq!(what_is_read(path), expected.map(|(kind, scope)| (kind, scope.map(str::to_owned))));
    }
}
