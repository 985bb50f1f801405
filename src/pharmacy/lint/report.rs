//! Everything that was found, file by file, for a person at a terminal or for a program.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::diagnostic::terminal::{Palette, render_all};
use crate::diagnostic::{Fault, Level, Source, json as fault_json};
use crate::formulary::{ApprovalStatus, Files};

use super::rule::Remark;

/// What was found in a formulary.
#[derive(Debug)]
pub struct Report {
    /// The files in which anything was found, in the order of their paths.
    pub files: Vec<File>,
    /// How many drugs can be used.
    pub drugs: usize,
    /// How the formulary stands with its approval; nothing where a file that every set-up needs cannot be used.
    pub standing: Option<ApprovalStatus>,
}

/// What was found in one file.
#[derive(Debug)]
pub struct File {
    /// Its name and text.
    pub source: Source,
    /// What keeps it from being used.
    pub faults: Vec<Fault>,
    /// What should be looked at again, in the order of its lines.
    pub remarks: Vec<Remark>,
}

/// How much of each weight was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// The file cannot be used, or a limit in it is an error that nobody answers for.
    pub errors: usize,
    /// To be mended or accepted.
    pub warnings: usize,
    /// To be known.
    pub notes: usize,
    /// Remarks that have their written reason.
    pub accepted: usize,
}

impl Report {
    pub(super) fn new(
        files: &Files,
        faulty: Vec<(Source, Vec<Fault>)>,
        remarks: Vec<Remark>,
        drugs: usize,
        standing: Option<ApprovalStatus>,
    ) -> Self {
        let mut by_name: BTreeMap<String, File> = BTreeMap::new();
        for (source, faults) in faulty {
            File::of(&mut by_name, source).faults.extend(faults);
        }
        let mut by_file: BTreeMap<String, Vec<Remark>> = BTreeMap::new();
        for remark in remarks {
            by_file.entry(remark.file.clone()).or_default().push(remark);
        }
        for (path, remarks) in by_file {
            File::of(&mut by_name, files.source(&path)).remarks = remarks;
        }
        for file in by_name.values_mut() {
            // What the reader refuses is said once, by the reader.
            let refused: Vec<_> = file.faults.iter().filter_map(|fault| fault.range.clone()).collect();
            let overlaps = |remark: &Remark| {
                let range = remark.fault.range.clone().unwrap_or_default();
                refused.iter().any(|other| other.start < range.end && range.start < other.end)
            };
            file.remarks.retain(|remark| remark.fix.is_none() || !overlaps(remark));
            file.remarks.sort_by_key(|remark| remark.fault.range.as_ref().map_or(0, |range| range.start));
        }
        let found = by_name.into_values().filter(|file| !file.faults.is_empty() || !file.remarks.is_empty());
        Self { files: found.collect(), drugs, standing }
    }

    /// The same with faults of an approval, or of files that could not be read: whether it is approved is not known then.
    pub(super) fn with(mut self, faulty: Vec<(Source, Vec<Fault>)>) -> Self {
        let files = faulty.into_iter().map(|(source, faults)| File { source, faults, remarks: Vec::new() });
        self.files.splice(0..0, files);
        self.standing = None;
        self
    }

    /// Each error that nobody answers for, behind its file and line.
    pub fn unanswered_errors(&self) -> impl Iterator<Item = (String, &Fault)> {
        self.files.iter().flat_map(|file| {
            let unanswered =
                file.remarks.iter().filter(|remark| remark.accepted.is_none() && remark.code.level == Level::Error);
            let faults = file.faults.iter().chain(unanswered.map(|remark| &remark.fault));
            faults.map(|fault| {
                let line = fault.range.as_ref().map(|range| format!(" line {}", file.source.place(range.start).line));
                (format!("{}{}", file.source.name, line.unwrap_or_default()), fault)
            })
        })
    }

    /// How much of each weight was found.
    #[must_use]
    pub fn counts(&self) -> Counts {
        let mut counts = Counts::default();
        for file in &self.files {
            counts.errors += file.faults.len();
            for remark in &file.remarks {
                match (&remark.accepted, remark.code.level) {
                    (Some(_), _) => counts.accepted += 1,
                    (None, Level::Note) => counts.notes += 1,
                    (None, Level::Warning) => counts.warnings += 1,
                    (None, Level::Error) => counts.errors += 1,
                }
            }
        }
        counts
    }

    /// Every fault and every warning with its line, and every note and every accepted remark where there is no error:
    /// what keeps a file from being used is not to be looked for among them.
    #[must_use]
    pub fn text(&self, palette: Palette) -> String {
        let has_errors = self.counts().errors > 0;
        let mut drawn = Vec::new();
        for file in &self.files {
            let weight = |remark: &Remark| if remark.accepted.is_some() { Level::Note } else { remark.code.level };
            let remarks = file.remarks.iter().map(|remark| (weight(remark), remark.shown()));
            let remarks = remarks.filter(|(weight, _)| *weight > Level::Note || !has_errors);
            let faults = file.faults.iter().map(|fault| (Level::Error, fault.clone()));
            drawn.extend(render_all(&file.source, &faults.chain(remarks).collect::<Vec<_>>(), palette));
        }
        drawn.join("\n")
    }

    /// One line: how many drugs, what was found, and how it stands with its approval.
    #[must_use]
    pub fn summary(&self) -> String {
        let Counts { errors, warnings, notes, accepted } = self.counts();
        let mut line = format!("{} drug{}, ", self.drugs, if self.drugs == 1 { "" } else { "s" });
        let many = |count: usize, what: &str| match count {
            0 => None,
            1 => Some(format!("1 {what}")),
            _ => Some(format!("{count} {what}s")),
        };
        let mut found: Vec<String> =
            [many(errors, "error"), many(warnings, "warning"), many(notes, "note")].into_iter().flatten().collect();
        if accepted > 0 {
            found.push(format!("{accepted} accepted"));
        }
        line += &if errors + warnings == 0 {
            let rest = if found.is_empty() { String::new() } else { format!(" ({})", found.join(", ")) };
            format!("no problems{rest}")
        } else {
            found.join(", ")
        };
        if let Some(standing) = &self.standing {
            let _ = write!(line, "; approved by {}", standing.said());
        }
        line.push('\n');
        line
    }

    /// The same as data.
    #[must_use]
    pub fn json(&self) -> Value {
        let Counts { errors, warnings, notes, accepted } = self.counts();
        let with_file = |source: &Source, fault: &Fault| {
            let mut value = fault_json::fault(source, fault);
            value["file"] = source.name.clone().into();
            value
        };
        let faults: Vec<Value> =
            self.files.iter().flat_map(|file| file.faults.iter().map(|fault| with_file(&file.source, fault))).collect();
        let remarks: Vec<Value> = self
            .files
            .iter()
            .flat_map(|file| {
                file.remarks.iter().map(|remark| {
                    let mut value = with_file(&file.source, &remark.fault);
                    value["severity"] = remark.code.level.word().into();
                    value["fix"] = json!(remark.fix);
                    value["accepted"] = json!(remark.accepted);
                    value
                })
            })
            .collect();
        let mut answer = json!({ "version": 1 });
        let unanswered = |remark: &&Remark| remark.accepted.is_none() && remark.code.level == Level::Error;
        let first = self.files.iter().flat_map(|file| &file.faults).next();
        let first = first
            .or_else(|| self.files.iter().flat_map(|file| &file.remarks).find(unanswered).map(|remark| &remark.fault));
        if let Some(first) = first {
            answer["verdict"] = "refused".into();
            answer["error"] = first.message.clone().into();
        }
        answer["faults"] = faults.into();
        answer["remarks"] = remarks.into();
        answer["counts"] = json!({"errors": errors, "warnings": warnings, "notes": notes, "accepted": accepted});
        answer["drugs"] = self.drugs.into();
        answer["standing"] = json!(self.standing.as_ref().map(ApprovalStatus::said));
        answer
    }
}

impl File {
    fn of(by_name: &mut BTreeMap<String, Self>, source: Source) -> &mut Self {
        let file = by_name.entry(source.name.clone());
        file.or_insert_with(|| Self { source, faults: Vec::new(), remarks: Vec::new() })
    }
}

impl Remark {
    /// As it is drawn: with what `--fix` would write, or with the reason that it was accepted for.
    fn shown(&self) -> Fault {
        let mut fault = self.fault.clone();
        if let Some(reason) = &self.accepted {
            fault.message = format!("accepted: {}", fault.message);
            fault.help = Some(format!("the reason written in the file: {reason}"));
        } else if let Some(fix) = &self.fix {
            fault.help = Some(format!("write `{fix}`: `--fix` does it"));
        }
        fault
    }
}
