//! `batch`: the main job for many guitars, a build sheet for each and one list for all.

use std::collections::HashSet;
use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

use knobwright::guitar::catalogue::Listed;
use knobwright::inputs::Inputs;
use knobwright::progress::Progress;
use knobwright::recommend::sheet::sheet;
use knobwright::recommend::{Recommendation, Request, recommend};
use knobwright::report::{Order, Origin, orders_csv};
use knobwright::source::shown;
use knobwright::target::Target;
use knobwright::{Error, ErrorKind, Result};

use super::args::{Batch, GuitarArgs};
use super::kit::for_whom;
use super::outputs::{Outputs, deliver, put};
use super::page::origin;
use super::run::{Outcome, assignments, lot, show, stock, target, tell, tell_notes, with_bar};
use super::sheet::Typed;

/// Answers for every guitar.
pub fn run(args: &Batch) -> Result<Outcome> {
    let inputs = Inputs::default();
    let outputs = Outputs::new(&[("--csv", args.csv.as_deref())])?;
    let guitars = match inputs.guitars(&args.guitars) {
        Ok(guitars) => guitars,
        Err(errors) => {
            errors.iter().for_each(show);
            return Ok(Outcome::BadFiles);
        }
    };
    let target = target(&inputs, args.target.as_deref())?;
    let base = Base {
        catalogue: catalogue(&args.guitars),
        asked: args.target.clone(),
        target: &target,
        request: Request {
            searches: assignments("--search", &args.search)?,
            lot: lot(&args.lot)?,
            rules: knobwright::parts::choice::Rules {
                stock: stock(&inputs, &args.stock)?,
                ..Default::default()
            },
            // Guitars are done side by side, each on one thread.
            threads: Some(1),
            ..Request::new(first(&guitars)?.guitar.clone(), target.clone())
        },
        origin: origin(&inputs, &[], &[&target], &args.stock)?,
    };
    outputs.refuse_inputs(&inputs)?;
    tell_notes(&inputs, args.quiet);
    let sheets = args.sheets.as_deref().map(|folder| Sheets::new(folder, &guitars)).transpose()?;
    let workers = args.threads.map_or_else(cores, usize::from);
    let orders = with_bar(args.quiet, |bar| all(&base, &guitars, sheets.as_ref(), workers, bar))?;
    deliver(&for_whom(args.csv_for, orders_csv(&orders)?)?, args.csv.as_deref())?;
    let met = orders.iter().filter(|order| is_met(order)).count();
    if !args.quiet {
        tell(&format!("The wish is met on {met} of {} guitars.", orders.len()));
    }
    Ok(if met == orders.len() { Outcome::Done } else { Outcome::Missed })
}

fn is_met(order: &Order) -> bool {
    order.found.as_ref().is_ok_and(|found| found.answer.kind.is_met())
}

fn first(guitars: &[Listed]) -> Result<&Listed> {
    guitars.first().ok_or_else(|| Error::new(ErrorKind::Missing, "there is no guitar"))
}

fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// What is the same for every guitar.
struct Base<'b> {
    /// The catalogue that all guitars are from; none where they are from several files.
    catalogue: Option<&'b OsStr>,
    asked: Option<OsString>,
    target: &'b Target,
    request: Request,
    origin: Origin,
}

impl Base<'_> {
    fn request(&self, listed: &Listed) -> Request {
        let own = Request::new(listed.guitar.clone(), self.target.clone());
        Request {
            guitar: own.guitar,
            target: own.target,
            ..self.request.clone()
        }
    }
}

fn catalogue(guitars: &[OsString]) -> Option<&OsStr> {
    let [one] = guitars else { return None };
    Path::new(one).extension().is_some_and(|suffix| suffix == "csv").then_some(one)
}

/// A guitar of a catalogue as an option names it.
fn row_of(catalogue: &OsStr, name: &str) -> OsString {
    let mut row = catalogue.to_owned();
    row.push("#");
    row.push(name);
    row
}

/// Where each guitar's build sheet goes.
struct Sheets(Vec<PathBuf>);

impl Sheets {
    fn new(folder: &Path, guitars: &[Listed]) -> Result<Self> {
        std::fs::create_dir_all(folder).map_err(|error| {
            let message = format!("the folder `{}` cannot be made: {error}", shown(folder));
            Error::new(ErrorKind::File, message).help("name a folder that can be written with --sheets")
        })?;
        let mut taken: HashSet<String> = HashSet::new();
        let paths = guitars.iter().map(|listed| {
            let name = file_name(&listed.guitar.name);
            let free = (1_usize..).map(|number| if number == 1 { name.clone() } else { format!("{name}-{number}") });
            let free = free.into_iter().find(|name| taken.insert(name.clone())).unwrap_or(name);
            folder.join(format!("{free}.html"))
        });
        Ok(Self(paths.collect()))
    }
}

/// "Kittiwake, neck" as `kittiwake-neck`.
fn file_name(name: &str) -> String {
    let words = name.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty());
    let joined = words.map(str::to_lowercase).collect::<Vec<_>>().join("-");
    if joined.is_empty() { "guitar".to_owned() } else { joined }
}

/// Every guitar in the order given, some side by side; each sheet is written as soon as it is there.
fn all(base: &Base<'_>, guitars: &[Listed], sheets: Option<&Sheets>, workers: usize, bar: &impl Progress) -> Result<Vec<Order>> {
    bar.expect(guitars.len() as u64);
    let mut orders = Vec::with_capacity(guitars.len());
    let numbered: Vec<(usize, &Listed)> = guitars.iter().enumerate().collect();
    for some in numbered.chunks(workers.max(1)) {
        let done: Vec<Result<Order>> = std::thread::scope(|scope| {
            let started: Vec<_> = some
                .iter()
                .map(|(place, listed)| scope.spawn(move || one(base, listed, sheets.and_then(|sheets| sheets.0.get(*place)))))
                .collect();
            let joined = started.into_iter().map(|job| {
                let done = job
                    .join()
                    .unwrap_or_else(|_| Err(Error::new(ErrorKind::Search, "a guitar could not be worked out")));
                bar.advance(1);
                done
            });
            joined.collect()
        });
        orders.extend(done.into_iter().collect::<Result<Vec<_>>>()?);
    }
    Ok(orders)
}

/// What a guitar cannot be asked is told in its row; a sheet that cannot be written ends the work.
fn one(base: &Base<'_>, listed: &Listed, path: Option<&PathBuf>) -> Result<Order> {
    let request = base.request(listed);
    let found = recommend(&request, &());
    if let (Ok(found), Some(path)) = (&found, path) {
        write_sheet(base, &request, found, path)?;
    }
    Ok(Order {
        guitar: listed.guitar.name.clone(),
        group: listed.group.clone(),
        own: listed.own.clone(),
        found: found.map(Box::new).map_err(|error| error.message().to_owned()),
    })
}

fn write_sheet(base: &Base<'_>, request: &Request, found: &Recommendation, path: &Path) -> Result<()> {
    let named = base.catalogue.map(|catalogue| GuitarArgs {
        guitar: Some(row_of(catalogue, &request.guitar.name)),
        ..GuitarArgs::default()
    });
    let target = base.asked.clone();
    let sheet = match &named {
        Some(guitar) => Typed { guitar, target }.sheet(request, found)?,
        None => sheet(request, found)?,
    };
    let Some(sheet) = sheet else { return Ok(()) };
    let document = sheet.document(found).from_origin(base.origin.clone());
    put(path, document.html()?.as_bytes())
}
