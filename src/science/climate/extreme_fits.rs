//! Results of fitting the yearly minimum: which distribution, why, its parameters and levels, all given back as temperatures.

use serde::Serialize;

use super::frost::Quantiles;
use super::gev::GevFit;
use super::lmoments::LMoments;
use super::profile;
use crate::units::Celsius;

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

/// Why a distribution was taken. AICc: Akaike's criterion with the correction for small samples; the lower describes the winters better.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "code", rename_all = "snake_case")]
pub enum Grounds {
    /// Too few winters for any.
    TooFew {
        /// Usable winters.
        winters: usize,
    },
    /// Too few for the shape of a tail: a normal, widened for the doubt about its mean.
    TooFewForTail {
        /// Usable winters.
        winters: usize,
    },
    /// A normal describes them as well with one number fewer.
    NormalAsGood {
        /// Usable winters.
        winters: usize,
        /// AICc of the normal.
        aicc_normal: f64,
        /// AICc of the GEV.
        aicc_gev: f64,
    },
    /// The family that theory gives for yearly minima, its shape under a weak prior.
    Theory {
        /// AICc of the normal.
        aicc_normal: f64,
        /// AICc of the GEV.
        aicc_gev: f64,
        /// Shape under the prior.
        shape: f64,
        /// Shape without it.
        shape_without: Option<f64>,
    },
    /// Maximum likelihood gave no regular fit, L-moments did.
    LikelihoodFailed,
    /// No regular fit of the extreme-value family.
    NothingRegular,
}

/// An L-moment fit that allows nothing as cold as what was measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EndPassed {
    /// Coldest that the fit allows.
    pub end_c: Celsius,
    /// Coldest measured.
    pub measured_c: Celsius,
}

/// Why the distribution of the yearly minimum is what it is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Why {
    /// Grounds of the choice.
    pub grounds: Grounds,
    /// The L-moment fit rejected, where the data contradict it.
    pub l_moments_rejected: Option<EndPassed>,
}

/// What is shown of a likelihood fit; its intervals come later.
pub(super) fn likelihood_fit(fit: &GevFit) -> LikelihoodFit {
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
pub(super) fn level_of(fit: &GevFit, reversed: &[f64], years: u32) -> ReturnLevel {
    // Of the sign-reversed sample: its high end is the cold one.
    let interval = profile::return_level(fit, reversed, f64::from(years));
    let level = fit.gev.quantile(1.0 - 1.0 / f64::from(years));
    ReturnLevel { years, level_c: -level, low_c: interval.high.map(|x| -x), high_c: interval.low.map(|x| -x) }
}
