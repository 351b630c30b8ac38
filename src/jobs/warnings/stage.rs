//! What figs look like at a place on a date, by its usual year, where the member does not say.

use std::sync::LazyLock;

use jiff::civil::Date;
use quick_cache::sync::Cache;

use crate::jobs::season::dates::{days, turn_before};
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::records::HeldPoint;
use crate::science::climate::season::{CREST_DAY_NORTH, YEAR_DAYS};
use crate::science::cold_night::stage::Stage;
use crate::science::fruiting::asleep::Rest;

/// Days after the end of the season in which leaves count as just down. DESIGN.
const JUST_DOWN_DAYS: f64 = 21.0;
/// Days after bud-break in which buds swell; shoots grow after that. DESIGN.
const SWELLING_DAYS: f64 = 14.0;

/// What a fig looks like on a day from the turn of the year: the tenderer where the year leaves it open.
fn on(rest: &Rest, day: f64) -> Stage {
    if day < CREST_DAY_NORTH {
        if day < rest.bud_break {
            Stage::Hard
        } else if day < rest.bud_break + SWELLING_DAYS {
            Stage::Buds
        } else {
            Stage::Growing
        }
    } else if day < rest.season_end {
        Stage::InLeaf
    } else if day < rest.season_end + JUST_DOWN_DAYS {
        Stage::LeavesDown
    } else {
        Stage::Hard
    }
}

/// Rest of the usual year of places that were asked about, by the version of the model: rounds come back to the same places twice a day, and
/// working one out takes longer than everything else that a round does for a member.
static RESTS: LazyLock<Cache<(HeldPoint, String), Rest>> = LazyLock::new(|| Cache::new(MOST_RESTS));
/// Places kept: some megabytes.
const MOST_RESTS: usize = 50_000;

fn rest(snapshot: &Snapshot, at: HeldPoint) -> Option<Rest> {
    let key = (at, snapshot.model.version.clone());
    if let Some(known) = RESTS.get(&key) {
        return Some(known);
    }
    let rest = worked_out(snapshot, at)?;
    RESTS.insert(key, rest);
    Some(rest)
}

fn worked_out(snapshot: &Snapshot, at: HeldPoint) -> Option<Rest> {
    let asked = vec![("place".to_owned(), format!("{:.2}, {:.2}", at.latitude(), at.longitude()))];
    let place = Question::parse(&asked, false).ok()?;
    Some(snapshot.place_year(&place, None).rest)
}

/// What figs look like at a place on a date; `None` where no town is near.
pub fn usual(snapshot: &Snapshot, at: HeldPoint, date: Date) -> Option<Stage> {
    rest(snapshot, at).map(|rest| on(&rest, days(turn_before(at.hemisphere(), date), date)))
}

/// The same on each day from the turn of the year on.
pub fn through_the_year(snapshot: &Snapshot, at: HeldPoint) -> Option<Vec<Stage>> {
    let rest = rest(snapshot, at)?;
    Some((0..YEAR_DAYS as usize).map(|day| on(&rest, day as f64)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_year_goes_from_hard_over_buds_and_leaf_to_hard() {
        use Stage::{Buds, Growing, Hard, InLeaf, LeavesDown};
        let rest = Rest { bud_break: 95.0, bud_break_degree_days: 100.0, leaf_fall: 280.0, season_end: 320.0 };
        let stages = [20.0, 94.0, 96.0, 110.0, 210.0, 300.0, 321.0, 345.0].map(|day| on(&rest, day));
        assert_eq!(stages, [Hard, Hard, Buds, Growing, InLeaf, InLeaf, LeavesDown, Hard]);
    }

    #[test]
    fn a_place_is_in_leaf_in_summer_and_hard_in_midwinter_on_both_halves_of_the_earth() {
        let snapshot = Snapshot::from_seed().unwrap();
        let (graz, dunedin) = (HeldPoint::new(47.07, 15.44).unwrap(), HeldPoint::new(-45.87, 170.5).unwrap());
        assert_eq!(usual(&snapshot, graz, jiff::civil::date(2027, 1, 20)), Some(Stage::Hard));
        assert_eq!(usual(&snapshot, graz, jiff::civil::date(2027, 8, 20)), Some(Stage::InLeaf));
        assert_eq!(usual(&snapshot, dunedin, jiff::civil::date(2027, 7, 20)), Some(Stage::Hard));
        assert_eq!(usual(&snapshot, HeldPoint::new(-60.0, -140.0).unwrap(), jiff::civil::date(2027, 7, 20)), None, "no town is near");
    }
}
