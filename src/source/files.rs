//! The files a command reads: each of them once, and which they were. The only module that opens files to read.

use std::collections::HashMap;
use std::fmt;
use std::io::Read;
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::{Origin, Source, encoding, shown};

/// Largest file that is read, in MiB: far above any guitar, target, stock list or sweep.
pub const LARGEST_FILE_MIB: u64 = 32;

/// The files that one command reads. A file that is named again is not opened again: a pipe gives its text only once.
#[derive(Clone, Default)]
pub struct Files(Arc<Mutex<Known>>);

#[derive(Default)]
struct Known {
    texts: HashMap<PathBuf, Arc<str>>,
    read: Vec<ReadFile>,
    notes: Vec<String>,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadFile {
    /// Where it is.
    pub path: PathBuf,
    /// The name of the text that names it, where it is not the user who did.
    pub named_in: Option<Arc<str>>,
}

impl fmt::Debug for Files {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "Files({} read)", self.known(|known| known.read.len()))
    }
}

impl Files {
    /// Reads a file whole, or gives what it said when it was read before.
    ///
    /// # Errors
    /// As [`Source::file`].
    pub fn open(&self, path: &Path) -> Result<Source, String> {
        self.open_as(path, path, None, None)
    }

    /// As [`Files::open`], for a file that is named inside a text of this name, seen from where that text came from.
    pub(super) fn open_named(&self, origin: &Origin, path: &str, text: Arc<str>) -> Result<Source, String> {
        let seen = origin.folder.join(path);
        let found = match &origin.root {
            Some(root) => below(root, path, &seen)?,
            None => seen.clone(),
        };
        let is_known = self.known(|known| known.texts.contains_key(&found));
        let kind = std::fs::metadata(&found).map_err(|error| unreadable(&shown(&seen), &error))?;
        if !is_known && !kind.is_file() && !kind.is_dir() {
            return Err(format!("cannot read `{}`: it is no ordinary file", shown(&seen)));
        }
        self.open_as(&found, &seen, Some(text), origin.root.clone())
    }

    /// Every file that was read, in order.
    #[must_use]
    pub fn read(&self) -> Vec<ReadFile> {
        self.known(|known| known.read.clone())
    }

    /// What there is to say of how files were read.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        self.known(|known| known.notes.clone())
    }

    /// Reads the file at a path, which is called by the one that the user knows.
    fn open_as(&self, path: &Path, called: &Path, named_in: Option<Arc<str>>, root: Option<PathBuf>) -> Result<Source, String> {
        let name = shown(called);
        let text = match self.known(|known| known.texts.get(path).cloned()) {
            Some(text) => text,
            None => {
                let (text, note) = read_whole(path, &name)?;
                let text: Arc<str> = text.into();
                self.known(|known| {
                    known.notes.extend(note);
                    known.texts.insert(path.to_owned(), text.clone());
                    let path = path.to_owned();
                    known.read.push(ReadFile { path, named_in });
                });
                text
            }
        };
        Ok(Source {
            name: name.into(),
            text,
            lines: Arc::default(),
            origin: Some(Arc::new(Origin {
                folder: called.parent().unwrap_or(Path::new("")).to_owned(),
                root,
                files: self.clone(),
            })),
        })
    }

    fn known<T>(&self, use_it: impl FnOnce(&mut Known) -> T) -> T {
        use_it(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// A file's text, and what there is to say of how it was read.
fn read_whole(path: &Path, name: &str) -> Result<(String, Option<String>), String> {
    let file = std::fs::File::open(path).map_err(|error| unreadable(name, &error))?;
    let mut bytes = Vec::new();
    // A device or a pipe has no length to ask for: what is read is what counts.
    file.take((LARGEST_FILE_MIB << 20) + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(name, &error))?;
    if bytes.len() as u64 > LARGEST_FILE_MIB << 20 {
        return Err(format!("`{name}` is larger than {LARGEST_FILE_MIB} MiB"));
    }
    if let Some(text) = encoding::utf16(&bytes) {
        let text = text.ok_or_else(|| format!("`{name}` begins like UTF-16 text and is none"))?;
        return Ok((text, Some(format!("`{name}` is read as UTF-16 text."))));
    }
    let mut text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let offset = error.utf8_error().valid_up_to();
            let is_table = path.extension().is_some_and(|suffix| suffix.eq_ignore_ascii_case("csv"));
            let western = Some(error.as_bytes()).filter(|_| is_table).and_then(encoding::western);
            let text = western.ok_or_else(|| format!("`{name}` is not UTF-8 text: the byte at offset {offset} fits no character"))?;
            return Ok((text, Some(format!("`{name}` is no UTF-8 text and is read as Latin-1."))));
        }
    };
    // A byte-order mark is what spreadsheets put before a CSV; it is no part of the text.
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    Ok((text, None))
}

/// The file meant by a path written in a text that reaches below `root` only, with every link followed; `seen` is that path from the
/// text's folder.
fn below(root: &Path, path: &str, seen: &Path) -> Result<PathBuf, String> {
    let plain = Path::new(path)
        .components()
        .all(|part| matches!(part, Component::Normal(_) | Component::CurDir));
    if !plain {
        return Err(format!("`{path}` is not opened: only files below the given folder are"));
    }
    let whole = |path: &Path| path.canonicalize().map_err(|error| unreadable(&shown(path), &error));
    let found = whole(seen)?;
    if found.starts_with(whole(root)?) {
        Ok(found)
    } else {
        Err(format!("`{path}` is not opened: it leads out of the given folder"))
    }
}

pub(super) fn unreadable(name: &str, error: &std::io::Error) -> String {
    let why = match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "reading it is not permitted".to_owned(),
        std::io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        _ => error.to_string(),
    };
    format!("cannot read `{name}`: {why}")
}

/// Whether two paths are one regular file, by whatever spelling or link. Pipes and devices are not asked: opening one may wait for ever,
/// and nothing in them is lost.
#[must_use]
pub fn are_one_file(one: &Path, other: &Path) -> bool {
    one.is_file() && other.is_file() && same_file::is_same_file(one, other).unwrap_or(false)
}

/// The files of a folder whose names end so, in the order of their names.
///
/// # Errors
/// A sentence fit for a user when the folder cannot be read.
pub fn files_in(folder: &Path, ending: &str) -> Result<Vec<PathBuf>, String> {
    let name = shown(folder);
    let entries = std::fs::read_dir(folder).map_err(|error| unreadable(&name, &error))?;
    let mut paths = Vec::new();
    for entry in entries {
        let path = entry.map_err(|error| unreadable(&name, &error))?.path();
        let ends = path
            .file_name()
            .is_some_and(|name| name.to_string_lossy().to_lowercase().ends_with(ending));
        if ends && path.is_file() {
            paths.push(path);
        }
    }
    paths.sort();
    Ok(paths)
}

/// Whether a path is a folder.
#[must_use]
pub fn is_folder(path: &Path) -> bool {
    path.is_dir()
}
