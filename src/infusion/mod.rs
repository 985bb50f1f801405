//! x
pub mod body_size;
pub mod rate;
mod second_route;
