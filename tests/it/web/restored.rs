//! A restore is said as what it is: neither damage, nor silently fine.

use std::path::{Path, PathBuf};

use countersign::case::Cases;
use countersign::journal::{CheckpointPlace, Journal};
use countersign::quantity::Moment;

use crate::common::{copy, run};
use crate::web::ward::{Browser, IDOWU, Ward};
use crate::web::watched::{lines, until, watching_at};

fn at(clock: &str) -> Moment {
    Moment::parse(&format!("2026-03-14T{clock}:00+00:00")).expect("a moment")
}

/// So many events more, which make the next checkpoint due.
fn writes_a_hundred(journal: &Path, clock: &str) {
    let mut cases = Cases::of(Journal::open(journal).expect("the journal"));
    for _ in 0..100 {
        cases.open(at(clock), None).expect("room");
    }
}

/// What the first page says, once the journal was verified.
async fn first_page(journal: &Path, places: Vec<CheckpointPlace>, clock: &str) -> (String, String) {
    let router = watching_at(journal, places, at(clock));
    let mut browser = Browser::signed_in(&router, IDOWU).await;
    for _ in 0..600 {
        let metrics = browser.get("/metrics").await.text;
        if metrics.contains("countersign_journal_whole ") {
            return (browser.get("/").await.text, metrics);
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    panic!("it was never verified")
}

// hazard: H-RECORD
#[tokio::test(flavor = "multi_thread")]
async fn after_a_restore_the_first_page_says_what_was_lost_and_an_end_cut_off_later_is_still_damage() {
    let ward = Ward::new("restored");
    let beside = |name: &str| -> PathBuf { ward.journal.with_file_name(name) };
    let (kept, backup, passphrase) = (beside("kept"), beside("backup.age"), beside("passphrase"));
    std::fs::create_dir(&kept).expect("room");
    std::fs::write(&passphrase, "four words drawn at random\n").expect("room");
    let places = || vec![CheckpointPlace::Folder(kept.clone())];
    let before = {
        let router = watching_at(&ward.journal, places(), at("07:50"));
        let _signed_in = Browser::signed_in(&router, IDOWU).await;
        until("a checkpoint at the start", || lines(&kept, false) == 1);
        let accesses = || Journal::open(&ward.journal).expect("ours").accesses().and_then(|log| log.head());
        until("the sign-in is written down", || accesses().expect("ours").is_some());
        let said = run(["journal", "backup", "--at", "2026-03-14T07:55:00+00:00", "--passphrase-file"])
            .arg(&passphrase)
            .arg("--journal")
            .arg(&ward.journal)
            .arg(&backup)
            .said();
        assert_eq!(said.code, 0, "{said:?}");
        let ends = Journal::open(&ward.journal).expect("ours").head().expect("a head").seq;
        writes_a_hundred(&ward.journal, "08:00");
        until("a checkpoint after the backup", || lines(&kept, false) == 2);
        ends
    };
    let restored = beside("restored");
    let said = run(["journal", "restore", "--at", "2026-03-14T08:10:00+00:00", "--passphrase-file"])
        .arg(&passphrase)
        .args([&backup, &restored])
        .said();
    assert!(said.code == 0 && said.stdout.contains("the next event says that"), "{said:?}");
    let as_restored = beside("as-restored");
    copy(&restored, &as_restored);
    let file = std::fs::read_dir(&kept).expect("ours").flatten().map(|file| file.path());
    let file = file.into_iter().find(|path| !path.to_string_lossy().contains("-accesses")).expect("one");
    let verified = run(["journal", "verify", "--checkpoint"]).arg(&file).arg("--journal").arg(&restored).said();
    let says = verified.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(verified.code == 0 && says.contains("RESTORED: The journal was restored at"), "{verified:?}");

    let (page, metrics) = first_page(&restored, places(), "08:20").await;
    assert!(page.contains(&format!("The journal was restored at {}", at("08:10").local())), "{page}");
    assert!(page.contains(&format!("from a backup made at {}", at("07:55").local())), "{page}");
    assert!(page.contains(&format!("which ends with event {before}.")) && page.contains("events are lost"), "{page}");
    assert!(!page.contains("as it was written"), "{page}");
    assert!(metrics.contains("countersign_journal_whole 1"), "{metrics}");
    // Who looked before came with it.
    assert!(page.contains(&format!("You signed in last at {}", at("07:50").local())), "{page}");
    until("checkpoints go on", || lines(&kept, false) == 3);
    writes_a_hundred(&restored, "08:21");
    let router = watching_at(&restored, places(), at("08:22"));
    until("a checkpoint of the restored journal", || lines(&kept, false) == 4);
    drop(router);

    // An older copy of the restored journal is no restore.
    let (page, metrics) = first_page(&as_restored, places(), "08:30").await;
    assert!(page.contains(": events were taken away, or an older copy was put back"), "{page}");
    assert!(metrics.contains("countersign_journal_whole 0"), "{metrics}");

    // In a place that knows nothing of what was lost, it is said for two weeks.
    let empty = beside("empty");
    std::fs::create_dir(&empty).expect("room");
    let places = || vec![CheckpointPlace::Folder(empty.clone())];
    let (page, _) = first_page(&restored, places(), "08:40").await;
    assert!(page.contains("What was written after the backup is not in it."), "{page}");
    std::fs::remove_dir_all(&empty).expect("ours");
    let router = watching_at(&restored, Vec::new(), Moment::parse("2026-03-29T08:40:00+00:00").expect("a moment"));
    let mut browser = Browser::signed_in(&router, IDOWU).await;
    let mut metrics = String::new();
    while !metrics.contains("countersign_journal_whole 1") {
        metrics = browser.get("/metrics").await.text;
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    assert!(!browser.get("/").await.text.contains("was restored"));
    assert!(browser.get("/journal").await.text.contains("RESTORED: "), "the page Journal says it always");
}
