//! Where everything goes that a command writes: refused before any work is done, written when there is something to write.

use std::io::{BufWriter, Error as IoError, ErrorKind as IoErrorKind, Result as IoResult, Write, stdout};
use std::path::{Path, PathBuf};

use knobwright::inputs::Inputs;
use knobwright::report::{refuse_unwritable, write_whole};
use knobwright::source::{ReadFile, Source, are_one_file, shown};
use knobwright::{Error, ErrorKind, Result};

use super::signals::{give_way, is_ending, put_off};

/// The files that a command is to write, with the options that name them.
pub struct Outputs<'p>(Vec<(&'static str, &'p Path)>);

impl<'p> Outputs<'p> {
    /// Refuses two options that name one file, and places that cannot be written.
    pub fn new(named: &[(&'static str, Option<&'p Path>)]) -> Result<Self> {
        let given: Vec<_> = named.iter().filter_map(|(option, path)| path.map(|path| (*option, path))).collect();
        for (index, (option, path)) in given.iter().enumerate() {
            if let Some((other, earlier)) = given.iter().take(index).find(|(_, earlier)| are_one_place(earlier, path)) {
                let message = format!("{option} and {other} `{}` name the same file", shown(earlier));
                return Err(at(option, path, message)
                    .label("something else goes here")
                    .help("give each a file of its own"));
            }
            if !is_standard_output(path) {
                let _whole = put_off();
                refuse_unwritable(path)?;
            }
        }
        Ok(Self(given))
    }

    /// Refuses a file that was read: writing it would destroy what the user gave. Standard output counts where a shell has sent it into
    /// a file.
    pub fn refuse_inputs(&self, inputs: &Inputs) -> Result<()> {
        for file in inputs.files() {
            if let Some((option, path)) = self.0.iter().find(|(_, path)| are_one_file(path, &file.path)) {
                let message = format!("{option} would overwrite the input {}", named(&file));
                return Err(at(option, path, message)
                    .label("this file is read")
                    .help("give the result a file of its own"));
            }
            if file.path.is_file() && is_standard_output(&file.path) {
                let message = format!("standard output goes into the input {}", named(&file));
                return Err(Error::new(ErrorKind::Conflict, message).help("send the result into a file of its own"));
            }
        }
        Ok(())
    }
}

fn at(option: &str, path: &Path, message: String) -> Error {
    Error::at(&Source::inline(option, shown(path)).passage(), ErrorKind::Conflict, message)
}

/// A file as the user knows it: by the name given, and by the file that names it.
fn named(file: &ReadFile) -> String {
    let name = shown(&file.path);
    match &file.named_in {
        Some(text) => format!("`{name}`, which `{text}` names"),
        None => format!("`{name}`"),
    }
}

/// Whether two paths are one place to write to, be there a file already or not.
fn are_one_place(one: &Path, other: &Path) -> bool {
    one == other || are_one_file(one, other) || place(one).is_some_and(|one| place(other) == Some(one))
}

/// A place without links and `.` and `..` in it; `None` where its folder is not there.
fn place(path: &Path) -> Option<PathBuf> {
    if let Ok(path) = path.canonicalize() {
        return Some(path);
    }
    // A link to what is not there yet leads to the place all the same.
    if let Ok(link) = path.read_link() {
        return place(&path.parent()?.join(link));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let name = path.file_name()?;
    // Where the usual file systems take large and small letters as one, there is no file yet that could be asked.
    let name = if cfg!(any(windows, target_os = "macos")) {
        name.to_ascii_lowercase()
    } else {
        name.to_owned()
    };
    Some(folder.unwrap_or(Path::new(".")).canonicalize().ok()?.join(name))
}

/// Whether a path is where standard output goes anyway: opening it again would begin at its start.
#[cfg(unix)]
fn is_standard_output(path: &Path) -> bool {
    use std::os::fd::AsFd;
    use std::os::unix::fs::MetadataExt;
    let open = stdout().as_fd().try_clone_to_owned().map(std::fs::File::from);
    match (open.and_then(|open| open.metadata()), path.metadata()) {
        (Ok(open), Ok(named)) => (open.dev(), open.ino()) == (named.dev(), named.ino()),
        _ => false,
    }
}

#[cfg(not(unix))]
fn is_standard_output(_path: &Path) -> bool {
    false
}

/// Writes a file, or what else stands at its place.
pub fn put(path: &Path, content: &[u8]) -> Result<()> {
    put_by(path, |out| out.write_all(content))
}

/// As [`put`], piece by piece.
fn put_by(path: &Path, write: impl FnOnce(&mut dyn Write) -> IoResult<()>) -> Result<()> {
    if is_standard_output(path) {
        return print(write);
    }
    // A pipe may wait for its reader for ever; there is nothing beside it that an end would leave.
    let is_stream = path.metadata().is_ok_and(|metadata| !metadata.is_file());
    let whole = (!is_stream).then(put_off);
    let written = write_whole(path, |out| write(&mut Unhurried(out)));
    drop(whole);
    if written.is_err() {
        give_way();
    }
    written
}

/// Writes on until somebody wants the program to end.
struct Unhurried<'o>(&'o mut dyn Write);

impl Write for Unhurried<'_> {
    fn write(&mut self, bytes: &[u8]) -> IoResult<usize> {
        if is_ending() {
            return Err(IoError::other("the program is to end"));
        }
        self.0.write(bytes)
    }

    fn flush(&mut self) -> IoResult<()> {
        self.0.flush()
    }
}

/// Prints the result, or writes it to a file.
pub fn deliver(text: &str, output: Option<&Path>) -> Result<()> {
    deliver_by(output, |out| out.write_all(text.as_bytes()))
}

/// As [`deliver`], each piece as soon as it is there.
pub fn deliver_by(output: Option<&Path>, write: impl FnOnce(&mut dyn Write) -> IoResult<()>) -> Result<()> {
    match output {
        Some(path) => put_by(path, write),
        None => print(write),
    }
}

/// A reader that has left has all it wanted: the command ends as it would have ended.
fn print(write: impl FnOnce(&mut dyn Write) -> IoResult<()>) -> Result<()> {
    let mut out = BufWriter::new(stdout().lock());
    let written = write(&mut out).and_then(|()| out.flush());
    // What could not be written is not tried again.
    let _ = out.into_parts();
    match written {
        Err(error) if error.kind() != IoErrorKind::BrokenPipe => {
            Err(Error::new(ErrorKind::File, format!("cannot write the result: {error}")))
        }
        _ => Ok(()),
    }
}
