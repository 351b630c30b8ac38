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

/// Which distribution was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Chosen {
    /// Normal.
    Normal,
    /// GEV by L-moments.
    GevLmoments,
    /// GEV by maximum likelihood.
    GevMle,
    /// GEV by maximum likelihood with a weak prior on the shape.
    GevPrior,
}

/// GEV by L-moments, location given back as a temperature.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LMomentFit {
    /// Location as a temperature.
    pub location_c: f64,
    /// Scale, K.
    pub scale_k: f64,
    /// Shape, > 0 heavy tail.
    pub shape: f64,
    /// Whether every winter lies inside the support.
    pub covers_data: bool,
    /// Coldest (or, with a heavy tail, warmest) winter the fit allows.
    pub end_point_c: Option<f64>,
    /// The L-moments of the sign-reversed minima.
    pub l_moments: LMoments,
}

/// GEV by maximum likelihood, location given back as a temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LikelihoodFit {
    /// Location as a temperature.
    pub location_c: f64,
    /// Scale, K.
    pub scale_k: f64,
    /// Shape, > 0 heavy tail.
    pub shape: f64,
    /// Standard errors of the three.
    pub se: Option<[f64; 3]>,
    /// Whether search, gradient and information agree that this is the maximum.
    pub converged: bool,
    /// Negative log likelihood.
    pub nllh: f64,
    /// Profile-likelihood interval of the shape, 95 %; an end that the data do not bound is absent.
    pub shape_low: Option<f64>,
    /// Its upper end.
    pub shape_high: Option<f64>,
    /// Coldest (or, with a heavy tail, warmest) winter the fit allows.
    pub end_point_c: Option<f64>,
    /// Levels of this fit, where they are not those of the distribution taken.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub return_levels: Vec<ReturnLevel>,
}

/// A level undercut once in so many years on average.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ReturnLevel {
    /// Return period.
    pub years: u32,
    /// Level.
    pub level_c: f64,
    /// Colder end of the 95 % interval by profile likelihood; absent where the data do not bound it.
    pub low_c: Option<f64>,
    /// Warmer end.
    pub high_c: Option<f64>,
}

/// The distribution as it stands in the last winter, where the trend counts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AsOfNow {
    /// The winter it stands for.
    pub winter: i16,
    /// Location as a temperature.
    pub location_c: f64,
    /// Scale, K.
    pub scale_k: f64,
    /// Shape.
    pub shape: f64,
    /// Points of the distribution.
    pub quantiles_c: Quantiles<f64>,
    /// Undercut once in ten years.
    pub ten_year_level_c: f64,
}

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
    pub why: String,
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
            why: format!("{n} usable winters are too few for a distribution; at least {FEWEST} are needed"),
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

    /// The distribution as it stands in the last winter, where the trend counts.
    pub fn distribution_as_of_now(&self) -> Option<WinterMinimum> {
        let now = self.trend.as_ref()?.as_of_now?;
        winter_minimum(Gev { location: -now.location_c, scale: now.scale_k, shape: now.shape })
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
        let n = reversed.len();
        if n < FEWEST_FOR_GEV {
            self.chosen = Some(Chosen::Normal);
            self.why = format!(
                "{n} winters are too few for the shape of a tail ({FEWEST_FOR_GEV} needed): normal, widened for the doubt about its mean"
            );
            return;
        }
        let normal = aicc(normal_nllh(reversed), 2.0, n as f64);
        let usable = |fit: &&GevFit| fit.converged && fit.gev.shape > REGULAR_SHAPE;
        let why = match fits.with_prior.as_ref().filter(usable) {
            Some(fit) => {
                let plain = fits.plain.as_ref().filter(usable);
                let gev = aicc(plain.unwrap_or(fit).nllh, 3.0, n as f64);
                if normal + AICC_LEAD < gev {
                    self.chosen = Some(Chosen::Normal);
                    format!("the normal describes the {n} winters as well with one number fewer (AICc {normal:.1} against {gev:.1})")
                } else {
                    self.chosen = Some(Chosen::GevPrior);
                    let verdict = if normal < gev { ", not enough to overrule it" } else { "" };
                    let without = plain.map_or_else(String::new, |plain| format!(", {:+.2} without it", plain.gev.shape));
                    format!(
                        "the family that theory gives for yearly minima (AICc {gev:.1}; normal {normal:.1}{verdict}), its shape {:+.2} under a weak \
                         published prior{without}",
                        fit.gev.shape
                    )
                }
            }
            None if self.gev_lmoments.is_some_and(|fit| fit.covers_data && fit.shape > REGULAR_SHAPE) => {
                self.chosen = Some(Chosen::GevLmoments);
                "maximum likelihood gave no regular fit; L-moments did, without intervals".to_owned()
            }
            None => {
                self.chosen = Some(Chosen::Normal);
                "no regular extreme-value fit was found; the normal stands in".to_owned()
            }
        };
        if let Some(LMomentFit { covers_data: false, end_point_c: Some(end), .. }) = self.gev_lmoments {
            let coldest = reversed.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            self.why = format!(
                "{why}; the L-moment fit is set aside: it allows nothing beyond {:.1} and {:.1} was measured",
                Celsius::literal(end),
                Celsius::literal(-coldest)
            );
        } else {
            self.why = why;
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

/// What is shown of a likelihood fit; its intervals come later.
fn likelihood_fit(fit: &GevFit) -> LikelihoodFit {
    LikelihoodFit {
        location_c: -fit.gev.location,
        scale_k: fit.gev.scale,
        shape: fit.gev.shape,
        se: fit.se,
        converged: fit.converged,
        nllh: fit.nllh,
        shape_low: None,
        shape_high: None,
        end_point_c: fit.gev.end_point().map(|end| -end),
        return_levels: Vec::new(),
    }
}

/// One level of a likelihood fit with its profile interval.
fn level_of(fit: &GevFit, reversed: &[f64], years: u32) -> ReturnLevel {
    // Of the sign-reversed sample: its high end is the cold one.
    let interval = profile::return_level(fit, reversed, f64::from(years));
    let level = fit.gev.quantile(1.0 - 1.0 / f64::from(years));
    ReturnLevel { years, level_c: -level, low_c: interval.high.map(|x| -x), high_c: interval.low.map(|x| -x) }
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
