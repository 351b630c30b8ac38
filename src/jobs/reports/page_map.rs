//! Reports by the published cell of their plants, for the map.

use std::collections::BTreeMap;

use crate::jobs::open_data::publication::Published;
use crate::records::words::Vitality;
use crate::web::charts::map::{Grown, Map};

/// The map of some reports; `None` where no place of theirs is published.
pub(super) fn map(reports: &[&Published]) -> Option<Map> {
    // The newest report of each plant tells whether it lives.
    let mut newest: BTreeMap<&str, &Published> = BTreeMap::new();
    for report in reports {
        let held = newest.entry(&report.plant.plant_id).or_insert(report);
        if report.winter.winter > held.winter.winter {
            *held = report;
        }
    }
    let grown = newest.values().filter_map(|report| {
        let (latitude, longitude) = (report.plant.latitude?, report.plant.longitude?);
        Some(Grown { latitude, longitude, plants: 1, alive: usize::from(report.winter.vitality == Vitality::Alive) })
    });
    Map::new(&grown.collect::<Vec<_>>())
}
