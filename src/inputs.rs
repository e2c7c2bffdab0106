//! What a user names on the command line → the guitar, target or stock list meant: a file, something shipped, or a phrase.

use std::path::{Path, PathBuf};

use crate::document::Document;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::guitar::catalogue::{self, Listed};
use crate::parts::stock::Stock;
use crate::shipped::{self, ShippedFile};
use crate::source::{self, Source};
use crate::target::Target;

/// Whether a name on the command line is a file's: it holds a path separator or ends in the suffix.
#[must_use]
pub fn is_file(name: &str, suffix: &str) -> bool {
    name.contains(std::path::is_separator) || name.to_lowercase().ends_with(suffix)
}

/// The guitar of a file or of a shipped sample; `None` is the first sample.
///
/// # Errors
/// When there is none, or its file is not as it must be.
pub fn guitar(name: Option<&str>) -> Result<Guitar> {
    Guitar::read(&guitar_source(name)?)
}

/// The text of a guitar's file or of a shipped sample; `None` is the first sample.
///
/// # Errors
/// When there is none.
pub fn guitar_source(name: Option<&str>) -> Result<Source> {
    match name {
        Some(name) if is_file(name, ".toml") => file(Path::new(name)),
        Some(name) => shipped_source(shipped::GUITARS, name, "guitar"),
        None => first(shipped::GUITARS),
    }
}

/// The target of a file, of a shipped target or of a phrase; `None` is the default target.
///
/// # Errors
/// When its file or phrase is not as it must be.
pub fn target(name: Option<&str>) -> Result<Target> {
    match name {
        Some(name) if is_file(name, ".toml") => Target::read(&file(Path::new(name))?),
        Some(name) => match find(shipped::TARGETS, name) {
            Some(shipped) => Target::read(&embedded(shipped)),
            None => Target::from_phrase(&Source::inline("--target", name).passage()).map_err(|error| nearest_target(error, name)),
        },
        None => Target::read(&first(shipped::TARGETS)?),
    }
}

/// The stock list of a file or of a shipped sample.
///
/// # Errors
/// When there is none, or its file is not as it must be.
pub fn stock(name: &str) -> Result<Stock> {
    Stock::read(&stock_source(name)?)
}

/// The text of a stock list, by the name that [`stock`] takes.
///
/// # Errors
/// When there is none.
pub fn stock_source(name: &str) -> Result<Source> {
    if is_file(name, ".csv") {
        file(Path::new(name))
    } else {
        shipped_source(shipped::STOCK, name, "stock list")
    }
}

/// Several stock lists as one; see [`Stock::joined`].
///
/// # Errors
/// When one is not there, is not as it must be, or is named twice.
pub fn stocks(names: &[String]) -> Result<Stock> {
    for (index, name) in names.iter().enumerate() {
        if names.iter().take(index).any(|earlier| earlier == name) {
            let message = format!("the stock list `{name}` is given twice: its pieces would be counted twice");
            return Err(Error::new(ErrorKind::Conflict, message).help("give each list once"));
        }
    }
    let lists: Vec<Stock> = names.iter().map(|name| stock(name)).collect::<Result<_>>()?;
    Ok(Stock::joined(lists))
}

/// The guitars of files, folders, catalogues (.csv) and shipped names; none is the first shipped catalogue. A folder stands for the guitar
/// files in it, in the order of their names.
///
/// # Errors
/// Every mistake of every file; nothing is used then.
pub fn guitars(names: &[String]) -> Result<Vec<Listed>, Vec<Error>> {
    let (mut listed, mut errors) = (Vec::new(), Vec::new());
    let first = shipped::CATALOGUES.first().map(|file| file.name.to_owned());
    let default: Vec<String> = first.into_iter().filter(|_| names.is_empty()).collect();
    for name in names.iter().chain(&default) {
        match guitars_of(name) {
            Ok(found) => listed.extend(found),
            Err(found) => errors.extend(found),
        }
    }
    if listed.is_empty() && errors.is_empty() {
        errors.push(Error::new(ErrorKind::Missing, "there is no guitar to serve"));
    }
    if errors.is_empty() { Ok(listed) } else { Err(errors) }
}

fn guitars_of(name: &str) -> Result<Vec<Listed>, Vec<Error>> {
    let alone = |error: Error| vec![error];
    let path = Path::new(name);
    if source::is_folder(path) {
        let files = source::files_in(path, ".toml").map_err(|message| alone(Error::new(ErrorKind::File, message)))?;
        if files.is_empty() {
            let message = format!("there is no guitar file (.toml) in the folder `{name}`");
            return Err(alone(Error::new(ErrorKind::Missing, message)));
        }
        let read = |path: &PathBuf| file(path).and_then(|source| Guitar::read(&source));
        let (read, bad): (Vec<_>, Vec<_>) = files.iter().map(read).partition(Result::is_ok);
        let errors: Vec<Error> = bad.into_iter().filter_map(Result::err).collect();
        return if errors.is_empty() {
            Ok(read.into_iter().flatten().map(Listed::once).collect())
        } else {
            Err(errors)
        };
    }
    if is_file(name, ".csv") && !name.to_lowercase().ends_with(".toml") {
        return catalogue::read(&file(path).map_err(alone)?);
    }
    if let Some(shipped) = find(shipped::CATALOGUES, name) {
        return catalogue::read(&embedded(shipped));
    }
    let known: Vec<&str> = shipped::CATALOGUES.iter().map(|file| file.name).collect();
    let guitar = guitar(Some(name)).map_err(|error| alone(error.help(format!("shipped catalogues: {}", known.join(", ")))))?;
    Ok(vec![Listed::once(guitar)])
}

/// A file's text.
///
/// # Errors
/// When it cannot be read.
pub fn file(path: &Path) -> Result<Source> {
    Source::file(path).map_err(|message| Error::new(ErrorKind::File, message))
}

/// Reads a guitar, target, stock or catalogue file and says in one line what it is. A `.csv` is a stock list unless its header has guitars'
/// keys; a `.toml` with clauses is a target.
///
/// # Errors
/// Every mistake of a catalogue, else the first of the file.
pub fn check(path: &Path) -> Result<String, Vec<Error>> {
    let alone = |error: Error| vec![error];
    let source = file(path).map_err(alone)?;
    let is_csv = source.name().to_lowercase().ends_with(".csv");
    let what = if is_csv && catalogue::is_catalogue(&source) {
        let listed = catalogue::read(&source)?;
        format!("catalogue, {}", catalogue::summary(&listed))
    } else if is_csv {
        describe_stock(&source).map_err(alone)?
    } else if is_target(&source).map_err(alone)? {
        describe_target(&source).map_err(alone)?
    } else {
        describe_guitar(&source).map_err(alone)?
    };
    Ok(format!("{}: {what}", source.name()))
}

/// Every shipped guitar, target, stock list and catalogue, a line each under its heading.
///
/// # Errors
/// None in practice: every shipped file is read by the tests.
pub fn list_shipped() -> Result<String> {
    let groups: [(&str, &[ShippedFile], Describe); 4] = [
        ("Guitars (--guitar):", shipped::GUITARS, describe_guitar),
        ("Targets (--target):", shipped::TARGETS, describe_target),
        ("Stock lists (--stock):", shipped::STOCK, describe_stock),
        ("Catalogues (kit --guitars):", shipped::CATALOGUES, describe_catalogue),
    ];
    let mut text = String::new();
    for (heading, files, describe) in groups {
        text.push_str(heading);
        for file in files {
            text.push_str(&format!("\n  {}: {}", file.name, describe(&embedded(file))?));
        }
        text.push('\n');
    }
    Ok(text)
}

type Describe = fn(&Source) -> Result<String>;

fn describe_guitar(source: &Source) -> Result<String> {
    Ok(format!("guitar {}", Guitar::read(source)?.summary()))
}

fn describe_target(source: &Source) -> Result<String> {
    let target = Target::read(source)?;
    let count = target.clauses.len();
    let clauses = if count == 1 { "clause" } else { "clauses" };
    Ok(format!(
        "target {}: {count} {clauses}; {}",
        target.name,
        target.in_words().join("; ")
    ))
}

fn describe_stock(source: &Source) -> Result<String> {
    Ok(format!("stock list, {}", Stock::read(source)?.summary()))
}

fn describe_catalogue(source: &Source) -> Result<String> {
    match catalogue::read(source) {
        Ok(listed) => Ok(format!("catalogue, {}", catalogue::summary(&listed))),
        Err(errors) => Err(errors
            .into_iter()
            .next()
            .unwrap_or_else(|| Error::new(ErrorKind::Missing, "an empty catalogue"))),
    }
}

/// A target has clauses, a guitar has a pickup; a file with neither is taken for a guitar, whose reader says what is missing.
fn is_target(source: &Source) -> Result<bool> {
    let document = Document::parse(source)?;
    let root = document.root("the file");
    Ok(root.get("clause").is_some() && root.get("pickup").is_none())
}

fn shipped_source(files: &[ShippedFile], name: &str, what: &str) -> Result<Source> {
    find(files, name).map(embedded).ok_or_else(|| {
        let names: Vec<_> = files.iter().map(|file| file.name).collect();
        Error::new(ErrorKind::Unknown, format!("no shipped {what} is called `{name}`"))
            .nearest(name, names.iter().copied())
            .help(format!("shipped: {}", names.join(", ")))
            .help(format!("a file is named with its folder or its ending: ./{name}.toml"))
    })
}

fn nearest_target(error: Error, name: &str) -> Error {
    // One word is more likely a target's name gone wrong than a phrase.
    if name.trim().contains(' ') {
        return error;
    }
    let names: Vec<_> = shipped::TARGETS.iter().map(|file| file.name).collect();
    error
        .nearest(name, names.iter().copied())
        .help(format!("shipped targets: {}", names.join(", ")))
}

fn find<'f>(files: &'f [ShippedFile], name: &str) -> Option<&'f ShippedFile> {
    files.iter().find(|file| file.name == name)
}

fn first(files: &[ShippedFile]) -> Result<Source> {
    let file = files.first().map(embedded);
    file.ok_or_else(|| Error::new(ErrorKind::Missing, "nothing is shipped with this program"))
}

fn embedded(file: &ShippedFile) -> Source {
    Source::inline(file.name, file.text)
}
