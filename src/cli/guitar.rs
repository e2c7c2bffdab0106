//! `guitar`: a file to start from.

use std::ffi::OsString;

use knobwright::Result;
use knobwright::guitar::whole::Whole;
use knobwright::inputs::{self, Inputs};
use knobwright::recommend::assumed::assumption;

use super::args::GuitarFile;
use super::outputs::{Outputs, deliver};
use super::run::Outcome;

/// Prints a guitar as its file.
pub fn run(args: &GuitarFile) -> Result<Outcome> {
    let inputs = Inputs::default();
    let outputs = Outputs::new(&[("--output", args.output.as_deref())])?;
    let name = args.guitar.join(&OsString::from(" "));
    let named = Some(name.as_os_str()).filter(|name| !name.is_empty());
    let source = inputs.guitar_source(named)?;
    let whole = Whole::read(&source)?;
    if whole.views.iter().any(|view| view.guitar.has_more_connected()) {
        outputs.refuse_inputs(&inputs)?;
        // A guitar of several pickups is written as its own file, comments and all.
        deliver(source.text(), args.output.as_deref())?;
        return Ok(Outcome::Done);
    }
    let guitar = whole.only()?;
    outputs.refuse_inputs(&inputs)?;
    let about = match inputs::kind(&name) {
        Some(kind) => assumption(kind, &guitar),
        None if inputs.files().is_empty() => format!("Every value is that of the sample \"{}\", an invented guitar.", guitar.name),
        None => String::new(),
    };
    deliver(&guitar.to_commented_toml(&about), args.output.as_deref())?;
    Ok(Outcome::Done)
}
