//! How long the bedside page lets people wait: fifty at once, each asking for the next page as soon as the last one is
//! there, or after a second of thought, of pages that write nothing; held against the program's sheet of styles, asked for in the same way in the same
//! run, which costs nothing but the way there and back.
//!
//! `cargo bench --bench page -- 50 40` sets how many people and how many pages each; a path behind them is another build
//! of the program; `--small` asks for the first two alone and fails beyond its limit. The journal is invented.

#![allow(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints times")]

mod common;

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use common::{Arguments, Held, built, spent_by};
use countersign::case::{Author, Cases, Form, Role, Turn, add, unlock};
use countersign::formulary::Formulary;
use countersign::journal::Journal;
use countersign::quantity::Moment;
use http_body_util::BodyExt as _;
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;

type Web = Client<HttpConnector, Body>;

const PEOPLE: [(&str, Role, &str); 2] =
    [("A. Idowu", Role::Anaesthetist, "281940"), ("M. Tamm", Role::Nurse, "quiet harbour 7")];
/// So many cases of a list are open at once in a theatre suite (an assumption, no source).
const CASES: usize = 12;

/// From 19 to 22, with and without other processes busy on two cores: the sheet is bytes that are ready, a page is drawn.
const LIMIT: f64 = 35.0;

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let (people, pages) = (arguments.count(0, 20, 50), arguments.count(1, 200, 40));
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("bench-page-{}", std::process::id()));
    std::fs::create_dir_all(&place).expect("the target folder can be written");
    let (journal, cases) = ward(&place);
    let (mut process, home) = served(arguments.program().unwrap_or(env!("CARGO_BIN_EXE_countersign")), &journal);
    let server = process.id().to_string();
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let held = runtime.block_on(async {
        let web: Web = Client::builder(TokioExecutor::new()).build_http();
        let mut cookies = Vec::new();
        for (name, _, pin) in PEOPLE {
            for _ in 0..people.div_ceil(PEOPLE.len()) {
                cookies.push(sign_in(&web, &home, name, pin).await);
            }
        }
        let mut paths = vec!["/".to_owned()];
        for case in &cases {
            paths.extend(["", "/1/readback", "/1/record"].map(|page| format!("/case/{case}{page}")));
        }
        let cards: Vec<String> = cases.iter().map(|case| format!("/case/{case}/1/card")).collect();
        let second = Duration::from_secs(1);
        let sheet = vec!["/own/style.css".to_owned()];
        if arguments.small() {
            let mut spent = Vec::new();
            for paths in [&sheet, &paths] {
                let before = spent_by(&server);
                let (_, refused) = all_at_once(&web, &home, &cookies[..people], paths, pages, None).await;
                assert_eq!(refused, 0, "every page is there");
                spent.push(spent_by(&server) - before);
            }
            return Some(Held { reference: spent[0], measured: spent[1] });
        }
        println!("profile {}", built());
        for (what, paths, thought) in [
            ("sheet of styles, the next at once", sheet, None),
            ("pages that write nothing, the next at once", paths.clone(), None),
            ("pages that write nothing, a second of thought before each", paths, Some(second)),
            ("cards, each written down as given out, a second of thought", cards, Some(second)),
        ] {
            let (times, refused) = all_at_once(&web, &home, &cookies[..people], &paths, pages, thought).await;
            said(what, people, &times, refused);
        }
        None
    });
    let _ = process.kill();
    let _ = process.wait();
    std::fs::remove_dir_all(place).expect("it is ours");
    held.map_or(ExitCode::SUCCESS, |held| held.verdict("page", LIMIT))
}

async fn all_at_once(
    web: &Web,
    home: &str,
    cookies: &[String],
    paths: &[String],
    pages: usize,
    thought: Option<Duration>,
) -> (Vec<Duration>, usize) {
    let mut people = Vec::new();
    for (at, cookie) in cookies.iter().enumerate() {
        let (web, home, cookie, paths) = (web.clone(), home.to_owned(), cookie.clone(), paths.to_vec());
        people.push(tokio::spawn(async move {
            let (mut times, mut refused) = (Vec::new(), 0);
            for page in 0..pages {
                if let Some(thought) = thought {
                    // Nobody begins on the same beat.
                    tokio::time::sleep(if page == 0 { thought * u32::try_from(at).unwrap_or(0) / 50 } else { thought })
                        .await;
                }
                let path = &paths[(at * 7 + page) % paths.len()];
                let begun = Instant::now();
                let (status, _, _) = get(&web, &format!("{home}{path}"), &cookie).await;
                times.push(begun.elapsed());
                refused += usize::from(status != StatusCode::OK);
            }
            (times, refused)
        }));
    }
    let (mut times, mut refused) = (Vec::new(), 0);
    for person in people {
        let (mine, not) = person.await.expect("nobody panics");
        times.extend(mine);
        refused += not;
    }
    times.sort();
    (times, refused)
}

fn said(what: &str, people: usize, times: &[Duration], refused: usize) {
    let at = |part: f64| times[((times.len() - 1) as f64 * part).round() as usize].as_secs_f64() * 1000.0;
    println!(
        "{what}: {people} at once, {} answers, {refused} refused; median {:.1} ms, p99 {:.1} ms, longest {:.1} ms",
        times.len(),
        at(0.5),
        at(0.99),
        at(1.0)
    );
}

async fn get(web: &Web, address: &str, cookie: &str) -> (StatusCode, Vec<String>, String) {
    let request = Request::get(address).header(header::COOKIE, cookie).body(Body::empty()).expect("a request");
    answered(web, request).await
}

async fn answered(web: &Web, request: Request<Body>) -> (StatusCode, Vec<String>, String) {
    let response = web.request(request).await.expect("an answer");
    let set = response.headers().get_all(header::SET_COOKIE).iter().filter_map(|value| value.to_str().ok());
    let set = set.filter_map(|text| text.split(';').next()).map(str::to_owned).collect();
    let status = response.status();
    let bytes = response.into_body().collect().await.expect("a body").to_bytes();
    (status, set, String::from_utf8_lossy(&bytes).into_owned())
}

async fn sign_in(web: &Web, home: &str, name: &str, pin: &str) -> String {
    let (_, door, page) = get(web, &format!("{home}/sign-in"), "").await;
    let once = page.split("name=\"once\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a token");
    let body = format!("once={once}&name={}&pin={}", name.replace(' ', "+"), pin.replace(' ', "+"));
    let request = Request::post(format!("{home}/sign-in"))
        .header(header::COOKIE, door.join("; "))
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(body));
    let (status, cookies, _) = answered(web, request.expect("a request")).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{name} signs in");
    cookies.join("; ")
}

/// A journal with agreed set-ups that run.
fn ward(place: &Path) -> (PathBuf, Vec<String>) {
    let journal = place.join("journal");
    let now = Moment::now();
    let mut made = Journal::create(&journal, true, now).expect("a fresh folder");
    add(&mut made, now, None, PEOPLE[0].0, PEOPLE[0].1, PEOPLE[0].2).expect("the first person");
    let (idowu, first) = unlock(&mut made, now, PEOPLE[0].0, PEOPLE[0].2).expect("a PIN");
    add(&mut made, now, Some(&first), PEOPLE[1].0, PEOPLE[1].1, PEOPLE[1].2).expect("the second person");
    let (tamm, second) = unlock(&mut made, now, PEOPLE[1].0, PEOPLE[1].2).expect("a PIN");
    let formulary = Formulary::open(Path::new("formulary")).expect("the demonstration");
    let text = std::fs::read_to_string("examples/adult-vasopressor/first.yaml").expect("the example");
    let left_out = ["entered_", "drawn_up_at", "starts_at"];
    let text: String = text
        .lines()
        .filter(|line| !left_out.iter().any(|known| line.starts_with(known)))
        .map(|line| format!("{line}\n"))
        .collect();
    let text = format!("{text}drawn_up_at: {}\n", now.to_rfc3339());
    let form = Form { name: "the example".to_owned(), text, json: false, dose_again: None };
    let mut cases = Cases::of(made);
    let mut codes = Vec::new();
    for _ in 0..CASES {
        let code = cases.open(now, Some(&first)).expect("a case");
        let (one, other) = (Author::Signed(&idowu, &first), Author::Signed(&tamm, &second));
        let task = cases.task((code, None), Turn::First { anew: false }, &one, now).expect("the first turn");
        let set_up = cases.seal(&task, &form, &one, &formulary, now).expect("the first entry");
        let task = cases.task((code, Some(set_up.number)), Turn::Second, &other, now).expect("the second turn");
        cases.seal(&task, &form, &other, &formulary, now).expect("the second entry");
        codes.push(code.to_string());
    }
    (journal, codes)
}

fn served(program: &str, journal: &Path) -> (Child, String) {
    let mut process = Command::new(program)
        .args(["serve", "--formulary", "formulary", "--address", "127.0.0.1:0"])
        .arg("--journal")
        .arg(journal)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program");
    let mut line = String::new();
    BufReader::new(process.stdout.take().expect("its output")).read_line(&mut line).expect("a line");
    let home = line.trim().trim_start_matches("Serving at ").trim_end_matches('/').to_owned();
    (process, home)
}
