//! From an accepted report to the input of the fit: the equivalent midwinter minimum that the plant met, with its uncertainty.
//!
//! > E = T + setting − deficit of the stage,  variance = thermometer + setting + deficit
//!
//! Setting offsets are taken over half clear and half windy nights, since reports do not say which. The deficit of a stage is its share of
//! the way from the cultivar's expected hardiness to that of a tender plant. A plant carried in keeps a share of the distance to the
//! house, by the kind of store. Wood whose age is not known widens the doubt. Age, pot and protection are effects of the fit and not added here.

use super::evidence::AcceptedReport;
use super::words::{Cover, Stage, Thermometer};
use crate::science::cold_night::places::HOUSE_C;
use crate::science::cold_night::priors::NightPriors;
use crate::science::cold_night::stage::Stage as NightStage;
use crate::science::hardiness::observation::{Conditions, ExposureError, WinterObservation};
use crate::science::numeric::Gaussian;
use crate::science::priors::{PriorError, PriorRow, Priors, Table};
use crate::science::site::{Culture, Protection, Setting, Store, YearsEstablished};
use crate::units::{Celsius, TemperatureDelta};

/// How far the temperatures of reports are to be trusted.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportPriors {
    thermometers: Vec<(Thermometer, f64)>,
    stage_unknown: Gaussian,
}

impl ReportPriors {
    /// Reads every value; rows it does not know are left alone.
    pub fn from_rows(rows: &[PriorRow]) -> Result<Self, PriorError> {
        let table = Table(rows);
        let thermometers = Thermometer::ALL.iter().map(|&t| Ok((t, table.spread(&format!("thermometer_{t}"))?)));
        Ok(Self { thermometers: thermometers.collect::<Result<_, PriorError>>()?, stage_unknown: table.gaussian("stage_unknown")? })
    }

    /// Hardiness short of full where a report does not say the stage, K.
    pub const fn stage_unknown(&self) -> Gaussian {
        self.stage_unknown
    }

    /// Standard deviation of a reading, K.
    pub fn spread(&self, thermometer: Thermometer) -> f64 {
        self.thermometers.iter().find(|(t, _)| *t == thermometer).map_or(0.0, |(_, sd)| *sd)
    }
}

/// Everything that turns a temperature into an exposure.
#[derive(Debug, Clone, Copy)]
pub struct Exposures<'a> {
    /// Settings and stores.
    pub priors: &'a Priors,
    /// Stages.
    pub night: &'a NightPriors,
    /// Thermometers.
    pub report: &'a ReportPriors,
}

/// What a report says of the cold a plant met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MetCold {
    /// Coldest air temperature recorded.
    pub coldest: Celsius,
    /// How it was measured.
    pub thermometer: Thermometer,
    /// Where in the garden, where said.
    pub setting: Option<Setting>,
    /// What the plant was doing, where said.
    pub stage: Option<Stage>,
    /// What was done for the winter.
    pub cover: Cover,
    /// Whether a daily record says how hard it was: the stage is then in that.
    pub hardness_known: bool,
    /// Where it was carried in to, where said.
    pub store: Option<Store>,
}

impl MetCold {
    /// Of an accepted report.
    pub fn of(report: &AcceptedReport) -> Self {
        let AcceptedReport { coldest, thermometer, setting, stage, cover, store, harder_k, .. } = *report;
        Self { coldest, thermometer, setting, stage, cover, store, hardness_known: harder_k.is_some() }
    }
}

/// What a report says of a plant's stage, in the words of a night; `None`: not sure.
pub const fn stage_of_night(stage: Stage) -> Option<NightStage> {
    match stage {
        Stage::NotSure => None,
        Stage::Hard => Some(NightStage::Hard),
        Stage::LeavesDown => Some(NightStage::LeavesDown),
        Stage::InLeaf => Some(NightStage::InLeaf),
        Stage::Buds => Some(NightStage::Buds),
        Stage::Growing => Some(NightStage::Growing),
    }
}

/// Share of windy nights among those reported, where nothing is known of them.
pub const WINDY_SHARE: f64 = 0.5;

impl Exposures<'_> {
    /// The report as the fit takes it. `hardiness` is the cultivar's expected h, against which a stage's deficit is measured.
    pub fn observation(&self, report: &AcceptedReport, cultivar: u32, reporter: u32, hardiness: Celsius) -> Option<WinterObservation> {
        let met = self.met(&MetCold::of(report), hardiness);
        let protection = report.cover.protection()?;
        let shared = self.shared(&MetCold::of(report));
        let years = |years: Option<u8>| years.and_then(|y| YearsEstablished::new(u32::from(y)).ok());
        let conditions = Conditions {
            years: years(report.years),
            wood_years: years(report.wood_years),
            container: matches!(report.culture, Culture::Container(_)),
            protection,
        };
        let own = met.variance() - shared * shared + self.wood_doubt(&conditions).powi(2);
        Some(WinterObservation {
            cultivar,
            reporter,
            garden: report.garden,
            winter: report.winter.year(),
            exposure: Celsius::new(met.mean).ok()?,
            exposure_sd: TemperatureDelta::new(own.max(0.0).sqrt()).ok()?,
            shared_sd: TemperatureDelta::new(shared).ok()?,
            exposure_error: match report.thermometer {
                Thermometer::AtPlant | Thermometer::InGarden => ExposureError::Reading,
                Thermometer::Station | Thermometer::Forecast | Thermometer::Guess => ExposureError::Assigned,
            },
            damage: report.damage,
            conditions,
            hardening: report.harder_k.and_then(|k| TemperatureDelta::new(k).ok()),
            complete_list: report.complete_list,
            weight: report.weight(),
        })
    }

    /// Spread for wood of an age that is not known, K: as much as a plant of that age may have of younger wood.
    pub fn wood_doubt(&self, conditions: &Conditions) -> f64 {
        let has_older_wood = conditions.years.is_none_or(|years| years.years() >= 2);
        if conditions.wood_years.is_none() && has_older_wood { self.priors.wood_years_unknown.sd } else { 0.0 }
    }

    /// Share of the difference to a heated house that a store keeps, and that house's temperature, °C.
    fn store(&self, store: Option<Store>) -> (Gaussian, f64) {
        store.map_or((self.priors.carried_in_share, self.priors.carried_in_house_c), |store| (store.kind().share(), HOUSE_C))
    }

    /// Part of the spread of [`Self::met`] that all plants of the garden share that winter: how its one thermometer reads, K.
    fn shared(&self, report: &MetCold) -> f64 {
        let read = self.report.spread(report.thermometer);
        let in_store = report.cover == Cover::CarriedIn || report.cover.protection() == Some(Protection::CarriedIn);
        if in_store { read * (1.0 - self.store(report.store).0.mean) } else { read }
    }

    /// Equivalent midwinter minimum, °C, before age, pot and protection.
    pub fn met(&self, report: &MetCold, hardiness: Celsius) -> Gaussian {
        let read = Gaussian::new(report.coldest.degrees(), self.report.spread(report.thermometer));
        let stage = if report.hardness_known { Some(Stage::Hard) } else { report.stage };
        let deficit = self.deficit(stage, hardiness);
        let less_deficit = Gaussian::new(-deficit.mean, deficit.sd);
        if report.cover == Cover::CarriedIn || report.cover.protection() == Some(Protection::CarriedIn) {
            let (kept, house) = self.store(report.store);
            let distance = house - read.mean;
            let store = Gaussian::new(read.mean + kept.mean * distance, (read.sd * (1.0 - kept.mean)).hypot(kept.sd * distance.abs()));
            return store.plus(less_deficit);
        }
        // A thermometer at the plant has the setting in it already.
        let setting = match (report.thermometer, report.setting) {
            (Thermometer::AtPlant, _) | (_, None) => Gaussian::default(),
            (_, Some(setting)) => self.priors.setting(setting).over_nights(WINDY_SHARE),
        };
        read.plus(setting).plus(less_deficit)
    }

    fn deficit(&self, stage: Option<Stage>, hardiness: Celsius) -> Gaussian {
        let Some(stage) = stage.and_then(stage_of_night) else { return self.report.stage_unknown };
        let prior = self.night.stage(stage);
        let way = (self.priors.tender.mean - hardiness.degrees()).max(0.0);
        Gaussian::new(prior.share * way, prior.sd_k.hypot(prior.share * self.priors.tender.sd))
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::report;
    use super::*;
    use crate::catalogue::{night_prior_table, prior_table, report_prior_table};

    fn observed(change: impl Fn(&mut AcceptedReport)) -> WinterObservation {
        let priors = prior_table::priors().unwrap();
        let night = night_prior_table::priors().unwrap();
        let read = ReportPriors::from_rows(&report_prior_table::rows().unwrap()).unwrap();
        let exposures = Exposures { priors: &priors, night: &night, report: &read };
        let mut accepted = AcceptedReport::from_report(&report()).unwrap();
        change(&mut accepted);
        exposures.observation(&accepted, 0, 0, Celsius::literal(-17.0)).unwrap()
    }

    #[test]
    fn wood_of_unknown_age_widens_the_doubt_of_a_report_and_nothing_else() {
        let (known, unknown) = (observed(|r| r.wood_years = Some(6)), observed(|r| r.wood_years = None));
        assert_eq!(known.exposure, unknown.exposure);
        let added = unknown.exposure_sd.kelvin().powi(2) - known.exposure_sd.kelvin().powi(2);
        assert!((added - 1.0).abs() < 1e-9, "wood_years_unknown is 1 K: {added}");
        // A plant in its first winter has no older wood.
        let first = |wood| observed(|r| (r.years, r.wood_years) = (Some(0), wood)).exposure_sd;
        assert_eq!(first(None), first(Some(0)));
    }

    #[test]
    fn an_attached_garage_is_warmer_than_a_detached_shed_and_a_cellar_warmer_than_both() {
        let met = |store| observed(|r| (r.cover, r.store) = (Cover::CarriedIn, Some(store))).exposure.degrees();
        let [attached, detached, cellar] = [Store::AttachedGarage, Store::DetachedShed, Store::Cellar].map(met);
        assert!(detached < attached && attached < cellar, "{detached} {attached} {cellar}");
    }

    /// Growers' paired readings (`carried_in_share` of `seed-data/priors.csv`): a store keeps a quarter, ± a tenth, of the difference to a house at
    /// 20 °C. By hand: of 30 K between −10 °C and the house it keeps 7.5 ± 3 K, and three quarters of a thermometer's error come through.
    #[test]
    fn a_plant_carried_in_meets_a_quarter_less_of_the_cold() {
        let at = |cover| {
            observed(|r| {
                (r.coldest, r.thermometer, r.setting, r.stage) = (Celsius::literal(-10.0), Thermometer::InGarden, None, Some(Stage::Hard));
                (r.cover, r.store) = (cover, None);
            })
        };
        let (outside, inside) = (at(Cover::None), at(Cover::CarriedIn));
        assert!((inside.exposure.degrees() - outside.exposure.degrees() - 7.5).abs() < 1e-9, "{inside:?} {outside:?}");
        let (error, error_inside) = (outside.shared_sd.kelvin(), inside.shared_sd.kelvin());
        assert!(error > 0.0 && (error_inside - 0.75 * error).abs() < 1e-9, "{error} {error_inside}");
        let own = |o: &WinterObservation| o.exposure_sd.kelvin().powi(2);
        assert!((own(&inside) - own(&outside) - 3.0 * 3.0).abs() < 1e-9, "{} {}", own(&inside), own(&outside));
    }

    // Tissue in leaf is less hard, so the same night counts as a colder one: as much so in a store as outside, where the plant is the same.
    #[test]
    fn a_plant_caught_in_leaf_met_more_cold_in_a_store_as_outside() {
        let at = |cover, stage| observed(|r| (r.cover, r.store, r.stage) = (cover, None, Some(stage))).exposure.degrees();
        let [outside, inside] = [Cover::None, Cover::CarriedIn].map(|cover| at(cover, Stage::Hard) - at(cover, Stage::InLeaf));
        assert!(outside > 0.5 && (outside - inside).abs() < 1e-9, "{outside} {inside}");
    }
}
