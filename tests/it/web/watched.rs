//! What a server watches by itself: the journal against checkpoints kept elsewhere, the clock, who looked, and how much
//! anybody may have kept; and what it tells the house's own monitoring.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Router;
use axum::http::StatusCode;
use countersign::case::Cases;
use countersign::formulary::Formulary;
use countersign::journal::{Access, AccessKind, CheckpointPlace, Journal};
use countersign::quantity::Moment;
use countersign::web::{Clock, Site, router};

use crate::common::{copy, run};
use crate::web::doors::{Served, emergency_seen};
use crate::web::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, moment};

/// A server that watches its journal, and sends checkpoints here.
fn watching(ward: &Ward, places: Vec<CheckpointPlace>) -> Router {
    watching_at(&ward.journal, places, moment())
}

pub(super) fn watching_at(journal: &Path, places: Vec<CheckpointPlace>, now: Moment) -> Router {
    let cases = Cases::of(Journal::open(journal).expect("the journal"));
    let formulary = Formulary::open(Path::new("formulary")).expect("the demonstration");
    let site: Arc<Site> = Site::new(cases, formulary, Clock::Stands(now), LONG, false);
    site.send_checkpoints(places, Duration::from_hours(1));
    site.keep_watch();
    router(site)
}

/// Waits for something that a thread does.
pub(super) fn until(what: &str, mut done: impl FnMut() -> bool) {
    let began = Instant::now();
    while !done() {
        assert!(began.elapsed() < Duration::from_secs(30), "{what}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// The checkpoints of the journal, or of its accesses.
pub(super) fn lines(folder: &Path, of_accesses: bool) -> usize {
    let files = std::fs::read_dir(folder).expect("it was made").flatten();
    let files = files.filter(|file| file.file_name().to_string_lossy().contains("-accesses") == of_accesses);
    files.map(|file| std::fs::read_to_string(file.path()).expect("text").lines().count()).sum()
}

// hazard: H-RECORD
#[tokio::test(flavor = "multi_thread")]
async fn a_journal_whose_end_was_cut_off_is_named_on_the_first_page() {
    let ward = Ward::new("cut-off");
    let beside = ward.journal.parent().expect("its folder").to_owned();
    let (before, kept) = (beside.join("before"), beside.join("kept"));
    std::fs::create_dir(&kept).expect("room");
    copy(&ward.journal, &before);
    let places = || vec![CheckpointPlace::Folder(kept.clone())];
    {
        let router = watching(&ward, places());
        let mut browser = Browser::signed_in(&router, IDOWU).await;
        until("a checkpoint at the start", || lines(&kept, false) == 1);
        // Another goes at the next hundredth event, long before its hour.
        let mut journal = Cases::of(Journal::open(&ward.journal).expect("the journal"));
        for _ in 0..100 {
            journal.open(moment(), None).expect("room");
        }
        until("a checkpoint at the hundredth event", || lines(&kept, false) == 2);
        assert!(!browser.get("/").await.text.contains("as it was written"));
    }
    // An older copy of the whole proves itself: only what was kept elsewhere shows that something is missing.
    std::fs::remove_dir_all(&ward.journal).expect("ours");
    copy(&before, &ward.journal);
    assert_eq!(run(["journal", "verify", "--journal"]).arg(&ward.journal).said().code, 0);
    let mut browser = Browser::signed_in(&watching(&ward, places()), IDOWU).await;
    let began = Instant::now();
    loop {
        let page = browser.get("/").await.text;
        if page.contains("Every event here is as it was written, but ") {
            assert!(page.contains(": events were taken away, or an older copy was put back"), "{page}");
            break;
        }
        assert!(began.elapsed() < Duration::from_secs(30), "{page}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    let metrics = browser.get("/metrics").await.text;
    assert!(metrics.contains("countersign_journal_whole 0"), "{metrics}");
    assert_eq!(lines(&kept, false), 2, "no checkpoint of it goes out");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_program_gets_each_checkpoint_and_a_place_that_fails_is_named() {
    use std::os::unix::fs::PermissionsExt as _;
    let ward = Ward::new("program");
    let beside = ward.journal.parent().expect("its folder").to_owned();
    let (program, taken) = (beside.join("take it.sh"), beside.join("taken"));
    std::fs::write(&program, format!("#!/bin/sh\ncat >> '{}'\n", taken.display())).expect("room");
    std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).expect("ours");
    let nowhere = beside.join("nowhere");
    let places = vec![CheckpointPlace::Program(program), CheckpointPlace::Folder(nowhere.clone())];
    let mut browser = Browser::signed_in(&watching(&ward, places), IDOWU).await;
    until("the program got it", || std::fs::read_to_string(&taken).is_ok_and(|text| text.ends_with('\n')));
    let line = std::fs::read_to_string(&taken).expect("text");
    let journal = Journal::open(&ward.journal).expect("the journal");
    assert_eq!(journal.checkpoints(&line).expect("as it was signed").len(), 1);
    let began = Instant::now();
    while !browser.get("/").await.text.contains(&format!("No checkpoint was taken by {}", nowhere.display())) {
        assert!(began.elapsed() < Duration::from_secs(30));
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

// hazard: H-RECORD
#[test]
fn what_was_written_since_the_last_verification_is_verified_and_the_rest_is_still_there() {
    let ward = Ward::new("since");
    let mut cases = Cases::of(Journal::open(&ward.journal).expect("the journal"));
    let verified = cases.verify(&[], &mut |_, _| {}).expect("whole").head;
    cases.open(moment(), None).expect("room");
    let later = cases.journal().verify_since(verified, &[]).expect("whole").head;
    assert_eq!(later.seq, verified.seq + 1);
    assert!(cases.journal().verify_since(later, &[verified]).is_ok());
    let mut other = later;
    other.hash = verified.hash;
    assert!(cases.journal().verify_since(other, &[]).is_err(), "another event has this number");
    other.seq += 1;
    assert!(cases.journal().verify_since(verified, &[other]).is_err(), "it is missing");
    let database = rusqlite::Connection::open(ward.journal.join("journal.db")).expect("the database");
    database
        .execute_batch("DROP TRIGGER event_is_not_changed; UPDATE event SET kind = 'noted' WHERE seq = (SELECT max(seq) FROM event)")
        .expect("anybody with the file can");
    assert!(cases.journal().verify_since(verified, &[]).is_err(), "it was changed");
}

// hazard: H-RECORD
#[tokio::test(flavor = "multi_thread")]
async fn accesses_that_were_taken_away_are_missed_too() {
    let ward = Ward::new("accesses-cut");
    let kept = ward.journal.parent().expect("its folder").join("kept");
    std::fs::create_dir(&kept).expect("room");
    let places = || vec![CheckpointPlace::Folder(kept.clone())];
    // Somebody signs in before the first checkpoint goes.
    let mut log = Journal::open(&ward.journal).and_then(|journal| journal.accesses()).expect("it is made");
    let access = Access { kind: AccessKind::SignIn, who: None, scope: None, from: "here".to_owned() };
    log.note(moment(), &access).expect("room");
    drop(log);
    {
        let _router = watching(&ward, places());
        until("a checkpoint of the accesses", || lines(&kept, true) == 1);
    }
    for name in ["access.db", "access.db-wal", "access.db-shm"] {
        let _ = std::fs::remove_file(ward.journal.join(name));
    }
    let mut browser = Browser::signed_in(&watching(&ward, places()), IDOWU).await;
    let began = Instant::now();
    while !browser.get("/").await.text.contains("access 1: ") {
        assert!(began.elapsed() < Duration::from_secs(30));
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

// hazard: H-RECORD
#[tokio::test]
async fn who_looked_is_written_down_and_delays_nobody() {
    let ward = Ward::new("accesses");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    for path in ["", "/1/card", "/1/record"] {
        assert_eq!(tamm.get(&format!("{case}{path}")).await.status, StatusCode::OK);
    }
    // What nobody was shown is no reading.
    assert_eq!(tamm.get("/case/AAA-AAA/1/card").await.status, StatusCode::NOT_FOUND);
    let mut other = Browser::at(&router);
    assert_eq!(other.sign_in((TAMM.0, "998877")).await.status, StatusCode::FORBIDDEN);
    assert_eq!(other.sign_in(("Nobody at all", "998877")).await.status, StatusCode::FORBIDDEN);
    let mut again = Browser::signed_in(&router, TAMM).await;
    let first = again.get("/").await.text;
    assert!(first.contains("You signed in last at") && first.contains("One wrong try since."), "{first}");
    let code = case.trim_start_matches("/case/");
    let shown = |about: &[&str]| {
        let words = ["journal", "show", "--access", "--format", "json", "--at", crate::common::AT, "--journal"];
        let run = about.iter().fold(run(words).arg(&ward.journal), |run, word| run.arg(word));
        run.said().json()
    };
    until("it is written behind the answers", || {
        shown(&[])["accesses"].to_string().matches("\"sign-in\"").count() == 3
    });
    let of_case = shown(&[code]);
    let kinds: Vec<(&str, &str)> = of_case["accesses"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| (one["kind"].as_str().expect("a kind"), one["by"]["name"].as_str().unwrap_or("nobody")))
        .collect();
    for kind in ["case", "card", "record"] {
        assert!(kinds.contains(&(kind, TAMM.0)), "{kind}: {kinds:?}");
    }
    let all = shown(&[]).to_string();
    assert_eq!(all.matches("sign-in-refused").count(), 2, "{all}");
    assert!(!all.contains("Nobody at all") && !all.contains("998877"), "{all}");
    // A command at the machine is written down too.
    let set_up = format!("{code}/1");
    let card = run(["case", "card", &set_up, "--at", crate::common::AT, "--journal"]).arg(&ward.journal);
    assert_eq!(card.env("COUNTERSIGN_FORMULARY", "formulary").said().code, 0);
    assert!(shown(&[code]).to_string().contains("the command line"));
    // While the chain of accesses is held by another process, a reading is answered at once.
    let held = rusqlite::Connection::open(ward.journal.join("access.db")).expect("the database");
    held.execute_batch("BEGIN IMMEDIATE").expect("nobody writes");
    let began = Instant::now();
    for _ in 0..5 {
        assert_eq!(tamm.get(&format!("{case}/1/card")).await.status, StatusCode::OK);
    }
    assert!(began.elapsed() < Duration::from_millis(2_500), "{:?}", began.elapsed());
    let began = Instant::now();
    while tamm.get("/metrics").await.text.contains("countersign_accesses_not_written 0") {
        assert!(began.elapsed() < Duration::from_secs(30), "what was missed is counted");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    held.execute_batch("ROLLBACK").expect("it was begun");
}

#[tokio::test]
async fn a_clock_set_back_brings_no_expired_card_back_at_the_page_and_for_programs() {
    let ward = Ward::new("clock-back");
    let router = ward.served(LONG);
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let case = idowu.open_case().await;
    idowu.seal(&format!("{case}/enter"), READ).await;
    tamm.seal(&format!("{case}/1/enter/second"), READ).await;
    let card = format!("{case}/1/card");
    assert!(tamm.get(&card).await.text.contains("5.1"));
    // Somebody wrote at 20:00; the clock of this server says 07:50.
    let later = Moment::parse("2026-03-14T20:00:00+00:00").expect("a moment");
    Cases::of(Journal::open(&ward.journal).expect("the journal")).open(later, None).expect("room");
    let refused = tamm.get(&card).await;
    assert!(refused.status == StatusCode::CONFLICT && refused.text.contains("[clock-uncertain]"), "{}", refused.text);
    let record = format!("{case}/1/record");
    let once = tamm.get(&record).await.once(&record);
    let started = tamm.post(&record, &[("once", &once), ("did", "start"), ("value", "")]).await;
    assert!(started.text.contains("[not-as-agreed]") && started.text.contains("expired"), "{}", started.text);
    let served = Served::begin(&ward, &[]);
    let signed_in = served.json("/api/v1/sign-in", &serde_json::json!({"name": TAMM.0, "pin": TAMM.1}));
    let token = signed_in.split("\"token\":\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a token");
    let path = format!("/api/v1/cases/{}/1/card", case.trim_start_matches("/case/"));
    let head = format!("GET {path} HTTP/1.1\r\nHost: {}\r\nAuthorization: Bearer {token}", served.address);
    let answer = served.ask(&head, "");
    assert!(answer.contains("clock-uncertain") && !answer.contains("5.1"), "{answer}");
}

// hazard: H-EMERGENCY
#[test]
fn many_emergencies_are_all_shown_and_no_more_kept_than_a_disk_holds() {
    let ward = Ward::new("many-emergencies");
    let served = Served::begin(&ward, &[]);
    let mut whole = emergency_seen(&served, "0.08 mcg/kg/min");
    let mut kept = 0;
    for number in 0..90 {
        whole["entry"]["idempotency_key"] = serde_json::json!(format!("number {number:>20}"));
        let answer = served.json("/api/v1/emergency", &whole);
        assert!(answer.contains("\"value\":\"5.1\"") && answer.contains("NOT DOUBLE-CHECKED"), "{answer}");
        if answer.starts_with("HTTP/1.1 201") {
            kept += 1;
        } else {
            assert!(answer.starts_with("HTTP/1.1 202") && answer.contains("NOT RECORDED"), "{answer}");
            assert!(answer.contains("copy this card and what you do into the notes by hand"), "{answer}");
        }
    }
    assert!((60..85).contains(&kept), "{kept}");
    assert_eq!(ward.events("entry-sealed"), kept);
}

// hazard: H-RECORD
#[test]
fn a_key_is_given_back_where_nothing_could_be_written() {
    let ward = Ward::new("key-back");
    let served = Served::begin(&ward, &[]);
    let signed_in = served.json("/api/v1/sign-in", &serde_json::json!({"name": IDOWU.0, "pin": IDOWU.1}));
    let token = signed_in.split("\"token\":\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a token");
    let head = format!(
        "POST /api/v1/cases HTTP/1.1\r\nHost: {}\r\nAuthorization: Bearer {token}\r\nContent-Type: application/json",
        served.address
    );
    let open = || served.ask(&head, "{\"idempotency_key\": \"one and the same case\"}");
    let other = rusqlite::Connection::open(ward.journal.join("journal.db")).expect("the database");
    other.execute_batch("BEGIN IMMEDIATE").expect("nobody writes");
    assert!(open().starts_with("HTTP/1.1 503"));
    other.execute_batch("ROLLBACK").expect("it was begun");
    // The same key again: nothing was done with it.
    let opened = open();
    assert!(opened.starts_with("HTTP/1.1 201"), "{opened}");
    assert!(open().starts_with("HTTP/1.1 409"));
    assert_eq!(ward.events("case-opened"), 1);
}

#[test]
fn a_request_is_one_line_of_the_log_and_a_count_without_a_value_in_it() {
    let ward = Ward::new("log");
    let mut served = Served::logging(&ward);
    let error = served.process.stderr.take().expect("piped");
    let host = served.address;
    for path in ["/sign-in", "/case/K7M-4QX/1/card", "/own/style.css", "/QM-30417?name=Idowu"] {
        served.ask(&format!("GET {path} HTTP/1.1\r\nHost: {host}"), "");
    }
    let metrics = served.ask(&format!("GET /metrics HTTP/1.1\r\nHost: {host}"), "");
    for says in [
        "countersign_requests_total{method=\"GET\",route=\"/case/{case}/{number}/card\",status=\"303\"} 1",
        "countersign_requests_total{method=\"GET\",route=\"none\",status=\"404\"} 1",
        "countersign_request_milliseconds_count 4",
        "countersign_journal_events ",
    ] {
        assert!(metrics.contains(says), "{says}: {metrics}");
    }
    let mut read = BufReader::new(error).lines();
    let lines: Vec<String> = (0..4).map(|_| read.next().expect("a line").expect("text")).collect();
    for line in &lines {
        let line: serde_json::Value = serde_json::from_str(line).expect("JSON");
        let mut keys: Vec<&String> = line.as_object().expect("an object").keys().collect();
        keys.sort();
        assert_eq!(keys, ["at", "method", "ms", "route", "status"]);
    }
    for text in ["K7M", "QM-30417", "Idowu"] {
        assert!(!lines.concat().contains(text) && !metrics.contains(text), "{text}");
    }
}
