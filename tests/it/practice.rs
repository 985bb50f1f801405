//! The practice, as a visitor meets it: started, signed in to over a plain connection, and ended without a trace.
#![cfg(all(unix, feature = "web"))]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};

use crate::common::{folder, run};
use rustix::process::{Pid, Signal, kill_process};

struct Practice {
    process: Child,
    says: BufReader<ChildStdout>,
    /// Everything up to the last line that a visitor needs.
    welcome: String,
    address: SocketAddr,
}

impl Practice {
    fn begin(within: &Path) -> Self {
        let mut process = Command::new(env!("CARGO_BIN_EXE_countersign"))
            .args(["practice", "--address", "127.0.0.1:0"])
            .env("TMPDIR", within)
            .env_remove("COUNTERSIGN_STORE_KEY")
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program");
        let mut says = BufReader::new(process.stdout.take().expect("its output"));
        let mut welcome = String::new();
        while !welcome.contains("\n  3. ") {
            assert_ne!(says.read_line(&mut welcome).expect("a line"), 0, "it ended: {welcome}");
        }
        let address = welcome.split("Serving at http://").nth(1).and_then(|rest| rest.split("/\n").next());
        let address = address.expect("an address").parse().expect("an address");
        Self { process, says, welcome, address }
    }

    /// Name and PIN of somebody in a role, as printed.
    fn member(&self, role: &str) -> (String, String) {
        let line = self.welcome.lines().find(|line| line.contains("PIN ") && line.contains(&format!("  {role}  ")));
        let (name, rest) = line.expect("a line of theirs").trim().split_once("  ").expect("two columns");
        (name.to_owned(), rest.split("PIN ").nth(1).expect("a PIN").trim().to_owned())
    }

    /// One request over a connection of its own: the head and the body of its answer.
    fn ask(&self, request: &str, cookie: &str, body: &str) -> (String, String) {
        let mut stream = TcpStream::connect(self.address).expect("it listens");
        let length = body.len();
        let kind = "application/x-www-form-urlencoded";
        write!(
            stream,
            "{request} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nCookie: {cookie}\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\n\r\n{body}",
            self.address
        )
        .expect("it listens");
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("an answer");
        let (head, body) = answer.split_once("\r\n\r\n").expect("a head");
        (head.to_owned(), body.to_owned())
    }

    fn sign_in(&self, (name, pin): &(String, String)) -> String {
        let (head, page) = self.ask("GET /sign-in", "", "");
        let once =
            page.split("name=\"once\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a token");
        let body = format!("once={once}&name={}&pin={pin}", name.replace(' ', "+"));
        let (head, page) = self.ask("POST /sign-in", &cookies(&head), &body);
        assert!(head.starts_with("HTTP/1.1 303"), "{head}\n{page}");
        cookies(&head)
    }

    /// Ends it by a signal, and gives its exit code and its last words.
    fn end(mut self, signal: Signal) -> (Option<i32>, String) {
        let process = i32::try_from(self.process.id()).ok().and_then(Pid::from_raw).expect("our child");
        kill_process(process, signal).expect("it runs");
        let mut last = String::new();
        self.says.read_to_string(&mut last).expect("its output");
        (self.process.wait().expect("it ends").code(), last)
    }
}

fn cookies(head: &str) -> String {
    let set = head.lines().filter_map(|line| line.strip_prefix("set-cookie: "));
    set.filter_map(|set| set.split(';').next()).collect::<Vec<_>>().join("; ")
}

fn names(folder: &Path) -> Vec<PathBuf> {
    std::fs::read_dir(folder).expect("it is there").map(|entry| entry.expect("a name").path()).collect()
}

#[test]
fn a_visitor_signs_in_sees_what_runs_and_leaves_no_trace() {
    let within = folder("visitor");
    let practice = Practice::begin(&within);
    assert!(practice.welcome.starts_with("DEMONSTRATION LIMITS, NOT FOR PATIENTS\n"), "{}", practice.welcome);
    let made = names(&within);
    assert_eq!(made.len(), 1, "{made:?}");
    let session = practice.sign_in(&practice.member("nurse anaesthetist"));
    let (_, list) = practice.ask("GET /", &session, "");
    for shown in ["noradrenaline", "7.2 mL/h", "midazolam", "2.16 mL/h"] {
        assert!(list.contains(shown), "{shown}: {list}");
    }
    // The set-up that waits shows nothing of its first entry.
    assert!(practice.welcome.contains("insulin") && !list.contains("insulin"), "{list}");
    // Another process is killed without a chance to clean up, and one more sweeps what it left.
    let mut killed = Practice::begin(&within);
    killed.process.kill().expect("it runs");
    killed.process.wait().expect("it ends");
    assert_eq!(names(&within).len(), 2);
    let next = Practice::begin(&within);
    let both = names(&within);
    assert!(both.len() == 2 && both.contains(&made[0]), "{both:?}");
    for (practice, signal) in [(next, Signal::INT), (practice, Signal::TERM)] {
        let (code, last) = practice.end(signal);
        assert_eq!((code, last.as_str()), (Some(0), "Ended. The practice folder is removed.\n"));
    }
    assert_eq!(names(&within), Vec::<PathBuf>::new());
}

#[test]
fn nothing_stays_when_it_is_ended_before_it_serves() {
    let within = folder("early");
    let mut process = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(["practice", "--address", "127.0.0.1:0"])
        .env("TMPDIR", &within)
        .stdout(Stdio::null())
        .spawn()
        .expect("the program");
    while names(&within).is_empty() {
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    kill_process(i32::try_from(process.id()).ok().and_then(Pid::from_raw).expect("our child"), Signal::INT)
        .expect("it runs");
    assert_eq!(process.wait().expect("it ends").code(), Some(0));
    assert_eq!(names(&within), Vec::<PathBuf>::new());
}

#[test]
fn what_cannot_be_a_practice_is_refused_and_nothing_is_made() {
    let within = folder("refused");
    let temporary = within.to_str().expect("a path");
    let taken = TcpListener::bind("127.0.0.1:0").expect("a port");
    let taken = taken.local_addr().expect("its address").to_string();
    for (address, says) in [(taken.as_str(), "in use"), ("0.0.0.0:8440", "other machines")] {
        let said = run(["practice", "--address", address]).env("TMPDIR", temporary).said();
        assert!(said.is_refused().contains(says), "{said:?}");
    }
    let elsewhere = run(["practice"]).env("TMPDIR", temporary).env("COUNTERSIGN_STORE_KEY", "a-key").said();
    assert!(elsewhere.is_refused().contains("env -u COUNTERSIGN_STORE_KEY"), "{elsewhere:?}");
    let missing = within.join("missing");
    let said = run(["practice", "--address", "127.0.0.1:0"]).env("TMPDIR", missing.to_str().expect("a path")).said();
    assert!(said.is_refused().contains("TMPDIR"), "{said:?}");
    assert_eq!(names(&within), Vec::<PathBuf>::new());
}
