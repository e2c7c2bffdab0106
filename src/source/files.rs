//! The files a command reads: each of them once, and which they were. The only module that opens files to read.

use std::collections::HashMap;
use std::fmt;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::{Origin, Source};

/// Largest file that is read: far above any guitar, target, stock list or sweep.
const LARGEST_FILE: u64 = 64 << 20;

/// The files that one command reads. A file that is named again is not opened again: a pipe gives its text only once.
#[derive(Clone, Default)]
pub struct Files(Arc<Mutex<Known>>);

#[derive(Default)]
struct Known {
    texts: HashMap<PathBuf, Arc<str>>,
    read: Vec<ReadFile>,
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
        self.open_as(path, None)
    }

    /// As [`Files::open`], for a file that is named inside a text of this name.
    pub(super) fn open_named_in(&self, path: &Path, text: Arc<str>) -> Result<Source, String> {
        self.open_as(path, Some(text))
    }

    /// Every file that was read, in order.
    #[must_use]
    pub fn read(&self) -> Vec<ReadFile> {
        self.known(|known| known.read.clone())
    }

    fn open_as(&self, path: &Path, named_in: Option<Arc<str>>) -> Result<Source, String> {
        let name = shown(path);
        let text = match self.known(|known| known.texts.get(path).cloned()) {
            Some(text) => text,
            None => {
                let text: Arc<str> = read_whole(path, &name)?.into();
                self.known(|known| {
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
            origin: Some(Arc::new(Origin {
                folder: path.parent().unwrap_or(Path::new("")).to_owned(),
                files: self.clone(),
            })),
        })
    }

    fn known<T>(&self, use_it: impl FnOnce(&mut Known) -> T) -> T {
        use_it(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

fn read_whole(path: &Path, name: &str) -> Result<String, String> {
    let file = std::fs::File::open(path).map_err(|error| unreadable(name, &error))?;
    let mut bytes = Vec::new();
    // A device or a pipe has no length to ask for: what is read is what counts.
    file.take(LARGEST_FILE + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(name, &error))?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(format!("`{name}` is larger than 64 MiB"));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let offset = error.utf8_error().valid_up_to();
        format!("`{name}` is not UTF-8 text: the byte at offset {offset} fits no character")
    })?;
    // A byte-order mark is what spreadsheets put before a CSV; it is no part of the text.
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
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

/// A path as it is shown: what is no text in it as replacement characters, what would steer a terminal or turn the direction of writing
/// as its code.
#[must_use]
pub fn shown(path: &Path) -> String {
    let mut shown = String::new();
    for letter in path.to_string_lossy().chars() {
        if letter.is_control() || is_direction(letter) {
            shown.extend(letter.escape_unicode());
        } else {
            shown.push(letter);
        }
    }
    shown
}

/// Marks and overrides of the direction of writing, and the separators that break a line.
fn is_direction(letter: char) -> bool {
    matches!(letter, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_steer_a_terminal_is_shown_as_its_code() {
        assert_eq!(
            shown(Path::new("a\u{1b}[2Jb\u{9b}\u{202e}é.csv")),
            "a\\u{1b}[2Jb\\u{9b}\\u{202e}é.csv"
        );
    }
}
