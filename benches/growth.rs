//! What people wait for in a journal that has grown: the list, the first page, one case and signing in, with many cases that
//! are over beside the same few that are not; held against a journal with a hundred that are over, in the same run.
//!
//! `cargo bench --bench growth -- 100000` sets how many cases are over (10,000 without a number); `--small` takes 1,000 and
//! fails where the list or the first page grows with them. Every case is opened, entered twice, started, stopped and closed
//! by the program's own functions. The journals are invented.

#![allow(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints times")]

mod common;
#[path = "common/ward.rs"]
mod ward;

use std::path::{Path, PathBuf};
use std::process::{Child, ExitCode};
use std::time::{Duration, Instant};

use axum::http::StatusCode;
use common::{Arguments, Held, built, median, spent_by, timed};
use countersign::case::{Cases, OverCases, unlock};
use countersign::journal::Journal;
use countersign::quantity::Moment;
use ward::{PEOPLE, Ward, Web, browser, get, served, sign_in};

/// So many cases are over in the journal that is the reference.
const FEW: usize = 100;
/// So many cases of a list are open at once in a theatre suite (an assumption, no source).
const OPEN: usize = 12;
/// From 0.9 to 1.1: nothing of what is over is read.
const LIMIT: f64 = 1.3;

/// One of the two journals, and the program that serves it.
struct Side {
    journal: PathBuf,
    open: Vec<String>,
    server: Child,
    home: String,
    cookie: String,
}

fn main() -> ExitCode {
    let arguments = Arguments::read();
    let many = arguments.count(0, 1_000, 10_000);
    // In memory where that can be had: what is read is measured, and writing so many cases to a disk takes long.
    let shared = Path::new("/dev/shm");
    let within = if shared.is_dir() { shared } else { Path::new(env!("CARGO_TARGET_TMPDIR")) };
    let place = within.join(format!("bench-growth-{}", std::process::id()));
    std::fs::create_dir_all(&place).expect("the folder can be written");
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    let web = browser();
    let program = arguments.program().unwrap_or(env!("CARGO_BIN_EXE_countersign"));
    let wards = [FEW, many].map(|over| {
        let (took, ward) = timed(|| {
            let mut ward = Ward::new(place.join(format!("{over}-over")));
            // Those that are not over are spread among the others.
            for _ in 0..OPEN {
                ward.close(over / OPEN);
                ward.agree(1);
            }
            ward.close(over % OPEN);
            ward
        });
        println!("{over} cases that are over, written in {took:.1?}");
        ward
    });
    // Only now: a session ends where nobody touches it for some minutes.
    let mut sides = wards.map(|Ward { journal, open, .. }| {
        let (server, home) = served(program, &journal);
        let cookie = runtime.block_on(sign_in(&web, &home, PEOPLE[0].0, PEOPLE[0].2));
        Side { journal, open, server, home, cookie }
    });
    let measured = if arguments.small() {
        small(&sides, &runtime, &web)
    } else {
        println!("profile {}", built());
        large(&sides, &runtime, &web, many);
        ExitCode::SUCCESS
    };
    for side in &mut sides {
        let _ = side.server.kill();
        let _ = side.server.wait();
    }
    std::fs::remove_dir_all(place).expect("it is ours");
    measured
}

fn small(sides: &[Side; 2], runtime: &tokio::runtime::Runtime, web: &Web) -> ExitCode {
    const TURNS: usize = 40;
    let listed = Held::in_processor_time(TURNS, || list(&sides[0]), || list(&sides[1]));
    let mut spent = [Duration::ZERO; 2];
    for _ in 0..TURNS {
        for (side, spent) in sides.iter().zip(&mut spent) {
            let server = side.server.id().to_string();
            let before = spent_by(&server);
            runtime.block_on(page(web, side, "/"));
            *spent += spent_by(&server) - before;
        }
    }
    let paged = Held { reference: spent[0], measured: spent[1] };
    let verdicts = [listed.verdict("growth of the list", LIMIT), paged.verdict("growth of the first page", LIMIT)];
    verdicts.into_iter().find(|one| *one != ExitCode::SUCCESS).unwrap_or(ExitCode::SUCCESS)
}

fn large(sides: &[Side; 2], runtime: &tokio::runtime::Runtime, web: &Web, many: usize) {
    let turns = 15;
    let said = |what: &str, each: &dyn Fn(&Side)| {
        let mut took = [Vec::new(), Vec::new()];
        for _ in 0..turns {
            for (side, took) in sides.iter().zip(&mut took) {
                let begun = Instant::now();
                each(side);
                took.push(begun.elapsed());
            }
        }
        let [few, grown] = took.map(median);
        let held = Held { reference: few, measured: grown };
        println!("{what}: {FEW} over {few:.2?}, {many} over {grown:.2?}, {:.2} x", held.ratio());
    };
    said("journal opened and listed", &list);
    said("first page", &|side| runtime.block_on(page(web, side, "/")));
    said("one case", &|side| runtime.block_on(page(web, side, &format!("/case/{}", side.open[0]))));
    said("signing in", &unlocked);
    for side in sides {
        let cases = Cases::of(Journal::open(&side.journal).expect("it was made"));
        let (took, list) = timed(|| cases.list(OverCases::All, None, Moment::now()).expect("it is whole"));
        println!("every case listed, as --all does: {} rows in {took:.2?}", list.rows.len());
    }
    for side in sides {
        let journal = Journal::open(&side.journal).expect("it was made");
        let (took, verified) = timed(|| journal.verify(&[], &mut |_, _| {}).expect("it is whole"));
        let events = u32::try_from(verified.head.seq).expect("fewer");
        println!("verified: {events} events in {took:.2?}, {:.2?} each", took / events);
    }
}

/// What `case list` does.
fn list(side: &Side) {
    let cases = Cases::of(Journal::open(&side.journal).expect("it was made"));
    let list = cases.list(OverCases::LeftOut, None, Moment::now()).expect("it is whole");
    assert_eq!(std::hint::black_box(list).rows.len(), OPEN);
}

fn unlocked(side: &Side) {
    let mut journal = Journal::open(&side.journal).expect("it was made");
    std::hint::black_box(unlock(&mut journal, Moment::now(), PEOPLE[1].0, PEOPLE[1].2).expect("the PIN"));
}

async fn page(web: &Web, side: &Side, path: &str) {
    let (status, _, text) = get(web, &format!("{}{path}", side.home), &side.cookie).await;
    assert!(status == StatusCode::OK && text.contains(&side.open[0]), "{status}");
}
