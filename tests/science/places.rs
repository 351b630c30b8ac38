//! Towns: found by name, and their climate beside daily records.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use winterfig_core::places::invented::INVENTED;
use winterfig_core::places::{Gazetteer, PlaceError, Town};
use winterfig_core::science::climate::record::{DailyRecord, ReadOptions};
use winterfig_core::science::climate::site_climate::SiteClimate;

use crate::cases::case;

fn towns() -> &'static Gazetteer {
    Gazetteer::embedded().unwrap()
}

fn first(words: &str) -> Town {
    towns().find(words, 1).unwrap_or_else(|e| panic!("{words}: {e}")).remove(0)
}

/// Towns about random points of the inhabited Earth, at most ten about one, each once.
fn random_towns(count: usize) -> Vec<Town> {
    let mut random = ChaCha8Rng::seed_from_u64(18);
    let mut found: Vec<Town> = Vec::new();
    while found.len() < count {
        let at = (random.random_range(-45.0..65.0), random.random_range(-180.0..180.0));
        for (town, km) in towns().near(at, 10) {
            if km < 60.0 && found.len() < count && found.iter().all(|t| t.id != town.id) {
                found.push(town);
            }
        }
    }
    found
}

#[test]
fn a_thousand_random_towns_are_found_by_name_and_country_first_or_second() {
    let (mut by_country, mut by_region) = (0, 0);
    for town in random_towns(1000) {
        let among_two = |words: &str| towns().find(words, 2).is_ok_and(|found| found.iter().any(|t| t.id == town.id));
        if among_two(&format!("{}, {}", town.name, town.country)) {
            by_country += 1;
        } else if among_two(&town.label()) {
            by_region += 1;
        }
        // Where three or more of a country share a name, the region decides; where they share that too, the number.
        let words = towns().words_for(&town);
        assert_eq!(first(&words).id, town.id, "{words}");
    }
    assert!(by_country >= 900, "by name and country: {by_country}");
    assert!(by_country + by_region >= 980, "by name, region and country: {}", by_country + by_region);
}

#[test]
fn a_town_is_found_in_the_words_and_script_of_its_people_and_with_one_slip() {
    for (words, name, country) in [
        ("Vienna, AT", "Vienna", "AT"),
        ("Wien", "Vienna", "AT"),
        ("vienna austria", "Vienna", "AT"),
        ("Vienne, Autriche", "Vienna", "AT"),
        ("Vienna VA", "Vienna", "US"),
        ("Asheville NC", "Asheville", "US"),
        ("Asheville, North Carolina, USA", "Asheville", "US"),
        ("asheville nc, usa", "Asheville", "US"),
        ("大阪", "Osaka", "JP"),
        ("Osaka", "Osaka", "JP"),
        ("Αθήνα", "Athens", "GR"),
        ("서울", "Seoul", "KR"),
        ("Москва", "Moscow", "RU"),
        ("Маскава", "Moscow", "RU"),
        ("Петербрг", "Saint Petersburg", "RU"),
        ("Београд", "Belgrade", "RS"),
        ("Αθηνο", "Athens", "GR"),
        ("Київ", "Kyiv", "UA"),
        ("Melbourne", "Melbourne", "AU"),
        ("Melbuorne", "Melbourne", "AU"),
        ("Melborne", "Melbourne", "AU"),
        ("Melb", "Melbourne", "AU"),
        ("Melbourne VIC", "Melbourne", "AU"),
        ("Paris, Texas", "Paris", "US"),
        ("Springfield, Ill", "Springfield", "US"),
        ("London, Ontario", "London", "CA"),
        ("London ON", "London", "CA"),
        ("Zuerich", "Zürich", "CH"),
        ("st louis missouri", "St. Louis", "US"),
        ("São Paulo", "São Paulo", "BR"),
        ("sao paulo", "São Paulo", "BR"),
        ("New York City", "New York City", "US"),
        ("New York", "New York City", "US"),
        ("new york, usa", "New York City", "US"),
        ("Washington DC", "Washington", "US"),
        ("Graz, Österreich", "Graz", "AT"),
    ] {
        let town = first(words);
        assert_eq!((town.name.as_str(), town.country_code.as_str()), (name, country), "{words}");
    }
}

#[test]
fn larger_towns_come_first_and_all_of_a_name_can_be_told_apart() {
    let springfields = towns().find("Springfield, US", 8).unwrap();
    assert!(springfields.iter().take(6).all(|t| t.name == "Springfield"));
    let people: Vec<f64> = springfields.iter().take(6).map(|t| t.population.unwrap_or(0.0)).collect();
    assert!(people.windows(2).all(|w| w[0] >= w[1]), "{people:?}");
    assert!(towns().spot("Springfield", None).unwrap().namesakes >= 10);
    for town in springfields {
        assert_eq!(first(&towns().words_for(&town)).id, town.id);
    }
}

#[test]
fn words_that_name_no_place_are_refused_with_what_is_accepted() {
    let refused = |words: &str| towns().spot(words, None).unwrap_err();
    assert!(matches!(refused(""), PlaceError::Empty));
    assert!(matches!(refused("  , "), PlaceError::Empty));
    assert!(matches!(refused("xqzvkw"), PlaceError::Unknown { .. }));
    assert!(matches!(refused("Graz, Narnia"), PlaceError::UnknownRegion { .. }));
    assert!(refused("28801").to_string().contains("postal code"));
    assert!(refused("0, -140").to_string().contains("at sea"));
    assert!(refused("-122.33, 47.61").to_string().contains("47.61, -122.33"));
    assert!(towns().spot("Graz, AT", Some(f64::from(363 + 3000))).unwrap_err().to_string().contains("above Graz"));
    assert!(towns().spot("Graz, AT", Some(1263.0)).is_ok(), "900 m above is answered, with its doubt");
}

#[test]
fn coordinates_stand_for_the_town_about_them_and_their_height_is_used() {
    let spot = towns().spot("47.07, 15.44", None).unwrap();
    assert_eq!(spot.town.name, "Graz");
    let higher = towns().spot("+47.07+015.44+0863/", None).unwrap();
    assert_eq!(higher.elevation_m, Some(863.0));
    assert!(higher.estimate.mean.value < spot.estimate.mean.value && higher.estimate.mean.error > spot.estimate.mean.error);
    let near = towns().near((47.07, 15.44), 5);
    assert!(near.windows(2).all(|w| w[0].1 <= w[1].1));
}

// The nearest town by the blocks’ boxes is the nearest of all: against the towns about random points reached by name.
#[test]
fn the_nearest_town_to_a_town_is_itself() {
    for town in random_towns(60) {
        let (nearest, km) = towns().near(town.at, 1).remove(0);
        assert!(km < 0.01 && nearest.at == town.at, "{}", town.label());
    }
}

#[test]
fn long_records_near_a_town_are_listed_nearest_first_with_twenty_years_each() {
    let records = towns().long_records((35.6, -82.55), 80.0, 4);
    assert_eq!(records.len(), 4);
    assert!(records.windows(2).all(|w| w[0].km <= w[1].km));
    assert!(records.iter().all(|r| r.years.1 - r.years.0 >= 19 && r.id.len() == 11 && r.km <= 80.0));
    assert!(towns().long_records((0.0, -140.0), 80.0, 4).is_empty());
}

/// Winters of a case of `cases/climate` from 1970 on: mean, spread and number.
fn winters(station: &str) -> Option<(f64, f64, f64)> {
    let text = case(&format!("climate/{station}"))?;
    let options = ReadOptions::on(jiff::civil::date(2026, 1, 1));
    let record = DailyRecord::read(std::io::Cursor::new(text.into_bytes()), &options).unwrap();
    let climate = SiteClimate::of(&record).unwrap();
    let minima: Vec<f64> = climate
        .winters
        .iter()
        .filter(|w| w.used && w.winter >= 1970)
        .filter_map(|w| w.minimum_c)
        .map(winterfig_core::units::Celsius::degrees)
        .collect();
    let n = minima.len() as f64;
    let mean = minima.iter().sum::<f64>() / n;
    Some((mean, (minima.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt(), n))
}

// Positions of the stations: GHCN-Daily's list; Klein-Altendorf: University of Bonn, by its published position.
#[test]
fn towns_near_the_stations_of_the_cases_have_their_winters_within_two_errors() {
    for (case, at, metres) in [
        ("seattle_tacoma_1948_2017.csv", (47.44, -122.31), 112.0),
        ("klein_altendorf_1998_2010.csv", (50.62, 6.99), 160.0),
        ("champion_nebraska_1982_2018.csv", (40.40, -101.72), 1029.0),
        ("fort_collins_co_1900_1999.csv", (40.58, -105.09), 1525.0),
        ("usc00010655_2003_2024.csv", (34.69, -86.88), 183.0),
    ] {
        let Some((mean, spread, n)) = winters(case) else { return };
        let spot = towns().spot(&format!("{}, {}", at.0, at.1), Some(metres)).unwrap();
        // The record's own mean is known to its spread over the root of its winters.
        let doubt = spot.estimate.mean.error.hypot(spread / n.sqrt());
        let off = spot.estimate.mean.value.degrees() - mean;
        println!(
            "{case}: {} {:.1} ± {:.1}, record {mean:.1} of {n} winters",
            spot.town.label(),
            spot.estimate.mean.value.degrees(),
            spot.estimate.mean.error
        );
        assert!(off.abs() <= 2.0 * doubt, "{case}: off by {off:.1} K, doubt {doubt:.1} K");
        assert!(
            (spot.estimate.spread.value.kelvin() - spread).abs() <= 2.0 * spot.estimate.spread.error.hypot(spread / (2.0 * n).sqrt()),
            "{case}: spread {spread:.1}"
        );
    }
}

#[test]
fn an_invented_town_is_found_by_its_name_and_marked_wherever_it_shows() {
    for (name, ..) in INVENTED {
        let marked = format!("{name} (invented)");
        for typed in [name.to_owned(), marked.clone(), format!("{name}, invented"), name.to_uppercase()] {
            let spot = towns().spot(&typed, None).unwrap();
            assert!(spot.town.is_invented() && spot.town.name == name, "{typed}");
            assert_eq!(spot.town.label(), marked);
        }
        let town = towns().named(name).unwrap();
        assert_eq!((towns().words_for(&town), towns().town(town.id).map(|t| t.id)), (marked, Some(town.id)));
    }
    assert!(!first("Graz").is_invented());
}
