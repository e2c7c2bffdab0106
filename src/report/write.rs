//! Output files, whole or not at all. The only module that writes files.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, BufWriter, Error as IoError, ErrorKind as IoErrorKind, Result as IoResult, Seek, Write};
use std::path::{Path, PathBuf};

use crate::error::{Error, ErrorKind, Result};
use crate::source::shown;

/// Writes a file whole: beside its place first, then moved there, so that nothing half-written is ever seen. Where a symbolic link stands,
/// the file it leads to is written and the link stays; a file that is replaced keeps its mode and owner. What is no file (a pipe, a device,
/// an open descriptor) is written to as it stands. The content comes piece by piece and is at no time in memory as a whole; where `write`
/// fails, nothing is left of it.
///
/// # Errors
/// When the place cannot be written, or the file there is read-only; those of `write`.
pub fn write_whole(path: &Path, write: impl FnOnce(&mut dyn Write) -> IoResult<()>) -> Result<()> {
    Place::of(path)
        .and_then(|place| place.write(write))
        .map_err(|error| unwritable(path, &error))
}

/// Refuses a place that [`write_whole`] could not write, before there is anything to write.
///
/// # Errors
/// As there.
pub fn refuse_unwritable(path: &Path) -> Result<()> {
    Place::of(path)
        .and_then(|place| place.try_out())
        .map_err(|error| unwritable(path, &error))
}

/// How many bytes are written at once.
const BUFFERED: usize = 1 << 16;

/// Where content goes.
enum Place {
    /// Written to as it stands.
    Stream(PathBuf),
    /// Replaced whole. The path leads to no link any more.
    Whole { path: PathBuf, present: Option<Metadata> },
}

impl Place {
    fn of(path: &Path) -> IoResult<Self> {
        let present = match fs::metadata(path) {
            Ok(present) if present.is_dir() => return Err(IoErrorKind::IsADirectory.into()),
            Ok(present) if !present.is_file() => return Ok(Self::Stream(path.to_owned())),
            Ok(present) => Some(present),
            Err(error) if error.kind() == IoErrorKind::NotFound => None,
            Err(error) => return Err(error),
        };
        if present.as_ref().is_some_and(|present| present.permissions().readonly()) {
            return Err(IoError::new(IoErrorKind::PermissionDenied, "the file is read-only"));
        }
        if present.is_some() {
            // Moving another file over it asks the folder only, not the file.
            OpenOptions::new().append(true).open(path)?;
        }
        Ok(match followed(path)? {
            Some(path) => Self::Whole { path, present },
            None => Self::Stream(path.to_owned()),
        })
    }

    fn try_out(self) -> IoResult<()> {
        match self {
            Self::Stream(_) => Ok(()),
            Self::Whole { path, .. } => beside(&path).map(drop),
        }
    }

    fn write(self, write: impl FnOnce(&mut dyn Write) -> IoResult<()>) -> IoResult<()> {
        match self {
            Self::Stream(path) => {
                let written = buffered(&OpenOptions::new().append(true).open(path)?, write);
                // A reader that has left has all it wanted.
                written.or_else(|error| {
                    if error.kind() == IoErrorKind::BrokenPipe {
                        Ok(())
                    } else {
                        Err(error)
                    }
                })
            }
            Self::Whole { path, present } => replace(&path, present.as_ref(), write),
        }
    }
}

fn replace(path: &Path, present: Option<&Metadata>, write: impl FnOnce(&mut dyn Write) -> IoResult<()>) -> IoResult<()> {
    let mut new = beside(path)?;
    let is_kept = present.map_or(Ok(true), |present| keep_owner(new.as_file(), present))?;
    if let Some(present) = present.filter(|_| is_kept) {
        new.as_file().set_permissions(present.permissions())?;
    }
    buffered(new.as_file(), write)?;
    if is_kept {
        new.persist(path)?;
    } else {
        // Somebody else's file that may be written: it stays theirs only where it is.
        new.rewind()?;
        io::copy(new.as_file_mut(), &mut File::create(path)?)?;
    }
    Ok(())
}

fn buffered(file: &File, write: impl FnOnce(&mut dyn Write) -> IoResult<()>) -> IoResult<()> {
    let mut out = BufWriter::with_capacity(BUFFERED, file);
    write(&mut out)?;
    out.flush()
}

/// A new file in the same folder, which vanishes again unless it is moved. Its mode is that of any other new file: the user's own mask
/// decides.
fn beside(path: &Path) -> IoResult<tempfile::NamedTempFile<File>> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let create = |path: &Path| OpenOptions::new().read(true).write(true).create_new(true).open(path);
    tempfile::Builder::new().make_in(folder.unwrap_or(Path::new(".")), create)
}

/// Gives a new file the owner and group of the present one; `false` where that is not permitted.
#[cfg(unix)]
fn keep_owner(new: &File, present: &Metadata) -> IoResult<bool> {
    use std::os::unix::fs::{MetadataExt, fchown};
    let created = new.metadata()?;
    let same = (created.uid(), created.gid()) == (present.uid(), present.gid());
    Ok(same || fchown(new, Some(present.uid()), Some(present.gid())).is_ok())
}

#[cfg(not(unix))]
fn keep_owner(_new: &File, _present: &Metadata) -> IoResult<bool> {
    Ok(true)
}

/// As many links in a row as the usual systems follow.
const MOST_LINKS: usize = 40;

/// Where the symbolic links at a path lead, whether or not anything is there; `None` where they lead through an open descriptor
/// (`/dev/fd/3`): what is behind it was opened by somebody who goes on writing there.
fn followed(path: &Path) -> IoResult<Option<PathBuf>> {
    let mut path = path.to_owned();
    for _ in 0..MOST_LINKS {
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        let is_descriptor = |folder: PathBuf| folder.starts_with("/proc") || folder.starts_with("/dev/fd");
        if folder.canonicalize().is_ok_and(is_descriptor) {
            return Ok(None);
        }
        if !fs::symlink_metadata(&path).is_ok_and(|metadata| metadata.is_symlink()) {
            return Ok(Some(path));
        }
        path = folder.join(fs::read_link(&path)?);
    }
    Err(IoError::other("too many links lead there"))
}

/// In the user's words: the path as it was typed, and no place beside it.
fn unwritable(path: &Path, error: &IoError) -> Error {
    let why = match (error.get_ref(), error.kind()) {
        (Some(words), _) => words.to_string(),
        (None, IoErrorKind::NotFound | IoErrorKind::NotADirectory) => "there is no such folder".to_owned(),
        (None, IoErrorKind::PermissionDenied) => "writing there is not permitted".to_owned(),
        (None, IoErrorKind::IsADirectory) => "it is a folder".to_owned(),
        (None, _) => error.to_string(),
    };
    Error::new(ErrorKind::File, format!("cannot write `{}`: {why}", shown(path)))
}
