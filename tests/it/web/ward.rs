//! A ward of two people with a journal of its own, and browsers that keep their cookies.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Request, StatusCode, header};
use countersign::case::{Cases, Role, add, unlock};
use countersign::formulary::Formulary;
use countersign::journal::Journal;
use countersign::quantity::Moment;
use countersign::web::{Clock, Site, router};
use http_body_util::BodyExt as _;
use tower::ServiceExt as _;

use crate::common::{copy, folder};

pub(crate) const IDOWU: (&str, &str) = ("A. Idowu", "281940");
pub(crate) const TAMM: (&str, &str) = ("M. Tamm", "quiet harbour 7");

/// What the first person of the example reads.
pub(crate) const READ: &[(&str, &str)] = &[
    ("area", "adult theatre"),
    ("drug", "noradrenaline"),
    ("indication", "vasopressor"),
    ("patient.identifiers[0]", "1959-08-02"),
    ("patient.identifiers[1]", "QM-30417"),
    ("patient.weight", "84.2 kg"),
    ("patient.weight_from", "measured"),
    ("patient.born", "1959-08-02"),
    ("patient.sex", "female"),
    ("patient.height", "164 cm"),
    ("phase", "maintenance"),
    ("dose", "0.08 mcg/kg/min"),
    ("dosing_weight", "actual"),
    ("label.amount", "4 mg"),
    ("label.volume", "50 mL"),
    ("label.strength", "80 mcg/mL"),
    ("made_from.ampoules", "4"),
    ("made_from.of", "1 mg in 1 mL"),
    ("made_from.how", "made up to"),
    ("made_from.diluent", "glucose 5 %"),
    ("drawn_up_at", "07:35"),
    ("access", "central"),
    ("container", "syringe 50 mL"),
    ("fill", "50 mL"),
    ("line", "narrow-150"),
    ("line_filled", "from this syringe"),
    ("driver", "bench"),
];

pub(crate) struct Ward {
    pub(crate) journal: PathBuf,
}

pub(crate) struct Browser {
    router: Router,
    cookies: BTreeMap<String, String>,
    /// The stream of events that was begun last.
    follows: Option<Body>,
}

#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) text: String,
}

impl Ward {
    pub(crate) fn new(name: &str) -> Self {
        // One journal is made for all tests and copied for each: a PIN takes long to check.
        static MADE: LazyLock<PathBuf> = LazyLock::new(|| {
            let (path, now) = (folder("made-once").join("journal"), moment());
            let mut journal = Journal::create(&path, true, now).expect("a journal");
            add(&mut journal, now, None, IDOWU.0, Role::Anaesthetist, IDOWU.1).expect("the first person");
            let (_, signer) = unlock(&mut journal, now, IDOWU.0, IDOWU.1).expect("a PIN");
            add(&mut journal, now, Some(&signer), TAMM.0, Role::Nurse, TAMM.1).expect("the second person");
            path
        });
        let journal = folder(name).join("journal");
        copy(&MADE, &journal);
        Self { journal }
    }

    /// A server on this journal, as after a start.
    pub(crate) fn served(&self, idle: Duration) -> Router {
        let cases = Cases::of(Journal::open(&self.journal).expect("the journal"));
        let formulary = Formulary::open(Path::new("formulary")).expect("the demonstration");
        let site: Arc<Site> = Site::new(cases, formulary, Clock::Stands(moment()), idle, false);
        router(site)
    }

    /// How many events of a kind there are.
    pub(crate) fn events(&self, kind: &str) -> usize {
        let journal = Journal::open(&self.journal).expect("the journal");
        journal.events(countersign::journal::Of::Kind(kind)).expect("events").len()
    }
}

impl Drop for Ward {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(self.journal.parent().expect("its folder"));
    }
}

pub(crate) fn moment() -> Moment {
    Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment")
}

pub(crate) const LONG: Duration = Duration::from_secs(600);

impl Browser {
    pub(crate) fn at(router: &Router) -> Self {
        Self { router: router.clone(), cookies: BTreeMap::new(), follows: None }
    }

    pub(crate) async fn signed_in(router: &Router, who: (&str, &str)) -> Self {
        let mut browser = Self::at(router);
        let answer = browser.sign_in(who).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{answer:?}");
        browser
    }

    pub(crate) async fn sign_in(&mut self, (name, pin): (&str, &str)) -> Answer {
        let once = self.get("/sign-in").await.once("/sign-in");
        self.post("/sign-in", &[("once", &once), ("name", name), ("pin", pin)]).await
    }

    pub(crate) async fn get(&mut self, path: &str) -> Answer {
        self.send(Request::get(path).body(Body::empty()).expect("a request")).await
    }

    pub(crate) async fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let body = fields.iter().map(|(name, text)| format!("{}={}", encoded(name), encoded(text)));
        let body = body.collect::<Vec<_>>().join("&");
        let form = (header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        self.send(Request::post(path).header(form.0, form.1).body(Body::from(body)).expect("a request")).await
    }

    pub(crate) async fn send(&mut self, mut request: Request<Body>) -> Answer {
        let cookies: Vec<String> = self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        request.headers_mut().insert(header::COOKIE, cookies.join("; ").parse().expect("a header"));
        let response = self.router.clone().oneshot(request).await.expect("an answer");
        let (status, headers) = (response.status(), response.headers().clone());
        for set in headers.get_all(header::SET_COOKIE) {
            let text = set.to_str().expect("text");
            assert!(text.contains("HttpOnly") && text.contains("SameSite=Strict"), "{text}");
            let (name, value) = text.split(';').next().and_then(|one| one.split_once('=')).expect("a cookie");
            self.cookies.insert(name.to_owned(), value.to_owned());
        }
        let mut body = response.into_body();
        // A stream of events does not end: the first of them is the answer.
        let streams = headers.get(header::CONTENT_TYPE).is_some_and(|of| of == "text/event-stream");
        let bytes = if streams {
            let frame = body.frame().await.expect("an event").expect("a frame");
            self.follows = Some(body);
            frame.into_data().expect("data")
        } else {
            body.collect().await.expect("a body").to_bytes()
        };
        Answer { status, headers, text: String::from_utf8(bytes.to_vec()).expect("UTF-8") }
    }

    /// The next event of the stream that was begun last, within some seconds; nothing where the stream has ended.
    pub(crate) async fn event(&mut self) -> Option<String> {
        let body = self.follows.as_mut().expect("a stream");
        let next = tokio::time::timeout(Duration::from_secs(10), body.frame()).await.expect("an event in time")?;
        let data = next.expect("a frame").into_data().expect("data");
        Some(String::from_utf8(data.to_vec()).expect("UTF-8"))
    }

    /// Opens a case and gives its path.
    pub(crate) async fn open_case(&mut self) -> String {
        let once = self.get("/").await.once("/");
        let answer = self.post("/", &[("once", &once)]).await;
        answer.headers[header::LOCATION].to_str().expect("a path").to_owned()
    }

    /// Reads what was found, then seals: as a person does.
    pub(crate) async fn seal(&mut self, path: &str, read: &[(&str, &str)]) -> Answer {
        let mut answer = self.get(path).await;
        for _ in 0..2 {
            let (once, seen) = (answer.once(path), answer.hidden("seen"));
            let mut fields = vec![("once", once.as_str()), ("seen", seen.as_str()), ("do", "seal")];
            fields.extend(read);
            answer = self.post(path, &fields).await;
            if answer.status != StatusCode::UNPROCESSABLE_ENTITY {
                break;
            }
        }
        answer
    }
}

impl Answer {
    /// The token of the form that is sent to a path.
    pub(crate) fn once(&self, action: &str) -> String {
        let form = self.text.split(&format!("action=\"{action}\"")).nth(1);
        let form = form.unwrap_or_else(|| panic!("no form for {action} in {}", self.text));
        value_of(form, "once")
    }

    pub(crate) fn hidden(&self, name: &str) -> String {
        value_of(&self.text, name)
    }

    /// Without what differs each time: tokens.
    pub(crate) fn without_tokens(&self) -> String {
        let mut parts = self.text.split("name=\"once\" value=\"");
        let mut kept = parts.next().unwrap_or_default().to_owned();
        for part in parts {
            kept.push_str(part.split_once('"').map_or("", |(_, rest)| rest));
        }
        kept
    }
}

fn value_of(text: &str, name: &str) -> String {
    let after = text.split(&format!("name=\"{name}\" value=\"")).nth(1).unwrap_or_else(|| panic!("no {name}: {text}"));
    after.split('"').next().unwrap_or_default().to_owned()
}

fn encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| if byte.is_ascii_alphanumeric() { char::from(byte).to_string() } else { format!("%{byte:02X}") })
        .collect()
}

/// The same answers with some put otherwise.
pub(crate) fn with<'a>(read: &[(&'a str, &'a str)], changes: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let otherwise = |path: &str| changes.iter().find(|(known, _)| *known == path).map(|(_, text)| *text);
    read.iter().map(|(path, text)| (*path, otherwise(path).unwrap_or(text))).collect()
}
