use rstest::rstest;

use super::*;
use crate::check::codes;

fn code(is: impl Fn(Severity) -> bool) -> &'static Code {
    codes().find(|code| is(code.severity)).expect("there is one of each weight")
}

fn judged(on: &str, ended: Ended, said: Vec<FindingOutcome>, otherwise: Vec<&'static str>) -> EntryOutcome {
    EntryOutcome { at: Moment::parse(on).expect("a moment"), ended, said, otherwise }
}

fn said(code: &'static Code, pair_findings: bool) -> FindingOutcome {
    FindingOutcome { code, pair_findings, reasons: Vec::new() }
}

const MARCH: &str = "2026-03-14T07:50:00+00:00";

#[rstest]
#[case(Ended::Agreed, true, &[], [1, 0, 0, 0, 0, 0])]
#[case(Ended::Agreed, true, &["dose"], [1, 0, 0, 0, 0, 0])]
#[case(Ended::Agreed, false, &["dose"], [0, 1, 0, 0, 0, 0])]
#[case(Ended::Stopped, false, &[], [0, 0, 1, 0, 0, 0])]
#[case(Ended::Stopped, false, &["label"], [0, 1, 0, 0, 0, 0])]
#[case(Ended::Left, false, &[], [0, 0, 0, 1, 0, 0])]
#[case(Ended::Left, false, &["dose"], [0, 1, 0, 0, 0, 0])]
#[case(Ended::Stopped, true, &["label"], [0, 0, 1, 0, 0, 0])]
#[case(Ended::Alone, false, &[], [0, 0, 0, 0, 1, 0])]
#[case(Ended::Ran, true, &[], [0, 0, 0, 0, 0, 1])]
#[case(Ended::Ran, false, &["dose"], [0, 0, 0, 0, 0, 1])]
fn what_came_of_a_finding_is_counted_once(
    #[case] ended: Ended,
    #[case] pair_findings: bool,
    #[case] otherwise: &[&'static str],
    #[case] counts: [u64; 6],
) {
    let justify = code(|severity| severity == Severity::Justify);
    let mut alerts = Alerts::default();
    alerts.add(&judged(MARCH, ended, vec![said(justify, pair_findings)], otherwise.to_vec()));
    let rule = &alerts.rules[justify.id];
    assert_eq!([rule.overridden, rule.otherwise, rule.stopped, rule.left, rule.alone, rule.ran], counts);
    assert_eq!(rule.fired, 1);
    assert_eq!(rule.near_misses(), counts[1] + counts[2] + counts[3]);
    assert_eq!(rule.fields.len(), if counts[1] == 1 { otherwise.len() } else { 0 });
}

#[test]
fn findings_are_counted_by_weight_by_month_and_in_all() {
    let (stop, justify, note) = (
        code(|severity| matches!(severity, Severity::Stop(_))),
        code(|severity| severity == Severity::Justify),
        code(|severity| severity == Severity::Note),
    );
    let mut alerts = Alerts::default();
    alerts.add(&judged(
        "2025-11-30T23:50:00+00:00",
        Ended::Agreed,
        vec![said(note, true), said(justify, true)],
        vec![],
    ));
    alerts.add(&judged(MARCH, Ended::Stopped, vec![said(stop, false)], vec![]));
    alerts.add(&judged(MARCH, Ended::Agreed, vec![], vec![]));
    alerts.fill_months();
    assert_eq!(alerts.all, Tally { set_ups: 3, stops: 1, asked: 1, notes: 1 });
    let months: Vec<&str> = alerts.months.keys().map(String::as_str).collect();
    assert_eq!(months, ["2025-11", "2025-12", "2026-01", "2026-02", "2026-03"]);
    assert_eq!(alerts.months["2026-03"], Tally { set_ups: 2, stops: 1, asked: 0, notes: 0 });
    assert_eq!(alerts.months["2026-01"], Tally::default());
    // Of a note nothing is asked, and so nothing came of it.
    assert_eq!((alerts.rules[note.id].fired, alerts.rules[note.id].overridden), (1, 0));
    let said: Vec<usize> = alerts.groups().iter().map(|(_, rules)| rules.len()).collect();
    assert_eq!(said, [1, 1, 1]);
}

#[rstest]
#[case(2, 3, "2 in 3 set-ups")]
#[case(1, 1, "1 in 1 set-up")]
#[case(0, 0, "0 in 0 set-ups")]
#[case(19, 19, "19 in 19 set-ups")]
#[case(5, 20, "5 in 20 set-ups, 25 per 100")]
#[case(1, 300, "1 in 300 set-ups, ≈ 0.333 per 100")]
#[case(50, 20, "50 in 20 set-ups, 250 per 100")]
fn a_share_is_told_with_both_counts_and_of_few_alone(#[case] count: u64, #[case] of: u64, #[case] says: &str) {
    assert_eq!(share(count, of), says);
}

#[test]
fn words_of_ones_own_are_counted_and_not_shown() {
    let justify = code(|severity| severity == Severity::Justify);
    let reasons = vec![Written::Listed("septic shock".to_owned()), Written::Free, Written::Confirmed];
    let said = FindingOutcome { code: justify, pair_findings: true, reasons };
    let mut alerts = Alerts::default();
    alerts.add(&judged(MARCH, Ended::Agreed, vec![said], vec![]));
    let shown = text(&alerts);
    for words in
        ["reason: septic shock (1)", "reason: in words of their own (1)", "reason: confirmed with somebody (1)"]
    {
        assert!(shown.contains(words), "{shown}");
    }
    assert_eq!(json(&alerts)["rules"][0]["reasons"].as_array().map(Vec::len), Some(3));
}
