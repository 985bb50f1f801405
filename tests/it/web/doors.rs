//! What was tried at the doors of a running server: forms thrown out, names that point here, guesses, sleeping laptops,
//! a journal that cannot be written.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use countersign::case::{
    Role, add, add_as_administrators_are_gone, admit_guest, change_pin, rename, renew_pin, retire, unlock,
};
use countersign::journal::Journal;

use crate::common::AT;
use crate::web::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, moment};

/// The real program, which ends with the test.
pub(super) struct Served {
    pub(super) process: Child,
    pub(super) address: SocketAddr,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl Served {
    pub(super) fn begin(ward: &Ward, more: &[&str]) -> Self {
        Self::begun(ward, more, Stdio::inherit())
    }

    /// With a line for each request.
    pub(super) fn logging(ward: &Ward) -> Self {
        Self::begun(ward, &["--log"], Stdio::piped())
    }

    fn begun(ward: &Ward, more: &[&str], errors: Stdio) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
        command.args(["serve", "--address", "127.0.0.1:0", "--formulary", "formulary", "--at", AT, "--journal"]);
        command.arg(&ward.journal).args(more).current_dir(env!("CARGO_MANIFEST_DIR")).stdout(Stdio::piped());
        let mut process = command.stderr(errors).spawn().expect("the program is built");
        let mut line = String::new();
        let stdout = process.stdout.take().expect("piped");
        BufReader::new(stdout).read_line(&mut line).expect("a line");
        let address = line.trim().trim_start_matches("Serving at http://").trim_end_matches('/');
        Self { address: address.parse().expect("an address"), process }
    }

    /// One request over a connection of its own.
    pub(super) fn ask(&self, head: &str, body: &str) -> String {
        let mut stream = TcpStream::connect(self.address).expect("it listens");
        stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a time");
        let length = body.len();
        write!(stream, "{head}\r\nConnection: close\r\nContent-Length: {length}\r\n\r\n{body}").expect("it listens");
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("an answer");
        answer
    }

    pub(super) fn json(&self, path: &str, body: &serde_json::Value) -> String {
        let host = self.address;
        let head = format!("POST {path} HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/json");
        self.ask(&head, &body.to_string())
    }
}

fn emergency(dose: &str) -> serde_json::Value {
    let answers = READ.iter().map(|(path, text)| {
        let text = if *path == "dose" { dose } else { text };
        ((*path).to_owned(), serde_json::json!(text))
    });
    let answers: serde_json::Map<_, _> = answers.collect();
    serde_json::json!({
        "by": "C. Vance", "role": "anaesthetist",
        "entry": {"idempotency_key": format!("chosen-for-{dose:->20}"), "answers": answers},
    })
}

/// An emergency entry whose findings were read.
pub(super) fn emergency_seen(served: &Served, dose: &str) -> serde_json::Value {
    let mut whole = emergency(dose);
    let judged = serde_json::json!({
        "by": "C. Vance", "role": "anaesthetist", "entry": {"answers": whole["entry"]["answers"], "whole": true},
    });
    let answer = served.json("/api/v1/emergency/judge", &judged);
    let body = answer.split_once("\r\n\r\n").expect("a head").1;
    let judged: serde_json::Value = serde_json::from_str(body).unwrap_or_else(|error| panic!("{error}: {answer}"));
    whole["entry"]["seen"] = judged["seen"].clone();
    whole
}

// hazard: H-EMERGENCY
#[tokio::test]
async fn a_thousand_forms_for_others_throw_out_nobodys() {
    let ward = Ward::new("thousand-forms");
    let router = ward.served(LONG);
    let (mut one, mut other) = (Browser::at(&router), Browser::at(&router));
    let emergency = one.get("/emergency").await.once("/emergency");
    // A second page of the same browser closes no form of the first.
    let once = one.get("/sign-in").await.once("/sign-in");
    for _ in 0..1_000 {
        assert_eq!(other.get("/sign-in").await.status, StatusCode::OK);
    }
    let checked = one.post("/emergency", &[("once", &emergency), ("do", "check")]).await;
    assert!(!checked.text.contains("form-not-open"), "{}", checked.text);
    let signed_in = one.post("/sign-in", &[("once", &once), ("name", IDOWU.0), ("pin", IDOWU.1)]).await;
    assert_eq!(signed_in.status, StatusCode::SEE_OTHER, "{}", signed_in.text);
}

#[test]
fn a_name_that_was_let_point_here_is_not_answered() {
    let ward = Ward::new("rebinding");
    let served = Served::begin(&ward, &["--host", "ward-3.example"]);
    let (address, port) = (served.address, served.address.port());
    let asked = |host: &str| served.ask(&format!("GET /sign-in HTTP/1.1\r\n{host}"), "");
    for good in [format!("Host: {address}"), format!("Host: localhost:{port}"), "Host: ward-3.example".to_owned()] {
        assert!(asked(&good).starts_with("HTTP/1.1 200"), "{good}");
    }
    for bad in [
        "Host: evil.example".to_owned(),
        format!("Host: evil.example:{port}"),
        format!("Host: {address}\r\nHost: evil.example"),
        "Host: 127.0.0.1:1".to_owned(),
    ] {
        let answer = asked(&bad);
        assert!(answer.starts_with("HTTP/1.1 421"), "{bad}: {answer}");
        assert!(answer.contains("--host"), "{answer}");
    }
    // The page that made an entry: its script asks under its own name, and a browser says so in both.
    let entry = emergency("0.08 mcg/kg/min").to_string();
    let head =
        format!("POST /api/v1/emergency HTTP/1.1\r\nHost: evil.example:{port}\r\nContent-Type: application/json");
    let answer =
        served.ask(&format!("{head}\r\nOrigin: http://evil.example:{port}\r\nSec-Fetch-Site: same-origin"), &entry);
    assert!(answer.starts_with("HTTP/1.1 421") && answer.contains("host-unknown"), "{answer}");
    let head = format!("POST /api/v1/emergency HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/json");
    let answer = served.ask(&format!("{head}\r\nOrigin: http://evil.example:{port}"), &entry);
    assert!(answer.starts_with("HTTP/1.1 421"), "{answer}");
    assert_eq!(ward.events("case-opened"), 0);
}

#[test]
fn guesses_elsewhere_keep_no_right_pin_waiting() {
    let ward = Ward::new("guesses");
    let served = Served::begin(&ward, &[]);
    let sign_in = |name: &str, pin: &str, device: Option<&str>| {
        served.json("/api/v1/sign-in", &serde_json::json!({"name": name, "pin": pin, "device": device}))
    };
    let first = sign_in(IDOWU.0, IDOWU.1, None);
    let device = first.split("\"device\":\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a device");
    let mut refused = 0;
    std::thread::scope(|scope| {
        let guess = |name: String| sign_in(&name, "998877", None);
        let own: Vec<_> = (0..12).map(|_| scope.spawn(move || guess(IDOWU.0.to_owned()))).collect();
        let unknown: Vec<_> = (0..150).map(|n| scope.spawn(move || guess(format!("Nobody {n}")))).collect();
        std::thread::sleep(Duration::from_millis(300));
        let began = Instant::now();
        let right = sign_in(IDOWU.0, IDOWU.1, Some(device));
        assert!(right.starts_with("HTTP/1.1 200"), "{right}");
        assert!(began.elapsed() < Duration::from_secs(5), "{:?}", began.elapsed());
        // What another device says of one person counts for no other.
        let began = Instant::now();
        let other = sign_in(TAMM.0, "998877", Some(device));
        assert!(!other.starts_with("HTTP/1.1 200") && began.elapsed() < Duration::from_secs(40), "{other}");
        for guess in own.into_iter().chain(unknown) {
            let answer = guess.join().expect("no panic");
            refused += usize::from(answer.starts_with("HTTP/1.1 429"));
            assert!(answer.starts_with("HTTP/1.1 403") || answer.starts_with("HTTP/1.1 429"), "{answer}");
        }
    });
    // Most were refused before a key was derived.
    assert!(refused > 100, "{refused}");
    assert!(ward.events("pin-refused") <= 2);
}

// hazard: H-EMERGENCY
#[test]
fn an_emergency_card_is_shown_while_the_journal_cannot_be_written_and_written_down_later() {
    let ward = Ward::new("locked");
    let served = Served::begin(&ward, &[]);
    let whole = emergency_seen(&served, "0.08 mcg/kg/min");
    let before = ward.events("case-opened");
    // Another process that has stopped in the middle of a write.
    let other = rusqlite::Connection::open(ward.journal.join("journal.db")).expect("the database");
    other.execute_batch("BEGIN IMMEDIATE").expect("nobody writes");
    let answer = served.json("/api/v1/emergency", &whole);
    assert!(answer.starts_with("HTTP/1.1 202"), "{answer}");
    for says in [
        "NOT RECORDED",
        "\"recorded\":false",
        "\"double_checked\":false",
        "\"value\":\"5.1\"",
        "UNSIGNED: in no journal",
    ] {
        assert!(answer.contains(says), "{says}: {answer}");
    }
    // A wrong PIN is refused as ever, although it cannot be written down.
    let wrong = served.json("/api/v1/sign-in", &serde_json::json!({"name": IDOWU.0, "pin": "998877"}));
    assert!(wrong.starts_with("HTTP/1.1 403"), "{wrong}");
    other.execute_batch("ROLLBACK").expect("it was begun");
    drop(other);
    let began = Instant::now();
    while ward.events("written-late") == 0 {
        assert!(began.elapsed() < Duration::from_secs(40), "it was not written down");
        std::thread::sleep(Duration::from_millis(200));
    }
    assert_eq!((ward.events("case-opened"), ward.events("written-late")), (before + 1, 1));
    std::thread::sleep(Duration::from_secs(6));
    assert_eq!(ward.events("case-opened"), before + 1, "it is written down once");
}

#[tokio::test]
async fn a_retired_person_and_an_old_pin_have_no_session() {
    let ward = Ward::new("ended");
    let router = ward.served(LONG);
    let mut tamm = Browser::signed_in(&router, TAMM).await;
    let mut idowu = Browser::signed_in(&router, IDOWU).await;
    assert_eq!(tamm.get("/").await.status, StatusCode::OK);
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let (_, signer) = unlock(&mut journal, moment(), IDOWU.0, IDOWU.1).expect("a PIN");
    let once = tamm.get("/").await.once("/");
    retire(&mut journal, moment(), &signer, TAMM.0).expect("anybody may, without an administrator");
    assert_eq!(tamm.get("/").await.status, StatusCode::SEE_OTHER, "at once");
    assert_eq!(tamm.post("/", &[("once", &once)]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(ward.events("case-opened"), 0);
    assert_eq!(idowu.get("/").await.status, StatusCode::OK);
    change_pin(&mut journal, moment(), &signer, "603917").expect("a good PIN");
    assert_eq!(idowu.get("/").await.status, StatusCode::SEE_OTHER);
}

#[test]
fn people_are_kept_by_administrators_once_two_people_have_named_one() {
    let ward = Ward::new("administrators");
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let now = moment();
    let (_, idowu) = unlock(&mut journal, now, IDOWU.0, IDOWU.1).expect("a PIN");
    let (_, tamm) = unlock(&mut journal, now, TAMM.0, TAMM.1).expect("a PIN");
    for alone in [(None, None), (Some(&idowu), None), (Some(&idowu), Some(&idowu))] {
        assert!(add(&mut journal, now, alone, "K. Ruiz", Role::Administrator, "603917").is_err(), "{alone:?}");
    }
    add(&mut journal, now, (&idowu, &tamm), "K. Ruiz", Role::Administrator, "603917").expect("two name one");
    let (_, ruiz) = unlock(&mut journal, now, "K. Ruiz", "603917").expect("a PIN");
    // From here on nobody adds, retires, renames or gives new PINs without an administrator and a second person.
    for two in [(Some(&idowu), None), (Some(&ruiz), None), (Some(&idowu), Some(&tamm)), (Some(&ruiz), Some(&ruiz))] {
        assert!(add(&mut journal, now, two, "P. Harm", Role::Pharmacist, "603917").is_err(), "{two:?}");
        assert!(retire(&mut journal, now, two, IDOWU.0).is_err(), "{two:?}");
        assert!(rename(&mut journal, now, two, IDOWU.0, "A. Bello").is_err(), "{two:?}");
        assert!(renew_pin(&mut journal, now, two, IDOWU.0, "603917").is_err(), "{two:?}");
    }
    assert!(renew_pin(&mut journal, now, (&ruiz, &tamm), TAMM.0, "603917").is_err(), "not the one whom it is about");
    add(&mut journal, now, (&idowu, &ruiz), "P. Harm", Role::Pharmacist, "603917").expect("one of the two may");
    renew_pin(&mut journal, now, (&ruiz, &tamm), IDOWU.0, "417093").expect("both may");
    assert!(unlock(&mut journal, now, IDOWU.0, "417093").is_ok());
    let (_, idowu) = unlock(&mut journal, now, IDOWU.0, "417093").expect("the new PIN");
    // A name stands for one person for ever, also one that somebody had before.
    rename(&mut journal, now, (&ruiz, &idowu), TAMM.0, "M. Kask").expect("both may");
    assert!(unlock(&mut journal, now, TAMM.0, TAMM.1).is_err() && unlock(&mut journal, now, "M. Kask", TAMM.1).is_ok());
    assert!(add(&mut journal, now, (&ruiz, &idowu), TAMM.0, Role::Nurse, "603917").is_err());
    retire(&mut journal, now, (&ruiz, &idowu), "M. Kask").expect("both may");
    assert!(retire(&mut journal, now, (&ruiz, &idowu), "K. Ruiz").is_err(), "the last one stays");
    for name in [TAMM.0, "M. Kask"] {
        assert!(add(&mut journal, now, (&ruiz, &idowu), name, Role::Nurse, "603917").is_err(), "{name}");
    }
    // Where nobody else is here, one is enough: a house is never locked out.
    let (_, harm) = unlock(&mut journal, now, "P. Harm", "603917").expect("a PIN");
    retire(&mut journal, now, (&ruiz, &harm), IDOWU.0).expect("both may");
    renew_pin(&mut journal, now, &ruiz, "P. Harm", "281940").expect("nobody else is here");
    let mut cases = countersign::case::Cases::of(journal);
    assert!(cases.open(now, Some(&ruiz)).is_err() && cases.open(now, Some(&tamm)).is_err());
    assert!(cases.verify(&[], &mut |_, _| {}).is_ok());
}

#[tokio::test]
async fn the_first_page_names_an_administrator_whom_two_clinicians_named_until_they_are_retired() {
    let ward = Ward::new("administrators-gone");
    let mut browser = Browser::signed_in(&ward.served(LONG), IDOWU).await;
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let now = moment();
    let (_, idowu) = unlock(&mut journal, now, IDOWU.0, IDOWU.1).expect("a PIN");
    let (_, tamm) = unlock(&mut journal, now, TAMM.0, TAMM.1).expect("a PIN");
    add(&mut journal, now, (&idowu, &tamm), "K. Ruiz", Role::Administrator, "603917").expect("two name one");
    let (_, ruiz) = unlock(&mut journal, now, "K. Ruiz", "603917").expect("a PIN");
    let says = "Named administrator by two clinicians, who said that no other could sign: L. Bauer.";
    assert!(!browser.get("/").await.text.contains("Named administrator"));
    add_as_administrators_are_gone(&mut journal, now, (&idowu, &tamm), "L. Bauer", "417093").expect("two say so");
    let page = browser.get("/").await.text;
    let alert = page.split("role=\"alert\">").find(|part| part.starts_with(says));
    assert!(alert.is_some_and(|part| part.contains("until they are retired")), "{page}");
    retire(&mut journal, now, (&ruiz, &idowu), "L. Bauer").expect("an administrator and another");
    assert!(!browser.get("/").await.text.contains("Named administrator"));
}

#[tokio::test]
async fn a_guest_is_admitted_by_two_for_twelve_hours() {
    let ward = Ward::new("guests");
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let now = moment();
    let (_, idowu) = unlock(&mut journal, now, IDOWU.0, IDOWU.1).expect("a PIN");
    let (_, tamm) = unlock(&mut journal, now, TAMM.0, TAMM.1).expect("a PIN");
    let guest = ("G. Moss", "603917");
    assert!(admit_guest(&mut journal, now, (&idowu, &tamm), guest.0, Role::Administrator, guest.1).is_err());
    assert!(admit_guest(&mut journal, now, (&idowu, &idowu), guest.0, Role::Nurse, guest.1).is_err());
    let (_, early) = {
        let before = countersign::quantity::Moment::parse("2026-03-13T19:51:00+00:00").expect("a moment");
        admit_guest(&mut journal, before, (&idowu, &tamm), guest.0, Role::Nurse, guest.1).expect("two admit");
        unlock(&mut journal, now, guest.0, guest.1).expect("a minute is left")
    };
    // A guest vouches for nobody.
    assert!(admit_guest(&mut journal, now, (&idowu, &early), "H. Moss", Role::Nurse, guest.1).is_err());
    let later = countersign::quantity::Moment::parse("2026-03-14T07:51:00+00:00").expect("a moment");
    assert!(unlock(&mut journal, later, guest.0, guest.1).is_err());
    assert!(countersign::case::Cases::of(journal).open(later, Some(&early)).is_err());
    let listed = crate::common::run(["people", "list", "--at", "2026-03-14T08:00:00+00:00", "--journal"]);
    let listed = listed.arg(&ward.journal).said().stdout;
    assert!(
        listed.contains("GUEST until") && listed.contains("which is over, admitted by A. Idowu: review"),
        "{listed}"
    );
    // At the page its session ends with the minute.
    let mut over = Browser::at(&ward.served(LONG));
    assert_eq!(over.sign_in(guest).await.status, StatusCode::SEE_OTHER);
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let ended = countersign::quantity::Moment::parse("2026-03-13T19:40:00+00:00").expect("a moment");
    admit_guest(&mut journal, ended, (&idowu, &tamm), "H. Moss", Role::Nurse, guest.1).expect("two admit");
    assert_ne!(over.sign_in(("H. Moss", guest.1)).await.status, StatusCode::SEE_OTHER, "12 hours are over");
}

#[tokio::test]
async fn what_a_page_sends_is_answered_with_an_address() {
    let ward = Ward::new("redirected");
    let router = ward.served(LONG);
    let mut browser = Browser::signed_in(&router, IDOWU).await;
    let path = browser.open_case().await;
    let enter = format!("{path}/enter");
    let once = browser.get(&enter).await.once(&enter);
    let body = format!("once={once}&do=check&dose=0.08+mcg%2Fkg%2Fmin&patient.identifiers%5B0%5D=QM-30417");
    let sent = Request::post(&enter)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::ACCEPT, "text/html,application/xhtml+xml,*/*;q=0.8")
        .body(Body::from(body))
        .expect("a request");
    let answer = browser.send(sent).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text);
    assert_eq!(answer.headers[header::CACHE_CONTROL], "no-store");
    let address = answer.headers[header::LOCATION].to_str().expect("an address").to_owned();
    let page = browser.get(&address).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.text.contains("0.08 mcg/kg/min") && page.text.contains("Not sealed yet"), "{}", page.text);
    assert_eq!(page.headers[header::CACHE_CONTROL], "no-store");
    // Nobody else sees it, and nobody after the tablet was handed over.
    let mut other = Browser::signed_in(&router, TAMM).await;
    assert_eq!(other.get(&address).await.status, StatusCode::SEE_OTHER);
    let once = page.once("/hand-over");
    browser.post("/hand-over", &[("once", &once)]).await;
    assert_eq!(browser.get(&address).await.status, StatusCode::SEE_OTHER);
}

#[test]
fn a_draft_tells_no_length_and_goes_with_its_case() {
    let ward = Ward::new("draft-goes");
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    let (code, lengths) = runtime.block_on(async {
        let mut browser = Browser::signed_in(&ward.served(LONG), IDOWU).await;
        let path = browser.open_case().await;
        let enter = format!("{path}/enter");
        let mut lengths = Vec::new();
        for dose in ["5", "0.005 mcg/kg/min"] {
            let once = browser.get(&enter).await.once(&enter);
            browser.post(&enter, &[("once", &once), ("do", "keep"), ("dose", dose)]).await;
            let drafts: Vec<_> = std::fs::read_dir(ward.journal.join("drafts")).expect("drafts").flatten().collect();
            assert_eq!(drafts.len(), 1);
            lengths.push(drafts[0].metadata().expect("a file").len());
        }
        (path.trim_start_matches("/case/").to_owned(), lengths)
    });
    assert_eq!(lengths[0], lengths[1]);
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let (_, signer) = unlock(&mut journal, moment(), IDOWU.0, IDOWU.1).expect("a PIN");
    let (_, second) = unlock(&mut journal, moment(), TAMM.0, TAMM.1).expect("a PIN");
    let code = countersign::case::CaseCode::parse(&code).expect("a code");
    countersign::case::Cases::of(journal).forget(moment(), (&signer, &second), code).expect("nothing runs");
    assert_eq!(std::fs::read_dir(ward.journal.join("drafts")).expect("drafts").count(), 0);
}

#[cfg(unix)]
#[cfg(feature = "tls")]
#[test]
fn a_key_that_others_can_read_serves_nothing() {
    use std::os::unix::fs::PermissionsExt as _;
    let ward = Ward::new("open-key");
    let made = rcgen::generate_simple_self_signed(vec!["ward.example".to_owned()]).expect("a certificate");
    let folder = ward.journal.parent().expect("its folder");
    let (certificate, key) = (folder.join("certificate.pem"), folder.join("key.pem"));
    std::fs::write(&certificate, made.cert.pem()).expect("room");
    std::fs::write(&key, made.signing_key.serialize_pem()).expect("room");
    std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o644)).expect("it is ours");
    let said = crate::common::run(["serve", "--formulary", "formulary", "--at", AT, "--address", "127.0.0.1:0"])
        .args(["--certificate"])
        .arg(&certificate)
        .arg("--key")
        .arg(&key)
        .arg("--journal")
        .arg(&ward.journal)
        .said();
    assert!(said.is_refused().contains("can be read by others"), "{said:?}");
}
