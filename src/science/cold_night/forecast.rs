//! How far a forecast minimum can be trusted, and the two published ways of making one's own.
//!
//! Error by lead: US city forecasts 2021–22, 167 cities (Bhavanasi et al., Saint Louis University; own arithmetic in `evidence/shelter.md` §15):
//! sd 2.8–2.9 °F at 12–24 h, 3.2 at 48 h; 4, 5.5, 6.5 °F at 3, 5, 7 days from a smaller set; a fifth more on freezing nights inland.
//! Own regression: `Tmin = a·T2 + b·Td2 + c` in two stages (FAO, Snyder & de Melo-Abreu 2005 ch. 5).

use statrs::distribution::{ContinuousCDF, Normal};

use crate::science::numeric::Gaussian;

/// K per °F.
const K_PER_F: f64 = 5.0 / 9.0;
/// (lead in hours, sd in °F) of the minimum.
pub const SD_BY_LEAD_F: [(f64, f64); 6] = [(12.0, 2.8), (24.0, 2.9), (48.0, 3.2), (72.0, 4.0), (120.0, 5.5), (168.0, 6.5)];
/// Factor on freezing nights away from the coast.
pub const INLAND_FREEZING: f64 = 1.2;

/// Factor near the sea: 1.9 against 1.6 K on freezing nights (`forecast_sd`, 3.35 °F at 12 h at maritime stations).
pub const COAST: f64 = 1.9 / 1.6;
/// Misses of a forecast are heavier in the tails than normal: ordinary nights and bad ones, as (share, spread against that of all nights). Fitted
/// to the histograms of 58,101 lows at 24 h (own fit by maximum likelihood, shares .18 to .24 and ratios 1.8 to 1.9 at 12 to 48 h, freezing nights
/// alike; misses of 10 °F and more 0.6 % against 0.5 % counted and 0.1 % of a normal one). COMPUTED.
pub const TAILS: [(f64, f64); 2] = [(0.8, 0.831), (0.2, 1.496)];

/// Standard deviation of the minimum about its forecast, K: straight between the published leads, flat beyond them.
pub fn sd_by_lead_k(lead_hours: f64, freezing_inland: bool) -> f64 {
    let [(first_lead, first_sd), ..] = SD_BY_LEAD_F;
    let (mut lead, mut sd) = (first_lead, first_sd);
    for (next_lead, next_sd) in SD_BY_LEAD_F {
        if lead_hours >= next_lead {
            (lead, sd) = (next_lead, next_sd);
        } else if lead_hours > lead {
            sd += (next_sd - sd) * (lead_hours - lead) / (next_lead - lead);
            break;
        }
    }
    sd * K_PER_F * if freezing_inland { INLAND_FREEZING } else { 1.0 }
}

/// Standard deviation of a normal error without bias, of which a share `hit` (0 < hit < 1) falls within ± `within`.
pub fn sd_from_hit_rate(within: f64, hit: f64) -> f64 {
    within / Normal::standard().inverse_cdf(f64::midpoint(1.0, hit))
}

/// One night of a grower's own log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Logged {
    /// Forecast, °C.
    pub forecast_c: f64,
    /// Own thermometer, °C.
    pub measured_c: f64,
}

/// Offset of a grower's own thermometer from a forecast feed, with the spread of one coming night, K.
///
/// Normal model: the offset before any night is 0 ± 1.5 K (DESIGN), a night scatters by `sd_k`. The spread holds both.
pub fn own_offset(log: &[Logged], sd_k: f64) -> Gaussian {
    const BEFORE_K: f64 = 1.5;
    if log.is_empty() {
        return Gaussian::new(0.0, sd_k);
    }
    let precision = 1.0 / BEFORE_K.powi(2) + log.len() as f64 / sd_k.powi(2);
    let sum: f64 = log.iter().map(|n| n.measured_c - n.forecast_c).sum();
    Gaussian::new(sum / sd_k.powi(2) / precision, (1.0 / precision + sd_k.powi(2)).sqrt())
}

/// The two-stage regression of the FAO manual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MinimumRegression {
    /// On the temperature two hours after sunset.
    pub a: f64,
    /// On the dew point then.
    pub b: f64,
    /// Constant, °C.
    pub c: f64,
    /// Spread of what is left, K, with n − 3 degrees of freedom.
    pub residual_sd_k: f64,
}

/// One clear, still night: temperature and dew point two hours after sunset, and the minimum, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrostNight {
    /// Temperature.
    pub evening_c: f64,
    /// Dew point.
    pub dew_point_c: f64,
    /// Lowest.
    pub minimum_c: f64,
}

/// A log that carries no line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a regression needs at least {needed} nights that differ from each other; there are {nights}")]
pub struct TooFewNights {
    /// Nights given.
    pub nights: usize,
    /// Nights needed.
    pub needed: usize,
}

impl MinimumRegression {
    /// Fits in two stages: the minimum on the evening, then what is left on the dew point. Not joint least squares: as published.
    pub fn fit(nights: &[FrostNight]) -> Result<Self, TooFewNights> {
        const NEEDED: usize = 4;
        let few = TooFewNights { nights: nights.len(), needed: NEEDED };
        if nights.len() < NEEDED {
            return Err(few);
        }
        let (a, c1) = line(nights.iter().map(|n| (n.evening_c, n.minimum_c))).ok_or(few)?;
        let left = |n: &FrostNight| n.minimum_c - (a * n.evening_c + c1);
        let (b, c2) = line(nights.iter().map(|n| (n.dew_point_c, left(n)))).ok_or(few)?;
        let sum: f64 = nights.iter().map(|n| (left(n) - b * n.dew_point_c - c2).powi(2)).sum();
        Ok(Self { a, b, c: c1 + c2, residual_sd_k: (sum / (nights.len() - 3) as f64).sqrt() })
    }

    /// Tonight's minimum, °C.
    pub fn predict_c(&self, evening_c: f64, dew_point_c: f64) -> f64 {
        self.a * evening_c + self.b * dew_point_c + self.c
    }
}

/// Ordinary least squares of y on x: (slope, intercept); `None` where x does not vary.
pub(super) fn line(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<(f64, f64)> {
    let n = points.clone().count() as f64;
    let (mx, my) = points.clone().fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let (sxx, sxy) = points.fold((0.0, 0.0), |(xx, xy), (x, y)| (xx + (x - mx).powi(2), xy + (x - mx) * (y - my)));
    (sxx > 1e-9).then(|| (sxy / sxx, my - sxy / sxx * mx))
}
