//! Picks the resistors and capacitors around a passive electric guitar's knobs.
// Only the vector loops of the kernel may; see there.
#![deny(unsafe_code)]
// What a user writes must come out as a result or as an error with its place, never as a panic. Tests may: see .clippy.toml.
#![deny(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
// Only the binary talks to the terminal.
#![deny(clippy::print_stdout, clippy::print_stderr)]

pub mod circuit;
pub mod compare;
pub mod curve;
mod document;
pub mod error;
pub mod guitar;
pub mod identify;
pub mod inputs;
pub mod kernel;
pub mod kit;
pub mod limits;
pub mod parts;
pub mod picture;
pub mod progress;
pub mod recommend;
pub mod report;
mod rows;
pub mod search;
pub mod shipped;
pub mod source;
pub mod target;
pub mod tolerance;
pub mod units;
pub mod values;
pub mod verify;

pub use error::{Error, ErrorKind, Result};
