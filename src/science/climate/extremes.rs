//! The distribution of the yearly minimum from the winters of a record: fits, the choice among them and the reason for it, levels with
//! intervals, and the trend.
//!
//! | winters | what is done |
//! |---|---|
//! | fewer than [`FEWEST`] | nothing is fitted, and it is said so |
//! | fewer than [`FEWEST_FOR_GEV`] | the normal, its spread widened by √(1 + 1/n) for the doubt about its mean |
//! | more | normal and GEV (L-moments, maximum likelihood without and with a weak prior on the shape) compared |
//!
//! The GEV with the prior is taken when it converged, unless the normal has an AICc lower by more than 4 than the GEV without it; the L-moment
//! fit stands in where the likelihood fails and it covers the data; otherwise the normal. The prior keeps levels beyond the length of the
//! record within reason: without it "once in 100 winters" of a short record can have an interval of 45 K. The plain fit, with its own levels,
//! stays in the result.

use serde::Serialize;

pub use super::extreme_fits::{AsOfNow, Chosen, LMomentFit, LikelihoodFit, ReturnLevel};
use super::extreme_fits::{EndPassed, Grounds, Why, level_of, likelihood_fit};
use super::frost::Quantiles;
use super::gev::{Gev, GevFit, REGULAR_SHAPE};
use super::gev_likelihood::ShapePrior;
use super::lmoments::LMoments;
use super::profile;
use super::trend::{self, LeastSquares, MannKendall, MovingLocation};
use super::winter_minimum::WinterMinimum;
use super::zone::HalfZone;
use crate::science::numeric::Gaussian;
use crate::units::{Celsius, Interval, TemperatureDelta};

/// Fewest winters for any distribution.
pub const FEWEST: usize = 5;
/// Fewest winters for a GEV: with fewer its shape is mostly noise (at about 20 winters the fit can fall below the regular range).
pub const FEWEST_FOR_GEV: usize = 20;
/// Return periods shown, years.
pub const RETURN_YEARS: [u32; 7] = [2, 5, 10, 20, 30, 50, 100];
/// Lead in AICc that lets the normal win over the family that theory gives for yearly minima: from 4 on a model has considerably less support
/// than the best (Burnham & Anderson 2002, Model Selection and Multimodel Inference, section 2.6).
const AICC_LEAD: f64 = 4.0;
/// Level at which a trend counts.
const TREND_LEVEL: f64 = 0.05;
/// 97.5 % point of the standard normal.
const Z_95: f64 = 1.959_963_984_540_054;

/// Whether and how fast winters have been warming.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trend {
    /// Change a decade; positive: minima rise.
    pub per_decade_k: f64,
    /// 95 % interval of it.
    pub low_k: Option<f64>,
    /// Its upper end.
    pub high_k: Option<f64>,
    /// Chance of so much by accident without a trend.
    pub p_value: f64,
    /// Which method the numbers above are from.
    pub method: &'static str,
    /// Whether it counts (p below 0.05).
    pub counts: bool,
    /// Least squares.
    pub least_squares: LeastSquares,
    /// Median of the slopes of all pairs.
    pub theil_sen_per_decade_k: Option<f64>,
    /// Mann–Kendall.
    pub mann_kendall: Option<MannKendall>,
    /// GEV with a moving location, of the sign-reversed minima.
    pub gev_location: Option<MovingLocation>,
    /// The distribution as it stands now.
    pub as_of_now: Option<AsOfNow>,
}

/// Everything about the yearly minimum.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Extremes {
    /// Winters used.
    pub winters_used: usize,
    /// Mean.
    pub mean_c: f64,
    /// Standard deviation between winters (n − 1); absent for a single winter.
    pub sd_c: Option<f64>,
    /// Half-zone of the mean; absent outside 1a to 13b.
    pub half_zone: Option<String>,
    /// 10, 50 and 90 % points of the winters themselves.
    pub observed_quantiles_c: Quantiles<f64>,
    /// GEV by L-moments; absent for short records.
    pub gev_lmoments: Option<LMomentFit>,
    /// GEV by maximum likelihood; absent for short records.
    pub gev_mle: Option<LikelihoodFit>,
    /// GEV by maximum likelihood with a weak prior on the shape; absent for short records.
    pub gev_prior: Option<LikelihoodFit>,
    /// Distribution taken; absent with too few winters.
    pub chosen: Option<Chosen>,
    /// Why.
    pub why: Why,
    /// Points of the distribution taken: p10 is undercut by one winter in ten.
    pub quantiles_c: Option<Quantiles<f64>>,
    /// Levels undercut once in so many years.
    pub return_levels: Vec<ReturnLevel>,
    /// Trend; absent with too few winters.
    pub trend: Option<Trend>,
    #[serde(skip)]
    distribution: Option<WinterMinimum>,
}

impl Extremes {
    /// Fits and compares, with intervals and trend. `None` without a single winter.
    pub fn of(winters: &[(i16, Celsius)]) -> Option<Self> {
        let (mut extremes, reversed, fits) = Self::fitted(winters)?;
        for (fit, shown) in [(&fits.plain, &mut extremes.gev_mle), (&fits.with_prior, &mut extremes.gev_prior)] {
            if let (Some(fit), Some(shown)) = (fit, shown) {
                let shape = profile::shape(fit, &reversed);
                (shown.shape_low, shown.shape_high) = (shape.low, shape.high);
            }
        }
        extremes.return_levels = extremes.levels(&reversed, &fits);
        if let (Some(Chosen::GevPrior), Some(fit), Some(shown)) = (extremes.chosen, &fits.plain, &mut extremes.gev_mle)
            && fit.converged
        {
            shown.return_levels = RETURN_YEARS.into_iter().map(|years| level_of(fit, &reversed, years)).collect();
        }
        if extremes.chosen.is_some() {
            extremes.trend = trend_of(winters, &fits);
        }
        Some(extremes)
    }

    /// The distribution alone, at a tenth of the time: no intervals, return levels or trend.
    pub fn in_brief(winters: &[(i16, Celsius)]) -> Option<Self> {
        Self::fitted(winters).map(|(extremes, ..)| extremes)
    }

    /// Fits and chooses; also gives the sign-reversed sample and the likelihood fits.
    fn fitted(winters: &[(i16, Celsius)]) -> Option<(Self, Vec<f64>, Fits)> {
        let n = winters.len();
        // Sign-reversed: the coldest winter is the largest.
        let reversed: Vec<f64> = winters.iter().map(|(_, t)| -t.degrees()).collect();
        let observed_quantiles_c = Quantiles::of(winters.iter().map(|(_, t)| t.degrees()))?;
        let mean_c = winters.iter().map(|(_, t)| t.degrees()).sum::<f64>() / n as f64;
        let sum_of_squares: f64 = winters.iter().map(|(_, t)| (t.degrees() - mean_c).powi(2)).sum();
        let sd_c = (n >= 2).then(|| (sum_of_squares / (n as f64 - 1.0)).sqrt());
        let mut extremes = Self {
            winters_used: n,
            mean_c,
            sd_c,
            half_zone: Celsius::new(mean_c).ok().and_then(HalfZone::of_mean).map(|zone| zone.to_string()),
            observed_quantiles_c,
            gev_lmoments: None,
            gev_mle: None,
            gev_prior: None,
            chosen: None,
            why: Why { grounds: Grounds::TooFew { winters: n }, l_moments_rejected: None },
            quantiles_c: None,
            return_levels: Vec::new(),
            trend: None,
            distribution: None,
        };
        let Some(sd) = sd_c.filter(|sd| n >= FEWEST && *sd > 0.0) else { return Some((extremes, reversed, Fits::default())) };
        let fits = if n >= FEWEST_FOR_GEV { extremes.fit_gev(&reversed) } else { Fits::default() };
        extremes.choose(&reversed, &fits);
        extremes.distribution = match (extremes.chosen, &fits, extremes.gev_lmoments) {
            (Some(Chosen::GevPrior), Fits { with_prior: Some(fit), .. }, _) | (Some(Chosen::GevMle), Fits { plain: Some(fit), .. }, _) => {
                winter_minimum(fit.gev)
            }
            (Some(Chosen::GevLmoments), _, Some(fit)) => {
                winter_minimum(Gev { location: -fit.location_c, scale: fit.scale_k, shape: fit.shape })
            }
            _ => normal(mean_c, sd * (1.0 + 1.0 / n as f64).sqrt()),
        };
        extremes.quantiles_c = extremes.distribution.map(quantiles);
        Some((extremes, reversed, fits))
    }

    /// The distribution taken; `None` with too few winters.
    pub fn distribution(&self) -> Option<WinterMinimum> {
        self.distribution
    }

    fn fit_gev(&mut self, reversed: &[f64]) -> Fits {
        if let Some(l_moments) = LMoments::of(reversed)
            && let Some(gev) = Gev::of_lmoments(&l_moments)
        {
            self.gev_lmoments = Some(LMomentFit {
                location_c: -gev.location,
                scale_k: gev.scale,
                shape: gev.shape,
                covers_data: gev.covers(reversed),
                end_point_c: gev.end_point().map(|end| -end),
                l_moments,
            });
        }
        let fits = Fits { plain: Gev::fit(reversed), with_prior: Gev::fit_with(reversed, Some(ShapePrior::MARTINS_STEDINGER)) };
        self.gev_mle = fits.plain.as_ref().map(likelihood_fit);
        self.gev_prior = fits.with_prior.as_ref().map(likelihood_fit);
        fits
    }

    /// Takes one and says why.
    fn choose(&mut self, reversed: &[f64], fits: &Fits) {
        let winters = reversed.len();
        let (chosen, grounds) =
            if winters < FEWEST_FOR_GEV { (Chosen::Normal, Grounds::TooFewForTail { winters }) } else { self.compare(reversed, fits) };
        self.chosen = Some(chosen);
        let coldest = reversed.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let l_moments_rejected = match self.gev_lmoments {
            Some(LMomentFit { covers_data: false, end_point_c: Some(end), .. }) => {
                Some(EndPassed { end_c: Celsius::literal(end), measured_c: Celsius::literal(-coldest) })
            }
            _ => None,
        };
        self.why = Why { grounds, l_moments_rejected };
    }

    /// Normal and GEV compared, with winters enough for both.
    fn compare(&self, reversed: &[f64], fits: &Fits) -> (Chosen, Grounds) {
        let winters = reversed.len();
        let n = winters as f64;
        let aicc_normal = aicc(normal_nllh(reversed), 2.0, n);
        let usable = |fit: &&GevFit| fit.converged && fit.gev.shape > REGULAR_SHAPE;
        let Some(fit) = fits.with_prior.as_ref().filter(usable) else {
            let by_l_moments = self.gev_lmoments.is_some_and(|fit| fit.covers_data && fit.shape > REGULAR_SHAPE);
            return if by_l_moments { (Chosen::GevLmoments, Grounds::LikelihoodFailed) } else { (Chosen::Normal, Grounds::NothingRegular) };
        };
        let plain = fits.plain.as_ref().filter(usable);
        let aicc_gev = aicc(plain.unwrap_or(fit).nllh, 3.0, n);
        if aicc_normal + AICC_LEAD < aicc_gev {
            (Chosen::Normal, Grounds::NormalAsGood { winters, aicc_normal, aicc_gev })
        } else {
            let shape_without = plain.map(|plain| plain.gev.shape);
            (Chosen::GevPrior, Grounds::Theory { aicc_normal, aicc_gev, shape: fit.gev.shape, shape_without })
        }
    }

    /// Levels of the distribution taken, with their intervals.
    fn levels(&self, reversed: &[f64], fits: &Fits) -> Vec<ReturnLevel> {
        let Some(distribution) = self.distribution else { return Vec::new() };
        RETURN_YEARS
            .into_iter()
            .map(|years| {
                if let (Some(Chosen::GevPrior), Some(fit)) = (self.chosen, &fits.with_prior) {
                    return level_of(fit, reversed, years);
                }
                let p = 1.0 / f64::from(years);
                // Of the sign-reversed sample: its high end is the cold one.
                let interval = match self.chosen {
                    Some(Chosen::Normal) => {
                        let z = Gaussian::new(0.0, 1.0).quantile(1.0 - p);
                        let found = profile::normal_level(reversed, z).map(|(_, interval)| interval);
                        Interval { low: found.map(|i| i.low), high: found.map(|i| i.high) }
                    }
                    _ => Interval { low: None, high: None },
                };
                ReturnLevel {
                    years,
                    level_c: distribution.quantile(p).degrees(),
                    low_c: interval.high.map(|x| -x),
                    high_c: interval.low.map(|x| -x),
                }
            })
            .collect()
    }
}

/// The likelihood fits of one sample.
#[derive(Debug, Default)]
struct Fits {
    plain: Option<GevFit>,
    with_prior: Option<GevFit>,
}

/// 10, 50 and 90 % points of a distribution.
fn quantiles(distribution: WinterMinimum) -> Quantiles<f64> {
    let [p10, p50, p90] = [0.1, 0.5, 0.9].map(|p| distribution.quantile(p).degrees());
    Quantiles { p10, p50, p90 }
}

fn winter_minimum(gev: Gev) -> Option<WinterMinimum> {
    Some(WinterMinimum::Gev {
        location: Celsius::new(-gev.location).ok()?,
        scale: TemperatureDelta::new(gev.scale).ok()?,
        shape: gev.shape,
    })
}

fn normal(mean_c: f64, spread_k: f64) -> Option<WinterMinimum> {
    Some(WinterMinimum::Normal { mean: Celsius::new(mean_c).ok()?, spread: TemperatureDelta::new(spread_k).ok()? })
}

/// Negative log likelihood of a normal at its maximum.
fn normal_nllh(sample: &[f64]) -> f64 {
    let n = sample.len() as f64;
    let mean = sample.iter().sum::<f64>() / n;
    let variance = sample.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
    n / 2.0 * ((std::f64::consts::TAU * variance).ln() + 1.0)
}

/// Akaike's criterion with the correction for small samples (Hurvich & Tsai 1989, Biometrika 76, 297–307).
fn aicc(nllh: f64, parameters: f64, n: f64) -> f64 {
    2.0 * nllh + 2.0 * parameters + 2.0 * parameters * (parameters + 1.0) / (n - parameters - 1.0)
}

/// Judged without the prior on the shape, which is one for stationary series: under it half of the slope of Seattle-Tacoma goes into the tail.
fn trend_of(winters: &[(i16, Celsius)], fits: &Fits) -> Option<Trend> {
    let points: Vec<(f64, f64)> = winters.iter().map(|(year, t)| (f64::from(*year), t.degrees())).collect();
    let reversed: Vec<(f64, f64)> = points.iter().map(|(year, t)| (*year, -t)).collect();
    let least_squares = trend::least_squares(&points)?;
    let gev_location = fits.plain.as_ref().filter(|fit| fit.converged).and_then(|fit| trend::moving_location(&reversed, fit));
    let (slope, se, p_value, method) = match gev_location {
        Some(fit) => (-fit.location_per_decade, fit.se.map(|se| se[1]), fit.p_value, "gev_location"),
        None => (least_squares.per_decade_k, Some(least_squares.se_k), least_squares.p_value, "least_squares"),
    };
    let counts = p_value < TREND_LEVEL;
    let last = winters.iter().map(|(year, _)| *year).max()?;
    let first = winters.iter().map(|(year, _)| *year).min()?;
    let as_of_now = gev_location.filter(|fit| counts && fit.shape > REGULAR_SHAPE).and_then(|fit| {
        let gev = fit.at(f64::from(last - first));
        Some(AsOfNow {
            winter: last,
            location_c: -gev.location,
            scale_k: gev.scale,
            shape: gev.shape,
            quantiles_c: quantiles(winter_minimum(gev)?),
            ten_year_level_c: -gev.quantile(0.9),
        })
    });
    Some(Trend {
        per_decade_k: slope,
        low_k: se.map(|se| slope - Z_95 * se),
        high_k: se.map(|se| slope + Z_95 * se),
        p_value,
        method,
        counts,
        least_squares,
        theil_sen_per_decade_k: trend::theil_sen(&points),
        mann_kendall: trend::mann_kendall(&points),
        gev_location,
        as_of_now,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten winters of −5, −6 … −14 °C: mean −9.5, R's `sd(1:10)` 3.027650; a new winter from the same normal of unknown mean has the spread
    /// 3.027650·√(1 + 1/10) = 3.175426 (the usual predictive variance), so one in ten lies below −9.5 − 1.281552·3.175426 = −13.569472.
    #[test]
    fn a_short_record_is_widened_for_the_doubt_about_its_mean() {
        let winters: Vec<(i16, Celsius)> = (0..10).map(|i| (1990 + i, Celsius::literal(-5.0 - f64::from(i)))).collect();
        let extremes = Extremes::of(&winters).unwrap();
        assert_eq!(extremes.chosen, Some(Chosen::Normal));
        assert!((extremes.distribution().unwrap().sd().kelvin() - 3.175_426).abs() < 1e-5);
        assert!((extremes.quantiles_c.unwrap().p10 + 13.569_472).abs() < 1e-5);
    }
}
