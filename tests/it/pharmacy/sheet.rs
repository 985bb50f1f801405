//! A formulary as a sheet and back: no value is lost, nothing is overwritten, and bad rows are named.

use std::fs;
use std::path::Path;

use countersign::document::{DRUG_LIMIT, Node, Value, read_yaml};
use countersign::formulary::Files;
use countersign::pharmacy::diff::diff;
use countersign::pharmacy::sheet::{
    BadRow, SheetRow, SheetValue, files, from_csv, from_phases, rows, to_csv, to_phases,
};
use proptest::prelude::*;
use rstest::rstest;

use crate::common::{folder, run};
use crate::pharmacy::house::House;

/// A tree without its places.
#[derive(Debug, PartialEq)]
enum Tree {
    Text(String),
    List(Vec<Tree>),
    Map(Vec<(String, Tree)>),
    Nothing,
}

fn tree(text: &str) -> Tree {
    let mut faults = Vec::new();
    let root = read_yaml(text, DRUG_LIMIT, &mut faults).expect("it can be read");
    assert!(faults.is_empty());
    bare(&root)
}

fn bare(node: &Node<'_>) -> Tree {
    match &node.value {
        Value::Text(text) => Tree::Text(text.to_string()),
        Value::List(items) => Tree::List(items.iter().map(bare).collect()),
        Value::Map(members) => {
            Tree::Map(members.iter().map(|member| (member.key.to_string(), bare(&member.node))).collect())
        }
        Value::Nothing => Tree::Nothing,
        Value::Bare => panic!("YAML has none"),
    }
}

// hazard: H-LIMITS
#[test]
fn every_file_comes_back_as_the_same_tree() {
    let original = Files::demonstration();
    let sheet = to_csv(&rows(&original).expect("it has no fault"));
    let back = files(&from_csv(&sheet).expect("its own sheet")).expect("its own rows");
    assert_eq!(back.len(), 42);
    for (path, text) in &back {
        assert_eq!(tree(text), tree(original.text(path).expect("no file is added")), "{path}");
    }
    let again = Files::of_texts("back", back);
    assert_eq!(rows(&again).expect("it was written here"), rows(&original).expect("it has no fault"));
}

// hazard: H-LIMITS
#[test]
fn doses_in_one_row_a_phase_come_back_and_a_changed_cell_changes_one_limit() {
    let base = rows(&Files::demonstration()).expect("it has no fault");
    let sheet = to_phases(&base);
    assert_eq!(sheet.lines().count(), 194, "a head and 193 phases");
    assert_eq!(from_phases(&sheet, &base).expect("its own sheet"), base);
    let (from, to) = (",0.35 mcg/kg/min,", ",0.4 mcg/kg/min,");
    assert_eq!(sheet.matches(from).count(), 1);
    let changed = from_phases(&sheet.replace(from, to), &base).expect("a number");
    let other: Vec<&SheetRow> = changed.iter().filter(|row| !base.contains(row)).collect();
    assert_eq!(other.len(), 1, "{other:?}");
    assert_eq!(other[0].place, "areas > adult theatre > vasopressor > phases > maintenance > soft > to");
    // An empty cell takes the limit away; a row that is missing or foreign is refused.
    let emptied = from_phases(&sheet.replace(from, ",,"), &base).expect("an empty cell");
    assert_eq!(emptied.len() + 1, base.len());
    let short: Vec<&str> = sheet.lines().filter(|line| !line.contains(from)).collect();
    let codes = |text: &str| from_phases(text, &base).expect_err("it is at fault")[0].code;
    assert_eq!(codes(&short.join("\n")), "sheet-short");
    assert_eq!(codes(&sheet.replace("drugs/insulin.yaml", "drugs/insulinn.yaml")), "sheet-place");
    assert_eq!(codes("file,place\n"), "sheet-head");
}

#[test]
fn there_is_one_row_for_each_value() {
    fn count(node: &Node<'_>) -> usize {
        match &node.value {
            Value::List(items) if !items.is_empty() => items.iter().map(count).sum(),
            Value::Map(members) if !members.is_empty() => members.iter().map(|member| count(&member.node)).sum(),
            _ => 1,
        }
    }
    let house = House::demonstration();
    let values: usize = house
        .files()
        .iter()
        .map(|(_, text)| count(&read_yaml(text, DRUG_LIMIT, &mut Vec::new()).expect("a tree")))
        .sum();
    let found = rows(&Files::demonstration()).expect("it has no fault");
    assert_eq!(found.len(), values);
    assert!(found.contains(&SheetRow {
        file: "drugs/noradrenaline.yaml".to_owned(),
        place: "areas > adult theatre > vasopressor > phases > maintenance > hard > to".to_owned(),
        value: "3 mcg/kg/min".to_owned(),
        what: SheetValue::Value,
    }));
}

// hazard: H-LIMITS
#[test]
fn a_change_in_the_sheet_is_that_change_and_no_other() {
    let place = folder("sheet");
    let (sheet, back) = (place.join("sheet.csv"), place.join("back"));
    let said = run(["formulary", "export", "demonstration", "--sheet"]).arg(&sheet).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    assert!(said.stdout.contains("Comments are not kept"), "{said:?}");
    let text = fs::read_to_string(&sheet).expect("it was written");
    let from = "drugs/noradrenaline.yaml,areas > adult theatre > vasopressor > phases > maintenance > soft > to,0.35 mcg/kg/min,value";
    assert_eq!(text.matches(from).count(), 1);
    fs::write(&sheet, text.replace(from, &from.replace("0.35", "0.34"))).expect("our own folder");
    let said = run(["formulary", "import"]).arg(&sheet).arg(&back).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    assert!(said.stdout.contains("without comments"), "{said:?}");
    let old = House::demonstration().formulary();
    let new = countersign::formulary::Formulary::open(&back).expect("it can be read");
    let lines: Vec<String> = diff(&old, &new).expect("both can be read").iter().map(|one| one.line()).collect();
    assert_eq!(
        lines,
        [
            "noradrenaline, adult theatre, vasopressor, maintenance: soft upper limit 0.35 -> 0.34 mcg/kg/min, x ≈ 0.9714"
        ]
    );
}

#[test]
fn nothing_is_ever_overwritten() {
    let place = folder("there");
    let (sheet, back) = (place.join("sheet.csv"), place.join("back"));
    assert_eq!(run(["formulary", "export", "demonstration", "--sheet"]).arg(&sheet).said().code, 0);
    fs::create_dir(&back).expect("our own folder");
    fs::write(back.join("kept.txt"), "kept").expect("our own folder");
    let said = run(["formulary", "import"]).arg(&sheet).arg(&back).said();
    assert!(said.is_refused().contains("nothing is ever overwritten"), "{said:?}");
    let names: Vec<_> = fs::read_dir(&back).expect("it is there").map(|one| one.expect("a file").file_name()).collect();
    assert_eq!(names, ["kept.txt"]);
}

fn refused(sheet: &str) -> Vec<BadRow> {
    match from_csv(sheet) {
        Err(bad) => bad,
        Ok(rows) => files(&rows).expect_err("it is refused"),
    }
}

#[rstest]
#[case::another_head("file,value\n", 1, "sheet-head")]
#[case::empty("", 1, "sheet-head")]
#[case::out_of_the_folder("file,place,value,what\n../areas.yaml,a,b,value\n", 2, "sheet-file")]
#[case::another_folder("file,place,value,what\ndrugs/../../x.yaml,a,b,value\n", 2, "sheet-file")]
#[case::an_absolute_path("file,place,value,what\n/etc/passwd,a,b,value\n", 2, "sheet-file")]
#[case::twice("file,place,value,what\nareas.yaml,a,b,value\nareas.yaml,a,c,value\n", 3, "sheet-twice")]
#[case::a_gap("file,place,value,what\nareas.yaml,a > #1,b,value\nareas.yaml,a > #3,c,value\n", 3, "sheet-gap")]
#[case::value_and_map("file,place,value,what\nareas.yaml,a,b,value\nareas.yaml,a > b,c,value\n", 3, "sheet-mixed")]
#[case::list_and_map("file,place,value,what\nareas.yaml,a > #1,b,value\nareas.yaml,a > b,c,value\n", 3, "sheet-mixed")]
#[case::no_place("file,place,value,what\nareas.yaml,,b,value\n", 2, "sheet-place")]
#[case::what_is_it("file,place,value,what\nareas.yaml,a,b,number\n", 2, "sheet-what")]
#[case::a_value_in_nothing("file,place,value,what\nareas.yaml,a,b,nothing\n", 2, "sheet-what")]
#[case::a_column_short("file,place,value,what\nareas.yaml,a,b\n", 2, "sheet-columns")]
fn bad_rows_are_named(#[case] sheet: &str, #[case] row: usize, #[case] code: &str) {
    let bad = refused(sheet);
    assert_eq!((bad[0].row, bad[0].code), (row, code), "{bad:?}");
    assert_eq!(bad.len(), 1, "{bad:?}");
}

#[test]
fn what_a_spreadsheet_does_to_a_file_is_understood() {
    let plain = "file,place,value,what\nareas.yaml,a > b,\"one, two\",value\n";
    let marked = format!("\u{feff}{}", plain.replace('\n', "\r\n"));
    let semicolons = "file;place;value;what\nareas.yaml;a > b;one, two;value\n";
    let meant = from_csv(plain).expect("a sheet");
    assert_eq!(from_csv(&marked).expect("a sheet"), meant);
    assert_eq!(from_csv(semicolons).expect("a sheet"), meant);
}

proptest! {
    // Any text at all comes back as it was, or is refused; nothing is silently another value.
    #[test]
    fn any_value_comes_back_as_it_was(value in "\\PC{0,40}", key in "[a-z~null: -]{1,12}", item in "(null|true|no|~|- a|a: b|#c|\\{\\}|\\[|'|\"|5|0\\.50|1e3|0x1f|2026-01-01|<<|&a|\\*a|!t|\\||>|%|@|`)?") {
        let row = |place: String, value: &str| SheetRow {
            file: "areas.yaml".to_owned(), place, value: value.to_owned(), what: SheetValue::Value,
        };
        let typed = vec![row(format!("{key} > x"), &value), row("y > #1".to_owned(), &item), row("y > #2".to_owned(), &value)];
        let sheet = from_csv(&to_csv(&typed)).expect("its own sheet");
        prop_assert_eq!(&sheet, &typed);
        if let Ok(made) = files(&sheet) {
            let again = rows(&Files::of_texts("again", made)).expect("it was written here");
            prop_assert_eq!(again, typed);
        } else {
            let odd = value.chars().any(|c| c.is_control() || !c.is_ascii()) || key.trim() != key || key == "y";
            prop_assert!(odd, "refused: {:?} {:?} {:?}", key, value, item);
        }
    }
}

#[cfg(feature = "xlsx")]
#[test]
fn a_workbook_holds_the_same_rows() {
    let meant = rows(&Files::demonstration()).expect("it has no fault");
    let bytes = countersign::pharmacy::sheet::to_xlsx(&meant).expect("it fits");
    assert_eq!(countersign::pharmacy::sheet::from_xlsx(bytes).expect("its own workbook"), meant);
}

#[cfg(not(feature = "xlsx"))]
#[test]
fn a_workbook_is_refused_where_none_is_built_in() {
    let said = run(["formulary", "export", "demonstration", "--sheet", "sheet.xlsx"]).within(&folder("no-xlsx")).said();
    assert!(said.is_refused().contains("without workbooks"), "{said:?}");
    assert!(!Path::new("sheet.xlsx").exists());
}
