//! Any bytes in a file of a formulary: something is said, nothing falls over, nothing hangs.

#[path = "../../../fuzz/common.rs"]
mod common;

use std::path::Path;
use std::time::{Duration, Instant};

use proptest::prelude::*;

use crate::lint::small::Small;

/// No file takes longer, on a slow machine and without optimisation.
const DEADLINE: Duration = Duration::from_secs(60);

#[track_caller]
fn in_time(path: &str, bytes: &[u8]) {
    let begun = Instant::now();
    common::parse(path, bytes);
    common::look(path, bytes);
    assert!(begun.elapsed() < DEADLINE, "{path} took {:?}", begun.elapsed());
}

// The same functions that are fuzzed, on what was kept.
#[test]
fn the_kept_bytes_do_no_harm() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/seeds");
    let mut count = 0;
    for file in std::fs::read_dir(folder).expect("the seeds are there") {
        let bytes = std::fs::read(file.expect("it can be listed").path()).expect("it can be read");
        let (which, rest) = bytes.split_first().expect("the first byte says which file");
        in_time(common::PATHS[usize::from(*which) % common::PATHS.len()], rest);
        count += 1;
    }
    assert!(count >= 15, "{count} seeds");
}

#[test]
fn a_file_as_long_as_is_read_does_not_hang() {
    let most = countersign::document::DRUG_LIMIT;
    let fill = |unit: &str| unit.repeat(most / unit.len());
    let names: String = (0..9000).map(|number| format!("n{number}, ")).collect();
    let strengths: String = (0..600)
        .map(|number| format!("  s{number}: {{amount: {} mg, volume: 50 mL, source: label}}\n", number + 1))
        .collect();
    for text in [
        fill("a: b\n"),
        fill("["),
        fill("{a: "),
        fill("- .5 ml\n"),
        format!("drug: noradrenaline\nother_names: [{names}]\n"),
        format!("drug: noradrenaline\nstrengths:\n{strengths}"),
        include_str!("house/drugs/noradrenaline.yaml").replace("strengths:\n", &format!("strengths:\n{strengths}")),
    ] {
        in_time("drugs/noradrenaline.yaml", text.as_bytes());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_do_no_harm(which in 0..common::PATHS.len(), bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        in_time(common::PATHS[which], &bytes);
    }

    #[test]
    fn any_text_does_no_harm(which in 0..common::PATHS.len(), text in "[a-z0-9 :{}\\[\\],.\\n\"'µ#&*!|>%@/-]{0,300}") {
        in_time(common::PATHS[which], text.as_bytes());
    }

    // Nearer to what people do: a good file with a piece of it changed, taken away or doubled.
    #[test]
    fn a_changed_file_does_no_harm(
        which in 0..4_usize,
        at in any::<prop::sample::Index>(),
        length in 0..40_usize,
        instead in prop_oneof![Just(String::new()), "[0-9.,]{1,8}", " ?[a-zµ%]{1,4}/?", "\\PC{1,6}", Just("\n".to_owned()), Just("{".to_owned())],
    ) {
        let house = Small::new();
        let files = house.files();
        let path = common::PATHS[which];
        let text = files.text(path).expect("the small house has it");
        let start = text.floor_char_boundary(at.index(text.len()));
        let end = text.ceil_char_boundary((start + length).min(text.len()));
        let changed = format!("{}{instead}{}", &text[..start], &text[end..]);
        in_time(path, changed.as_bytes());
    }
}
