//! What is public of single reports and shelters, and the data package, which is written row by row.

use std::collections::{BTreeSet, HashMap};
use std::fs::File;
use std::io::{BufWriter, Seek, SeekFrom};
use std::sync::Arc;

use serde_json::Value;
use tempfile::NamedTempFile;

use crate::catalogue::Catalogue;
use crate::jobs::open_data::catalogue_history;
use crate::records::place::{CountingCells, FineCells};
use crate::records::release::{
    Credited, Described, Files, NotWritten, PlantRow, PublishedShelter, Rest, WinterRow, WithdrawnRow, WithdrawnShelterRow, Writing,
    ZipFiles,
};
use crate::records::words::Credit;
use crate::records::{Member, MemberId, PlantId, PublishedPlace, Register, Report, ReportId, ShelterReport, Society};
use crate::store::{Store, StoreError};
use crate::token;

/// A published report with its plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Published {
    /// The winter.
    pub winter: WinterRow,
    /// The plant.
    pub plant: PlantRow,
}

/// The data package of one moment, in a file that lasts as long as somebody holds this.
#[derive(Debug)]
pub struct Publication {
    /// Number of the changes it holds.
    pub changes: i64,
    /// What it is.
    pub described: Described,
    /// Reports that counted once.
    pub withdrawn: usize,
    /// Shelters.
    pub shelters: usize,
    /// The cells of 0.1° that it shows.
    pub fine: FineCells,
    /// Version of the catalogue, and how many figs it had.
    of: (i64, usize),
    /// The society it was published by.
    society: Society,
    /// The package in one file.
    pub zip: Zip,
}

/// A data package in one file.
#[derive(Debug)]
pub struct Zip {
    file: NamedTempFile,
    /// Its length, bytes.
    pub bytes: u64,
    /// SHA-256 of it, hexadecimal.
    pub sha256: String,
}

impl Zip {
    /// The file, opened for reading.
    pub fn open(&self) -> std::io::Result<File> {
        File::open(self.file.path())
    }

    /// The whole file.
    pub fn read(&self) -> std::io::Result<Vec<u8>> {
        std::fs::read(self.file.path())
    }
}

/// Why there is nothing to show.
#[derive(Debug, thiserror::Error)]
pub enum PublicationError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The package.
    #[error(transparent)]
    Package(#[from] NotWritten),
    /// The file of the package.
    #[error("the file of the data package cannot be written or read: {0}")]
    File(#[from] std::io::Error),
    /// The first is still being put together.
    #[error("the data package is being put together; please come back in a minute")]
    NotYet,
    /// A change of the catalogue cannot be written: a defect.
    #[error("a change of the catalogue cannot be written: {0}")]
    Change(#[from] serde_json::Error),
    /// Records changed their ids while they were read.
    #[error("records were erased while the data package was put together")]
    Moved,
    /// The work on it ended by a defect.
    #[error("what is public could not be put together: {0}")]
    Broken(String),
}

impl PublicationError {
    /// Of work that did not come to its end.
    pub fn broken(error: impl std::fmt::Display) -> Self {
        Self::Broken(error.to_string())
    }
}

/// The code that joins one reporter's published records without telling who they are.
fn code(member: MemberId) -> String {
    token::hash(format!("reporter {member}")).chars().take(12).collect()
}

fn credited(kept: Option<&Credited>, reporter: Option<MemberId>, members: &HashMap<MemberId, Member>) -> Credited {
    if let Some(credited) = kept {
        return credited.clone();
    }
    match reporter.and_then(|id| members.get(&id)) {
        None => Credited { recorded_by: "a former member".to_owned(), reporter: None },
        Some(member) => credited_to(member),
    }
}

/// Members by id, those who reported any of these.
async fn reporters_of(
    store: &Arc<dyn Store>,
    reporters: impl Iterator<Item = Option<MemberId>>,
) -> Result<HashMap<MemberId, Member>, StoreError> {
    let ids: Vec<MemberId> = reporters.flatten().collect::<BTreeSet<_>>().into_iter().collect();
    Ok(store.members_by_ids(&ids).await?.into_iter().map(|member| (member.id, member)).collect())
}

/// Reports as everybody sees them, in the order of the ids given; those that count no longer are left out.
pub async fn published(
    store: &Arc<dyn Store>,
    register: &Register,
    catalogue: &Catalogue,
    ids: &[ReportId],
) -> Result<Vec<Published>, StoreError> {
    let reports = store.reports_by_ids(ids).await?;
    let members = reporters_of(store, reports.iter().map(|report| report.reporter)).await?;
    let counted = reports.iter().filter(|report| report.state.counts()).map(|report| (report.id, report));
    let by_id: HashMap<ReportId, &Report> = counted.collect();
    let shown = |report: &&Report| Published {
        winter: WinterRow::new(report, &credited(report.credited.as_ref(), report.reporter, &members)),
        plant: PlantRow::new(&report.plant, catalogue, register.fine().shown(&report.plant.place)),
    };
    Ok(ids.iter().filter_map(|id| by_id.get(id)).map(shown).collect())
}

/// Shelters as everybody sees them, in the order of their ids.
pub(super) async fn published_shelters(store: &Arc<dyn Store>, fine: &FineCells) -> Result<Vec<PublishedShelter>, StoreError> {
    let shelters = store.shelters_accepted().await?;
    let members = reporters_of(store, shelters.iter().map(|shelter| shelter.reporter)).await?;
    let shown = |s: &ShelterReport| PublishedShelter::new(s, &credited(s.credited.as_ref(), s.reporter, &members), fine.shown(&s.place));
    let mut published: Vec<PublishedShelter> = shelters.iter().map(shown).collect();
    published.sort_by(|a, b| a.shelter.shelter_id.cmp(&b.shelter.shelter_id));
    Ok(published)
}

/// Whom what a member sends is credited to.
pub fn credited_to(member: &Member) -> Credited {
    Credited {
        recorded_by: if member.credit == Credit::Handle { member.handle.to_string() } else { "a member".to_owned() },
        reporter: Some(code(member.id)),
    }
}

/// What everybody sees of a report once it is taken: fields of the release with their values, those of the place left out, for how finely
/// a place is published depends on how many report from there.
pub fn preview(report: &Report, reporter: &Member, catalogue: &Catalogue) -> Result<Vec<(String, String)>, serde_json::Error> {
    let plant = serde_json::to_value(PlantRow::new(&report.plant, catalogue, PublishedPlace::Withheld))?;
    let winter = serde_json::to_value(WinterRow::new(report, &credited_to(reporter)))?;
    let mut shown: Vec<(String, String)> = Vec::new();
    for (field, value) in [plant, winter].iter().filter_map(Value::as_object).flatten() {
        let text = match value {
            Value::Null => continue,
            Value::String(text) => text.clone(),
            other => other.to_string(),
        };
        let of_place = field == "data_generalizations";
        if !text.is_empty() && !of_place && !shown.iter().any(|(earlier, _)| earlier == field) {
            shown.push((field.clone(), text));
        }
    }
    Ok(shown)
}

/// In which cells places are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cells {
    /// Those of the newest release, whoever came or went since; of simulated data, which are never released, those counted now.
    OfNewestRelease,
    /// Those counted now: what a release made now shows.
    CountedNow,
}

/// Reports read at once: a megabyte or two.
const READ_AT_ONCE: i64 = 500;

/// What a package was put together from.
#[derive(Debug)]
pub struct Assembled {
    /// Number of the changes it holds.
    pub changes: i64,
    /// What it is.
    pub described: Described,
    /// Reports that counted once.
    pub withdrawn: usize,
    /// Shelters.
    pub shelters: usize,
    /// The cells of 0.1° that it shows.
    pub fine: FineCells,
    /// The society that publishes it.
    pub society: Society,
}

/// Writes the data package of now into `out`, its rows read and written some thousand at a time. `progress` is told how many reports are read.
pub async fn assemble(
    store: &Arc<dyn Store>,
    catalogue: &Catalogue,
    cells: Cells,
    out: &mut dyn Files,
    progress: &mut dyn FnMut(usize),
) -> Result<Assembled, PublicationError> {
    // Read first: a change that comes between is then found again at the next look, never lost.
    let changes = store.reports_version().await?;
    let society = store.society().await?;
    let follows = store.releases().await?.into_iter().next().map(|release| release.version);
    let mut writing = Writing::new(tempfile::tempfile()?, tempfile::tempfile()?)?;
    let (mut counting, mut plants) = (CountingCells::default(), BTreeSet::new());
    let mut members: HashMap<MemberId, Member> = HashMap::new();
    let (mut after, mut read) = (None, 0);
    loop {
        let mut reports = store.reports_after(after, READ_AT_ONCE).await?;
        let Some(last) = reports.last() else { break };
        after = Some(last.id);
        reports.retain(|report| report.state.counts());
        let unknown = reports.iter().map(|report| report.reporter.filter(|reporter| !members.contains_key(reporter)));
        members.extend(reporters_of(store, unknown).await?);
        for report in &reports {
            writing.winter(&WinterRow::new(report, &credited(report.credited.as_ref(), report.reporter, &members)))?;
            plants.insert(report.plant.id);
            if let Some(reporter) = report.reporter {
                counting.add(reporter, &report.plant.place);
            }
        }
        read += reports.len();
        progress(read);
    }
    let accepted = store.shelters_accepted().await?;
    accepted.iter().filter_map(|s| Some((s.reporter?, &s.place))).for_each(|(reporter, place)| counting.add(reporter, place));
    let fine = if cells == Cells::CountedNow || store.is_simulated().await? { counting.finish() } else { store.fine_cells().await? };
    let plants: Vec<PlantId> = plants.into_iter().collect();
    for some in plants.chunks(READ_AT_ONCE as usize) {
        let mut found = store.plants_by_ids(some).await?;
        if found.len() != some.len() {
            return Err(PublicationError::Moved);
        }
        found.sort_by_key(|plant| plant.id);
        for plant in &found {
            writing.plant(&PlantRow::new(plant, catalogue, fine.shown(&plant.place)))?;
        }
    }
    let mut withdrawn: Vec<_> = store.withdrawn_reports().await?.into_iter().map(|(id, at)| WithdrawnRow::new(id, at)).collect();
    withdrawn.sort_by(|a, b| a.report_id.cmp(&b.report_id));
    let mut gone: Vec<_> = store.withdrawn_shelters().await?.into_iter().map(|(id, at)| WithdrawnShelterRow::new(id, at)).collect();
    gone.sort_by(|a, b| a.shelter_id.cmp(&b.shelter_id));
    let shelters = published_shelters(store, &fine).await?;
    let of_catalogue = catalogue_history::changes(store).await?;
    members.extend(reporters_of(store, of_catalogue.iter().flat_map(|(proposal, decided)| [proposal.author, decided.by])).await?);
    let of_catalogue = catalogue_history::rows(&of_catalogue, |id| members.get(&id).map(|member| credited_to(member).recorded_by))?;
    let rest = Rest {
        withdrawn: &withdrawn,
        shelters: &shelters,
        withdrawn_shelters: &gone,
        changes: &of_catalogue,
        society: Some(&society),
        follows: follows.as_deref(),
    };
    let described = writing.finish(&rest, catalogue, out)?;
    Ok(Assembled { changes, described, withdrawn: withdrawn.len(), shelters: shelters.len(), fine, society })
}

impl Publication {
    /// Puts the package together in a temporary file.
    pub async fn of(store: &Arc<dyn Store>, catalogue: &Catalogue, cells: Cells) -> Result<Self, PublicationError> {
        let mut zip = ZipFiles::new(BufWriter::new(NamedTempFile::new()?));
        let Assembled { changes, described, withdrawn, shelters, fine, society } =
            assemble(store, catalogue, cells, &mut zip, &mut |_| {}).await?;
        let mut file = zip.finish()?.into_inner().map_err(std::io::IntoInnerError::into_error)?;
        let bytes = file.seek(SeekFrom::End(0))?;
        let sha256 = token::hash_of_file(&mut File::open(file.path())?)?;
        Ok(Self {
            changes,
            described,
            withdrawn,
            shelters,
            fine,
            of: (catalogue.version(), catalogue.cultivars().len()),
            society,
            zip: Zip { file, bytes, sha256 },
        })
    }

    /// Whether there is nothing in it.
    pub const fn is_empty(&self) -> bool {
        self.described.reports == 0 && self.shelters == 0
    }

    /// Whether this was made with that catalogue, of so many figs, after so many changes by people, and in the name of that society.
    pub fn is_of(&self, catalogue: &Catalogue, society: &Society) -> bool {
        self.of == (catalogue.version(), catalogue.cultivars().len()) && self.society == *society
    }
}
