//! Places to carry a plant to, known by their lowest temperature against the outside: `inside = a + b·outside`.
//!
//! Two readings on different nights fix the line; more show its spread. With one reading, or none, the kind of place gives it: a store keeps a share f
//! of its distance to the house beside it, `inside = f·house + (1 − f)·outside`, f about 0.3 attached, 0.15 detached (growers' paired readings,
//! `evidence/shelter.md` §12, all single growers' posts), house 20 °C.

use crate::science::numeric::Gaussian;
use crate::units::within;
use crate::vocabulary::vocabulary;

/// Temperature of the house beside a store, °C: 68 °F as assumed with the readings.
pub const HOUSE_C: f64 = 20.0;
/// Spread of one night about a place's own line when it cannot be seen from the readings, K. DESIGN.
pub const NIGHT_SD_K: f64 = 1.2;

vocabulary! {
    /// Kinds of unheated place with a shipped share of the house's warmth.
    pub enum StoreKind: "kind of place" {
        /// Garage on the house.
        Attached = "attached" => "garage or shed on the house",
        /// Stands alone.
        Detached = "detached" => "garage or shed on its own",
        /// Below the house.
        Cellar = "cellar" => "cellar under the house",
        /// Glass or film without heat.
        UnheatedHouse = "unheated_house" => "unheated greenhouse or tunnel",
    }
}

impl StoreKind {
    /// f with its spread: attached 0.31–0.33, detached 0.09–0.19 in five posts; an unheated house holds 0 to +3 K (f 0.06 over 25 K), which
    /// on clear nights may be nothing.
    pub fn share(self) -> Gaussian {
        match self {
            Self::Attached => Gaussian::new(0.30, 0.07),
            Self::Detached => Gaussian::new(0.15, 0.06),
            // Frost-free in a German broadcast's advice (ZDF2018), no readings found: DESIGN, so that −20 °C outside leaves about +4 °C.
            Self::Cellar => Gaussian::new(0.60, 0.12),
            Self::UnheatedHouse => Gaussian::new(0.05, 0.05),
        }
    }
}

/// The line of a place and its spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// a, °C.
    pub a_c: f64,
    /// b: share of an outdoor difference that comes in.
    pub b: f64,
    /// Spread of one night about the line as it is known, at the temperature outside that was asked about, K.
    pub sd_k: f64,
    /// Part of it that differs from night to night, K.
    pub night_sd_k: f64,
    /// The rest: what is not known of the line.
    pub doubt: LineDoubt,
    /// Readings it rests on.
    pub readings: usize,
}

/// What is not known of a line: variance `least + slope²·(outside − sure)²`, least where it is surest.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LineDoubt {
    /// Least variance, K².
    pub least_k2: f64,
    /// Temperature outside at which it is surest, °C.
    pub sure_c: f64,
    /// Standard deviation of the slope.
    pub slope_sd: f64,
}

impl LineDoubt {
    /// At a temperature outside, K².
    pub fn variance_k2(&self, outside_c: f64) -> f64 {
        self.least_k2 + (self.slope_sd * (outside_c - self.sure_c)).powi(2)
    }

    /// Of the share f that a store keeps of the distance to its house: none at the temperature of the house.
    pub fn of_share(sd: f64, house_c: f64) -> Self {
        Self { least_k2: 0.0, sure_c: house_c, slope_sd: sd }
    }
}

/// Readings that no place gives.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PlaceError {
    /// The line runs the wrong way or amplifies the outside.
    #[error(
        "these readings make the inside {b:.2} K warmer for each K outside; a place takes between 0 and 1.2: one of the readings must be mistaken"
    )]
    Slope {
        /// Slope of the line.
        b: f64,
    },
    /// Colder inside than outside on a cold night.
    #[error(
        "{inside_c} °C inside at {outside_c} °C outside: on a cold night no store is colder than the air outside; are the two swapped, or is a sign missing?"
    )]
    ColderInside {
        /// Reading outside, °C.
        outside_c: f64,
        /// Reading inside, °C.
        inside_c: f64,
    },
    /// A number out of range.
    #[error(transparent)]
    OutOfRange(#[from] crate::units::OutOfRange),
}

/// Outside temperature up to which a store is warmer than the night, °C: above, a cellar may be cooler than a mild night. DESIGN.
const COLD_OUTSIDE_C: f64 = 5.0;
/// How much two thermometers may differ, K. COMMON_PRACTICE.
const THERMOMETERS_K: f64 = 0.5;

/// Refuses an inside that a store cannot have.
pub fn check_inside(outside_c: f64, inside_c: f64) -> Result<(), PlaceError> {
    if outside_c <= COLD_OUTSIDE_C && inside_c < outside_c - THERMOMETERS_K {
        return Err(PlaceError::ColderInside { outside_c, inside_c });
    }
    Ok(())
}

impl Place {
    fn of_line((b, a_c): (f64, f64), night_sd_k: f64, doubt: LineDoubt, outside_c: f64, readings: usize) -> Self {
        Self { a_c, b, sd_k: night_sd_k.hypot(doubt.variance_k2(outside_c).sqrt()), night_sd_k, doubt, readings }
    }

    /// From the kind alone, about one outside temperature (the spread of f depends on it).
    pub fn of_kind(kind: StoreKind, outside_c: f64) -> Self {
        let f = kind.share();
        Self::of_line((1.0 - f.mean, f.mean * HOUSE_C), NIGHT_SD_K, LineDoubt::of_share(f.sd, HOUSE_C), outside_c, 0)
    }

    /// From pairs (outside, inside) in °C. One pair shifts the line of its kind; two or more give their own. With two the spread cannot be seen
    /// and the night's own is used; with more it is the residual (n − 2), never less than half of that.
    pub fn from_pairs(pairs: &[(f64, f64)], kind: StoreKind, tonight_c: f64) -> Result<Self, PlaceError> {
        for (outside, inside) in pairs {
            within("outside reading", "°C", *outside, -60.0, 50.0)?;
            within("inside reading", "°C", *inside, -60.0, 60.0)?;
            check_inside(*outside, *inside)?;
        }
        let by_kind = Self::of_kind(kind, tonight_c);
        let Some(&(first_out, first_in)) = pairs.first() else { return Ok(by_kind) };
        let n = pairs.len();
        let Some((b, a)) = (if n >= 2 { line(pairs.iter().copied()) } else { None }) else {
            // One night (or the same outside twice): f from it, and as far as tonight differs from then, the doubt about f.
            let mean_in = pairs.iter().map(|p| p.1).sum::<f64>() / n as f64;
            let shift = mean_in - (by_kind.a_c + by_kind.b * first_out);
            debug_assert!(first_in.is_finite());
            let doubt = LineDoubt { least_k2: NIGHT_SD_K.powi(2) / n as f64, sure_c: first_out, slope_sd: kind.share().sd };
            return Ok(Self::of_line((by_kind.b, by_kind.a_c + shift), NIGHT_SD_K, doubt, tonight_c, n));
        };
        if !(-0.05..=1.2).contains(&b) {
            return Err(PlaceError::Slope { b });
        }
        let mean_out = pairs.iter().map(|p| p.0).sum::<f64>() / n as f64;
        let spread_out: f64 = pairs.iter().map(|p| (p.0 - mean_out).powi(2)).sum();
        let residual: f64 = pairs.iter().map(|(x, y)| (y - a - b * x).powi(2)).sum();
        let night = if n > 2 { (residual / (n - 2) as f64).sqrt().max(NIGHT_SD_K / 2.0) } else { NIGHT_SD_K };
        // Prediction error of a fitted line at tonight's temperature.
        let doubt = LineDoubt { least_k2: night * night / n as f64, sure_c: mean_out, slope_sd: night / spread_out.sqrt() };
        Ok(Self::of_line((b, a), night, doubt, tonight_c, n))
    }

    /// Inside on a night whose minimum outside has this mean and spread, °C.
    pub fn inside(&self, outside: Gaussian) -> Gaussian {
        Gaussian::new(self.a_c + self.b * outside.mean, (self.b * outside.sd).hypot(self.sd_k))
    }
}

/// Ordinary least squares of y on x: (slope, intercept); `None` where x does not vary.
fn line(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<(f64, f64)> {
    let n = points.clone().count() as f64;
    let (mx, my) = points.clone().fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let (sxx, sxy) = points.fold((0.0, 0.0), |(xx, xy), (x, y)| (xx + (x - mx).powi(2), xy + (x - mx) * (y - my)));
    (sxx > 1e-9).then(|| (sxy / sxx, my - sxy / sxx * mx))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_readings_fix_the_line_and_nearer_nights_are_surer() {
        let place = |tonight| Place::from_pairs(&[(-5.0, 2.0), (-15.0, -5.0)], StoreKind::Detached, tonight).unwrap();
        let near = place(-10.0);
        assert!((near.a_c - 5.5).abs() < 1e-12 && (near.b - 0.7).abs() < 1e-12);
        assert!(place(-25.0).sd_k > near.sd_k);
    }

    #[test]
    fn readings_that_run_backwards_are_refused() {
        assert!(matches!(Place::from_pairs(&[(-5.0, -9.0)], StoreKind::Detached, -8.0), Err(PlaceError::ColderInside { .. })));
        // A cellar may be cooler than a mild night.
        assert!(Place::from_pairs(&[(12.0, 9.0)], StoreKind::Cellar, -8.0).is_ok());
        assert!(matches!(Place::from_pairs(&[(-5.0, 2.0), (-15.0, 6.0)], StoreKind::Detached, -8.0), Err(PlaceError::Slope { .. })));
    }
}
