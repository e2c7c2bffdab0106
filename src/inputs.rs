//! What a user names on the command line → the guitar, target or stock list meant: a file, something shipped, or a phrase.

use std::ffi::{OsStr, OsString};
use std::path::Path;

use crate::document::Document;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::guitar::catalogue::{self, Listed};
use crate::guitar::kind::{KINDS, Kind};
use crate::guitar::whole::Whole;
use crate::parts::stock::Stock;
use crate::rows;
use crate::shipped::{self, ShippedFile};
use crate::source::{self, Files, ReadFile, Source};
use crate::target::Target;

/// Shipped targets by the name they had before and by the one they have.
const RENAMED: [(&str, &str); 1] = [("less-mud", "clearer-closed-tone")];

/// Fractions of a knob's travel, whose stroke is no path separator.
const FRACTIONS: [&str; 3] = ["1/4", "1/2", "3/4"];

/// Whether a name on the command line is a file's: it holds a path separator or ends in the suffix.
fn is_file(name: &OsStr, suffix: &str) -> bool {
    let name = name.to_string_lossy();
    let mut words = name.split([' ', ',', ';', '?', '!']).filter(|word| !FRACTIONS.contains(word));
    words.any(|word| word.contains(std::path::is_separator)) || name.to_lowercase().ends_with(suffix)
}

/// The kind of pickup that a name on the command line stands for; none where it is a file's or a sample's.
#[must_use]
pub fn kind(name: &OsStr) -> Option<&'static Kind> {
    let text = name.to_string_lossy();
    let is_other = is_file(name, ".toml") || find(shipped::GUITARS, &text).is_some();
    (!is_other).then(|| Kind::named(&text)).flatten()
}

/// The guitar of a file, of a shipped sample or of a kind of pickup; see [`Inputs::guitar`].
///
/// # Errors
/// As there.
pub fn guitar(name: Option<&str>) -> Result<Guitar> {
    Inputs::default().guitar(name.map(OsStr::new))
}

/// The target of a file, of a shipped target or of a phrase; see [`Inputs::target`].
///
/// # Errors
/// As there.
pub fn target(name: Option<&str>) -> Result<Target> {
    Inputs::default().target(name.map(OsStr::new))
}

/// The target that a text stands for: a file, a shipped target or a phrase. A file is opened only below the folder that the text
/// was given ([`Source::within`]), else refused.
///
/// # Errors
/// When its file or phrase is not as it must be, or may not be opened.
pub fn target_of(written: &Source) -> Result<Target> {
    let name = written.text();
    if is_file(OsStr::new(name), ".toml") {
        let refused = |why| Error::at(&written.passage(), ErrorKind::File, why).label("taken for a file");
        return Target::read(&written.open_beside(name).map_err(refused)?);
    }
    if let Some((old, new)) = RENAMED.into_iter().find(|(old, _)| *old == name) {
        let message = format!("the shipped target `{old}` is now called `{new}`");
        let phrase = old.replace('-', " ");
        return Err(Error::at(&written.passage(), ErrorKind::Unknown, message)
            .label(format!("write `{new}`"))
            .help(format!("or the phrase \"{phrase}\" for a wish with both knobs full up")));
    }
    match find(shipped::TARGETS, name) {
        Some(shipped) => Target::read(&embedded(shipped)),
        None => Target::from_phrase(&written.passage()).map_err(|error| nearest_target(error, name)),
    }
}

/// The stock list of a file or of a shipped sample; see [`Inputs::stock`].
///
/// # Errors
/// As there.
pub fn stock(name: &str) -> Result<Stock> {
    Inputs::default().stock(OsStr::new(name))
}

/// The guitars of files, folders, catalogues and shipped names; see [`Inputs::guitars`].
///
/// # Errors
/// As there.
pub fn guitars(names: &[&str]) -> Result<Vec<Listed>, Vec<Error>> {
    let names: Vec<OsString> = names.iter().map(OsString::from).collect();
    Inputs::default().guitars(&names)
}

/// Everything that one command takes in. A file that is named twice is read once: a pipe gives its text only once.
#[derive(Debug, Clone, Default)]
pub struct Inputs {
    files: Files,
}

impl Inputs {
    /// Every file that was read, those named inside others among them.
    #[must_use]
    pub fn files(&self) -> Vec<ReadFile> {
        self.files.read()
    }

    /// What there is to say of how the tables that were read are written: another encoding than UTF-8, other marks between cells than commas.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let files = self.files();
        let tables = files
            .iter()
            .filter(|file| file.path.extension().is_some_and(|suffix| suffix.eq_ignore_ascii_case("csv")));
        let dialects = tables.filter_map(|file| rows::dialect(&self.files.open(&file.path).ok()?));
        self.files.notes().into_iter().chain(dialects).collect()
    }

    /// A file's text.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn file(&self, path: &Path) -> Result<Source> {
        self.files.open(path).map_err(|message| Error::new(ErrorKind::File, message))
    }

    /// The guitar of a file, of a shipped sample or of a kind of pickup; `None` is the first sample.
    ///
    /// # Errors
    /// When there is none, or its file is not as it must be.
    pub fn guitar(&self, name: Option<&OsStr>) -> Result<Guitar> {
        Guitar::read(&self.guitar_source(name)?)
    }

    /// The same guitar of one pickup or several, as each of its knobs sees it.
    ///
    /// # Errors
    /// As there.
    pub fn whole(&self, name: Option<&OsStr>) -> Result<Whole> {
        Whole::read(&self.guitar_source(name)?)
    }

    /// The text of a guitar's file, of a shipped sample or of the sample that stands for a kind of pickup; `None` is the first sample.
    ///
    /// # Errors
    /// When there is none.
    pub fn guitar_source(&self, name: Option<&OsStr>) -> Result<Source> {
        match name {
            Some(name) if row_of_catalogue(name).is_some() => self.row(name),
            Some(name) if is_file(name, ".toml") => self.file(Path::new(name)),
            Some(name) => match kind(name) {
                Some(kind) => shipped_source(shipped::GUITARS, kind.sample, "guitar"),
                None => match find(shipped::WHOLE_GUITARS, &name.to_string_lossy()) {
                    Some(file) => Ok(embedded(file)),
                    None => shipped_source(shipped::GUITARS, &name.to_string_lossy(), "guitar").map_err(|error| nearest_kind(error, name)),
                },
            },
            None => first(shipped::GUITARS),
        }
    }

    /// A guitar of a catalogue: `birds.csv#Kittiwake, neck`.
    fn row(&self, name: &OsStr) -> Result<Source> {
        let written = name.to_string_lossy();
        let (catalogue, row) = row_of_catalogue(name).unwrap_or_default();
        let source = match find(shipped::CATALOGUES, &catalogue) {
            Some(shipped) => embedded(shipped),
            None => self.file(Path::new(&catalogue))?,
        };
        let option = Source::inline("--guitar", written.as_ref());
        let whole = option.passage();
        catalogue::row(&source, &whole.part(written.len() - row.len()..written.len()))
    }

    /// The target of a file, of a shipped target or of a phrase; `None` is the default target.
    ///
    /// # Errors
    /// When its file or phrase is not as it must be.
    pub fn target(&self, name: Option<&OsStr>) -> Result<Target> {
        let Some(name) = name else {
            return Target::read(&first(shipped::TARGETS)?);
        };
        if is_file(name, ".toml") {
            return Target::read(&self.file(Path::new(name))?);
        }
        target_of(&Source::inline("--target", name.to_string_lossy()))
    }

    /// The stock list of a file or of a shipped sample.
    ///
    /// # Errors
    /// When there is none, or its file is not as it must be.
    pub fn stock(&self, name: &OsStr) -> Result<Stock> {
        Stock::read(&self.stock_source(name)?)
    }

    /// The text of a stock list, by the name that [`Inputs::stock`] takes.
    ///
    /// # Errors
    /// When there is none.
    pub fn stock_source(&self, name: &OsStr) -> Result<Source> {
        if is_file(name, ".csv") {
            self.file(Path::new(name))
        } else {
            shipped_source(shipped::STOCK, &name.to_string_lossy(), "stock list")
        }
    }

    /// Several stock lists as one; see [`Stock::joined`].
    ///
    /// # Errors
    /// When one is not there, is not as it must be, or is named twice, by whatever spelling.
    pub fn stocks(&self, names: &[OsString]) -> Result<Stock> {
        for (index, name) in names.iter().enumerate() {
            if let Some(earlier) = names.iter().take(index).find(|earlier| is_one_list(earlier, name)) {
                return Err(given_twice(earlier, name));
            }
        }
        let lists: Vec<Stock> = names.iter().map(|name| self.stock(name)).collect::<Result<_>>()?;
        Ok(Stock::joined(lists))
    }

    /// The guitars of files, folders, catalogues (.csv) and shipped names; none is the first shipped catalogue. A folder stands for the
    /// guitar files in it, in the order of their names.
    ///
    /// # Errors
    /// Every mistake of every file; nothing is used then.
    pub fn guitars(&self, names: &[OsString]) -> Result<Vec<Listed>, Vec<Error>> {
        let (mut listed, mut errors) = (Vec::new(), Vec::new());
        let first = shipped::CATALOGUES.first().map(|file| OsString::from(file.name));
        let default: Vec<OsString> = first.into_iter().filter(|_| names.is_empty()).collect();
        for name in names.iter().chain(&default) {
            match self.guitars_of(name) {
                Ok(found) => listed.extend(found),
                Err(found) => errors.extend(found),
            }
        }
        if listed.is_empty() && errors.is_empty() {
            errors.push(Error::new(ErrorKind::Missing, "there is no guitar to serve"));
        }
        if errors.is_empty() { Ok(listed) } else { Err(errors) }
    }

    fn guitars_of(&self, name: &OsStr) -> Result<Vec<Listed>, Vec<Error>> {
        let alone = |error: Error| vec![error];
        let path = Path::new(name);
        if source::is_folder(path) {
            return self.guitars_in(path);
        }
        if is_file(name, ".csv") && !has_ending(path, ".toml") {
            return catalogue::read(&self.file(path).map_err(alone)?);
        }
        if let Some(shipped) = find(shipped::CATALOGUES, &name.to_string_lossy()) {
            return catalogue::read(&embedded(shipped));
        }
        let known: Vec<&str> = shipped::CATALOGUES.iter().map(|file| file.name).collect();
        let whole = self
            .whole(Some(name))
            .map_err(|error| alone(error.help(format!("shipped catalogues: {}", known.join(", ")))))?;
        Ok(each_view(whole).collect())
    }

    fn guitars_in(&self, folder: &Path) -> Result<Vec<Listed>, Vec<Error>> {
        let files = source::files_in(folder, ".toml").map_err(|message| vec![Error::new(ErrorKind::File, message)])?;
        if files.is_empty() {
            let message = format!("there is no guitar file (.toml) in the folder `{}`", source::shown(folder));
            return Err(vec![Error::new(ErrorKind::Missing, message)]);
        }
        let read = files.iter().map(|path| self.file(path).and_then(|source| Whole::read(&source)));
        let (read, bad): (Vec<_>, Vec<_>) = read.partition(Result::is_ok);
        let errors: Vec<Error> = bad.into_iter().filter_map(Result::err).collect();
        if errors.is_empty() {
            Ok(read.into_iter().flatten().flat_map(each_view).collect())
        } else {
            Err(errors)
        }
    }

    /// Reads a guitar, target, stock or catalogue file and says in one line what it is. A `.csv` is a stock list unless its header has
    /// guitars' keys; a `.toml` with clauses is a target.
    ///
    /// # Errors
    /// Every mistake of a catalogue, else the first of the file.
    pub fn check(&self, path: &Path) -> Result<String, Vec<Error>> {
        let alone = |error: Error| vec![error];
        let source = self.file(path).map_err(alone)?;
        let is_csv = has_ending(path, ".csv");
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
}

/// A guitar of several volume or tone knobs is to be served at each of them.
fn each_view(whole: Whole) -> impl Iterator<Item = Listed> {
    whole.views.into_iter().map(|view| Listed::once(view.guitar))
}

/// A catalogue and one of its guitars, where a name is written so.
fn row_of_catalogue(name: &OsStr) -> Option<(String, String)> {
    let written = name.to_string_lossy();
    let (catalogue, row) = written.split_once('#')?;
    let is_catalogue = catalogue.to_lowercase().ends_with(".csv") || find(shipped::CATALOGUES, catalogue).is_some();
    is_catalogue.then(|| (catalogue.to_owned(), row.to_owned()))
}

fn has_ending(path: &Path, ending: &str) -> bool {
    path.to_string_lossy().to_lowercase().ends_with(ending)
}

fn is_one_list(one: &OsStr, other: &OsStr) -> bool {
    let are_files = is_file(one, ".csv") && is_file(other, ".csv");
    one == other || (are_files && source::are_one_file(Path::new(one), Path::new(other)))
}

fn given_twice(earlier: &OsStr, name: &OsStr) -> Error {
    let [shown, before] = [name, earlier].map(|name| source::shown(Path::new(name)));
    let again = if shown == before {
        String::new()
    } else {
        format!(", first as `{before}`")
    };
    let message = format!("the stock list `{shown}` is given twice{again}: its pieces would be counted twice");
    Error::new(ErrorKind::Conflict, message).help("give each list once")
}

/// Every shipped guitar with its kind, the kinds of pickup that can be named instead, every shipped target, stock list and catalogue, a line
/// each under its heading.
///
/// # Errors
/// None in practice: every shipped file is read by the tests.
pub fn list_shipped() -> Result<String> {
    let groups: [(&str, &[ShippedFile], Describe); 5] = [
        ("Guitars (--guitar):", shipped::GUITARS, describe_guitar),
        ("Guitars of several pickups (--guitar):", shipped::WHOLE_GUITARS, describe_whole),
        ("Targets (--target):", shipped::TARGETS, describe_target),
        ("Stock lists (--stock):", shipped::STOCK, describe_stock),
        ("Catalogues (kit --guitars):", shipped::CATALOGUES, describe_catalogue),
    ];
    let mut text = String::new();
    for (heading, files, describe) in groups {
        text.push_str(heading);
        for file in files {
            text.push_str(&format!("\n  {}: ", file.name));
            text.extend(what_it_is(file.text).map(|what| format!("{what}; ")));
            text.push_str(&describe(&embedded(file))?);
        }
        text.push('\n');
        if files == shipped::GUITARS {
            text.push_str(&list_kinds());
        }
    }
    Ok(text)
}

/// What an invented guitar's first comment says it is: "a moderate humbucker with eddy losses".
fn what_it_is(text: &str) -> Option<String> {
    let comment: Vec<&str> = text.lines().map_while(|line| line.strip_prefix("# ")).collect();
    let comment = comment.join(" ");
    let (what, _) = comment.strip_prefix("An invented guitar: ")?.split_once(". ")?;
    Some(what.to_owned())
}

fn list_kinds() -> String {
    let mut text = "Kinds of pickup, where nothing else is known (--guitar):".to_owned();
    for kind in KINDS {
        let [low, high] = kind.inductance;
        text.push_str(&format!(
            "\n  {}: usually {low} to {high} H; {} stands for it",
            kind.name, kind.sample
        ));
    }
    text + "\n"
}

type Describe = fn(&Source) -> Result<String>;

fn describe_guitar(source: &Source) -> Result<String> {
    let whole = Whole::read(source)?;
    if whole.positions.is_empty() {
        let views: Vec<String> = whole.views.iter().map(|view| view.guitar.summary()).collect();
        return Ok(format!("guitar {}", views.join("; ")));
    }
    describe_whole(source)
}

fn describe_whole(source: &Source) -> Result<String> {
    let whole = Whole::read(source)?;
    let knobs: Vec<&str> = whole.views.iter().map(|view| view.name.as_str()).collect();
    Ok(format!(
        "guitar {}; positions {}; knobs {}",
        whole.name,
        whole.positions.join(", "),
        knobs.join(", ")
    ))
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
    Ok(root.get("clause").is_some() && root.get("pickup").is_none() && root.get("pickups").is_none())
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

fn nearest_kind(error: Error, name: &OsStr) -> Error {
    let kinds = KINDS.map(|kind| kind.name);
    error
        .nearest(&name.to_string_lossy(), kinds)
        .help(format!("or the kind of pickup: {}", kinds.join(", ")))
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
