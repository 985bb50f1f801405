//! Every rule makes its remark once, in its place, and only where there is reason.

use std::collections::BTreeSet;

use countersign::pharmacy::lint::codes;
use insta::assert_snapshot;

use crate::lint::cases::{CASES, Case};
use crate::lint::small::{Small, remarks};

fn plain(report: &countersign::pharmacy::lint::Report) -> String {
    report.text(countersign::diagnostic::terminal::Palette::Plain)
}

fn with(case: &Case, text: &str) -> Small {
    Small::new().change(case.file, case.from, text)
}

#[test]
fn nothing_is_remarked_on_the_small_house() {
    let report = Small::new().lint();
    assert_eq!((plain(&report), remarks(&report).len(), report.drugs), (String::new(), 0, 3));
}

// hazard: H-LIMITS
#[test]
fn every_kind_of_remark_has_its_case() {
    let known: BTreeSet<&str> = codes().map(|code| code.id).collect();
    let tried: BTreeSet<&str> = CASES.iter().map(|case| case.code).collect();
    assert_eq!(known.difference(&tried).collect::<Vec<_>>(), Vec::<&&str>::new(), "without a case");
    assert_eq!(tried.difference(&known).collect::<Vec<_>>(), Vec::<&&str>::new(), "of no rule");
}

// hazard: H-LIMITS
#[test]
fn a_slip_is_remarked_on_once_and_in_its_place() {
    let mut wrong = Vec::new();
    for case in CASES {
        let report = with(case, case.bad).lint();
        let faults: Vec<_> = report.files.iter().flat_map(|file| &file.faults).collect();
        let all = remarks(&report);
        let own: Vec<_> = all.iter().filter(|(code, _)| *code == case.code).collect();
        if !faults.is_empty() || own.len() != 1 || own[0].1 != case.file {
            wrong.push(format!("{}: {all:?} {faults:?}", case.code));
            continue;
        }
        let file = report.files.iter().find(|file| file.source.name.ends_with(case.file)).expect("it has a remark");
        let remark = file.remarks.iter().find(|remark| remark.code.id == case.code).expect("just counted");
        let Some(range) = &remark.fault.range else {
            wrong.push(format!("{} has no place", case.code));
            continue;
        };
        let line = file.source.text.lines().nth(file.source.place(range.start).line - 1).unwrap_or_default();
        if !line.trim_start().starts_with(case.line) {
            wrong.push(format!("{} stands in {line:?}, not in {:?}", case.code, case.line));
        }
        if remark.fault.help.as_ref().is_none_or(String::is_empty) || remark.fault.field.is_empty() {
            wrong.push(format!("{} does not help: {remark:?}", case.code));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

// hazard: H-ALARMS
#[test]
fn a_near_miss_is_not_remarked_on() {
    let mut wrong = Vec::new();
    for case in CASES {
        let report = with(case, case.good).lint();
        let faults: Vec<_> = report.files.iter().flat_map(|file| &file.faults).collect();
        let all = remarks(&report);
        if !faults.is_empty() || all.iter().any(|(code, _)| *code == case.code) {
            wrong.push(format!("{}: {all:?} {faults:?}", case.code));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What a person sees.
#[test]
fn what_is_shown() {
    for case in CASES {
        let report = with(case, case.bad).lint();
        let shown = plain(&report);
        let code = codes().find(|code| code.id == case.code).expect("it is a code of a rule");
        let head = format!("{}[{}]", code.level.word(), case.code);
        assert!(shown.contains(&head), "{head} is not in {shown}");
        insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true, snapshot_path => "snapshots" }, {
            assert_snapshot!(case.code, shown);
        });
    }
}
