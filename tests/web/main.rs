//! The bedside page, called as a browser would, without a socket: signing in, blind entries, and what is refused.
#![cfg(feature = "web")]

mod api;
mod bad_input;
mod blind;
#[path = "../common/mod.rs"]
mod common;
#[cfg(unix)]
mod curl;
mod follow;
#[path = "../rules/house.rs"]
#[allow(dead_code, reason = "these tests use a part of it")]
mod house;
mod keeping;
mod record;
mod signing_in;
mod ward;
