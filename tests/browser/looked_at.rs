//! Every page at three widths: the checks of accessibility, targets for gloved fingers, nothing wider than the screen;
//! and a picture of it where `COUNTERSIGN_SCREENS` names a folder.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::browser::Person;

const AXE: &str = include_str!("axe.min.js");
/// Phone, tablet, desktop.
const WIDTHS: [(u32, u32); 3] = [(390, 844), (820, 1180), (1280, 900)];
/// As tall and wide as a finger needs, in CSS pixels (WCAG 2.2, 2.5.5); links inside a sentence may be lower (its exception).
const TOUCH: f64 = 44.0;

const SMALL: &str = r#"
    const of = [...document.querySelectorAll("a, button, summary, input:not([type=hidden]), label.choice")];
    return of.filter((one) => one.offsetParent !== null && !one.classList.contains("skip"))
        .filter((one) => !(one.matches("input[type=radio], input[type=checkbox]") && one.closest("label.choice")))
        .filter((one) => !(one.matches("a") && one.closest("p, li") && one.closest("p, li").innerText.trim() !== one.innerText.trim()
            && getComputedStyle(one).display === "inline"))
        .map((one) => [one.outerHTML.slice(0, 120), one.getBoundingClientRect()])
        .filter(([, box]) => box.height < arguments[0] - 0.5 || box.width < arguments[0] - 0.5)
        .map(([html, box]) => `${html} is ${box.width} by ${box.height}`);
"#;

/// Looks at the page that is open.
pub(crate) async fn looked_at(person: &Person, name: &str) {
    let mut wrong = Vec::new();
    for (width, height) in WIDTHS {
        person.page.set_window_size(width, height).await.expect("a size");
        let wide = person.page.execute("return [document.documentElement.scrollWidth, innerWidth]", Vec::new()).await;
        let wide = wide.expect("two numbers");
        if wide[0].as_u64() > wide[1].as_u64() {
            wrong.push(format!("at {width}: {} wide", wide[0]));
        }
        let small = person.page.execute(SMALL, vec![json!(TOUCH)]).await.expect("a list");
        wrong.extend(small.as_array().into_iter().flatten().map(|one| format!("at {width}: small: {one}")));
        wrong.extend(broken(person).await.into_iter().map(|one| format!("at {width}: {one}")));
        if let Some(folder) = std::env::var_os("COUNTERSIGN_SCREENS").map(PathBuf::from) {
            std::fs::create_dir_all(&folder).expect("room");
            let tall = person.page.execute("return document.documentElement.scrollHeight", Vec::new()).await;
            let tall = tall.expect("a number").as_u64().unwrap_or_default().min(6000);
            person
                .page
                .set_window_size(width, u32::try_from(tall).unwrap_or(height).max(height) + 140)
                .await
                .expect("a size");
            let picture = person.page.screenshot().await.expect("a picture");
            std::fs::write(folder.join(format!("{name}-{width}.png")), picture).expect("room");
        }
    }
    person.page.set_window_size(WIDTHS[1].0, WIDTHS[1].1).await.expect("a size");
    assert_eq!(wrong, [""; 0], "{name}");
}

/// Rules of accessibility that are broken, by axe-core.
async fn broken(person: &Person) -> Vec<String> {
    person.page.execute(&format!("{AXE}; window.axe = axe; return true"), Vec::new()).await.expect("axe");
    let asks = "const done = arguments[arguments.length - 1]; \
                axe.run().then((found) => done({broken: found.violations.map((one) => one.id + ': ' + one.nodes[0].html), \
                passed: found.passes.length})).catch((error) => done({error: String(error)}))";
    let found: Value = person.page.execute_async(asks, Vec::new()).await.expect("the checks ran");
    assert!(found["passed"].as_u64().is_some_and(|passed| passed > 5), "{found}");
    found["broken"].as_array().into_iter().flatten().map(|one| one.as_str().unwrap_or_default().to_owned()).collect()
}
