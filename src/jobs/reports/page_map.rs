//! Reports by the published cell of their plants, for the map.

use crate::jobs::reports::summary::CellPlants;
use crate::web::charts::map::{Grown, Map};

/// The map of some reports; `None` where no place of theirs is published.
pub(crate) fn map(cells: &[CellPlants]) -> Option<Map> {
    let grown = cells.iter().map(|&CellPlants { cell, plants, alive }| Grown {
        latitude: cell.latitude(),
        longitude: cell.longitude(),
        plants,
        alive,
    });
    Map::new(&grown.collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::catalogue::Catalogue;
    use crate::jobs::reports::list::ReportQuestion;
    use crate::jobs::reports::summary::{MOST_KINDS, Summaries};
    use crate::records::place::Publish;
    use crate::records::register::Building;
    use crate::records::{HeldPoint, ReportId, sample};
    use crate::units::Celsius;
    use crate::web::charts::outcomes::{Outcomes, REPORTS as NOUN};

    /// Most squares and bars of a page, with some 120 bytes each: a quarter of what a page may have.
    const MOST_MARKS: usize = 2_000;

    // A hundred thousand reports of as many plants, under thousands of names, all over the land and at every temperature.
    #[test]
    fn what_a_page_says_of_a_hundred_thousand_reports_is_bounded() {
        const REPORTS: u32 = 100_000;
        let (mut building, mut told) = (Building::default(), sample::report());
        told.plant.cultivar = None;
        told.plant.place.publish = Publish::Coarse;
        for n in 0..REPORTS {
            (told.id, told.plant.id.0) = (ReportId(Uuid::from_u128(n.into())), Uuid::from_u128(n.into()));
            told.plant.name_written = format!("seedling {}", n % 7_919);
            told.plant.place.point = HeldPoint::new(-50.0 + f64::from(n % 1_009) / 10.0, -170.0 + f64::from(n % 3_001) / 10.0).ok();
            told.record.coldest.as_mut().unwrap().celsius = Celsius::literal(-30.0 + f64::from(n % 4_001) / 100.0);
            building.put(&told);
        }
        let (register, kept, catalogue) = (building.finish(1), Summaries::default(), Catalogue::embedded().unwrap());
        let question = ReportQuestion::parse(&[("limit".to_owned(), "40".to_owned())]).unwrap();
        let answer = question.answer(&register, &kept, &catalogue);
        let summary = &answer.summary;
        assert_eq!((summary.reports, summary.plants, answer.page.len()), (REPORTS as usize, REPORTS as usize, 40));
        assert_eq!((summary.kinds.len(), summary.kinds_left), (MOST_KINDS, 7_919 - MOST_KINDS));
        let map = map(&summary.cells).unwrap();
        let points: Vec<_> = summary.by_cold.iter().map(|at| (at.coldest, at.level, at.reports)).collect();
        let picture = Outcomes::new(&points, NOUN, &|c| c.degrees().to_string()).unwrap();
        let bars: usize = picture.lanes.iter().map(|lane| lane.bars.len() + lane.points.len()).sum();
        assert!(map.squares.len() + bars < MOST_MARKS, "{} squares, {bars} bars", map.squares.len());
        let facets = kept.facets(&register);
        assert_eq!((facets.cultivars.len(), facets.winters.len()), (0, 1), "names in no catalogue are no facets");
    }
}
