//! An invented ward: a journal with cases that are over and cases that are not, written by the program's own functions one
//! event after the other, and the program that serves it. Two PINs are worked out once, whatever the number of cases.
#![allow(dead_code, reason = "each benchmark uses a part of it")]

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use countersign::case::{
    Author, Cases, Confirmed, Person, ReportedAction, Role, SetUpCode, SubmittedForm, Turn, VolumesRead, When, add,
    unlock,
};
use countersign::formulary::Formulary;
use countersign::journal::{Journal, Signer};
use countersign::quantity::{Moment, Quantity, Volume};
use http_body_util::BodyExt as _;
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;

pub(crate) type Web = Client<HttpConnector, Body>;

pub(crate) const PEOPLE: [(&str, Role, &str); 2] =
    [("A. Idowu", Role::Anaesthetist, "281940"), ("M. Tamm", Role::Nurse, "quiet harbour 7")];

/// A journal that is being filled.
pub(crate) struct Ward {
    pub(crate) journal: PathBuf,
    /// The cases that are not over.
    pub(crate) open: Vec<String>,
    cases: Cases,
    staff: [(Person, Signer); 2],
    formulary: Formulary,
    form: SubmittedForm,
    now: Moment,
}

impl Ward {
    pub(crate) fn new(journal: PathBuf) -> Self {
        let now = Moment::now();
        let mut made = Journal::create(&journal, true, now).expect("a fresh folder");
        let [(first, role, pin), (second, second_role, second_pin)] = PEOPLE;
        add(&mut made, now, None, first, role, pin).expect("the first person");
        let idowu = unlock(&mut made, now, first, pin).expect("a PIN");
        add(&mut made, now, Some(&idowu.1), second, second_role, second_pin).expect("the second person");
        let tamm = unlock(&mut made, now, second, second_pin).expect("a PIN");
        let text = std::fs::read_to_string("examples/adult-vasopressor/first.yaml").expect("the example");
        let left_out = ["entered_", "drawn_up_at", "starts_at"];
        let kept = text.lines().filter(|line| !left_out.iter().any(|known| line.starts_with(known)));
        let text: String = kept.map(|line| format!("{line}\n")).collect();
        let text = format!("{text}drawn_up_at: {}\n", now.to_rfc3339());
        Self {
            journal,
            open: Vec::new(),
            cases: Cases::of(made),
            staff: [idowu, tamm],
            formulary: Formulary::open(Path::new("formulary")).expect("the demonstration"),
            form: SubmittedForm { name: "the example".to_owned(), text, json: false, dose_again: None },
            now,
        }
    }

    /// So many cases on which two people have agreed.
    pub(crate) fn agree(&mut self, many: usize) {
        for _ in 0..many {
            let code = self.agreed();
            self.open.push(code.case.to_string());
        }
    }

    /// So many cases that were started, stopped and closed.
    pub(crate) fn close(&mut self, many: usize) {
        for _ in 0..many {
            let code = self.agreed();
            self.did(code, &ReportedAction::Started(None, Default::default()));
            self.did(code, &ReportedAction::Stopped);
            let volume = |text| Quantity::<Volume>::parse_or_zero(text).expect("a volume");
            let by = (&self.staff[0].0, &self.staff[0].1);
            let (in_line, left, none) = (volume("0.9 mL"), volume("49.1 mL"), volume("0 mL"));
            let (when, why) = (When::default(), Some("as found"));
            let read = VolumesRead { in_line, left, discarded: none, driver_total: None };
            self.cases.close(code, by, read, None, &when, why, self.now).expect("it was stopped");
        }
    }

    fn agreed(&mut self) -> SetUpCode {
        let [(idowu, first), (tamm, second)] = &self.staff;
        let (one, other) = (Author::Signed(idowu, first), Author::Signed(tamm, second));
        let (cases, now) = (&mut self.cases, self.now);
        let case = cases.open(now, Some(first)).expect("a case");
        let task = cases.task((case, None), Turn::First { anew: false }, &one, now).expect("the first turn");
        let code = cases.seal(&task, &self.form, &one, &self.formulary, now).expect("the first entry");
        let task = cases.task((case, Some(code.number)), Turn::Second, &other, now).expect("the second turn");
        cases.seal(&task, &self.form, &other, &self.formulary, now).expect("the second entry");
        code
    }

    fn did(&mut self, code: SetUpCode, happening: &ReportedAction) {
        let by = (&self.staff[0].0, &self.staff[0].1);
        let (when, confirmed) = (When::default(), Confirmed { even_so: true, dose_changes: false });
        self.cases.record(code, by, happening, &when, None, confirmed, self.now).expect("it follows");
    }
}

/// The program, serving a journal: the process, and its address.
pub(crate) fn served(program: &str, journal: &Path) -> (Child, String) {
    let mut process = Command::new(program)
        .args(["serve", "--formulary", "formulary", "--address", "127.0.0.1:0"])
        .arg("--journal")
        .arg(journal)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program");
    let mut line = String::new();
    BufReader::new(process.stdout.take().expect("its output")).read_line(&mut line).expect("a line");
    let home = line.trim().trim_start_matches("Serving at ").trim_end_matches('/').to_owned();
    (process, home)
}

pub(crate) fn browser() -> Web {
    Client::builder(TokioExecutor::new()).build_http()
}

pub(crate) async fn get(web: &Web, address: &str, cookie: &str) -> (StatusCode, Vec<String>, String) {
    let request = Request::get(address).header(header::COOKIE, cookie).body(Body::empty()).expect("a request");
    answered(web, request).await
}

async fn answered(web: &Web, request: Request<Body>) -> (StatusCode, Vec<String>, String) {
    let response = web.request(request).await.expect("an answer");
    let set = response.headers().get_all(header::SET_COOKIE).iter().filter_map(|value| value.to_str().ok());
    let set = set.filter_map(|text| text.split(';').next()).map(str::to_owned).collect();
    let status = response.status();
    let bytes = response.into_body().collect().await.expect("a body").to_bytes();
    (status, set, String::from_utf8_lossy(&bytes).into_owned())
}

pub(crate) async fn sign_in(web: &Web, home: &str, name: &str, pin: &str) -> String {
    let (_, door, page) = get(web, &format!("{home}/sign-in"), "").await;
    let once = page.split("name=\"once\" value=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a token");
    let body = format!("once={once}&name={}&pin={}", name.replace(' ', "+"), pin.replace(' ', "+"));
    let request = Request::post(format!("{home}/sign-in"))
        .header(header::COOKIE, door.join("; "))
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(body));
    let (status, cookies, _) = answered(web, request.expect("a request")).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{name} signs in");
    cookies.join("; ")
}
