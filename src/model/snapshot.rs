//! What every answer is made from: catalogue, priors and model at one moment, immutable. A new one is swapped in, never changed.

use std::sync::Arc;

use arc_swap::ArcSwapOption;

use crate::model::kept_answers::KeptAnswers;
use crate::model::trained::{FirstFigs, FittedEffects, FittedFruiting, ModelVersion, TrainedModel};

use crate::catalogue::prior_table::PriorTableError;
use crate::catalogue::{Catalogue, CatalogueError, Cultivar, night_prior_table, prior_table, report_prior_table};
use crate::records::met_cold::{Exposures, ReportPriors};
use crate::science::cold_night::priors::NightPriors;
use crate::science::cold_night::risk::Rules;
use crate::science::cultivar::HardinessClass;
use crate::science::fruiting::shoots::ShootBelief;
use crate::science::fruiting::{FruitPriors, FruitTraits};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::fit::Effect;
use crate::science::hardiness::scale::DamageScale;
use crate::science::priors::{PriorRow, Priors};
use crate::science::propagation::PropagationPriors;

/// What is believed of one cultivar, and on what grounds.
#[derive(Debug, Clone)]
pub struct CultivarModel {
    /// Hardiness of an established plant in the ground.
    pub belief: HardinessBelief,
    /// Fruit.
    pub fruit: FruitTraits,
    /// Winter reports about it in the model.
    pub reports: usize,
    /// Winter reports of others of its family in the model, which it borrows from; `None` where it has no family.
    pub family_reports: Option<usize>,
    /// Reports of its ripening in the model.
    pub first_figs: FirstFigs,
    /// Whether those reports are simulated.
    pub simulated: bool,
    /// Whether the cultivar itself is invented, for a demonstration.
    pub invented: bool,
    /// Its class, where it has one.
    pub class: Option<HardinessClass>,
    /// Whether that class rests on memory alone.
    pub class_from_memory: bool,
}

/// Winter reports from which on a hardiness is no guess any more, whatever its class came from. DESIGN.
const NO_GUESS_FROM: usize = 3;

impl CultivarModel {
    /// Whether its hardiness is a guess: no source gives a class, and hardly any report says otherwise.
    pub fn is_guess(&self) -> bool {
        !self.invented
            && (self.class.is_none() || self.class_from_memory)
            && self.reports + self.family_reports.unwrap_or(0) < NO_GUESS_FROM
    }
}

/// Catalogue and model of one moment.
#[derive(Debug)]
pub struct Snapshot {
    /// Every cultivar.
    pub catalogue: Catalogue,
    /// The tables of priors as written, for show: hardiness, then fruit.
    pub prior_rows: Vec<PriorRow>,
    /// Priors of fruit as written.
    pub fruit_prior_rows: Vec<PriorRow>,
    /// Starting values of a cold night as written.
    pub night_prior_rows: Vec<PriorRow>,
    /// The priors, typed; values that reports have moved as they stand now.
    pub priors: Priors,
    /// The priors of fruit, typed.
    pub fruit_priors: FruitPriors,
    /// Starting values of propagation as written.
    pub propagation_prior_rows: Vec<PriorRow>,
    /// Starting values of propagation, typed.
    pub propagation_priors: PropagationPriors,
    /// Starting values of a cold night, typed.
    pub night_priors: NightPriors,
    /// How far the temperatures of reports are to be trusted.
    pub report_priors: ReportPriors,
    /// Steepness and gaps in use.
    pub scale: DamageScale,
    /// What is believed of each cultivar, in the order of the catalogue.
    pub standings: Vec<CultivarModel>,
    /// What stands behind the model.
    pub model: ModelVersion,
    /// What was learned from reports; `None` for priors alone.
    pub learned: Option<TrainedModel>,
    /// What reports have said of spring and fruit; `None` where they have said nothing.
    pub fruit_effects: Option<FittedFruiting>,
    /// What reports have said of the length of new shoots; `None` where they have said nothing.
    pub shoots: Option<ShootBelief>,
    /// Why the dates of growth and fruit taught nothing, where they could not be fitted; the tables stand then.
    pub fruit_trouble: Option<String>,
    /// Whether members and reports are simulated.
    pub simulated: bool,
    /// Why a later state of the reports could not be learned from, where that is so.
    trouble: ArcSwapOption<String>,
    /// Answers already written: each is a pure function of its question and this snapshot.
    pub kept: KeptAnswers,
}

/// A snapshot that cannot be made from what is kept or shipped.
#[derive(Debug, thiserror::Error)]
pub enum SnapshotError {
    /// The catalogue.
    #[error(transparent)]
    Catalogue(#[from] CatalogueError),
    /// The priors.
    #[error(transparent)]
    Priors(#[from] PriorTableError),
    /// The inputs of the model cannot be written down.
    #[error("the inputs of the model cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// A cultivar's standing with priors alone.
fn cultivar_model_from_priors(cultivar: &Cultivar, priors: &Priors) -> CultivarModel {
    let class = cultivar.hardiness_class.known();
    let class_from_memory = class.is_some() && cultivar.hardiness_class.provenance.rests_on_memory_alone();
    CultivarModel {
        belief: priors.belief(class, class_from_memory),
        fruit: cultivar.fruit_traits(),
        reports: 0,
        family_reports: None,
        first_figs: FirstFigs::default(),
        simulated: false,
        invented: cultivar.is_invented(),
        class,
        class_from_memory,
    }
}

impl Snapshot {
    /// What turns the temperature of a report into an exposure.
    pub fn exposures(&self) -> Exposures<'_> {
        Exposures { priors: &self.priors, night: &self.night_priors, report: &self.report_priors }
    }

    /// Puts what reports have taught of values that all plants share in the place of their starting values.
    pub(super) fn take_hardiness_lesson(&mut self, lesson: &FittedEffects) {
        let priors = &mut self.priors;
        priors.event_state = lesson.event_state;
        if let Some(gap) = lesson.gap_dead_young {
            priors.gap_dead_young = gap;
        }
        if let Some(share) = lesson.hardening_share {
            priors.count_hardening(share);
        }
        for (effect, learned) in &lesson.effects {
            let age = match effect {
                Effect::FirstTwoWinters => 0,
                Effect::ThirdWinter => 1,
                Effect::FourthFifthWinter => 2,
                Effect::Container | Effect::Protection(_) => continue,
            };
            priors.age[age] = *learned;
        }
    }

    /// The starting values as the tables have them, whatever reports have taught.
    pub fn priors_before(&self) -> Priors {
        Priors::from_rows(&self.prior_rows).unwrap_or_else(|_| self.priors.clone())
    }

    /// What decides over every plant on a cold night alike.
    pub fn rules(&self) -> Rules<'_> {
        Rules { scale: &self.scale, priors: &self.priors, night: &self.night_priors }
    }

    /// Priors alone, no reports, for a catalogue.
    pub fn from_priors(catalogue: Catalogue) -> Result<Self, SnapshotError> {
        let prior_rows = prior_table::rows()?;
        let fruit_prior_rows = prior_table::fruit_rows()?;
        let priors = Priors::from_rows(&prior_rows).map_err(PriorTableError::from)?;
        let fruit_priors = FruitPriors::from_rows(&fruit_prior_rows).map_err(PriorTableError::from)?;
        let night_prior_rows = night_prior_table::rows()?;
        let night_priors = NightPriors::from_rows(&night_prior_rows).map_err(PriorTableError::from)?;
        let propagation_prior_rows = prior_table::propagation_rows()?;
        let propagation_priors = PropagationPriors::from_rows(&propagation_prior_rows).map_err(PriorTableError::from)?;
        let report_priors = ReportPriors::from_rows(&report_prior_table::rows()?).map_err(PriorTableError::from)?;
        let standings = catalogue.cultivars().iter().map(|c| cultivar_model_from_priors(c, &priors)).collect();
        let mut snapshot = Self {
            catalogue,
            prior_rows,
            fruit_prior_rows,
            night_prior_rows,
            propagation_prior_rows,
            propagation_priors,
            night_priors,
            report_priors,
            scale: priors.scale(),
            priors,
            fruit_priors,
            standings,
            model: ModelVersion { version: format!("priors-{}", env!("CARGO_PKG_VERSION")), reports: 0, fitted_at: None, ahead: 0 },
            learned: None,
            fruit_effects: None,
            shoots: None,
            fruit_trouble: None,
            simulated: false,
            trouble: ArcSwapOption::empty(),
            kept: KeptAnswers::default(),
        };
        snapshot.lend_classes();
        Ok(snapshot)
    }

    /// Why newer reports are not in this model, where fitting them failed.
    pub fn trouble(&self) -> Option<Arc<String>> {
        self.trouble.load_full()
    }

    /// Keeps the reason a newer model could not be made; answers do not change.
    pub fn note_trouble(&self, trouble: Option<String>) {
        self.trouble.store(trouble.map(Arc::new));
    }

    /// What is believed of the cultivar with this slug.
    pub fn standing(&self, slug: &str) -> Option<&CultivarModel> {
        self.catalogue.place(slug).and_then(|place| self.standings.get(place))
    }

    /// Priors alone, for the shipped catalogue: for commands that need no server.
    pub fn from_seed() -> Result<Self, SnapshotError> {
        Self::from_priors(Catalogue::embedded()?)
    }
}
