//! A model as other processes pick it up: from a snapshot into what the store keeps, and back, without fitting.
//!
//! Kept are the belief and the points of each cultivar, the shared values and the scores. The fit itself is not: a process that picked a
//! model up begins its own next fit from the priors.

use std::sync::Arc;

use arc_swap::ArcSwap;
use serde::{Deserialize, Serialize};

use crate::catalogue::{Catalogue, report_prior_table};
use crate::model::snapshot::{Snapshot, SnapshotError};
use crate::model::trained::FittedFruiting;
use crate::model::trained::{FittedEffects, ModelVersion, Point, Scored, TrainedModel};
use crate::science::fruiting::first_ripe::Pooled;
use crate::science::fruiting::shoots::ShootBelief;
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::DamageRange;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::Gaussian;
use crate::store::KeptModel;
use crate::token;

/// Form of the state and of the arithmetic behind it; raised whenever either changes, so that processes of two makes share models where both
/// fit alike and only there: an upgrade that leaves the arithmetic alone goes on with the kept model. A test holds it to the numbers of a fit.
const FORM: u32 = 7;

/// A model that cannot be kept or picked up.
#[derive(Debug, thiserror::Error)]
pub enum KeptModelError {
    /// Not the JSON it should be.
    #[error("the model {version} cannot be read or written: {reason}")]
    Json {
        /// Its name.
        version: String,
        /// Why.
        reason: serde_json::Error,
    },
    /// Made for another catalogue or other priors.
    #[error("the model {version} was made from other inputs than this process has")]
    OtherInputs {
        /// Its name.
        version: String,
    },
    /// A value no model has.
    #[error("the model {version} holds a belief or a level of damage that cannot be")]
    Value {
        /// Its name.
        version: String,
    },
    /// The priors it stands on.
    #[error(transparent)]
    Snapshot(#[from] SnapshotError),
}

/// What reports put in the place of priors.
#[derive(Serialize, Deserialize)]
struct State {
    hardiness: Option<HardinessState>,
    fruit: Option<FittedFruiting>,
    #[serde(default)]
    shoots: Option<ShootBelief>,
    #[serde(default)]
    fruit_trouble: Option<String>,
}

#[derive(Serialize, Deserialize)]
struct HardinessState {
    lesson: FittedEffects,
    scale: DamageScale,
    left_out: usize,
    /// In the order of the catalogue.
    cultivars: Vec<CultivarState>,
}

#[derive(Serialize, Deserialize)]
struct CultivarState {
    /// Weight, mean °C and spread K of each part.
    belief: Vec<(f64, f64, f64)>,
    /// Mean °C, spread K, least and greatest damage of each report.
    points: Vec<(f64, f64, DamageLevel, DamageLevel)>,
    /// How many reports each point stands for; empty where each is one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    counts: Vec<usize>,
}

impl Snapshot {
    /// Digest of everything but reports that a fit takes in: form of the model, cultivars with their classes, every table of priors.
    pub fn inputs(&self) -> Result<String, SnapshotError> {
        let cultivars = self.catalogue.cultivars().iter().zip(&self.standings);
        let cultivars: Vec<_> = cultivars
            .map(|(c, s)| {
                (
                    c.slug.as_str(),
                    s.class.map(u8::from),
                    s.class_from_memory,
                    c.fruit_kind.known(),
                    c.crop_habit.known(),
                    c.ripening.known(),
                )
            })
            .collect();
        let tables = (&self.prior_rows, &self.fruit_prior_rows, &self.night_prior_rows, report_prior_table::rows()?);
        // What is kept for good is hashed over serialised values: the text that shows a value in a debugger may change with the compiler.
        // Without families the digest is what it was before there were any, so that a kept model stands.
        let families: Vec<_> =
            self.catalogue.cultivars().iter().filter_map(|c| Some((c.slug.as_str(), c.family.as_ref()?.as_str()))).collect();
        let written = if families.is_empty() {
            serde_json::to_vec(&(FORM, cultivars, tables))?
        } else {
            serde_json::to_vec(&(FORM, cultivars, tables, families))?
        };
        Ok(token::hash(written))
    }

    /// What the store keeps of this model. `at` is the moment it was made.
    pub fn to_keep(&self, reports_version: i64, at: jiff::Timestamp) -> Result<KeptModel, KeptModelError> {
        let version = self.model.version.clone();
        let json = |reason| KeptModelError::Json { version: version.clone(), reason };
        let hardiness = self.learned.as_ref().map(|learned| HardinessState {
            lesson: learned.lesson.clone(),
            scale: self.scale,
            left_out: learned.left_out,
            cultivars: self.standings.iter().zip(&learned.points).map(|(s, points)| cultivar_state(&s.belief, points)).collect(),
        });
        let state = State { hardiness, fruit: self.fruit_effects.clone(), shoots: self.shoots, fruit_trouble: self.fruit_trouble.clone() };
        let scored = self.learned.as_ref().map(|learned| learned.scored.load_full()).unwrap_or_default();
        Ok(KeptModel {
            reports_version,
            inputs: self.inputs()?,
            reports: self.model.reports,
            fitted: at,
            scores: serde_json::to_string(scored.as_ref()).map_err(json)?,
            state: serde_json::to_string(&state).map_err(json)?,
            version,
        })
    }

    /// The snapshot that another process made, from what it left in the store.
    pub fn from_kept(catalogue: Catalogue, kept: &KeptModel) -> Result<Self, KeptModelError> {
        let json = |reason| KeptModelError::Json { version: kept.version.clone(), reason };
        let impossible = || KeptModelError::Value { version: kept.version.clone() };
        let mut snapshot = Self::from_priors(catalogue)?;
        if snapshot.inputs()? != kept.inputs {
            return Err(KeptModelError::OtherInputs { version: kept.version.clone() });
        }
        let state: State = serde_json::from_str(&kept.state).map_err(json)?;
        let mut scored: Scored = serde_json::from_str(&kept.scores).map_err(json)?;
        if state.hardiness.is_some() || state.fruit.is_some() {
            snapshot.model = ModelVersion { version: kept.version.clone(), reports: kept.reports, fitted_at: Some(kept.fitted), ahead: 0 };
        }
        let of_cultivars = |pooled: &Option<Pooled>| pooled.as_ref().is_none_or(|p| p.cultivars.len() == snapshot.standings.len());
        if !state.fruit.as_ref().is_none_or(|lesson| of_cultivars(&lesson.ripe.main) && of_cultivars(&lesson.ripe.breba)) {
            return Err(impossible());
        }
        snapshot.take_fruit_lesson(state.fruit);
        snapshot.shoots = state.shoots;
        snapshot.fruit_trouble = state.fruit_trouble;
        // No usable reports: the priors of hardiness stand.
        let Some(state) = state.hardiness else { return Ok(snapshot) };
        if state.cultivars.len() != snapshot.standings.len() {
            return Err(impossible());
        }
        let before = snapshot.standings.iter().map(|s| s.belief.clone()).collect();
        let mut points = Vec::with_capacity(state.cultivars.len());
        for (standing, kept) in snapshot.standings.iter_mut().zip(state.cultivars) {
            let parts = kept.belief.into_iter().map(|(weight, mean, sd)| (weight, Gaussian::new(mean, sd)));
            standing.belief = HardinessBelief::mixture(parts).ok_or_else(impossible)?.joined();
            let counts = kept.counts.into_iter().chain(std::iter::repeat(1));
            let own: Vec<Point> = kept.points.into_iter().zip(counts).map(point).collect();
            standing.reports = own.iter().map(|point| point.reports).sum();
            points.push(own);
        }
        snapshot.count_family_reports();
        let scale_before = std::mem::replace(&mut snapshot.scale, state.scale);
        snapshot.take_hardiness_lesson(&state.lesson);
        // Models kept before scores named theirs had their own.
        if scored.of.is_none() && scored.by_winter.is_some() {
            scored.of = Some(snapshot.model.clone());
        }
        snapshot.learned = Some(TrainedModel {
            fitted: None,
            reporters: Arc::default(),
            lesson: state.lesson,
            scored: ArcSwap::from_pointee(scored),
            points,
            before,
            scale_before,
            left_out: state.left_out,
        });
        Ok(snapshot)
    }
}

fn cultivar_state(belief: &HardinessBelief, points: &[Point]) -> CultivarState {
    CultivarState {
        belief: belief.components().iter().map(|c| (c.weight, c.h.mean, c.h.sd)).collect(),
        points: points.iter().map(|p| (p.exposure.mean, p.exposure.sd, p.damage.low(), p.damage.high())).collect(),
        counts: if points.iter().all(|p| p.reports == 1) { Vec::new() } else { points.iter().map(|p| p.reports).collect() },
    }
}

fn point(((mean, sd, low, high), reports): ((f64, f64, DamageLevel, DamageLevel), usize)) -> Point {
    Point { exposure: Gaussian::new(mean, sd), damage: DamageRange::between(low, high), reports }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Slug;
    use crate::model::learn_hardiness::learn;
    use crate::model::learn_hardiness::tests::demonstration;
    use crate::records::evidence::AcceptedReport;
    use crate::records::words::{Cover, Stage, Thermometer};
    use crate::records::{MemberId, ReportId};
    use crate::science::hardiness::ordinal::FitOptions;
    use crate::science::site::Culture;
    use crate::units::Celsius;

    #[test]
    fn a_model_comes_back_as_it_was_kept_without_a_fit() {
        let made = demonstration();
        let kept = made.to_keep(5, jiff::Timestamp::UNIX_EPOCH).unwrap();
        let back = Snapshot::from_kept(Catalogue::embedded().unwrap(), &kept).unwrap();
        assert_eq!(back.model, made.model);
        // JSON keeps a number to the last place but one.
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-12 * a.abs().max(1.0);
        for (a, b) in back.standings.iter().zip(&made.standings) {
            assert_eq!(a.reports, b.reports);
            assert!(near(a.belief.mean().degrees(), b.belief.mean().degrees()) && near(a.belief.sd().kelvin(), b.belief.sd().kelvin()));
        }
        let learned = |s: &Snapshot, level| s.shown(level).degree_days_by_which(0.9).0;
        for level in DamageLevel::ALL {
            assert!(near(learned(&back, level), learned(&made, level)));
        }
        for (a, b) in back.standings.iter().zip(&made.standings) {
            let need = |s: &crate::model::snapshot::CultivarModel| s.fruit.main_need(&back.fruit_priors);
            assert!(near(need(a).mean, need(b).mean) && near(need(a).sd, need(b).sd));
            assert_eq!(a.first_figs, b.first_figs);
        }
        assert!(near(back.scale.beta, made.scale.beta));
        let (a, b) = (back.learned.unwrap(), made.learned.unwrap());
        assert!(a.fitted.is_none());
        assert_eq!(a.points.iter().map(Vec::len).collect::<Vec<_>>(), b.points.iter().map(Vec::len).collect::<Vec<_>>());
        assert_eq!(a.lesson.effects.len(), b.lesson.effects.len());
        let skill = |l: &TrainedModel| l.scored.load().by_winter.as_ref().unwrap().skill_over_class();
        assert_eq!(a.scored.load().of, b.scored.load().of);
        assert!(near(skill(&a), skill(&b)));
    }

    /// Some reports that stay as they are, whatever becomes of the demonstration.
    fn fixed_reports() -> Vec<AcceptedReport> {
        let report = |n: usize| AcceptedReport {
            id: ReportId(uuid::Uuid::from_u128(n as u128)),
            cultivar: Slug::new(["celeste", "brown-turkey", "mission"][n % 3]).unwrap(),
            reporter: Some(MemberId(uuid::Uuid::from_u128(1000 + n as u128 % 5))),
            garden: (n % 5) as u16,
            winter: ["2021/22", "2022/23", "2023/24"][n % 3 * 2 % 3].parse().unwrap(),
            coldest: Celsius::literal(-6.0 - (n * 7 % 11) as f64),
            thermometer: Thermometer::AtPlant,
            setting: None,
            culture: Culture::Ground,
            cover: Cover::None,
            stage: Some(Stage::Hard),
            years: Some(3 + (n % 6) as u8),
            wood_years: None,
            store: None,
            harder_k: None,
            damage: DamageRange::exactly(DamageLevel::ALL[(n * 7 % 11 + n % 2) / 3]),
            doubtful: n.is_multiple_of(7),
            complete_list: false,
        };
        (0..40).map(report).collect()
    }

    // An upgrade keeps the kept model where this digest stays. Four figures: machines differ in the last places.
    #[test]
    fn the_arithmetic_of_a_fit_is_that_of_its_form() {
        const OF_FORM: (u32, &str) = (7, "-1.496e1 1.087e0 -1.514e1 1.094e0 -1.430e1 1.129e0 1.043e0");
        let at = jiff::Timestamp::UNIX_EPOCH;
        let made = learn(Catalogue::embedded().unwrap(), fixed_reports(), Vec::new(), None, at, 5, FitOptions::default()).unwrap();
        let of = |slug: &str| made.standing(slug).unwrap().belief.clone();
        let numbers: Vec<String> = ["celeste", "brown-turkey", "mission"]
            .iter()
            .flat_map(|slug| [of(slug).mean().degrees(), of(slug).sd().kelvin()])
            .chain([made.scale.beta])
            .map(|number| format!("{number:.3e}"))
            .collect();
        assert_eq!((FORM, numbers.join(" ").as_str()), OF_FORM, "the fit gives other numbers: raise FORM and write the new ones here");
    }

    #[test]
    fn an_upgrade_keeps_the_kept_model() {
        let inputs = Snapshot::from_seed().unwrap().inputs().unwrap();
        let mut other = Snapshot::from_seed().unwrap();
        other.model.version = "priors-99.0.0".to_owned();
        assert_eq!(other.inputs().unwrap(), inputs);
    }

    #[test]
    fn priors_alone_are_kept_as_priors_alone() {
        let kept = Snapshot::from_seed().unwrap().to_keep(0, jiff::Timestamp::UNIX_EPOCH).unwrap();
        let back = Snapshot::from_kept(Catalogue::embedded().unwrap(), &kept).unwrap();
        assert!(back.learned.is_none() && back.model.fitted_at.is_none());
    }

    #[test]
    fn a_model_of_other_inputs_or_with_broken_text_is_refused() {
        let kept = Snapshot::from_seed().unwrap().to_keep(0, jiff::Timestamp::UNIX_EPOCH).unwrap();
        let read = |kept: &KeptModel| Snapshot::from_kept(Catalogue::embedded().unwrap(), kept);
        assert!(matches!(read(&KeptModel { inputs: "other".to_owned(), ..kept.clone() }), Err(KeptModelError::OtherInputs { .. })));
        assert!(matches!(read(&KeptModel { state: "{".to_owned(), ..kept }), Err(KeptModelError::Json { .. })));
    }
}
