//! What the pharmacist keeps, at the page: who sees what, what is counted, and an approval from the signature to the end.

use std::path::Path;
use std::sync::Arc;

use axum::Router;
use axum::http::StatusCode;
use countersign::case::{Cases, People, Role, add, unlock};
use countersign::formulary::Formulary;
use countersign::journal::{Journal, Of};
use countersign::pharmacy::approval::Proposal;
use countersign::quantity::Moment;
use countersign::web::{Clock, Site, router};
use insta::assert_snapshot;
use scraper::{ElementRef, Html, Selector};

use crate::common::approving::{approves, values};
use crate::common::house::House;
use crate::web::ward::{Answer, Browser, IDOWU, LONG, READ, TAMM, Ward, moment, with};

const ACHTERBERG: (&str, &str) = ("R. Achterberg", "551907");
const NAIDOO: (&str, &str) = ("S. Naidoo", "260483");
const OKORO: (&str, &str) = ("T. Okoro", "739205");

/// A journal of a ward with two pharmacists, the formulary in use, and a proposed one.
struct Kept {
    ward: Ward,
    in_use: House,
    proposed: House,
    clock: Clock,
}

impl Kept {
    /// For trying out: the demonstration, and one with a narrowed limit.
    fn demonstration(name: &str) -> Self {
        let ward = Ward::new(name);
        hire(&ward.journal, moment());
        let drug = "drugs/noradrenaline.yaml";
        let proposed = House::new().change(drug, USUAL, &USUAL.replace("0.3", "0.06")).change(
            drug,
            SOFT,
            &SOFT.replace("0.35", "0.07"),
        );
        Self { ward, in_use: House::new(), proposed, clock: Clock::Stands(moment()) }
    }

    /// For patients: an invented hospital's first formulary, which nobody has signed.
    fn unapproved(name: &str) -> Self {
        let ward = Ward::new(name);
        std::fs::remove_dir_all(&ward.journal).expect("ours");
        let now = Moment::now();
        let mut journal = Journal::create(&ward.journal, false, now).expect("a journal");
        add(&mut journal, now, None, IDOWU.0, Role::Anaesthetist, IDOWU.1).expect("the first person");
        hire(&ward.journal, now);
        Self { ward, in_use: House::hospital(), proposed: House::hospital(), clock: Clock::Machine }
    }

    /// For patients: an invented hospital's, approved, and one with a limit and a word changed.
    fn hospital(name: &str) -> Self {
        let Self { ward, in_use, .. } = Self::unapproved(name);
        let now = Moment::now();
        let mut cases = Cases::of(Journal::open(&ward.journal).expect("the journal"));
        let proposal = Proposal::of(&cases, in_use.folder(), in_use.opened()).expect("whole");
        let (author, key) = unlock(cases.journal_mut(), now, ACHTERBERG.0, ACHTERBERG.1).expect("a PIN");
        proposal.sign(&mut cases, now, (&author, &key)).expect("signed");
        let proposal = Proposal::of(&cases, in_use.folder(), in_use.opened()).expect("whole");
        let (second, key) = unlock(cases.journal_mut(), now, NAIDOO.0, NAIDOO.1).expect("a PIN");
        approves(&proposal, &mut cases, now, (&second, &key));
        let proposed = House::hospital()
            .change("drugs/noradrenaline.yaml", "to: 0.5 mcg/kg/min", "to: 0.47 mcg/kg/min")
            .change("drugs/noradrenaline.yaml", "section: Vasopressors", "section: Vasopressors 2");
        Self { ward, in_use, proposed, clock: Clock::Machine }
    }

    fn served(&self) -> Router {
        let cases = Cases::of(Journal::open(&self.ward.journal).expect("the journal"));
        let formulary = Formulary::open(self.in_use.folder()).expect("whole");
        let site: Arc<Site> = Site::new(cases, formulary, self.clock, LONG, false);
        site.propose(self.proposed.folder().to_owned());
        router(site)
    }

    /// What the events of a kind hold, but for what differs with the keys.
    fn bodies(&self, kind: &str) -> Vec<serde_json::Value> {
        let journal = Journal::open(&self.ward.journal).expect("the journal");
        let events = journal.events(Of::Kind(kind)).expect("events");
        let without = |mut body: serde_json::Value| {
            if let Some(edition) = body.get_mut("edition") {
                *edition = "(an edition)".into();
            }
            body
        };
        events.iter().map(|event| without(event.body().clone())).collect()
    }
}

const USUAL: &str = "usual: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, source: demonstration value}";
const SOFT: &str = "soft: {from: 0.01 mcg/kg/min, to: 0.35 mcg/kg/min, source: demonstration value}";

fn hire(journal: &Path, now: Moment) {
    let mut journal = Journal::open(journal).expect("the journal");
    let (_, signer) = unlock(&mut journal, now, IDOWU.0, IDOWU.1).expect("a PIN");
    // In a journal for patients two people vouch as soon as two are here.
    let mut second = People::of(&journal).expect("people").iter().any(|person| person.name == TAMM.0).then_some(TAMM);
    for (name, pin) in [ACHTERBERG, NAIDOO] {
        let other = second.map(|(name, pin)| unlock(&mut journal, now, name, pin).expect("a PIN").1);
        add(&mut journal, now, (Some(&signer), other.as_ref()), name, Role::Pharmacist, pin).expect("a pharmacist");
        second = second.or(Some(ACHTERBERG));
    }
}

fn hire_one(journal: &Path, who: (&str, &str), now: Moment) {
    let mut journal = Journal::open(journal).expect("the journal");
    let vouching = [IDOWU, ACHTERBERG].map(|(name, pin)| unlock(&mut journal, now, name, pin).expect("a PIN").1);
    let by = (Some(&vouching[0]), Some(&vouching[1]));
    add(&mut journal, now, by, who.0, Role::Pharmacist, who.1).expect("a pharmacist");
}

/// The text that a person reads, a line for each block.
fn read(answer: &Answer) -> String {
    let page = Html::parse_document(&answer.text);
    let main = page.select(&Selector::parse("main").expect("one")).next().expect("a main part");
    let mut out = String::new();
    for block in main.select(&Selector::parse("h1, h2, p, dt, dd, tr, caption, main li, label").expect("one")) {
        let inner = block.value().name();
        let text: Vec<&str> = block.text().flat_map(str::split_whitespace).collect();
        if inner == "p" && block.ancestors().filter_map(ElementRef::wrap).any(|above| above.value().name() == "li") {
            continue;
        }
        out.push_str(&text.join(" "));
        out.push('\n');
    }
    let fingerprints = regex::Regex::new("[0-9a-f]{64}").expect("a pattern").replace_all(&out, "[fingerprint]");
    regex::Regex::new(r"\d+ ms;").expect("a pattern").replace_all(&fingerprints, "[some] ms;").into_owned()
}

/// What holds for each page: heads of tables say something, every table has its caption, nothing is styled in place.
#[track_caller]
fn is_for_everybody(answer: &Answer) {
    let page = Html::parse_document(&answer.text);
    let select = |what: &str| Selector::parse(what).expect("a selector");
    for head in page.select(&select("th")) {
        assert!(head.text().any(|text| !text.trim().is_empty()), "an empty head: {}", answer.text);
        assert!(head.value().attr("scope").is_some(), "{}", head.html());
    }
    for table in page.select(&select("table")) {
        assert!(table.select(&select("caption")).next().is_some(), "{}", table.html());
    }
    for region in page.select(&select(".wide")) {
        assert!(region.value().attr("tabindex") == Some("0") && region.value().attr("aria-label").is_some());
    }
    for input in page.select(&select("main input:not([type=hidden]), main textarea")) {
        let id = input.value().attr("id").expect("an id");
        assert_eq!(page.select(&select(&format!("label[for=\"{id}\"]"))).count(), 1, "{id} has one label");
    }
    assert!(!answer.text.contains("style=\""), "the policy forbids it");
    assert_eq!(page.select(&select("h1")).count(), 1);
    for link in page.select(&select("main a[href]")) {
        assert!(link.value().attr("href").is_some_and(|to| to.starts_with('/')), "{}", link.html());
    }
}

async fn page(browser: &mut Browser, path: &str) -> Answer {
    let answer = browser.get(path).await;
    assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text);
    is_for_everybody(&answer);
    answer
}

const OF_PHARMACISTS: &[&str] = &[
    "/formulary/alerts",
    "/formulary/alerts.csv",
    "/formulary/alerts/sheet",
    "/formulary/editions",
    "/formulary/replay",
    "/formulary/proposal",
    "/formulary/proposal/changes",
    "/formulary/proposal/lint",
    "/formulary/proposal/type",
    "/formulary/proposal/type/1",
];

#[tokio::test]
async fn others_find_the_contents_the_book_and_the_lint_and_are_told_who_sees_the_rest() {
    let kept = Kept::demonstration("pharmacy-roles");
    let router = kept.served();
    let mut tamm = Browser::signed_in(&router, TAMM).await;
    let contents = page(&mut tamm, "/formulary").await;
    assert!(contents.text.contains("/formulary/book") && !contents.text.contains("/formulary/alerts"));
    let contents = read(&contents);
    assert_snapshot!(contents.lines().take(15).collect::<Vec<_>>().join("\n"));
    let book = tamm.get("/formulary/book").await;
    assert!(book.status == StatusCode::OK && !book.text.contains("<th scope=\"col\"></th>"));
    let lint = page(&mut tamm, "/formulary/lint").await;
    assert!(!lint.text.contains("<pre") && lint.text.contains("39 drugs"), "{}", read(&lint));
    for path in OF_PHARMACISTS {
        let answer = tamm.get(path).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{path}");
        assert!(answer.text.contains("M. Tamm is here as nurse"), "{}", answer.text);
    }
    for path in ["/formulary/proposal/sign", "/formulary/proposal/compare", "/formulary/proposal/approve"] {
        let once = tamm.get("/").await.once("/");
        assert_eq!(tamm.post(path, &[("once", &once)]).await.status, StatusCode::FORBIDDEN, "{path}");
    }
}

/// Two people enter a set-up, each with their own reading.
async fn enters(router: &Router, first: &[(&str, &str)], second: Option<&[(&str, &str)]>) -> String {
    let (mut idowu, mut tamm) = (Browser::signed_in(router, IDOWU).await, Browser::signed_in(router, TAMM).await);
    let case = idowu.open_case().await;
    let sealed = idowu.seal(&format!("{case}/enter"), first).await;
    assert_eq!(sealed.status, StatusCode::SEE_OTHER, "{sealed:?}");
    if let Some(second) = second {
        let sealed = tamm.seal(&format!("{case}/1/enter/second"), second).await;
        assert_eq!(sealed.status, StatusCode::SEE_OTHER, "{sealed:?}");
    }
    case
}

// hazard: H-INDEPENDENCE
#[tokio::test]
async fn rules_are_counted_with_what_came_of_them_and_nobody_is_named() {
    let mut kept = Kept::demonstration("pharmacy-alerts");
    let router = kept.served();
    // Agreed beyond a soft limit, each with a reason: one of the list, and words that name somebody.
    let high = [("dose", "0.6 mcg/kg/min")];
    let reasons = |reason| [with(READ, &high), vec![("reasons.dose-above-soft-limit", reason)]].concat();
    enters(&router, &reasons("Tolerant  from long use"), Some(&reasons("as Z. Quince of bed nine wants it"))).await;
    enters(&router, READ, Some(READ)).await;
    // They disagree about the dose, then both read it again within the limits.
    let case = enters(&router, &reasons("as ordered in writing"), Some(READ)).await;
    let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
    let dose: Vec<(&str, &str)> = READ.iter().copied().filter(|(path, _)| *path == "dose").collect();
    idowu.seal(&format!("{case}/1/enter/first"), &dose).await;
    tamm.seal(&format!("{case}/1/enter/second"), &dose).await;
    // Both read a dose beyond the hard limit: it stops.
    let beyond = with(READ, &[("dose", "4 mcg/kg/min")]);
    enters(&router, &beyond, Some(&beyond)).await;
    // One still waits for its second person, who must not be told by a count what was found.
    enters(&router, &reasons("as ordered in writing"), None).await;
    let mut naidoo = Browser::signed_in(&router, NAIDOO).await;
    let answer = page(&mut naidoo, "/formulary/alerts").await;
    let shown = read(&answer);
    let edition = regex::Regex::new(r"\([0-9a-f]{8}\)").expect("a pattern");
    assert_snapshot!(edition.replace_all(&shown, "(edition)"));
    for private in ["Quince", "QM-30417", "84.2", "0.6 mcg", "Idowu", "Tamm", case.trim_start_matches("/case/")] {
        assert!(!shown.contains(private), "{private}: {shown}");
    }
    // A day later somebody may still enter them second, an emergency too: nothing is told of what was found.
    let mut alone = Browser::at(&router);
    let mut fields = with(READ, &[("dose", "4 mcg/kg/min")]);
    fields.extend([("by", "A. Idowu"), ("role", "anaesthetist"), ("dose_again", "4 mcg/kg/min")]);
    assert_eq!(alone.seal("/emergency/whole", &fields).await.status, StatusCode::OK);
    kept.clock = Clock::Stands(Moment::parse("2026-03-15T21:00:00+00:00").expect("a moment"));
    let mut later = Browser::signed_in(&kept.served(), NAIDOO).await;
    let shown = read(&page(&mut later, "/formulary/alerts").await);
    assert!(shown.contains("2 set-ups still wait") && shown.contains("Waiting for more than an hour: 2."), "{shown}");
    // The command counts the same.
    let said = command(&kept, &["formulary", "alerts", "--at", "2026-03-14T07:50:00+00:00"], "");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("In all: fewer than 10 set-ups"), "{said}");
    assert!(
        said.contains("dose-above-soft-limit: spoke: hidden; overridden: hidden; then corrected: hidden"),
        "{said}"
    );
    assert!(said.contains("0.35 mcg/kg/min: spoke: hidden"), "the limit is named with its use: {said}");
    // A drug that nobody entered leaves nothing to count; a day that is none is refused.
    let none = page(&mut naidoo, "/formulary/alerts?drug=insulin&from=2026-03-01&by=role").await;
    assert!(read(&none).contains("There is nothing to count."), "{}", none.text);
    let answer = naidoo.get("/formulary/alerts?from=14.3.").await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", answer.text);
}

fn command(kept: &Kept, words: &[&str], typed: &str) -> String {
    use std::io::Write as _;
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(words)
        .env("COUNTERSIGN_JOURNAL", &kept.ward.journal)
        .env("COUNTERSIGN_FORMULARY", kept.proposed.folder())
        .env("TZ", "UTC")
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("the program starts");
    let _ = child.stdin.take().expect("a pipe").write_all(typed.as_bytes());
    let out = child.wait_with_output().expect("it ends");
    assert!(out.status.success(), "{words:?}: {out:?}");
    String::from_utf8(out.stdout).expect("UTF-8")
}

#[tokio::test]
async fn a_replay_counts_what_a_proposal_would_have_done_and_shows_no_value() {
    let kept = Kept::demonstration("pharmacy-replay");
    let router = kept.served();
    enters(&router, READ, Some(READ)).await;
    enters(&router, READ, None).await;
    let mut naidoo = Browser::signed_in(&router, NAIDOO).await;
    let shown = read(&page(&mut naidoo, "/formulary/replay").await);
    assert_snapshot!(shown);
    assert!(!shown.contains("84.2") && !shown.contains("QM-30417"));
    let changes = read(&page(&mut naidoo, "/formulary/proposal/changes").await);
    assert!(changes.contains("0.35 mcg/kg/min") && changes.contains("0.07 mcg/kg/min"), "{changes}");
    // Without a proposal it says how to start with one.
    let mut without = Browser::signed_in(&kept.ward.served(LONG), NAIDOO).await;
    for path in ["/formulary/replay", "/formulary/proposal"] {
        assert!(page(&mut without, path).await.text.contains("serve --journal DIR --formulary DIR --proposed DIR"));
    }
}

async fn send(browser: &mut Browser, from: &str, to: &str, more: &[(&str, &str)]) -> Answer {
    let form = browser.get(from).await;
    let (once, fingerprint) = (form.once(to), form.hidden("fingerprint"));
    let mut fields = vec![("once", once.as_str()), ("fingerprint", fingerprint.as_str())];
    fields.extend(more);
    browser.post(to, &fields).await
}

/// A form of one address, sent to another.
async fn send_as(browser: &mut Browser, from: &str, of: &str, to: &str, more: &[(&str, &str)]) -> Answer {
    let form = browser.get(from).await;
    let (once, fingerprint) = (form.once(of), form.hidden("fingerprint"));
    let mut fields = vec![("once", once.as_str()), ("fingerprint", fingerprint.as_str())];
    fields.extend(more);
    browser.post(to, &fields).await
}

const PROPOSAL: &str = "/formulary/proposal";
const TYPE: &str = "/formulary/proposal/type";
const FILE: &str = "/formulary/proposal/type/1";
const COMPARE: &str = "/formulary/proposal/compare";

// hazard: H-LIMITS
#[tokio::test]
async fn a_proposal_is_signed_typed_blind_and_approved_at_the_page_as_by_the_command() {
    let kept = Kept::hospital("pharmacy-approval");
    let router = kept.served();
    let (mut author, mut second) =
        (Browser::signed_in(&router, ACHTERBERG).await, Browser::signed_in(&router, NAIDOO).await);
    // Nobody has signed: there is nothing to be typed yet.
    assert!(second.get(TYPE).await.text.contains("formulary-not-signed"));
    assert!(page(&mut author, "/formulary/proposal/changes").await.text.contains("0.47 mcg/kg/min"));
    // A session that was left open signs nothing without the PIN.
    let unsigned = send(&mut author, PROPOSAL, "/formulary/proposal/sign", &[("pin", "000000")]).await;
    assert!(unsigned.status == StatusCode::CONFLICT && second.get(TYPE).await.text.contains("formulary-not-signed"));
    let signed = send(&mut author, PROPOSAL, "/formulary/proposal/sign", &[("pin", ACHTERBERG.1)]).await;
    assert_eq!(signed.status, StatusCode::SEE_OTHER, "{}", signed.text);
    assert!(author.get(TYPE).await.text.contains("formulary-second-is-author"));
    // From here on, everything that the second is answered is looked through for the author's value.
    let mut traffic = String::new();
    for path in [PROPOSAL, "/formulary", "/formulary/replay", "/formulary/lint", TYPE, FILE] {
        traffic += &page(&mut second, path).await.text;
    }
    for path in ["/formulary/proposal/changes", "/formulary/proposal/lint"] {
        let answer = second.get(path).await;
        assert!(answer.status == StatusCode::FORBIDDEN && answer.text.contains("proposal-closed"), "{}", answer.text);
        traffic += &answer.text;
    }
    let short = send(&mut second, TYPE, COMPARE, &[]).await;
    assert!(short.text.contains("sheet-short"), "{}", short.text);
    let wrong = send(&mut second, FILE, FILE, &[("value-1", ".6 mcg/kg/min")]).await;
    assert!(wrong.status == StatusCode::UNPROCESSABLE_ENTITY && wrong.text.contains("write 0.6"), "{}", wrong.text);
    let bare = send(&mut second, FILE, FILE, &[("value-1", "60")]).await;
    assert!(bare.status == StatusCode::UNPROCESSABLE_ENTITY && bare.text.contains("`60` has no unit"), "{}", bare.text);
    let kept_it = send(&mut second, FILE, FILE, &[("value-1", "0.6 mcg/kg/min")]).await;
    assert_eq!(kept_it.status, StatusCode::SEE_OTHER);
    let differs = send(&mut second, TYPE, COMPARE, &[]).await;
    is_for_everybody(&differs);
    assert_snapshot!(read(&differs));
    traffic += &(short.text + &wrong.text + &differs.text);
    // What differs is read from its source again; a draft outlives the server, and is that person's alone.
    traffic += &page(&mut second, FILE).await.text;
    let typed = send(&mut second, FILE, FILE, &[("value-1", "0.47 microgram/kg/min")]).await;
    assert_eq!(typed.status, StatusCode::SEE_OTHER);
    assert!(!traffic.contains("0.47") && !traffic.contains("Vasopressors 2") && traffic.len() > 10_000);
    let router = kept.served();
    let mut second = Browser::signed_in(&router, NAIDOO).await;
    assert!(page(&mut second, FILE).await.text.contains("0.47 microgram/kg/min"));
    let words = send(&mut second, TYPE, COMPARE, &[]).await;
    is_for_everybody(&words);
    assert_snapshot!(read(&words));
    let approve = "/formulary/proposal/approve";
    let fields = |answer: &Answer| (answer.once(approve), answer.hidden("fingerprint"));
    let (once, fingerprint) = fields(&words);
    let unread = second.post(approve, &[("once", &once), ("fingerprint", &fingerprint)]).await;
    assert!(unread.status == StatusCode::CONFLICT && unread.text.contains("words-not-read"), "{}", unread.text);
    let (once, fingerprint) = fields(&unread);
    let read_them = |once: &str, pin: &str| {
        let fields = [("once", once), ("fingerprint", &fingerprint), ("read", "read"), ("pin", pin)];
        fields.map(|(name, value)| (name, value.to_owned()))
    };
    let sent = read_them(&once, "000000");
    let unsigned = second.post(approve, &sent.each_ref().map(|(name, value)| (*name, value.as_str()))).await;
    assert!(unsigned.status == StatusCode::CONFLICT && !unsigned.text.contains("is approved by"), "{}", unsigned.text);
    let sent = read_them(&unsigned.once(approve), NAIDOO.1);
    let done = second.post(approve, &sent.each_ref().map(|(name, value)| (*name, value.as_str()))).await;
    assert!(
        done.status == StatusCode::OK && done.text.contains("is approved by R. Achterberg and S. Naidoo"),
        "{}",
        done.text
    );
    // The server uses it at once, and the folder holds both signatures.
    assert!(read(&page(&mut second, "/formulary").await).contains("R. Achterberg and S. Naidoo on"));
    let opened = kept.proposed.opened();
    assert!(matches!(opened.standing(), countersign::formulary::ApprovalStatus::Approved { .. }));
    assert_eq!(std::fs::read_dir(kept.ward.journal.join("drafts")).expect("drafts").count(), 0);
    // The journal holds the same events as after the commands.
    let other = Kept::hospital("pharmacy-command");
    command(&other, &["formulary", "sign", "--as", ACHTERBERG.0], &format!("{}\n", ACHTERBERG.1));
    let typed = format!("{}\n0.47 mcg/kg/min\nread\n", NAIDOO.1);
    command(&other, &["formulary", "approve", "--as", NAIDOO.0], &typed);
    for kind in ["formulary-signed", "formulary-approved"] {
        assert_eq!(kept.bodies(kind), other.bodies(kind), "{kind}");
    }
    let differ = &kept.bodies("formulary-not-approved")[0]["differ"];
    assert_eq!(differ[0], "drugs/noradrenaline.yaml, areas, adult theatre, vasopressor, phases, maintenance, soft, to");
    assert!(!differ.to_string().contains("0.6"));
}

// hazard: H-LIMITS
#[tokio::test]
async fn values_that_a_script_fills_in_at_once_are_never_approved_quietly() {
    let kept = Kept::unapproved("pharmacy-at-once");
    let router = kept.served();
    let mut author = Browser::signed_in(&router, ACHTERBERG).await;
    let signed = send(&mut author, PROPOSAL, "/formulary/proposal/sign", &[("pin", ACHTERBERG.1)]).await;
    assert_eq!(signed.status, StatusCode::SEE_OTHER, "{}", signed.text);
    let opened = || {
        let cases = Cases::of(Journal::open(&kept.ward.journal).expect("the journal"));
        let proposal = Proposal::of(&cases, kept.proposed.folder(), kept.proposed.opened()).expect("whole");
        (cases, proposal)
    };
    let (_, proposal) = opened();
    let all = values(&proposal, &proposal.changes.typed);
    assert!(all.len() > 75, "{}", all.len());
    // Every file in one sending each.
    let mut second = Browser::signed_in(&router, NAIDOO).await;
    let mut at = 0;
    let files = proposal.changes.typed.chunk_by(|one, next| one.file == next.file);
    for (number, file) in files.enumerate() {
        let named: Vec<String> = (at..at + file.len()).map(|at| format!("value-{}", at + 1)).collect();
        let fields: Vec<(&str, &str)> =
            named.iter().map(String::as_str).zip(all[at..].iter().map(String::as_str)).collect();
        at += file.len();
        let path = format!("{TYPE}/{}", number + 1);
        let sent = send(&mut second, &path, &path, &fields).await;
        assert_eq!(sent.status, StatusCode::SEE_OTHER, "{}", sent.text);
    }
    let held = send(&mut second, TYPE, COMPARE, &[]).await;
    is_for_everybody(&held);
    assert!(held.text.contains("FILLED IN AT ONCE") && !held.text.contains("proposal/approve"), "{}", read(&held));
    let approve = "/formulary/proposal/approve";
    let forced = send_as(&mut second, TYPE, COMPARE, approve, &[("read", "read"), ("pin", NAIDOO.1)]).await;
    assert!(forced.status == StatusCode::CONFLICT && forced.text.contains("filled-at-once"), "{}", forced.text);
    // A third pharmacist types some of them again, and signs.
    hire_one(&kept.ward.journal, OKORO, Moment::now());
    let mut third = Browser::signed_in(&router, OKORO).await;
    assert!(read(&page(&mut third, TYPE).await).contains("filled in at once"));
    let words = send(&mut third, TYPE, COMPARE, &[]).await;
    is_for_everybody(&words);
    let (cases, proposal) = opened();
    let again = proposal.progress(&cases).expect("a journal").again(&proposal.changes);
    assert!(again.len() >= 15, "{}", again.len());
    let right = values(&proposal, again.iter().copied());
    let named: Vec<String> = (1..=again.len()).map(|at| format!("again-{at}")).collect();
    let mut fields: Vec<(&str, &str)> = named.iter().zip(&right).map(|(name, value)| (&**name, &**value)).collect();
    fields.extend([("read", "read"), ("pin", OKORO.1)]);
    let (once, fingerprint) = (words.once(approve), words.hidden("fingerprint"));
    fields.extend([("once", once.as_str()), ("fingerprint", fingerprint.as_str())]);
    let done = third.post(approve, &fields).await;
    assert!(done.text.contains("is approved by R. Achterberg and T. Okoro"), "{}", read(&done));
    let record = &kept.bodies("formulary-approved")[0]["typed_by"];
    assert_eq!(record[0]["name"], NAIDOO.0, "{record}");
    assert_eq!(record[0]["at_once"], true, "{record}");
}

#[tokio::test]
async fn counts_are_taken_along_as_csv_and_on_one_sheet() {
    let kept = Kept::demonstration("pharmacy-taken-along");
    let router = kept.served();
    enters(&router, READ, Some(READ)).await;
    let mut naidoo = Browser::signed_in(&router, NAIDOO).await;
    let chosen = "drug=noradrenaline&by=role";
    let answer = page(&mut naidoo, &format!("/formulary/alerts?{chosen}")).await;
    let links = answer.text.replace("&amp;", "&");
    let csv = format!("/formulary/alerts.csv?{chosen}");
    let sheet = format!("/formulary/alerts/sheet?{chosen}");
    assert!(links.contains(&csv) && links.contains(&sheet), "{links}");
    let said = naidoo.get(&csv).await;
    let by_command = command(
        &kept,
        &[
            "formulary",
            "alerts",
            "--only",
            "drug=noradrenaline",
            "--by",
            "role",
            "--format",
            "csv",
            "--at",
            "2026-03-14T07:50:00+00:00",
        ],
        "",
    );
    assert_eq!((said.status, said.text), (StatusCode::OK, by_command));
    let printed = naidoo.get(&sheet).await;
    assert!(printed.text.contains("For the committee") && printed.text.contains("DEMONSTRATION"), "{}", printed.text);
}

// hazard: H-LIMITS
#[tokio::test]
async fn an_edition_is_recalled_at_the_page_with_a_reason_and_the_pin() {
    let kept = Kept::hospital("pharmacy-editions");
    let router = kept.served();
    let mut naidoo = Browser::signed_in(&router, NAIDOO).await;
    let (editions, recall) = ("/formulary/editions", "/formulary/editions/recall");
    let shown = read(&page(&mut naidoo, editions).await);
    assert!(shown.contains("in use") && shown.contains("146 values typed by S. Naidoo (146)"), "{shown}");
    for (why, pin) in [("a limit is ten times too high", "000000"), (" ", NAIDOO.1)] {
        let refused = send(&mut naidoo, editions, recall, &[("why", why), ("pin", pin)]).await;
        assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text);
        assert!(!read(&page(&mut naidoo, editions).await).contains("RECALLED"));
    }
    let fields = [("why", "a limit is ten times too high"), ("pin", NAIDOO.1)];
    let done = send(&mut naidoo, editions, recall, &fields).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text);
    let shown = page(&mut naidoo, editions).await;
    let text = read(&shown);
    assert!(text.contains("RECALLED") && text.contains("by S. Naidoo: a limit is ten times too high"), "{text}");
    assert!(!shown.text.contains(recall), "it is recalled once");
}

// hazard: H-LIMITS
#[tokio::test]
async fn who_has_looked_at_the_values_does_not_type_them() {
    let kept = Kept::hospital("pharmacy-seen");
    let router = kept.served();
    let (mut author, mut second) =
        (Browser::signed_in(&router, ACHTERBERG).await, Browser::signed_in(&router, NAIDOO).await);
    page(&mut second, "/formulary/proposal/changes").await;
    assert_eq!(
        send(&mut author, PROPOSAL, "/formulary/proposal/sign", &[("pin", ACHTERBERG.1)]).await.status,
        StatusCode::SEE_OTHER
    );
    let refused = second.get(FILE).await;
    assert!(refused.status == StatusCode::CONFLICT && refused.text.contains("formulary-values-seen"));
    // A form that was drawn for other bytes approves nothing.
    let form = author.get(PROPOSAL).await.text;
    assert!(!form.contains("/formulary/proposal/sign"), "it is signed: {form}");
}

#[tokio::test]
async fn the_journal_says_what_is_in_it_and_is_held_against_a_checkpoint() {
    let kept = Kept::demonstration("pharmacy-journal");
    let router = kept.served();
    let mut naidoo = Browser::signed_in(&router, NAIDOO).await;
    assert_snapshot!(without_hashes(&read(&page(&mut naidoo, "/journal").await)));
    let checkpoint = Journal::open(&kept.ward.journal).expect("the journal").checkpoint(moment()).expect("a line");
    let once = naidoo.get("/journal").await.once("/journal");
    let held = naidoo.post("/journal", &[("once", &once), ("checkpoints", &checkpoint)]).await;
    is_for_everybody(&held);
    assert!(read(&held).contains("Held against 1 kept elsewhere: they fit."), "{}", read(&held));
    let once = naidoo.get("/journal").await.once("/journal");
    let altered = checkpoint.replacen("\"at\":\"2026", "\"at\":\"2025", 1);
    assert_ne!(altered, checkpoint);
    let refused = naidoo.post("/journal", &[("once", &once), ("checkpoints", &altered)]).await;
    assert!(read(&refused).contains("Not read:"), "{}", read(&refused));
}

fn without_hashes(text: &str) -> String {
    regex::Regex::new(r"\d+:\[fingerprint\]").expect("a pattern").replace_all(text, "[head]").into_owned()
}
