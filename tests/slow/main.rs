//! What takes long: every number of the demonstration formulary, one by one.

#[allow(dead_code, reason = "shared with the tests of the pharmacist's commands")]
#[path = "../it/pharmacy/house.rs"]
mod house;

#[allow(dead_code, reason = "shared with the other tests")]
#[path = "../common/tools.rs"]
mod tools;

mod approval;
mod doors;
mod every_number;
