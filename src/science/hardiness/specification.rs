//! What is learned of hardiness from winter reports: the cumulative-logit engine with the cultivars, classes and conditions of the model.
//!
//! > P(y ≥ k) = F([β·(h_c − E_i + s_g) + r_j − κ_k]/c_i),  h_c ~ N(μ_class, σ_h²),  r_j ~ N(0, σ_r²),  s_g ~ N(0, σ_e² + v_g)
//!
//! s_g is what all plants of a garden share in a winter: what a thermometer does not tell, and v_g how the one thermometer reads. μ_class
//! comes from published evidence. A report may be about something else: with a small share ε, which is learned, any level is as likely as
//! any other ([`super::ordinal::fit_robust`]). Thermometers may err by more than is stated of them ([`super::thermometer`]).
//!
//! A class from memory gives the cultivar a deviation of its own with the table's extra spread; a cultivar with no class has a mean of its
//! own, with the mean and spread of the mixture over classes, and its belief is brought back to the mixture afterwards (`posterior`). Age,
//! pot and protection are effects in K with the table's priors, age being that of the standing wood; what crown and roots gain further, and
//! by how much they are harder than younger wood above them, shifts the threshold of death by its prior mean. Nothing but reported damage moves them.
//!
//! With [`PriorUse::Flat`] class means and effects are maximised like the thresholds: the ordinary cumulative-link mixed model.

use std::collections::{BTreeMap, BTreeSet};

use super::calibration::{Calibration, Exposed};
use super::evidence::Evidence;
use super::hyperparameters::Hyperparameters;
use super::observation::{Conditions, CultivarPrior, WinterObservation};
use super::ordinal::{DataError, FitOptions, Group, Layout, Observation, Problem, ProblemBuilder, Role, Spec};
use crate::science::cultivar::HardinessClass;
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;
use crate::science::site::{Protection, YearsEstablished};

/// Whether the evidence takes part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PriorUse {
    /// Every prior of the table.
    #[default]
    Evidence,
    /// None: for comparison with other programs, and to see what the reports say alone.
    Flat,
}

/// What the likelihood allows for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(clippy::struct_excessive_bools, reason = "each is a part that a comparison may leave out by itself")]
pub struct Likelihood {
    /// A state that all plants of one garden share in one winter.
    pub shared_winter: bool,
    /// A threshold of death of its own for plants in their first three winters.
    pub young_death: bool,
    /// Reports that do not say what happened, a share that is learned.
    pub contamination: bool,
    /// Thermometers that err by more than is stated of them, by an amount that is learned.
    pub unstated_error: bool,
}

impl Likelihood {
    /// None of it: cultivars, reporters and conditions alone.
    pub const PLAIN: Self = Self { shared_winter: false, young_death: false, contamination: false, unstated_error: false };
}

impl Default for Likelihood {
    /// All of it: what the service fits.
    fn default() -> Self {
        Self { shared_winter: true, young_death: true, contamination: true, unstated_error: true }
    }
}

/// What to fit.
#[derive(Debug, Clone)]
pub struct HardinessSpec<'a> {
    /// The table of priors; with [`PriorUse::Flat`] only where the search begins.
    pub priors: &'a Priors,
    /// Whether they count.
    pub prior_use: PriorUse,
    /// What the likelihood allows for.
    pub likelihood: Likelihood,
    /// How hard to work.
    pub effort: FitOptions<'a>,
}

/// Reports that cannot be fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// No reports, and no priors to fall back on.
    #[error("there are no reports to fit, and without priors nothing else to say")]
    NoReports,
    /// Too many of something to number.
    #[error("there are more than {0} cultivars, which the model does not take")]
    TooManyCultivars(usize),
    /// A report that does not fit the rest.
    #[error("report {index}: {reason}")]
    Report {
        /// Place among the observations, from 0.
        index: usize,
        /// What is wrong.
        reason: DataError,
    },
    /// Nobody waits for it any more.
    #[error("the fit was told to stop")]
    Stopped,
    /// The specification as a whole.
    #[error(transparent)]
    Model(#[from] DataError),
}

/// Most cultivars of one fit: the dense border grows with their square.
pub const MOST_CULTIVARS: usize = 3000;

/// Something that moves every T50 of a report, K.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Effect {
    /// First or second winter.
    FirstTwoWinters,
    /// Third winter.
    ThirdWinter,
    /// Fourth or fifth winter.
    FourthFifthWinter,
    /// A pot in the open.
    Container,
    /// Gain of a protection at the wood.
    Protection(Protection),
}

impl Effect {
    /// Key of its row in the table of priors.
    pub fn key(self) -> String {
        match self {
            Self::FirstTwoWinters => "age_0_1".to_owned(),
            Self::ThirdWinter => "age_2".to_owned(),
            Self::FourthFifthWinter => "age_3_4".to_owned(),
            Self::Container => "container_outdoors".to_owned(),
            Self::Protection(p) => format!("protect_{p}"),
        }
    }

    /// Its prior, K. Reports do not say what kind of night it was, so gains are taken over half clear and half windy nights.
    pub fn prior(self, priors: &Priors) -> Gaussian {
        let [first_two, third, fourth_fifth, _] = priors.age;
        match self {
            Self::FirstTwoWinters => first_two,
            Self::ThirdWinter => third,
            Self::FourthFifthWinter => fourth_fifth,
            Self::Container => priors.container,
            Self::Protection(p) => priors.protection(p).0.over_nights(0.5),
        }
    }

    /// +1 where it makes the plant tenderer, −1 where it makes the cold milder.
    pub(super) fn sign(self) -> f64 {
        if matches!(self, Self::Protection(_)) { -1.0 } else { 1.0 }
    }

    /// What wood or roots of an age are tenderer by; `None` once old, or where not known.
    pub(super) fn of_age(years: Option<YearsEstablished>) -> Option<Self> {
        match years.map(YearsEstablished::years) {
            Some(0 | 1) => Some(Self::FirstTwoWinters),
            Some(2) => Some(Self::ThirdWinter),
            Some(3 | 4) => Some(Self::FourthFifthWinter),
            _ => None,
        }
    }

    /// By how much the base is harder than the top for being older than its wood, K, by the table.
    pub(super) fn base_older_k(conditions: Conditions, priors: &Priors) -> f64 {
        let of = |years| Self::of_age(years).map_or(0.0, |age| age.prior(priors).mean);
        of(conditions.top_years()) - of(conditions.years)
    }

    pub(super) fn of(conditions: Conditions) -> impl Iterator<Item = Self> {
        let age = Self::of_age(conditions.top_years());
        let protection = match conditions.protection {
            // Mulch gains nothing at the wood by its prior, and in a store the exposure is the store's.
            Protection::None | Protection::Mulch | Protection::CarriedIn => None,
            p => Some(Self::Protection(p)),
        };
        [age, conditions.container.then_some(Self::Container), protection].into_iter().flatten()
    }
}

/// Where each piece of the model sits among the engine's effects.
#[derive(Debug, Clone, Default)]
pub(super) struct Places {
    /// Class means present.
    pub classes: [Option<u16>; HardinessClass::COUNT],
    /// Common mean of cultivars without a class (flat priors).
    pub unclassed: Option<u16>,
    /// Group level of each cultivar that has reports. The others are not in the engine: their class says all there is.
    pub levels: Vec<Option<u32>>,
    /// A reported cultivar's own mean (no class) or deviation (class from memory).
    pub own: Vec<Option<u16>>,
    pub effects: BTreeMap<Effect, u16>,
    /// Whether young plants have a threshold of death of their own.
    pub young_death: bool,
    /// Share of the computed hardening that is real, where reports have one.
    pub hardening: Option<u16>,
}

/// The engine's problem for a set of reports.
pub(super) struct Model {
    pub problem: Problem,
    pub parameters: Hyperparameters,
    pub places: Places,
    pub calibration: Option<Calibration>,
    /// Reports of each cultivar.
    pub counts: Vec<u32>,
}

/// How a report enters the engine.
pub(super) struct Entry {
    columns: [(u16, f64); 7],
    used: usize,
    top_shift: f64,
    top: u8,
    exposure: Exposed,
    level: u32,
}

/// Computed hardening is taken to this, K: finer than it is known, and few distinct values keep the problem small.
const HARDENING_STEP_K: f64 = 0.1;

impl Places {
    /// A report in the engine's columns, its exposure calibrated; flat adds its class mean, which is the group's parent otherwise.
    pub fn entry(
        &self,
        cultivars: &[CultivarPrior],
        o: &WinterObservation,
        calibration: Option<&Calibration>,
        priors: &Priors,
        use_: PriorUse,
    ) -> Entry {
        let exposure = Calibration::apply(calibration, o);
        // A cultivar without a level is refused by the engine, whose levels end before this.
        let level = self.levels.get(o.cultivar as usize).copied().flatten().unwrap_or(u32::MAX);
        let mut entry = Entry { columns: [(0, 0.0); 7], used: 0, top_shift: 0.0, top: 0, exposure, level };
        let cultivar = cultivars.get(o.cultivar as usize).copied().unwrap_or_default();
        if use_ == PriorUse::Flat {
            entry.add(cultivar.class.map_or(self.unclassed, |c| self.classes[c.index()]), 1.0);
        }
        for effect in Effect::of(o.conditions) {
            entry.add(self.effects.get(&effect).copied(), effect.sign());
        }
        if let Some(harder) = o.hardening {
            entry.add(self.hardening, -(harder.kelvin() / HARDENING_STEP_K).round() * HARDENING_STEP_K);
        }
        if use_ == PriorUse::Evidence {
            entry.top_shift = priors.protection(o.conditions.protection).1.mean + Effect::base_older_k(o.conditions, priors);
        }
        entry.top = u8::from(self.young_death && o.conditions.young());
        entry
    }
}

impl Entry {
    fn add(&mut self, place: Option<u16>, value: f64) {
        if let Some(place) = place {
            self.columns[self.used] = (place, value);
            self.used += 1;
        }
    }

    /// Calibrated exposure, °C and K, all of its error together.
    pub fn exposure(&self) -> Gaussian {
        Gaussian::new(self.exposure.mean, self.exposure.own.hypot(self.exposure.shared))
    }

    /// How much harder the plant was than at the reference, as the engine takes it, K.
    pub fn softer_k(&self, hardening: Option<u16>) -> f64 {
        self.columns[..self.used].iter().filter(|(place, _)| Some(*place) == hardening).map(|(_, x)| x).sum()
    }

    /// Which threshold of death it stands under.
    pub fn top(&self) -> u8 {
        self.top
    }

    /// Further gain of crown and roots, K.
    pub fn top_shift(&self) -> f64 {
        self.top_shift
    }

    /// As the engine takes it.
    pub fn observation(&self, o: &WinterObservation) -> Observation<'_> {
        Observation {
            low: o.damage.low().index() as u8,
            high: o.damage.high().index() as u8,
            exposure: self.exposure.mean,
            exposure_sd: self.exposure.own,
            shared_sd: self.exposure.shared,
            weight: o.weight,
            group: self.level,
            crossed: o.reporter,
            nested: o.event(),
            effects: &self.columns[..self.used],
            top_shift: self.top_shift,
            top: self.top,
        }
    }
}

/// Mean and spread over the classes of a cultivar that has none.
pub(super) fn mixture_of_classes(priors: &Priors) -> Gaussian {
    let total: f64 = priors.class_weights.iter().sum();
    let parts = || priors.class_means.iter().zip(priors.class_weights.iter().map(|w| w / total));
    let mean: f64 = parts().map(|(g, w)| w * g.mean).sum();
    let variance: f64 = parts().map(|(g, w)| w * (g.variance() + (g.mean - mean).powi(2))).sum();
    Gaussian::new(mean, variance.sqrt())
}

/// What a set of reports is about.
#[derive(Default)]
struct Survey {
    /// Reports of each cultivar.
    counts: Vec<u32>,
    /// Each once, there are few.
    effects: Vec<Effect>,
    hardening: bool,
    seen: usize,
    /// The first report of a cultivar that there is not.
    refused: Option<FitError>,
}

impl Survey {
    fn add(&mut self, o: &WinterObservation) {
        let unknown = DataError::Index { what: "cultivar", index: o.cultivar as usize, count: self.counts.len() };
        match self.counts.get_mut(o.cultivar as usize) {
            Some(count) => *count += 1,
            None => _ = self.refused.get_or_insert(FitError::Report { index: self.seen, reason: unknown }),
        }
        for effect in Effect::of(o.conditions) {
            if !self.effects.contains(&effect) {
                self.effects.push(effect);
            }
        }
        self.hardening |= o.hardening.is_some();
        self.seen += 1;
    }
}

/// Puts reports into the engine, with the effects they hold and any besides; thermometers err by `unstated_k` beyond what is stated.
pub(super) fn model(
    spec: &HardinessSpec<'_>,
    reports: &dyn Evidence,
    besides: impl Iterator<Item = Effect>,
    unstated_k: f64,
) -> Result<Model, FitError> {
    if spec.effort.is_stopped() {
        return Err(FitError::Stopped);
    }
    let cultivars = reports.cultivars();
    if cultivars.len() > MOST_CULTIVARS {
        return Err(FitError::TooManyCultivars(MOST_CULTIVARS));
    }
    let priors = spec.priors;
    let flat = spec.prior_use == PriorUse::Flat;
    let mut roles = Vec::new();
    let mut values = Vec::new();
    let mut take = |prior: Gaussian| {
        values.push(prior.mean);
        roles.push(if flat { Role::Maximised } else { Role::Normal { mean: prior.mean, sd: prior.sd, scaled: true } });
        (roles.len() - 1) as u16
    };
    // Reports may be made anew each time that they are gone through, so both go through them together.
    let mut survey = Survey { counts: vec![0; cultivars.len()], ..Survey::default() };
    let readings = reports.observations().inspect(|o| survey.add(o));
    let calibration = Calibration::learn((reports.reporters() as usize, reports.count()), readings, unstated_k);
    let Survey { counts, effects, hardening, seen: count, refused } = survey;
    if let Some(error) = refused {
        return Err(error);
    }
    let mut places = Places { own: vec![None; cultivars.len()], levels: vec![None; cultivars.len()], ..Places::default() };
    places.young_death = spec.likelihood.young_death;
    let mut reported = Vec::new();
    for (cultivar, level) in places.levels.iter_mut().enumerate().filter(|(cultivar, _)| counts[*cultivar] > 0) {
        *level = Some(reported.len() as u32);
        reported.push(cultivar);
    }
    let prior_of = |cultivar: &usize| cultivars[*cultivar];
    for class in HardinessClass::all() {
        if reported.iter().any(|c| prior_of(c).class == Some(class)) {
            places.classes[class.index()] = Some(take(priors.class_means[class.index()]));
        }
    }
    let unclassed = mixture_of_classes(priors);
    if flat && reported.iter().any(|c| prior_of(c).class.is_none()) {
        places.unclassed = Some(take(unclassed));
    }
    if !flat {
        let memory = priors.class_from_memory.kelvin();
        for &cultivar in &reported {
            let prior = cultivars[cultivar];
            if prior.class.is_none() {
                places.own[cultivar] = Some(take(unclassed));
            } else if prior.from_memory && memory > 0.0 {
                places.own[cultivar] = Some(take(Gaussian::new(0.0, memory)));
            }
        }
    }
    for effect in effects.into_iter().chain(besides).collect::<BTreeSet<_>>() {
        places.effects.insert(effect, take(effect.prior(priors)));
    }
    if hardening {
        places.hardening = Some(take(priors.hardening_share));
    }
    let parent = |cultivar: &usize| prior_of(cultivar).class.map_or(places.own[*cultivar], |class| places.classes[class.index()]);
    let parents = reported.iter().map(|c| if flat { None } else { parent(c).map(usize::from) }).collect();
    // The own mean of a cultivar without a class is its parent; a deviation from a class comes besides.
    let deviation = |c: &usize| places.own[*c].filter(|_| prior_of(c).class.is_some()).map(usize::from);
    let own = reported.iter().map(deviation).collect();
    let engine = Spec {
        levels: super::level::DamageLevel::ALL.len(),
        exposure: true,
        effects: roles,
        group: Some(Group { parents, own, scaled: true }),
        crossed: Some((reports.reporters() as usize).max(1)),
        nested: spec.likelihood.shared_winter,
        further_tops: usize::from(spec.likelihood.young_death),
    };
    let layout = Layout::new(&engine, if flat { values.len() } else { 0 });
    let mut builder = Problem::builder(engine)?;
    builder.expecting(count, spec.effort.threads);
    let put = |builder: &mut ProblemBuilder, o: &WinterObservation| {
        let entry = places.entry(cultivars, o, calibration.as_ref(), priors, spec.prior_use);
        builder.push(&entry.observation(o))
    };
    let observations = reports.observations().take_while(|_| !spec.effort.is_stopped());
    builder.push_all(observations, put).map_err(|(index, reason)| FitError::Report { index, reason })?;
    if spec.effort.is_stopped() {
        return Err(FitError::Stopped);
    }
    let problem = builder.finish()?;
    let parameters = Hyperparameters::new(layout, priors, !flat, if flat { &values } else { &[] });
    Ok(Model { problem, parameters, places, calibration, counts })
}
