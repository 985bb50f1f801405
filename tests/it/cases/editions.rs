//! Editions of a formulary in one journal: listed, written again, replaced while an entry waits, and recalled.

use super::approval::{SOFT, changed};
use super::patients_journal::form;
use super::ward::{ACHTERBERG, NAIDOO, Ward};
use super::{IDOWU, Said, TAMM, refused};
use crate::common::house::House;

impl Ward {
    fn form(&self) -> String {
        let file = self.journal.with_file_name("form.yaml");
        std::fs::write(&file, form()).expect("ours");
        file.display().to_string()
    }

    fn first_entry(&self) -> String {
        let code = self.says(&[IDOWU.1], &["case", "open", "--as", IDOWU.0]);
        let code = code.stdout.lines().next().expect("its code").to_owned();
        let said = self.says(&[IDOWU.1], &["case", "enter", &code, "--as", IDOWU.0, "--from", &self.form()]);
        assert_eq!(said.code, 0, "{said:?}");
        code
    }

    fn second_entry(&self, code: &str) -> Said {
        self.says(&[TAMM.1], &["case", "second", code, "--as", TAMM.0, "--from", &self.form()])
    }

    fn agreed(&self) -> String {
        let code = self.first_entry();
        let said = self.second_entry(&code);
        assert_eq!(said.code, 0, "{said:?}");
        code
    }

    fn records(&self, words: &[&str]) -> Said {
        self.says(&[TAMM.1], &[words, &["--as", TAMM.0]].concat())
    }

    /// A second edition with a narrower limit.
    fn replaced(self) -> Self {
        let ward = changed(self);
        assert_eq!(ward.signs(ACHTERBERG).code, 0);
        let said = ward.says(&[NAIDOO.1, "0.47 mcg/kg/min", "read"], &["formulary", "approve", "--as", NAIDOO.0]);
        assert_eq!(said.code, 0, "{said:?}");
        ward
    }

    fn editions(&self) -> Vec<serde_json::Value> {
        let said = self.says(&[], &["formulary", "editions", "--format", "json"]);
        said.json()["editions"].as_array().expect("a list").clone()
    }
}

// hazard: H-LIMITS
#[test]
fn a_recalled_edition_starts_no_card_and_holds_up_nothing_that_runs() {
    let ward = Ward::new("editions-recall");
    let (running, waiting, open) = (ward.agreed(), ward.agreed(), ward.first_entry());
    let start =
        |code: &str, even_so: &[&str]| ward.records(&[&["record", "start", &format!("{code}/1")], even_so].concat());
    assert_eq!(start(&running, &[]).code, 0);
    let fingerprint = ward.editions()[0]["fingerprint"].as_str().expect("text").to_owned();
    let recall = |who: super::Who, why: &str| {
        ward.says(&[who.1], &["formulary", "recall", &fingerprint[..12], "--why", why, "--as", who.0])
    };
    refused(&recall(TAMM, "a wrong limit"), "formulary-not-a-pharmacist");
    refused(&recall(NAIDOO, " "), "recall-without-reason");
    let said = recall(NAIDOO, "the upper limit is ten times too high");
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.contains(&format!("runs: noradrenaline 80 mcg/mL, {running}/1")), "{said:?}");
    assert!(said.stdout.contains(&format!("card not started: noradrenaline 80 mcg/mL, {waiting}/1")), "{said:?}");
    assert!(!said.stdout.contains(&open), "nothing of a waiting entry is told: {said:?}");
    refused(&recall(NAIDOO, "again"), "formulary-recalled-before");
    // What waits is void, and a start of it is taken only when it really happened.
    refused(&ward.says(&[], &["case", "card", &waiting]), "formulary-recalled");
    let said = start(&waiting, &[]);
    assert!(said.code == 2 && said.stderr.contains("its formulary was recalled"), "{said:?}");
    assert_eq!(start(&waiting, &["--even-so", "--reason", "it ran before the recall was read"]).code, 0);
    let said = ward.second_entry(&open);
    assert!(refused(&said, "formulary-recalled").contains("ten times too high"), "{said:?}");
    // What runs goes on, and ends when somebody ends it.
    for words in [["record", "pause"], ["record", "resume"], ["record", "stop"]] {
        let said = ward.records(&[words[0], words[1], &format!("{running}/1")]);
        assert_eq!(said.code, 0, "{words:?} {said:?}");
    }
    let said = ward.says(&[], &["case", "emergency", "--by", "A. Idowu", "--from", &ward.form()]);
    assert_eq!(said.code, 0, "{said:?}");
    let edition = &ward.editions()[0];
    assert_eq!((&edition["in_use"], &edition["recalled"]["by"]), (&false.into(), &NAIDOO.0.into()), "{edition}");
    let verified = ward.says(&[], &["journal", "verify"]);
    assert_eq!(verified.code, 0, "{verified:?}");
}

// hazard: H-LIMITS
#[test]
fn every_edition_is_listed_with_its_changes_and_comes_back_as_it_was() {
    let ward = Ward::new("editions-list");
    let first = std::fs::read(ward.house.folder().join("drugs/noradrenaline.yaml")).expect("it is there");
    let card = ward.agreed();
    let ward = ward.replaced();
    let editions = ward.editions();
    assert_eq!(editions.len(), 2);
    assert_eq!((&editions[0]["in_use"], &editions[1]["in_use"]), (&false.into(), &true.into()));
    assert_eq!(editions[1]["approved_by"], serde_json::json!([ACHTERBERG.0, NAIDOO.0]));
    assert_eq!(editions[1]["changed"][0], serde_json::json!({"risk": "limit-narrowed", "count": 1}));
    assert_eq!(editions[0]["set_ups"][0]["runs"], false, "{editions:?}");
    // Its files are written once more, byte for byte, and approved as they were.
    let again = ward.journal.with_file_name("again");
    let fingerprint = editions[0]["fingerprint"].as_str().expect("text");
    let get = ["formulary", "editions", "--get", &fingerprint[..16], &again.display().to_string()];
    let said = ward.says(&[], &get);
    assert!(said.code == 0 && said.stdout.contains(fingerprint), "{said:?}");
    assert_eq!(std::fs::read(again.join("drugs/noradrenaline.yaml")).expect("written"), first);
    assert!(again.join("approval.yaml").is_file());
    refused(&ward.says(&[], &get), "folder-is-there");
    // A card of the older edition says so when it is started.
    let said = ward.records(&["record", "start", &format!("{card}/1")]);
    assert!(said.code == 0 && said.stdout.contains("the card was made with the formulary"), "{said:?}");
}

/// A server that ends with the test.
struct Server(std::process::Child);

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

// hazard: H-LIMITS
#[test]
fn a_server_with_the_folder_of_a_replaced_edition_says_so_and_serves_the_one_in_use() {
    use std::io::{BufRead as _, BufReader};
    use std::process::{Command, Stdio};
    let ward = Ward::new("editions-served");
    let old = std::fs::read_to_string(ward.house.folder().join("approval.yaml")).expect("just approved");
    let ward = ward.replaced();
    let before = House::hospital().write("approval.yaml", &old);
    let first_lines = |house: &House, lines: usize| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
        command.args(["serve", "--address", "127.0.0.1:0", "--formulary"]).arg(house.folder());
        command.arg("--journal").arg(&ward.journal).stdout(Stdio::piped());
        let mut server = Server(command.spawn().expect("the program is built"));
        let stdout = server.0.stdout.take().expect("piped");
        let lines: Vec<String> = BufReader::new(stdout).lines().take(lines).map(|line| line.expect("text")).collect();
        lines
    };
    let said = first_lines(&before, 2);
    assert!(said[0].starts_with("Another edition was approved after the one in this folder: "), "{said:?}");
    assert!(said[0].ends_with(" is served, out of the journal.") && said[1].starts_with("Serving at "), "{said:?}");
    let said = first_lines(&ward.house, 1);
    assert!(said[0].starts_with("Serving at "), "{said:?}");
}

// hazard: H-LIMITS
#[test]
fn an_entry_that_waits_across_a_change_gets_one_answer_by_either_edition() {
    let ward = Ward::new("editions-across");
    let old = std::fs::read_to_string(ward.house.folder().join("approval.yaml")).expect("just approved");
    let code = ward.first_entry();
    let ward = ward.replaced();
    let before = Ward { journal: ward.journal.clone(), house: House::hospital().write("approval.yaml", &old) };
    let new = refused(&ward.second_entry(&code), "formulary-changed").to_owned();
    let old = refused(&before.second_entry(&code), "formulary-superseded").to_owned();
    let help = |text: &str| text.split("help: ").nth(1).map(str::to_owned);
    assert!(help(&new).is_some_and(|help| help.contains("--anew")), "{new}");
    assert_eq!(help(&new), help(&old), "{SOFT}");
    // And the answer leads on.
    let again = ["case", "enter", &format!("{code}/1"), "--anew", "--as", IDOWU.0, "--from", &ward.form()];
    let said = ward.says(&[IDOWU.1], &again);
    assert_eq!(said.code, 0, "{said:?}");
    assert_eq!(ward.second_entry(&code).code, 0);
}
