//! `guitar`: a guitar file to start from.

use knobwright::Result;
use knobwright::inputs::Inputs;

use super::args::GuitarFile;
use super::outputs::{Outputs, deliver};
use super::run::Outcome;

/// Writes a guitar as a file with remarks.
pub fn run(args: &GuitarFile) -> Result<Outcome> {
    let inputs = Inputs::default();
    let outputs = Outputs::new(&[("--output", args.output.as_deref())])?;
    let guitar = inputs.guitar(args.guitar.as_deref())?;
    outputs.refuse_inputs(&inputs)?;
    deliver(&guitar.to_toml()?, args.output.as_deref())?;
    Ok(Outcome::Done)
}
