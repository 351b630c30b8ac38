//! The package as files and as one zip; the same data give the same bytes.

use std::io::Cursor;

use super::catalogue_rows::ChangeRow;
use super::rows::{PlantRow, WinterRow, WithdrawnRow};
use super::shelter_rows::{PublishedShelter, WithdrawnShelterRow};
use super::tables::NotWritten;
use super::writing::{Described, Files, Rest, Writing, ZipFiles};
use crate::catalogue::Catalogue;
use crate::records::place::PublishedPlace;

/// Name under which the zip is handed out.
pub const FILE_NAME: &str = "winterfig-reports.zip";

/// Everything that is published, in order of ids.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Package {
    /// Plants.
    pub plants: Vec<PlantRow>,
    /// Winters.
    pub winters: Vec<WinterRow>,
    /// Reports that counted once.
    pub withdrawn: Vec<WithdrawnRow>,
    /// Shelters with what was measured in them.
    pub shelters: Vec<PublishedShelter>,
    /// Shelters that counted once.
    pub withdrawn_shelters: Vec<WithdrawnShelterRow>,
    /// What people changed in the catalogue, in the order of acceptance.
    pub changes: Vec<ChangeRow>,
    /// Version of the newest release, which this one follows.
    pub follows: Option<String>,
}

/// A package in one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Zipped {
    /// The file.
    pub bytes: Vec<u8>,
    /// Version of the package.
    pub version: String,
    /// One ready line to cite.
    pub citation: String,
}

impl Package {
    /// The same rows, as what follows a release of this version.
    #[must_use]
    pub fn following(self, newest: Option<String>) -> Self {
        Self { follows: newest, ..self }
    }

    /// Every file of the package, by name, in the order of the zip.
    pub fn files(&self, catalogue: &Catalogue) -> Result<Vec<(String, Vec<u8>)>, NotWritten> {
        let mut files = Vec::new();
        self.write(catalogue, &mut files)?;
        Ok(files)
    }

    fn write(&self, catalogue: &Catalogue, out: &mut dyn Files) -> Result<Described, NotWritten> {
        let mut writing = Writing::new(Cursor::new(Vec::new()), Cursor::new(Vec::new()))?;
        self.winters.iter().try_for_each(|row| writing.winter(row))?;
        self.plants.iter().try_for_each(|row| writing.plant(row))?;
        let rest = Rest {
            withdrawn: &self.withdrawn,
            shelters: &self.shelters,
            withdrawn_shelters: &self.withdrawn_shelters,
            changes: &self.changes,
            society: None,
            follows: self.follows.as_deref(),
        };
        writing.finish(&rest, catalogue, out)
    }

    /// The same with shelters.
    #[must_use]
    pub fn with_shelters(mut self, mut shelters: Vec<PublishedShelter>, mut withdrawn: Vec<WithdrawnShelterRow>) -> Self {
        shelters.sort_by(|a, b| a.shelter.shelter_id.cmp(&b.shelter.shelter_id));
        withdrawn.sort_by(|a, b| a.shelter_id.cmp(&b.shelter_id));
        (self.shelters, self.withdrawn_shelters) = (shelters, withdrawn);
        self
    }

    /// The package in one file, with its names.
    pub fn zip(&self, catalogue: &Catalogue) -> Result<Zipped, NotWritten> {
        let mut zip = ZipFiles::new(Cursor::new(Vec::new()));
        let Described { version, citation, .. } = self.write(catalogue, &mut zip)?;
        Ok(Zipped { bytes: zip.finish()?.into_inner(), version, citation })
    }

    /// Puts a package together: `published` gives what is shown of a plant's place.
    pub fn assemble<'a>(
        reports: impl IntoIterator<Item = (&'a crate::records::Report, super::rows::Credited, PublishedPlace)>,
        withdrawn: Vec<WithdrawnRow>,
        catalogue: &Catalogue,
    ) -> Self {
        let mut package = Self { withdrawn, ..Self::default() };
        for (report, credited, place) in reports {
            package.winters.push(WinterRow::new(report, &credited));
            package.plants.push(PlantRow::new(&report.plant, catalogue, place));
        }
        package.winters.sort_by(|a, b| a.report_id.cmp(&b.report_id));
        package.plants.sort_by(|a, b| a.plant_id.cmp(&b.plant_id));
        package.plants.dedup_by(|a, b| a.plant_id == b.plant_id);
        package.withdrawn.sort_by(|a, b| a.report_id.cmp(&b.report_id));
        package
    }
}

#[cfg(test)]
mod tests {
    use super::super::columns;
    use super::super::tables::minor_and_build;
    use super::*;
    use crate::records::HeatMet;
    use crate::records::place::{HeldPoint, Publish};
    use crate::records::release::Credited;
    use serde::Serialize;

    fn package(reports: &[crate::records::Report]) -> Package {
        let credited = || Credited { recorded_by: "a member".to_owned(), reporter: None };
        let rows = reports.iter().map(|report| (report, credited(), PublishedPlace::Withheld));
        Package::assemble(rows, Vec::new(), &Catalogue::embedded().unwrap())
    }

    // A withdrawal once made the second release “1.59.0” after “1.60.0”.
    #[test]
    fn versions_grow_with_every_release_also_when_reports_are_withdrawn() {
        let catalogue = Catalogue::embedded().unwrap();
        let reports: Vec<_> = (0..3)
            .map(|n| crate::records::Report { id: crate::records::ReportId(uuid::Uuid::from_u128(n)), ..crate::records::sample::report() })
            .collect();
        let mut last: Option<String> = None;
        for (count, minor) in [(3, 3), (2, 4), (1, 5), (3, 6)] {
            let next = package(&reports[..count]).following(last.clone());
            let version = next.zip(&catalogue).unwrap().version;
            assert_eq!(minor_and_build(&version).unwrap().0, minor);
            // The same content again is the same release, byte for byte.
            let again = package(&reports[..count]).following(Some(version.clone()));
            assert_eq!(again.zip(&catalogue).unwrap(), next.zip(&catalogue).unwrap());
            last = Some(version);
        }
    }

    #[test]
    fn sums_of_heat_are_published_in_tens_and_not_at_all_where_the_place_is_not() {
        let mut report = crate::records::sample::report();
        report.record.heat =
            Some(HeatMet { site: None, to_growth: Some(214.37), to_ripe: Some(1_585.0), to_frost: None, harder_k: Some(1.27) });
        let credited = Credited { recorded_by: "a member".to_owned(), reporter: None };
        let mut row = |publish, point| {
            (report.plant.place.publish, report.plant.place.point) = (publish, point);
            let row = WinterRow::new(&report, &credited);
            (row.heat_to_growth_dd, row.heat_to_ripe_dd, row.heat_to_frost_dd)
        };
        let point = HeldPoint::new(51.04, -0.13).ok();
        assert_eq!(row(Publish::Grid, point), (Some(210.0), Some(1_590.0), None));
        assert_eq!(row(Publish::Coarse, point), (Some(210.0), Some(1_590.0), None));
        assert_eq!(row(Publish::Nowhere, point), (None, None, None));
        assert_eq!(row(Publish::Grid, None), (None, None, None));
    }

    /// The names that serde gives the fields of a row are the names of the columns, in their order.
    fn header<R: Serialize>(row: &R) -> Vec<String> {
        let serde_json::Value::Object(map) = serde_json::to_value(row).unwrap() else { panic!("a row is a map") };
        map.keys().cloned().collect()
    }

    #[test]
    fn rows_and_columns_name_the_same_fields_in_the_same_order() {
        let report = crate::records::sample::report();
        let credited = super::super::rows::Credited { recorded_by: "a member".to_owned(), reporter: None };
        let names = |columns: Vec<columns::Column>| columns.into_iter().map(|c| c.name.to_owned()).collect::<Vec<_>>();
        assert_eq!(header(&WinterRow::new(&report, &credited)), names(columns::winters()));
        let plant = PlantRow::new(&report.plant, &Catalogue::embedded().unwrap(), PublishedPlace::Withheld);
        assert_eq!(header(&plant), names(columns::plants()));
    }
}
