//! One file for each file of the rules, of the same name: every kind of finding fires just beyond its limit, says all
//! that a person needs, and is silent at the limit itself.

mod on_the_card;

use std::collections::BTreeSet;

use countersign::check::{Audience, Checked, Severity, codes};
use countersign::document::{LINE_LIMIT, Path, read_json};
use countersign::entry::EntryForm;
use countersign::formulary::Band;
use countersign::infusion::Computed;
use countersign::pharmacy::survey;
use countersign::quantity::DoseRate;
use rstest::rstest;

use crate::common::set_up::{NOW, SetUp, clean, demonstration, moment};

/// One kind of finding.
pub(crate) struct Case {
    pub(crate) code: &'static str,
    /// Just beyond the limit.
    pub(crate) fires: SetUp,
    /// Holds the whole finding against what it should say.
    pub(crate) says: fn(String),
    /// At the limit, or as near to it as makes sense: not found.
    pub(crate) silent: SetUp,
}

macro_rules! rules {
    ($($name:ident),+ $(,)?) => {
        $(mod $name;)+
        const FILES: &[&str] = &[$(stringify!($name)),+];
        fn cases() -> Vec<Case> {
            [$($name::cases()),+].into_iter().flatten().collect()
        }
    };
}

rules! {
    access,
    age,
    arrival,
    bolus,
    build,
    coincidences,
    computable,
    container,
    dose_limits,
    dose_unit,
    dosing_weight,
    driver_range,
    duration,
    fill,
    flow,
    formulary_standing,
    gestation,
    identifiers,
    label,
    life,
    line,
    names,
    preparation,
    reasons,
    rounding,
    running,
    slow_rate,
    stale,
    strength_stocked,
    titration,
    weight,
    weight_source,
}

/// Holds every finding of a rule's cases against what it should say.
pub(crate) fn say(cases: Vec<Case>) {
    for case in cases {
        (case.says)(case.fires.found(case.code));
    }
}

#[test]
fn nothing_is_found_about_the_clean_set_up() {
    assert_eq!(clean().codes(), [""; 0]);
}

#[test]
fn every_code_fires_and_every_code_is_silent_at_its_limit() {
    let mut exercised = BTreeSet::new();
    for case in cases() {
        assert!(case.fires.codes().contains(&case.code), "{} does not fire on\n{}", case.code, case.fires.yaml());
        assert!(!case.silent.codes().contains(&case.code), "{} fires on\n{}", case.code, case.silent.yaml());
        exercised.insert(case.code);
    }
    // These need a case with an electronic order: `cases::order` tries them.
    exercised.extend(["order-differs", "order-differs-newer-needed"]);
    assert_eq!(exercised, codes().map(|code| code.id).collect());
}

#[test]
fn every_rule_has_its_tests() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/check/rules");
    let files = std::fs::read_dir(folder).expect("the rules are there").map(|file| {
        let name = file.expect("it can be listed").file_name();
        name.to_string_lossy().trim_end_matches(".rs").to_owned()
    });
    // An order is held against two entries, never against one: `cases::order`.
    let rules: BTreeSet<String> = files.filter(|name| !["mod", "order"].contains(&&**name)).collect();
    // Written reasons are looked at beside the rules, when all of them have been run.
    let tested: BTreeSet<String> = FILES.iter().filter(|name| **name != "reasons").map(|&name| name.into()).collect();
    assert_eq!(tested, rules);
}

// Who goes on past a limit is told what follows from the rate; where no rate is true, nobody is.
// hazard: H-EMERGENCY
#[rstest]
#[case::within("dose", "0.08 mcg/kg/min", true, true)]
#[case::beyond("dose", "0.0009 mcg/kg/min", false, true)]
#[case::impossible("label.amount", "8 mg", false, false)]
fn what_follows_from_a_rate_is_said_while_it_is_true(
    #[case] field: &str,
    #[case] value: &str,
    #[case] usually: bool,
    #[case] in_an_emergency: bool,
) {
    let set_up = clean().with("beyond", "20 mL").with(field, value);
    let says = |checked: Checked<'_>| checked.findings().iter().any(|finding| finding.code.id == "arrival-slow");
    assert_eq!(says(Checked::of(set_up.computed())), usually);
    assert_eq!(says(Checked::in_an_emergency(set_up.computed())), in_an_emergency);
}

// A card shows one rate: what a note or a reason says stands on the card, and must not bring another one.
// hazard: H-CARD
#[test]
fn no_note_and_no_reason_shows_a_second_rate() {
    let mut looked_at = 0_usize;
    let mut look = |checked: &Checked<'_>, what: &str| {
        for finding in checked.findings() {
            if matches!(finding.severity(), Severity::Note | Severity::Justify) {
                let said = format!("{} {}", finding.message, finding.help);
                assert!(!said.contains("mL/h") && !said.contains("mL/min"), "{}: {said}\n{what}", finding.code.id);
                looked_at += 1;
            }
        }
    };
    for case in cases() {
        look(&case.fires.checked(), &case.fires.yaml());
        look(&case.silent.checked(), &case.silent.yaml());
    }
    for line in survey::lines(demonstration(), moment(NOW)).expect("the demonstration can be surveyed") {
        let mut faults = Vec::new();
        let root = read_json(&line, LINE_LIMIT, &mut faults).expect("written by a JSON writer");
        let entry = EntryForm::at(&root, Path::Root).read(&mut faults).expect("the survey writes whole entries");
        let computed = Computed::of(entry, demonstration(), moment(NOW)).expect("the demonstration has no fault");
        look(&Checked::of(computed), &line);
    }
    assert!(looked_at > 100, "{looked_at} findings were looked at");
}

// Before both entries are sealed nobody reads a value that could be typed instead: what is usual, what is stocked, a recipe.
// hazard: H-INDEPENDENCE
#[test]
fn no_finding_tells_a_reader_what_to_type_instead() {
    let (mut held, mut told) = (0_usize, 0_usize);
    for case in cases() {
        let typed = case.fires.yaml();
        let checked = case.fires.checked();
        let (names, entry) = (checked.computed().names(), checked.computed().entry());
        let ends = |band: Option<&Band<DoseRate>>| {
            let ends = band.into_iter().flat_map(|band| [band.from, band.to]).flatten();
            ends.map(|end| end.to_string()).collect::<Vec<String>>()
        };
        let mut values: Vec<String> = Vec::new();
        if let Some(limits) = names.limits {
            let crossed = [ends(limits.beyond.soft.as_ref()), ends(limits.beyond.hard.as_ref())].concat();
            values.extend(ends(Some(&limits.usual)).into_iter().filter(|usual| !crossed.contains(usual)));
        }
        if let (Ok(drug), Ok(indication)) = (&names.drug, &names.indication) {
            // A recipe is named by the strength that stands on the label already.
            let label = entry.label().content.concentration();
            let others = indication.strengths.iter().filter_map(|at| drug.strengths.get(*at)).filter_map(|stocked| {
                let found = stocked.concentration(entry.patient().weight.value())?;
                (found != label).then(|| [stocked.to_string(), found.shown_in(stocked.amount_unit())])
            });
            values.extend(others.flatten());
        }
        values.retain(|value| !typed.contains(value.as_str()));
        for finding in checked.findings() {
            let said = format!("{} {}", finding.message, finding.help);
            for value in &values {
                assert!(!said.contains(&format!(" {value}")), "{}: {said}: {value}", finding.code.id);
                held += 1;
            }
            assert!(!said.contains("usual is") && !said.contains("is stocked"), "{}: {said}", finding.code.id);
            told += usize::from(finding.message_for(Audience::Agreed).len() > finding.message.len());
        }
    }
    assert!(held > 100 && told > 5, "{held} values, {told} findings that say more once both agree");
}

// Every finding says what to do; one that rests on the formulary says where it stands.
// hazard: H-ALARMS
#[test]
fn every_finding_says_what_to_do() {
    for case in cases() {
        for finding in case.fires.checked().findings() {
            assert!(!finding.message.trim().is_empty() && !finding.help.trim().is_empty(), "{}", finding.code.id);
            let whole = [&finding.message, &finding.help].into_iter().all(|text| !text.contains("  "));
            assert!(whole, "{}: {} {}", finding.code.id, finding.message, finding.help);
            if let Some(source) = &finding.source {
                assert!(source.contains(".yaml line "), "{source}");
            }
        }
    }
}
