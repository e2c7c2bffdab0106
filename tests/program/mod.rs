//! Running the built program.
#![allow(dead_code, reason = "each test program uses a part of it")]

use std::path::Path;
use std::process::Output;

use assert_cmd::Command;
use serde_json::Value;

pub const PROGRAM: &str = env!("CARGO_BIN_EXE_knobwright");
/// A quick search that meets the default target on the first sample, and one that cannot.
pub const MET: [&str; 5] = ["recommend", "--search", "bleed=R1 + (R2 || C)", "--values", "R=E12,C=E3"];
pub const MISSED: [&str; 5] = [
    "recommend",
    "--target",
    "keep highs within 0.2 dB from full to quarter volume",
    "--search",
    "bleed=C",
];

pub fn run(arguments: &[&str]) -> Output {
    Command::new(PROGRAM).args(arguments).output().unwrap()
}

pub fn run_in(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(PROGRAM).current_dir(folder).args(arguments).output().unwrap()
}

pub fn with<'t>(base: &[&'t str], more: &[&'t str]) -> Vec<&'t str> {
    [base, more].concat()
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("text")
}

/// Standard output of a run that ends with a status.
#[track_caller]
pub fn ends(arguments: &[&str], status: i32) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(status), "{arguments:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

/// Standard error of a refused run, which prints nothing.
#[track_caller]
pub fn refused(arguments: &[&str]) -> String {
    let output = run(arguments);
    let told = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {told}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
    assert!(told.contains("error: ") && !told.contains("panicked"), "{arguments:?}: {told}");
    told
}

pub fn json(arguments: &[&str], status: i32) -> Value {
    serde_json::from_str(&ends(&with(arguments, &["--format", "json"]), status)).expect("JSON")
}
