//! What is pushed to a browser: the part of a page that follows what others do, and the end of a session.
//!
//! One thread for everybody looks what was written, here or by a command, and takes sessions that have ended out of memory.
//! A follower draws anew when an event of its topic was written, and at each full minute, because what is outstanding
//! follows from the time too; all followers of one page share that drawing. Only what is drawn otherwise is sent.

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
use super::beat::News;
use super::sessions::{At, Session};
use super::site::{JournalWorker, Site};

pub(super) use super::beat::Topic;

const BEAT: Duration = Duration::from_millis(500);

/// After this many beats the server tries again to write down what it kept while the journal could not be written.
const KEPT_EVERY: u64 = 10;

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

/// Sends what `draw` draws (and [`Site::drawn`] keeps under the key) whenever it has changed; then, when the session ends, says so and ends.
pub(super) fn follow<D>(site: Arc<Site>, session: &Arc<Session>, topic: Topic, key: String, draw: D) -> Response
where
    D: Fn(&Session, &mut JournalWorker) -> Result<Markup, Refusal> + Clone + Send + Sync + 'static,
{
    let (session, news) = (Arc::downgrade(session), site.beat.listen());
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

/// Beats until the site is gone. A journal that cannot be read for a moment is looked at again with the next beat.
pub(super) fn begin_to_beat(site: &Arc<Site>) {
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
                last = site.beat.tell(journal, last).or(last);
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
