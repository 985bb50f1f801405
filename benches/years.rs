//! What a house waits for after years of cases: the pharmacist's counts, the proof of the whole journal and of what is new
//! in it, and a backup, whole and of what is new. Every case is opened, entered twice, started, stopped and closed by the
//! program's own functions. The journals are invented.
//!
//! `cargo bench --bench years -- 1000 10000` measures journals of so many cases that are over.

#![allow(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints times")]

mod common;
#[path = "common/ward.rs"]
mod ward;

use std::path::Path;

use common::{Arguments, built, timed};
use countersign::case::Cases;
use countersign::journal::{Journal, restore_all};
use countersign::pharmacy::alerts::{Alerts, Selection};
use countersign::quantity::Moment;
use ward::Ward;

fn main() {
    let arguments = Arguments::read();
    println!("profile {}", built());
    // In memory where that can be had: the work is measured, and not the disk.
    let shared = Path::new("/dev/shm");
    let within = if shared.is_dir() { shared } else { Path::new(env!("CARGO_TARGET_TMPDIR")) };
    let place = within.join(format!("bench-years-{}", std::process::id()));
    std::fs::create_dir_all(&place).expect("the folder can be written");
    for many in [arguments.count(0, 100, 1_000), arguments.count(1, 0, 0)] {
        if many > 0 {
            measure(&place, many);
        }
    }
    std::fs::remove_dir_all(place).expect("it is ours");
}

fn measure(place: &Path, many: usize) {
    let journal = place.join(format!("{many}-over"));
    let (took, mut ward) = timed(|| {
        let mut ward = Ward::new(journal.clone());
        ward.close(many);
        ward
    });
    println!("{many} cases that are over, written in {took:.1?}");
    let cases = Cases::of(Journal::open(&journal).expect("it was made"));
    let count = || timed(|| Alerts::of(&cases, Selection::default(), Moment::now()).expect("it is whole"));
    let (kept, alerts) = count();
    let rows = rusqlite::Connection::open(journal.join("journal.db")).expect("SQLite");
    rows.execute_batch("CREATE TEMP TABLE kept AS SELECT * FROM scope_projection; DELETE FROM scope_projection;")
        .expect("SQLite");
    let (worked_out, every) = count();
    assert_eq!(format!("{alerts:?}"), format!("{every:?}"), "the counts are the same");
    rows.execute_batch("INSERT INTO scope_projection SELECT * FROM temp.kept;").expect("SQLite");
    let set_ups = alerts.all.set_ups;
    println!("the counts of {set_ups} set-ups: kept {kept:.2?}, worked out from every event {worked_out:.2?}");
    let (took, verified) = timed(|| cases.verify(&[], &mut |_, _| {}).expect("it is whole"));
    println!("verified: {} events in {took:.2?}", verified.head.seq);
    let (first, then) = (place.join(format!("{many}.backup")), place.join(format!("{many}.new")));
    let (took, _) = timed(|| cases.journal().backup(&first, PASSPHRASE, Moment::now()).expect("a backup"));
    println!("backup of the whole: {} kB in {took:.2?}", length(&first));
    ward.close(many / 100);
    let (took, new) = timed(|| cases.verify_since(verified.head, &[]).expect("it is whole"));
    println!("verified since, a hundredth more cases: {} events in {took:.2?}", new.head.seq - verified.head.seq);
    let (took, _) = timed(|| cases.journal().backup_since(&first, &then, PASSPHRASE, Moment::now()).expect("a backup"));
    println!("backup of what is new, a hundredth more cases: {} kB in {took:.2?}", length(&then));
    let back = place.join(format!("{many}-back"));
    let (took, restored) = timed(|| {
        restore_all(&[first.clone(), then.clone()], &back, PASSPHRASE, None, Moment::now(), &mut |_, _| {})
            .expect("it is whole")
    });
    assert_eq!(restored.verified.head, new.head);
    println!("both restored and verified in {took:.2?}");
    for path in [first, then] {
        std::fs::remove_file(path).expect("it is ours");
    }
    std::fs::remove_dir_all(back).expect("it is ours");
}

const PASSPHRASE: &str = "invented for a benchmark";

fn length(path: &Path) -> u64 {
    std::fs::metadata(path).map_or(0, |known| known.len() / 1_000)
}
