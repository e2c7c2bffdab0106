//! `response`: level and phase of a guitar at any knob positions.

use std::io::{IsTerminal, stdout};

use knobwright::inputs::Inputs;
use knobwright::kernel::grid;
use knobwright::kernel::response::Response;
use knobwright::limits::{MOST_RESPONSE_POINTS, MOST_TABLE_POINTS};
use knobwright::report::{self, response_document};
use knobwright::source::{Passage, Source};
use knobwright::units::{grouped, read_hertz};
use knobwright::{Error, ErrorKind, Result, picture};

use super::args::{self, Format};
use super::outputs::{Outputs, deliver, deliver_by};
use super::page::{PageFile, origin};
use super::plot::{Plot, picture_file};
use super::run::{Outcome, list, with_bar};
use super::terminal::width;

/// Computes and shows the response of a guitar.
pub fn run(args: &args::Response) -> Result<Outcome> {
    let inputs = Inputs::default();
    let page = PageFile::read(&args.page)?;
    let outputs = Outputs::new(&[
        ("--output", args.output.output.as_deref()),
        ("--plot", picture_file(&args.plot)),
        ("--page", args.page.page.as_deref()),
    ])?;
    let turned = super::knobs::turned(args, &inputs)?;
    let plot = Plot::read(&args.plot, &args.output)?;
    let one = match turned.as_slice() {
        [one] => one,
        _ if plot.is_wanted() => return Err(super::knobs::for_one("--plot", &turned)),
        _ if page.is_some() => return Err(super::knobs::for_one("--page", &turned)),
        [one, ..] => one,
        [] => return Err(Error::new(ErrorKind::Missing, "a guitar without knobs")),
    };
    if plot.is_wanted() {
        picture::check_response(&one.guitar, one.volumes.len().saturating_mul(one.tones.len()))?;
    }
    let frequencies = response_frequencies(args)?;
    outputs.refuse_inputs(&inputs)?;
    let parts: Vec<Response<'_>> = turned.iter().map(|turned| turned.response(&frequencies)).collect();
    check_points(parts.iter().map(Response::count).sum(), args.output.format, page.is_some())?;
    let ends = frequencies
        .iter()
        .fold([f64::INFINITY, 0.0], |[low, high], next| [next.min(low), next.max(high)]);
    let settings = || parts.iter().take(1).flat_map(Response::settings).collect::<Vec<_>>();
    let picture = || picture::of_response(&one.guitar, &settings(), ends);
    let drawn = plot.draw(picture);
    let output = args.output.output.as_deref();
    // Points that run over the screen tell by themselves how far it is.
    let is_unseen = args.output.quiet || (output.is_none() && stdout().is_terminal());
    match args.output.format {
        Format::Table => deliver(&response_document(&parts, None).text(width()), output)?,
        Format::Json => with_bar(is_unseen, |bar| deliver_by(output, |out| report::response_json(&parts, bar, out)))?,
        Format::Csv => with_bar(is_unseen, |bar| deliver_by(output, |out| report::response_csv(&parts, bar, out)))?,
    }
    drawn.deliver()?;
    if let Some(page) = page {
        let origin = origin(&inputs, &[args.guitar.guitar.as_deref()], &[], &[])?;
        page.write(response_document(&parts, picture().ok().as_ref()), origin, args.output.quiet)?;
    }
    Ok(Outcome::Done)
}

/// Refuses a response that nobody could use, and one as a table that would take more memory than a command should.
fn check_points(count: u64, format: Format, has_page: bool) -> Result<()> {
    let refuse = |what: &str, most: u64, help: String| {
        let (count, most) = (grouped(count), grouped(most));
        let message = format!("a {what} of {count} points (knob position, frequency, case); {most} is the most");
        Err(Error::new(ErrorKind::Range, message).help(help))
    };
    let fewer = "ask for fewer knob positions or fewer --points-per-octave";
    let up_to = format!("--format csv or json takes up to {}", grouped(MOST_RESPONSE_POINTS));
    if count > MOST_RESPONSE_POINTS {
        refuse("response", MOST_RESPONSE_POINTS, fewer.to_owned())
    } else if count > MOST_TABLE_POINTS && format == Format::Table {
        refuse("table", MOST_TABLE_POINTS, format!("{fewer}; {up_to}"))
    } else if count > MOST_TABLE_POINTS && has_page {
        refuse("page", MOST_TABLE_POINTS, format!("leave --page out: {up_to}; or {fewer}"))
    } else {
        Ok(())
    }
}

fn response_frequencies(args: &args::Response) -> Result<Vec<f64>> {
    if let Some(text) = &args.frequencies {
        return list("--frequencies", text, frequency);
    }
    let (from, to) = (
        Source::inline("--from", args.from.as_str()),
        Source::inline("--to", args.to.as_str()),
    );
    let (low, high) = (frequency(&from.passage())?, frequency(&to.passage())?);
    if low >= high {
        return Err(Error::at(&to.passage(), ErrorKind::Range, "--to must be above --from").label("not above"));
    }
    Ok(grid::frequencies(low, high, u32::from(args.points_per_octave)))
}

fn frequency(passage: &Passage<'_>) -> Result<f64> {
    let value = read_hertz(passage)?.value();
    if !(1.0..=50e3).contains(&value) {
        return Err(Error::at(passage, ErrorKind::Range, format!("{value} Hz is out of range")).label("from 1 Hz to 50 kHz"));
    }
    Ok(value)
}
