//! The printed book: well formed, nothing fetched, every limit of every drug in it with its source.

use std::collections::BTreeSet;

use countersign::formulary::Formulary;
use countersign::pharmacy::book::book;

use crate::common::{folder, run};

fn demonstration() -> (Formulary, String) {
    let formulary = Formulary::demonstration().expect("it has no fault");
    let page = book(&formulary).expect("it has no fault");
    (formulary, page)
}

/// Every tag in its order: name, whether it closes, attributes. Elements without an end have none.
fn tags(page: &str) -> Vec<(String, bool, String)> {
    let tag =
        regex::Regex::new(r#"<(/?)([A-Za-z][A-Za-z0-9]*)((?:\s+[\w:-]+(?:="[^"<>]*")?)*)\s*>"#).expect("it is one");
    tag.captures_iter(page).map(|found| (found[2].to_owned(), !found[1].is_empty(), found[3].to_owned())).collect()
}

fn attribute<'t>(attributes: &'t str, name: &str) -> Option<&'t str> {
    let start = attributes.find(&format!(" {name}=\""))? + name.len() + 3;
    attributes[start..].split('"').next()
}

#[test]
fn every_element_is_closed_in_its_place() {
    let (_, page) = demonstration();
    let body = page.strip_prefix("<!DOCTYPE html>").expect("it says what it is");
    let found = tags(body);
    assert_eq!(found.len(), body.matches('<').count(), "every `<` begins a whole tag");
    let mut open: Vec<&str> = Vec::new();
    for (name, closes, _) in &found {
        match (*closes, name.as_str()) {
            (false, "meta" | "br") => {}
            (false, name) => open.push(name),
            (true, name) => assert_eq!(open.pop(), Some(name)),
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn every_link_leads_somewhere_and_no_name_stands_twice() {
    let (formulary, page) = demonstration();
    let found = tags(&page);
    let ids: Vec<&str> = found.iter().filter_map(|(_, _, attributes)| attribute(attributes, "id")).collect();
    let unique: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), unique.len());
    let links: Vec<&str> = found.iter().filter_map(|(_, _, attributes)| attribute(attributes, "href")).collect();
    assert!(links.iter().all(|link| link.strip_prefix('#').is_some_and(|id| unique.contains(id))), "{links:?}");
    let drugs = formulary.load_all().expect("it has no fault");
    assert_eq!(ids.len(), drugs.len());
    let names = drugs.len() + drugs.iter().map(|drug| drug.other_names.len()).sum::<usize>();
    assert_eq!(links.len(), names, "each name of each drug is in the contents");
}

#[test]
fn nothing_is_fetched_and_nothing_runs() {
    let (_, page) = demonstration();
    let event = regex::Regex::new(r#" on[a-z]+=""#).expect("it is one");
    for (name, _, attributes) in tags(&page) {
        assert!(!["script", "link", "img", "iframe", "object", "embed", "form"].contains(&name.as_str()), "{name}");
        assert!(attribute(&attributes, "src").is_none() && !event.is_match(&attributes), "{name}{attributes}");
    }
    assert!(!page.contains("@import") && !page.contains("url("));
}

// hazard: H-CARD
#[test]
fn every_drawing_says_in_words_what_it_shows() {
    let (formulary, page) = demonstration();
    let phases: usize = formulary
        .load_all()
        .expect("it has no fault")
        .iter()
        .flat_map(|drug| &drug.indications)
        .map(|indication| indication.phases.len())
        .sum();
    let found = tags(&page);
    let drawings: Vec<&str> = found
        .iter()
        .filter(|(name, closes, _)| name == "svg" && !closes)
        .map(|(_, _, attributes)| attribute(attributes, "aria-label").expect("it says what it shows"))
        .collect();
    assert_eq!(drawings.len(), phases);
    assert!(drawings.contains(
        &"noradrenaline, maintenance: usual 0.02 to 0.3 mcg/kg/min; soft 0.01 to 0.35 mcg/kg/min; hard to 3 mcg/kg/min, on a logarithmic scale"
    ));
    for drawing in drawings {
        assert!(drawing.contains("usual ") && drawing.contains("hard "), "{drawing}");
    }
}

// hazard: H-LIMITS
#[test]
fn every_limit_and_source_of_a_drug_is_on_its_page() {
    let (formulary, page) = demonstration();
    for drug in formulary.load_all().expect("it has no fault") {
        let start = page.find(&format!("<h2>{}</h2>", drug.name)).expect("it has a page");
        let of_drug = &page[start..page[start..].find("</article>").map_or(page.len(), |end| start + end)];
        let says = |text: &str| {
            let escaped = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;");
            assert!(of_drug.contains(&escaped), "{} is not on the page of {}", text, drug.name);
        };
        drug.other_names.iter().chain(&drug.looks_like).for_each(|name| says(name));
        assert_eq!(of_drug.contains("HIGH ALERT"), drug.high_alert, "{}", drug.name);
        assert_eq!(of_drug.contains("CONTROLLED"), drug.controlled, "{}", drug.name);
        says(&drug.review.by.to_string());
        says(&drug.life_origin.source);
        for stocked in &drug.strengths {
            says(&stocked.to_string());
            says(&stocked.origin.source);
        }
        for indication in &drug.indications {
            for (_, limits) in &indication.phases {
                for band in [Some(&limits.usual), limits.beyond.soft.as_ref(), limits.beyond.hard.as_ref()] {
                    let Some(band) = band else { continue };
                    says(&band.origin.source);
                    band.to.iter().for_each(|to| says(&to.to_string()));
                    band.from.iter().for_each(|from| says(&from.number().to_string()));
                }
            }
        }
        assert!(of_drug.contains("NOT FOR PATIENTS") && of_drug.contains("NOT A SET-UP CARD"), "{}", drug.name);
    }
}

#[test]
fn it_is_written_into_a_file() {
    let file = folder("book").join("book.html");
    let said = run(["formulary", "book", "demonstration", "-o"]).arg(&file).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    let written = std::fs::read_to_string(&file).expect("it was written");
    assert_eq!(written, demonstration().1);
}

// Who signs the book reads first what somebody lets stand against the lint.
// hazard: H-LIMITS
#[test]
fn what_is_accepted_stands_on_the_first_page() {
    let (formulary, page) = demonstration();
    let first = page.split("<h2>Contents</h2>").next().expect("a first page");
    let drugs = formulary.load_all().expect("it has no fault");
    let exceptions: Vec<_> = drugs.iter().flat_map(|drug| &drug.exceptions).collect();
    assert!(exceptions.len() > 2, "{exceptions:?}");
    for one in exceptions {
        assert!(
            [&one.at, &one.value, &one.code, &one.why, &one.by].iter().all(|text| first.contains(*text)),
            "{one:?}"
        );
    }
}
