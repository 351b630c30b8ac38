//! `winterfig import FILE` and `winterfig export DIR`: reports in and out as the open data package, and in from a plain table.

use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::CliError;
use super::database::{Database, block_on, store_error};
use crate::clock::{Clock, SystemClock};
use crate::ids::Ids;
use crate::jobs::open_data::publication::{Cells, assemble};
use crate::jobs::reports::table_import;
use crate::jobs::reports::table_import::BadTable;
use crate::model::snapshot::Snapshot;
use crate::records::release::{BadPackage, Contents, Described, FILE_NAME, Files, Incoming, NotWritten, PackageFile, ZipFiles};
use crate::records::{Actor, Handle, LogEntry, OfficeAct, ProposalState, ReportId, text};
use crate::store::{Store, StoreError, Submitted};
use crate::units::counted;

/// How often a long export or import says how far it is, reports.
const PROGRESS_EVERY: usize = 100_000;

/// Reports handed over at once while a package is read, and how many such portions are read ahead.
const AT_ONCE: usize = 1000;
const READ_AHEAD: usize = 4;
/// Most characters of the words kept with changes of the catalogue.
const LONGEST_WORDS: usize = 500;

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
pub struct Import {
    /// The package (winterfig-reports.zip), or a CSV table whose columns are fields of the report form
    file: PathBuf,
    /// For a table: the member whose reports they become; they wait for review
    #[arg(long = "as", value_name = "HANDLE")]
    member: Option<String>,
    /// For a package: words kept with the changes of the catalogue that come with it
    #[arg(long, value_name = "TEXT", default_value = "came with a data package")]
    words: String,
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
    let unread = |error: std::io::Error| CliError::Input(format!("{}: {error}", args.file.display()));
    let mut file = BufReader::new(File::open(&args.file).map_err(unread)?);
    // A zip begins with its local file header.
    if !file.fill_buf().map_err(unread)?.starts_with(b"PK") {
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(unread)?;
        return import_table(args, &bytes, out);
    }
    block_on(async {
        let store = if args.dry_run { args.database.reading().await? } else { args.database.writing().await? };
        let catalogue = store.catalogue().await.map_err(store_error)?;
        let mut file = PackageFile::open(file, &catalogue).map_err(|error| CliError::Input(refusal(&args.file, &error)))?;
        if store.is_simulated().await.map_err(store_error)? {
            return Err(CliError::Input("this database holds simulated data; real reports do not go into it".to_owned()));
        }
        let words = text::line(&args.words, LONGEST_WORDS).map_err(|error| CliError::Input(format!("--words: {error}")))?;
        let (reports, mut package) = (file.reports(), std::mem::take(&mut file.contents));
        for change in &mut package.changes {
            change.decided.words = words.clone().unwrap_or_default();
        }
        let here = if args.dry_run {
            standing(&store, &package, read_on(file)).await.map_err(store_error)?
        } else {
            store.import_all(&package, &mut read_on(file), SystemClock.now()).await.map_err(store_error)?
        };
        if !here.is_empty() {
            let ids = here.iter().take(20).map(String::as_str).collect::<Vec<_>>().join(", ");
            return Err(CliError::Input(format!("{} reports or shelters stand here already, so nothing was taken: {ids}", here.len())));
        }
        if !args.dry_run {
            let now = SystemClock.now();
            let detail = format!("{}, {}", counted(reports, "report", "reports"), of_catalogue(package.changes.len()));
            let (actor, act) = (Actor::Command, OfficeAct::TookPackage);
            let entry = LogEntry { id: Ids::system().fresh(now), at: now, actor, act, about: None, detail };
            store.log_by_hand(&entry).await.map_err(store_error)?;
        }
        let done = if args.dry_run { "would be taken" } else { "taken" };
        let shelters = match package.shelters.len() {
            0 => String::new(),
            1 => " and one shelter".to_owned(),
            n => format!(" and {n} shelters"),
        };
        let gone = package.withdrawn.len() + package.withdrawn_shelters.len();
        writeln!(out, "{reports} reports{shelters} {done}, {gone} withdrawn listed")?;
        if !package.changes.is_empty() {
            writeln!(out, "{} {done}; what stands here already stays as it is", of_catalogue(package.changes.len()))?;
            let mut waiting = 0;
            for change in &package.changes {
                let here = store.proposal(change.proposal.id).await.map_err(store_error)?;
                waiting += usize::from(here.is_some_and(|proposal| proposal.state == ProposalState::Waiting));
            }
            if waiting > 0 {
                writeln!(out, "left to a steward, since people here have changed the same figs or it does not fit: {waiting}")?;
            }
        }
        store.close().await;
        Ok(())
    })
}

/// Reports of a package, read on a thread of its own while others are taken in; says on the way how far it is.
fn read_on(mut file: PackageFile<BufReader<File>>) -> impl Iterator<Item = Result<Vec<Incoming>, BadPackage>> + Send {
    let (send, receive) = std::sync::mpsc::sync_channel(READ_AHEAD);
    std::thread::spawn(move || {
        let (mut some, mut read) = (Vec::with_capacity(AT_ONCE), 0);
        let end = file.each_report(|report| {
            some.push(report);
            read += 1;
            if read % PROGRESS_EVERY == 0 {
                eprintln!("{read} reports read");
            }
            // Where nobody takes them any more, they are read to the end for nothing; the command is about to end.
            if some.len() == AT_ONCE {
                let _ = send.send(Ok(std::mem::take(&mut some)));
            }
        });
        let _ = send.send(end.map(|()| some));
    });
    receive.into_iter()
}

/// Ids of reports and shelters of a package that stand here already.
async fn standing(
    store: &Arc<dyn Store>,
    package: &Contents,
    reports: impl Iterator<Item = Result<Vec<Incoming>, BadPackage>> + Send,
) -> Result<Vec<String>, StoreError> {
    let mut here = Vec::new();
    for some in reports {
        let some = some.map_err(|error| StoreError::Package(error.to_string()))?;
        let ids: Vec<ReportId> = some.iter().map(|incoming| incoming.report.id).collect();
        here.extend(store.reports_by_ids(&ids).await?.iter().map(|report| report.id.to_string()));
    }
    for shelter in &package.shelters {
        if store.shelter_report(shelter.id).await?.is_some() {
            here.push(shelter.id.to_string());
        }
    }
    Ok(here)
}

fn of_catalogue(changes: usize) -> String {
    counted(changes, "change of the catalogue", "changes of the catalogue")
}

/// Takes a plain table in, as reports of a member that wait for review.
fn import_table(args: &Import, bytes: &[u8], out: &mut dyn Write) -> Result<(), CliError> {
    let shown = args.file.display();
    let handle = args.member.as_deref().ok_or_else(|| {
        CliError::Input(format!("{shown} is not a data package; for a table say whose reports they become: --as HANDLE, a member's name"))
    })?;
    block_on(async {
        let store = if args.dry_run { args.database.reading().await? } else { args.database.writing().await? };
        if store.is_simulated().await.map_err(store_error)? {
            return Err(CliError::Input("this database holds simulated data; real reports do not go into it".to_owned()));
        }
        let found = store.sign_in_facts(&Handle::stored(handle.to_owned()).folded()).await.map_err(store_error)?;
        let (member, _) = found.ok_or_else(|| CliError::Input(format!("--as: there is no member “{handle}”")))?;
        let catalogue = store.catalogue().await.map_err(store_error)?;
        let snapshot = Snapshot::from_priors(catalogue).map_err(anyhow::Error::from)?;
        let mut table = table_import::read(bytes, &member, &snapshot, &Ids::system(), SystemClock.now()).map_err(|error| {
            let rows = if let BadTable::Rows(rows) = &error { rows.as_slice() } else { &[] };
            CliError::Input(rows.iter().fold(format!("{shown}: {error}"), |text, row| format!("{text}\n  {row}")))
        })?;
        for (name, taken_for) in &table.names {
            writeln!(out, "{name}: {taken_for}")?;
        }
        for submission in table.submissions.iter_mut().filter(|submission| submission.plant_is_new) {
            submission.plant_is_new = store.plant(submission.plant.id).await.map_err(store_error)?.is_none();
        }
        let rows = table.submissions.len();
        if args.dry_run {
            writeln!(out, "{rows} reports would be taken, as reports of {handle} that wait for review")?;
        } else {
            let taken = store.submit_all(&table.submissions).await.map_err(store_error)?;
            let fresh = taken.iter().filter(|one| matches!(one, Submitted::Fresh(_))).count();
            writeln!(out, "{fresh} reports taken, as reports of {handle} that wait for review; {} stood here already", rows - fresh)?;
        }
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
        std::fs::create_dir_all(&args.folder).map_err(|error| CliError::Input(format!("{}: {error}", args.folder.display())))?;
        let mut folder = Folder::new(&args.folder).map_err(anyhow::Error::from)?;
        let mut told = 0;
        let mut progress = |read: usize| {
            if read / PROGRESS_EVERY > told {
                told = read / PROGRESS_EVERY;
                eprintln!("{read} reports read");
            }
        };
        let made = assemble(&store, &catalogue, Cells::OfNewestRelease, &mut folder, &mut progress).await.map_err(anyhow::Error::from)?;
        folder.finish().map_err(anyhow::Error::from)?;
        let Described { reports, plants, version, .. } = made.described;
        writeln!(out, "{reports} reports of {plants} plants, version {version}")?;
        store.close().await;
        Ok(())
    })
}

/// A folder with every file of the package, and with the zip of them. Each file is written under another name and renamed, so that a
/// half-written one never stands under its name.
struct Folder<'a> {
    at: &'a Path,
    zip: ZipFiles<BufWriter<File>>,
}

impl<'a> Folder<'a> {
    fn new(at: &'a Path) -> std::io::Result<Self> {
        Ok(Self { at, zip: ZipFiles::new(BufWriter::new(File::create(part_of(&at.join(FILE_NAME)))?)) })
    }

    fn finish(self) -> Result<(), NotWritten> {
        self.zip.finish()?.into_inner().map_err(std::io::IntoInnerError::into_error)?;
        let path = self.at.join(FILE_NAME);
        Ok(std::fs::rename(part_of(&path), path)?)
    }
}

impl Files for Folder<'_> {
    fn file(&mut self, name: &str, bytes: u64, content: &mut dyn Read) -> Result<(), NotWritten> {
        let path = self.at.join(name);
        let part = part_of(&path);
        std::io::copy(content, &mut File::create(&part)?)?;
        self.zip.file(name, bytes, &mut File::open(&part)?)?;
        Ok(std::fs::rename(part, path)?)
    }
}

fn part_of(path: &Path) -> PathBuf {
    path.with_extension("part")
}
