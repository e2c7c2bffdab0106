//! Arguments → a library request → a report → where it goes. One arm a command.

use std::ffi::{OsStr, OsString};
use std::io::Write;

use knobwright::guitar::alteration::Alteration;
use knobwright::guitar::fitting::no_volume;
use knobwright::guitar::whole::View as GuitarView;
use knobwright::guitar::{Case, Guitar, Hookup, Joint, Slot, read_cases};
use knobwright::inputs::{self, Inputs};
use knobwright::kernel::features::at_own_ends;
use knobwright::kernel::placed::placed;
use knobwright::parts::choice::{items, read_assignment};
use knobwright::parts::network::Network;
use knobwright::parts::stock::Stock;
use knobwright::picture::{self, View};
use knobwright::recommend::assumed::StandIn;
use knobwright::recommend::{RankBy, Recommendation, Request, recommend};
use knobwright::report::{self, Shown};
use knobwright::source::{Passage, Source, printable_lines};
use knobwright::target::Target;
use knobwright::tolerance::{Draws, Law, Lot, Tolerances};
use knobwright::units::{knob, read_fraction};
use knobwright::{Error, ErrorKind, Result};

use super::args::{Check, Cli, Command, Format, GuitarArgs, HookupWord, JointWord, LawWord, LotArgs, OutputArgs, RankWord, Recommend};
use super::beside::made;
use super::outputs::{Outputs, deliver};
use super::page::{PageFile, origin};
use super::plot::{Plot, picture_file, position, two_parts};
use super::sheet::{SheetFile, Typed};
use super::signals::clear_at_end;
use super::terminal::{Bar, coloured_errors, width};
use super::whole::Asked;

/// How a command ended when nothing was wrong with its input.
pub enum Outcome {
    /// Done; the target is met where there is one.
    Done,
    /// The target is missed.
    Missed,
    /// Some of the files given are bad, all of them reported.
    BadFiles,
}

/// Does what was typed.
pub fn run(cli: Cli) -> Result<Outcome> {
    match cli.command {
        Command::Recommend(args) => run_recommend(&args),
        Command::Tolerance(args) => super::tolerance::run(&args),
        Command::Compare(args) => super::compare::run(&args),
        Command::Identify(args) => super::identify::run(&args),
        Command::Verify(args) => super::verify::run(&args),
        Command::Response(args) => super::response::run(&args),
        Command::Target(args) => super::values::run_target(&args),
        Command::Guitar(args) => super::guitar::run(&args),
        Command::Values(args) => super::values::run(&args),
        Command::Check(args) => run_check(&args),
        Command::Batch(args) => super::batch::run(&args),
        Command::Guide(args) => super::guide::run(&args),
        Command::Kit(args) => super::kit::run(&args),
        Command::Wish(words) => run(super::wish::recommend(words)),
    }
}

fn run_recommend(args: &Recommend) -> Result<Outcome> {
    let inputs = Inputs::default();
    let page = PageFile::read(&args.page)?;
    let sheet_file = args.sheet.as_deref().map(SheetFile::new).transpose()?;
    let plot = Plot::read(&args.plot.to, &args.output)?;
    let (view, at) = (args.plot.plot_kind.into(), position(args.plot.plot_at.as_ref())?);
    let parts = two_parts(args.plot.plot_values.as_ref())?;
    let parts = parts.as_ref().map(|[one, other]| [one.as_str(), other.as_str()]);
    let outputs = outputs(args)?;
    let request = match super::whole::asked(args, &inputs, &outputs)? {
        Asked::Answered(outcome) => return Ok(outcome),
        Asked::One(view, target) => request(args, &inputs, &view, target)?,
    };
    outputs.refuse_inputs(&inputs)?;
    tell_notes(&inputs, args.output.quiet);
    if let Some(at) = at {
        check_knobs(&request.guitar, &[at.volume], &[at.tone])?;
    }
    if plot.is_wanted() {
        picture::check_recommendation(&request, view, at, parts)?;
    }
    let result = with_bar(args.output.quiet, |bar| recommend(&request, bar))?;
    let text = match args.output.format {
        Format::Table if args.explain => report::recommendation_text(&result, width()),
        Format::Table => report::first_screen(&result, width()),
        Format::Json => report::json(&result)?,
        Format::Csv => report::recommendation_csv(&result)?,
    };
    let drawn = plot.draw(|| picture::of_recommendation(&request, &result, view, at, parts));
    // The answer first: a file that cannot be written takes nothing away from it.
    let told = drawn.deliver_with(&text, args.output.output.as_deref());
    let origin = origin(&inputs, &[args.guitar.guitar.as_deref()], &[&result.target], &args.stock)?;
    let sheet = sheet_file.map_or(Ok(()), |sheet| {
        sheet.write(&request, &result, &Typed::of(args), &origin, args.output.quiet)
    });
    let page = page.map_or(Ok(()), |page| {
        page.write(
            result.document(&shown(&request, &result, &Typed::of(args))),
            origin,
            args.output.quiet,
        )
    });
    told.and(sheet).and(page)?;
    Ok(if result.answer.kind.is_met() {
        Outcome::Done
    } else {
        Outcome::Missed
    })
}

/// What a page shows of an answer. A picture that cannot be drawn of it is left out: too many knob positions, or a build without two free
/// parts.
fn shown(request: &Request, result: &Recommendation, typed: &Typed<'_>) -> Shown {
    // The distance from the target is there for what building spreads about it.
    let spread = request.lot.is_some().then_some(View::Deviation);
    let views = [Some(View::Knobs), spread, Some(View::Landscape)];
    let drawn = |view: View| picture::of_recommendation(request, result, view, None, None).ok();
    Shown {
        sweep: made("curve under sliders on the page", picture::sweep_of_recommendation(request, result)).flatten(),
        pictures: views.into_iter().flatten().filter_map(drawn).collect(),
        sheet: made("build sheet on the page", typed.sheet(request, result)).flatten(),
    }
}

/// Says how tables were read that are not written as this program writes them.
pub(super) fn tell_notes(inputs: &Inputs, quiet: bool) {
    if !quiet {
        inputs.notes().iter().for_each(|note| tell(note));
    }
}

/// Does a long job with a progress bar on the screen, and takes the bar away however it ends.
pub(super) fn with_bar<T>(quiet: bool, job: impl FnOnce(&Bar) -> Result<T>) -> Result<T> {
    let bar = Bar::new(quiet);
    clear_at_end(bar.handle());
    let result = job(&bar);
    bar.clear();
    result
}

pub(super) fn hookup(word: HookupWord) -> Hookup {
    match word {
        HookupWord::Rheostat => Hookup::Rheostat,
        HookupWord::Shelf => Hookup::Shelf,
    }
}

pub(super) fn joint(word: JointWord) -> Joint {
    match word {
        JointWord::Pickup => Joint::Pickup,
        JointWord::Wiper => Joint::Wiper,
    }
}

fn outputs(args: &Recommend) -> Result<Outputs<'_>> {
    Outputs::new(&[
        ("--output", args.output.output.as_deref()),
        ("--plot", picture_file(&args.plot.to)),
        ("--sheet", args.sheet.as_deref()),
        ("--page", args.page.page.as_deref()),
    ])
}

/// The request for the guitar of a view, and for a target where it is read already.
fn request(args: &Recommend, inputs: &Inputs, view: &GuitarView, target: Option<Target>) -> Result<Request> {
    let guitar = seen(view, &args.guitar)?;
    tell_sample(&guitar, &args.guitar, &args.output);
    if args.output.format == Format::Csv {
        // Elsewhere the answer says what was assumed.
        tell_assumed(stand_in(args.guitar.guitar.as_deref(), &guitar).as_ref(), &args.output);
    }
    let target = target.map_or_else(|| target_asked(args, inputs), Ok)?;
    request_of(args, inputs, guitar, target)
}

/// The target of a wish in plain words, of `--target`, or the default.
pub fn target_asked(args: &Recommend, inputs: &Inputs) -> Result<Target> {
    let wish = (!args.wish.is_empty()).then(|| OsString::from(args.wish.join(" ")));
    target(inputs, wish.as_deref().or(args.target.as_deref()))
}

/// Everything that `recommend` was asked, for a guitar.
pub fn request_of(args: &Recommend, inputs: &Inputs, guitar: Guitar, target: Target) -> Result<Request> {
    let mut request = Request::new(guitar, target);
    request.kind = args.guitar.guitar.as_deref().and_then(inputs::kind);
    request.with = assignments("--with", &args.guitar.with)?;
    request.searches = assignments("--search", &args.search)?;
    request.hookup = args.hookup.map(hookup);
    request.joined_at = args.joined_at.map(joint);
    for text in &args.tries {
        request.tries.extend(Alteration::read_all(&Source::inline("--try", text.as_str()))?);
    }
    let slots = Slot::ALL.map(Slot::word);
    for text in &args.values {
        request
            .rules
            .add_series(&Source::inline("--values", text.as_str()).passage(), &slots)?;
    }
    for text in &args.range {
        request
            .rules
            .add_ranges(&Source::inline("--range", text.as_str()).passage(), &slots)?;
    }
    request.rules.stock = stock(inputs, &args.stock)?;
    request.rules.pairs = args.pairs;
    request.top = usize::from(args.top);
    request.large = args.large;
    request.at_any_price = args.at_any_price;
    request.threads = args.threads.map(usize::from);
    request.lot = lot(&args.lot)?;
    request.rank_by = match args.rank_by {
        RankWord::Margin => RankBy::Margin,
        RankWord::Yield => RankBy::Yield,
    };
    if request.rank_by == RankBy::Yield && request.lot.is_none() {
        let message = "--rank-by yield needs built guitars, but --builds 0 draws none";
        return Err(Error::new(ErrorKind::Conflict, message).help("leave --builds out, or give 10000"));
    }
    Ok(request)
}

/// The stock lists named, as one; none where none is.
pub fn stock(inputs: &Inputs, names: &[OsString]) -> Result<Option<Stock>> {
    (!names.is_empty()).then(|| inputs.stocks(names)).transpose()
}

/// The built guitars to draw; none with `--builds 0`, though what is said about them must make sense all the same.
pub(super) fn lot(args: &LotArgs) -> Result<Option<Lot>> {
    let mut tolerances = Tolerances::default();
    for text in &args.tolerance {
        tolerances.add(&Source::inline("--tolerance", text.as_str()).passage())?;
    }
    let precision = args.precision.as_deref().map(precision).transpose()?;
    let law = match args.law {
        LawWord::Uniform => Law::Uniform,
        LawWord::Normal => Law::Normal,
    };
    Ok((args.builds > 0).then_some(Lot {
        builds: u64::from(args.builds),
        draws: Draws {
            law,
            seed: args.random_seed,
        },
        tolerances,
        precision,
    }))
}

fn precision(text: &str) -> Result<f64> {
    let source = Source::inline("--precision", text);
    let passage = source.passage();
    let share = read_fraction(&passage)?.value();
    if share > 0.0 && share < 1.0 {
        return Ok(share);
    }
    Err(Error::at(&passage, ErrorKind::Range, "a precision lies between 0 and 100 %").label("expected for example 1%"))
}

/// The target asked for; the default where none is named.
pub fn target(inputs: &Inputs, name: Option<&OsStr>) -> Result<Target> {
    let target = inputs.target(name)?;
    if target.looks_like_shares() {
        tell(&format!(
            "Note: the knob positions of \"{}\" are read as on the knob, where 10 is full, so the knob is nearly closed. If shares of the \
             travel were meant, multiply them by 10.",
            target.name
        ));
    }
    Ok(target)
}

/// A target for a guitar: bands known by their words end where its own sound ends, and it is about the guitar's knobs and positions.
pub fn target_of(inputs: &Inputs, name: &OsStr, guitar: &mut Guitar) -> Result<Target> {
    let target = placed(target(inputs, Some(name))?, guitar);
    Ok(at_own_ends(target, guitar))
}

/// The guitar asked for, in the cases asked for; what is assumed where only a kind of pickup was named is said on standard error.
pub fn guitar(inputs: &Inputs, args: &GuitarArgs, output: &OutputArgs) -> Result<Guitar> {
    let guitar = seen(&view(inputs, args)?, args)?;
    tell_guitar(&guitar, args, output);
    Ok(guitar)
}

/// Says what was taken or assumed for a guitar, on standard error.
pub fn tell_guitar(guitar: &Guitar, args: &GuitarArgs, output: &OutputArgs) {
    tell_sample(guitar, args, output);
    tell_assumed(stand_in(args.guitar.as_deref(), guitar).as_ref(), output);
}

/// What stands in for the guitar where only a kind of pickup was named.
pub fn stand_in(name: Option<&OsStr>, guitar: &Guitar) -> Option<StandIn> {
    name.and_then(inputs::kind).map(|kind| StandIn::new(kind, guitar))
}

/// Says what was assumed, on standard error.
pub fn tell_assumed<'a>(assumed: impl IntoIterator<Item = &'a StandIn>, output: &OutputArgs) {
    if !output.quiet {
        assumed.into_iter().flat_map(|assumed| &assumed.says).for_each(|line| tell(line));
    }
}

/// The guitar as the knobs named see it.
pub fn view(inputs: &Inputs, args: &GuitarArgs) -> Result<GuitarView> {
    let knobs = args.knobs.as_deref().map(|name| Source::inline("--knobs", name));
    inputs
        .whole(args.guitar.as_deref())?
        .view(knobs.as_ref().map(Source::passage).as_ref())
}

fn cases(args: &GuitarArgs, guitar: &Guitar) -> Result<Vec<Case>> {
    let texts = args.case.iter().map(|text| Source::inline("--case", text.as_str()));
    read_cases(&texts.collect::<Vec<_>>(), guitar)
}

/// The guitar of a view in the positions and cases asked for.
pub fn seen(view: &GuitarView, args: &GuitarArgs) -> Result<Guitar> {
    let positions = args.position.as_deref().map(|text| Source::inline("--position", text));
    let named: Vec<Passage<'_>> = positions.iter().flat_map(|source| items(&source.passage())).collect();
    view.seen_in(&named, &cases(args, &view.guitar)?)
}

/// Says which sample was taken where no guitar was named.
fn tell_sample(guitar: &Guitar, args: &GuitarArgs, output: &OutputArgs) {
    if args.guitar.is_none() && !output.quiet {
        tell(&format!(
            "No --guitar given: using the shipped sample \"{}\", a single coil. For another kind name it, as in --guitar humbucker; check --list shows all.",
            guitar.name
        ));
    }
}

/// What an option fits where.
pub fn assignments(option: &'static str, texts: &[String]) -> Result<Vec<(Slot, Option<Network>)>> {
    let words = Slot::ALL.map(Slot::word);
    let read = |text: &String| {
        let (word, network) = read_assignment(&Source::inline(option, text.as_str()), &words)?;
        let slot = Slot::ALL.into_iter().find(|slot| slot.word() == word);
        let slot = slot.ok_or_else(|| Error::new(ErrorKind::Unknown, format!("`{word}` is no slot")))?;
        Ok((slot, network))
    };
    texts.iter().map(read).collect()
}

/// Refuses to turn a control that is not there.
pub fn check_knobs(guitar: &Guitar, volumes: &[f64], tones: &[f64]) -> Result<()> {
    if !guitar.volume.is_fitted && volumes.iter().any(|volume| *volume != 1.0) {
        return Err(no_volume("--volume turns the volume control").help("without one, --volume takes 10 only"));
    }
    if guitar.tone.is_none() && tones.iter().any(|tone| *tone != 1.0) {
        return Err(Error::new(
            ErrorKind::Missing,
            "--tone turns the tone control, but the guitar file lacks the [tone] table",
        )
        .help("a guitar without a tone control takes --tone 10 only"));
    }
    Ok(())
}

/// Knob positions with commas, 0 to 10 as on the knob, as rotations.
pub fn rotations(option: &'static str, text: &str) -> Result<Vec<f64>> {
    let rotations = list(option, text, |passage| {
        let rotation = passage.text().parse::<f64>().ok().and_then(knob::rotation);
        rotation.ok_or_else(|| {
            Error::at(passage, ErrorKind::Range, format!("`{}` is no knob position", passage.text()))
                .label("expected a number from 0 to 10, as on the knob")
                .help("10 is full, 5 is half way")
        })
    })?;
    if knob::looks_like_shares(&rotations) {
        let written: Vec<String> = rotations
            .iter()
            .map(|rotation| knob::number(knob::number(*rotation)).to_string())
            .collect();
        tell(&format!(
            "Note: {option} is read as on the knob, where 10 is full, so the knob is nearly closed. If a share of the travel \
             was meant, write {option} {}.",
            written.join(",")
        ));
    }
    Ok(rotations)
}

/// The items of a list with commas.
pub fn list<T>(option: &'static str, text: &str, read: impl Fn(&Passage<'_>) -> Result<T>) -> Result<Vec<T>> {
    items(&Source::inline(option, text).passage()).iter().map(read).collect()
}

fn run_check(args: &Check) -> Result<Outcome> {
    if args.list {
        deliver(&inputs::list_shipped()?, None)?;
    }
    let mut bad = false;
    for path in &args.files {
        match Inputs::default().check(path) {
            Ok(line) => deliver(&format!("{line}\n"), None)?,
            Err(errors) => {
                bad = true;
                errors.iter().for_each(show);
            }
        }
    }
    Ok(if bad { Outcome::BadFiles } else { Outcome::Done })
}

/// Prints a line on standard error; where nobody can be told there is nothing left to do about it.
pub fn tell(line: &str) {
    let _ = writeln!(std::io::stderr(), "{}", printable_lines(line));
}

/// Draws an error on standard error.
pub fn show(error: &Error) {
    let picture = if coloured_errors() {
        error.coloured_picture()
    } else {
        error.picture()
    };
    let _ = writeln!(std::io::stderr(), "{picture}");
}
