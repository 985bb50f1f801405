//! The machine's clock, held against one that only counts: where it jumps ahead, a person must say that it is right before
//! anything is signed that grows old by it. A clock that goes back is the journal's business.

use std::sync::Mutex;
use std::time::{Duration, Instant, SystemTime};

use super::site::locked;

/// A jump that is not larger is how clocks are set right every day (common practice, no source).
const JUMP: Duration = Duration::from_mins(10);

/// Two clocks, as they were when the time was not in doubt.
#[derive(Debug)]
pub(super) struct ClockWatch(Mutex<(Instant, SystemTime)>);

impl ClockWatch {
    pub(super) fn begun() -> Self {
        Self(Mutex::new((Instant::now(), SystemTime::now())))
    }

    /// Why the time is in doubt, where it is.
    pub(super) fn doubt(&self) -> Option<String> {
        self.doubt_at(Instant::now(), SystemTime::now())
    }

    fn doubt_at(&self, steady: Instant, wall: SystemTime) -> Option<String> {
        let mut since = locked(&self.0);
        let passed = steady.saturating_duration_since(since.0);
        let Ok(by_the_wall) = wall.duration_since(since.1) else {
            *since = (steady, wall);
            return None;
        };
        if by_the_wall < passed {
            // It was set back: from here on it is counted anew, so that the way forward again is noticed.
            *since = (steady, wall);
            return None;
        }
        let ahead = by_the_wall.saturating_sub(passed);
        (ahead > JUMP).then(|| format!("it jumped {} min ahead while the server ran", ahead.as_secs() / 60))
    }

    /// A person has looked at another clock: the time is right.
    pub(super) fn is_right(&self) {
        *locked(&self.0) = (Instant::now(), SystemTime::now());
    }

    /// As if the clock had jumped by so much.
    #[cfg(test)]
    pub(super) fn jump(&self, by: Duration) {
        let mut since = locked(&self.0);
        since.1 -= by;
    }
}

#[cfg(test)]
mod tests {
    use crate::case::{Author, Cases, Role, SubmittedForm, Task, add, unlock};
    use crate::formulary::Formulary;
    use crate::journal::{Journal, Of, Signer};
    use crate::quantity::Moment;
    use crate::web::{Clock, Site};
    use tower::ServiceExt as _;

    use super::*;

    // hazard: H-RECORD
    #[test]
    fn a_jump_ahead_is_in_doubt_until_it_is_confirmed_or_taken_back() {
        let watch = ClockWatch::begun();
        let (steady, wall) = *locked(&watch.0);
        let (minute, hour) = (Duration::from_mins(1), Duration::from_hours(1));
        assert_eq!(watch.doubt_at(steady + hour, wall + hour + 9 * minute), None);
        let doubt = watch.doubt_at(steady + 2 * hour, wall + 5 * hour).expect("three hours too many");
        assert_eq!(doubt, "it jumped 180 min ahead while the server ran");
        assert_eq!(watch.doubt_at(steady + 2 * hour, wall + 2 * hour + minute), None, "it was set right again");
        // Set back, and then forward again.
        assert_eq!(watch.doubt_at(steady + 3 * hour, wall), None);
        assert!(watch.doubt_at(steady + 3 * hour, wall + 3 * hour).is_some());
        watch.jump(hour);
        watch.is_right();
        assert_eq!(watch.doubt(), None);
        watch.jump(hour);
        assert!(watch.doubt().is_some());
    }

    /// A program is refused in words that name the address at which the time is confirmed, and confirms it there.
    async fn program_confirms(site: &std::sync::Arc<Site>, folder: &std::path::Path) {
        let router = crate::web::router(std::sync::Arc::clone(site));
        let asks = |method: &str, path: &str, token: &str, body: serde_json::Value| {
            let request = axum::http::Request::builder().method(method).uri(format!("/api/v1/{path}"));
            let request = request.header("content-type", "application/json");
            let request = request.header("authorization", format!("Bearer {token}"));
            let answer = router.clone().oneshot(request.body(axum::body::Body::from(body.to_string())).expect("one"));
            async move {
                let answer = answer.await.expect("an answer");
                let (status, body) = (answer.status().as_u16(), answer.into_body());
                let bytes = axum::body::to_bytes(body, 65_536).await.expect("a body");
                (status, serde_json::from_slice::<serde_json::Value>(&bytes).expect("JSON"))
            }
        };
        let who = serde_json::json!({"name": "A. Idowu", "pin": "281940"});
        let token = asks("POST", "sign-in", "", who).await.1["token"].as_str().expect("a token").to_owned();
        site.watch.jump(Duration::from_hours(1));
        let key = |name: &str| serde_json::json!({"idempotency_key": format!("{name:>16}")});
        let (status, refused) = asks("POST", "cases", &token, key("a case")).await;
        assert_eq!((status, &refused["code"]), (409, &serde_json::json!("clock-uncertain")), "{refused}");
        assert!(refused["help"].as_str().is_some_and(|help| help.contains("POST /api/v1/clock")), "{refused}");
        let (_, shown) = asks("GET", "clock", &token, serde_json::json!({})).await;
        assert_eq!(shown["uncertain"], "it jumped 60 min ahead while the server ran", "{shown}");
        let before = Journal::open(folder).and_then(|journal| journal.count("clock-confirmed")).expect("a count");
        assert_eq!(asks("POST", "clock", "nobody's", key("confirmed")).await.0, 401);
        let (status, shown) = asks("POST", "clock", &token, key("confirmed")).await;
        assert_eq!((status, &shown["uncertain"]), (200, &serde_json::Value::Null), "{shown}");
        let after = Journal::open(folder).and_then(|journal| journal.count("clock-confirmed")).expect("a count");
        assert_eq!(after, before + 1);
        assert_eq!(asks("POST", "cases", &token, key("another case")).await.0, 201);
    }

    // hazard: H-RECORD
    #[tokio::test(flavor = "multi_thread")]
    async fn while_the_clock_is_in_doubt_nothing_is_signed_and_an_emergency_is_written_and_marked() {
        let folder = std::env::temp_dir().join(format!("countersign-doubt-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let mut journal = Journal::create(&folder, true, Moment::now()).expect("the temporary folder can be written");
        add(&mut journal, Moment::now(), None, "A. Idowu", Role::Anaesthetist, "281940").expect("the first person");
        let (_, signer) = unlock(&mut journal, Moment::now(), "A. Idowu", "281940").expect("a PIN");
        let signer = std::sync::Arc::new(signer);
        let formulary = Formulary::open(std::path::Path::new("formulary")).expect("the demonstration");
        let site = Site::new(Cases::of(journal), formulary, Clock::Machine, Duration::from_mins(5), false);
        let opens = |signer: &std::sync::Arc<Signer>| {
            let signer = std::sync::Arc::clone(signer);
            site.with_journal(move |desk| Ok(desk.cases.open(desk.now, Some(&signer))?))
        };
        assert!(opens(&signer).await.is_ok() && site.warnings().is_empty());
        site.watch.jump(Duration::from_secs(60 * 60 + 30));
        let refused = opens(&signer).await.expect_err("the time is in doubt");
        assert_eq!(refused.code(), "clock-uncertain");
        assert!(site.warnings()[0].contains("it jumped 60 min ahead"), "{:?}", site.warnings());
        let text = std::fs::read_to_string("examples/adult-vasopressor/first.yaml").expect("the example");
        let left_out = ["entered_", "drawn_up_at", "starts_at"];
        let kept = text.lines().filter(|line| !left_out.iter().any(|known| line.starts_with(known)));
        let text: String = kept.map(|line| format!("{line}\n")).collect();
        let text = format!("{text}drawn_up_at: {}\n", Moment::now().to_rfc3339());
        let sealed = site.with_journal(move |desk| {
            let form = SubmittedForm { name: "an example".to_owned(), text, json: false, dose_again: None };
            let author = Author::Typed { name: "C. Vance", role: "anaesthetist" };
            let task = Task::emergency_without_a_case();
            desk.cases.enter_emergency(&task, &form, &author, &desk.formulary, desk.now)?;
            Ok(())
        });
        sealed.await.expect("an emergency goes on");
        let clock = |kind| {
            let journal = Journal::open(&folder).expect("a journal");
            let event = journal.events(Of::Kind(kind)).expect("events").pop().expect("one");
            event.clock().map(str::to_owned)
        };
        let says = clock("entry-sealed");
        assert_eq!(says.as_deref(), Some("clock uncertain: it jumped 60 min ahead while the server ran"));
        let confirmed = site.with_journal(move |desk| {
            Ok(crate::case::confirm_clock(desk.cases.journal_mut(), desk.now, &signer).map(|()| signer)?)
        });
        let signer = confirmed.await.expect("a person looked at another clock");
        site.watch.is_right();
        assert!(opens(&signer).await.is_ok() && site.warnings().is_empty());
        assert_eq!(clock("clock-confirmed"), None);
        program_confirms(&site, &folder).await;
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
