//! The difference between a grower's own thermometer and the station, by type of night.
//!
//! From pairs of minima of the same nights: offset = own − station, its mean, the spread between nights (standard deviation, n − 1), and a 90 %
//! interval of the mean by Student's t. Nights of different type are never pooled in silence: a frost hollow is colder on a clear still night
//! and not on a windy one. Assumes one thermometer, one place and independent nights.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::units::{Celsius, Interval, TemperatureDelta};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Type of a night: decides how places differ.
    pub enum NightType: "type of night" {
        /// Clear and calm: cold air lies still.
        ClearStill = "clear_still" => "clear and still",
        /// Windy: the air is mixed.
        Windy = "windy" => "windy",
        /// Cloudy and calm.
        Cloudy = "cloudy" => "cloudy",
    }
}

/// Fewest nights of a type for a spread.
pub const FEWEST: usize = 3;
/// Largest difference taken for real between two places of one garden and its station, K (an extreme valley inversion is about 10).
pub const LARGEST_OFFSET_K: f64 = 20.0;

/// The minima of one night at both places.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// At the station.
    pub station: Celsius,
    /// At the grower's thermometer.
    pub own: Celsius,
    /// Type of night; `None` where nobody noted it.
    pub night: Option<NightType>,
}

/// The offset of one type of night.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LocalOffset {
    /// Type of night; `None`: not noted.
    pub night: Option<NightType>,
    /// Nights.
    pub nights: usize,
    /// Mean of own − station.
    pub mean_k: TemperatureDelta,
    /// Standard deviation between nights; `None` with fewer than three.
    pub spread_k: Option<TemperatureDelta>,
    /// 90 % interval of the mean; `None` with fewer than three.
    pub interval_k: Option<Interval<TemperatureDelta>>,
}

/// Pairs that cannot be the same night.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "pair {index}: {own:.1} against {station:.1} differ by more than {LARGEST_OFFSET_K} K; are both the minimum of the same night, in the same units?"
)]
pub struct PairTooFarApart {
    /// Place in the list, from 1.
    pub index: usize,
    /// Own reading.
    pub own: Celsius,
    /// Station's.
    pub station: Celsius,
}

/// Offsets for each type of night that occurs, those not noted last.
pub fn offsets(pairs: &[Pair]) -> Result<Vec<LocalOffset>, PairTooFarApart> {
    if let Some((at, pair)) = pairs.iter().enumerate().find(|(_, pair)| (pair.own - pair.station).abs().kelvin() > LARGEST_OFFSET_K) {
        return Err(PairTooFarApart { index: at + 1, own: pair.own, station: pair.station });
    }
    let types = NightType::ALL.iter().copied().map(Some).chain([None]);
    Ok(types.filter_map(|night| offset_of(pairs, night)).collect())
}

/// Half the width of the 90 % interval of a mean offset from so many nights with this spread between them, K, by Student's t; `None` with
/// fewer than two.
pub fn half_width_k(nights: usize, spread_k: f64) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, nights as f64 - 1.0).ok()?.inverse_cdf(0.95);
    Some(t * spread_k / (nights as f64).sqrt())
}

fn offset_of(pairs: &[Pair], night: Option<NightType>) -> Option<LocalOffset> {
    let differences: Vec<f64> = pairs.iter().filter(|pair| pair.night == night).map(|pair| (pair.own - pair.station).kelvin()).collect();
    let n = differences.len();
    if n == 0 {
        return None;
    }
    let mean = differences.iter().sum::<f64>() / n as f64;
    let spread = (n >= FEWEST).then(|| (differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n as f64 - 1.0)).sqrt());
    let interval = spread.and_then(|spread| {
        let half = half_width_k(n, spread)?;
        Some(Interval { low: TemperatureDelta::literal(mean - half), high: TemperatureDelta::literal(mean + half) })
    });
    Some(LocalOffset {
        night,
        nights: n,
        mean_k: TemperatureDelta::literal(mean),
        spread_k: spread.map(TemperatureDelta::literal),
        interval_k: interval,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(station: f64, own: f64, night: NightType) -> Pair {
        Pair { station: Celsius::literal(station), own: Celsius::literal(own), night: Some(night) }
    }

    #[test]
    fn a_hollow_is_colder_on_still_nights_and_not_on_windy_ones() {
        let pairs: Vec<Pair> = (0..6)
            .flat_map(|i| {
                let t = -f64::from(i);
                [pair(t, t - 2.5 - 0.1 * f64::from(i % 2), NightType::ClearStill), pair(t, t + 0.1 * f64::from(i % 3), NightType::Windy)]
            })
            .collect();
        let found = offsets(&pairs).unwrap();
        assert_eq!(found.len(), 2);
        assert!((found[0].mean_k.kelvin() + 2.55).abs() < 1e-9);
        assert!((found[1].mean_k.kelvin() - 0.1).abs() < 1e-9);
    }

    /// Differences −1, −2, −3, −2: mean −2, sd 0.8164966, t₃(0.95) = 2.353363 (any table of Student's t), so ±0.960757.
    #[test]
    fn the_interval_of_the_mean_is_students() {
        let pairs = [-1.0, -2.0, -3.0, -2.0].map(|d| pair(0.0, d, NightType::ClearStill));
        let interval = offsets(&pairs).unwrap()[0].interval_k.unwrap();
        assert!((interval.high.kelvin() - (-2.0 + 0.960_757)).abs() < 1e-5);
    }

    #[test]
    fn a_pair_in_two_units_is_refused_by_its_place() {
        let pairs = [pair(-3.0, -4.0, NightType::Windy), pair(-3.0, 26.6, NightType::Windy)];
        assert_eq!(offsets(&pairs).unwrap_err().index, 2);
    }
}
