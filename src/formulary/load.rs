//! A whole formulary: the small files are read at once, a drug only when it is asked for.

use std::borrow::Cow;
use std::collections::HashMap;
use std::ops::Range;
use std::path::Path;
use std::sync::OnceLock;

use crate::diagnostic::{Fault, Source};
use crate::document::{DRUG_LIMIT, Node, Value, read_yaml};

use super::approval::{Approval, ApprovalStatus, standing};
use super::area::Area;
use super::drug::Drug;
use super::equipment::Equipment;
use super::files::{APPROVAL, Files, Fingerprint};
use super::policy::Policy;
use super::read::{FileReading, FormVersion, read_areas, read_drug, read_equipment, read_policy, whole};

/// The hospital's drugs, areas, equipment and house rules.
#[derive(Debug)]
pub struct Formulary {
    files: Files,
    policy: Policy,
    areas: Vec<Area>,
    /// The name of each of them, folded.
    area_names: Vec<String>,
    equipment: Equipment,
    fingerprint: Fingerprint,
    standing: ApprovalStatus,
    approval: Option<Approval>,
    drugs: Vec<DrugFile>,
    /// Every name of every drug; filled when all of them are read.
    names: OnceLock<HashMap<String, usize>>,
}

/// A formulary that cannot be used: each file at fault, with all its faults.
#[derive(Debug, thiserror::Error)]
#[error("the formulary cannot be used: {} in {} file(s)", .0.iter().map(|(_, faults)| faults.len()).sum::<usize>(), .0.len())]
pub struct Faulty(pub Vec<(Source, Vec<Fault>)>);

/// What a typed name of a drug leads to.
#[derive(Debug)]
pub enum Lookup<'f> {
    /// The drug.
    Found(&'f Drug),
    /// No drug of that name, and names near it.
    Unknown {
        /// Names that were perhaps meant.
        near: Vec<String>,
    },
    /// The drug's file is at fault.
    Faulty(Faulty),
}

/// A drug file as it stands, and what was read from it.
#[derive(Debug)]
pub struct DrugText<'f> {
    /// Its path, from the formulary folder on.
    pub path: &'f str,
    /// Its text.
    pub source: &'f Source,
    /// Its tree, if it can be read as one.
    pub root: Option<&'f Node<'f>>,
    /// The drug, or every fault of the file.
    pub read: Result<&'f Drug, &'f [Fault]>,
}

#[derive(Debug, Clone)]
struct DrugFile {
    path: String,
    /// The name that the file's own name says.
    name: String,
    read: OnceLock<Result<Box<Drug>, Vec<Fault>>>,
}

impl Formulary {
    /// The demonstration formulary inside the program.
    ///
    /// # Errors
    /// [`Faulty`], which a test excludes.
    pub fn demonstration() -> Result<Self, Faulty> {
        Self::of(Files::demonstration())
    }

    /// The formulary in a folder.
    ///
    /// # Errors
    /// [`Faulty`] when a file that every set-up needs cannot be used.
    pub fn open(folder: &Path) -> Result<Self, Faulty> {
        Self::of(Files::of_folder(folder).map_err(Faulty)?)
    }

    /// A formulary whose files were kept, under the name that its places give. What its form asks for only since
    /// then may be missing: what runs by it must stay readable.
    ///
    /// # Errors
    /// [`Faulty`], as for a folder.
    pub fn kept(name: &str, files: Vec<(String, String)>) -> Result<Self, Faulty> {
        Self::read_from(Files::of_texts(name, files), FormVersion::Earlier).map_err(|(_, faulty)| faulty)
    }

    /// Every file with its text, to be kept: path from the folder on, sorted.
    #[must_use]
    pub fn files(&self) -> &[(String, String)] {
        &self.files.files
    }

    /// Names exactly these bytes, the approval among them: the fingerprint, and the SHA-256 of the approval where there
    /// is one. The same limits approved later are other bytes.
    #[must_use]
    pub fn edition(&self) -> String {
        match self.files.text(APPROVAL) {
            Some(approval) => format!("{}+{}", self.fingerprint, super::files::hex(approval.as_bytes())),
            None => self.fingerprint.to_string(),
        }
    }

    /// The formulary in these files.
    ///
    /// # Errors
    /// [`Faulty`], with the files, when one that every set-up needs cannot be used.
    pub fn of_files(files: Files) -> Result<Self, (Files, Faulty)> {
        Self::read_from(files, FormVersion::Current)
    }

    fn read_from(files: Files, version: FormVersion) -> Result<Self, (Files, Faulty)> {
        let mut faulty = files.unreadable();
        let policy = small_file(&files, "formulary.yaml", &mut faulty, true, |root, reading, faults| {
            read_policy(root, reading, version, faults)
        });
        let demonstration = policy.as_ref().is_none_or(|policy| policy.demonstration);
        let equipment = small_file(&files, "equipment.yaml", &mut faulty, true, |root, _, faults| {
            read_equipment(root, version, faults)
        });
        let areas = equipment.as_ref().and_then(|equipment| {
            small_file(&files, "areas.yaml", &mut faulty, demonstration, |root, reading, faults| {
                read_areas(root, reading, equipment, faults)
            })
        });
        let fingerprint = files.fingerprint();
        let approval = approval_in(&files, demonstration, &fingerprint, &mut faulty);
        let drugs = files.files.iter().filter_map(|(path, _)| DrugFile::of(path)).collect();
        match (policy, areas, equipment, approval, faulty.is_empty()) {
            (Some(policy), Some(areas), Some(equipment), Some((standing, approval)), true) => {
                let names = OnceLock::new();
                let area_names = areas.iter().map(|area| folded(&area.name).into_owned()).collect();
                Ok(Self { files, policy, areas, area_names, equipment, fingerprint, standing, approval, drugs, names })
            }
            _ => Err((files, Faulty(faulty))),
        }
    }

    /// The same formulary with another text of one file. Where that is a drug, only its file is read again.
    ///
    /// # Errors
    /// [`Faulty`], as for a folder.
    pub fn with_text(&self, path: &str, text: String) -> Result<Self, Faulty> {
        let files = self.files.clone().with_text(path, text);
        if !self.drugs.iter().any(|drug| drug.path == path) {
            return Self::of(files);
        }
        let fingerprint = files.fingerprint();
        let mut faulty = Vec::new();
        let approval = approval_in(&files, self.policy.demonstration, &fingerprint, &mut faulty);
        let Some((standing, approval)) = approval.filter(|_| faulty.is_empty()) else { return Err(Faulty(faulty)) };
        let again = |drug: &DrugFile| if drug.path == path { drug.unread() } else { drug.clone() };
        Ok(Self {
            files,
            policy: self.policy.clone(),
            areas: self.areas.clone(),
            area_names: self.area_names.clone(),
            equipment: self.equipment.clone(),
            fingerprint,
            standing,
            approval,
            drugs: self.drugs.iter().map(again).collect(),
            names: OnceLock::new(),
        })
    }

    fn of(files: Files) -> Result<Self, Faulty> {
        Self::of_files(files).map_err(|(_, faulty)| faulty)
    }

    /// The files it was read from.
    #[must_use]
    pub const fn texts(&self) -> &Files {
        &self.files
    }

    /// The house rules.
    #[must_use]
    pub const fn policy(&self) -> &Policy {
        &self.policy
    }

    /// Every area.
    #[must_use]
    pub fn areas(&self) -> &[Area] {
        &self.areas
    }

    /// The area that is typed so.
    #[must_use]
    pub fn area(&self, name: &str) -> Option<&Area> {
        let name = folded(name);
        self.areas.get(self.area_names.iter().position(|known| *known == *name)?)
    }

    /// Containers, lines, drivers.
    #[must_use]
    pub const fn equipment(&self) -> &Equipment {
        &self.equipment
    }

    /// The fingerprint of every file but the approval.
    #[must_use]
    pub const fn fingerprint(&self) -> &Fingerprint {
        &self.fingerprint
    }

    /// Whether exactly these bytes are approved.
    #[must_use]
    pub const fn standing(&self) -> &ApprovalStatus {
        &self.standing
    }

    /// Who signed it, whether it still stands or not.
    #[must_use]
    pub const fn approval(&self) -> Option<&Approval> {
        self.approval.as_ref()
    }

    /// The same limits as if they were approved: to count what they would do before anybody approves them. No card is
    /// ever made with it.
    pub(crate) fn taken_as_approved(self) -> Self {
        let on = self.policy.issued;
        Self { standing: ApprovalStatus::Approved { by: Vec::new(), on }, ..self }
    }

    /// The drug that is typed so, by its name or another of its names. Only files that hold the name are read.
    #[must_use]
    pub fn drug(&self, name: &str) -> Lookup<'_> {
        let name = folded(name);
        if let Some(names) = self.names.get() {
            return names.get(&*name).map_or_else(|| self.unknown(&name), |index| self.found(*index));
        }
        if let Some(index) = self.drugs.iter().position(|file| file.name == *name) {
            return self.found(index);
        }
        // A file that does not hold these letters anywhere cannot give them as another name of its drug.
        let mut faulty = None;
        for (index, file) in self.drugs.iter().enumerate() {
            if !self.files.text(&file.path).unwrap_or_default().contains(&*name) {
                continue;
            }
            match self.read(index) {
                Ok(drug) if drug.other_names.iter().any(|other| *other == *name) => return self.found(index),
                Ok(_) => {}
                // Perhaps it is this drug: its faults say more than that the name is not known.
                Err(_) => faulty = Some(index),
            }
        }
        faulty.map_or_else(|| self.unknown(&name), |index| self.found(index))
    }

    /// Reads every drug, for a batch or to check the whole.
    ///
    /// # Errors
    /// [`Faulty`] with every file that cannot be used, and every name that leads to two drugs.
    pub fn load_all(&self) -> Result<Vec<&Drug>, Faulty> {
        let mut faulty = Vec::new();
        let mut drugs = Vec::new();
        let mut names: HashMap<String, usize> = HashMap::new();
        for path in &self.files.stray {
            let fault = Fault::new(
                "file-not-read",
                "nothing reads this file: a formulary reads `*.yaml`, and drugs only right in `drugs`",
            )
            .help("give it the ending .yaml, move it, or take it away");
            faulty.push((Source::new(format!("{}/{path}", self.files.folder), ""), vec![fault]));
        }
        for (index, file) in self.drugs.iter().enumerate() {
            match self.read(index) {
                Ok(drug) => {
                    let twice = drug.other_names.iter().chain([&drug.name]).find_map(|name| {
                        let first = names.insert(name.clone(), index)?;
                        let message = format!("the name `{name}` also leads to {}", self.drugs[first].path);
                        let fault = Fault::new("name-twice", message).help("let each name lead to one drug");
                        Some(match self.place_of_name(file, name) {
                            Some(range) => fault.at(range),
                            None => fault,
                        })
                    });
                    if let Some(fault) = twice {
                        faulty.push((self.files.source(&file.path), vec![fault]));
                    }
                    drugs.push(drug);
                }
                Err(faults) => faulty.push((self.files.source(&file.path), faults.to_vec())),
            }
        }
        if !faulty.is_empty() {
            return Err(Faulty(faulty));
        }
        let _ = self.names.set(names);
        Ok(drugs)
    }

    /// Where a name of a drug stands in its file.
    fn place_of_name(&self, file: &DrugFile, name: &str) -> Option<Range<usize>> {
        let root = read_yaml(self.files.text(&file.path)?, DRUG_LIMIT, &mut Vec::new())?;
        let others = root.member("other_names").into_iter().flat_map(|member| match &member.node.value {
            Value::List(names) => names.as_slice(),
            _ => &[],
        });
        let names = others.chain(root.member("drug").map(|member| &member.node));
        let is_it = |node: &&Node<'_>| matches!(&node.value, Value::Text(text) if text.trim() == name);
        // Where it stands twice in one file, the second is one too many.
        names.filter(is_it).map(|node| node.range.clone()).next_back()
    }

    /// Every drug whose file has no fault of its own.
    #[must_use]
    pub fn usable(&self) -> Vec<&Drug> {
        (0..self.drugs.len()).filter_map(|index| self.read(index).ok()).collect()
    }

    fn found(&self, index: usize) -> Lookup<'_> {
        match self.read(index) {
            Ok(drug) => Lookup::Found(drug),
            Err(faults) => Lookup::Faulty(Faulty(vec![(self.files.source(&self.drugs[index].path), faults.to_vec())])),
        }
    }

    /// Shows every drug file as it stands beside what was read from it, one after the other.
    pub fn each_drug_file(&self, mut show: impl FnMut(&DrugText<'_>)) {
        for (index, file) in self.drugs.iter().enumerate() {
            let source = self.files.source(&file.path);
            let mut faults = Vec::new();
            let root = read_yaml(&source.text, DRUG_LIMIT, &mut faults);
            let _ = file.read.get_or_init(|| self.drug_in(file, &source, root.as_ref(), faults));
            let read = self.read(index);
            show(&DrugText { path: &file.path, source: &source, root: root.as_ref(), read });
        }
    }

    fn read(&self, index: usize) -> Result<&Drug, &[Fault]> {
        let file = &self.drugs[index];
        let read = file.read.get_or_init(|| {
            let source = self.files.source(&file.path);
            let mut faults = Vec::new();
            let root = read_yaml(&source.text, DRUG_LIMIT, &mut faults);
            self.drug_in(file, &source, root.as_ref(), faults)
        });
        read.as_deref().map_err(Vec::as_slice)
    }

    /// The drug in the tree of its file, unless there is any fault, of the tree or of the drug.
    fn drug_in(
        &self,
        file: &DrugFile,
        source: &Source,
        root: Option<&Node<'_>>,
        mut faults: Vec<Fault>,
    ) -> Result<Box<Drug>, Vec<Fault>> {
        let drug = root.and_then(|root| {
            let mut reading = FileReading::of(source, &file.path, self.policy.demonstration);
            let drug = read_drug(root, &mut reading, &self.areas, &mut faults)?;
            if drug.name != file.name {
                let at = root.member("drug").map(|member| member.node.range.clone()).unwrap_or_default();
                let message = format!("the file is called {}, and the drug `{}`", file.path, drug.name);
                let help = "let the file have the drug's name, in small letters, with - for a space";
                faults.push(Fault::new("drug-file-name", message).in_field("drug").at(at).help(help));
            }
            Some(Box::new(drug))
        });
        drug.filter(|_| faults.is_empty()).ok_or(faults)
    }

    fn unknown(&self, name: &str) -> Lookup<'_> {
        let mut near: Vec<(usize, &str)> =
            self.drugs.iter().map(|file| (strsim::osa_distance(&file.name, name), file.name.as_str())).collect();
        near.sort_unstable();
        // Only the nearest: names further off are often names that are taken for each other.
        let most = near.first().map_or(0, |(far, _)| *far).min(name.chars().count() / 3);
        Lookup::Unknown {
            near: near.into_iter().filter(|(far, _)| *far <= most).take(3).map(|(_, name)| name.to_owned()).collect(),
        }
    }
}

impl DrugFile {
    fn of(path: &str) -> Option<Self> {
        let name = path.strip_prefix("drugs/")?.strip_suffix(".yaml")?.replace('-', " ");
        Some(Self { path: path.to_owned(), name, read: OnceLock::new() })
    }

    fn unread(&self) -> Self {
        Self { path: self.path.clone(), name: self.name.clone(), read: OnceLock::new() }
    }
}

/// Whether these bytes are approved; a demonstration never is. Nothing where the approval cannot be read.
fn approval_in(
    files: &Files,
    demonstration: bool,
    fingerprint: &Fingerprint,
    faulty: &mut Vec<(Source, Vec<Fault>)>,
) -> Option<(ApprovalStatus, Option<Approval>)> {
    if demonstration {
        return Some((ApprovalStatus::Demonstration, None));
    }
    let mut faults = Vec::new();
    let approval = standing(files.text(APPROVAL), fingerprint, &mut faults);
    if !faults.is_empty() {
        faulty.push((files.source(APPROVAL), faults));
    }
    approval
}

/// Names are looked up in small letters, with single spaces.
fn folded(name: &str) -> Cow<'_, str> {
    let bytes = name.as_bytes();
    let mut before = b' ';
    let plain = bytes.iter().all(|byte| {
        let good = matches!(byte, b'!'..=b'@' | b'['..=b'~') || (*byte == b' ' && before != b' ');
        before = *byte;
        good
    });
    if plain && before != b' ' {
        Cow::Borrowed(name)
    } else {
        Cow::Owned(name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase())
    }
}

fn small_file<T>(
    files: &Files,
    path: &str,
    faulty: &mut Vec<(Source, Vec<Fault>)>,
    demonstration: bool,
    read: impl FnOnce(&Node<'_>, &FileReading<'_>, &mut Vec<Fault>) -> Option<T>,
) -> Option<T> {
    let source = files.source(path);
    let mut faults = Vec::new();
    let found = if files.text(path).is_some() {
        whole(&mut faults, |faults| {
            let root = read_yaml(&source.text, DRUG_LIMIT, faults)?;
            read(&root, &FileReading::of(&source, path, demonstration), faults)
        })
    } else if files.has(path) {
        None
    } else {
        let help = "a formulary holds formulary.yaml, areas.yaml, equipment.yaml and a folder drugs";
        faults.push(Fault::new("formulary-file-missing", format!("there is no {path}")).help(help));
        None
    };
    if !faults.is_empty() {
        faulty.push((source, faults));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(faulty: &Faulty) -> String {
        let lines = faulty.0.iter().flat_map(|(source, faults)| {
            faults.iter().map(|fault| {
                let line = fault.range.as_ref().map_or(0, |range| source.place(range.start).line);
                format!("{}:{line} [{}] {} {}\n", source.name, fault.code, fault.field, fault.message)
            })
        });
        lines.collect()
    }

    #[test]
    fn the_demonstration_has_no_fault() {
        let formulary = Formulary::demonstration().unwrap_or_else(|faulty| panic!("{}", shown(&faulty)));
        let drugs = formulary.load_all().unwrap_or_else(|faulty| panic!("{}", shown(&faulty)));
        assert!(drugs.len() >= 39);
    }

    #[test]
    fn other_names_lead_to_the_same_drug() {
        let formulary = Formulary::demonstration().expect("checked above");
        let by_name = |name| match formulary.drug(name) {
            Lookup::Found(drug) => drug.name.clone(),
            other => panic!("{other:?}"),
        };
        assert_eq!(by_name("Norepinephrine"), "noradrenaline");
        assert_eq!(by_name("adrenaline"), "adrenaline");
        formulary.load_all().expect("checked above");
        assert_eq!(by_name("norepinephrine"), "noradrenaline");
        assert!(matches!(formulary.drug("noradrenalin"), Lookup::Unknown { near } if near[0] == "noradrenaline"));
    }
}
