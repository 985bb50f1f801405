use rstest::rstest;

use super::*;
use crate::check::codes;

fn code(is: impl Fn(Severity) -> bool) -> &'static Code {
    codes().find(|code| is(code.severity)).expect("there is one of each weight")
}

fn about(drug: &str) -> SetUpNames {
    SetUpNames {
        drug: drug.to_owned(),
        area: "adult theatre".to_owned(),
        indication: "vasopressor".to_owned(),
        phase: "maintenance".to_owned(),
        role: "nurse".to_owned(),
        edition: "2026-01 (0a1b2c3d)".to_owned(),
    }
}

fn judged(on: &str, ended: Ended, said: Vec<FindingOutcome>, otherwise: Vec<&'static str>) -> EntryOutcome {
    let at = Moment::parse(on).expect("a moment");
    EntryOutcome { at, about: about("noradrenaline"), ended, said, otherwise, double_checked: None, doses: Vec::new() }
}

fn said(code: &'static Code, pair_findings: bool) -> FindingOutcome {
    FindingOutcome { code, pair_findings, limit: None, reasons: Vec::new() }
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
    let RuleTally { outcomes: rule, fields, .. } = &alerts.rules[justify.id];
    assert_eq!([rule.overridden, rule.otherwise, rule.stopped, rule.left, rule.alone, rule.ran], counts);
    assert_eq!(rule.fired, 1);
    assert_eq!(rule.near_misses(), counts[1] + counts[2] + counts[3]);
    assert_eq!(fields.len(), if counts[1] == 1 { otherwise.len() } else { 0 });
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
    assert_eq!((alerts.rules[note.id].outcomes.fired, alerts.rules[note.id].outcomes.overridden), (1, 0));
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

fn above_soft(reasons: Vec<Written>) -> FindingOutcome {
    let code = codes().find(|code| code.id == "dose-above-soft-limit").expect("it is a rule");
    let limit = Some("soft upper limit 0.35 mcg/kg/min".to_owned());
    FindingOutcome { code, pair_findings: true, limit, reasons }
}

/// 30 set-ups of one drug, 12 of them overridden; 11 of another, 3 of them overridden.
fn two_drugs(selection: Selection) -> Alerts {
    let mut alerts = Alerts { selection, ..Alerts::default() };
    for (drug, all, over) in [("noradrenaline", 30, 12), ("adrenaline", 11, 3)] {
        for number in 0..all {
            let reasons = vec![Written::Listed("septic shock".to_owned()), Written::Free];
            let said = if number < over { vec![above_soft(reasons)] } else { vec![] };
            let mut one = judged(MARCH, Ended::Agreed, said, vec![]);
            one.about = about(drug);
            one.double_checked = Some(number % 2 == 0);
            let unit = crate::quantity::DoseRateUnit::parse("mcg/kg/min").expect("a unit");
            let dose = Ratio::new(u128::from(number as u32) + 1, 100).expect("a number");
            let zone = if number < over { DoseZone::AboveSoft } else { DoseZone::Usual };
            one.doses = vec![crate::case::DoseGiven { dose, unit, zone }];
            alerts.add(&one);
        }
    }
    alerts
}

#[test]
fn words_of_ones_own_are_counted_and_not_shown() {
    let shown = two_drugs(Selection::default()).report().text();
    let words = "dose-above-soft-limit, reasons: septic shock (15), in words of their own (15)";
    assert!(shown.split_whitespace().collect::<Vec<_>>().join(" ").contains(words), "{shown}");
}

#[test]
fn each_limit_is_counted_by_its_use_and_small_counts_cannot_be_worked_out() {
    let by = vec![Dimension::Drug];
    let data = two_drugs(Selection { by, ..Selection::default() }).report().json();
    let drugs = &data["sections"]["by_drug"]["rows"];
    assert_eq!((&drugs[0]["drug"], &drugs[0]["set_ups"]), (&"noradrenaline".into(), &30.into()), "{data}");
    // 3 is small; 12 would tell it, since 15 is shown in all.
    assert!(drugs[0]["overridden"].is_null() && drugs[1]["overridden"].is_null(), "{data}");
    let limits = &data["sections"]["by_limit"]["rows"];
    let place = "noradrenaline, adult theatre, vasopressor, maintenance: soft upper limit 0.35 mcg/kg/min";
    assert_eq!(limits[0]["limit"], place);
    // Alone, the larger one is seen.
    let only = vec![(Dimension::Drug, "Norad".to_owned())];
    let data = two_drugs(Selection { only, ..Selection::default() }).report().json();
    assert_eq!(data["sections"]["by_limit"]["rows"][0]["overridden"], 12, "{data}");
    assert_eq!(data["sections"]["in_all"]["heading"], "In all: 30 set-ups");
}

#[test]
fn days_choose_set_ups_and_both_ends_count() {
    let day = |text: &str| crate::quantity::parse_date(text).ok();
    let counted = |from, to| two_drugs(Selection { from, to, ..Selection::default() }).all.set_ups;
    assert_eq!(counted(day("2026-03-14"), day("2026-03-14")), 41);
    assert_eq!((counted(day("2026-03-15"), None), counted(None, day("2026-03-13"))), (0, 0));
}

#[test]
fn doses_that_ran_are_held_against_the_limits_with_their_percentiles() {
    let report = two_drugs(Selection::default()).report();
    let data = report.json();
    let doses = &data["sections"]["doses"]["rows"];
    // 1 to 11 hundredths: of 11 doses, the middle one alone.
    assert_eq!((&doses[0]["doses"], &doses[0]["middle"]), (&11.into(), &"0.06".into()), "{data}");
    assert!(doses[0]["5th"].is_null() && doses[0]["95th"].is_null());
    // 1 to 30 hundredths: the 2nd, 8th, 15th, 23rd and 29th.
    let told = ["5th", "25th", "middle", "75th", "95th"].map(|which| doses[1][which].clone());
    assert_eq!(told, ["0.02", "0.08", "0.15", "0.23", "0.29"].map(serde_json::Value::from));
    assert_eq!(doses[1]["usual"], serde_json::Value::Null, "8 of the other drug would be known from it");
    let independent = &data["sections"]["in_all"]["rows"][3]["how_often"];
    assert_eq!(*independent, "21 in 41 set-ups, ≈ 51.2 per 100");
}

#[test]
fn what_waits_is_said_and_not_counted() {
    let mut alerts = two_drugs(Selection::default());
    alerts.uncounted.waiting = vec![Moment::parse(MARCH).expect("a moment"); 2];
    alerts.late = 1;
    let shown = alerts.report().text();
    assert!(shown.contains("2 set-ups still wait for somebody; nothing of them is counted."), "{shown}");
    assert!(shown.contains("Waiting for more than an hour: 1."), "{shown}");
}
