//! Results as JSON: SI units, full precision; the keys are the results' own.

use serde::Serialize;

use crate::error::{Error, ErrorKind, Result};

/// A result as indented JSON with a line feed at the end.
///
/// # Errors
/// When the result has no JSON form, which none of this library's does.
pub fn json(result: &impl Serialize) -> Result<String> {
    let mut text = serde_json::to_string_pretty(result)
        .map_err(|error| Error::new(ErrorKind::File, format!("no JSON can be made of this: {error}")))?;
    text.push('\n');
    Ok(text)
}
