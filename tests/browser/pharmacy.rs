//! What the pharmacist keeps, in a real browser: each page looked at, an approval from the signature to its end.

use countersign::case::{Author, Cases, People, Role, SubmittedForm, Turn, add, unlock};
use countersign::formulary::Formulary;
use countersign::journal::Journal;
use countersign::pharmacy::approval::Proposal;
use countersign::quantity::Moment;

use crate::browser::{Drivers, Person};
use crate::common::approving::{approves, values};
use crate::common::house::House;
use crate::common::tools::{BROWSER, missing};
use crate::looked_at::looked_at;
use crate::served::Served;
use crate::ward::{IDOWU, TAMM, Ward};

const ACHTERBERG: (&str, &str) = ("R. Achterberg", "551907");
const NAIDOO: (&str, &str) = ("S. Naidoo", "260483");
const OKORO: (&str, &str) = ("T. Okoro", "739205");
const LIMIT: (&str, &str) = ("to: 0.5 mcg/kg/min", "to: 0.47 mcg/kg/min");

/// Two pharmacists come to the ward.
fn hire(ward: &Ward, now: Moment) {
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let (_, signer) = unlock(&mut journal, now, IDOWU.0, IDOWU.1).expect("a PIN");
    // In a journal for patients two people vouch as soon as two are here.
    let mut second = People::of(&journal).expect("people").iter().any(|person| person.name == TAMM.0).then_some(TAMM);
    for (name, pin) in [ACHTERBERG, NAIDOO] {
        let other = second.map(|(name, pin)| unlock(&mut journal, now, name, pin).expect("a PIN").1);
        add(&mut journal, now, (Some(&signer), other.as_ref()), name, Role::Pharmacist, pin).expect("a pharmacist");
        second = second.or(Some(ACHTERBERG));
    }
}

/// So many set-ups that two people agree on, one in three with a dose that needs a reason.
fn busy(ward: &Ward, set_ups: usize, now: Moment) {
    let mut cases = Cases::of(Journal::open(&ward.journal).expect("the journal"));
    let idowu = unlock(cases.journal_mut(), now, IDOWU.0, IDOWU.1).expect("a PIN");
    let tamm = unlock(cases.journal_mut(), now, TAMM.0, TAMM.1).expect("a PIN");
    let formulary = Formulary::open("formulary".as_ref()).expect("the demonstration");
    let example = |name: &str| {
        let text = std::fs::read_to_string(format!("examples/adult-vasopressor/{name}.yaml")).expect("the example");
        let left_out = ["entered_", "drawn_up_at", "starts_at"];
        let lines = text.lines().filter(|line| !left_out.iter().any(|known| line.starts_with(known)));
        let text: String = lines.map(|line| format!("{line}\n")).collect();
        let text = format!("{text}drawn_up_at: {}\n", now.to_rfc3339());
        SubmittedForm { name: "an example".to_owned(), text, json: false, dose_again: None }
    };
    let (plain, first, second) = (example("first"), example("reasons-first"), example("reasons-second"));
    for number in 0..set_ups {
        let (one, other) = if number % 3 == 0 { (&first, &second) } else { (&plain, &plain) };
        let code = cases.open(now, Some(&idowu.1)).expect("a case");
        let author = Author::Signed(&idowu.0, &idowu.1);
        let task = cases.task((code, None), Turn::First { anew: false }, &author, now).expect("the first turn");
        let set_up = cases.seal(&task, one, &author, &formulary, now).expect("the first entry");
        let author = Author::Signed(&tamm.0, &tamm.1);
        let task = cases.task((code, Some(set_up.number)), Turn::Second, &author, now).expect("the second turn");
        cases.seal(&task, other, &author, &formulary, now).expect("the second entry");
    }
}

async fn sees_each(person: &Person, pages: &[(&str, &str, &str)]) {
    for (path, says, name) in pages {
        person.go(path).await;
        person.sees(says).await;
        looked_at(person, name).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_of_the_pharmacist_is_looked_at() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-keeping");
    let now = Moment::now();
    hire(&ward, now);
    busy(&ward, 24, now);
    let (in_use, drug) = (House::new(), "drugs/noradrenaline.yaml");
    let usual = "usual: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, source: demonstration value}";
    let soft = "soft: {from: 0.01 mcg/kg/min, to: 0.35 mcg/kg/min, source: demonstration value}";
    let proposed = House::new().change(drug, usual, &usual.replace("0.3", "0.06")).change(
        drug,
        soft,
        &soft.replace("0.35", "0.07"),
    );
    let served = Served::with_proposal(&ward, in_use.folder(), proposed.folder());
    let drivers = Drivers::start();
    for (dark, name) in [(false, ""), (true, "-dark")] {
        let person = drivers.person(served.address, dark).await;
        person.sign_in(ACHTERBERG).await;
        let named = |page: &str| format!("{page}{name}");
        sees_each(
            &person,
            &[
                ("/formulary", "Formulary", &named("formulary")),
                ("/formulary/book", "noradrenaline", &named("book")),
                ("/formulary/lint", "What the lint says", &named("formulary-lint")),
                ("/formulary/alerts", "24", &named("alerts")),
                ("/formulary/replay", "noradrenaline", &named("replay")),
                ("/formulary/proposal", "The proposed formulary", &named("proposal")),
                ("/formulary/proposal/changes", "0.06 mcg/kg/min", &named("changes")),
                ("/journal", "as it was written", &named("journal-counts")),
            ],
        )
        .await;
        person.leave().await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_proposal_is_typed_blind_and_approved() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-approval");
    std::fs::remove_dir_all(&ward.journal).expect("ours");
    let now = Moment::now();
    let mut journal = Journal::create(&ward.journal, false, now).expect("a journal");
    add(&mut journal, now, None, IDOWU.0, Role::Anaesthetist, IDOWU.1).expect("the first person");
    drop(journal);
    hire(&ward, now);
    let in_use = House::hospital();
    let proposed = House::hospital().change("drugs/noradrenaline.yaml", LIMIT.0, LIMIT.1);
    let mut cases = Cases::of(Journal::open(&ward.journal).expect("the journal"));
    let author = unlock(cases.journal_mut(), now, ACHTERBERG.0, ACHTERBERG.1).expect("a PIN");
    let second = unlock(cases.journal_mut(), now, NAIDOO.0, NAIDOO.1).expect("a PIN");
    let whole = |cases: &Cases| Proposal::of(cases, in_use.folder(), in_use.opened()).expect("whole");
    whole(&cases).sign(&mut cases, now, (&author.0, &author.1)).expect("signed");
    approves(&whole(&cases), &mut cases, now, (&second.0, &second.1));
    drop(cases);
    let served = Served::with_proposal(&ward, in_use.folder(), proposed.folder());
    let drivers = Drivers::start();
    let (author, second) = (drivers.person(served.address, false).await, drivers.person(served.address, true).await);
    author.sign_in(ACHTERBERG).await;
    author.go("/formulary/proposal").await;
    looked_at(&author, "proposal-to-sign").await;
    author.write("#pin", ACHTERBERG.1).await;
    author.press("I am its author: sign it").await;
    author.sees("signed").await;
    second.sign_in(NAIDOO).await;
    second.go("/formulary/proposal").await;
    looked_at(&second, "proposal-signed").await;
    second.go("/formulary/proposal/type").await;
    looked_at(&second, "typing-files").await;
    for (typed, says) in [("0.46 mcg/kg/min", "NOT APPROVED"), ("0.47 mcg/kg/min", "1 value came to the same")] {
        second.go("/formulary/proposal/type/1").await;
        assert!(!second.page.source().await.expect("a page").contains("0.47"), "typed blind");
        looked_at(&second, "typing").await;
        second.write(".question input", typed).await;
        second.press("Keep it").await;
        second.sees("Type its values").await;
        second.go("/formulary/proposal/type").await;
        second.press("Hold it against the proposal").await;
        second.sees(says).await;
        looked_at(&second, "typed").await;
    }
    second.write("#pin", NAIDOO.1).await;
    second.press("Approve it").await;
    second.sees("is approved by R. Achterberg and S. Naidoo").await;
    author.go("/formulary").await;
    author.sees("S. Naidoo").await;
    author.leave().await;
    second.leave().await;
}

/// Puts a value into each field of the form, as a script does.
async fn filled_by_script(person: &Person, values: &[String]) {
    let script = "const fields = document.querySelectorAll('.question input'); \
                  arguments[0].forEach((value, at) => { fields[at].value = value; }); return fields.length";
    let fields = person.page.execute(script, vec![serde_json::json!(values)]).await.expect("a number");
    assert_eq!(fields, serde_json::json!(values.len()));
}

// hazard: H-LIMITS
#[tokio::test(flavor = "multi_thread")]
async fn a_form_that_a_script_fills_waits_for_a_third_pharmacist() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-at-once");
    std::fs::remove_dir_all(&ward.journal).expect("ours");
    let now = Moment::now();
    let mut journal = Journal::create(&ward.journal, false, now).expect("a journal");
    add(&mut journal, now, None, IDOWU.0, Role::Anaesthetist, IDOWU.1).expect("the first person");
    drop(journal);
    hire(&ward, now);
    let mut journal = Journal::open(&ward.journal).expect("the journal");
    let vouching = [IDOWU, ACHTERBERG].map(|(name, pin)| unlock(&mut journal, now, name, pin).expect("a PIN").1);
    let by = (Some(&vouching[0]), Some(&vouching[1]));
    add(&mut journal, now, by, OKORO.0, Role::Pharmacist, OKORO.1).expect("a third pharmacist");
    drop(journal);
    let (in_use, proposed) = (House::hospital(), House::hospital());
    let opened = || {
        let cases = Cases::of(Journal::open(&ward.journal).expect("the journal"));
        let proposal = Proposal::of(&cases, proposed.folder(), proposed.opened()).expect("whole");
        (cases, proposal)
    };
    let served = Served::with_proposal(&ward, in_use.folder(), proposed.folder());
    let drivers = Drivers::start();
    let author = drivers.person(served.address, false).await;
    author.sign_in(ACHTERBERG).await;
    author.go("/formulary/proposal").await;
    author.write("#pin", ACHTERBERG.1).await;
    author.press("I am its author: sign it").await;
    author.sees("signed").await;
    let second = drivers.person(served.address, false).await;
    second.sign_in(NAIDOO).await;
    let (_, proposal) = opened();
    assert!(proposal.changes.typed.len() > 75);
    for (number, file) in proposal.changes.typed.chunk_by(|one, next| one.file == next.file).enumerate() {
        second.go(&format!("/formulary/proposal/type/{}", number + 1)).await;
        filled_by_script(&second, &values(&proposal, file)).await;
        second.press("Keep it").await;
        second.sees("Hold it against the proposal").await;
    }
    second.press("Hold it against the proposal").await;
    second.sees("FILLED IN AT ONCE").await;
    looked_at(&second, "filled-at-once").await;
    assert!(!second.text().await.contains("Approve it"));
    second.go("/formulary/editions").await;
    second.sees("No formulary was approved in this journal").await;
    let third = drivers.person(served.address, true).await;
    third.sign_in(OKORO).await;
    third.go("/formulary/proposal/type").await;
    third.sees("filled in at once").await;
    looked_at(&third, "typing-state").await;
    third.press("Hold it against the proposal").await;
    third.sees("to be typed once more").await;
    looked_at(&third, "typed-once-more").await;
    let (cases, proposal) = opened();
    let again = proposal.progress(&cases).expect("a journal").again(&proposal.changes);
    filled_by_script(&third, &values(&proposal, again)).await;
    third.touch("#read").await;
    third.write("#pin", OKORO.1).await;
    third.press("Approve it").await;
    third.sees("is approved by R. Achterberg and T. Okoro").await;
    third.go("/formulary/editions").await;
    third.sees("by S. Naidoo (146, filled in at once)").await;
    looked_at(&third, "editions").await;
    for person in [author, second, third] {
        person.leave().await;
    }
}
