//! How long the bedside page lets people wait: fifty at once, each asking for the next page as soon as the last one is
//! there, or after a second of thought, of pages that write nothing; held against the program's sheet of styles, asked for in the same way in the same
//! run, which costs nothing but the way there and back.
//!
//! `cargo bench --bench page -- 50 40` sets how many people and how many pages each; a path behind them is another build
//! of the program; `--small` asks for the first two alone and fails beyond its limit. The journal is invented.

#![allow(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints times")]

mod common;
#[path = "common/ward.rs"]
mod ward;

use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use axum::http::StatusCode;
use common::{Arguments, Held, built, spent_by};
use ward::{PEOPLE, Ward, Web, browser, get, served, sign_in};

/// So many cases of a list are open at once in a theatre suite (an assumption, no source).
const CASES: usize = 12;

/// From 19 to 22, with and without other processes busy on two cores: the sheet is bytes that are ready, a page is drawn.
const LIMIT: f64 = 35.0;

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let (people, pages) = (arguments.count(0, 20, 50), arguments.count(1, 200, 40));
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("bench-page-{}", std::process::id()));
    std::fs::create_dir_all(&place).expect("the target folder can be written");
    let mut ward = Ward::new(place.join("journal"));
    ward.agree(CASES);
    let Ward { journal, open: cases, .. } = ward;
    let (mut process, home) = served(arguments.program().unwrap_or(env!("CARGO_BIN_EXE_countersign")), &journal);
    let server = process.id().to_string();
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let held = runtime.block_on(async {
        let web = browser();
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
