//! Two doors asked the same question give the same chances; a zone and a daily record of a station in it give ranges that overlap.

use proptest::prelude::*;
use winterfig_core::catalogue::{Catalogue, prior_table};
use winterfig_core::science::climate::season::{Origin, Season};
use winterfig_core::science::climate::site_climate::SiteClimate;
use winterfig_core::science::climate::winter_minimum::WinterMinimum;
use winterfig_core::science::climate::zone::HalfZone;
use winterfig_core::science::cold_night::pot::Stands;
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::exposure::{
    Age, Air, Circumstances, Course, Gains, Hardening, PotInAir, Response, ResponseFamily, Stand, StoreAir, expose,
};
use winterfig_core::science::fruiting::SeasonDegreeDays;
use winterfig_core::science::hardiness::belief::HardinessBelief;
use winterfig_core::science::numeric::Gaussian;
use winterfig_core::science::priors::Priors;
use winterfig_core::science::shortlist::SitePicture;
use winterfig_core::science::site::{Culture, Protection, Setting, Site, Store, YearsEstablished};
use winterfig_core::units::{Celsius, Interval, TemperatureDelta};

use super::stations::{STATIONS, record};

fn any_stand() -> impl Strategy<Value = (u8, f64)> {
    (0u8..4, 1.0..120.0f64)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// One night with its spread is a year whose winters have that spread: exactly for one belief, tabulated for many.
    #[test]
    fn one_night_and_a_year_of_such_nights_give_the_same_chances(
        (kind, litres) in any_stand(), lowest in -30.0..-3.0f64, spread in 0.3..5.0f64, class in 1u8..=5, years in 0u8..8, wood in 0u8..8,
        windy in 0.0..1.0f64, deficit in -1.0..4.0f64,
    ) {
        let priors = prior_table::priors().unwrap();
        let pot = PotInAir { litres, stands: Stands::Raised };
        let stand = match kind {
            0 => Stand::Ground,
            1 => Stand::Pot(pot),
            2 => Stand::Store(StoreAir::of_store(Some(Store::DetachedShed), &priors), Some(pot)),
            _ => Stand::Store(StoreAir::of_store(None, &priors), None),
        };
        let circumstances = Circumstances {
            air: Air {
                lowest: WinterMinimum::Normal { mean: Celsius::literal(lowest), spread: TemperatureDelta::literal(spread) },
                doubt_k: 0.5,
                windy_share: windy,
                course: Course::daily([4.0, 4.0, 4.0, 4.0, 3.0, 2.0, 0.0], [9.0; 7], &priors.usual_night),
            },
            setting: Some(priors.setting(Setting::Wall)),
            gains: Gains::NONE,
            stand,
            age: Age { years: Some(years), wood_years: Some(wood) }.effects(&priors),
            hardening: Hardening::Short { deficit: Gaussian::new(deficit, 1.0), doubt_k: 0.6 },
            roots_growing: false,
            nights: None,
        };
        let belief = priors.belief(Some(HardinessClass::new(class).unwrap()), false);
        let exposure = expose(&circumstances, &priors);
        let exactly = exposure.chance(&belief, &priors.scale());
        let family = ResponseFamily::one(Response::new(exposure, &priors.scale(), Interval { low: -30.0, high: 0.0 }));
        let tabulated = family.chances(&belief);
        for (level, p) in tabulated.chance.to_array().into_iter().enumerate() {
            prop_assert!((p - exactly[level]).abs() < 1e-3, "level {level}: {p} tabulated, {} exactly", exactly[level]);
            prop_assert!(tabulated.interval.to_array()[level].contains(p));
        }
        prop_assert!((exactly.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    }
}

fn season() -> Season {
    Season::new(200.0, Celsius::literal(22.0), Origin::Assumed, Origin::Assumed).unwrap()
}

fn site(priors: &Priors, winter: WinterMinimum, by_class: Option<[WinterMinimum; 5]>, climate: &SiteClimate) -> Site {
    Site {
        winter,
        place_error_k: 0.0,
        hardening_counted: by_class.is_some(),
        own_spot: None,
        hardening_doubt_k: if by_class.is_some() {
            climate.equivalent_slopes.unwrap().doubt_k(priors.hardening_share.sd, priors.repeat_nights.sd)
        } else {
            0.0
        },
        winter_by_class: by_class,
        climate: climate.kind().unwrap(),
        setting: Setting::Open.into(),
        culture: Culture::Ground,
        years: YearsEstablished::ESTABLISHED,
        wood_years: None,
        protection: Protection::None,
        store: None,
        season: season(),
    }
}

/// The five stations that the project has; ranges are 90 %.
#[test]
fn a_zone_and_a_record_of_a_station_in_it_give_ranges_that_overlap() {
    let priors = prior_table::priors().unwrap();
    let fruit = prior_table::fruit_priors().unwrap();
    let catalogue = Catalogue::embedded().unwrap();
    let beliefs: Vec<HardinessBelief> = catalogue
        .cultivars()
        .iter()
        .map(|c| priors.belief(c.hardiness_class.known(), c.hardiness_class.provenance.rests_on_memory_alone()))
        .collect();
    for (name, _) in STATIONS {
        let Some(record) = record(name) else { return };
        let climate = SiteClimate::of(&record).unwrap();
        let zone = HalfZone::of_mean(climate.winter_minimum().unwrap().mean()).unwrap();
        let by_class: Vec<WinterMinimum> =
            HardinessClass::all().map(|class| climate.equivalent_winter_minimum(Some(class)).unwrap()).collect();
        let by_record = site(&priors, climate.equivalent_winter_minimum(None).unwrap(), by_class.try_into().ok(), &climate);
        let spread = priors.climate(climate.kind().unwrap()).spread;
        let by_zone = site(&priors, WinterMinimum::Band { mean: zone.band(), spread }, None, &climate);
        let picture =
            |site: &Site| SitePicture::new(site, &priors, &priors.scale(), SeasonDegreeDays::from_season(&season(), &fruit), &beliefs);
        let (by_record, by_zone) = (picture(&by_record), picture(&by_zone));
        let mut apart = 0;
        let (mut mean_zone, mut mean_record) = (0.0, 0.0);
        for belief in &beliefs {
            let (a, b) = (by_zone.winter(belief), by_record.winter(belief));
            let overlap = |x: Interval<f64>, y: Interval<f64>| x.low <= y.high && y.low <= x.high;
            apart += usize::from(!overlap(a.interval.to_ground, b.interval.to_ground) || !overlap(a.interval.dead, b.interval.dead));
            mean_zone += (a.chance.to_ground + a.chance.dead) / beliefs.len() as f64;
            mean_record += (b.chance.to_ground + b.chance.dead) / beliefs.len() as f64;
        }
        println!(
            "{name} in {zone}: loses its top {mean_zone:.3} by zone, {mean_record:.3} by record; ranges apart for {apart} of {}",
            beliefs.len()
        );
        assert!(apart * 20 <= beliefs.len(), "{name}: {apart} apart");
    }
}
