//! Every command with its options, from the command line's own description, as one page of Markdown.

use clap::{Arg, ArgAction, Command, CommandFactory as _};

use super::reference::{MADE, paragraph};
use crate::cli::Cli;
use crate::diagnostic::explained::CodeFamily;

const ABOUT: &str = "\
Every command, with what it takes. Answers go to standard output, refusals to standard error. `--help` after a command \
shows the same.";

pub(super) fn markdown() -> String {
    let mut page =
        format!("{MADE}\n\n# Commands\n\n{}\n## Exit codes\n\nThe first that applies.\n\n", paragraph(ABOUT));
    page += "| code | meaning | what to do |\n| --- | --- | --- |\n";
    for exit in CodeFamily::Exit.codes() {
        page += &format!("| {} | {} {} | {} |\n", exit.code, exit.means, exit.matters, exit.to_do);
    }
    let mut root = Cli::command();
    root.build();
    for command in root.get_subcommands() {
        section(command, &mut page);
    }
    page
}

/// One command, then its own.
fn section(command: &Command, page: &mut String) {
    if command.is_hide_set() || command.get_name() == "help" {
        return;
    }
    let name = command.get_bin_name().unwrap_or(command.get_name());
    *page += &format!("\n## {name}\n\n");
    if let Some(about) = command.get_long_about().or_else(|| command.get_about()) {
        *page += &paragraph(&about.to_string());
    }
    if command.has_subcommands() {
        command.get_subcommands().for_each(|command| section(command, page));
        return;
    }
    let usage = command.clone().render_usage().to_string();
    *page += &format!("\n```\n{}\n```\n", usage.trim_start_matches("Usage: ").trim_end());
    let options: Vec<&Arg> = command.get_arguments().filter(|arg| !arg.is_hide_set() && !is_help(arg)).collect();
    if !options.is_empty() {
        *page += "\n| option | what |\n| --- | --- |\n";
        options.iter().for_each(|arg| *page += &format!("| `{arg}` | {} |\n", cell(&what(arg))));
    }
}

fn is_help(arg: &Arg) -> bool {
    matches!(arg.get_action(), ArgAction::Help | ArgAction::HelpLong | ArgAction::HelpShort | ArgAction::Version)
}

/// What it is for, which words it takes, and what is taken where it is left out.
fn what(arg: &Arg) -> String {
    let mut what = arg.get_help().map(ToString::to_string).unwrap_or_default();
    let takes_value = arg.get_action().takes_values();
    let words: Vec<String> =
        arg.get_possible_values().iter().filter(|_| takes_value).map(|word| format!("`{}`", word.get_name())).collect();
    if !words.is_empty() {
        what += &format!(" ({})", words.join(", "));
    }
    let default: Vec<_> = arg.get_default_values().iter().map(|value| value.to_string_lossy()).collect();
    if takes_value && !default.is_empty() {
        what += &format!(" \\[default: {}]", default.join(", "));
    }
    if let Some(variable) = arg.get_env() {
        what += &format!(" \\[also: {}]", variable.to_string_lossy());
    }
    what
}

/// One line, without what would end the cell.
fn cell(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").replace('|', "\\|")
}
