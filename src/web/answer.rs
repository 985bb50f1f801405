//! How a request is answered: pages, refusals in the words of the commands, and what every answer forbids a browser.

use std::panic::AssertUnwindSafe;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::extract::rejection::{FormRejection, PathRejection};
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderValue};
use axum::http::{HeaderName, StatusCode, Uri};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Redirect, Response};
use futures_util::FutureExt as _;
use maud::{Markup, html};

use crate::case::{CaseError, SetUpCode};
use crate::diagnostic::{Fault, Source};
use crate::formulary::Faulty;
use crate::quantity::{self, clip};

use super::LARGEST_FORM;
use super::accesses::NotedReading;
use super::api;
use super::kept_answers;
use super::metrics::RequestPattern;
use super::pages::frame;
use super::peer::{self, Peer};
use super::site::Site;
use super::words::on_the_page;

/// Why a request is not done.
#[derive(Debug)]
pub(super) enum Refusal {
    /// Nobody is signed in here.
    SignIn,
    /// What was asked is not done: status, stable code, what was found, what to do; and each field that is at fault.
    Said(StatusCode, String, String, String, Vec<Fault>),
}

/// Nothing is loaded but the page's own sheet and script; nothing is sent anywhere else; nobody frames it.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self'; \
                      form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

impl Refusal {
    pub(super) fn said(status: StatusCode, code: &str, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::Said(status, code.to_owned(), message.into(), help.into(), Vec::new())
    }

    /// A fault of the program: no number of it may be used.
    pub(super) fn fault(message: &str) -> Self {
        let help = "This is a fault of the program. No rate is shown. Do the sum by hand and report this.";
        Self::said(StatusCode::INTERNAL_SERVER_ERROR, "fault", message, help)
    }

    /// Something long is under way.
    pub(super) fn busy() -> Self {
        let says = "something long is being worked out for somebody else";
        Self::said(StatusCode::SERVICE_UNAVAILABLE, "busy", says, "ask again in a minute")
    }

    /// It was sealed; its card is not given out.
    pub(super) fn without_a_card(code: SetUpCode, why: CaseError) -> Self {
        let why = Self::from(why);
        if why.code() == "fault" {
            return why;
        }
        let says = format!("the entry is sealed as {code}, and no card is given out");
        let help = format!("do not send it again; {}", why.in_words());
        Self::said(StatusCode::CONFLICT, "sealed-without-a-card", says, help)
    }

    /// What was found and what to do, on one line.
    fn in_words(&self) -> String {
        match self {
            Self::SignIn => "sign in first".to_owned(),
            Self::Said(_, code, message, help, _) => format!("{message} [{code}]; {help}"),
        }
    }

    /// A form without a token of this session, or one that was used.
    pub(super) fn not_this_form() -> Self {
        let says = "this form was sent before, or does not come from a page of this session";
        Self::said(StatusCode::CONFLICT, "form-not-open", says, "load the page again; what is in the journal stays")
    }

    pub(super) const fn status(&self) -> StatusCode {
        match self {
            Self::SignIn => StatusCode::UNAUTHORIZED,
            Self::Said(status, ..) => *status,
        }
    }

    pub(super) fn code(&self) -> &str {
        match self {
            Self::SignIn => "sign-in",
            Self::Said(_, code, ..) => code,
        }
    }

    /// A paragraph for the page that was sent.
    pub(super) fn shown(&self) -> Markup {
        match self {
            Self::SignIn => html! { p.wrong role="alert" { "Sign in first." } },
            Self::Said(_, code, message, help, _) => html! {
                p.wrong role="alert" { strong { (if code == "sealed-without-a-card" { "No card: " } else { "Not done: " }) } (on_the_page(message)) "; " (on_the_page(help)) " " span.code { "[" (code) "]" } }
            },
        }
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        match &self {
            Self::SignIn => Redirect::to("/sign-in").into_response(),
            Self::Said(status, ..) => {
                let page = frame::bare(
                    "Not done",
                    html! { h1 { "Not done" } (self.shown()) p { a href="/" { "To the cases" } } },
                );
                (*status, Html(page.into_string())).into_response()
            }
        }
    }
}

impl From<CaseError> for Refusal {
    fn from(error: CaseError) -> Self {
        match error {
            CaseError::Refused(refusal) if refusal.field.is_some() => {
                let fault = Fault::new(refusal.code, refusal.message).help(refusal.help);
                Self::of_fields(vec![fault.in_field(refusal.field.unwrap_or_default())])
            }
            CaseError::Refused(refusal) => {
                let status =
                    if refusal.code.starts_with("code-") { StatusCode::NOT_FOUND } else { StatusCode::CONFLICT };
                Self::said(status, refusal.code, refusal.message, refusal.help)
            }
            CaseError::Form(faults) => Self::of_faults(&faults),
            CaseError::Journal(error) if error.is_fault() || error.is_damage() => Self::fault(&error.to_string()),
            CaseError::Journal(error) => {
                Self::said(StatusCode::SERVICE_UNAVAILABLE, error.code(), error.to_string(), error.help())
            }
            CaseError::Fault(message) => Self::fault(&message),
        }
    }
}

impl Refusal {
    fn of_faults(faults: &[(Source, Vec<Fault>)]) -> Self {
        Self::of_fields(faults.iter().flat_map(|(_, faults)| faults).cloned().collect())
    }

    /// Fields of a form that cannot be taken as they are.
    pub(super) fn of_fields(all: Vec<Fault>) -> Self {
        let says: Vec<String> = all.iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect();
        let code = all.first().map_or("form", |fault| fault.code);
        let help = all.first().and_then(|fault| fault.help.clone()).unwrap_or_default();
        Self::Said(StatusCode::UNPROCESSABLE_ENTITY, code.to_owned(), says.join("; "), help, all)
    }
}

impl From<Faulty> for Refusal {
    fn from(faulty: Faulty) -> Self {
        Self::of_faults(&faulty.0)
    }
}

impl From<quantity::Refused> for Refusal {
    fn from(refused: quantity::Refused) -> Self {
        Self::said(StatusCode::UNPROCESSABLE_ENTITY, refused.problem.code(), refused.to_string(), refused.help)
    }
}

impl From<crate::journal::JournalError> for Refusal {
    fn from(error: crate::journal::JournalError) -> Self {
        CaseError::from(error).into()
    }
}

impl From<quantity::TooLarge> for Refusal {
    fn from(error: quantity::TooLarge) -> Self {
        CaseError::from(error).into()
    }
}

impl From<FormRejection> for Refusal {
    fn from(rejection: FormRejection) -> Self {
        let help = "send the form of the page, as it is";
        Self::said(rejection.status(), "form-not-read", "the form cannot be read", help)
    }
}

impl From<PathRejection> for Refusal {
    fn from(_: PathRejection) -> Self {
        Self::said(StatusCode::NOT_FOUND, "not-here", "nothing is here", "go back to the list of cases")
    }
}

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
            if is_sent_by_a_page { kept_answers::redirected(site, &sent_with, response).await } else { response }
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

#[cfg(test)]
mod tests {
    use axum::Router;
    use axum::body::Body;
    use axum::middleware;
    use axum::routing::{get, post};
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
}
