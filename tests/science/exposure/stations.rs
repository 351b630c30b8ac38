//! Rows of the table of priors that were computed from daily records, computed again; and the trial of the hardening share.
//!
//! Records: Seattle-Tacoma, Klein-Altendorf, Champion, Fort Collins and USC00010655 (`cases/climate`, sources in its CONVENTIONS).

use jiff::civil::Date;
use winterfig_core::catalogue::prior_table;
use winterfig_core::science::climate::equivalent::{Counting, DailyMeans, PlantDay, REFERENCE_NIGHTS, course, of_winter};
use winterfig_core::science::climate::kind::ClimateKind;
use winterfig_core::science::climate::record::{DailyRecord, Day};
use winterfig_core::science::climate::winters::{Hemisphere, winters};
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::hardiness::hardening::HardeningModel;
use winterfig_core::units::Celsius;

use crate::cases::case;

pub const STATIONS: [(&str, ClimateKind); 5] = [
    ("seattle_tacoma_1948_2017.csv", ClimateKind::Coast),
    ("klein_altendorf_1998_2010.csv", ClimateKind::Inland),
    ("usc00010655_2003_2024.csv", ClimateKind::Inland),
    ("champion_nebraska_1982_2018.csv", ClimateKind::Continental),
    ("fort_collins_co_1900_1999.csv", ClimateKind::Continental),
];

/// The record as it stands in its file, unscreened, so that what is rejected elsewhere moves nothing here.
pub fn record(name: &str) -> Option<DailyRecord> {
    let text = case(&format!("climate/{name}"))?;
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let mut found: Vec<(Date, Day)> = Vec::new();
    for row in rows.deserialize::<(String, Option<f64>, Option<f64>)>() {
        let (date, minimum, maximum) = row.unwrap();
        let celsius = |c: Option<f64>| c.map(Celsius::literal);
        found.push((date.parse().unwrap(), Day { minimum: celsius(minimum), maximum: celsius(maximum) }));
    }
    let first = found[0].0;
    let mut days = vec![Day::default(); found.last().unwrap().0.since(first).unwrap().get_days() as usize + 1];
    for (date, day) in found {
        days[date.since(first).unwrap().get_days() as usize] = day;
    }
    DailyRecord::of_days(first, days, Some(45.0))
}

fn class(number: u8) -> HardinessClass {
    HardinessClass::new(number).unwrap()
}

/// Days of every used winter for a class.
fn courses(record: &DailyRecord, of: HardinessClass) -> Vec<Vec<PlantDay>> {
    let means = DailyMeans::of(record);
    winters(record, Hemisphere::North)
        .iter()
        .filter(|w| w.used)
        .filter_map(|w| course(record, &means, Hemisphere::North, w.winter, of))
        .collect()
}

fn coldest(days: &[PlantDay]) -> (usize, f64) {
    let known = days.iter().enumerate().filter_map(|(i, d)| Some((i, d.minimum?.degrees())));
    known.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn sd(values: &[f64]) -> f64 {
    let m = mean(values);
    (values.iter().map(|v| (v - m).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

const PLAIN: Counting = Counting { share: 0.5, per_doubling_k: 0.0, most_gain_k: f64::INFINITY };

/// Coldest night less equivalent minimum of every winter, K.
fn deficits(courses: &[Vec<PlantDay>], counting: &Counting) -> Vec<f64> {
    courses.iter().map(|days| coldest(days).1 - of_winter(days, counting).unwrap().degrees()).collect()
}

#[test]
fn the_reference_hardiness_is_that_of_the_coldest_nights_of_the_inland_station() {
    let Some(record) = record("usc00010655_2003_2024.csv") else { return };
    for number in 1..=5 {
        let nights: Vec<f64> = courses(&record, class(number)).iter().map(|days| days[coldest(days).0].hardiness.degrees()).collect();
        let shipped = HardeningModel::fig_reference(class(number)).degrees();
        assert!((mean(&nights) - shipped).abs() < 0.03, "class {number}: {} computed, {shipped} shipped", mean(&nights));
    }
    // Nights near the lowest: with κ = 1 K the equivalent moves by the doublings themselves.
    let of = courses(&record, class(3));
    let counted = Counting { per_doubling_k: 1.0, ..PLAIN };
    let doublings: Vec<f64> = of.iter().map(|d| (of_winter(d, &PLAIN).unwrap() - of_winter(d, &counted).unwrap()).kelvin()).collect();
    assert!(mean(&doublings).abs() < 0.06, "{} doublings beyond {REFERENCE_NIGHTS}", mean(&doublings));
}

#[test]
fn the_starting_counting_is_that_of_the_table_of_priors() {
    let priors = prior_table::priors().unwrap();
    assert_eq!(Counting::STARTING.share, priors.hardening_share.mean);
    assert_eq!(Counting::STARTING.per_doubling_k, priors.repeat_nights.mean);
}

#[test]
fn deficits_and_spells_of_the_kinds_of_climate_are_those_of_their_stations() {
    let priors = prior_table::priors().unwrap();
    for kind in [ClimateKind::Coast, ClimateKind::Inland, ClimateKind::Continental] {
        let records: Option<Vec<DailyRecord>> = STATIONS.iter().filter(|s| s.1 == kind).map(|s| record(s.0)).collect();
        let Some(records) = records else { return };
        let by_station: Vec<_> = records.iter().map(|r| courses(r, class(3))).collect();
        let all: Vec<Vec<PlantDay>> = by_station.iter().flatten().cloned().collect();
        let prior = priors.climate(kind);
        let found = deficits(&all, &Counting::STARTING);
        // What hardening_share and repeat_nights leave open, and how far the stations lie apart.
        let at = |share| mean(&deficits(&all, &Counting { share, ..Counting::STARTING }));
        let open_share = priors.hardening_share.sd * (at(1.0) - at(0.0));
        let counted = Counting { per_doubling_k: 1.0, ..PLAIN };
        let doublings: Vec<f64> = all.iter().map(|d| (of_winter(d, &PLAIN).unwrap() - of_winter(d, &counted).unwrap()).kelvin()).collect();
        let open_nights = priors.repeat_nights.sd * mean(&doublings);
        let of_stations: Vec<f64> = by_station.iter().map(|c| mean(&deficits(c, &Counting::STARTING))).collect();
        let apart = if of_stations.len() > 1 { sd(&of_stations) } else { 0.0 };
        let doubt = open_share.hypot(open_nights).hypot(apart);
        let spread = sd(&found).hypot(doubt);
        println!("{kind}: deficit {:.2} ± {spread:.2}, of which doubt {doubt:.2}", mean(&found));
        assert!((mean(&found) - prior.deficit.mean).abs() < 0.03, "{kind}: {} for {:?}", mean(&found), prior.deficit);
        assert!((spread - prior.deficit.sd).abs() < 0.03, "{kind}: {spread} for {:?}", prior.deficit);
        assert!((doubt - prior.deficit_doubt_k).abs() < 0.03, "{kind}: {doubt} for {}", prior.deficit_doubt_k);
        let (minima, maxima) = spell(&records, &by_station);
        println!("{kind}: minima {minima:.1?} maxima {maxima:.1?}");
        for day in 0..7 {
            assert!((minima[day] - prior.spell_minima_k[day]).abs() < 0.06, "{kind}: {minima:?}");
            assert!((maxima[day] - prior.spell_maxima_k[day]).abs() < 0.06, "{kind}: {maxima:?}");
        }
    }
}

/// Mean daily minima and maxima above the coldest night of each winter, over the week that ends with it.
fn spell(records: &[DailyRecord], by_station: &[Vec<Vec<PlantDay>>]) -> ([f64; 7], [f64; 7]) {
    let mut sums = [[(0.0, 0.0); 7]; 2];
    for (record, courses) in records.iter().zip(by_station) {
        for days in courses {
            let (place, lowest) = coldest(days);
            for back in 0..7 {
                let Some(day) = days.get(place + back - 6).and_then(|d| record.index_of(d.date)).map(|i| record.as_slice()[i]) else {
                    continue;
                };
                for (sum, value) in sums.iter_mut().zip([day.minimum, day.maximum]) {
                    if let Some(value) = value {
                        sum[back].0 += value.degrees() - lowest;
                        sum[back].1 += 1.0;
                    }
                }
            }
        }
    }
    let [minima, maxima] = sums.map(|of| of.map(|(sum, n)| sum / n));
    (minima, maxima)
}

/// The trial written down with the plan of this model: coldest nights, and equivalent less coldest night for class 4 at λ = 0, .3, .5, 1,
/// without the bound on gains and without the count of nights.
#[test]
fn the_trial_of_the_hardening_share_comes_out_again() {
    let trial = [
        ("usc00010655_2003_2024.csv", -12.3, [0.0, -0.1, -0.3, -1.0]),
        ("seattle_tacoma_1948_2017.csv", -7.6, [0.0, 0.6, 0.9, 1.4]),
        ("champion_nebraska_1982_2018.csv", -27.3, [0.0, 1.5, 2.4, 4.8]),
        ("fort_collins_co_1900_1999.csv", -27.5, [0.0, 1.4, 2.4, 4.7]),
    ];
    for (name, lowest, wanted) in trial {
        let Some(record) = record(name) else { return };
        let of = courses(&record, class(4));
        let minima: Vec<f64> = of.iter().map(|d| coldest(d).1).collect();
        assert!((mean(&minima) - lowest).abs() < 0.1, "{name}: {}", mean(&minima));
        for (share, wanted) in [0.0, 0.3, 0.5, 1.0].into_iter().zip(wanted) {
            let found = -mean(&deficits(&of, &Counting { share, ..PLAIN }));
            assert!((found - wanted).abs() < 0.16, "{name} at {share}: {found:.2} for {wanted}");
        }
    }
}
