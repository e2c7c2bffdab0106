//! What is made beside an answer: sheets, pages, pictures. What cannot be made of it is said, and costs nothing else.

use knobwright::{Error, Result};

use super::run::tell;

/// Something made of an answer; where it cannot be, standard error says why.
pub fn made<T>(what: &str, result: Result<T>) -> Option<T> {
    result.map_err(|error| tell(&not_made(what, &error))).ok()
}

/// Why there is no such thing.
pub fn not_made(what: &str, error: &Error) -> String {
    format!("There is no {what}: {error}.")
}
