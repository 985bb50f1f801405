//! What is pushed to a browser: the part of a page that follows what others do, and the end of a session.
//!
//! One thread for everybody looks what was written, here or by a command, and takes sessions that have ended out of memory.
//! A follower draws anew when an event of its topic was written, and at each full minute, because what is outstanding
//! follows from the time too; all followers of one page share that drawing. Only what is drawn otherwise is sent.

use std::collections::BTreeSet;
use std::convert::Infallible;
use std::sync::{Arc, Weak};
use std::time::Duration;

use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use maud::Markup;
use tokio::sync::broadcast;
use tokio::time::timeout;

use crate::journal::Journal;

use super::answer::Refusal;
use super::session::{At, Session};
use super::site::{JournalWorker, Site};

const BEAT: Duration = Duration::from_millis(500);

/// After this many beats the server tries again to write down what it kept while the journal could not be written.
const KEPT_EVERY: u64 = 10;

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
enum News {
    /// Events about these cases were written.
    Written(Arc<BTreeSet<String>>),
    /// Another minute has begun, or another formulary is in use.
    Anything,
}

impl Topic {
    fn concerns(&self, news: &News) -> bool {
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

    /// Beats until the site is gone. A journal that cannot be read for a moment is looked at again with the next beat.
    pub(super) fn begin(site: &Arc<Site>) {
        let (weak, folder) = (Arc::downgrade(site), site.folder.clone());
        std::thread::spawn(move || {
            let (mut journal, mut last) = (None, None);
            let (mut minute, mut beats) = (None, 0_u64);
            while let Some(site) = weak.upgrade() {
                site.sessions.sweep();
                site.follow_people();
                site.answers.sweep(|token| site.sessions.find(At::Page, token, false).is_some());
                if beats.is_multiple_of(KEPT_EVERY) {
                    site.write_down_kept();
                }
                beats += 1;
                if journal.is_none() {
                    journal = Journal::open(&folder).ok();
                }
                if let Some(journal) = &journal {
                    last = news(&site.beat, journal, last).or(last);
                }
                let now = site.now().to_rfc3339();
                if minute.replace(now.clone()).is_some_and(|before| before != now) {
                    site.beat.anything();
                }
                drop(site);
                std::thread::sleep(BEAT);
            }
        });
    }
}

/// Tells what was written after an event; the number of the last one now.
fn news(beat: &Beat, journal: &Journal, after: Option<u64>) -> Option<u64> {
    let Some(after) = after else { return journal.head().ok().map(|head| head.seq) };
    let (last, scopes) = journal.scopes_after(after).ok()?;
    if !scopes.is_empty() {
        let _ = beat.0.send(News::Written(Arc::new(scopes)));
    }
    Some(last)
}

/// Somebody's browser that waits for news.
struct Follower<D> {
    site: Arc<Site>,
    session: Weak<Session>,
    news: broadcast::Receiver<News>,
    topic: Topic,
    key: String,
    draw: D,
    shown: Option<String>,
    is_due: bool,
    over: bool,
}

/// Sends what `draw` draws (and [`Site::drawn`] keeps under the key) whenever it is otherwise than before; then, when the session ends, says so and ends.
pub(super) fn follow<D>(site: Arc<Site>, session: &Arc<Session>, topic: Topic, key: String, draw: D) -> Response
where
    D: Fn(&Session, &mut JournalWorker) -> Result<Markup, Refusal> + Clone + Send + Sync + 'static,
{
    let (session, news) = (Arc::downgrade(session), site.beat.0.subscribe());
    let follower = Follower { site, session, news, topic, key, draw, shown: None, is_due: true, over: false };
    let events = stream::unfold(follower, |follower| async move { follower.next().await });
    Sse::new(events).keep_alive(KeepAlive::default()).into_response()
}

impl<D> Follower<D>
where
    D: Fn(&Session, &mut JournalWorker) -> Result<Markup, Refusal> + Clone + Send + Sync + 'static,
{
    async fn next(mut self) -> Option<(Result<Event, Infallible>, Self)> {
        if self.over {
            return None;
        }
        loop {
            let Some(session) = self.session.upgrade().filter(|session| self.site.sessions.holds(session)) else {
                self.over = true;
                return Some((Ok(Event::default().event("ended").data("signed out")), self));
            };
            if self.is_due {
                self.is_due = false;
                let draw = self.draw.clone();
                match self.site.drawn(self.key.clone(), move |desk| draw(&session, desk)).await {
                    Ok(drawn) => {
                        let drawn = drawn.into_string();
                        if self.shown.as_ref() != Some(&drawn) {
                            self.shown = Some(drawn.clone());
                            return Some((Ok(Event::default().event("stands").data(drawn)), self));
                        }
                    }
                    // What cannot be drawn now is drawn with the next beat; a page that is loaded says why.
                    Err(_) => {
                        tokio::time::sleep(BEAT).await;
                        self.is_due = true;
                        continue;
                    }
                }
            } else {
                drop(session);
            }
            self.is_due |= match timeout(BEAT, self.news.recv()).await {
                Ok(Ok(news)) => self.topic.concerns(&news),
                // It missed some.
                Ok(Err(_)) => self.topic != Topic::SessionOnly,
                Err(_) => false,
            };
        }
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
            last = news(&beat, &journal, last).or(last);
            let draft = crate::journal::NewEvent {
                kind: "noted",
                scope: scope.map(str::to_owned),
                by: None,
                body: serde_json::json!({}),
                introduces: None,
            };
            journal.write(now, |_| Ok::<_, crate::journal::JournalError>((vec![draft], ()))).expect("room");
            last = news(&beat, &journal, last).or(last);
            assert_eq!(last, Some(journal.head().expect("a journal").seq));
            assert_eq!(follower.try_recv().is_ok(), expected, "{scope:?}");
        }
        std::fs::remove_dir_all(&folder).expect("it is ours");
    }
}
