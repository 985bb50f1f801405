//! The fields of a request as parts of a form, and a request out of a form that was sent.

use maud::{Markup, html};

use crate::case::actions::{Field, Request, Takes};
use crate::web::answer::Refusal;
use crate::web::sent::{TypedFields, said, text};

/// A request, by what was typed into its form.
pub(super) fn request<R: Request>(typed: &TypedFields) -> Result<R, Refusal> {
    Ok(R::typed(&|name| said(typed, name).map(str::to_owned))?)
}

/// One field of a request: `prefix` keeps two copies on one page apart.
pub(super) fn field<R: Request>(prefix: &str, name: &str, typed: Option<&TypedFields>) -> Markup {
    let known = R::FIELDS.iter().find(|field| field.name == name);
    known.map_or_else(Markup::default, |field| input(prefix, field, typed))
}

/// As [`field`], under other words.
pub(super) fn worded<R: Request>(
    prefix: &str,
    name: &str,
    (label, hint): (&'static str, &'static str),
    typed: Option<&TypedFields>,
) -> Markup {
    let known = R::FIELDS.iter().find(|field| field.name == name);
    known.map_or_else(Markup::default, |field| input(prefix, &Field { label, hint, ..*field }, typed))
}

fn input(prefix: &str, field: &Field, typed: Option<&TypedFields>) -> Markup {
    let was = typed.map_or("", |typed| text(typed, field.name));
    let id = format!("{prefix}-{}", field.name);
    let hint = format!("{id}-hint");
    html! {
        @if field.takes == Takes::Yes {
            label.choice { input type="checkbox" name=(field.name) value="yes" checked[was == "yes"]; span { (field.label) } }
        } @else {
            label for=(id) { (field.label) }
            @if !field.hint.is_empty() { p.hint id=(hint) { (field.hint) } }
            input id=(id) name=(field.name) value=(was) autocomplete="off" aria-describedby=[(!field.hint.is_empty()).then_some(hint)];
        }
    }
}
