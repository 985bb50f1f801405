//! What is pushed to a browser: the part of a page that follows what others do, and the end of a session.
//!
//! One beat for everybody looks whether anything was written, here or by a command, and takes sessions that have ended
//! out of memory. A follower draws anew then, as a request of that person would, and now and then besides: what is owed
//! follows from the time too. Only what is drawn otherwise is sent.

use std::convert::Infallible;
use std::sync::{Arc, Weak};
use std::time::{Duration, Instant};

use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use maud::Markup;
use tokio::sync::watch;
use tokio::time::timeout;

use crate::journal::Journal;

use super::answer::Refusal;
use super::session::Session;
use super::site::{Desk, Site};

const BEAT: Duration = Duration::from_millis(500);
/// Without a new event, so often what follows from the time is drawn anew.
const BY_THE_TIME: Duration = Duration::from_secs(20);

/// The number of the last event, for whoever waits for the next.
#[derive(Debug)]
pub(super) struct Beat(watch::Sender<u64>);

impl Default for Beat {
    fn default() -> Self {
        Self(watch::Sender::new(0))
    }
}

impl Beat {
    /// Beats until the site is gone. A journal that cannot be read for a moment is looked at again with the next beat.
    pub(super) fn begin(site: &Arc<Site>) {
        let (weak, folder) = (Arc::downgrade(site), site.folder.clone());
        std::thread::spawn(move || {
            let mut journal = None;
            while let Some(site) = weak.upgrade() {
                site.sessions.sweep();
                if journal.is_none() {
                    journal = Journal::open(&folder).ok();
                }
                if let Some(head) = journal.as_ref().and_then(|journal: &Journal| journal.head().ok()) {
                    site.beat.0.send_if_modified(|known| std::mem::replace(known, head.seq) != head.seq);
                }
                drop(site);
                std::thread::sleep(BEAT);
            }
        });
    }
}

/// Somebody's browser that waits for news.
struct Follower<D> {
    site: Arc<Site>,
    session: Weak<Session>,
    beat: watch::Receiver<u64>,
    key: String,
    draw: D,
    shown: Option<String>,
    drawn_at: Instant,
    is_due: bool,
    over: bool,
}

/// Sends what `draw` draws (and [`Site::drawn`] keeps under the key) whenever it is otherwise than before; then, when the session ends, says so and ends.
pub(super) fn follow<D>(site: Arc<Site>, session: &Arc<Session>, key: String, draw: D) -> Response
where
    D: Fn(&Session, &mut Desk) -> Result<Markup, Refusal> + Clone + Send + Sync + 'static,
{
    let (session, beat) = (Arc::downgrade(session), site.beat.0.subscribe());
    let follower =
        Follower { site, session, beat, key, draw, shown: None, drawn_at: Instant::now(), is_due: true, over: false };
    let events = stream::unfold(follower, |follower| async move { follower.next().await });
    Sse::new(events).keep_alive(KeepAlive::default()).into_response()
}

impl<D> Follower<D>
where
    D: Fn(&Session, &mut Desk) -> Result<Markup, Refusal> + Clone + Send + Sync + 'static,
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
            if self.is_due || self.drawn_at.elapsed() > BY_THE_TIME {
                self.is_due = false;
                self.drawn_at = Instant::now();
                let draw = self.draw.clone();
                // What cannot be drawn now is drawn with the next beat; a page that is loaded says why.
                if let Ok(drawn) = self.site.drawn(self.key.clone(), move |desk| draw(&session, desk)).await {
                    let drawn = drawn.into_string();
                    if self.shown.as_ref() != Some(&drawn) {
                        self.shown = Some(drawn.clone());
                        return Some((Ok(Event::default().event("stands").data(drawn)), self));
                    }
                }
            } else {
                drop(session);
            }
            self.is_due |= timeout(BEAT, self.beat.changed()).await.is_ok();
        }
    }
}
