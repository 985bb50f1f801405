//! The real program serves, and the real curl walks through a whole case.

use std::io::{BufRead as _, BufReader};
use std::process::{Child, Command, Stdio};

use crate::common::AT;
use crate::common::tools::{BASH, CURL, missing};
use crate::web::ward::{IDOWU, READ, TAMM, Ward};

/// A server that ends with the test.
struct Served(Child);

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn curl_walks_through_a_case() {
    if missing(&[BASH, CURL]) {
        return;
    }
    let ward = Ward::new("curl");
    let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
    command.args(["serve", "--address", "127.0.0.1:0", "--formulary", "formulary", "--at", AT, "--journal"]);
    let started = command.arg(&ward.journal).current_dir(env!("CARGO_MANIFEST_DIR")).stdout(Stdio::piped()).spawn();
    let mut served = Served(started.expect("the program is built"));
    let mut line = String::new();
    let stdout = served.0.stdout.take().expect("piped");
    BufReader::new(stdout).read_line(&mut line).expect("a line");
    let address = line.trim().trim_start_matches("Serving at ").trim_end_matches('/');
    let answers = ward.journal.with_file_name("answers.json");
    let read = READ.iter().map(|(path, text)| ((*path).to_owned(), serde_json::json!(text)));
    std::fs::write(&answers, serde_json::Value::Object(read.collect()).to_string()).expect("a file");
    let walked = BASH
        .command()
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/it/web/walk.sh"))
        .args([address, IDOWU.0, IDOWU.1, TAMM.0, TAMM.1])
        .arg(&answers)
        .output()
        .expect("its test asks for it");
    let said = String::from_utf8_lossy(&walked.stdout);
    assert!(walked.status.success(), "{said}\n{}", String::from_utf8_lossy(&walked.stderr));
    for says in ["\"agreed\":true", "\"double_checked\":true", "\"same\":true", "\"verdict\":\"whole\""] {
        assert!(said.contains(says), "{says} in {said}");
    }
    assert_eq!((ward.events("record"), ward.events("read-back")), (3, 1), "{said}");
}
