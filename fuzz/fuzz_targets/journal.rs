//! Any bytes as what was exported from a journal, and as its checkpoints: they are read, or refused.
#![no_main]

use std::io::Cursor;
use std::sync::OnceLock;

use countersign::journal::Journal;
use countersign::quantity::Moment;
use libfuzzer_sys::fuzz_target;

static FOLDER: OnceLock<std::path::PathBuf> = OnceLock::new();

thread_local! {
    static JOURNAL: Journal = Journal::open(folder()).expect("just made");
}

fn folder() -> &'static std::path::Path {
    FOLDER.get_or_init(|| {
        let folder = std::env::temp_dir().join(format!("countersign-fuzz-{}", std::process::id()));
        let now = Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment");
        Journal::create(&folder, true, now).expect("a folder for temporary files");
        folder
    })
}

fuzz_target!(|bytes: &[u8]| {
    JOURNAL.with(|journal| {
        let _ = journal.exported_heads(&mut Cursor::new(bytes));
        if let Ok(text) = std::str::from_utf8(bytes) {
            let _ = journal.checkpoints(text);
        }
    });
});
