//! `winterfig backup FILE` and `winterfig verify FILE`: a consistent copy of the data file, and whether a copy is whole.

use std::io::Write;
use std::path::PathBuf;

use super::CliError;
use super::database::{Database, block_on, store_error};
use crate::store;

/// Arguments of `backup`.
#[derive(Debug, clap::Args)]
pub struct Backup {
    /// Where the copy goes; must not exist yet
    file: PathBuf,
    #[command(flatten)]
    database: Database,
}

/// Arguments of `verify`.
#[derive(Debug, clap::Args)]
pub struct Verify {
    /// The data file or copy
    file: PathBuf,
}

/// Copies, checks, and only then gives the copy its name.
pub fn backup(args: &Backup, out: &mut dyn Write) -> Result<(), CliError> {
    block_on(async {
        let store = args.database.reading().await?;
        store.copy_to(&args.file).await.map_err(store_error)?;
        store.close().await;
        writeln!(out, "{}: a whole copy, checked", args.file.display())?;
        Ok(())
    })
}

/// Checks pages and references.
pub fn verify(args: &Verify, out: &mut dyn Write) -> Result<(), CliError> {
    block_on(async {
        let cultivars = store::verify_copy(&args.file).await.map_err(store_error)?;
        writeln!(out, "{}: whole; {cultivars} cultivars", args.file.display())?;
        Ok(())
    })
}
