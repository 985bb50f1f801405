//! What is new, told to every follower: which cases were written about, or that anything may look otherwise.

use std::collections::BTreeSet;
use std::sync::Arc;

use tokio::sync::broadcast;

use crate::journal::Journal;

/// News that a slow follower misses are many enough to draw anew anyway.
const KEPT_NEWS: usize = 64;

/// What a part of a page follows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Topic {
    /// Whatever is written about any case, and the time.
    EveryCase,
    /// What is written about one case, and the time.
    Case(String),
    /// Nothing but the end of the session.
    SessionOnly,
}

/// Why something may have to be drawn anew.
#[derive(Debug, Clone)]
pub(super) enum News {
    /// Events about these cases were written.
    Written(Arc<BTreeSet<String>>),
    /// Another minute has begun, or another formulary is in use.
    Anything,
}

impl Topic {
    pub(super) fn concerns(&self, news: &News) -> bool {
        match (self, news) {
            (Self::SessionOnly, _) => false,
            (Self::EveryCase, _) | (_, News::Anything) => true,
            (Self::Case(scope), News::Written(scopes)) => scopes.contains(scope),
        }
    }
}

/// Tells every follower what is new.
#[derive(Debug)]
pub(super) struct Beat(broadcast::Sender<News>);

impl Default for Beat {
    fn default() -> Self {
        Self(broadcast::Sender::new(KEPT_NEWS))
    }
}

impl Beat {
    /// Everything may look otherwise from now on.
    pub(super) fn anything(&self) {
        // Nobody may be following.
        let _ = self.0.send(News::Anything);
    }

    /// Tells what was written after an event; the number of the last one now.
    pub(super) fn tell(&self, journal: &Journal, after: Option<u64>) -> Option<u64> {
        let Some(after) = after else { return journal.head().ok().map(|head| head.seq) };
        let (last, scopes) = journal.scopes_after(after).ok()?;
        if !scopes.is_empty() {
            let _ = self.0.send(News::Written(Arc::new(scopes)));
        }
        Some(last)
    }

    /// Everything that is told from now on.
    pub(super) fn listen(&self) -> broadcast::Receiver<News> {
        self.0.subscribe()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_of_a_page_is_drawn_for_what_it_follows_and_for_nothing_else() {
        let written =
            |scopes: &[&str]| News::Written(Arc::new(scopes.iter().map(|scope| (*scope).to_owned()).collect()));
        let case = Topic::Case("K7M4QX".to_owned());
        for (topic, news, expected) in [
            (&Topic::EveryCase, written(&["K7M4QX"]), true),
            (&case, written(&["5Q2DWT", "K7M4QX"]), true),
            (&case, written(&["5Q2DWT"]), false),
            (&case, News::Anything, true),
            (&Topic::SessionOnly, written(&["K7M4QX"]), false),
            (&Topic::SessionOnly, News::Anything, false),
        ] {
            assert_eq!(topic.concerns(&news), expected, "{topic:?}, {news:?}");
        }
    }

    #[test]
    fn news_are_of_cases_alone() {
        let folder = std::env::temp_dir().join(format!("countersign-news-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let now = crate::quantity::Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        let mut journal = Journal::create(&folder, true, now).expect("the temporary folder can be written");
        let (beat, mut last) = (Beat::default(), None);
        let mut follower = beat.0.subscribe();
        for (scope, expected) in [(None, false), (None, false), (Some("K7M4QX"), true), (None, false)] {
            last = beat.tell(&journal, last).or(last);
            let draft = crate::journal::NewEvent {
                kind: "noted",
                scope: scope.map(str::to_owned),
                by: None,
                body: serde_json::json!({}),
                introduces: None,
            };
            journal.write(now, |_| Ok::<_, crate::journal::JournalError>((vec![draft], ()))).expect("room");
            last = beat.tell(&journal, last).or(last);
            assert_eq!(last, Some(journal.head().expect("a journal").seq));
            assert_eq!(follower.try_recv().is_ok(), expected, "{scope:?}");
        }
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
