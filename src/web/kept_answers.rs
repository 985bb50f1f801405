//! Every form that a browser sends is answered with the address of a page, never with a page: a browser keeps what it sent
//! for as long as the page that answered it, also in files, and a reload sends it again. The page waits here for the one
//! browser that asks for it.

use std::collections::{HashMap, VecDeque};
use std::sync::Mutex;
use std::time::{Duration, Instant};

use axum::body::Bytes;
use axum::http::{HeaderMap, Method, StatusCode, header, request};
use axum::response::{IntoResponse as _, Redirect, Response};

use super::form_tokens::random;
use super::locked::locked;
use super::sessions::{At, SESSION, Sessions, cookie};

/// Where such pages are.
pub(super) const PATH: &str = "/answer/";
/// A page may be loaded again for so long.
const KEPT: Duration = Duration::from_mins(30);
/// One that belongs to no session goes sooner.
const KEPT_AT_THE_DOOR: Duration = Duration::from_mins(5);
/// So much room have all of one kind together; the oldest goes first.
const ROOM: usize = 16 * 1024 * 1024;

/// Pages of people who are signed in, and pages at the door: neither throws out the other.
#[derive(Debug, Default)]
pub(super) struct KeptAnswers {
    signed_in: Mutex<Pages>,
    at_the_door: Mutex<Pages>,
}

#[derive(Debug, Default)]
struct Pages {
    room: usize,
    in_order: VecDeque<String>,
    all: HashMap<String, Page>,
}

#[derive(Debug)]
struct Page {
    since: Instant,
    /// What the cookie of its session says; nothing at the door.
    session: Option<String>,
    status: StatusCode,
    headers: HeaderMap,
    body: Bytes,
}

/// Whether a browser sends a form in the place of the page that is seen. A script takes its answer itself, and keeps none.
pub(super) fn is_sent_by_a_page(parts: &request::Parts) -> bool {
    let accepts = parts.headers.get(header::ACCEPT).and_then(|accepts| accepts.to_str().ok());
    parts.method == Method::POST && accepts.is_some_and(|accepts| accepts.contains("text/html"))
}

/// The address of the page in the place of the page.
pub(super) async fn redirected(
    (answers, sessions): (&KeptAnswers, &Sessions),
    sent_with: &HeaderMap,
    response: Response,
) -> Response {
    if response.status().is_redirection() || response.status() == StatusCode::NO_CONTENT {
        return response;
    }
    let (parts, body) = response.into_parts();
    let Ok(body) = axum::body::to_bytes(body, ROOM / 4).await else {
        return super::answer::Refusal::fault("the page is too long").into_response();
    };
    let session = cookie(sent_with, SESSION).filter(|token| sessions.find(At::Page, token, false).is_some());
    let mut headers = parts.headers;
    let mut response = Redirect::to("/").into_response();
    // A cookie that is set is set at once.
    for set in headers.get_all(header::SET_COOKIE) {
        response.headers_mut().append(header::SET_COOKIE, set.clone());
    }
    headers.remove(header::SET_COOKIE);
    let page = Page { since: Instant::now(), session: session.map(str::to_owned), status: parts.status, headers, body };
    let address = format!("{PATH}{}", answers.keep(page));
    if let Ok(address) = address.parse() {
        response.headers_mut().insert(header::LOCATION, address);
    }
    response
}

impl KeptAnswers {
    fn keep(&self, page: Page) -> String {
        let key = random();
        let mut pages = locked(if page.session.is_some() { &self.signed_in } else { &self.at_the_door });
        pages.room += page.body.len();
        pages.in_order.push_back(key.clone());
        pages.all.insert(key.clone(), page);
        while pages.room > ROOM || pages.oldest_is_over() {
            pages.drop_oldest();
        }
        key
    }

    pub(super) fn find(&self, key: &str, session: Option<&str>) -> Option<Response> {
        [&self.signed_in, &self.at_the_door].into_iter().find_map(|pages| {
            let pages = locked(pages);
            let page = pages.all.get(key).filter(|page| !page.is_over())?;
            (page.session.is_none() || page.session.as_deref() == session).then(|| {
                let mut response = (page.status, page.body.clone()).into_response();
                *response.headers_mut() = page.headers.clone();
                response
            })
        })
    }

    /// Takes away what is over, and what sessions left that have ended.
    pub(super) fn sweep(&self, is_open: impl Fn(&str) -> bool) {
        for pages in [&self.signed_in, &self.at_the_door] {
            let mut pages = locked(pages);
            let Pages { room, in_order, all } = &mut *pages;
            all.retain(|_, page| {
                let stays = !page.is_over() && page.session.as_deref().is_none_or(&is_open);
                if !stays {
                    *room -= page.body.len();
                }
                stays
            });
            in_order.retain(|key| all.contains_key(key));
        }
    }
}

impl Pages {
    fn oldest_is_over(&self) -> bool {
        self.in_order.front().and_then(|key| self.all.get(key)).is_some_and(Page::is_over)
    }

    fn drop_oldest(&mut self) {
        if let Some(gone) = self.in_order.pop_front().and_then(|key| self.all.remove(&key)) {
            self.room -= gone.body.len();
        }
    }
}

impl Page {
    fn is_over(&self) -> bool {
        self.since.elapsed() > if self.session.is_some() { KEPT } else { KEPT_AT_THE_DOOR }
    }
}
