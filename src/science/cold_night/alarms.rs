//! How often a warning by a chance comes in vain, and how often a night that harms comes without one, over the nights of a season: from how far
//! forecasts of the lowest miss, and from how well it is known what harms a plant.
//!
//! H(x) is the chance that a night whose lowest is x harms it, what is not known of its limit counted in ([`HarmByLowest`]). A forecast is F = x − e,
//! with misses e of a spread s and the tails of [`TAILS`], whose distribution function is M. The service reckons the chance
//! `G(F) = E[H(F + e)]`, and warns where G(F) ≥ p, which is where F lies at or below some F*. Of a night at x it then warns with the chance
//! `P(e ≥ x − F*) = M(F* − x)`. With n(x) nights of a season at x:
//!
//! ```text
//! harmful = Σ n·H    told = Σ n·M(F* − x)    told and harmful = Σ n·H·M(F* − x)
//! missed = 1 − told and harmful / harmful    in vain = 1 − told and harmful / told
//! ```
//!
//! H is straight between its steps, so that by parts `G(F) = H(last) − Σ slopeᵢ·∫ᵢ M(x − F) dx`, with `∫Φ(u) du = u·Φ(u) + φ(u)`: no quadrature.
//! Source: the definition of a decision by a threshold (any textbook of forecast verification, such as Jolliffe and Stephenson, Forecast
//! Verification, chapter on binary events; from memory); misses as in [`super::forecast`].

use super::forecast::TAILS;
use crate::science::numeric::{standard_normal_cdf, standard_normal_pdf};

/// Halvings of the search for the warmest forecast that warns: to below 10⁻¹⁰ K.
const HALVINGS: usize = 60;
/// It is sought so many spreads beyond both ends of what is known of the harm.
const FARTHEST_SPREADS: f64 = 12.0;

/// Chance that a miss is at most `u`, K, with spread `sd_k`.
pub fn miss_at_most(u: f64, sd_k: f64) -> f64 {
    TAILS.iter().map(|(share, stretch)| share * standard_normal_cdf(u / (stretch * sd_k))).sum()
}

/// An antiderivative of that, K.
fn integral_to(u: f64, sd_k: f64) -> f64 {
    let of_one = |spread: f64| {
        let z = u / spread;
        spread * (z * standard_normal_cdf(z) + standard_normal_pdf(z))
    };
    TAILS.iter().map(|(share, stretch)| share * of_one(stretch * sd_k)).sum()
}

/// Chance that a night harms, by its lowest: straight between even steps, beyond them as at their ends, and never more on a milder night.
#[derive(Debug, Clone, PartialEq)]
pub struct HarmByLowest {
    from_c: f64,
    step_k: f64,
    chances: Vec<f64>,
}

impl HarmByLowest {
    /// From chances at even steps from `from_c` on, the coldest first. A chance above that of a colder night is set to it: colder never helps.
    pub fn new(from_c: f64, step_k: f64, mut chances: Vec<f64>) -> Self {
        let mut most = 1.0_f64;
        for chance in &mut chances {
            most = chance.clamp(0.0, most);
            *chance = most;
        }
        Self { from_c, step_k, chances }
    }

    /// At a lowest, °C.
    pub fn at(&self, lowest_c: f64) -> f64 {
        let last = self.chances.len().saturating_sub(1);
        let along = ((lowest_c - self.from_c) / self.step_k).clamp(0.0, last as f64);
        let step = (along.floor() as usize).min(last.saturating_sub(1));
        let of = |index: usize| self.chances.get(index.min(last)).copied().unwrap_or(0.0);
        of(step) + (along - step as f64) * (of(step + 1) - of(step))
    }

    /// As reckoned from a forecast, °C, whose misses have a spread, K.
    pub fn reckoned(&self, forecast_c: f64, sd_k: f64) -> f64 {
        let missed = |index: usize| integral_to(self.from_c + index as f64 * self.step_k - forecast_c, sd_k);
        let fall = |(index, pair): (usize, &[f64])| match pair {
            [colder, milder] => (milder - colder) / self.step_k * (missed(index + 1) - missed(index)),
            _ => 0.0,
        };
        self.chances.last().copied().unwrap_or(0.0) - self.chances.windows(2).enumerate().map(fall).sum::<f64>()
    }

    /// The warmest forecast for which that reaches a threshold, °C; `None` where none does.
    pub fn warns_from_c(&self, threshold: f64, sd_k: f64) -> Option<f64> {
        let ends = self.step_k * self.chances.len() as f64;
        let (mut low, mut high) = (self.from_c - FARTHEST_SPREADS * sd_k, self.from_c + ends + FARTHEST_SPREADS * sd_k);
        if self.reckoned(low, sd_k) < threshold {
            return None;
        }
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if self.reckoned(middle, sd_k) >= threshold { low = middle } else { high = middle }
        }
        Some(f64::midpoint(low, high))
    }
}

/// Nights of a season in one stage of a plant.
#[derive(Debug, Clone, PartialEq)]
pub struct StageNights {
    /// What they do to it.
    pub harm: HarmByLowest,
    /// Lowest, °C, and how many nights of a season have it.
    pub nights: Vec<(f64, f64)>,
}

/// How warnings are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warns {
    /// From which chance on, 0 to 1.
    pub threshold: f64,
    /// By how much the service takes forecasts to miss, K.
    pub reckoned_sd_k: f64,
    /// By how much they do, K.
    pub missed_sd_k: f64,
    /// No forecast above this warns, °C.
    pub warmest_c: f64,
}

/// Nights of one season.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SeasonAlarms {
    /// That harm.
    pub harmful: f64,
    /// That are warned of.
    pub told: f64,
    /// Both.
    pub told_harmful: f64,
}

impl SeasonAlarms {
    /// Share of the nights that harm without a warning; 0 where none harms.
    pub fn missed(&self) -> f64 {
        if self.harmful > 0.0 { 1.0 - self.told_harmful / self.harmful } else { 0.0 }
    }

    /// Share of the warnings after which nothing was harmed; 0 where there are none.
    pub fn in_vain(&self) -> f64 {
        if self.told > 0.0 { 1.0 - self.told_harmful / self.told } else { 0.0 }
    }
}

/// What warnings come to over the nights of a season.
pub fn season(stages: &[StageNights], warns: Warns) -> SeasonAlarms {
    let mut all = SeasonAlarms::default();
    for stage in stages {
        let from_c = stage.harm.warns_from_c(warns.threshold, warns.reckoned_sd_k).map(|from| from.min(warns.warmest_c));
        for (lowest_c, nights) in &stage.nights {
            let told = from_c.map_or(0.0, |from| miss_at_most(from - lowest_c, warns.missed_sd_k));
            let harm = stage.harm.at(*lowest_c);
            all.harmful += nights * harm;
            all.told += nights * told;
            all.told_harmful += nights * told * harm;
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::numeric::Gaussian;
    use proptest::prelude::*;

    /// A limit that is normal about a mean, and nights of a season that are.
    fn stage(limit: Gaussian, lowest: Gaussian, nights: f64) -> StageNights {
        let chances = (0..=200).map(|i| limit_reached(limit, -40.0 + 0.25 * f64::from(i))).collect();
        let share = |c: i32| lowest.cdf(f64::from(c) + 0.5) - lowest.cdf(f64::from(c) - 0.5);
        StageNights {
            harm: HarmByLowest::new(-40.0, 0.25, chances),
            nights: (-45..20).map(|c| (f64::from(c), nights * share(c))).collect(),
        }
    }

    fn limit_reached(limit: Gaussian, lowest_c: f64) -> f64 {
        standard_normal_cdf((limit.mean - lowest_c) / limit.sd)
    }

    fn warns(threshold: f64, reckoned_sd_k: f64, missed_sd_k: f64) -> Warns {
        Warns { threshold, reckoned_sd_k, missed_sd_k, warmest_c: 5.0 }
    }

    // scipy 1.17.1 on numpy 2.4.6 and Python 3.11.7: G by Gauss of 12 points on each step of H (`numpy.interp`), the warmest forecast by
    // `optimize.brentq`, sums by numpy, with the mixture of two normals written out; tolerance 1e-7.
    #[test]
    fn a_season_is_counted_as_by_another_program() {
        let of = |mean, sd| Gaussian::new(mean, sd);
        for (stage, warns, theirs) in [
            (
                stage(of(-9.0, 1.5), of(-3.0, 5.0), 150.0),
                warns(0.1, 1.57, 1.57),
                [-6.259_294_831, 18.833_877_933, 40.067_093_695, 18.033_706_297],
            ),
            (
                stage(of(-9.0, 1.5), of(-3.0, 5.0), 150.0),
                warns(0.02, 1.57, 1.88),
                [-4.491_368_693, 18.833_877_933, 58.499_416_773, 18.587_317_128],
            ),
            (stage(of(-5.0, 0.2), of(1.0, 4.7), 60.0), warns(0.3, 1.6, 1.6), [-4.221_104_275, 6.128_801_546, 8.800_361_778, 5.532_899_714]),
            (
                stage(of(-14.0, 3.0), of(-6.0, 6.0), 90.0),
                warns(0.05, 1.9, 1.9),
                [-8.166_595_366, 10.506_171_340, 32.879_382_332, 10.135_656_566],
            ),
            (stage(of(-3.0, 4.0), of(0.0, 5.0), 60.0), warns(0.02, 1.57, 1.88), [5.0, 19.193_046_122, 49.522_140_117, 18.995_180_617]),
        ] {
            let from = stage.harm.warns_from_c(warns.threshold, warns.reckoned_sd_k).unwrap().min(warns.warmest_c);
            let all = season(&[stage], warns);
            for (ours, theirs) in [from, all.harmful, all.told, all.told_harmful].into_iter().zip(theirs) {
                assert!((ours - theirs).abs() < 1e-7, "{warns:?}: {ours} against {theirs}");
            }
        }
    }

    #[test]
    fn a_plant_that_nothing_harms_is_never_warned_for_and_stages_add_up() {
        let safe = StageNights { harm: HarmByLowest::new(-20.0, 1.0, vec![0.0; 20]), nights: vec![(-15.0, 3.0)] };
        let all = season(std::slice::from_ref(&safe), warns(0.1, 1.5, 1.5));
        assert_eq!((all, all.missed(), all.in_vain()), (SeasonAlarms::default(), 0.0, 0.0));
        let one = stage(Gaussian::new(-8.0, 1.0), Gaussian::new(-2.0, 4.0), 50.0);
        let [single, double] = [vec![one.clone(), safe], vec![one.clone(), one]].map(|stages| season(&stages, warns(0.1, 1.5, 1.5)));
        assert!((double.told - 2.0 * single.told).abs() < 1e-9 && (double.in_vain() - single.in_vain()).abs() < 1e-12);
        // Known limits, forecasts that hardly miss: hardly anything is missed or in vain.
        let sharp = season(&[stage(Gaussian::new(-8.5, 0.05), Gaussian::new(-2.0, 4.0), 50.0)], warns(0.5, 0.05, 0.05));
        assert!(sharp.missed() < 0.05 && sharp.in_vain() < 0.05, "{sharp:?}");
    }

    proptest! {
        #[test]
        fn a_lower_threshold_misses_fewer_nights_and_comes_more_often_in_vain(
            low in 0.01..0.8f64, more in 0.02..0.15f64, sd in 0.5..4.0f64, limit in -15.0..-3.0f64, doubt in 0.1..4.0f64
        ) {
            let nights = stage(Gaussian::new(limit, doubt), Gaussian::new(-2.0, 6.0), 150.0);
            let [careful, bold] = [low, low + more].map(|threshold| season(std::slice::from_ref(&nights), Warns { warmest_c: 50.0, ..warns(threshold, sd, sd) }));
            prop_assert!(careful.missed() < bold.missed() && careful.told > bold.told, "{careful:?} {bold:?}");
            prop_assert!(careful.in_vain() > bold.in_vain() - 1e-9, "{careful:?} {bold:?}");
            prop_assert!(careful.told_harmful <= careful.harmful + 1e-9 && careful.told_harmful <= careful.told + 1e-9);
        }

        // What is reckoned is an average of what may come.
        #[test]
        fn a_reckoned_chance_lies_between_those_of_the_coldest_and_the_mildest_night(forecast in -60.0..40.0f64, sd in 0.05..4.0f64) {
            let harm = stage(Gaussian::new(-9.0, 2.0), Gaussian::new(0.0, 5.0), 1.0).harm;
            let chance = harm.reckoned(forecast, sd);
            prop_assert!(chance >= harm.at(50.0) - 1e-9 && chance <= harm.at(-60.0) + 1e-9, "{chance}");
        }
    }
}
