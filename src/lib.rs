//! Picks the resistors and capacitors around a passive electric guitar's knobs.
#![deny(unsafe_code)]

pub mod circuit;
pub mod curve;
mod document;
pub mod error;
pub mod guitar;
pub mod inputs;
pub mod kernel;
pub mod parts;
pub mod progress;
pub mod recommend;
pub mod report;
mod rows;
pub mod search;
pub mod shipped;
pub mod source;
pub mod target;
pub mod units;
pub mod values;

pub use error::{Error, ErrorKind, Result};
