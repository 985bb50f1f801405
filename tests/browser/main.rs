//! The bedside page as people use it: the program serves, Chromium shows, several people work at the same time.
#![cfg(feature = "web")]

#[path = "../it/web/ward.rs"]
#[allow(dead_code, reason = "what the tests without a browser need besides")]
mod ward;

#[path = "../common/mod.rs"]
mod common;

mod between;
mod blind;
mod browser;
mod caller;
mod counts;
mod pharmacy;
mod killed;
mod left_behind;
mod looked_at;
mod served;
mod shift;
#[cfg(feature = "tls")]
mod tls;
