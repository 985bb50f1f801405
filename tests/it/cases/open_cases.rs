//! The list reads only the cases that are not over, and shows the same as if it read every case there ever was.

use std::fs;

use countersign::case::{CaseCode, Cases, OverCases, SetUpRow};
use countersign::journal::Journal;
use rusqlite::Connection;

use super::{IDOWU, TAMM, Theatre, at, first, moment, run, second};

pub(super) const NOON: &str = "12:00";
const CLOSED: [&str; 8] = ["--left", "40 mL", "--in-line", "0.9 mL", "--discarded", "0 mL", "--reason", "as found"];

impl Theatre {
    #[track_caller]
    pub(super) fn does(&self, clock: &str, words: &[&str]) {
        let said = self.says(clock, &[IDOWU.1], &[words, &["--as", IDOWU.0]].concat());
        assert_eq!(said.code, 0, "{words:?}: {said:?}");
    }

    pub(super) fn started(&self) -> String {
        let code = self.agreed();
        self.does("08:00", &["record", "start", &code]);
        code
    }

    fn stopped(&self) -> String {
        let code = self.started();
        self.does("08:30", &["record", "stop", &code]);
        code
    }

    pub(super) fn closed(&self) -> String {
        let code = self.stopped();
        self.closes(&code);
        code
    }

    #[track_caller]
    pub(super) fn closes(&self, code: &str) {
        self.does("08:40", &[&["record", "close", code][..], &CLOSED].concat());
    }

    pub(super) fn reopened(&self) -> String {
        let code = self.closed();
        let event = self.events().to_string();
        self.does("08:50", &["record", "correct", &code, "--event", &event, "--not", "--reason", "another syringe"]);
        code
    }

    pub(super) fn forgotten(&self, code: String) -> String {
        let said =
            self.says("09:00", &[IDOWU.1, TAMM.1, &code], &["case", "forget", &code, "--as", IDOWU.0, "--and", TAMM.0]);
        assert_eq!(said.code, 0, "{said:?}");
        code
    }

    pub(super) fn database(&self) -> Connection {
        Connection::open(self.journal.join("journal.db")).expect("SQLite")
    }

    pub(super) fn tampered(&self, sql: &str) {
        assert!(self.database().execute(sql, []).expect("SQLite") > 0, "{sql}");
    }
}

/// What the list shows unless more is asked for.
fn shown(rows: &[SetUpRow]) -> Vec<String> {
    let kept = rows.iter().filter(|row| !row.over || !row.owed.is_empty());
    kept.map(|row| format!("{row:?}")).collect()
}

fn codes(rows: &[SetUpRow]) -> Vec<CaseCode> {
    let mut codes: Vec<CaseCode> = rows.iter().map(|row| row.case).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
}

fn code(text: &str) -> CaseCode {
    CaseCode::parse(text).expect("a code")
}

/// The list by the index, held against the list by every event.
#[track_caller]
pub(super) fn same_as_every_case(cases: &Cases) -> Vec<SetUpRow> {
    let every = cases.list(OverCases::All, None, moment(NOON)).expect("a journal");
    for over in [OverCases::LeftOut, OverCases::Recent] {
        let list = cases.list(over, None, moment(NOON)).expect("a journal");
        assert_eq!(list.altered, None);
        assert_eq!(shown(&list.rows), shown(&every.rows), "{over:?}");
        let left_out = codes(&every.rows).len() - codes(&list.rows).len();
        assert_eq!(list.over_left_out, left_out as u64, "{over:?}");
    }
    assert_eq!(cases.index_differs().expect("a journal"), None);
    every.rows
}

// hazard: H-RECORD
#[test]
fn the_list_by_the_index_is_the_list_of_every_case() {
    let theatre = Theatre::new("open-cases");
    let cases = theatre.cases();
    same_as_every_case(&cases);
    let mut listed = vec![theatre.case()];
    let waiting = theatre.case();
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &waiting, &first()).code, 0);
    listed.push(waiting);
    same_as_every_case(&cases);
    listed.push(theatre.agreed());
    let running = theatre.started();
    let file = theatre.file("emergency.yaml", &first());
    let said = theatre.says("07:40", &[], &["case", "emergency", "--by", "A. Idowu", "--from", &file]);
    assert_eq!(said.code, 0, "{said:?}");
    let stopped = theatre.stopped();
    let closed = theatre.closed();
    let reopened = theatre.reopened();
    // A closing that does not add up, and whose reason is outstanding.
    let unexplained = theatre.stopped();
    let close = [&["record", "close", &unexplained][..], &CLOSED[..6]].concat();
    let read = theatre.says("08:39", &[IDOWU.1], &[&close[..], &["--as", IDOWU.0]].concat());
    assert_eq!(read.code, 5, "read a second time: {read:?}");
    theatre.does("08:40", &close);
    let forgotten = [theatre.forgotten(theatre.agreed()), theatre.forgotten(theatre.closed())];
    // Two set-ups, one of them closed.
    let half = theatre.closed();
    assert_eq!(theatre.enters("09:00", IDOWU, "enter", &half, &super::without_patient(&super::by_rate())).code, 0);
    listed.extend([running, stopped.clone(), reopened, unexplained.clone(), half]);
    let rows = same_as_every_case(&cases);
    let list = cases.list(OverCases::LeftOut, None, moment(NOON)).expect("a journal");
    for expected in &listed {
        assert!(codes(&list.rows).contains(&code(expected)), "{expected}: {:?}", list.rows);
    }
    for gone in &forgotten {
        assert!(!codes(&rows).contains(&code(gone)), "{gone}");
    }
    assert!(!codes(&list.rows).contains(&code(&closed)));
    let said = theatre.says(NOON, &[], &["case", "list"]).stdout;
    assert!(said.contains("1 case is over: countersign case list --all") && !said.contains(&closed), "{said}");
    let recent = cases.list(OverCases::Recent, None, moment(NOON)).expect("a journal");
    assert!(codes(&recent.rows).contains(&code(&closed)) && recent.older.is_none(), "{recent:?}");

    // What is outstanding is done: then they are over.
    theatre.closes(&stopped);
    let event = theatre.database().query_row(
        "SELECT max(seq) FROM event WHERE kind = 'record' AND scope = ?1",
        [code(&unexplained).scope()],
        |row| row.get::<_, i64>(0),
    );
    let event = event.expect("its closing").to_string();
    theatre.does("09:10", &["record", "reason", &unexplained, "--event", &event, "--reason", "a syringe broke"]);
    same_as_every_case(&cases);
    let list = cases.list(OverCases::LeftOut, None, moment(NOON)).expect("a journal");
    for over in [&stopped, &unexplained] {
        assert!(!codes(&list.rows).contains(&code(over)), "{over}: {:?}", list.rows);
    }

    // A key that is lost takes no case from view that is not over.
    let open = codes(&list.rows);
    let keys = fs::read_dir(theatre.journal.join("case-keys")).expect("ours").map(|key| key.expect("ours").path());
    let mut tried = 0;
    for key in keys.collect::<Vec<_>>() {
        let aside = key.with_extension("aside");
        fs::rename(&key, &aside).expect("ours");
        let unreadable = |over| {
            let mut rows = cases.list(over, None, moment(NOON)).expect("a journal").rows;
            rows.retain(|row| row.stands.contains("CANNOT BE READ"));
            codes(&rows)
        };
        // One in which nothing was agreed needs no key to be shown.
        let lost = unreadable(OverCases::All);
        let shown: Vec<CaseCode> = lost.iter().copied().filter(|case| open.contains(case)).collect();
        assert_eq!(unreadable(OverCases::LeftOut), shown, "{lost:?}");
        tried += shown.len();
        fs::rename(&aside, &key).expect("ours");
    }
    assert!(tried > 3, "{tried} cases that are not over could not be read");
    theatre.is_whole();
}

#[test]
fn of_the_cases_that_are_over_the_last_ten_are_listed_and_the_others_page_by_page() {
    let theatre = Theatre::new("open-cases-many");
    let first = theatre.closed();
    let mut last = String::new();
    for _ in 0..11 {
        last = theatre.closed();
    }
    let cases = theatre.cases();
    same_as_every_case(&cases);
    let recent = cases.list(OverCases::Recent, None, moment(NOON)).expect("a journal");
    assert_eq!((recent.rows.len(), recent.over_left_out), (10, 2));
    assert!(codes(&recent.rows).contains(&code(&last)) && !codes(&recent.rows).contains(&code(&first)));
    let older = cases.opened_before(recent.older.expect("there are two"), None, moment(NOON)).expect("a journal");
    assert_eq!((older.rows.len(), older.older), (12, None));
    assert_eq!((older.rows[0].case, older.rows[11].case), (code(&last), code(&first)));
    // One that is touched again is the last.
    theatre.does("11:00", &["record", "reason", &first, "--event", &theatre.first_closing(), "--reason", "seen again"]);
    let recent = cases.list(OverCases::Recent, None, moment(NOON)).expect("a journal");
    assert!(recent.rows.len() == 10 && codes(&recent.rows).contains(&code(&first)), "{recent:?}");
    same_as_every_case(&cases);
}

impl Theatre {
    pub(super) fn first_closing(&self) -> String {
        let sql = "SELECT seq FROM event WHERE kind = 'record' ORDER BY seq LIMIT 1 OFFSET 2";
        self.database().query_row(sql, [], |row| row.get::<_, i64>(0)).expect("start, stop, closing").to_string()
    }
}

// Whoever can write the database, and lacks the store key, can hide no case.
// hazard: H-RECORD
#[test]
fn an_index_that_was_changed_is_named_and_hides_nothing() {
    let tampers = [
        ("DELETE FROM projection WHERE value LIKE 'open%'", "it hides"),
        ("UPDATE projection SET value = replace(value, 'open', 'over') || ' 9' WHERE value LIKE 'open%'", "it hides"),
        ("UPDATE projection SET value = 'over 1 2' WHERE value LIKE 'open%'", "was changed or put in"),
        ("DELETE FROM projection_whole", "its tag was taken out"),
        ("UPDATE projection_whole SET tag = zeroblob(32)", "taken out or put back"),
        ("INSERT INTO projection VALUES ('case', 'K7M-4QX', 'open 3', zeroblob(32))", "changed or put in"),
    ];
    let theatre = Theatre::new("open-cases-tampered");
    let (open, _) = (theatre.started(), theatre.closed());
    for (at, (sql, says)) in tampers.into_iter().enumerate() {
        let copy = Theatre {
            journal: crate::common::folder(&format!("open-cases-tampered-{at}")).join("journal"),
            formulary: theatre.formulary.clone(),
        };
        super::copy(&theatre.journal, &copy.journal);
        let whole = copy.says(NOON, &[], &["case", "list"]).stdout;
        copy.tampered(sql);
        is_named(&copy, &open, says, sql);
        // Writing goes on, and covers nothing up.
        copy.does("08:10", &["record", "rate", &open, "6 mL/h"]);
        is_named(&copy, &open, says, sql);
        let mended = run(["journal", "verify", "--mend", "--journal"]).arg(&copy.journal).said();
        assert_eq!(mended.code, 0, "{sql}: {mended:?}");
        copy.is_whole();
        let list = copy.says(NOON, &[], &["case", "list"]).stdout;
        assert!(!list.contains("INDEX") && list.lines().count() >= whole.lines().count(), "{sql}: {list}");
        same_as_every_case(&copy.cases());
    }
}

#[track_caller]
fn is_named(theatre: &Theatre, open: &str, says: &str, sql: &str) {
    let list = theatre.cases().list(OverCases::LeftOut, None, moment(NOON)).expect("every case is read");
    let altered = list.altered.as_ref().unwrap_or_else(|| panic!("{sql}: {list:?}"));
    assert!(altered.contains(says), "{sql}: {altered}");
    if says == "it hides" {
        assert!(altered.contains(open), "{sql}: {altered}");
    }
    assert!(codes(&list.rows).contains(&code(open)), "{sql}");
    let said = theatre.says(NOON, &[], &["case", "list"]).stdout;
    assert!(said.contains("THE INDEX OF CASES WAS CHANGED") && said.contains(open), "{sql}: {said}");
    let verified = run(["journal", "verify", "--journal"]).arg(&theatre.journal).said();
    assert!(verified.code == 4 && verified.stdout.contains("the index beside the events"), "{sql}: {verified:?}");
}

// Rows of yesterday carry the tags of yesterday.
// hazard: H-RECORD
#[test]
fn an_index_of_another_time_does_not_fit() {
    let theatre = Theatre::new("open-cases-earlier");
    theatre.started();
    let rows =
        "CREATE TABLE old AS SELECT * FROM projection; CREATE TABLE old_whole AS SELECT * FROM projection_whole;";
    theatre.database().execute_batch(rows).expect("SQLite");
    let later = theatre.started();
    let back = "DELETE FROM projection; INSERT INTO projection SELECT * FROM old; DELETE FROM projection_whole;
                INSERT INTO projection_whole SELECT * FROM old_whole; DROP TABLE old; DROP TABLE old_whole;";
    theatre.database().execute_batch(back).expect("SQLite");
    is_named(&theatre, &later, "it hides", back);
}

// hazard: H-RECORD
#[test]
fn a_case_that_the_program_left_out_is_named_by_the_verification() {
    let theatre = Theatre::new("open-cases-left-out");
    let code = theatre.started();
    let journal = Journal::open(&theatre.journal).expect("it was made");
    let head = journal.head().expect("a journal");
    assert!(journal.replace_projection(head, &[], &[]).expect("room"), "nothing was written meanwhile");
    let verified = run(["journal", "verify", "--journal"]).arg(&theatre.journal).said();
    assert!(verified.code == 4 && verified.stdout.contains(&format!("case {code} is not over")), "{verified:?}");
    let mended = run(["journal", "verify", "--mend", "--journal"]).arg(&theatre.journal).said();
    assert_eq!(mended.code, 0, "{mended:?}");
    theatre.is_whole();
    // Rows that were worked out before the last event are not taken.
    theatre.case();
    assert!(!journal.replace_projection(head, &[], &[]).expect("it can be read"));
    theatre.is_whole();
}

// hazard: H-RECORD
#[test]
fn a_kept_formulary_is_found_whatever_the_index_says() {
    let theatre = Theatre::new("open-cases-editions");
    let code = theatre.agreed();
    let kept = |theatre: &Theatre| {
        let sql = "SELECT count(*) FROM event WHERE kind = 'formulary-kept'";
        theatre.database().query_row(sql, [], |row| row.get::<_, i64>(0)).expect("SQLite")
    };
    assert_eq!(kept(&theatre), 1);
    for sql in
        ["UPDATE projection SET value = '2' WHERE name = 'edition'", "DELETE FROM projection WHERE name = 'edition'"]
    {
        theatre.tampered(sql);
        assert_eq!(theatre.says("07:50", &[], &["case", "card", &code]).code, 0, "{sql}");
        let next = theatre.case();
        assert_eq!(theatre.enters("07:52", TAMM, "enter", &next, &second()).code, 0, "{sql}");
        assert_eq!(kept(&theatre), 1, "{sql}: no edition is kept twice");
    }
}

// hazard: H-RECORD
#[test]
fn a_forgetting_that_was_interrupted_is_completed_and_no_row_takes_a_key_away() {
    let theatre = Theatre::new("open-cases-forgetting");
    let (kept, gone) = (theatre.agreed(), theatre.agreed());
    let keys = || fs::read_dir(theatre.journal.join("case-keys")).expect("ours").count();
    let (idowu, signer) = theatre.unlocked("08:00", IDOWU);
    assert_eq!((idowu.name.as_str(), keys()), (IDOWU.0, 2));
    let mut journal = Journal::open(&theatre.journal).expect("it was made");
    let draft = countersign::journal::NewEvent {
        kind: countersign::journal::KIND_FORGOTTEN,
        scope: Some(code(&gone).scope()),
        by: Some(&signer),
        body: serde_json::json!({}),
        introduces: None,
    };
    let now = countersign::quantity::Moment::parse(&at("08:00")).expect("a moment");
    journal.write(now, |_| Ok::<_, countersign::journal::JournalError>((vec![draft], ()))).expect("room");
    theatre.tampered(&format!("INSERT INTO forgetting VALUES ('{}')", code(&kept).scope()));
    assert_eq!(keys(), 2);
    Journal::open(&theatre.journal).expect("it opens");
    assert_eq!(keys(), 1);
    assert_eq!(theatre.says("08:10", &[], &["case", "card", &kept]).code, 0);
}
