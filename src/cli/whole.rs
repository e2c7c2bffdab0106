//! `recommend` for a guitar with several volume or tone knobs: an answer for each of them.

use knobwright::guitar::Guitar;
use knobwright::guitar::whole::{View, Whole};
use knobwright::inputs::Inputs;
use knobwright::recommend::Request;
use knobwright::recommend::whole::recommend_whole;
use knobwright::report;
use knobwright::target::Target;
use knobwright::{Error, ErrorKind, Result};

use super::args::{Format, Recommend};
use super::outputs::{Outputs, deliver};
use super::run::{Outcome, request_of, seen, target_asked, view, with_bar};
use super::terminal::width;

/// How many knobs a wish is about.
pub enum Asked {
    /// One, and the target where it had to be read to know so.
    One(Box<View>, Option<Target>),
    /// Several, all of them answered.
    Answered(Outcome),
}

/// Answers for every knob that the target is about, unless it is one alone.
pub fn asked(args: &Recommend, inputs: &Inputs, outputs: &Outputs<'_>) -> Result<Asked> {
    let whole = match &args.guitar.knobs {
        Some(_) => return view(inputs, &args.guitar).map(|view| Asked::One(Box::new(view), None)),
        None => inputs.whole(args.guitar.guitar.as_deref())?,
    };
    if !whole.has_several_views() {
        return whole.view(None).map(|view| Asked::One(Box::new(view), None));
    }
    let target = target_asked(args, inputs)?;
    match whole.asked_by(&target).as_slice() {
        [only] => Ok(Asked::One(Box::new((*only).clone()), Some(target))),
        views => answered(args, inputs, outputs, &whole, views, &target).map(Asked::Answered),
    }
}

fn answered(args: &Recommend, inputs: &Inputs, outputs: &Outputs<'_>, whole: &Whole, views: &[&View], target: &Target) -> Result<Outcome> {
    refuse_what_is_for_one(args, whole)?;
    let guitars: Vec<Guitar> = views.iter().map(|view| seen(view, &args.guitar)).collect::<Result<_>>()?;
    let requests: Vec<Request> = guitars
        .into_iter()
        .map(|guitar| request_of(args, inputs, guitar, target.clone()))
        .collect::<Result<_>>()?;
    outputs.refuse_inputs(inputs)?;
    let result = with_bar(args.output.quiet, |bar| recommend_whole(whole, views, &requests, bar))?;
    let text = match args.output.format {
        Format::Json => report::json(&result)?,
        Format::Table | Format::Csv => report::whole_screen(&result, width()),
    };
    deliver(&text, args.output.output.as_deref())?;
    let is_met = result.controls.iter().all(|control| control.recommendation.answer.kind.is_met());
    Ok(if is_met { Outcome::Done } else { Outcome::Missed })
}

/// A sheet, a page, a picture and a table for a spreadsheet are of one answer.
fn refuse_what_is_for_one(args: &Recommend, whole: &Whole) -> Result<()> {
    let asked = [
        ("--sheet", args.sheet.is_some()),
        ("--page", args.page.page.is_some()),
        ("--plot", args.plot.to.plot.is_some()),
        ("--explain", args.explain),
        ("--format csv", args.output.format == Format::Csv),
    ];
    let Some((option, _)) = asked.into_iter().find(|(_, is_asked)| *is_asked) else {
        return Ok(());
    };
    let names: Vec<&str> = whole.views.iter().map(|view| view.name.as_str()).collect();
    let example = names.first().copied().unwrap_or_default();
    let message = format!("{option} is of one answer, and {} has several volume or tone knobs", whole.name);
    Err(Error::new(ErrorKind::Conflict, message)
        .help(format!("say whose are meant: --knobs \"{example}\""))
        .help(format!("knobs of this guitar: {}", names.join(", "))))
}
