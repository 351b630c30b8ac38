//! A file outside the data that lists erased members (beside the data file of SQLite, where `--erased-list` says for PostgreSQL), so that
//! restoring an older backup does not restore them.
//!
//! A line a member: the id, what becomes of the records, when, and what the new ids of kept records are made from. Nothing else of them is
//! in it.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use tokio::fs::{File, OpenOptions, read_to_string};
use tokio::io::AsyncWriteExt;
use uuid::Uuid;

use super::{StoreError, private};
use crate::records::MemberId;

/// What becomes of the records of a member who leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leaving {
    /// Kept without a link to anybody.
    KeepRecords,
    /// Withdrawn and gone from the next release.
    RemoveRecords,
}

impl Leaving {
    /// As kept.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::KeepRecords => KEEP,
            Self::RemoveRecords => REMOVE,
        }
    }

    pub(super) fn of_word(word: &str) -> Self {
        if word == REMOVE { Self::RemoveRecords } else { Self::KeepRecords }
    }
}

/// One who asked to be forgotten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Erased {
    pub member: MemberId,
    pub leaving: Leaving,
    /// What the new ids of kept records are made from: the same again, so that published ids stay.
    pub seed: Uuid,
    pub at: Timestamp,
}

/// The list of a data file.
#[derive(Debug)]
pub struct ErasedList {
    path: PathBuf,
}

const KEEP: &str = "keep-records";
const REMOVE: &str = "remove-records";

impl ErasedList {
    /// The list beside a data file; it need not exist yet.
    pub(super) fn beside(data_file: &Path) -> Self {
        let mut name = data_file.as_os_str().to_owned();
        name.push(".erased");
        Self { path: name.into() }
    }

    /// The list of this path; it need not exist yet.
    pub(super) fn at(path: &Path) -> Self {
        Self { path: path.to_owned() }
    }

    /// Brings the list along with a copy of the data: beside the copy, also where it is empty.
    pub(super) fn go_along_with(&self, copy: &Path) -> Result<(), StoreError> {
        let along = private::beside(copy, ".erased");
        let text = match std::fs::read(&self.path) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Vec::new(),
            read => read.map_err(|error| self.failed(error))?,
        };
        let write = || {
            let mut file = private::options().create(true).write(true).truncate(true).open(&along)?;
            std::io::Write::write_all(&mut file, &text)?;
            file.sync_all()
        };
        write().map_err(|error| StoreError::File { path: along.clone(), error })
    }

    /// The file whose time of change is that of the last copy.
    fn mark_of_copies(&self) -> PathBuf {
        self.path.with_extension("backup")
    }

    /// Notes that a copy was made.
    pub(super) fn note_copy(&self) -> Result<(), StoreError> {
        let mark = self.mark_of_copies();
        let write = || std::io::Write::write_all(&mut private::options().create(true).write(true).truncate(true).open(&mark)?, b"\n");
        write().map_err(|error| StoreError::File { path: mark.clone(), error })
    }

    /// When the last copy was made, where one is known.
    pub(super) fn last_copy(&self) -> Option<Timestamp> {
        Timestamp::try_from(std::fs::metadata(self.mark_of_copies()).ok()?.modified().ok()?).ok()
    }

    fn failed(&self, error: std::io::Error) -> StoreError {
        StoreError::File { path: self.path.clone(), error }
    }

    /// Adds a member, on the medium before it returns.
    pub(super) async fn add(&self, erased: Erased) -> Result<(), StoreError> {
        let Erased { member, leaving, seed, at } = erased;
        let line = format!("{member} {} {at} {seed}\n", leaving.word());
        let is_new = !self.path.exists();
        let write = async {
            let mut options = OpenOptions::new();
            #[cfg(unix)]
            options.mode(private::MODE);
            let mut file = options.create(true).append(true).open(&self.path).await?;
            file.write_all(line.as_bytes()).await?;
            file.sync_all().await?;
            let folder = self.path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
            if is_new { File::open(folder).await?.sync_all().await } else { Ok(()) }
        };
        write.await.map_err(|error| self.failed(error))
    }

    pub(super) async fn all(&self) -> Result<Vec<Erased>, StoreError> {
        let text = match read_to_string(&self.path).await {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            read => read.map_err(|error| self.failed(error))?,
        };
        let erased = |line: &str| {
            let mut words = line.split(' ');
            let member = MemberId(Uuid::parse_str(words.next()?).ok()?);
            let leaving = Leaving::of_word(words.next()?);
            let at = words.next()?.parse().ok()?;
            // Lists of earlier versions hold no seed.
            let seed = words.next().and_then(|word| Uuid::parse_str(word).ok()).unwrap_or(member.0);
            Some(Erased { member, leaving, seed, at })
        };
        // A line that broke off belongs to an erasure that was never acknowledged.
        Ok(text.lines().filter_map(erased).collect())
    }
}
