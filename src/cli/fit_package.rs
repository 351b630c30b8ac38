//! A released package as the fit takes it: the rules of `/method` turn its rows into observations.

use super::CliError;
use crate::catalogue::CatalogueRecords;
use crate::model::snapshot::Snapshot;
use crate::model::told::Told;
use crate::records::release::{self, Incoming};
use crate::records::report_file::ReportFile;
use crate::records::{AcceptedReport, Report};
use crate::science::hardiness::observation::Reports;

/// First bytes of a zip file.
const ZIP: &[u8] = b"PK";

/// Whether these bytes are a package.
pub(super) fn is_package(bytes: &[u8]) -> bool {
    bytes.starts_with(ZIP)
}

/// The reports of a package; cultivars are named by slug, those without reports left out. `shown`: the file's name.
pub(super) fn read(bytes: &[u8], shown: &str) -> Result<ReportFile, CliError> {
    let mut records = CatalogueRecords::embedded().map_err(anyhow::Error::from)?;
    let shipped = records.clone().assemble().map_err(anyhow::Error::from)?;
    let contents = release::read(bytes, &shipped).map_err(|e| CliError::Input(format!("{shown}: {e}")))?;
    // The figs that people added are of the package.
    let accepted = contents.changes.iter().filter(|change| change.proposal.number.is_some());
    records.replay(accepted.map(|change| (change.proposal.id, change.proposal.change.clone())));
    let catalogue = records.assemble().map_err(anyhow::Error::from)?;
    // Who is credited tells reporters apart.
    let credited = |incoming: &Incoming| Report { credited: Some(incoming.credited.clone()), ..incoming.report.clone() };
    let accepted: Vec<AcceptedReport> =
        contents.reports.iter().filter_map(|incoming| AcceptedReport::from_report(&credited(incoming))).collect();
    let snapshot = Snapshot::from_priors(catalogue).map_err(anyhow::Error::from)?;
    let mut reports = Reports::of(&Told::of(&snapshot, accepted.iter()));
    let mut notes = vec![format!("package with {} reports", contents.reports.len())];
    let left_out = contents.reports.len() - reports.observations.len();
    if left_out > 0 {
        notes
            .push(format!("{left_out} of them tell the fit nothing: no cultivar of the catalogue, no temperature, heated, or not of cold"));
    }
    let mut places = vec![None; reports.cultivars.len()];
    let mut cultivars = Vec::new();
    let mut seen = Vec::new();
    for observation in &mut reports.observations {
        let Some(place) = places.get_mut(observation.cultivar as usize) else { continue };
        let kind = snapshot.catalogue.cultivars().get(observation.cultivar as usize);
        let (Some(kind), Some(prior)) = (kind, reports.cultivars.get(observation.cultivar as usize)) else { continue };
        observation.cultivar = *place.get_or_insert_with(|| {
            cultivars.push(kind.slug.to_string());
            seen.push(*prior);
            seen.len() as u32 - 1
        });
    }
    reports.cultivars = seen;
    Ok(ReportFile { cultivars, reporters: (0..reports.reporters).map(|r| r.to_string()).collect(), reports, notes })
}
