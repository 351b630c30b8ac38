//! Spells of cold, the cost of heating, and periods.

use winterfig_core::science::climate::periods::Period;
use winterfig_core::science::climate::site_climate::{Question, SiteClimate};
use winterfig_core::science::climate::spells::{HeatedShelter, SpellQuestion};
use winterfig_core::units::Celsius;

use super::{STATIONS, answering, read, text};

/// Counted anew by a short program in Python 3 (standard library) from the same files and the winters of the reference: a loop over the days of
/// each winter, `t < threshold`, a counter that any other night sets back to 0, quantiles by linear interpolation. By threshold: nights a winter
/// and longest run of a winter (10, 50, 90 %), runs of a week or more in all winters, the longest run of all and its first night, median first
/// and last night, winters without. The medians 12, 4 and 0 below 28, 25 and 20 °F at Seattle-Tacoma are also those of an independent trial.
#[test]
fn spells_of_three_stations_are_those_counted_independently() {
    type Counted = (f64, [f64; 3], [f64; 3], usize, (usize, &'static str), (&'static str, &'static str), usize);
    let expected: [[Counted; 4]; 3] = [
        [
            (0.0, [11.0, 22.0, 43.0], [4.0, 6.0, 12.2], 43, (21, "1949-01-18"), ("11-19", "03-05"), 0),
            (-2.2, [4.0, 12.0, 22.0], [2.0, 4.0, 8.0], 21, (12, "1949-01-19"), ("12-04", "02-15"), 2),
            (-3.9, [0.0, 4.0, 12.0], [0.0, 3.0, 7.0], 9, (11, "1950-01-24"), ("12-19", "01-30"), 16),
            (-6.7, [0.0, 0.0, 6.0], [0.0, 0.0, 4.2], 2, (8, "1950-01-27"), ("12-23", "01-12"), 36),
        ],
        [
            (0.0, [166.0, 172.5, 187.5], [60.5, 100.0, 130.0], 147, (142, "1995-11-18"), ("09-28", "05-06"), 0),
            (-2.2, [138.0, 147.5, 162.5], [37.0, 57.0, 89.5], 169, (101, "2002-11-30"), ("10-09", "04-28"), 0),
            (-3.9, [108.5, 125.0, 142.5], [21.5, 34.0, 58.0], 180, (85, "2007-12-06"), ("10-17", "04-17"), 0),
            (-6.7, [67.0, 92.0, 102.5], [11.5, 18.5, 26.0], 139, (31, "2006-01-27"), ("10-26", "04-06"), 0),
        ],
        [
            (0.0, [43.0, 68.0, 83.0], [6.0, 13.0, 19.0], 32, (22, "2005-02-14"), ("11-02", "04-17"), 0),
            (-2.2, [16.0, 38.0, 53.0], [6.0, 8.0, 14.0], 12, (18, "2008-12-26"), ("11-10", "03-23"), 0),
            (-3.9, [7.0, 21.0, 36.0], [4.0, 7.0, 12.0], 7, (13, "2003-02-10"), ("11-22", "02-25"), 0),
            (-6.7, [1.0, 8.0, 13.0], [1.0, 3.0, 7.0], 4, (11, "2006-01-23"), ("12-17", "02-19"), 1),
        ],
    ];
    for ((_, file), expected) in STATIONS.iter().zip(expected) {
        let Some(source) = text(&format!("{file}.csv")) else { return };
        let spells = SiteClimate::of(&read(&source).unwrap()).unwrap().spells.unwrap();
        for (found, (threshold, nights, longest_run, weeks, (longest, since), (first, last), without)) in
            spells.by_threshold.iter().zip(expected)
        {
            assert_eq!(found.threshold.degrees(), threshold);
            for (quantiles, expected) in [(found.nights, nights), (found.longest_run, longest_run)] {
                for (got, expected) in [quantiles.p10, quantiles.p50, quantiles.p90].into_iter().zip(expected) {
                    assert!((got - expected).abs() < 1e-9, "{file} {threshold}: {got} against {expected}");
                }
            }
            assert_eq!(
                spells.weeks_or_more.iter().filter(|spell| spell.threshold_c == found.threshold).count(),
                weeks,
                "{file} {threshold}"
            );
            let run = found.longest.unwrap();
            assert_eq!((run.nights, run.first.to_string().as_str()), (longest, since), "{file} {threshold}");
            let date = |day| serde_json::to_value(day).unwrap();
            assert_eq!(date(found.first_night.unwrap().p50), first, "{file} {threshold}");
            assert_eq!(date(found.last_night.unwrap().p50), last, "{file} {threshold}");
            assert_eq!(found.winters_without, without);
        }
    }
}

/// A shelter of 120 W/K held at 2 °C at Klein-Altendorf: the same in Python, the day's sine below 2 °C summed at 1,000 points.
#[test]
fn heating_a_shelter_costs_what_a_numerical_integration_finds() {
    let Some(source) = text("klein_altendorf_1998_2010.csv") else { return };
    let shelter = HeatedShelter::new(Celsius::new(2.0).unwrap(), 120.0).unwrap();
    let spells = SpellQuestion { shelter: Some(shelter), ..SpellQuestion::default() };
    let climate = answering(&read(&source).unwrap(), &Question { spells, periods: Vec::new() }).unwrap();
    let heating = climate.spells.unwrap().heating.unwrap();
    for (quantiles, expected, tolerance) in [
        (heating.energy_kwh, [222.38, 498.25, 708.73], 0.1),
        (heating.nights, [80.0, 94.0, 115.0], 1e-9),
        (heating.power_w, [1080.0, 1680.0, 2280.0], 1e-6),
        (heating.design_spell.energy_kwh, [60.823, 113.594, 188.383], 0.01),
    ] {
        for (got, expected) in [quantiles.p10, quantiles.p50, quantiles.p90].into_iter().zip(expected) {
            assert!((got - expected).abs() < tolerance, "{got} against {expected}");
        }
    }
    assert_eq!(heating.design_spell.worst_first.to_string(), "2009-01-05");
    assert!((heating.design_spell.worst_energy_kwh - 209.866).abs() < 0.01);
}

/// Two periods of one record against the record cut by hand.
#[test]
fn a_period_of_a_record_is_the_record_cut_to_it() {
    let Some(source) = text("seattle_tacoma_1948_2017.csv") else { return };
    let periods: Vec<Period> = ["1951-1980", "1988-2017"].map(|text| text.parse().unwrap()).into();
    let whole = read(&source).unwrap();
    let climate = answering(&whole, &Question { periods, ..Question::default() }).unwrap();
    let found = climate.periods.unwrap();
    for (period, (from, to)) in found.periods.iter().zip([("1950-07-01", "1980-06-30"), ("1987-07-01", "2017-06-30")]) {
        let header = source.lines().next().unwrap();
        let is_within = |line: &&str| (from..=to).contains(&&line.trim_matches('"')[..10]);
        let cut: Vec<&str> = std::iter::once(header).chain(source.lines().skip(1).filter(is_within)).collect();
        let cut = SiteClimate::of(&read(&cut.join("\n")).unwrap()).unwrap();
        assert_eq!(period.yearly_minimum.return_levels, cut.yearly_minimum.return_levels);
        assert_eq!((&period.yearly_minimum.half_zone, &period.spells), (&cut.yearly_minimum.half_zone, &cut.spells.unwrap()));
    }
    // Reference: the last 30 winters have a mean of −6.351853 °C, half-zone 9a.
    assert!((found.periods[1].yearly_minimum.mean_c + 6.351_853).abs() < 1e-5);
    assert_eq!(found.periods[1].yearly_minimum.half_zone.as_deref(), Some("9a"));
    assert!(found.difference.unwrap().mean_k > 0.0);
    let none = Question { periods: vec!["1901-1920".parse().unwrap()], ..Question::default() };
    let error = answering(&whole, &none).unwrap_err();
    assert!(error.to_string().contains("1901–1920") && error.to_string().contains("1949 to 2017"), "{error}");
}
