//! `values` and `target`: what can be looked up.

use knobwright::inputs::Inputs;
use knobwright::report::{self, values_document};
use knobwright::source::Source;
use knobwright::{Result, values};

use super::args::{Format, TargetOf, Values};
use super::outputs::{Outputs, deliver};
use super::page::{PageFile, origin};
use super::run::{Outcome, target};
use super::terminal::width;

/// Prints what a phrase or target asks.
pub fn run_target(args: &TargetOf) -> Result<Outcome> {
    let inputs = Inputs::default();
    let page = PageFile::read(&args.page)?;
    let outputs = Outputs::new(&[("--output", args.output.as_deref()), ("--page", args.page.page.as_deref())])?;
    let target = target(&inputs, args.target.as_deref())?;
    outputs.refuse_inputs(&inputs)?;
    deliver(&target.to_toml(), args.output.as_deref())?;
    if let Some(page) = page {
        page.write(target.document(), origin(&inputs, &[], &[&target], &[])?, false)?;
    }
    Ok(Outcome::Done)
}

/// Lists, finds or decodes values.
pub fn run(args: &Values) -> Result<Outcome> {
    let series = values::read_series(&Source::inline("SERIES", args.series.as_str()).passage())?;
    if let Some(marking) = &args.decode {
        let readings = values::decode(&Source::inline("--decode", marking.as_str()).passage())?;
        return tabulated(&readings, "What the marking means", &report::decoded_table(&readings), args);
    }
    if let Some(wanted) = &args.nearest {
        let nearest = values::nearest(series, &Source::inline("--nearest", wanted.as_str()).passage())?;
        return tabulated(&nearest, "The nearest standard values", &report::nearest_table(&nearest), args);
    }
    let range = Source::inline("--range", args.range.as_deref().unwrap_or("100R..1k"));
    let list = values::list(series, values::ValueRange::read(&range.passage())?)?;
    tabulated(&list, "Standard values", &report::values_table(&list), args)
}

/// Delivers a result that is one table.
fn tabulated(result: &impl serde::Serialize, title: &str, table: &report::Table, args: &Values) -> Result<Outcome> {
    let output = &args.output;
    let page = PageFile::read(&args.page)?;
    Outputs::new(&[("--output", output.output.as_deref()), ("--page", args.page.page.as_deref())])?;
    let document = values_document(title, table);
    let text = match output.format {
        Format::Table => document.text(width()),
        Format::Json => report::json(result)?,
        Format::Csv => table.csv()?,
    };
    deliver(&text, output.output.as_deref())?;
    if let Some(page) = page {
        page.write(document, origin(&Inputs::default(), &[], &[], &[])?, output.quiet)?;
    }
    Ok(Outcome::Done)
}
