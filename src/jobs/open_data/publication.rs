//! What is public of the reports at one moment: the list that pages and the API read, and the data package.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

use hyper::body::Bytes;
use serde_json::Value;

use crate::catalogue::Catalogue;
use crate::records::place::FineCells;
use crate::records::release::{
    Credited, NotWritten, Package, PlantRow, PublishedShelter, WinterRow, WithdrawnRow, WithdrawnShelterRow, Zipped,
};
use crate::records::words::Credit;
use crate::records::{Member, MemberId, PublishedPlace, Report};
use crate::store::{ReportFilter, Store, StoreError};
use crate::token;

/// A published report with its plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Published {
    /// The winter.
    pub winter: WinterRow,
    /// The plant.
    pub plant: PlantRow,
}

/// Everything public at one moment.
#[derive(Debug)]
pub struct Publication {
    /// Number of the changes it holds.
    pub version: i64,
    /// The package.
    pub package: Package,
    /// Reports with their plants, newest first.
    pub reports: Vec<Published>,
    /// The cells of 0.1° that it shows.
    pub fine: FineCells,
    catalogue: Catalogue,
    written: OnceLock<Written>,
}

/// A data package in one file, held once however many are reading it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Zip {
    /// The file.
    pub bytes: Bytes,
    /// SHA-256 of it, hexadecimal.
    pub sha256: String,
}

/// What a publication is when handed out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The data package.
    pub zip: Arc<Zip>,
    /// Its version.
    pub version: String,
    /// One ready line to cite it.
    pub citation: String,
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

impl Publication {
    /// What is public now: places in the cells of the newest release, whoever came or went since.
    pub async fn now(store: &Arc<dyn Store>, catalogue: &Catalogue) -> Result<Self, StoreError> {
        // Simulated data are never released and nobody's places.
        let kept = if store.is_simulated().await? { None } else { Some(store.fine_cells().await?) };
        Self::with_cells(store, catalogue, kept).await
    }

    /// What a release made now holds: cells counted anew.
    pub async fn for_release(store: &Arc<dyn Store>, catalogue: &Catalogue) -> Result<Self, StoreError> {
        Self::with_cells(store, catalogue, None).await
    }

    async fn with_cells(store: &Arc<dyn Store>, catalogue: &Catalogue, cells: Option<FineCells>) -> Result<Self, StoreError> {
        // Read first: a change that comes between is then found again at the next request, never lost.
        let version = store.reports_version().await?;
        let follows = store.releases().await?.into_iter().next().map(|release| release.version);
        let reports = store.accepted(&ReportFilter::default(), i64::MAX).await?;
        let members: HashMap<MemberId, Member> = store.members().await?.into_iter().map(|member| (member.id, member)).collect();
        let withdrawn = store.withdrawn_reports().await?.into_iter().map(|(id, at)| WithdrawnRow::new(id, at)).collect();
        let shelters = store.shelters_accepted().await?;
        let fine = cells.unwrap_or_else(|| {
            let of_plants = reports.iter().filter_map(|r| Some((r.reporter?, &r.plant.place)));
            FineCells::counted(of_plants.chain(shelters.iter().filter_map(|s| Some((s.reporter?, &s.place)))))
        });
        let by = |kept: &Option<Credited>, reporter| credited(kept.as_ref(), reporter, &members);
        let rows = reports.iter().map(|r| (r, by(&r.credited, r.reporter), fine.shown(&r.plant.place)));
        let of_shelters = shelters.iter().map(|s| PublishedShelter::new(s, &by(&s.credited, s.reporter), fine.shown(&s.place))).collect();
        let gone = store.withdrawn_shelters().await?.into_iter().map(|(id, at)| WithdrawnShelterRow::new(id, at)).collect();
        let package = Package::assemble(rows, withdrawn, catalogue).with_shelters(of_shelters, gone).following(follows);
        let plants: HashMap<&str, &PlantRow> = package.plants.iter().map(|plant| (plant.plant_id.as_str(), plant)).collect();
        let mut published: Vec<Published> = package
            .winters
            .iter()
            .filter_map(|winter| Some(Published { winter: winter.clone(), plant: (*plants.get(winter.plant_id.as_str())?).clone() }))
            .collect();
        published.sort_by(|a, b| b.winter.report_id.cmp(&a.winter.report_id));
        Ok(Self { version, reports: published, package, fine, catalogue: catalogue.clone(), written: OnceLock::new() })
    }

    /// Whether this was made with that catalogue: of so many figs, after so many changes by people.
    pub fn is_of(&self, catalogue: &Catalogue) -> bool {
        let told = |catalogue: &Catalogue| (catalogue.version(), catalogue.cultivars().len());
        told(&self.catalogue) == told(catalogue)
    }

    /// Nothing, as of a version.
    #[cfg(test)]
    pub(super) fn empty(version: i64, catalogue: Catalogue) -> Self {
        let package = Package::assemble([], Vec::new(), &catalogue);
        Self { version, reports: Vec::new(), package, fine: FineCells::default(), catalogue, written: OnceLock::new() }
    }

    /// The data package where it has been written.
    pub fn if_written(&self) -> Option<&Written> {
        self.written.get()
    }

    /// The data package, written at the first call: seconds of work for a hundred thousand reports.
    pub fn written(&self) -> Result<&Written, NotWritten> {
        if let Some(written) = self.written.get() {
            return Ok(written);
        }
        let Zipped { bytes, version, citation } = self.package.zip(&self.catalogue)?;
        let zip = Arc::new(Zip { sha256: token::hash(&bytes), bytes: bytes.into() });
        Ok(self.written.get_or_init(|| Written { zip, version, citation }))
    }
}
