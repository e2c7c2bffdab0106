//! `kit`: arguments → a library request → a report.

use std::path::Path;
use std::time::{Duration, Instant};

use knobwright::guitar::Slot;
use knobwright::inputs::{self, Inputs};
use knobwright::kit::{Aim, Choose, MOST_CHOSEN, Pieces, Request, kit};
use knobwright::parts::choice::{Rules, read_end};
use knobwright::recommend::assumed::StandIn;
use knobwright::report;
use knobwright::source::{Passage, Source, shown};
use knobwright::units::{read_decibels, read_fraction};
use knobwright::{Error, ErrorKind, Result};

use super::args::{AimWord, CsvFor, Format, Kit, PiecesWord};
use super::outputs::{Outputs, deliver, put};
use super::page::{PageFile, origin};
use super::run::{Outcome, assignments, show, stand_in, stock, target, tell, tell_assumed, tell_notes, with_bar};
use super::terminal::width;

const CHOOSE: &str = "R=3,C=3";
const SEARCH: &str = "bleed=R || C";

/// Chooses a kit and prints it.
pub fn run(args: &Kit) -> Result<Outcome> {
    let begun = Instant::now();
    let limit = time_limit(args.time_limit)?;
    let inputs = Inputs::default();
    let page = PageFile::read(&args.page)?;
    let outputs = Outputs::new(&[
        ("--output", args.output.output.as_deref()),
        ("--page", args.page.page.as_deref()),
        ("--card", args.card.as_deref()),
    ])?;
    if let Some(path) = args
        .card
        .as_deref()
        .filter(|path| path.extension().is_none_or(|suffix| suffix != "html"))
    {
        let source = Source::inline("--card", shown(path));
        return Err(Error::at(&source.passage(), ErrorKind::Unknown, "a card is a page for a browser").label("expected .html"));
    }
    let guitars = match inputs.guitars(&args.guitars) {
        Ok(guitars) => guitars,
        Err(errors) => {
            errors.iter().for_each(show);
            return Ok(Outcome::BadFiles);
        }
    };
    let assumed = assumed(args, &inputs)?;
    tell_assumed(&assumed, &args.output);
    let targets: Result<Vec<_>> = match args.target.as_slice() {
        [] => target(&inputs, None).map(|target| vec![target]),
        names => names.iter().map(|name| target(&inputs, Some(name))).collect(),
    };
    let default = [SEARCH.to_owned()];
    let searches = if args.search.is_empty() { &default[..] } else { &args.search };
    let request = Request {
        guitars,
        targets: targets?,
        searches: assignments("--search", searches)?,
        rules: rules(args, &inputs)?,
        choose: choose(args.choose.as_deref().unwrap_or(CHOOSE))?,
        pieces: match args.pieces {
            PiecesWord::AsNeeded => Pieces::AsNeeded,
            PiecesWord::One => Pieces::One,
        },
        fixed: fixed(&args.fixed)?,
        aim: match args.aim {
            AimWord::Coverage => Aim::Coverage,
            AimWord::Margin => Aim::Margin,
        },
        floor_db: level("--floor", &args.floor)?,
        at_least_db: level("--at-least", &args.at_least)?,
        yield_at_least: args.yield_at_least.as_deref().map(share).transpose()?,
        budget: args.budget.map(budget).transpose()?,
        bags: args.bags,
        // What was read by now has taken its part.
        time_limit: Some(limit.saturating_sub(begun.elapsed())),
        threads: args.threads.map(usize::from),
    };
    outputs.refuse_inputs(&inputs)?;
    tell_notes(&inputs, args.output.quiet);
    if args.guitars.is_empty() && !args.output.quiet {
        tell("No --guitars given: using the shipped catalogue of invented guitars.");
    }
    let result = with_bar(args.output.quiet, |bar| kit(&request, bar))?;
    let text = match args.output.format {
        Format::Table => result.document().text(width()),
        Format::Json => report::json_assuming((!assumed.is_empty()).then_some(&assumed), &result)?,
        Format::Csv => for_whom(args.csv_for, report::kit_csv(&result)?)?,
    };
    deliver(&text, args.output.output.as_deref())?;
    if let Some(path) = &args.card {
        put(path, result.card().html()?.as_bytes())?;
    }
    if let Some(folder) = &args.tables {
        write_tables(folder, &result, args.csv_for)?;
    }
    if let Some(page) = page {
        let targets: Vec<_> = result.targets.iter().collect();
        let origin = origin(&inputs, &[], &targets, &args.stock)?;
        page.write(result.document(), origin, args.output.quiet)?;
    }
    Ok(if result.covered > 0 { Outcome::Done } else { Outcome::Missed })
}

/// Each table of a kit as a file of its own; the folder is made where there is none.
fn write_tables(folder: &Path, result: &knobwright::kit::Kit, reader: CsvFor) -> Result<()> {
    std::fs::create_dir_all(folder).map_err(|error| {
        Error::new(ErrorKind::File, format!("{} cannot be made: {error}", shown(folder)))
            .help("name a folder that can be written with --tables")
    })?;
    for (name, text) in report::kit_tables(result)? {
        put(&folder.join(name), for_whom(reader, text)?.as_bytes())?;
    }
    Ok(())
}

/// A CSV as its reader wants it.
pub(super) fn for_whom(reader: CsvFor, csv: String) -> Result<String> {
    match reader {
        CsvFor::Program => Ok(csv),
        CsvFor::SpreadsheetComma => report::with_decimal_commas(&csv),
    }
}

/// What stands in for the guitars of which only the kind of pickup was named.
fn assumed(args: &Kit, inputs: &Inputs) -> Result<Vec<StandIn>> {
    let kinds = args.guitars.iter().filter(|name| inputs::kind(name).is_some());
    let assumed = kinds.map(|name| Ok(stand_in(Some(name), &inputs.guitar(Some(name))?)));
    Ok(assumed.collect::<Result<Vec<_>>>()?.into_iter().flatten().collect())
}

fn rules(args: &Kit, inputs: &Inputs) -> Result<Rules> {
    let slots = Slot::ALL.map(Slot::word);
    let mut rules = Rules::default();
    for text in &args.values {
        rules.add_series(&Source::inline("--values", text.as_str()).passage(), &slots)?;
    }
    for text in &args.range {
        rules.add_ranges(&Source::inline("--range", text.as_str()).passage(), &slots)?;
    }
    rules.stock = stock(inputs, &args.stock)?;
    Ok(rules)
}

fn choose(text: &str) -> Result<Choose> {
    let source = Source::inline("--choose", text);
    let whole = source.passage();
    if let Some(count) = text.trim().strip_prefix("networks") {
        let at = text.len() - count.trim_start().trim_start_matches('=').len();
        if count.trim_start().starts_with('=') {
            return Ok(Choose::Networks(count_of(&whole.part(at..text.len()).trimmed())?));
        }
    }
    let slots = Slot::ALL.map(Slot::word);
    let keys = Rules::read_keys(&whole, &slots, CHOOSE).map_err(|error| error.help("or whole networks: networks=4"))?;
    let sizes: Result<Vec<_>> = keys.into_iter().map(|(key, value)| Ok((key, count_of(&value)?))).collect();
    Ok(Choose::Values(sizes?))
}

fn count_of(text: &Passage<'_>) -> Result<usize> {
    let count = text.text().parse::<usize>().ok().filter(|count| (1..=MOST_CHOSEN).contains(count));
    count.ok_or_else(|| {
        Error::at(text, ErrorKind::Range, format!("`{}` is no number of values", text.text())).label(format!("expected 1 to {MOST_CHOSEN}"))
    })
}

fn fixed(texts: &[String]) -> Result<Vec<(knobwright::parts::choice::Key, f64)>> {
    let slots = Slot::ALL.map(Slot::word);
    let mut fixed = Vec::new();
    for text in texts.iter().flat_map(|text| one_value_each(text)) {
        let source = Source::inline("--fixed", text.as_str());
        // A part may keep several values, so that a key may come again in another --fixed.
        for (key, value) in Rules::read_keys(&source.passage(), &slots, "R=150k")? {
            let value = read_end(&value, key.kind())?;
            fixed.push((key, value));
        }
    }
    Ok(fixed)
}

/// "R=100k,220k,C=1n" as "R=100k,C=1n" and "R=220k": a value without a key is a further one of the part before it.
fn one_value_each(text: &str) -> Vec<String> {
    let (mut named, mut further, mut key) = (Vec::new(), Vec::new(), "");
    for piece in text.split(',') {
        match piece.split_once('=') {
            Some((own, _)) => {
                key = own.trim();
                named.push(piece);
            }
            None if key.is_empty() => named.push(piece),
            None => further.push(format!("{key}={}", piece.trim())),
        }
    }
    std::iter::once(named.join(",")).chain(further).collect()
}

fn share(text: &str) -> Result<f64> {
    let source = Source::inline("--yield-at-least", text);
    let share = read_fraction(&source.passage())?.value();
    if (0.0..=1.0).contains(&share) {
        return Ok(share);
    }
    Err(Error::at(&source.passage(), ErrorKind::Range, "a share of builds is 0 to 100 %").label("expected for example 90%"))
}

fn budget(price: f64) -> Result<f64> {
    if (0.0..=1e9).contains(&price) {
        return Ok(price);
    }
    Err(Error::new(ErrorKind::Range, format!("--budget {price} is no price")).help("a number such as 0.80, in the stock list's currency"))
}

fn level(option: &str, text: &str) -> Result<f64> {
    let source = Source::inline(option, text);
    let decibels = read_decibels(&source.passage())?.value();
    if (-1000.0..=1000.0).contains(&decibels) {
        return Ok(decibels);
    }
    Err(Error::at(&source.passage(), ErrorKind::Range, "a margin is -1000 to 1000 dB").label("outside"))
}

fn time_limit(seconds: f64) -> Result<Duration> {
    let duration = Duration::try_from_secs_f64(seconds).ok().filter(|_| seconds <= 86_400.0);
    duration.ok_or_else(|| Error::new(ErrorKind::Range, format!("--time-limit {seconds} is no time")).help("seconds, from 0 to a day"))
}
