//! The page for a browser: what a strict reader says of it, and that nothing is fetched.

use rstest::rstest;
use scraper::{Html, Selector};

use super::{AGREED, Agreed, agreed};

/// Everything that a reader of HTML complains of.
fn faults(page: &str) -> Vec<String> {
    Html::parse_document(page).errors.iter().map(ToString::to_string).collect()
}

#[rstest]
fn every_page_is_whole_html(
    #[values(
        "adult-vasopressor/",
        "adult-vasopressor/reasons-",
        "child-sedation/",
        "child-sedation/reasons-",
        "insulin/",
        "insulin/reasons-"
    )]
    pair: &str,
) {
    assert_eq!(faults(&agreed(pair, "html").stdout), [""; 0]);
}

#[test]
fn the_reader_of_html_can_complain() {
    assert!(!faults("<p>no doctype").is_empty());
    assert!(
        !faults("<!DOCTYPE html><html lang=en><head><title>x</title></head><body><p></div></body></html>").is_empty()
    );
}

/// No font, script, style or picture comes from anywhere: it works without a network, and nobody learns of the patient.
#[test]
fn nothing_is_fetched_from_anywhere() {
    let case = Agreed::new("nothing-fetched");
    let read = |format| std::fs::read_to_string(case.card(format)).expect("just written");
    let mut pages = vec![read("html"), read("svg")];
    for pair in AGREED {
        pages.extend([agreed(pair, "html").stdout, agreed(pair, "svg").stdout]);
    }
    for page in pages {
        // The name of the format is no address that anything asks.
        let page = page.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
        for fetching in ["http:", "https:", "//", "url(", "@import", "<script", "<link", " src=", "href=", "data:"] {
            assert!(!page.contains(fetching), "{fetching} in {page}");
        }
    }
}

/// What stands on the page as text is what the card says.
#[test]
fn the_page_says_what_the_printed_card_says() {
    let case = Agreed::new("html-says");
    let page = std::fs::read_to_string(case.card("html")).expect("just written");
    let text = std::fs::read_to_string(case.card("text")).expect("just written");
    let html = Html::parse_document(&page);
    let values = Selector::parse("dd").expect("a selector");
    let squeezed = text.split_whitespace().collect::<String>();
    let mut count = 0;
    for value in html.select(&values) {
        let value = value.text().collect::<String>();
        assert!(squeezed.contains(&value.split_whitespace().collect::<String>()), "{value}: {text}");
        count += 1;
    }
    assert!(count > 15, "{count} values");
    let whole = html.root_element().text().collect::<String>();
    assert_eq!(whole.matches("mL/h").count(), text.matches("mL/h").count(), "the rates of the printed card");
    let rate = Selector::parse("p.rate").expect("a selector");
    assert_eq!(html.select(&rate).count(), 1);
}

#[test]
fn a_card_of_two_files_says_in_every_format_that_it_is_unsigned() {
    for format in ["text", "html", "svg", "json"] {
        let said = agreed("insulin/", format).stdout;
        let whole = "UNSIGNED: made from two files; no check can show a change.";
        // Without markup, however the lines break.
        let squeezed = |text: &str| {
            let words = text.split('<').map(|part| part.split_once('>').map_or(part, |(_, words)| words));
            words.flat_map(str::split_whitespace).collect::<String>()
        };
        assert!(squeezed(&said).contains(&squeezed(whole)), "{format}: {said}");
        assert!(!said.contains("CARD1:"), "{format}");
    }
}

/// What was typed cannot become markup.
#[test]
fn what_was_typed_is_escaped() {
    let folder = super::folder("escaped");
    let mut words = vec!["agree".to_owned()];
    for who in ["first", "second"] {
        let form = super::example(&format!("insulin/{who}.yaml"));
        let name = form.split_once("name: ").and_then(|(_, rest)| rest.split([',', '}', '\n']).next()).expect("a name");
        let form = form.replacen(name, &format!("\"{who} <b>&\\\"x\""), 1);
        let path = folder.join(who).with_extension("yaml");
        std::fs::write(&path, form).expect("room");
        words.push(path.to_str().expect("a path").to_owned());
    }
    for format in ["html", "svg"] {
        let all = words.iter().map(String::as_str).chain([
            "--format",
            format,
            "--at",
            crate::common::AT,
            "--formulary",
            "formulary",
        ]);
        let said = super::run(all).said();
        assert_eq!(said.code, 0, "{said:?}");
        assert!(said.stdout.contains("first &lt;b&gt;&amp;&quot;x") && !said.stdout.contains("<b>"), "{}", said.stdout);
    }
}
