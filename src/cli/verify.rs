//! `verify`: a finished guitar against its prediction.

use std::ffi::OsString;
use std::path::Path;

use knobwright::guitar::alteration::Alteration;
use knobwright::identify::sweep::{Reading, Sweep};
use knobwright::inputs::Inputs;
use knobwright::report;
use knobwright::source::Source;
use knobwright::tolerance::Tolerances;
use knobwright::verify::{Request, verify};
use knobwright::{Error, ErrorKind, Result};

use super::args::{Format, GuitarArgs, Verify};
use super::identify::{columns, settings};
use super::outputs::{Outputs, deliver};
use super::page::{PageFile, origin};
use super::run::{Outcome, assignments, guitar, stand_in, target_of};
use super::terminal::width;

/// Does what was typed.
pub fn run(args: &Verify) -> Result<Outcome> {
    let inputs = Inputs::default();
    let page = PageFile::read(&args.page)?;
    let outputs = Outputs::new(&[("--output", args.output.output.as_deref()), ("--page", args.page.page.as_deref())])?;
    let mut present = guitar(
        &inputs,
        &GuitarArgs {
            guitar: args.guitar.clone(),
            knobs: args.knobs.clone(),
            position: args.position.clone(),
            with: Vec::new(),
            case: Vec::new(),
        },
        &args.output,
    )?;
    present.need_one_position("a measured sweep")?;
    let mut built = present.clone();
    built.fit_all(&assignments("--with", &args.with)?, "--with")?;
    for text in &args.changed {
        for alteration in Alteration::read_all(&Source::inline("--changed", text.as_str()))? {
            alteration.apply(&mut built, "--changed")?;
        }
    }
    let columns = columns(args.columns.as_deref())?;
    let settings = settings(&args.volume, &args.tone, args.measured.len(), "sweeps")?;
    if built.tone.is_none() && settings.iter().any(|setting| setting.tone < 1.0) {
        return Err(Error::new(
            ErrorKind::Missing,
            "--tone turns the tone control, but the guitar file lacks the [tone] table",
        ));
    }
    let sweep = |path: &OsString| Sweep::read(&inputs.file(Path::new(path))?, Reading::Level, &columns);
    let sweeps = args.measured.iter().map(sweep).collect::<Result<Vec<_>>>()?;
    let mut tolerances = Tolerances::default();
    for text in &args.tolerance {
        tolerances.add(&Source::inline("--tolerance", text.as_str()).passage())?;
    }
    let target = args
        .target
        .as_deref()
        .map(|name| target_of(&inputs, name, &mut present))
        .transpose()?;
    let request = Request {
        guitar: built,
        present,
        measured: settings.into_iter().zip(sweeps).collect(),
        tolerances,
        target,
        slope: args.slope,
        seed: args.random_seed,
    };
    outputs.refuse_inputs(&inputs)?;
    let found = verify(&request)?;
    let text = match args.output.format {
        Format::Table => found.document().text(width()),
        Format::Json => report::json_assuming(stand_in(args.guitar.as_deref(), &request.present).as_ref(), &found)?,
        Format::Csv => report::verified_csv(&found)?,
    };
    deliver(&text, args.output.output.as_deref())?;
    if let Some(page) = page {
        let targets: Vec<_> = request.target.iter().collect();
        let origin = origin(&inputs, &[args.guitar.as_deref()], &targets, &[])?;
        page.write(found.document(), origin, args.output.quiet)?;
    }
    let missed = found.target.is_some_and(|target| !target.meets_target);
    Ok(if missed { Outcome::Missed } else { Outcome::Done })
}
