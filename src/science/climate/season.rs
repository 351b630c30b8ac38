//! The growing season where no daily record is at hand: frost-free days and the warmest month, given or assumed, and a sine year through them.
//!
//! The daily mean follows T(d) = mean + amplitude·cos(2π(d − d₀)/365) with the warmest month's mean at its crest d₀ and
//! [`Season::edge_mean_c`] at the median dates of last and first frost, which lie half the frost-free season either side of the crest.

use crate::science::climate::kind::{ClimateKind, Summer};
use crate::units::{Celsius, OutOfRange, within};

/// Days in a year of the sine model.
pub const YEAR_DAYS: f64 = 365.0;
/// Daily mean at the median dates of last and first 0 °C frost where the warmest month has 19 °C, °C, and its rise per K of that month:
/// hot summers go with wide daily ranges, so that nights still freeze when days are warm. COMPUTED from the daily records: Seattle-Tacoma
/// (warmest month 19.0 °C) 8, Klein-Altendorf (19.2 °C) 9.8, Champion (23.8 °C) 14 °C; the slope is a little flatter than theirs (DESIGN).
const EDGE_MEAN_AT_19_C: f64 = 8.9;
const EDGE_MEAN_RISE: f64 = 0.75;
/// Day of the year of the crest on the northern half, days after 1 January: about 22 July. COMMON_PRACTICE: warmest a month after the solstice.
pub const CREST_DAY_NORTH: f64 = 202.0;

/// Where a number of the season came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// The reader gave it.
    Given,
    /// Assumed from zone and kind of climate; shown as such.
    Assumed,
    /// Estimated for a town, with a standard error.
    Estimated,
    /// Computed from a daily record.
    Recorded,
}

/// Length and warmth of the growing season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Season {
    frost_free_days: f64,
    warmest_month: Celsius,
    /// Where the length came from.
    pub length_origin: Origin,
    /// Where the warmth came from.
    pub warmth_origin: Origin,
}

/// Fewest frost-free days accepted: none survive less as a fig country, but the answer is then simply "no crop".
const FEWEST_DAYS: f64 = 0.0;
/// Slope and level of the assumed length, days per K and days: COMPUTED, least squares through the medians and mean winter minima of
/// Seattle-Tacoma (244 d, −7.6 °C), Klein-Altendorf (190 d, −12.2 °C), USC00010655 (212 d, −12.2 °C), Champion (140 d, −27.3 °C) and Fort
/// Collins (141 d, −27.5 °C).
const ASSUMED_DAYS_PER_K: f64 = 4.7;
const ASSUMED_DAYS_AT_MINUS_15: f64 = 196.0;
/// Rise of the warmest month of warm summers per K of the mean winter minimum: COMPUTED from USC00010655 (26.0 °C at −12.2 °C) and Champion
/// (23.6 °C at −27.3 °C). Cool summers show none.
const WARM_SUMMER_RISE: f64 = 0.16;
/// Inland places milder than any station here: towards 24 °C, by 2 K over the 5.5 K of a zone. Source: DESIGN; mild winters go with sea air.
const WARM_MILD_C: f64 = 24.0;
const SEA_AIR_FALL: f64 = 0.36;

impl Season {
    /// Coolest and warmest mean of the warmest month accepted, °C: from sub-polar coasts to the hottest deserts.
    pub const WARMEST_MONTH_C: (f64, f64) = (0.0, 42.0);

    /// A season from its frost-free days (0..=365) and the mean of its warmest month (0..=42 °C).
    pub fn new(frost_free_days: f64, warmest_month: Celsius, length_origin: Origin, warmth_origin: Origin) -> Result<Self, OutOfRange> {
        within("frost-free season", "days", frost_free_days, FEWEST_DAYS, YEAR_DAYS)?;
        within("mean of the warmest month", "°C", warmest_month.degrees(), Self::WARMEST_MONTH_C.0, Self::WARMEST_MONTH_C.1)?;
        Ok(Self { frost_free_days, warmest_month, length_origin, warmth_origin })
    }

    /// As [`Self::new`] for numbers that a caller has already checked or computed: pulled to the nearest that is accepted.
    pub fn bounded(frost_free_days: f64, warmest_month: Celsius, length_origin: Origin, warmth_origin: Origin) -> Self {
        let (low, high) = Self::WARMEST_MONTH_C;
        Self {
            frost_free_days: frost_free_days.clamp(FEWEST_DAYS, YEAR_DAYS),
            warmest_month: warmest_month.max(Celsius::literal(low)).min(Celsius::literal(high)),
            length_origin,
            warmth_origin,
        }
    }

    /// Frost-free days assumed for a mean yearly minimum: a line through three stations, within 60..=365 days.
    pub fn assumed_days(mean_minimum: Celsius) -> f64 {
        (ASSUMED_DAYS_AT_MINUS_15 + ASSUMED_DAYS_PER_K * (mean_minimum.degrees() + 15.0)).clamp(60.0, YEAR_DAYS).round()
    }

    /// Mean of the warmest month assumed for a kind of climate and of summer, at a mean winter minimum: COMPUTED from daily records, and for
    /// warm coasts, of which there is none here, from the file of towns (mean of six, among them Norfolk, Atlantic City, Venice, Rimini, Busan).
    pub fn assumed_warmth(kind: ClimateKind, summer: Summer, mean_minimum: Celsius) -> Celsius {
        let warm = |at: f64, minimum: f64| at + WARM_SUMMER_RISE * (mean_minimum.degrees() - minimum);
        Celsius::literal(match (kind, summer) {
            // Seattle-Tacoma.
            (ClimateKind::Coast, Summer::Cool) => 18.5,
            (ClimateKind::Coast, Summer::Warm) => 25.7,
            // Klein-Altendorf.
            (ClimateKind::Inland, Summer::Cool) => 18.7,
            (ClimateKind::Inland, Summer::Warm) => {
                if mean_minimum.degrees() < -12.2 {
                    warm(26.0, -12.2).max(21.0)
                } else {
                    (26.0 - SEA_AIR_FALL * (mean_minimum.degrees() + 12.2)).max(WARM_MILD_C)
                }
            }
            // Fort Collins.
            (ClimateKind::Continental, Summer::Cool) => 21.3,
            (ClimateKind::Continental, Summer::Warm) => warm(23.6, -27.3).clamp(21.3, 28.0),
        })
    }

    /// Days between the median dates of last and first frost.
    pub fn frost_free_days(&self) -> f64 {
        self.frost_free_days
    }

    /// Mean temperature of the warmest month.
    pub fn warmest_month(&self) -> Celsius {
        self.warmest_month
    }

    /// Daily mean at the median dates of last and first frost, °C; never above the warmest month.
    pub fn edge_mean_c(&self) -> f64 {
        let warmest = self.warmest_month.degrees();
        (EDGE_MEAN_AT_19_C + EDGE_MEAN_RISE * (warmest - 19.0)).min(warmest)
    }

    /// Daily mean `days` after (or before, negative) the crest of the year, °C.
    pub fn daily_mean_c(&self, days: f64) -> f64 {
        let warmest = self.warmest_month.degrees();
        let edge = self.edge_mean_c();
        let half = std::f64::consts::PI * self.frost_free_days.max(1.0) / YEAR_DAYS;
        let amplitude = (warmest - edge) / (1.0 - half.cos());
        warmest - amplitude * (1.0 - (2.0 * std::f64::consts::PI * days / YEAR_DAYS).cos())
    }
}
