//! 200 cards drawn one after the other in each form, against the same cards as text, in the same run.
//! `cargo bench --bench card [-- --small]`.
//!
//! Wanted: HTML and SVG at most twice the text plus 100 ms; one PDF below 50 ms.
#![expect(clippy::print_stdout, clippy::float_arithmetic, reason = "a benchmark prints what it measured")]

mod common;

use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

use common::{Arguments, Held, built, timed};
use countersign::agreement::{Outcome, agree};
use countersign::card::{Card, Provenance, Rendering};
use countersign::check::Checked;
use countersign::document::{self, ENTRY_LIMIT, read_file, read_form};
use countersign::entry::{Entry, EntryForm};
use countersign::formulary::Formulary;
use countersign::infusion::Computed;
use countersign::quantity::Moment;

const CARDS: usize = 200;
const MORE: Duration = Duration::from_millis(100);
const ONE_PDF: Duration = Duration::from_millis(50);

/// HTML was seen at 0.3 to 0.5 and SVG at 2.1 to 3.8, with and without other processes busy on two cores.
const LIMITS: [(&str, Rendering, f64); 2] =
    [("card as HTML", Rendering::Html, 1.0), ("card as SVG", Rendering::Svg, 7.0)];

fn main() -> ExitCode {
    let now = Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment");
    let formulary = Formulary::demonstration().expect("it is good");
    let pairs = ["adult-vasopressor/", "child-sedation/", "insulin/", "adult-vasopressor/reasons-"];
    let cards: Vec<Card> = pairs.iter().map(|pair| card(pair, &formulary, now)).collect();
    if Arguments::read().small() {
        let verdicts = LIMITS.map(|(name, form, limit)| {
            Held::in_processor_time(20, || _ = drawn(&cards, Rendering::Text), || _ = drawn(&cards, form))
                .verdict(name, limit)
        });
        return verdicts.into_iter().find(|one| *one != ExitCode::SUCCESS).unwrap_or(ExitCode::SUCCESS);
    }
    // The font is read once in a run: that is part of what one card costs, and not of what 200 do.
    let first = timed(|| cards[0].drawn(Rendering::Pdf).expect("a sheet").len()).0;
    let text = best(|| drawn(&cards, Rendering::Text));
    println!("{CARDS} cards in one run, best of 5, profile {}", built());
    println!("text  {:8.2} ms", milliseconds(text));
    for (name, form) in [("HTML", Rendering::Html), ("SVG", Rendering::Svg)] {
        let took = best(|| drawn(&cards, form));
        let wanted = text * 2 + MORE;
        let verdict = if took <= wanted { "within" } else { "BEYOND" };
        println!(
            "{name:4}  {:8.2} ms   {:.2} x; {verdict} {:.2} ms, twice the text plus {} ms",
            milliseconds(took),
            took.as_secs_f64() / text.as_secs_f64(),
            milliseconds(wanted),
            MORE.as_millis()
        );
    }
    let one = best(|| cards[0].drawn(Rendering::Pdf).expect("a sheet").len());
    let verdict = if first <= ONE_PDF { "within" } else { "BEYOND" };
    println!(
        "PDF   {:8.2} ms for the first, {:.2} ms for the next; {verdict} 50 ms",
        milliseconds(first),
        milliseconds(one)
    );
    ExitCode::SUCCESS
}

fn drawn(cards: &[Card], form: Rendering) -> usize {
    cards.iter().cycle().take(CARDS).map(|card| card.drawn(form).expect("it fits on a sheet").len()).sum()
}

fn card(pair: &str, formulary: &Formulary, now: Moment) -> Card {
    let [first, second] = ["first", "second"].map(|who| checked(&format!("{pair}{who}.yaml"), formulary, now));
    match agree(first, second) {
        Ok(Outcome::Agreed(agreed)) => Card::of(&agreed, now, &Provenance::Files),
        other => panic!("{pair} agrees: {other:?}"),
    }
}

fn checked<'f>(name: &str, formulary: &'f Formulary, now: Moment) -> Checked<'f> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
    let text = read_file(&path, ENTRY_LIMIT).expect("an example");
    let mut faults = Vec::new();
    let root = read_form(&text, false, &mut faults).expect("YAML");
    let entry: Option<Box<Entry>> = EntryForm::at(&root, document::Path::Root).read(&mut faults);
    Checked::of(Computed::of(entry.expect("an entry"), formulary, now).expect("computed"))
}

fn best<T>(mut run: impl FnMut() -> T) -> Duration {
    (0..5).map(|_| timed(&mut run).0).min().unwrap_or_default()
}

fn milliseconds(duration: Duration) -> f64 {
    duration.as_secs_f64() * 1e3
}
