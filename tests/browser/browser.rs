//! A person at a browser: Chromium, driven through WebDriver as fingers and eyes would.

use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use countersign::entry::{QUESTIONS, Question};
use fantoccini::elements::Element;
use fantoccini::key::Key;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

use crate::common::tools::CHROMEDRIVER;

/// Somebody waits so long for something to happen, on a machine that is busy.
const PATIENCE: Duration = Duration::from_secs(60);

/// What a form may say, and the page does not ask here: the drug has one use in the area, and one dosing weight.
pub(crate) const NOT_ASKED: &[&str] = &["indication", "dosing_weight", "patient.height", "patient.sex"];

/// The driver's process, and every browser that it has opened.
pub(crate) struct Drivers {
    process: Child,
    port: u16,
}

pub(crate) struct Person {
    pub(crate) page: Client,
    pub(crate) home: String,
    /// Since the last count: fingers on the screen, and letters of the system's keyboard.
    touches: AtomicU32,
    keys: AtomicU32,
    answers: AtomicU32,
}

/// What a piece of work asked of somebody.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Counts {
    /// Fingers on the screen: a button, a choice, a key of the page's own keypad, a field to type in.
    pub(crate) touches: u32,
    /// Letters typed on the system's keyboard.
    pub(crate) keys: u32,
    /// Values typed and choices made.
    pub(crate) answers: u32,
}

impl Drivers {
    pub(crate) fn start() -> Self {
        let mut process = CHROMEDRIVER
            .command()
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("its test asks for it");
        let mut lines = BufReader::new(process.stdout.take().expect("its output")).lines();
        let port = lines.by_ref().map_while(Result::ok).find_map(|line| {
            line.split_once("successfully on port ").and_then(|(_, port)| port.trim_end_matches('.').parse().ok())
        });
        std::thread::spawn(move || lines.for_each(drop));
        Self { process, port: port.expect("it says its port") }
    }

    /// A browser of one's own, at the server; its clock of colours is light unless said otherwise.
    pub(crate) async fn person(&self, server: SocketAddr, dark: bool) -> Person {
        self.person_with(server, dark, None).await
    }

    /// The same with a profile that stays when the browser is closed.
    pub(crate) async fn person_with(&self, server: SocketAddr, dark: bool, profile: Option<&Path>) -> Person {
        let colours =
            if dark { "--blink-settings=preferredColorScheme=0" } else { "--blink-settings=preferredColorScheme=1" };
        let profile = profile.map(|folder| format!("--user-data-dir={}", folder.display()));
        let mut arguments = vec![
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--window-size=820,1180",
            colours,
        ];
        arguments.extend(profile.as_deref());
        // The checks of accessibility take long on the largest pages, and longer beside other tests.
        let asks = json!({ "goog:chromeOptions": { "args": arguments }, "timeouts": { "script": 180_000 } });
        let asks = asks.as_object().expect("an object").clone();
        let driver = format!("http://127.0.0.1:{}", self.port);
        let page = ClientBuilder::new(HttpConnector::new()).capabilities(asks).connect(&driver).await;
        let (touches, keys, answers) = Default::default();
        Person { page: page.expect("a browser"), home: format!("http://{server}"), touches, keys, answers }
    }
}

impl Drop for Drivers {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// The keys that write an answer: each digit, and each unit or part of one.
fn keys_for(answer: &str) -> Vec<&str> {
    let mut keys = Vec::new();
    let mut rest = answer;
    while let Some(first) = rest.chars().next() {
        let end = match first {
            ' ' => 0,
            '/' => 1 + rest[1..].find(['/', ' ']).unwrap_or(rest.len() - 1),
            first if first.is_alphabetic() => rest.find(['/', ' ']).unwrap_or(rest.len()),
            first => first.len_utf8(),
        };
        keys.extend((end > 0).then(|| &rest[..end]));
        rest = &rest[end.max(1)..];
    }
    keys
}

impl Person {
    pub(crate) async fn go(&self, path: &str) {
        self.page.goto(&format!("{}{path}", self.home)).await.expect("a page");
    }

    pub(crate) async fn sign_in(&self, (name, pin): (&str, &str)) {
        self.go("/sign-in").await;
        self.write("#name", name).await;
        self.write("#pin", pin).await;
        self.press("Sign in").await;
        self.sees("Hand over the tablet").await;
    }

    /// The path of the page.
    pub(crate) async fn path(&self) -> String {
        self.page.current_url().await.expect("an address").path().to_owned()
    }

    pub(crate) async fn text(&self) -> String {
        let text = self.page.execute("return document.body.innerText", Vec::new()).await.expect("a text");
        text.as_str().unwrap_or_default().to_owned()
    }

    /// Waits until something stands on the page.
    pub(crate) async fn sees(&self, what: &str) {
        let began = Instant::now();
        loop {
            let text = self.page.execute("return document.body ? document.body.innerText : ''", Vec::new()).await;
            let text = text.ok().and_then(|text| text.as_str().map(str::to_owned)).unwrap_or_default();
            if text.contains(what) {
                return;
            }
            assert!(began.elapsed() < PATIENCE, "{what:?} never stood on {}:\n{text}", self.path().await);
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// What was counted since the last time.
    pub(crate) fn counts(&self) -> Counts {
        let [touches, keys, answers] =
            [&self.touches, &self.keys, &self.answers].map(|one| one.swap(0, Ordering::Relaxed));
        Counts { touches, keys, answers }
    }

    /// One touch that was made before the count began.
    pub(crate) fn count_touch(&self) {
        self.count(1, "", 0);
    }

    fn count(&self, touches: u32, keys: &str, answers: u32) {
        self.touches.fetch_add(touches, Ordering::Relaxed);
        self.keys.fetch_add(u32::try_from(keys.chars().count()).expect("few letters"), Ordering::Relaxed);
        self.answers.fetch_add(answers, Ordering::Relaxed);
    }

    /// Touches one element.
    pub(crate) async fn touch(&self, what: &str) {
        let found = self.page.wait().at_most(PATIENCE).for_element(Locator::Css(what)).await;
        let found = found.unwrap_or_else(|error| panic!("{what} is not there: {error}"));
        self.bring_up(&found).await;
        found.click().await.unwrap_or_else(|error| panic!("{what} cannot be touched: {error}"));
        self.count(1, "", u32::from(what.contains("[value=")));
        self.judged().await;
    }

    /// Touches keys of the page's own keypad beneath a field, one after the other.
    pub(crate) async fn touch_keys(&self, path: &str, keys: &[&str]) {
        for key in keys {
            let way = format!("//*[@data-question=\"{path}\"]//*[contains(@class, 'keys')]//button[text()=\"{key}\"]");
            let found = self.page.wait().at_most(PATIENCE).for_element(Locator::XPath(&way)).await;
            let found = found.unwrap_or_else(|error| panic!("{path} has no key {key}: {error}"));
            self.bring_up(&found).await;
            found.click().await.unwrap_or_else(|error| panic!("{key} cannot be touched: {error}"));
            self.count(1, "", 0);
        }
        self.count(0, "", 1);
    }

    /// Presses the button or link that says this.
    pub(crate) async fn press(&self, says: &str) {
        let way = format!(
            "//button[normalize-space()=\"{says}\"] | //a[normalize-space()=\"{says}\"] | //summary[normalize-space()=\"{says}\"]"
        );
        let found = self.page.wait().at_most(PATIENCE).for_element(Locator::XPath(&way)).await;
        let found = found.unwrap_or_else(|error| panic!("no button says {says:?}: {error}"));
        self.bring_up(&found).await;
        found.click().await.unwrap_or_else(|error| panic!("{says:?} cannot be pressed: {error}"));
        self.count(1, "", 0);
    }

    /// Writes into a field, over what stands there.
    pub(crate) async fn write(&self, field: &str, text: &str) {
        let found = self.page.wait().at_most(PATIENCE).for_element(Locator::Css(field)).await.expect("a field");
        // A field is touched before something is typed into it.
        self.count(1, text, 0);
        let over = format!("{}a{}", char::from(Key::Control), char::from(Key::Null));
        let text = if text.is_empty() { Key::Delete.to_string() } else { text.to_owned() };
        found.send_keys(&format!("{over}{text}")).await.expect("it can be written in");
    }

    /// Answers a question of the entry as a person does: types and leaves the field, or touches a choice; then waits
    /// until it is judged.
    pub(crate) async fn answer(&self, path: &str, answer: &str) {
        self.judged().await;
        let question = format!("[data-question=\"{path}\"]");
        self.turn_to(&question, false).await;
        let typed = format!("{question} input:not([type=\"radio\"])");
        self.page
            .wait()
            .at_most(PATIENCE)
            .for_element(Locator::Css(&question))
            .await
            .unwrap_or_else(|error| panic!("{path} is not asked: {error}"));
        if self.page.find(Locator::Css(&typed)).await.is_ok() {
            self.write(&typed, answer).await;
            self.page
                .find(Locator::Css(&typed))
                .await
                .expect("the field")
                .send_keys(&Key::Tab.to_string())
                .await
                .expect("a key");
        } else {
            let choice = format!("{question} input[value=\"{answer}\"]");
            let found =
                self.page.find(Locator::Css(&choice)).await.unwrap_or_else(|error| panic!("{path}: {answer}: {error}"));
            self.bring_up(&found).await;
            found.click().await.expect("it can be touched");
            self.count(1, "", 0);
        }
        self.count(0, "", 1);
        self.judged().await;
    }

    /// Answers a question without the system's keyboard, where the page has keys for it.
    pub(crate) async fn answer_by_touch(&self, path: &str, answer: &str) {
        if self.page.find(Locator::Css(&format!("[data-question=\"{path}\"]"))).await.is_err() {
            // What follows from an answer is asked once that one is left.
            self.touch("[data-screen]:not([hidden]) h2").await;
        }
        let keyed = format!("[data-question=\"{path}\"] input[data-keys]");
        if self.page.find(Locator::Css(&keyed)).await.is_err() {
            return self.answer(path, answer).await;
        }
        self.touch(&keyed).await;
        let keys = if answer == "not seen" { vec![answer] } else { keys_for(answer) };
        self.touch_keys(path, &keys).await;
    }

    /// Everything that is read, then what was found, then the seal.
    pub(crate) async fn enter(&self, read: &[(&str, &str)]) {
        self.enter_with(read, false).await;
    }

    /// The same by touch alone, as far as the page has keys.
    pub(crate) async fn enter_by_touch(&self, read: &[(&str, &str)]) {
        self.enter_with(read, true).await;
    }

    async fn enter_with(&self, read: &[(&str, &str)], by_touch: bool) {
        let mut read: Vec<_> = read.iter().filter(|(path, _)| !NOT_ASKED.contains(path)).collect();
        // Screen by screen, as the page asks.
        read.sort_by_key(|(path, _)| QUESTIONS.iter().find(|known| known.path == *path).map(Question::read_from));
        for (path, answer) in read {
            self.judged().await;
            self.turn_to(&format!("[data-question=\"{path}\"]"), true).await;
            if by_touch {
                self.answer_by_touch(path, answer).await;
            } else {
                self.answer(path, answer).await;
            }
        }
        self.to_the_end().await;
        self.press("Seal it").await;
        // What was found is shown once before it can be sealed.
        let began = Instant::now();
        while self.path().await.contains("/enter") {
            assert!(began.elapsed() < PATIENCE, "it was not sealed: {}", self.text().await);
            tokio::time::sleep(Duration::from_millis(200)).await;
            if self.path().await.contains("/enter") && self.text().await.contains("What was found in your entry") {
                self.press("Seal it").await;
                tokio::time::sleep(Duration::from_millis(300)).await;
            }
        }
    }

    /// Goes to the screen of a question: one after the other, or by the strip of what was read.
    pub(crate) async fn turn_to(&self, question: &str, one_by_one: bool) {
        let hidden = format!(
            "const one = document.querySelector('{question}'), screens = [...document.querySelectorAll('[data-screen]')]; \
             if (!one || !one.closest('[hidden]')) return null; \
             return screens.indexOf(one.closest('[data-screen]')) - screens.findIndex((screen) => !screen.hidden)"
        );
        loop {
            let steps = self.page.execute(&hidden, Vec::new()).await.expect("an answer");
            match steps.as_i64() {
                None => return,
                Some(on) if on > 0 && one_by_one => self.next_screen().await,
                Some(_) => {
                    let script = format!(
                        "const screens = [...document.querySelectorAll('[data-screen]')]; \
                         const at = screens.indexOf(document.querySelector('{question}').closest('[data-screen]')); \
                         document.querySelectorAll('.strip button')[at].click()"
                    );
                    self.page.execute(&script, Vec::new()).await.expect("it is turned to");
                    self.count(1, "", 0);
                    self.judged().await;
                }
            }
        }
    }

    /// To the last screen, where it is sealed.
    pub(crate) async fn to_the_end(&self) {
        self.judged().await;
        let on = "const does = document.querySelector('.does'); return does !== null && does.hidden";
        while self.page.execute(on, Vec::new()).await.expect("an answer") == Value::Bool(true) {
            self.next_screen().await;
        }
    }

    async fn next_screen(&self) {
        let at = "return [...document.querySelectorAll('[data-screen]')].findIndex((one) => !one.hidden)";
        let before = self.page.execute(at, Vec::new()).await.expect("a number");
        self.touch("[data-screen]:not([hidden]) .next").await;
        let after = self.page.execute(at, Vec::new()).await.expect("a number");
        assert_ne!(before, after, "it stays: {}", self.text().await);
    }

    /// Until nothing is being judged.
    pub(crate) async fn judged(&self) {
        let began = Instant::now();
        loop {
            let busy = self.page.execute("return document.querySelector('[aria-busy]') !== null", Vec::new()).await;
            if busy.is_ok_and(|busy| busy == Value::Bool(false)) {
                return;
            }
            assert!(began.elapsed() < PATIENCE, "it is judged for ever");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    async fn bring_up(&self, element: &Element) {
        let argument = serde_json::to_value(element.clone()).expect("an element");
        let script = "arguments[0].scrollIntoView({block: 'center'})";
        self.page.execute(script, vec![argument]).await.expect("it can be seen");
    }

    pub(crate) async fn leave(self) {
        self.page.close().await.expect("it closes");
    }
}
