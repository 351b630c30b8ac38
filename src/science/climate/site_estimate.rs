//! What is known of a site's winters and summers without a daily record of its own: every figure with its standard error.
//!
//! A half-zone, a town and a remembered cold night are three sources of the same thing, [`SiteEstimate`]. The coldest night of one winter
//! then varies for two reasons, winters and not knowing their mean; both are normal and add in quadrature (a half-zone's mean is uniform in
//! its band instead).

use super::extreme_of_normal::ColdestOf;
use super::season::{Origin, Season, YEAR_DAYS};
use super::winter_minimum::WinterMinimum;
use super::zone::HalfZone;
use crate::units::{Celsius, Interval, TemperatureDelta};

/// Fall of the mean yearly minimum with height, K/m. COMPUTED from the stations behind the towns, pairs within 40 km: 5.8 K/km over 276 pairs
/// of long records, 2.2 K/km over 26,708 pairs of all stations, where cold air lies in valleys; between the two. Well below the 6.5 K/km of the
/// free air, as Blandford et al. 2008 (J. Appl. Meteorol. Climatol. 47) found for daily minima in Idaho.
pub const MINIMUM_LAPSE_K_PER_M: f64 = 0.004;
/// Fall of the mean of the warmest month with height, K/m: COMPUTED from the same pairs, 6.1 and 3.8 K/km.
pub const SUMMER_LAPSE_K_PER_M: f64 = 0.005;
/// Its standard error, K/m: half of what the two sets differ by.
const SUMMER_LAPSE_ERROR_K_PER_M: f64 = 0.0012;
/// Days by which the last frost is later, and the first earlier, each metre up: COMPUTED from the same pairs, 1.8 to 3.7 and 1.1 to 3.1 days
/// per 100 m.
pub const FROST_DAYS_PER_M: f64 = 0.024;
/// What a difference in height adds to the error of the yearly minimum, K, and of a frost date, days, where it is large; it is reached with
/// [`HEIGHT_SCALE_M`]. COMPUTED from the same pairs: the root mean square of what the lapse leaves grows from 2.1 K (10 days) without a
/// difference to 4.4 K (19 days) beyond 700 m, and as 1 − exp(−Δz/200 m) between.
const HEIGHT_ERROR_K: f64 = 3.8;
const HEIGHT_ERROR_DAYS: f64 = 16.0;
/// Scale of that growth, m.
const HEIGHT_SCALE_M: f64 = 200.0;
/// Growth of the error away from a town, K/√km: COMPUTED, root mean square difference of the estimates of neighbouring towns within 100 m of
/// height: 0.39, 0.59, 0.84, 1.08, 1.23 K at 2.5, 7.5, 15, 25 and 35 km.
const AWAY_ERROR_K_PER_ROOT_KM: f64 = 0.21;
/// Standard errors of a town's estimate: its spread between winters, K; the mean of its warmest month, K; its frost dates, days, north and
/// south of the equator. COMPUTED by leaving out each of 1,605 stations with long records when the table was made.
pub const SPREAD_ERROR_K: f64 = 0.56;
/// See [`SPREAD_ERROR_K`].
pub const WARMEST_MONTH_ERROR_K: f64 = 0.85;
/// See [`SPREAD_ERROR_K`].
pub const FROST_ERROR_DAYS: f64 = 8.5;
/// See [`SPREAD_ERROR_K`].
pub const FROST_ERROR_DAYS_SOUTH: f64 = 17.5;
/// Standard error of a spread that is taken from the kind of climate, K: DESIGN, about the spread of spreads within a kind.
const KIND_SPREAD_ERROR_K: f64 = 0.8;
/// Standard error of a temperature that a person remembers or reads off a garden thermometer, K: DESIGN, memory rounds to 5 °F or 2 °C and
/// thermometers differ by as much.
const REMEMBERED_ERROR_K: f64 = 1.5;

/// A figure with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimated<T> {
    /// Best guess.
    pub value: T,
    /// Standard error, K or days.
    pub error: f64,
}

/// How the true mean lies about its best guess.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// Normal.
    Normal,
    /// Anywhere in a band of √12 standard errors with equal chance.
    Uniform,
}

/// Where an estimate comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EstimateFrom {
    /// A half-zone.
    Zone,
    /// A town's first estimate.
    Town,
    /// The coldest night that somebody remembers.
    Remembered,
    /// Two of them put together.
    Both,
}

/// Median dates of the last and first frost of a year, day of the year 1..=365, with their standard errors in days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrostDays {
    /// Last frost of spring.
    pub last: Estimated<f64>,
    /// First frost of autumn.
    pub first: Estimated<f64>,
}

/// What is known of a site without a record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteEstimate {
    /// Mean of the coldest night of a winter.
    pub mean: Estimated<Celsius>,
    /// How the true mean lies about it.
    pub doubt: Doubt,
    /// Standard deviation of that night between winters.
    pub spread: Estimated<TemperatureDelta>,
    /// Mean of the warmest month, where known.
    pub warmest_month: Option<Estimated<Celsius>>,
    /// Frost dates, where frosts are a yearly event and known.
    pub frost: Option<FrostDays>,
    /// Where it comes from.
    pub from: EstimateFrom,
}

impl SiteEstimate {
    /// The spread between winters of a kind of climate, with its standard error.
    pub fn usual_spread(usual: TemperatureDelta) -> Estimated<TemperatureDelta> {
        Estimated { value: usual, error: KIND_SPREAD_ERROR_K }
    }

    /// From a half-zone and the usual spread of its kind of climate: the mean is anywhere in the band.
    pub fn of_zone(zone: HalfZone, spread: Estimated<TemperatureDelta>) -> Self {
        let band = zone.band();
        let width = band.high - band.low;
        // A uniform variable has variance width²/12.
        let mean = Estimated { value: band.low + width / 2.0, error: width.kelvin() / 12f64.sqrt() };
        Self { mean, doubt: Doubt::Uniform, spread, warmest_month: None, frost: None, from: EstimateFrom::Zone }
    }

    /// From “the coldest I remember in `winters` winters”: the coldest of n normal winters lies e(n) spreads below their mean and itself
    /// varies by s(n) spreads (expected value and standard deviation of the largest of n normal draws: Harter 1961, Biometrika 48, 151–165;
    /// Tippett 1925), so mean = coldest + e(n)·spread. Its error has three parts: chance, s(n)·spread; the spread not being known,
    /// e(n)·its error; and the memory or thermometer.
    pub fn of_coldest_remembered(coldest: Celsius, winters: RememberedWinters, spread: Estimated<TemperatureDelta>) -> Self {
        let ColdestOf { below_mean, sd } = ColdestOf::normal_winters(winters.0);
        let chance = sd * spread.value.kelvin();
        let error = chance.hypot(below_mean * spread.error).hypot(REMEMBERED_ERROR_K);
        let mean = Estimated { value: coldest + spread.value * below_mean, error };
        Self { mean, doubt: Doubt::Normal, spread, warmest_month: None, frost: None, from: EstimateFrom::Remembered }
    }

    /// The same site a height `metres` above (or below, negative).
    #[must_use]
    pub fn raised(self, metres: f64) -> Self {
        let grown = 1.0 - (-metres.abs() / HEIGHT_SCALE_M).exp();
        let days = |date: Estimated<f64>, later: f64| Estimated {
            value: (date.value + later * FROST_DAYS_PER_M * metres).clamp(1.0, YEAR_DAYS),
            error: date.error.hypot(HEIGHT_ERROR_DAYS * grown),
        };
        Self {
            mean: Estimated {
                value: lowered(self.mean.value, MINIMUM_LAPSE_K_PER_M * metres),
                error: self.mean.error.hypot(HEIGHT_ERROR_K * grown),
            },
            warmest_month: self.warmest_month.map(|t| Estimated {
                value: lowered(t.value, SUMMER_LAPSE_K_PER_M * metres),
                error: t.error.hypot(SUMMER_LAPSE_ERROR_K_PER_M * metres),
            }),
            frost: self.frost.map(|f| FrostDays { last: days(f.last, 1.0), first: days(f.first, -1.0) }),
            doubt: if metres == 0.0 { self.doubt } else { Doubt::Normal },
            ..self
        }
    }

    /// The same estimate for a point some kilometres away.
    #[must_use]
    pub fn away(self, km: f64) -> Self {
        let error = self.mean.error.hypot(AWAY_ERROR_K_PER_ROOT_KM * km.max(0.0).sqrt());
        Self { mean: Estimated { error, ..self.mean }, ..self }
    }

    /// Both estimates of one site together, as of independent sources: means weighted by 1/error² (what only one of them knows is kept).
    #[must_use]
    pub fn with(self, other: &Self) -> Self {
        let (a, b) = (self.mean.error.powi(-2), other.mean.error.powi(-2));
        let value = self.mean.value + (other.mean.value - self.mean.value) * (b / (a + b));
        let (c, d) = (self.spread.error.max(1e-6).powi(-2), other.spread.error.max(1e-6).powi(-2));
        let spread = self.spread.value + (other.spread.value - self.spread.value) * (d / (c + d));
        Self {
            mean: Estimated { value, error: (a + b).powf(-0.5) },
            doubt: Doubt::Normal,
            spread: Estimated { value: spread, error: self.spread.error.min(other.spread.error) },
            warmest_month: self.warmest_month.or(other.warmest_month),
            frost: self.frost.or(other.frost),
            from: EstimateFrom::Both,
        }
    }

    /// The coldest night of one winter, what is not known of the mean included.
    pub fn winter(&self) -> WinterMinimum {
        match self.doubt {
            Doubt::Normal => {
                WinterMinimum::Normal { mean: self.mean.value, spread: self.spread.value.hypot(TemperatureDelta::literal(self.mean.error)) }
            }
            Doubt::Uniform => {
                let half = TemperatureDelta::literal(self.mean.error * 12f64.sqrt() / 2.0);
                let mean = Interval { low: self.mean.value - half, high: self.mean.value + half };
                WinterMinimum::Band { mean, spread: self.spread.value }
            }
        }
    }

    /// The coldest night of one winter as winters vary, and apart from it what is not known of its mean, a standard error, K (0 where the first
    /// holds it, as a band does).
    pub fn winter_and_error(&self) -> (WinterMinimum, f64) {
        match self.doubt {
            Doubt::Normal => (WinterMinimum::Normal { mean: self.mean.value, spread: self.spread.value }, self.mean.error),
            Doubt::Uniform => (self.winter(), 0.0),
        }
    }

    /// What a record of a station `km` away and `higher_m` above a garden leaves open of its winters, a standard error, K.
    pub fn error_of_distance_k(km: f64, higher_m: f64) -> f64 {
        let height = HEIGHT_ERROR_K * (1.0 - (-higher_m.abs() / HEIGHT_SCALE_M).exp());
        (AWAY_ERROR_K_PER_ROOT_KM * km.max(0.0).sqrt()).hypot(height)
    }

    /// Share of the variance of one winter's coldest night that is not knowing the site, 0..=1; the rest are the winters themselves.
    pub fn share_not_known(&self) -> f64 {
        let (place, winters) = (self.mean.error.powi(2), self.spread.value.kelvin().powi(2));
        place / (place + winters)
    }

    /// Days between the median dates of last and first frost, across the new year where autumn comes before spring.
    pub fn frost_free_days(&self) -> Option<Estimated<f64>> {
        let frost = self.frost?;
        let days = frost.first.value - frost.last.value;
        Some(Estimated { value: if days < 0.0 { days + YEAR_DAYS } else { days }, error: frost.last.error.hypot(frost.first.error) })
    }

    /// The growing season, where both parts of it are known. Without a yearly frost it is the whole year.
    pub fn season(&self) -> Option<Season> {
        let warmest = self.warmest_month?;
        let days = self.frost_free_days().map_or(YEAR_DAYS, |d| d.value);
        Some(Season::bounded(days, warmest.value, Origin::Estimated, Origin::Estimated))
    }
}

/// `t` less `kelvin`, within what a temperature may be.
fn lowered(t: Celsius, kelvin: f64) -> Celsius {
    Celsius::literal((t.degrees() - kelvin).clamp(Celsius::MIN, Celsius::MAX))
}

/// How many winters somebody looks back over, 1 to 100.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RememberedWinters(u32);

impl RememberedWinters {
    /// Most winters accepted: more than a gardener's life.
    pub const MAX: u32 = 100;

    /// 1 to 100 winters.
    pub fn new(winters: u32) -> Result<Self, crate::units::OutOfRange> {
        crate::units::within("winters remembered", "winters", f64::from(winters), 1.0, f64::from(Self::MAX)).map(|_| Self(winters))
    }

    /// The number.
    pub const fn winters(self) -> u32 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn town(mean: f64, error: f64, spread: f64) -> SiteEstimate {
        SiteEstimate {
            mean: Estimated { value: Celsius::literal(mean), error },
            doubt: Doubt::Normal,
            spread: Estimated { value: TemperatureDelta::literal(spread), error: 0.56 },
            warmest_month: Some(Estimated { value: Celsius::literal(20.0), error: 0.85 }),
            frost: Some(FrostDays { last: Estimated { value: 100.0, error: 8.5 }, first: Estimated { value: 300.0, error: 8.5 } }),
            from: EstimateFrom::Town,
        }
    }

    #[test]
    fn a_zone_is_the_special_case_of_a_site_known_to_lie_in_its_band() {
        let zone: HalfZone = "7a".parse().unwrap();
        let spread = TemperatureDelta::literal(3.0);
        let estimate = SiteEstimate::of_zone(zone, Estimated { value: spread, error: 0.5 });
        let (WinterMinimum::Band { mean, spread: s }, band) = (estimate.winter(), zone.band()) else { panic!("a band") };
        assert!((mean.low - band.low).kelvin().abs() < 1e-9 && (mean.high - band.high).kelvin().abs() < 1e-9 && s == spread);
        // The same mean and standard deviation as a normal doubt of that size.
        let normal = SiteEstimate { doubt: Doubt::Normal, ..estimate };
        assert!((normal.winter().sd().kelvin() - estimate.winter().sd().kelvin()).abs() < 1e-9);
    }

    // 12 K/km would be the sum of nothing: 900 m up at 4 K/km is 3.6 K, and the doubt grows by 3.8·(1 − e^−4.5) = 3.76 K in quadrature.
    #[test]
    fn a_garden_far_above_its_town_is_colder_and_much_less_sure() {
        let up = town(-12.0, 1.5, 3.0).raised(900.0);
        assert!((up.mean.value.degrees() + 15.6).abs() < 1e-9);
        assert!((up.mean.error - 1.5f64.hypot(3.8 * (1.0 - (-4.5f64).exp()))).abs() < 1e-9);
        assert!((up.frost_free_days().unwrap().value - (200.0 - 2.0 * 0.024 * 900.0)).abs() < 1e-9);
        assert!((up.warmest_month.unwrap().value.degrees() - 15.5).abs() < 1e-9);
    }

    // With e(10) = 1.53875 and s(10) = 0.58681 (Harter 1961; Tippett 1925): −15 in ten winters of spread 3 is a mean of −10.38.
    #[test]
    fn the_coldest_of_ten_winters_becomes_their_mean_with_its_doubt() {
        let spread = Estimated { value: TemperatureDelta::literal(3.0), error: 0.6 };
        let estimate = SiteEstimate::of_coldest_remembered(Celsius::literal(-15.0), RememberedWinters::new(10).unwrap(), spread);
        assert!((estimate.mean.value.degrees() - (-15.0 + 1.538_75 * 3.0)).abs() < 1e-3);
        let error = (3.0f64 * 0.586_81).hypot(1.538_75 * 0.6).hypot(1.5);
        assert!((estimate.mean.error - error).abs() < 1e-3);
        // One winter says as much as one winter: its own spread is the doubt.
        let one = SiteEstimate::of_coldest_remembered(Celsius::literal(-10.0), RememberedWinters::new(1).unwrap(), spread);
        assert!((one.mean.value.degrees() + 10.0).abs() < 1e-6 && one.mean.error > 3.0);
        assert!(RememberedWinters::new(0).is_err() && RememberedWinters::new(101).is_err());
    }

    proptest! {
        #[test]
        fn two_sources_are_surer_than_either_and_lie_between(
            m1 in -30.0..5.0f64, m2 in -30.0..5.0f64, e1 in 0.5..5.0f64, e2 in 0.5..5.0f64
        ) {
            let both = town(m1, e1, 3.0).with(&town(m2, e2, 3.0));
            prop_assert!(both.mean.error < e1.min(e2));
            let value = both.mean.value.degrees();
            prop_assert!(value >= m1.min(m2) - 1e-9 && value <= m1.max(m2) + 1e-9);
        }

        #[test]
        fn nothing_gets_surer_by_being_carried_elsewhere(metres in -2000.0..2000.0f64, km in 0.0..100.0f64) {
            let here = town(-10.0, 1.5, 3.0);
            let there = here.raised(metres).away(km);
            prop_assert!(there.mean.error >= here.mean.error);
            prop_assert!(there.share_not_known() >= here.share_not_known());
            prop_assert!((metres > 0.0) == (there.mean.value < here.mean.value) || metres == 0.0);
        }
    }
}
