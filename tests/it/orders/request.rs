//! A MedicationRequest is read whole or refused with every fault at its path; nothing is inferred.

use countersign::diagnostic::Fault;
use countersign::fhir::{OrderedAccess, OrderedRate, ordered_drug, read_order};
use countersign::formulary::Formulary;
use countersign::quantity::{DoseRate, Strength};
use rstest::rstest;

use super::{ORDER, house_with_codes, ordered_with};

const RATE: &str = r#""rateQuantity": {"value": 0.080, "unit": "mcg/kg/min", "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}"#;
const TEXT: &str = r#""text": "start at 0.08 mcg/kg/min (80 mcg/mL), for a weight of 84.2 kg","#;
const WEIGHT: &str =
    r#""valueQuantity": {"value": 84.2, "unit": "kilogram", "system": "http://unitsofmeasure.org", "code": "kg"}"#;
const CODE_OF_WEIGHT: &str =
    r#"{"coding": [{"system": "http://loinc.org", "code": "29463-7", "display": "Body weight"}]}"#;
const ROUTE: &str = r#"{"coding": [{"system": "http://snomed.info/sct", "code": "418114005"}]}"#;
const DOSAGE: &str = "doseAndRate";

fn house() -> Formulary {
    Formulary::open(house_with_codes(true).folder()).expect("the house can be read")
}

#[test]
fn an_order_is_read_with_everything_that_it_says() {
    let order = read_order(ORDER).expect("a good order");
    assert_eq!((&*order.id, &*order.version, &*order.prescriber), ("order-7", "2", "R. Okafor"));
    assert_eq!(order.identifiers, ["QM-30417"]);
    assert_eq!(order.born.map(|day| day.to_string()).as_deref(), Some("1959-08-02"));
    let dose = DoseRate::parse("80 nanogram/kg/min").expect("a dose");
    assert!(matches!(order.rate, OrderedRate::At(rate) if rate.same_as(dose)), "{:?}", order.rate);
    assert_eq!(order.strength, Strength::parse("80 mcg/mL").ok());
    assert_eq!(order.weight.map(|weight| weight.to_string()).as_deref(), Some("84.2 kg"));
    assert_eq!(order.access, Some(OrderedAccess::Central));
    assert_eq!(ordered_drug(&order, &house()), Ok("noradrenaline".to_owned()));
}

#[rstest]
#[case::ratio_per_minute(r#""rateRatio": {"numerator": {"value": 0.08, "system": "http://unitsofmeasure.org", "code": "ug/kg"}, "denominator": {"value": 1, "system": "http://unitsofmeasure.org", "code": "min"}}"#, "0.08 mcg/kg/min")]
#[case::ratio_per_hour(r#""rateRatio": {"numerator": {"value": 4.8, "unit": "mcg/kg", "system": "http://unitsofmeasure.org", "code": "ug/kg"}, "denominator": {"value": 1, "unit": "h", "system": "http://unitsofmeasure.org", "code": "h"}}"#, "0.08 mcg/kg/min")]
#[case::quantity_per_hour(
    r#""rateQuantity": {"value": 4.80, "system": "http://unitsofmeasure.org", "code": "ug/kg/h"}"#,
    "0.08 mcg/kg/min"
)]
fn a_rate_is_read_in_each_of_its_ways(#[case] rate: &str, #[case] dose: &str) {
    let order = read_order(&ordered_with(RATE, rate)).expect("a good order");
    let dose = DoseRate::parse(dose).expect("a dose");
    assert!(matches!(order.rate, OrderedRate::At(rate) if rate.same_as(dose)), "{:?}", order.rate);
}

#[test]
fn a_range_is_titration_between_its_ends() {
    let range = r#""rateRange": {"low": {"value": 0.02, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}, "high": {"value": 0.3, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}}"#;
    let order = read_order(&ordered_with(RATE, range).replace(TEXT, "")).expect("a good order");
    let OrderedRate::Range(low, high) = order.rate else { panic!("{:?}", order.rate) };
    assert_eq!([low, high].map(|rate| rate.to_string()), ["0.02 mcg/kg/min", "0.3 mcg/kg/min"]);
}

#[rstest]
#[case::resource(
    r#""resourceType": "MedicationRequest""#,
    r#""resourceType": "MedicationStatement""#,
    "resourceType",
    "order-resource"
)]
#[case::no_id(r#""id": "order-7","#, "", "id", "field-missing")]
#[case::no_version(r#""versionId": "2", "#, "", "meta.versionId", "field-missing")]
#[case::draft(r#""status": "active""#, r#""status": "draft""#, "status", "order-status")]
#[case::stopped(r#""status": "active""#, r#""status": "stopped""#, "status", "order-status")]
#[case::misspelled_status(r#""status": "active""#, r#""status": "acive""#, "status", "order-status")]
#[case::plan(r#""intent": "order""#, r#""intent": "plan""#, "intent", "order-intent")]
#[case::instance(r#""intent": "order""#, r#""intent": "instance-order""#, "intent", "order-intent")]
#[case::not_to_give(
    r#""intent": "order","#,
    r#""intent": "order", "doNotPerform": true,"#,
    "doNotPerform",
    "order-not-to-give"
)]
#[case::not_to_give_in_words(
    r#""intent": "order","#,
    r#""intent": "order", "doNotPerform": "no","#,
    "doNotPerform",
    "order-not-boolean"
)]
#[case::modifier(
    r#""intent": "order","#,
    r#""intent": "order", "modifierExtension": [],"#,
    "modifierExtension",
    "order-modified"
)]
#[case::rules(
    r#""intent": "order","#,
    r#""intent": "order", "implicitRules": "http://example.org/rules","#,
    "implicitRules",
    "order-modified"
)]
#[case::modified_dosage(
    DOSAGE,
    r#"modifierExtension": [], "doseAndRate"#,
    "dosageInstruction[0].modifierExtension",
    "order-modified"
)]
#[case::narrative(
    r#""intent": "order","#,
    r#""intent": "order", "text": {"status": "generated", "div": "<div/>"},"#,
    "text",
    "order-narrative"
)]
#[case::note(r#""intent": "order","#, r#""intent": "order", "note": [{"text": "halve it"}],"#, "note", "field-unknown")]
#[case::substitution(
    r#""intent": "order","#,
    r#""intent": "order", "substitution": {},"#,
    "substitution",
    "field-unknown"
)]
#[case::date_alone(
    r#""authoredOn": "2026-03-14T07:31:00+00:00""#,
    r#""authoredOn": "2026-03-14""#,
    "authoredOn",
    "moment"
)]
#[case::no_prescriber(
    r#"{"display": "R. Okafor"}"#,
    r#"{"reference": "Practitioner/1"}"#,
    "requester.display",
    "field-missing"
)]
#[case::two_dosages(r#"  "dosageInstruction": ["#, r#"  "dosageInstruction": [{"doseAndRate": [{"rateQuantity": {"value": 1, "system": "http://unitsofmeasure.org", "code": "mg/h"}}]},"#, "dosageInstruction", "order-dosages")]
#[case::two_rates(RATE, r#""rateQuantity": {"value": 1, "system": "http://unitsofmeasure.org", "code": "mg/h"}, "rateRatio": {"numerator": {"value": 1, "system": "http://unitsofmeasure.org", "code": "mg"}, "denominator": {"value": 1, "system": "http://unitsofmeasure.org", "code": "h"}}"#, "dosageInstruction[0].doseAndRate[0].rateQuantity", "order-rates")]
#[case::no_rate(RATE, "", "dosageInstruction[0].doseAndRate[0].rateQuantity", "order-rates")]
#[case::two_dose_and_rates(
    r#""doseAndRate": ["#,
    r#""doseAndRate": [{"rateQuantity": {"value": 1, "system": "http://unitsofmeasure.org", "code": "mg/h"}},"#,
    "dosageInstruction[0].doseAndRate",
    "order-rates"
)]
#[case::earlier_place(
    DOSAGE,
    r#"rateQuantity": {}, "doseAndRate"#,
    "dosageInstruction[0].rateQuantity",
    "order-rate-misplaced"
)]
#[case::dose_beside(RATE, &format!(r#""doseQuantity": {{"value": 4}}, {RATE}"#), "dosageInstruction[0].doseAndRate[0].doseQuantity", "order-dose-and-rate")]
#[case::volume(
    RATE,
    r#""rateQuantity": {"value": 50, "system": "http://unitsofmeasure.org", "code": "ml/h"}"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "order-rate-is-volume"
)]
#[case::volume_per_weight(
    RATE,
    r#""rateQuantity": {"value": 1, "system": "http://unitsofmeasure.org", "code": "ml/kg/h"}"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "order-rate-is-volume"
)]
#[case::no_time(
    RATE,
    r#""rateQuantity": {"value": 4, "system": "http://unitsofmeasure.org", "code": "mg"}"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "dose-time-missing"
)]
#[case::per_eight_hours(RATE, r#""rateRatio": {"numerator": {"value": 4, "system": "http://unitsofmeasure.org", "code": "mg"}, "denominator": {"value": 8, "system": "http://unitsofmeasure.org", "code": "h"}}"#, "dosageInstruction[0].doseAndRate[0].rateRatio.denominator", "order-rate-per")]
#[case::per_day(RATE, r#""rateRatio": {"numerator": {"value": 4, "system": "http://unitsofmeasure.org", "code": "mg"}, "denominator": {"value": 1, "system": "http://unitsofmeasure.org", "code": "d"}}"#, "dosageInstruction[0].doseAndRate[0].rateRatio.denominator", "order-rate-per")]
#[case::per_volume(RATE, r#""rateRatio": {"numerator": {"value": 4, "system": "http://unitsofmeasure.org", "code": "mg"}, "denominator": {"value": 1, "system": "http://unitsofmeasure.org", "code": "ml"}}"#, "dosageInstruction[0].doseAndRate[0].rateRatio.denominator", "order-rate-per")]
#[case::range_down(RATE, r#""rateRange": {"low": {"value": 0.3, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}, "high": {"value": 0.02, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}}"#, "dosageInstruction[0].doseAndRate[0].rateRange.low", "order-range")]
#[case::range_of_two_kinds(RATE, r#""rateRange": {"low": {"value": 0.02, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}, "high": {"value": 3, "system": "http://unitsofmeasure.org", "code": "mg/h"}}"#, "dosageInstruction[0].doseAndRate[0].rateRange.low", "order-range")]
#[case::range_with_one_end(
    RATE,
    r#""rateRange": {"low": {"value": 0.3, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}}"#,
    "dosageInstruction[0].doseAndRate[0].rateRange.high",
    "field-missing"
)]
#[case::comparator(
    r#""value": 0.080,"#,
    r#""value": 0.080, "comparator": "<","#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.comparator",
    "order-comparator"
)]
#[case::number_in_quotes(
    r#""value": 0.080,"#,
    r#""value": "0.080","#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "order-number-form"
)]
#[case::exponent(
    r#""value": 0.080,"#,
    r#""value": 8e-2,"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "order-number-form"
)]
#[case::negative(
    r#""value": 0.080,"#,
    r#""value": -0.080,"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "order-number-form"
)]
#[case::boolean_number(
    r#""value": 0.080,"#,
    r#""value": true,"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "order-number-form"
)]
#[case::zero(
    r#""value": 0.080,"#,
    r#""value": 0,"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "number-zero"
)]
#[case::ten_digits(
    r#""value": 0.080,"#,
    r#""value": 0.08123456789,"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "number-too-many-digits"
)]
#[case::no_value(r#""value": 0.080, "#, "", "dosageInstruction[0].doseAndRate[0].rateQuantity.value", "field-missing")]
#[case::value_twice(
    r#""value": 0.080,"#,
    r#""value": 0.080, "value": 0.8,"#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.value",
    "field-doubled"
)]
#[case::milli_for_micro(
    r#""unit": "mcg/kg/min""#,
    r#""unit": "mg/kg/min""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.unit",
    "order-unit-contradicts"
)]
#[case::hour_for_minute(
    r#""unit": "mcg/kg/min""#,
    r#""unit": "mcg/kg/h""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.unit",
    "order-unit-contradicts"
)]
#[case::weight_dropped(
    r#""unit": "mcg/kg/min""#,
    r#""unit": "mcg/min""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.unit",
    "order-unit-contradicts"
)]
#[case::unit_of_no_table(
    r#""unit": "mcg/kg/min""#,
    r#""unit": "gamma/kg/min""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.unit",
    "order-unit-unknown"
)]
#[case::no_ucum_code(
    r#""code": "ug/kg/min""#,
    r#""code": "mcg/kg/min""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.code",
    "order-unit-code-unknown"
)]
#[case::enzyme_unit(
    r#""code": "ug/kg/min""#,
    r#""code": "U/h""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.code",
    "order-unit-code-unknown"
)]
#[case::times_the_minute(
    r#""code": "ug/kg/min""#,
    r#""code": "ug/kg.min""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.code",
    "order-unit-code-unknown"
)]
#[case::no_code(
    r#", "code": "ug/kg/min""#,
    "",
    "dosageInstruction[0].doseAndRate[0].rateQuantity.code",
    "field-missing"
)]
#[case::other_system(
    r#""unit": "mcg/kg/min", "system": "http://unitsofmeasure.org""#,
    r#""unit": "mcg/kg/min", "system": "http://snomed.info/sct""#,
    "dosageInstruction[0].doseAndRate[0].rateQuantity.system",
    "order-unit-system"
)]
#[case::text_of_another_dose(
    "start at 0.08 mcg",
    "start at 0.8 mcg",
    "dosageInstruction[0].text",
    "order-text-contradicts"
)]
#[case::text_in_litres(
    TEXT,
    r#""text": "over 30 min at 8 L/min","#,
    "dosageInstruction[0].text",
    "order-text-contradicts"
)]
#[case::text_of_another_strength("80 mcg/mL", "160 mcg/mL", "dosageInstruction[0].text", "order-text-contradicts")]
#[case::text_of_another_weight(
    "weight of 84.2 kg",
    "weight of 48.2 kg",
    "dosageInstruction[0].text",
    "order-text-contradicts"
)]
#[case::timing(
    DOSAGE,
    r#"timing": {"repeat": {"count": 2}}, "doseAndRate"#,
    "dosageInstruction[0].timing",
    "field-unknown"
)]
#[case::as_needed(
    DOSAGE,
    r#"asNeededBoolean": true, "doseAndRate"#,
    "dosageInstruction[0].asNeededBoolean",
    "field-unknown"
)]
#[case::by_mouth(
    ROUTE,
    r#"{"coding": [{"system": "http://snomed.info/sct", "code": "26643006"}]}"#,
    "dosageInstruction[0].route",
    "order-route"
)]
#[case::two_routes(ROUTE, r#"{"coding": [{"system": "http://snomed.info/sct", "code": "418114005"}, {"system": "http://snomed.info/sct", "code": "419993007"}]}"#, "dosageInstruction[0].route", "order-route")]
#[case::vein_and_mouth(ROUTE, r#"{"coding": [{"system": "http://snomed.info/sct", "code": "47625008"}, {"system": "http://snomed.info/sct", "code": "26643006"}]}"#, "dosageInstruction[0].route", "order-route")]
#[case::route_in_words(
    ROUTE,
    r#"{"text": "central line", "coding": []}"#,
    "dosageInstruction[0].route.coding",
    "order-code-missing"
)]
#[case::no_drug(
    r##""medicationReference": {"reference": "#solution"},"##,
    "",
    "medicationCodeableConcept",
    "order-drug-missing"
)]
#[case::drug_in_words(
    r##""medicationReference": {"reference": "#solution"},"##,
    r#""medicationCodeableConcept": {"text": "noradrenaline"},"#,
    "medicationCodeableConcept.coding",
    "field-missing"
)]
#[case::drug_twice(r#""intent": "order","#, r#""intent": "order", "medicationCodeableConcept": {"coding": [{"system": "http://www.whocc.no/atc", "code": "C01CA03"}]},"#, "medicationCodeableConcept", "order-drug-missing")]
#[case::code_without_system(
    r#""itemCodeableConcept": {"coding": [{"system": "http://www.whocc.no/atc", "#,
    r#""itemCodeableConcept": {"coding": [{"#,
    "contained[2].ingredient[0].itemCodeableConcept.coding[0].system",
    "field-missing"
)]
#[case::drug_elsewhere(
    r##"{"reference": "#solution"}"##,
    r#"{"reference": "Medication/7"}"#,
    "medicationReference.reference",
    "order-reference-outside"
)]
#[case::drug_lost(
    r##"{"reference": "#solution"}"##,
    r##"{"reference": "#other"}"##,
    "medicationReference",
    "order-reference-lost"
)]
#[case::drug_is_patient(
    r##"{"reference": "#solution"}"##,
    r##"{"reference": "#patient"}"##,
    "medicationReference",
    "order-reference-lost"
)]
#[case::patient_elsewhere(
    r##"{"reference": "#patient"}"##,
    r#"{"reference": "Patient/7"}"#,
    "subject.reference",
    "order-reference-outside"
)]
#[case::patient_missing(r##""subject": {"reference": "#patient"},"##, "", "subject", "field-missing")]
#[case::patient_unnamed(
    r#"[{"system": "urn:oid:2.999.1", "value": "QM-30417"}]"#,
    "[]",
    "subject",
    "order-patient-missing"
)]
#[case::no_such_day("1959-08-02", "1959-13-02", "contained[0].birthDate", "moment")]
#[case::two_active(r#""ingredient": ["#, r#""ingredient": [{"strength": {"numerator": {"value": 4, "system": "http://unitsofmeasure.org", "code": "mg"}, "denominator": {"value": 50, "system": "http://unitsofmeasure.org", "code": "ml"}}},"#, "contained[2].ingredient", "order-ingredients-several")]
#[case::strength_without_volume(
    r#""unit": "mL", "system": "http://unitsofmeasure.org", "code": "ml"}"#,
    r#""system": "http://unitsofmeasure.org", "code": "mg"}"#,
    "contained[2].ingredient[0].strength.numerator",
    "unit-wrong-kind"
)]
#[case::strength_left_out(
    r#""itemCodeableConcept": {"coding": [{"system": "http://www.whocc.no/atc", "code": "C01CA03"}]},"#,
    r#""isActive": 1,"#,
    "contained[2].ingredient[0].isActive",
    "order-not-boolean"
)]
#[case::weight_in_pounds(
    WEIGHT,
    r#""valueQuantity": {"value": 185, "system": "http://unitsofmeasure.org", "code": "[lb_av]"}"#,
    "contained[1].valueQuantity",
    "order-weight-unit"
)]
#[case::weight_contradicts(
    r#""unit": "kilogram""#,
    r#""unit": "pounds""#,
    "contained[1].valueQuantity.unit",
    "order-unit-contradicts"
)]
#[case::weight_withdrawn(
    r#""status": "final""#,
    r#""status": "entered-in-error""#,
    "contained[1].status",
    "order-weight-not-final"
)]
#[case::height(
    CODE_OF_WEIGHT,
    r#"{"coding": [{"system": "http://loinc.org", "code": "8302-2"}]}"#,
    "contained[1].code",
    "order-observation-unknown"
)]
#[case::weight_not_led_to(
    r##""supportingInformation": [{"reference": "#weight"}],"##,
    "",
    "contained",
    "order-contained-unused"
)]
#[case::two_weights(
    r##"[{"reference": "#weight"}]"##,
    r##"[{"reference": "#weight"}, {"reference": "#weight"}]"##,
    "supportingInformation",
    "order-supporting"
)]
#[case::name_twice(r#""id": "weight""#, r#""id": "patient""#, "contained", "order-contained-twice")]
#[case::practitioner(
    r#""contained": ["#,
    r#""contained": [{"resourceType": "Practitioner", "id": "one"},"#,
    "contained[0].resourceType",
    "order-contained-unknown"
)]
fn an_order_with_one_fault_is_refused_at_its_path(
    #[case] from: &str,
    #[case] to: &str,
    #[case] field: &str,
    #[case] code: &str,
) {
    let text = ordered_with(from, to);
    let faults = read_order(&text).expect_err("it is not to be taken");
    let found: Vec<(&str, &str)> = faults.iter().map(|fault| (fault.field.as_str(), fault.code)).collect();
    assert!(found.contains(&(field, code)), "{found:?}");
    // What is missing from the whole has no place; everything else has one.
    let has_place = |fault: &Fault| fault.range.is_some() || fault.code == "field-missing";
    assert!(faults.iter().all(has_place), "{faults:?}");
    assert!(countersign::diagnostic::explained::explained(code).iter().any(|(_, known)| !known.to_do.is_empty()));
}

#[test]
fn every_fault_of_an_order_is_said_at_once() {
    let text = ordered_with(r#""status": "active""#, r#""status": "draft""#)
        .replace(r#""intent": "order""#, r#""intent": "plan""#)
        .replace(r#""code": "ug/kg/min""#, r#""code": "mcg/kg/min""#)
        .replace(r#""status": "final""#, r#""status": "preliminary""#);
    let faults = read_order(&text).expect_err("four faults");
    let codes: Vec<&str> = faults.iter().map(|fault| fault.code).collect();
    assert_eq!(codes, ["order-status", "order-intent", "order-weight-not-final", "order-unit-code-unknown"]);
}

#[rstest]
#[case::code_of_no_drug(
    r#""id": "solution",
      "code": {"coding": [{"system": "http://www.whocc.no/atc", "code": "C01CA03""#,
    "N05CD08",
    "order-drug-contradicts"
)]
#[case::display_of_another("norepinephrine", "adrenaline", "order-drug-contradicts")]
fn a_drug_is_named_by_its_codes_alone(#[case] from: &str, #[case] to: &str, #[case] code: &str) {
    let to = if from.contains("C01CA03") { from.replace("C01CA03", "C01CA24") } else { to.to_owned() };
    let order = read_order(&ordered_with(from, &to)).expect("it can be read");
    assert_eq!(ordered_drug(&order, &house()).map_err(|fault| fault.code), Err(code));
}

#[test]
fn a_code_that_the_formulary_does_not_name_is_no_drug_however_the_words_read() {
    let order = read_order(&ORDER.replace("C01CA03", "C01CA99")).expect("it can be read");
    assert_eq!(ordered_drug(&order, &house()).map_err(|fault| fault.code), Err("order-drug-unknown"));
}
