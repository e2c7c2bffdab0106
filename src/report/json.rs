//! Results as JSON: SI units, full precision; the keys are the results' own.

use std::io::{Result as IoResult, Write};

use serde::Serialize;

use crate::error::{Error, ErrorKind, Result};

/// A value as compact JSON that may stand inside a script element of an HTML or XML page: what could end the element, or a line of a
/// script, is written as an escape.
///
/// # Errors
/// When the value has no JSON form, which none of this library's does.
pub(super) fn json_in_page(value: &impl Serialize) -> Result<String> {
    let text =
        serde_json::to_string(value).map_err(|error| Error::new(ErrorKind::File, format!("no JSON can be made of this: {error}")))?;
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '<' | '>' | '&' | '\u{7f}'..='\u{9f}' | '\u{2028}' | '\u{2029}' | '\u{fffe}' | '\u{ffff}' => {
                safe.push_str(&format!("\\u{:04x}", u32::from(letter)));
            }
            letter => safe.push(letter),
        }
    }
    Ok(safe)
}

/// A result as indented JSON with a line feed at the end.
///
/// # Errors
/// When the result has no JSON form, which none of this library's does.
pub fn json(result: &impl Serialize) -> Result<String> {
    let broken = |error: &dyn std::fmt::Display| Error::new(ErrorKind::File, format!("no JSON can be made of this: {error}"));
    let mut bytes = Vec::new();
    write_json(result, &mut bytes).map_err(|error| broken(&error))?;
    String::from_utf8(bytes).map_err(|error| broken(&error))
}

/// As [`json`], for a result that is an object: `assumed` first, where there is anything that was.
///
/// # Errors
/// As [`json`].
pub fn json_assuming(assumed: Option<&impl Serialize>, result: &impl Serialize) -> Result<String> {
    #[derive(Serialize)]
    struct Whole<'w, A, R> {
        #[serde(skip_serializing_if = "Option::is_none")]
        assumed: Option<&'w A>,
        #[serde(flatten)]
        result: &'w R,
    }
    json(&Whole { assumed, result })
}

/// As [`json`], each piece written as soon as it is there.
///
/// # Errors
/// Those of `out`; as [`json`].
pub(super) fn write_json(result: &impl Serialize, mut out: impl Write) -> IoResult<()> {
    serde_json::to_writer_pretty(&mut out, result)?;
    out.write_all(b"\n")
}
