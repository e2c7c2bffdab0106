//! Output files, whole or not at all. The only module that writes files.

use std::io::Write;
use std::path::Path;

use crate::error::{Error, ErrorKind, Result};

/// Writes a file whole: beside its place first, then moved there, so that nothing half-written is ever seen.
///
/// # Errors
/// When the place cannot be written.
pub fn write_whole(path: &Path, content: &[u8]) -> Result<()> {
    write(path, content).map_err(|error| {
        let why = match error.kind() {
            std::io::ErrorKind::NotFound => "there is no such folder".to_owned(),
            std::io::ErrorKind::PermissionDenied => "writing there is not permitted".to_owned(),
            std::io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
            _ => error.to_string(),
        };
        Error::new(ErrorKind::File, format!("cannot write `{}`: {why}", path.display()))
    })
}

fn write(path: &Path, content: &[u8]) -> std::io::Result<()> {
    let kind = std::fs::metadata(path).map(|metadata| metadata.file_type());
    if kind.as_ref().is_ok_and(std::fs::FileType::is_dir) {
        return Err(std::io::ErrorKind::IsADirectory.into());
    }
    if kind.is_ok_and(|kind| !kind.is_file()) {
        // A device or a pipe is written to; moving a file over it would put an end to it.
        return std::fs::write(path, content);
    }
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any other new file: the user's own mask decides.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(content)?;
    file.persist(path)?;
    Ok(())
}
