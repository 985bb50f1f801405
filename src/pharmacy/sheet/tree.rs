//! Rows put together into one tree for each file; every row that does not fit is named.

use std::collections::BTreeMap;

use super::{BETWEEN, BadRow, PathStep, SheetRow, SheetValue};

/// A file as its rows say it. Keys stay in the order of the rows.
#[derive(Debug)]
pub(super) enum Tree {
    Leaf(SheetValue, String),
    Map(Vec<(String, Tree)>),
    List(Vec<Tree>),
}

/// One tree for each file.
pub(super) fn of_rows(rows: &[SheetRow]) -> Result<Vec<(String, Tree)>, Vec<BadRow>> {
    let mut bad = Vec::new();
    let mut trees: BTreeMap<&str, Tree> = BTreeMap::new();
    for (at, row) in rows.iter().enumerate() {
        let number = at + 2;
        let mut refuse = |code, message: String, help| bad.push(BadRow { row: number, code, message, help });
        if !is_file(&row.file) {
            let message = format!("`{}` is no file of a formulary", crate::quantity::clip(&row.file));
            refuse("sheet-file", message, "write formulary.yaml, areas.yaml, equipment.yaml or drugs/NAME.yaml");
            continue;
        }
        let Some(steps) = steps(&row.place) else {
            let message = format!("`{}` is no place in a file", crate::quantity::clip(&row.place));
            refuse(
                "sheet-place",
                message,
                "write the keys from the top of the file on, with ` > ` between them; `#1` is the first of a list",
            );
            continue;
        };
        let tree = trees.entry(&row.file).or_insert_with(|| Tree::of(&steps[0]));
        if let Err((code, message)) = tree.put(&steps, row) {
            refuse(
                code,
                message,
                "let each value have one row, and let the items of a list follow each other from #1 on",
            );
        }
    }
    if !bad.is_empty() {
        return Err(bad);
    }
    Ok(trees.into_iter().map(|(path, tree)| (path.to_owned(), tree)).collect())
}

impl Tree {
    /// What a first step goes into.
    const fn of(step: &PathStep) -> Self {
        match step {
            PathStep::Key(_) => Self::Map(Vec::new()),
            PathStep::Item(_) => Self::List(Vec::new()),
        }
    }

    fn put(&mut self, steps: &[PathStep], row: &SheetRow) -> Result<(), (&'static str, String)> {
        let place = crate::quantity::clip(&row.place);
        let Some((step, rest)) = steps.split_first() else {
            return Err(("sheet-twice", format!("{} has `{place}` twice", row.file)));
        };
        let new = || rest.first().map_or_else(|| Self::Leaf(row.what, row.value.clone()), Self::of);
        let (next, is_new) = match (self, step) {
            (Self::Map(members), PathStep::Key(key)) => match members.iter().position(|(known, _)| known == key) {
                Some(at) => (&mut members[at].1, false),
                None => {
                    members.push((key.clone(), new()));
                    (&mut members.last_mut().expect("just pushed").1, true)
                }
            },
            (Self::List(items), PathStep::Item(number)) if *number <= items.len() => (&mut items[*number - 1], false),
            (Self::List(items), PathStep::Item(number)) if *number == items.len() + 1 => {
                items.push(new());
                (items.last_mut().expect("just pushed"), true)
            }
            (Self::List(items), PathStep::Item(number)) => {
                let next = items.len() + 1;
                return Err(("sheet-gap", format!("`{place}` has #{number} where #{next} comes next")));
            }
            _ => {
                return Err((
                    "sheet-mixed",
                    format!("`{place}` stands where another row has a value, a list or a map"),
                ));
            }
        };
        if is_new && rest.is_empty() { Ok(()) } else { next.put(rest, row) }
    }
}

fn steps(place: &str) -> Option<Vec<PathStep>> {
    let step = |text: &str| match text.strip_prefix('#') {
        Some(number) => number.parse().ok().filter(|number| *number > 0).map(PathStep::Item),
        None if text.is_empty() || text.contains('>') || text.trim() != text => None,
        None => Some(PathStep::Key(text.to_owned())),
    };
    place.split(BETWEEN).map(step).collect()
}

/// Nothing but the files of a formulary is ever written.
fn is_file(path: &str) -> bool {
    let is_name = |name: &str| {
        name.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-') && !name.is_empty()
    };
    matches!(path, "formulary.yaml" | "areas.yaml" | "equipment.yaml")
        || path.strip_prefix("drugs/").and_then(|file| file.strip_suffix(".yaml")).is_some_and(is_name)
}
