//! `winterfig backup FILE`, `verify FILE` and `restore COPY`: a consistent copy of the data file, whether a copy is whole, and putting one
//! back.

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

/// Arguments of `restore`.
#[derive(Debug, clap::Args)]
pub struct Restore {
    /// The copy, as `backup` made it
    copy: PathBuf,
    #[command(flatten)]
    database: Database,
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

/// Checks a copy and puts it in the place of the data file; what stood there is kept under another name.
pub fn restore(args: &Restore, out: &mut dyn Write) -> Result<(), CliError> {
    block_on(async {
        let restored = store::restore(args.database.address(), &args.copy).await.map_err(store_error)?;
        writeln!(out, "{}: put back from {}, checked", restored.file.display(), args.copy.display())?;
        match &restored.before {
            Some(before) => writeln!(out, "what stood there before is {}", before.display())?,
            None => writeln!(out, "nothing stood there before")?,
        }
        if restored.list_found {
            writeln!(out, "{} members who left since the copy was made were forgotten again", restored.forgotten)?;
        } else {
            writeln!(
                out,
                "no list of members who left stands beside it ({}.erased); if the copy comes from another machine, bring its list along and start again",
                restored.file.display()
            )?;
        }
        Ok(())
    })
}
