//! `tolerance`: one build in depth.

use knobwright::Result;
use knobwright::inputs::Inputs;
use knobwright::recommend::{Request, in_depth};
use knobwright::report;

use super::args::{Format, Tolerance};
use super::outputs::{Outputs, deliver};
use super::page::{PageFile, origin};
use super::run::{Outcome, assignments, guitar, hookup, joint, lot, stand_in, target, with_bar};
use super::terminal::width;

/// Does what was typed.
pub fn run(args: &Tolerance) -> Result<Outcome> {
    let inputs = Inputs::default();
    let page = PageFile::read(&args.page)?;
    let outputs = Outputs::new(&[("--output", args.output.output.as_deref()), ("--page", args.page.page.as_deref())])?;
    let guitar = guitar(&inputs, &args.guitar, &args.output)?;
    let mut request = Request::new(guitar, target(&inputs, args.target.as_deref())?);
    request.with = assignments("--with", &args.guitar.with)?;
    request.hookup = args.hookup.map(hookup);
    request.joined_at = args.joined_at.map(joint);
    request.lot = lot(&args.lot)?;
    request.threads = args.threads.map(usize::from);
    outputs.refuse_inputs(&inputs)?;
    let fittings = assignments("--build", &args.build)?;
    let depth = with_bar(args.output.quiet, |bar| in_depth(&request, &fittings, bar))?;
    let text = match args.output.format {
        Format::Table => depth.document().text(width()),
        Format::Json => report::json_assuming(stand_in(args.guitar.guitar.as_deref(), &request.guitar).as_ref(), &depth)?,
        Format::Csv => report::tolerance_csv(&depth)?,
    };
    deliver(&text, args.output.output.as_deref())?;
    if let Some(page) = page {
        let origin = origin(&inputs, &[args.guitar.guitar.as_deref()], &[&depth.target], &[])?;
        page.write(depth.document(), origin, args.output.quiet)?;
    }
    Ok(Outcome::Done)
}
