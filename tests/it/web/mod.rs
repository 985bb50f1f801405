//! The bedside page, called as a browser would, without a socket: signing in, blind entries, and what is refused.
#![cfg(feature = "web")]

mod api;
mod bad_input;
mod blind;
#[cfg(unix)]
mod curl;
#[cfg(unix)]
mod doors;
mod follow;
mod pharmacy;
mod record;
#[cfg(all(unix, feature = "backup"))]
mod restored;
mod signed_again;
mod signing_in;
mod ward;
#[cfg(unix)]
mod watched;
