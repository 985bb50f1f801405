//! Another house's formulary: the demonstration with text replaced, in a folder of its own for as long as it is needed.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use countersign::formulary::{Approval, Formulary, PERSON_STATEMENT, Signing};
use countersign::quantity::parse_date;
use ed25519_dalek::{Signer as _, SigningKey};

/// A copy of the demonstration, removed when it is dropped.
pub(crate) struct House(PathBuf);

impl House {
    /// The demonstration as it is.
    pub(crate) fn new() -> Self {
        static COUNT: AtomicUsize = AtomicUsize::new(0);
        let name = format!("house-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        fs::create_dir_all(folder.join("drugs")).expect("the folder for temporary files can be written");
        let house = Self(folder);
        let demonstration = Path::new(env!("CARGO_MANIFEST_DIR")).join("formulary");
        for sub in ["", "drugs"] {
            for file in fs::read_dir(demonstration.join(sub)).expect("the demonstration is there") {
                let path = file.expect("it can be listed").path();
                if path.is_file() {
                    let name = path.file_name().expect("a file has a name");
                    fs::copy(&path, house.0.join(sub).join(name)).expect("the file can be copied");
                }
            }
        }
        house
    }

    pub(crate) fn folder(&self) -> &Path {
        &self.0
    }

    /// Replaces text that stands in the file exactly once.
    pub(crate) fn change(self, file: &str, from: &str, to: &str) -> Self {
        let text = self.read(file);
        assert_eq!(text.matches(from).count(), 1, "{from:?} stands once in {file}");
        self.write(file, &text.replace(from, to))
    }

    /// Replaces text wherever it stands in the file.
    pub(crate) fn everywhere(self, file: &str, from: &str, to: &str) -> Self {
        let text = self.read(file);
        assert!(text.contains(from), "{from:?} stands in {file}");
        self.write(file, &text.replace(from, to))
    }

    pub(crate) fn write(self, file: &str, text: &str) -> Self {
        let path = self.0.join(file);
        fs::create_dir_all(path.parent().expect("it is in a folder")).expect("a folder can be made");
        fs::write(path, text).expect("the file can be written");
        self
    }

    pub(crate) fn remove(self, file: &str) -> Self {
        fs::remove_file(self.0.join(file)).expect("the file is there");
        self
    }

    /// The demonstration with a hard lower limit, which noradrenaline has none of.
    pub(crate) fn with_a_hard_lower_limit() -> &'static Formulary {
        let soft = "soft: {from: 0.01 mcg/kg/min, to: 0.35 mcg/kg/min, source: demonstration value}\n          hard: {";
        Self::new().change("drugs/noradrenaline.yaml", soft, &format!("{soft}from: 0.005 mcg/kg/min, ")).leak()
    }

    /// A hospital's own, not for demonstration: one area, one drug, and every limit with its source. Nobody approved it.
    pub(crate) fn hospital() -> Self {
        let mut house = Self::new().change("formulary.yaml", "demonstration: true", "demonstration: false");
        for drug in fs::read_dir(house.0.join("drugs")).expect("it was copied") {
            let name = drug.expect("it can be listed").file_name();
            house = house.remove(&format!("drugs/{}", name.display()));
        }
        house.write("areas.yaml", AREAS).write("drugs/noradrenaline.yaml", NORADRENALINE)
    }

    /// Signed by an author, as it is now; and by a second pharmacist.
    pub(crate) fn approve(self) -> Self {
        let text = self.author().and_second(&signing("S. Naidoo", 2)).expect("two people").text();
        self.write("approval.yaml", &text)
    }

    /// Signed by an author, as it is now.
    pub(crate) fn author(&self) -> Approval {
        Approval::by_author(&signing("R. Achterberg", 1), None, self.opened().fingerprint())
    }

    /// Read to the end, so that the folder may go.
    pub(crate) fn opened(&self) -> Formulary {
        Formulary::open(&self.0).unwrap_or_else(|faulty| panic!("{faulty:#?}"))
    }

    /// For the rest of the tests: a set-up borrows its formulary.
    pub(crate) fn leak(self) -> &'static Formulary {
        let formulary = Box::leak(Box::new(self.opened()));
        formulary.load_all().unwrap_or_else(|faulty| panic!("{faulty:#?}"));
        formulary
    }

    fn read(&self, file: &str) -> String {
        fs::read_to_string(self.0.join(file)).expect("the file is there")
    }
}

impl Drop for House {
    fn drop(&mut self) {
        // What is left behind lies in the build's own folder for temporary files.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Somebody who signs on a day, with a key of their own.
fn signing(name: &'static str, key: u8) -> Signing<'static> {
    let keys: &'static SigningKey = Box::leak(Box::new(SigningKey::from_bytes(&[key; 32])));
    let sign: &'static dyn Fn(&[u8]) -> [u8; 64] =
        Box::leak(Box::new(move |said: &[u8]| keys.sign(&[PERSON_STATEMENT, said].concat()).to_bytes()));
    let on = parse_date("2026-01-16").expect("a day");
    Signing { name, on, key: keys.verifying_key().to_bytes(), sign }
}

const AREAS: &str = "adult theatre:
  age: {from: 16 years}
  weight:
    soft: {from: 40 kg, to: 150 kg, source: weights of an invented house}
    hard: {from: 30 kg, to: 250 kg, source: weights of an invented house}
  standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench}
  unstarted_entry_expires: 12 h
";

const NORADRENALINE: &str = "drug: noradrenaline
other_names: [norepinephrine]
class: vasopressor
mass_shown_as: mcg
life_after_drawing_up: {time: 24 h, source: house}
review: {by: 2099-12-31, justify_from: 2099-12-31}
sources:
  house:
    title: Paper of an invented hospital
    section: Vasopressors
strengths:
  single: {amount: 4 mg, volume: 50 mL, source: house, recipe: {ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}}
areas:
  adult theatre:
    vasopressor:
      dose_unit: mcg/kg/min
      dosing_weights: [actual]
      strengths: [single]
      phases:
        maintenance:
          usual: {from: 0.06 mcg/kg/min, to: 0.3 mcg/kg/min, source: house}
          soft: {from: 0.06 mcg/kg/min, to: 0.5 mcg/kg/min, source: house}
          hard: {to: 2.9 mcg/kg/min, source: house}
";
