//! From the raw tree of a file to checked values. Every fault of a file is collected; none hides another.

mod areas;
mod drug;
mod equivalents;
mod equipment;
mod indication;
mod policy;
mod strengths;

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::sync::Arc;

use crate::diagnostic::{Fault, Source};
use crate::document::{Item, Node, Refusal, Typed};
use crate::quantity::{Ratio, Refused, clip};

use super::limits::{Band, Origin, SoftHard};

pub(super) use areas::read as read_areas;
pub(super) use drug::read as read_drug;
pub(super) use equipment::{FormVersion, read as read_equipment};
pub(super) use policy::read as read_policy;

/// The words for a value that was chosen and not read anywhere.
const DEMONSTRATION: &str = "demonstration value";

/// The file that is being read, and the sources that it names.
pub(super) struct FileReading<'s> {
    file: Arc<str>,
    source: &'s Source,
    /// A byte and its line: the next that is asked for mostly stands further on.
    last_line: Cell<(usize, usize)>,
    cited: BTreeMap<String, Arc<str>>,
    /// Whether a source is said in words, for want of a list of them.
    said_in_words: bool,
    used: RefCell<Vec<String>>,
    demonstration: Arc<str>,
    /// Whether chosen values may stand for read ones.
    is_demonstration: bool,
}

impl<'s> FileReading<'s> {
    /// `file` is the path from the formulary folder on.
    pub(super) fn of(source: &'s Source, file: &str, is_demonstration: bool) -> Self {
        Self {
            file: Arc::from(file),
            source,
            last_line: Cell::new((0, 1)),
            cited: BTreeMap::new(),
            said_in_words: !file.starts_with("drugs/"),
            used: RefCell::default(),
            demonstration: Arc::from(DEMONSTRATION),
            is_demonstration,
        }
    }

    /// Where a node stands, resting on a published source.
    fn origin(&self, node: &Node<'_>, source: Arc<str>) -> Origin {
        Origin { file: Arc::clone(&self.file), line: self.line_of(node.range.start), source }
    }

    fn line_of(&self, offset: usize) -> usize {
        let (from, line) = Some(self.last_line.get()).filter(|(from, _)| *from <= offset).unwrap_or((0, 1));
        let between = self.source.text.as_bytes().get(from..offset).unwrap_or_default();
        let line = line + between.iter().filter(|byte| **byte == b'\n').count();
        self.last_line.set((offset, line));
        line
    }

    /// Where a node stands that rests on nothing but the house's decision.
    fn own_origin(&self, node: &Node<'_>) -> Origin {
        self.origin(node, Arc::from("local policy"))
    }

    /// Reads `source:`: a key of the file's sources, or the words for a chosen value.
    fn cited(&self, typed: &Typed<'_, '_>) -> Result<Arc<str>, Refusal> {
        let key = typed.text().trim();
        if key == DEMONSTRATION {
            if !self.is_demonstration {
                let message = "a demonstration value stands in a formulary that is not for demonstration";
                return Err(Refusal::new("demonstration-value", message)
                    .help("write the value that counts here, with the source that it rests on"));
            }
            return Ok(Arc::clone(&self.demonstration));
        }
        // Only a drug's file lists its sources; elsewhere one is said in words.
        if self.said_in_words && key.chars().any(char::is_alphabetic) {
            return Ok(Arc::from(key));
        }
        let found = self.cited.get(key).map(Arc::clone).ok_or_else(|| {
            let known: Vec<&str> = self.cited.keys().map(String::as_str).collect();
            let or = if self.is_demonstration {
                format!("or {DEMONSTRATION}")
            } else {
                "a decision of the house is listed there too, as `committee: {title: ..., section: ...}`".to_owned()
            };
            Refusal::new("source-unknown", format!("the source `{}` is not in this file's `sources`", clip(key)))
                .help(format!("write one of: {}; {or}", known.join(", ")))
        })?;
        self.used.borrow_mut().push(key.to_owned());
        Ok(found)
    }
}

/// Reads an interval with its source. At least one side must be there, and the sides must be in order.
fn band<T: Copy>(
    item: Item<'_, '_, '_>,
    reading: &FileReading<'_>,
    mut parse: impl FnMut(&Typed<'_, '_>) -> Result<T, Refusal>,
    measure: impl Fn(T) -> Ratio,
) -> Option<Band<T>> {
    let node = item.node();
    let mut fields = item.fields()?;
    let from = fields.typed("from", &mut parse);
    let to = fields.typed("to", &mut parse);
    let source = fields.required("source", |typed| reading.cited(typed));
    if from.is_absent() && to.is_absent() {
        let refusal = Refusal::new("limit-empty", "a limit without `from` and without `to` limits nothing");
        fields.refuse("to", refusal.help("write at least one of them, or leave the limit out"));
    }
    let refused =
        matches!(from, crate::document::Presence::Refused) || matches!(to, crate::document::Presence::Refused);
    let (from, to) = (from.value(), to.value());
    if let (Some(low), Some(high)) = (from, to)
        && measure(low) > measure(high)
    {
        let refusal = Refusal::new("limits-out-of-order", "`from` is more than `to`");
        fields.refuse("from", refusal.help("write the smaller value in `from`"));
    }
    fields.no_others();
    let origin = reading.origin(node, source?);
    (!refused).then(|| Band::new(from, to, origin, measure))
}

/// Reads `soft` and `hard` intervals, hard outside soft.
fn soft_hard<T: Copy>(
    item: Option<Item<'_, '_, '_>>,
    reading: &FileReading<'_>,
    parse: impl Fn(&Typed<'_, '_>) -> Result<T, Refusal> + Copy,
    measure: impl Fn(T) -> Ratio + Copy,
) -> Option<SoftHard<T>> {
    let Some(item) = item else { return Some(SoftHard::NONE) };
    let mut fields = item.fields()?;
    let has = |found: &Option<Item<'_, '_, '_>>| found.is_some();
    let soft = fields.item("soft");
    let wants_soft = has(&soft);
    let soft = soft.and_then(|item| band(item, reading, parse, measure));
    let hard = fields.item("hard");
    let wants_hard = has(&hard);
    let hard = hard.and_then(|item| band(item, reading, parse, measure));
    if let (Some(soft), Some(hard)) = (&soft, &hard) {
        check_nested(&mut fields, ("soft", soft), ("hard", hard), measure);
    }
    fields.no_others();
    (wants_soft == soft.is_some() && wants_hard == hard.is_some()).then_some(SoftHard { soft, hard })
}

/// The outer interval must hold the inner one.
fn check_nested<T: Copy>(
    fields: &mut crate::document::Fields<'_, '_, '_>,
    (inner_name, inner): (&'static str, &Band<T>),
    (outer_name, outer): (&'static str, &Band<T>),
    measure: impl Fn(T) -> Ratio,
) {
    let low = inner.from.zip(outer.from).is_some_and(|(inner, outer)| measure(inner) < measure(outer));
    let high = inner.to.zip(outer.to).is_some_and(|(inner, outer)| measure(inner) > measure(outer));
    let crossed = inner.from.zip(outer.to).is_some_and(|(inner, outer)| measure(inner) > measure(outer))
        || inner.to.zip(outer.from).is_some_and(|(inner, outer)| measure(inner) < measure(outer));
    if low || high || crossed {
        let message = format!(
            "`{outer_name}` lies inside `{inner_name}`, which it should enclose: some of that can never be reached"
        );
        let refusal = Refusal::new("limits-out-of-order", message);
        fields.refuse(
            outer_name,
            refusal.help("the order is hard from, soft from, usual from, usual to, soft to, hard to"),
        );
    }
}

/// A parser of `quantity`, for a field.
fn by<T>(parse: impl Fn(&str) -> Result<T, Refused> + Copy) -> impl Fn(&Typed<'_, '_>) -> Result<T, Refusal> + Copy {
    move |typed| parse(typed.text()).map_err(Refusal::from)
}

/// One line of plain text.
fn plain(typed: &Typed<'_, '_>) -> Result<String, Refusal> {
    let text = typed.text().trim();
    if text.chars().any(char::is_control) {
        return Err(Refusal::new("text-control-character", "a control character stands in the text")
            .help("write it in one line of plain text"));
    }
    Ok(text.to_owned())
}

/// One word of a closed list.
fn word<T>(
    what: &'static str,
    words: &'static [&'static str],
    written: impl Fn(&str) -> Option<T>,
) -> impl Fn(&Typed<'_, '_>) -> Result<T, Refusal> {
    move |typed| {
        written(typed.text().trim()).ok_or_else(|| {
            Refusal::new("word-unknown", format!("`{}` is not a {what} that is known here", clip(typed.text())))
                .help(format!("write one of: {}", words.join(", ")))
        })
    }
}

/// `true` or `false`.
fn yes_or_no(typed: &Typed<'_, '_>) -> Result<bool, Refusal> {
    match typed.text().trim() {
        "true" => Ok(true),
        "false" => Ok(false),
        other => Err(Refusal::new("word-unknown", format!("`{}` is neither `true` nor `false`", clip(other)))
            .help("write `true` or `false`")),
    }
}

/// A small whole number.
fn count(typed: &Typed<'_, '_>) -> Result<usize, Refusal> {
    typed.text().trim().parse::<u8>().map(usize::from).map_err(|_| {
        Refusal::new("count-unknown", format!("`{}` is not a small whole number", clip(typed.text())))
            .help("write a whole number from 0 to 255")
    })
}

/// A list of plain texts; empty where the field is left out.
fn texts(item: Option<Item<'_, '_, '_>>) -> Option<Vec<String>> {
    match item {
        None => Some(Vec::new()),
        Some(item) => item.items()?.read(|item| item.text(plain)),
    }
}

/// Reads a file's root map, adding to `faults`; nothing when any fault was added.
pub(super) fn whole<T>(faults: &mut Vec<Fault>, read: impl FnOnce(&mut Vec<Fault>) -> Option<T>) -> Option<T> {
    let before = faults.len();
    let found = read(faults);
    found.filter(|_| faults.len() == before)
}
