//! The dates of a garden: each once for all plants that stand alike, half a year apart on the two halves of the Earth, under ids that stay.

use std::collections::{BTreeMap, BTreeSet};

use jiff::ToSpan;
use jiff::civil::{Date, date};
use uuid::Uuid;
use winterfig::jobs::reminders::dates::{DateKind, DueDate};
use winterfig::jobs::reminders::own_garden::OwnGarden;
use winterfig::jobs::reminders::words;
use winterfig::model::snapshot::Snapshot;
use winterfig::records::place::Publish;
use winterfig::records::words::NameCertainty;
use winterfig::records::{FirstScale, MemberId, Place, Plant, PlantId};
use winterfig::science::site::{Culture, Setting};

const MEMBER: MemberId = MemberId(Uuid::from_u128(77));

fn plant(n: u128, name: &str, town: Option<&str>, culture: Culture, setting: Setting) -> Plant {
    Plant {
        id: PlantId(Uuid::from_u128(n)),
        owner: Some(MEMBER),
        name_written: name.to_owned(),
        cultivar: None,
        certainty: NameCertainty::Label,
        planted: Some(2018),
        setting: Some(setting),
        culture,
        place: Place { words: town.map(str::to_owned), point: None, publish: Publish::Nowhere },
        mother: None,
    }
}

/// Two in the ground in the open, one against a wall, one in a pot.
fn garden(town: &str) -> OwnGarden {
    let pot = Culture::Container(None);
    let plants = vec![
        plant(1, "Fennmere Lantern", Some(town), Culture::Ground, Setting::Open),
        plant(2, "Fennmere Lantern", Some(town), Culture::Ground, Setting::Open),
        plant(3, "Mill fig", Some(town), Culture::Ground, Setting::Wall),
        plant(4, "Balcony fig", Some(town), pot, Setting::Open),
    ];
    OwnGarden { plants, usual_place: Some(town.to_owned()), ..OwnGarden::default() }
}

fn dates(garden: &OwnGarden, today: Date) -> Vec<DueDate> {
    Snapshot::from_seed().unwrap().due_dates(MEMBER, garden, today).0
}

fn months(dates: &[DueDate], kind: DateKind) -> BTreeSet<i8> {
    dates.iter().filter(|due| due.kind == kind).map(|due| due.from.month()).collect()
}

#[test]
fn plants_that_stand_alike_share_a_date_and_a_wall_has_its_own() {
    let all = dates(&garden("Graz, Austria"), date(2026, 11, 28));
    let uncovered: Vec<&DueDate> = all.iter().filter(|due| due.kind == DateKind::Uncover).collect();
    let open = uncovered.iter().find(|due| due.figs.len() == 2).expect("both in the open on one date");
    let wall = uncovered.iter().find(|due| due.figs == ["Mill fig"]).expect("the wall apart");
    assert!(wall.from < open.from, "a wall is safe sooner: {} {}", wall.from, open.from);
    assert!(words::title(open).ends_with("2 figs"));
    assert!(words::words(open, FirstScale::Celsius).contains("2 × Fennmere Lantern"));
    for kind in [DateKind::MoveOutAsleep, DateKind::MoveOutInLeaf] {
        assert!(all.iter().filter(|due| due.kind == kind).all(|due| due.figs == ["Balcony fig"]), "{kind:?}");
        assert!(!months(&all, kind).is_empty());
    }
    // What goes by the whole garden is told once a season for all that have one day.
    assert!(all.iter().any(|due| due.kind == DateKind::WaitUntil && due.figs.len() == 4));
}

/// The guide's rule of midsummer (`science::fruiting::wait`): nobody is told to give a fig up before 30 June, in the south 30 December.
#[test]
fn the_southern_half_has_the_same_year_half_a_year_later() {
    let (north, south) = (dates(&garden("Graz, Austria"), date(2026, 11, 28)), dates(&garden("Canberra, Australia"), date(2026, 11, 28)));
    let spring = |dates: &[DueDate], months: &[i8]| {
        let uncovered = self::months(dates, DateKind::Uncover);
        assert!(!uncovered.is_empty() && uncovered.iter().all(|month| months.contains(month)), "{uncovered:?}");
    };
    spring(&north, &[3, 4, 5]);
    spring(&south, &[9, 10, 11]);
    assert!(months(&north, DateKind::WaitUntil).iter().all(|month| (6..=9).contains(month)));
    assert!(months(&south, DateKind::WaitUntil).iter().all(|month| [12, 1, 2, 3].contains(month)));
    let told: Vec<String> =
        south.iter().filter(|due| due.kind == DateKind::ReportWinter).filter_map(|due| Some(due.winter?.to_string())).collect();
    assert!(told.contains(&"2026".to_owned()), "{told:?}");
}

#[test]
fn ids_stay_from_day_to_day_and_none_stands_twice() {
    let garden = garden("Graz, Austria");
    let ids = |today: Date| -> BTreeMap<Uuid, (DateKind, Date)> {
        let all = dates(&garden, today);
        let by_id: BTreeMap<_, _> = all.iter().map(|due| (due.id, (due.kind, due.from))).collect();
        assert_eq!(by_id.len(), all.len());
        by_id
    };
    let (first, later) = (ids(date(2026, 11, 28)), ids(date(2027, 1, 3)));
    let shared = first.iter().filter(|(id, _)| later.contains_key(id)).count();
    assert!(shared > 10, "{shared}");
    assert!(first.iter().all(|(id, due)| later.get(id).is_none_or(|other| other == due)), "an id means one date");
    // Of two members no id is alike.
    let others = Snapshot::from_seed().unwrap().due_dates(MemberId(Uuid::from_u128(78)), &garden, date(2026, 11, 28)).0;
    assert!(others.iter().all(|due| !first.contains_key(&due.id)));
}

#[test]
fn every_date_lies_within_its_window_on_every_day_of_two_years() {
    let garden = garden("Graz, Austria");
    for n in (0..730).step_by(73) {
        let today = date(2026, 1, 1).checked_add(n.days()).unwrap();
        let all = dates(&garden, today);
        assert!(all.iter().all(|due| due.from <= today + 400.days() && due.until.unwrap_or(due.from) >= today - 45.days()), "{today}");
        for kind in [
            DateKind::Uncover,
            DateKind::HardFrost,
            DateKind::StickCuttings,
            DateKind::WaitUntil,
            DateKind::ReportWinter,
            DateKind::ReportFruit,
        ] {
            assert!(all.iter().any(|due| due.kind == kind), "{kind:?} on {today}");
        }
        assert!(all.iter().filter(|due| due.kind == DateKind::HardFrost).all(|due| due.until.unwrap() > due.from));
    }
}

#[test]
fn a_winter_that_was_told_is_not_asked_for_again() {
    let mut garden = garden("Graz, Austria");
    let asked = |garden: &OwnGarden| -> Vec<usize> {
        let of = |due: &DueDate| due.kind == DateKind::ReportWinter && due.winter.unwrap().to_string() == "2026/27";
        dates(garden, date(2027, 4, 20)).iter().filter(|due| of(due)).map(|due| due.figs.len()).collect()
    };
    assert_eq!(asked(&garden).iter().sum::<usize>(), 4);
    let winter = "2026/27".parse().unwrap();
    garden.told = garden.plants.iter().take(3).map(|plant| (plant.id, winter)).collect();
    assert_eq!(asked(&garden), [1]);
    garden.told = garden.plants.iter().map(|plant| (plant.id, winter)).collect();
    assert!(asked(&garden).is_empty());
}

#[test]
fn a_plant_without_a_town_goes_by_the_gardens_town_or_is_named() {
    let mut garden = garden("Graz, Austria");
    garden.plants.push(plant(9, "Lost fig", None, Culture::Ground, Setting::Open));
    let snapshot = Snapshot::from_seed().unwrap();
    let (all, lost) = snapshot.due_dates(MEMBER, &garden, date(2026, 11, 28));
    assert!(lost.is_empty() && all.iter().any(|due| due.figs.contains(&"Lost fig".to_owned())));
    garden.usual_place = None;
    let (_, lost) = snapshot.due_dates(MEMBER, &garden, date(2026, 11, 28));
    assert_eq!(lost, ["Lost fig"]);
}

/// Held against the place's own dates of frost: the window of the first hard frost (−1 °C) in the open lies about the median first frost (0 °C)
/// that the place is given, the later part of it behind.
#[test]
fn the_window_of_hard_frost_ends_after_the_usual_first_frost() {
    let all = dates(&garden("Graz, Austria"), date(2026, 9, 1));
    let window = all.iter().find(|due| due.kind == DateKind::HardFrost && due.figs.len() > 1).unwrap();
    assert!((10..=12).contains(&window.from.month()), "{}", window.from);
    let days = window.from.until(window.until.unwrap()).unwrap().get_days();
    assert!((7..=90).contains(&days), "{days}");
}
