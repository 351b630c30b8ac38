//! A seeded society of any size, for checks of what grows with it: plants, names in and out of the catalogue, places all over the land, and
//! winters whose damage follows from the cold. Nothing in it is meant to be learned from.
#![allow(dead_code, missing_docs)]

use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use uuid::Uuid;
use winterfig::catalogue::{Catalogue, Slug};
use winterfig::records::place::Publish;
use winterfig::records::release::{Contents, Credited, Incoming};
use winterfig::records::words::{Cover, NameCertainty, Stage, Thermometer, TopKilled, TypedUnit, Vitality};
use winterfig::records::{Coldest, HeldPoint, Place, Plant, PlantId, Report, ReportId, ReviewState, Winter, WinterRecord};
use winterfig::science::site::Culture;
use winterfig::store::Store;
use winterfig::units::Celsius;

/// Winters told of a plant, on average.
const WINTERS: usize = 4;
/// Reports of a reporter, on average.
const OF_REPORTER: usize = 20;
/// Written into the store at once.
const AT_ONCE: usize = 5_000;

/// Writes so many reports, all taken, directly into a store.
pub async fn settle(store: &dyn Store, catalogue: &Catalogue, reports: usize) {
    let society = Society { slugs: catalogue.cultivars().iter().map(|c| c.slug.clone()).collect(), reports };
    let at = Timestamp::from_second(1_780_000_000).unwrap();
    for first in (0..reports).step_by(AT_ONCE) {
        let some = (first..reports.min(first + AT_ONCE)).map(|n| society.incoming(n)).collect();
        let here = store.import(&Contents { reports: some, ..Contents::default() }, at).await.unwrap();
        assert!(here.is_empty(), "{here:?}");
    }
}

struct Society {
    slugs: Vec<Slug>,
    reports: usize,
}

impl Society {
    /// A plant is drawn anew from its own number, whichever of its reports comes first.
    fn plant(&self, n: usize) -> Plant {
        let mut rng = ChaCha8Rng::seed_from_u64(n as u64);
        let named = rng.random_range(0..5) > 0;
        let slug = self.slugs[(rng.random_range(0.0..1.0_f64).powi(2) * self.slugs.len() as f64) as usize].clone();
        let name = if named { slug.to_string() } else { format!("seedling {}", rng.random_range(0..self.reports)) };
        let south = rng.random_range(0..10) == 0;
        let latitude = if south { rng.random_range(-45.0..-20.0) } else { rng.random_range(28.0..58.0) };
        Plant {
            id: PlantId(Uuid::from_u128((7 << 64) + n as u128)),
            owner: None,
            name_written: name,
            cultivar: named.then_some(slug),
            certainty: NameCertainty::Label,
            planted: Some(rng.random_range(1990..2015)),
            setting: None,
            culture: if rng.random_range(0..4) == 0 { Culture::Container(None) } else { Culture::Ground },
            place: Place {
                words: None,
                point: HeldPoint::new(latitude, rng.random_range(-120.0..150.0)).ok(),
                publish: [Publish::Grid, Publish::Coarse, Publish::AsPublished, Publish::Nowhere][rng.random_range(0..4)],
            },
            mother: None,
        }
    }

    fn incoming(&self, n: usize) -> Incoming {
        let mut rng = ChaCha8Rng::seed_from_u64((1 << 40) + n as u64);
        let plants = self.reports.div_ceil(WINTERS);
        let plant = self.plant(n % plants);
        let hemisphere = plant.place.hemisphere();
        let year = 2025 - i16::try_from(n / plants).unwrap();
        let winter = Winter::new(year, hemisphere).unwrap();
        let coldest = f64::from(rng.random_range(-240..20)) / 10.0;
        let (top, vitality) = match coldest + rng.random_range(-3.0..3.0) {
            c if c > -9.0 => (TopKilled::None, Vitality::Alive),
            c if c > -12.0 => (TopKilled::Tips, Vitality::Alive),
            c if c > -19.0 => (TopKilled::ToGround, Vitality::Alive),
            _ => (TopKilled::ToGround, Vitality::Dead),
        };
        let at = Timestamp::from_second(1_700_000_000 + i64::try_from(n).unwrap()).unwrap();
        let mut record = WinterRecord::new(winter, winter.verdict_day(), top, vitality, Cover::ALL[rng.random_range(0..3)]);
        record.stage = Some(Stage::Hard);
        record.coldest = Some(Coldest {
            celsius: Celsius::new(coldest).unwrap(),
            typed: format!("{coldest:.1}"),
            unit: TypedUnit::Celsius,
            thermometer: Thermometer::AtPlant,
        });
        let report = Report {
            id: ReportId(Uuid::from_u128(n as u128 + 1)),
            plant,
            reporter: None,
            record,
            version: 1,
            state: ReviewState::Accepted,
            flags: Vec::new(),
            sent: at,
            changed: at,
            credited: None,
        };
        let reporter = n % plants / (OF_REPORTER / WINTERS);
        Incoming { report, credited: Credited { recorded_by: format!("grower {reporter}"), reporter: Some(format!("r{reporter}")) } }
    }
}
