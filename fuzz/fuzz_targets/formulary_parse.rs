//! Any bytes as a file of a formulary; the first byte says which.
#![no_main]

#[path = "../common.rs"]
#[allow(dead_code, reason = "each target uses a part of it")]
mod common;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    if let Some((which, rest)) = bytes.split_first() {
        common::parse(common::PATHS[usize::from(*which) % common::PATHS.len()], rest);
    }
});
