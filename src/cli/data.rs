//! `winterfig import FILE` and `winterfig export DIR`: reports in and out as the open data package.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::CliError;
use super::database::{Database, block_on, store_error};
use crate::clock::{Clock, SystemClock};
use crate::records::release::{self, BadPackage, FILE_NAME};
use crate::service::publication::Publication;

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
pub struct Import {
    /// The package: winterfig-reports.zip
    file: PathBuf,
    /// Only say what would be taken
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    database: Database,
}

/// Arguments of `export`.
#[derive(Debug, clap::Args)]
pub struct Export {
    /// Folder to write into; made where it does not exist
    folder: PathBuf,
    #[command(flatten)]
    database: Database,
}

/// Takes a package in: all rows or none, with every refused row, its line and the reason.
pub fn import(args: &Import, out: &mut dyn Write) -> Result<(), CliError> {
    let bytes = std::fs::read(&args.file).map_err(|error| CliError::Input(format!("{}: {error}", args.file.display())))?;
    block_on(async {
        let store = if args.dry_run { args.database.reading().await? } else { args.database.writing().await? };
        let catalogue = store.catalogue().await.map_err(store_error)?;
        let (reports, withdrawn) = release::read(&bytes, &catalogue).map_err(|error| CliError::Input(refusal(&args.file, &error)))?;
        if store.is_simulated().await.map_err(store_error)? {
            return Err(CliError::Input("this database holds simulated data; real reports do not go into it".to_owned()));
        }
        let mut here = Vec::new();
        for incoming in &reports {
            if store.report(incoming.report.id).await.map_err(store_error)?.is_some() {
                here.push(incoming.report.id);
            }
        }
        if here.is_empty() && !args.dry_run {
            here = store.import(&reports, &withdrawn, SystemClock.now()).await.map_err(store_error)?;
        }
        if !here.is_empty() {
            let ids: Vec<String> = here.iter().take(20).map(ToString::to_string).collect();
            return Err(CliError::Input(format!("{} reports stand here already, so nothing was taken: {}", here.len(), ids.join(", "))));
        }
        let done = if args.dry_run { "would be taken" } else { "taken" };
        writeln!(out, "{} reports {done}, {} withdrawn listed", reports.len(), withdrawn.len())?;
        store.close().await;
        Ok(())
    })
}

fn refusal(file: &Path, error: &BadPackage) -> String {
    let mut text = format!("{}: {error}", file.display());
    if let BadPackage::Rows(rows) = error {
        for row in rows {
            text = format!("{text}\n  {row}");
        }
    }
    text
}

/// Writes every file of the package, and the zip, into a folder.
pub fn export(args: &Export, out: &mut dyn Write) -> Result<(), CliError> {
    block_on(async {
        let store = args.database.reading().await?;
        if store.is_simulated().await.map_err(store_error)? {
            return Err(CliError::Input("this database holds simulated data; there is no release of it".to_owned()));
        }
        let catalogue = store.catalogue().await.map_err(store_error)?;
        let publication = Publication::now(&store, &catalogue).await.map_err(store_error)?;
        let mut files = publication.package.files(&catalogue).map_err(anyhow::Error::from)?;
        files.push((FILE_NAME.to_owned(), publication.zip().map_err(anyhow::Error::from)?.to_vec()));
        std::fs::create_dir_all(&args.folder).map_err(|error| CliError::Input(format!("{}: {error}", args.folder.display())))?;
        for (name, bytes) in &files {
            write_whole(&args.folder.join(name), bytes)?;
        }
        let (version, _) = publication.citation().map_err(anyhow::Error::from)?;
        writeln!(out, "{} reports of {} plants, version {version}", publication.package.winters.len(), publication.package.plants.len())?;
        store.close().await;
        Ok(())
    })
}

/// Writes a file under another name and renames it, so that a half-written one never stands under its name.
fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), CliError> {
    let part = path.with_extension("part");
    let written = std::fs::write(&part, bytes).and_then(|()| std::fs::rename(&part, path));
    written.map_err(|error| CliError::Input(format!("{}: {error}", path.display())))
}
