//! `formulary diff` as a person runs it.

use crate::common::{Said, folder, run};
use crate::pharmacy::house::House;

const KETAMINE: &str = "drugs/ketamine.yaml";

fn two(name: &str) -> std::path::PathBuf {
    let place = folder(name);
    House::small().into_folder(place.join("old"));
    House::small()
        .change(KETAMINE, "from: 40 mcg/kg/min, to: 60 mcg/kg/min", "from: 40 mcg/kg/min, to: 65 mcg/kg/min")
        .change(KETAMINE, "{amount: 500 mg, volume: 50 mL", "{amount: 500000 mcg, volume: 50 mL")
        .change(KETAMINE, "class: induction agent", "class: <anaesthetic & more>")
        .without("drugs/adrenaline.yaml")
        .into_folder(place.join("new"));
    place
}

fn said(name: &str, format: &str) -> Said {
    let said = run(["formulary", "diff", "old", "new", "--format", format]).within(&two(name)).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    said
}

#[test]
fn changes_as_text() {
    insta::assert_snapshot!(said("text", "text").stdout);
}

#[test]
fn changes_as_data() {
    let data = said("json", "json").json();
    insta::assert_snapshot!(serde_json::to_string_pretty(&data).expect("it is data"));
}

#[test]
fn changes_as_a_page() {
    let page = said("html", "html").stdout;
    assert!(page.contains("&lt;anaesthetic &amp; more&gt;") && !page.contains("<script"));
    insta::assert_snapshot!(page);
}

#[test]
fn no_change_is_an_answer_too() {
    let said = run(["formulary", "diff", "demonstration", "demonstration"]).said();
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.contains("no changes"), "{said:?}");
}

#[test]
fn what_cannot_be_opened_is_refused() {
    run(["formulary", "diff", "demonstration", "not-there"]).said().is_refused();
    run(["formulary", "diff", "0123abcd", "demonstration"]).said().is_refused();
}
