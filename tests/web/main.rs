//! The bedside page, called as a browser would, without a socket: signing in, blind entries, and what is refused.
#![cfg(feature = "web")]

mod bad_input;
mod blind;
mod follow;
mod record;
mod signing_in;
mod ward;
