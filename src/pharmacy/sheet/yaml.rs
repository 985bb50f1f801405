//! A tree as YAML: one key a line, every text that could be read otherwise in quotes.

use super::SheetValue;
use super::tree::Tree;

/// The text of a file.
pub(super) fn text(tree: &Tree) -> String {
    let mut out = String::new();
    write(tree, 0, &mut out);
    out
}

fn write(tree: &Tree, depth: usize, out: &mut String) {
    match tree {
        Tree::Leaf(..) => {}
        Tree::Map(members) => {
            for (key, value) in members {
                out.push_str(&"  ".repeat(depth));
                out.push_str(&scalar(key));
                out.push(':');
                below(value, depth, out);
            }
        }
        Tree::List(items) => {
            for item in items {
                out.push_str(&"  ".repeat(depth));
                out.push('-');
                below(item, depth, out);
            }
        }
    }
}

fn below(value: &Tree, depth: usize, out: &mut String) {
    match value {
        Tree::Leaf(SheetValue::Value, text) => {
            out.push(' ');
            out.push_str(&scalar(text));
        }
        Tree::Leaf(SheetValue::EmptyList, _) => out.push_str(" []"),
        Tree::Leaf(SheetValue::EmptyMap, _) => out.push_str(" {}"),
        Tree::Leaf(SheetValue::Nothing, _) => {}
        Tree::Map(_) | Tree::List(_) => {
            out.push('\n');
            write(value, depth + 1, out);
            return;
        }
    }
    out.push('\n');
}

/// Plain where nobody, and no other reader, could take it for something else.
fn scalar(text: &str) -> String {
    let plain = text.starts_with(|c: char| c.is_ascii_alphanumeric())
        && text.chars().all(|c| c.is_alphanumeric() || " .,/%()+-;'".contains(c))
        && !text.ends_with(' ')
        && !["null", "true", "false", "yes", "no", "on", "off", "y", "n"].contains(&text.to_ascii_lowercase().as_str());
    if plain {
        return text.to_owned();
    }
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            '\n' => quoted.push_str("\\n"),
            '\t' => quoted.push_str("\\t"),
            '\r' => quoted.push_str("\\r"),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}
