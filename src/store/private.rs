//! Permissions of SQLite's files (readable by the owner only, from creation), and the canonical name of a data file.

use std::fs::{File, OpenOptions};
use std::io::{Error, ErrorKind, Result as IoResult};
use std::path::{Path, PathBuf};

use super::StoreError;

/// Read and written by the owner, nobody else.
#[cfg(unix)]
pub(super) const MODE: u32 = 0o600;

/// What SQLite and we put beside a data file.
const BESIDE: [&str; 7] = ["-wal", "-shm", ".lock", ".erased", ".probe", ".backup", ".orders"];

fn at(path: &Path) -> impl FnOnce(Error) -> StoreError {
    let path = path.to_owned();
    move |error| StoreError::File { path, error }
}

/// Options that make files private.
pub(super) fn options() -> OpenOptions {
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(MODE);
    }
    options
}

/// The path of a file with an ending added.
pub(super) fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// The folder a file stands in.
pub(super) fn folder(file: &Path) -> &Path {
    file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Makes an empty private file where there is none.
pub(super) fn create(path: &Path) -> Result<(), StoreError> {
    match options().write(true).create_new(true).open(path) {
        Err(error) if error.kind() != ErrorKind::AlreadyExists => Err(at(path)(error)),
        _ => Ok(()),
    }
}

/// The one path of an existing data file, symbolic links followed.
///
/// # Errors
/// When it is not there, or stands under several names (hard links): under another name another log would be beside it.
pub(super) fn only_path(file: &Path) -> Result<PathBuf, StoreError> {
    let path = file.canonicalize().map_err(at(file))?;
    let names = names_of(&path).map_err(at(&path))?;
    if names > 1 {
        let words = format!(
            "the data file stands under {names} names (hard links), each of which would get a log of its own; remove all of them but one"
        );
        return Err(at(&path)(Error::new(ErrorKind::InvalidInput, words)));
    }
    Ok(path)
}

#[cfg(unix)]
fn names_of(path: &Path) -> IoResult<u64> {
    use std::os::unix::fs::MetadataExt;
    Ok(path.metadata()?.nlink())
}

#[cfg(not(unix))]
fn names_of(_: &Path) -> IoResult<u64> {
    Ok(1)
}

/// Takes a data file, and what stands beside it from earlier versions, away from everybody but its owner.
pub(super) fn restrict(data_file: &Path) {
    for ending in std::iter::once("").chain(BESIDE) {
        let path = beside(data_file, ending);
        if path.exists()
            && let Err(error) = restrict_one(&path)
        {
            tracing::warn!(path = %path.display(), %error, "a file of the database can be read by others");
        }
    }
}

#[cfg(unix)]
fn restrict_one(path: &Path) -> IoResult<()> {
    use std::os::unix::fs::PermissionsExt;
    let mut permissions = path.metadata()?.permissions();
    // What its owner took away stays away: a data file set read-only is not made writable.
    let mode = permissions.mode() & MODE;
    if permissions.mode() & 0o777 == mode {
        return Ok(());
    }
    permissions.set_mode(mode);
    std::fs::set_permissions(path, permissions)
}

#[cfg(not(unix))]
fn restrict_one(_: &Path) -> IoResult<()> {
    Ok(())
}

/// Puts what a folder lists on the medium.
pub(super) fn sync_folder(file: &Path) -> Result<(), StoreError> {
    let folder = folder(file);
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(at(folder))
}
