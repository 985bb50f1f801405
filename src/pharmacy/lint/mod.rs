//! What a pharmacist should look at again. In: the files of a formulary and the moment. Out: a [`Report`] with every fault
//! of the readers and every remark of the rules, one rule per file in `rules/`, each with its place; and, where only
//! the spelling of a unit or a number is wrong, the text that mends it.

mod fix;
mod patients;
mod report;
mod rule;
mod rules;
mod spelling;

use std::collections::BTreeMap;

use crate::diagnostic::{Fault, Level, Source};
use crate::document::{DRUG_LIMIT, read_yaml};
use crate::formulary::{Drug, Files, Formulary};
use crate::quantity::Moment;

pub use fix::{FixError, Mended, TextFix, mend, write};
pub use report::{Counts, File, Report};
pub use rule::{Code, Remark, Rule};
pub use spelling::QUANTITIES;

use rule::{AllSeen, DrugSeen, FileSeen, Looks, Reason, Remarks};

/// Every rule, in the order in which a person would look.
pub fn rules() -> impl Iterator<Item = &'static Rule> {
    rules::RULES.iter()
}

/// Every kind of remark.
pub fn codes() -> impl Iterator<Item = &'static Code> {
    rules().flat_map(|rule| rule.codes.iter().copied())
}

/// Looks at every file of a formulary; a faulty one, and one that could not be read at all, hides nothing of the others.
#[must_use]
pub fn lint(mut files: Files, now: Moment) -> Report {
    let unreadable = files.take_out_unreadable();
    let report = lint_readable(files, now);
    if unreadable.is_empty() { report } else { report.with(unreadable) }
}

fn lint_readable(files: Files, now: Moment) -> Report {
    match Formulary::of_files(files) {
        Ok(formulary) => lint_whole(&formulary, now),
        // A faulty approval keeps nothing else from being read.
        Err((files, faulty)) => match Formulary::of_files(files.without_approval()) {
            Ok(formulary) => lint_whole(&formulary, now).with(faulty.0),
            Err((files, _)) => lint_parts(&files, faulty.0),
        },
    }
}

/// Where areas, equipment or house rules cannot be used, no drug can be read either: what is left is each file's text.
fn lint_parts(files: &Files, faulty: Vec<(Source, Vec<Fault>)>) -> Report {
    let mut remarks = Remarks::default();
    for (path, text) in files.iter() {
        let mut ignored = Vec::new();
        if let Some(root) = read_yaml(text, DRUG_LIMIT, &mut ignored) {
            look_at_file(&FileSeen { path, root: &root }, &mut remarks);
        }
    }
    Report::new(files, faulty, remarks.into_inner(), 0, None)
}

fn lint_whole(formulary: &Formulary, now: Moment) -> Report {
    let mut remarks = Remarks::default();
    for path in ["formulary.yaml", "areas.yaml", "equipment.yaml"] {
        let mut ignored = Vec::new();
        let text = formulary.texts().text(path).unwrap_or_default();
        if let Some(root) = read_yaml(text, DRUG_LIMIT, &mut ignored) {
            look_at_file(&FileSeen { path, root: &root }, &mut remarks);
        }
    }
    formulary.each_drug_file(|file| {
        let Some(root) = file.root else { return };
        let first = remarks.len();
        look_at_file(&FileSeen { path: file.path, root }, &mut remarks);
        if let Ok(drug) = file.read {
            let seen = DrugSeen { formulary, now, drug, root };
            for rule in rules() {
                if let Looks::Drug(look) = rule.looks {
                    look(&seen, &mut remarks);
                }
            }
        }
        remarks.place_from(first, root);
    });
    let faulty = match formulary.load_all() {
        Ok(drugs) if drugs.is_empty() => {
            let fault = Fault::new("drug-none", "the folder `drugs` holds no drug: every set-up would be stopped");
            let help = "write a file for each drug; `countersign formulary new` shows one";
            vec![(formulary.texts().source("formulary.yaml"), vec![fault.help(help)])]
        }
        Ok(_) => Vec::new(),
        Err(faulty) => faulty.0,
    };
    let drugs = formulary.usable();
    let seen = AllSeen { formulary, drugs: &drugs };
    for rule in rules() {
        if let Looks::All(look) = rule.looks {
            look(&seen, &mut remarks);
        }
    }
    accept(&drugs, &mut remarks);
    place_the_rest(formulary.texts(), &mut remarks);
    Report::new(formulary.texts(), faulty, remarks.into_inner(), drugs.len(), Some(formulary.standing().clone()))
}

fn look_at_file(seen: &FileSeen<'_>, remarks: &mut Remarks) {
    for rule in rules() {
        if let Looks::File(look) = rule.looks {
            look(seen, remarks);
        }
    }
}

/// What was found beside other files gets its place: each such file is read once more.
fn place_the_rest(files: &Files, remarks: &mut Remarks) {
    let mut without: BTreeMap<String, Vec<&mut Remark>> = BTreeMap::new();
    for remark in remarks.iter_mut().filter(|remark| remark.fault.range.is_none()) {
        without.entry(remark.file.clone()).or_default().push(remark);
    }
    for (file, remarks) in without {
        let mut ignored = Vec::new();
        if let Some(root) = files.text(&file).and_then(|text| read_yaml(text, DRUG_LIMIT, &mut ignored)) {
            remarks.into_iter().for_each(|remark| remark.place_in(&root));
        }
    }
}

/// Gives each remark its written reason, and remarks on reasons that answer nothing.
fn accept(drugs: &[&Drug], remarks: &mut Remarks) {
    for drug in drugs {
        for one in &drug.accepted {
            let keys = ["accepted", &one.code];
            let reason = Reason { code: &one.code, keys: &keys, is_exception: false };
            let answers = |remark: &Remark| remark.code.level != Level::Error && remark.code.id == one.code;
            answer(drug, &reason, answers, &one.reason, remarks);
        }
        for (index, one) in drug.exceptions.iter().enumerate() {
            let index = format!("[{index}]");
            let keys = ["exceptions", &index];
            let reason = Reason { code: &one.code, keys: &keys, is_exception: true };
            let answers = |remark: &Remark| {
                remark.value.as_ref().is_some_and(|value| one.answers(remark.code.id, &remark.fault.field, value))
            };
            answer(drug, &reason, answers, &format!("{} ({})", one.why, one.by), remarks);
        }
    }
}

fn answer(drug: &Drug, reason: &Reason<'_>, answers: impl Fn(&Remark) -> bool, why: &str, remarks: &mut Remarks) {
    let mut answered = false;
    for remark in remarks.iter_mut().filter(|remark| remark.file == drug.file && answers(remark)) {
        remark.accepted = Some(why.to_owned());
        answered = true;
    }
    for rule in rules().filter(|_| !answered) {
        if let Looks::Unanswering(look) = rule.looks {
            look(drug, reason, remarks);
        }
    }
}
