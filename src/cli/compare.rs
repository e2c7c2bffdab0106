//! `compare`

use std::ffi::OsStr;

use knobwright::Result;
use knobwright::circuit::Setting;
use knobwright::compare::{Comparison, NamedBuild, Request, compare};
use knobwright::inputs::Inputs;
use knobwright::picture;
use knobwright::report::{self, Shown};
use knobwright::source::Source;

use super::args::{Compare, CompareView, Format};
use super::beside::made;
use super::outputs::Outputs;
use super::page::{PageFile, origin};
use super::plot::{Plot, picture_file, position};
use super::run::{Outcome, assignments, check_knobs, guitar, rotations, stand_in, target_of, tell_assumed};
use super::terminal::width;

/// Compares.
pub fn run(args: &Compare) -> Result<Outcome> {
    let inputs = Inputs::default();
    let page = PageFile::read(&args.page)?;
    let plot = Plot::read(&args.plot.to, &args.output)?;
    let (view, at) = (args.plot.plot_kind.into(), position(args.plot.plot_at.as_ref())?);
    let outputs = Outputs::new(&[
        ("--output", args.output.output.as_deref()),
        ("--plot", picture_file(&args.plot.to)),
        ("--page", args.page.page.as_deref()),
    ])?;
    let request = request(args, &inputs)?;
    outputs.refuse_inputs(&inputs)?;
    if let Some(at) = at {
        check_knobs(&request.guitar, &[at.volume], &[at.tone])?;
    }
    if plot.is_wanted() {
        picture::check_comparison(&request, view)?;
    }
    let result = compare(&request)?;
    let text = match args.output.format {
        Format::Table => result.document(&Shown::default()).text(width()),
        Format::Json => report::json_assuming(stand_in(args.guitar.guitar.as_deref(), &request.guitar).as_ref(), &result)?,
        Format::Csv => report::comparison_csv(&result)?,
    };
    let drawn = plot.draw(|| picture::of_comparison(&request, &result, view, at));
    let told = drawn.deliver_with(&text, args.output.output.as_deref());
    let page = page.map_or(Ok(()), |page| {
        let targets: Vec<_> = result.target.iter().collect();
        let origin = origin(&inputs, &[args.guitar.guitar.as_deref()], &targets, &[])?;
        page.write(result.document(&shown(&request, &result, at)), origin, args.output.quiet)
    });
    told.and(page)?;
    Ok(Outcome::Done)
}

/// What a page shows of a comparison. More builds than one picture can hold are shown by the sliders alone.
fn shown(request: &Request, result: &Comparison, at: Option<Setting>) -> Shown {
    let pictures = picture::of_comparison(request, result, CompareView::Builds.into(), at);
    Shown {
        sweep: made("curve under sliders on the page", picture::sweep_of_comparison(request)).flatten(),
        pictures: pictures.into_iter().collect(),
        sheet: None,
    }
}

fn request(args: &Compare, inputs: &Inputs) -> Result<Request> {
    let mut guitar = guitar(inputs, &args.guitar, &args.output)?;
    let builds = args.build.iter().map(|text| {
        NamedBuild::read(&Source::inline("--build", text.as_str()), &|name| {
            let name = Some(OsStr::new(name));
            let other = inputs.guitar(name)?;
            tell_assumed(stand_in(name, &other).as_ref(), &args.output);
            Ok(other)
        })
    });
    Ok(Request {
        with: assignments("--with", &args.guitar.with)?,
        builds: builds.collect::<Result<_>>()?,
        present: !args.without_present,
        target: args
            .target
            .as_deref()
            .map(|name| target_of(inputs, name, &mut guitar))
            .transpose()?,
        settings: settings(args, &guitar)?,
        guitar,
    })
}

/// The positions asked for; a knob not named stays at full.
fn settings(args: &Compare, guitar: &knobwright::guitar::Guitar) -> Result<Option<Vec<Setting>>> {
    if args.volume.is_none() && args.tone.is_none() {
        return Ok(None);
    }
    let volumes = rotations("--volume", args.volume.as_deref().unwrap_or("10"))?;
    let tones = rotations("--tone", args.tone.as_deref().unwrap_or("10"))?;
    check_knobs(guitar, &volumes, &tones)?;
    let at = |volume: f64| tones.iter().map(move |tone| Setting { volume, tone: *tone });
    Ok(Some(volumes.into_iter().flat_map(at).collect()))
}
