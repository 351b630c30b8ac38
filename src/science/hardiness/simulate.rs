//! Winter reports drawn from the model, for demonstrations, calibration tests and benchmarks. The same seed gives the same reports.
//!
//! Everything drawn is invented and says nothing about figs: the truth itself is a draw from the priors. A garden has a usual yearly
//! minimum; winters deviate from it, in part together over all gardens; a thermometer reads with an error of its own kind; a reporter
//! judges a little harshly or mildly.

use rand::{Rng, RngExt};
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::level::DamageLevel;
use super::observation::{Conditions, CultivarPrior, DamageRange, ExposureError, Reports, WinterObservation};
use super::scale::DamageScale;
use super::specification::Effect;
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;
use crate::science::site::{Protection, YearsEstablished};
use crate::units::{Celsius, TemperatureDelta};

/// One possible truth: every parameter of the model.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// Slope and gaps.
    pub scale: DamageScale,
    /// Spread of cultivars within a class, K.
    pub sigma_h: f64,
    /// Spread of reporters, logits.
    pub sigma_r: f64,
    /// h of each cultivar, °C.
    pub hardiness: Vec<f64>,
    /// Every effect of conditions, K.
    pub effects: Vec<(Effect, f64)>,
    /// Spread of what all plants of a garden share in a winter, K.
    pub event_state: f64,
    /// T50(to the ground) − T50(dead) in the first three winters, K.
    pub gap_dead_young_k: f64,
}

/// Who reports what.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// What is known of each cultivar beforehand.
    pub cultivars: Vec<CultivarPrior>,
    /// Number of reporters.
    pub reporters: u32,
    /// First winter and number of winters.
    pub winters: (i16, i16),
    /// Number of reports.
    pub reports: usize,
    /// Yearly minimum over gardens, °C: mean and spread.
    pub gardens: Gaussian,
    /// Spread of winters in one garden, K; half of the variance is shared by all gardens of a winter.
    pub winter_spread: f64,
    /// Standard deviations of thermometers, K; each reporter has one of them.
    pub thermometers: Vec<f64>,
    /// Whether conditions vary (age, pots, protection) or every plant is established, in the ground and bare.
    pub varied: bool,
    /// What else goes wrong.
    pub faults: Faults,
}

/// What real reports do that the model may not: none of it unless said.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Faults {
    /// Degrees of freedom of Student's t in the place of the logistic, scaled to the same quartiles; `None` for the logistic.
    pub heavy_tails: Option<f64>,
    /// The one thermometer of a garden's winter is off by a uniform error of up to this, K, on top of its stated one. Without it each
    /// report has a reading of its own.
    pub off_k: Option<f64>,
    /// Share of reports that name a level at random.
    pub at_random: f64,
    /// Share of plants in no complete list that are left out where nothing was harmed.
    pub unharmed_left_out: f64,
    /// Share of reporters who give every plant of their garden.
    pub complete_lists: f64,
}

/// Reports with the truth behind them.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// As a reporter would give them.
    pub reports: Reports,
    /// What they were drawn from.
    pub truth: Truth,
}

/// A draw from a normal belief.
pub fn normal(rng: &mut impl Rng, belief: Gaussian) -> f64 {
    // The open interval: a quantile at 0 is infinite.
    let u: f64 = rng.random::<f64>().clamp(1e-16, 1.0 - 1e-16);
    if belief.sd > 0.0 { belief.quantile(u) } else { belief.mean }
}

/// A positive draw with this median and relative spread, as the priors of gaps and spreads are.
fn positive(rng: &mut impl Rng, value: Gaussian) -> f64 {
    normal(rng, Gaussian::new(value.mean.ln(), value.sd / value.mean)).exp()
}

/// Conditions that a simulated plant may be in.
const PROTECTIONS: [Protection; 3] = [Protection::Wrap, Protection::CoverToGround, Protection::Mulch];

impl Truth {
    /// Draws every parameter from the priors.
    pub fn draw(priors: &Priors, cultivars: &[CultivarPrior], rng: &mut impl Rng) -> Self {
        let beta = normal(rng, Gaussian::new(priors.beta.mean.ln(), priors.beta.sd)).exp();
        let gap_wood_k = positive(rng, priors.gap_wood);
        let beyond = Gaussian::new(
            priors.gap_tips.mean - priors.gap_wood.mean,
            (priors.gap_tips.variance() - priors.gap_wood.variance()).max(0.01).sqrt(),
        );
        let gap_tips_k = gap_wood_k + positive(rng, beyond);
        let gap_dead_k = positive(rng, priors.gap_dead);
        let (sigma_h, sigma_r) = (positive(rng, priors.sigma_h), positive(rng, priors.sigma_r));
        let class_means = priors.class_means.map(|m| normal(rng, m));
        let total: f64 = priors.class_weights.iter().sum();
        let hardiness = cultivars
            .iter()
            .map(|c| {
                let class = c.class.map_or_else(
                    || {
                        let mut rest = rng.random::<f64>() * total;
                        priors.class_weights.iter().position(|w| {
                            rest -= w;
                            rest < 0.0
                        })
                    },
                    |c| Some(c.index()),
                );
                let doubt = if c.class.is_some() && c.from_memory { priors.class_from_memory.kelvin() } else { 0.0 };
                class_means[class.unwrap_or(class_means.len() - 1)] + normal(rng, Gaussian::new(0.0, sigma_h.hypot(doubt)))
            })
            .collect();
        let mut effects = vec![Effect::FirstTwoWinters, Effect::ThirdWinter, Effect::FourthFifthWinter, Effect::Container];
        effects.extend(PROTECTIONS.map(Effect::Protection));
        let effects = effects.into_iter().map(|e| (e, normal(rng, e.prior(priors)))).collect();
        let (event_state, gap_dead_young_k) = (positive(rng, priors.event_state), positive(rng, priors.gap_dead_young));
        let scale = DamageScale { beta, gap_tips_k, gap_wood_k, gap_dead_k };
        Self { scale, sigma_h, sigma_r, hardiness, effects, event_state, gap_dead_young_k }
    }

    /// Draws what a cold does to a plant. `exposure_c` is the equivalent midwinter minimum before conditions, less what the garden's winter
    /// shares; `harshness` the reporter's, logits.
    pub fn damage(
        &self,
        priors: &Priors,
        cultivar: usize,
        conditions: Conditions,
        exposure_c: f64,
        harshness: f64,
        rng: &mut impl Rng,
    ) -> DamageLevel {
        let noise = logistic(rng);
        self.damage_with(priors, cultivar, conditions, exposure_c, harshness + noise)
    }

    /// The same with the plant's own luck given, logits.
    fn damage_with(&self, priors: &Priors, cultivar: usize, conditions: Conditions, exposure_c: f64, luck: f64) -> DamageLevel {
        let base = priors.protection(conditions.protection).1.mean + Effect::base_older_k(conditions, priors);
        let h = self.hardiness.get(cultivar).copied().unwrap_or(f64::NAN);
        let logits = self.scale.beta * (h + self.shift(conditions) - exposure_c) + luck;
        let reached = |level: DamageLevel| match level {
            DamageLevel::Dead => {
                let gap = if conditions.young() { self.gap_dead_young_k } else { self.scale.gap_dead_k };
                logits > self.scale.beta * (base + gap)
            }
            level => self.scale.offset_k(level).is_none_or(|offset| logits > -self.scale.beta * offset),
        };
        DamageLevel::ALL.into_iter().rev().find(|level| reached(*level)).unwrap_or(DamageLevel::Unharmed)
    }

    /// Shift of h minus gain, K, under these conditions.
    fn shift(&self, conditions: Conditions) -> f64 {
        Effect::of(conditions).map(|e| e.sign() * self.effects.iter().find(|(known, _)| *known == e).map_or(0.0, |(_, k)| *k)).sum()
    }
}

struct Reporter {
    garden: f64,
    thermometer: f64,
    harshness: f64,
    complete: bool,
    /// Temperature, what its plants share besides, and error of the one thermometer, K, of each winter.
    winters: Vec<(f64, f64, f64)>,
}

impl Reporter {
    fn draw(truth: &Truth, design: &Design, winters: &[f64], shared: f64, rng: &mut impl Rng) -> Self {
        let thermometer = design.thermometers.get(rng.random_range(0..design.thermometers.len().max(1))).copied().unwrap_or(0.0);
        let off = design.faults.off_k.unwrap_or(0.0);
        let winter = |w: &f64| {
            let error = normal(rng, Gaussian::new(0.0, thermometer)) + off * (2.0 * rng.random::<f64>() - 1.0);
            (w + normal(rng, Gaussian::new(0.0, shared)), normal(rng, Gaussian::new(0.0, truth.event_state)), error)
        };
        let winters = winters.iter().map(winter).collect();
        Self {
            garden: normal(rng, design.gardens),
            thermometer,
            harshness: normal(rng, Gaussian::new(0.0, truth.sigma_r)),
            complete: rng.random_bool(design.faults.complete_lists),
            winters,
        }
    }
}

/// Draws reports.
pub fn simulate(priors: &Priors, truth: Truth, design: &Design, rng: &mut impl Rng) -> Simulated {
    let shared = design.winter_spread * std::f64::consts::FRAC_1_SQRT_2;
    let winters: Vec<f64> = (0..design.winters.1.max(1)).map(|_| normal(rng, Gaussian::new(0.0, shared))).collect();
    let reporters: Vec<Reporter> = (0..design.reporters.max(1)).map(|_| Reporter::draw(&truth, design, &winters, shared, rng)).collect();
    let mut observations = Vec::with_capacity(design.reports);
    while observations.len() < design.reports {
        observations.extend(report(priors, &truth, design, &reporters, rng));
    }
    Simulated { reports: Reports { cultivars: design.cultivars.clone(), reporters: design.reporters.max(1), observations }, truth }
}

/// One report, unless it is left out.
fn report(priors: &Priors, truth: &Truth, design: &Design, reporters: &[Reporter], rng: &mut impl Rng) -> Option<WinterObservation> {
    let faults = design.faults;
    let cultivar = popular(rng, design.cultivars.len().max(1));
    let reporter = rng.random_range(0..reporters.len());
    let winter = rng.random_range(0..design.winters.1.max(1));
    let r = &reporters[reporter];
    let (weather, state, error) = r.winters.get(winter as usize).copied().unwrap_or_default();
    let truly = r.garden + weather;
    let conditions = if design.varied { draw_conditions(rng) } else { Conditions::default() };
    let luck = match faults.heavy_tails {
        Some(freedom) => student(rng, freedom),
        None => logistic(rng),
    };
    let damage = truth.damage_with(priors, cultivar, conditions, truly - state, r.harshness + luck);
    if damage == DamageLevel::Unharmed && !r.complete && rng.random_bool(faults.unharmed_left_out) {
        return None;
    }
    let said = if rng.random_bool(faults.at_random) { DamageLevel::ALL[rng.random_range(0..DamageLevel::ALL.len())] } else { damage };
    let one_thermometer = faults.off_k.is_some();
    let error = if one_thermometer { error } else { normal(rng, Gaussian::new(0.0, r.thermometer)) };
    let read = Celsius::literal((truly + error).clamp(Celsius::MIN, Celsius::MAX));
    let (own, shared) = if one_thermometer { (0.0, r.thermometer) } else { (r.thermometer, 0.0) };
    Some(WinterObservation {
        exposure_sd: TemperatureDelta::literal(own),
        shared_sd: TemperatureDelta::literal(shared),
        exposure_error: ExposureError::Reading,
        conditions,
        complete_list: r.complete,
        ..WinterObservation::new(cultivar as u32, reporter as u32, design.winters.0 + winter, read, DamageRange::exactly(said))
    })
}

/// Student's t, scaled so that half of it lies where half of the logistic does.
fn student(rng: &mut impl Rng, freedom: f64) -> f64 {
    let Ok(t) = StudentsT::new(0.0, 1.0, freedom) else { return logistic(rng) };
    let scale = 3.0_f64.ln() / t.inverse_cdf(0.75);
    scale * t.inverse_cdf(rng.random::<f64>().clamp(1e-9, 1.0 - 1e-9))
}

/// A cultivar, the first ones named more often: few are in every garden, most in hardly any.
fn popular(rng: &mut impl Rng, cultivars: usize) -> usize {
    let u: f64 = rng.random();
    ((cultivars as f64 * u * u) as usize).min(cultivars - 1)
}

fn logistic(rng: &mut impl Rng) -> f64 {
    let u: f64 = rng.random::<f64>().clamp(1e-16, 1.0 - 1e-16);
    (u / (1.0 - u)).ln()
}

fn draw_conditions(rng: &mut impl Rng) -> Conditions {
    let years = rng.random_range(0..12u32);
    Conditions {
        years: YearsEstablished::new(years).ok(),
        wood_years: None,
        container: rng.random_bool(0.15),
        protection: if rng.random_bool(0.3) { PROTECTIONS[rng.random_range(0..PROTECTIONS.len())] } else { Protection::None },
    }
}

/// Reports of cultivars of every class by so many reporters over so many winters, some with thermometers that err.
#[cfg(test)]
pub(super) fn society(priors: &Priors, seed: u64, (cultivars, reporters, winters, reports): (u8, u32, u8, usize)) -> Reports {
    use crate::science::cultivar::HardinessClass;
    use rand::SeedableRng;
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    let class = |c: u8| CultivarPrior { class: HardinessClass::new(c % 5 + 1).ok(), from_memory: false };
    let cultivars: Vec<CultivarPrior> = (0..cultivars).map(class).collect();
    let truth = Truth::draw(priors, &cultivars, &mut rng);
    let design = Design {
        cultivars,
        reporters,
        winters: (2010, winters.into()),
        reports,
        gardens: Gaussian::new(-13.0, 4.0),
        winter_spread: 3.0,
        thermometers: vec![0.3, 1.8],
        varied: true,
        faults: Faults::default(),
    };
    simulate(priors, truth, &design, &mut rng).reports
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    fn drawn(seed: u64) -> Simulated {
        let priors = prior_table::priors().unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let cultivars = vec![CultivarPrior::default(); 10];
        // Without harshness and shared winters, which nine reporters would not average out.
        let truth = Truth { sigma_r: 0.0, event_state: 0.0, ..Truth::draw(&priors, &cultivars, &mut rng) };
        let design = Design {
            cultivars,
            reporters: 9,
            winters: (2010, 8),
            reports: 4000,
            gardens: Gaussian::new(-14.0, 4.0),
            winter_spread: 3.0,
            thermometers: vec![0.0],
            varied: false,
            faults: Faults::default(),
        };
        simulate(&priors, truth, &design, &mut rng)
    }

    #[test]
    fn a_seed_gives_the_same_reports_and_another_seed_others() {
        assert_eq!(drawn(1), drawn(1));
        assert_ne!(drawn(1).reports, drawn(2).reports);
    }

    #[test]
    fn half_of_plants_at_their_t50_are_killed_to_the_ground_or_worse() {
        let s = drawn(3);
        let near: Vec<bool> = s
            .reports
            .observations
            .iter()
            .filter(|o| (o.exposure.degrees() - s.truth.hardiness[o.cultivar as usize]).abs() < 1.0)
            .map(|o| o.damage.low() >= DamageLevel::ToGround)
            .collect();
        let share = near.iter().filter(|k| **k).count() as f64 / near.len() as f64;
        assert!(near.len() > 100 && (share - 0.5).abs() < 0.15, "{share} of {}", near.len());
    }
}
