//! How far a forecast minimum can be trusted, and what a grower's own thermometer adds.
//!
//! Error by lead: US city forecasts 2021–22, 167 cities (Bhavanasi et al., Saint Louis University; own arithmetic in `evidence/shelter.md` §15):
//! sd 2.8–2.9 °F at 12–24 h, 3.2 at 48 h; 4, 5.5, 6.5 °F at 3, 5, 7 days from a smaller set; a fifth more on freezing nights inland.

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

#[cfg(test)]
mod tests {
    use super::*;

    const NIGHT: Logged = Logged { forecast_c: -4.0, measured_c: -6.0 };

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-12, "{a} against {b}");
    }

    // The normal model with a known spread, any textbook: precisions add, means are weighed by them.
    #[test]
    fn one_night_as_uncertain_as_the_offset_moves_it_half_the_way() {
        let after = own_offset(&[NIGHT], 1.5);
        near(after.mean, -1.0);
        near(after.variance(), 1.5 * 1.5 / 2.0 + 1.5 * 1.5);
        let after = own_offset(&[NIGHT, Logged { measured_c: -1.0, ..NIGHT }, NIGHT], 3.0);
        // Differences −2, +3 and −2 K: precision 1/2.25 + 3/9 = 7/9, sum of differences −1 K in variances of 9.
        near(after.mean, -1.0 / 7.0);
        near(after.variance(), 9.0 / 7.0 + 9.0);
    }

    #[test]
    fn no_night_leaves_the_feed_as_it_is_and_many_give_their_mean() {
        assert_eq!(own_offset(&[], 1.2), Gaussian::new(0.0, 1.2));
        let many = own_offset(&vec![NIGHT; 10_000], 1.2);
        assert!((many.mean + 2.0).abs() < 1e-3 && (many.sd - 1.2).abs() < 1e-3, "{many:?}");
    }

    // The published leads themselves, halfway between two of them, and flat beyond both ends.
    #[test]
    fn a_forecast_errs_as_published_at_each_lead_and_straight_between() {
        for (lead, sd_f) in SD_BY_LEAD_F {
            near(sd_by_lead_k(lead, false), sd_f / 1.8);
            near(sd_by_lead_k(lead, true), sd_f / 1.8 * 1.2);
        }
        near(sd_by_lead_k(18.0, false), 2.85 / 1.8);
        near(sd_by_lead_k(96.0, false), 4.75 / 1.8);
        near(sd_by_lead_k(0.0, false), 2.8 / 1.8);
        near(sd_by_lead_k(400.0, false), 6.5 / 1.8);
    }
}
