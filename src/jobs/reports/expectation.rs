//! What the model expects of a plant at the cold it met, and what would teach it most next.

use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::records::flag::{Flag, Flagged};
use crate::records::flag_rules;
use crate::records::met_cold::WINDY_SHARE;
use crate::records::words::Thermometer;
use crate::records::{Coldest, Plant, Report, WinterRecord};
use crate::science::climate::kind::ClimateKind;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::stage::Stage as NightStage;
use crate::science::exposure::{Age, Air, AnyNight, Circumstances, Course, Exposure, Gains, Hardening, PotInAir, Stand, StoreAir, expose};
use crate::science::hardiness::level::DamageLevel;
use crate::science::site::{Culture, PotVolume, Protection};
use crate::units::{Celsius, TemperatureDelta};

/// Chance of each damage level for a report's plant at the coldest temperature it met.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// Name of the cultivar.
    pub cultivar: String,
    /// Chance of each level, in the order of [`DamageLevel::ALL`].
    pub chances: [f64; 5],
    /// Chance of the levels that the report leaves possible.
    pub of_reported: Option<f64>,
}

/// Chances below this make an outcome a surprise worth a steward's look. Common practice.
pub const SURPRISE: f64 = 0.03;

impl Expectation {
    /// For a report with a cultivar of the catalogue, a coldest temperature and a protection the model knows.
    pub fn of(report: &Report, snapshot: &Snapshot) -> Option<Self> {
        Self::of_winter(&report.plant, &report.record, snapshot)
    }

    /// For a winter of a plant, likewise.
    pub fn of_winter(plant: &Plant, record: &WinterRecord, snapshot: &Snapshot) -> Option<Self> {
        let asked = Asked::of(plant, record, snapshot)?;
        let chances = asked.chances(&expose(&asked.circumstances, &snapshot.priors));
        let of_reported = record.damage().map(|d| chances.iter().skip(d.low().index()).take(d.high().index() - d.low().index() + 1).sum());
        Some(Self { cultivar: asked.name.to_owned(), chances, of_reported })
    }

    /// Whether the model finds the reported outcome very unlikely.
    pub fn is_surprise(&self) -> bool {
        self.of_reported.is_some_and(|chance| chance < SURPRISE)
    }

    /// In words.
    pub fn sentence(&self) -> String {
        let percent = |level: DamageLevel| match self.chances.get(level.index()).copied().unwrap_or(0.0) {
            little if little < 0.005 => "under 1 %".to_owned(),
            chance => format!("{:.0} %", 100.0 * chance),
        };
        format!(
            "At that cold the model expects {} unharmed: {}, tips lost: {}, wood lost: {}, killed to the ground: {}, dead: {}.",
            self.cultivar,
            percent(DamageLevel::Unharmed),
            percent(DamageLevel::Tips),
            percent(DamageLevel::Wood),
            percent(DamageLevel::ToGround),
            percent(DamageLevel::Dead)
        )
    }
}

/// A plant in a winter as it was reported.
struct Asked<'a> {
    snapshot: &'a Snapshot,
    standing: &'a CultivarModel,
    name: &'a str,
    thermometer: Thermometer,
    circumstances: Circumstances,
}

impl<'a> Asked<'a> {
    /// For a winter with a cultivar of the catalogue, a coldest temperature and a protection the model knows.
    fn of(plant: &Plant, record: &WinterRecord, snapshot: &'a Snapshot) -> Option<Self> {
        let slug = plant.cultivar.as_ref()?;
        let at = snapshot.catalogue.cultivars().iter().position(|cultivar| cultivar.slug == *slug)?;
        let (cultivar, standing) = (snapshot.catalogue.cultivars().get(at)?, snapshot.standings.get(at)?);
        let (met, protection) = (record.coldest.as_ref()?, record.cover.protection()?);
        let circumstances = circumstances(plant, record, (met, protection), snapshot);
        Some(Self { snapshot, standing, name: &cultivar.name, thermometer: met.thermometer, circumstances })
    }

    fn chances(&self, exposure: &Exposure) -> [f64; 5] {
        exposure.chance(&self.standing.belief, &self.snapshot.scale)
    }
}

/// A plant in a winter, whatever its coldest night: all else is as it was reported.
pub struct AtAnyCold<'a> {
    asked: Asked<'a>,
    night: AnyNight<'a>,
}

impl<'a> AtAnyCold<'a> {
    /// For a winter with a cultivar of the catalogue, a coldest temperature and a protection the model knows.
    pub fn of(plant: &Plant, record: &WinterRecord, snapshot: &'a Snapshot) -> Option<Self> {
        let asked = Asked::of(plant, record, snapshot)?;
        Some(Self { night: AnyNight::new(asked.circumstances.clone(), &snapshot.priors), asked })
    }

    /// Name of the cultivar.
    pub fn name(&self) -> &str {
        self.asked.name
    }

    /// Chance of each level, in the order of [`DamageLevel::ALL`], had the same thermometer read `coldest`.
    pub fn chances(&self, coldest: Celsius) -> [f64; 5] {
        let lowest = read_as(coldest, self.asked.thermometer, self.asked.snapshot);
        self.asked.chances(&self.night.meeting(lowest))
    }
}

/// The air where a thermometer reads this: it may err.
fn read_as(coldest: Celsius, thermometer: Thermometer, snapshot: &Snapshot) -> WinterMinimum {
    WinterMinimum::Normal { mean: coldest, spread: TemperatureDelta::literal(snapshot.report_priors.spread(thermometer)) }
}

/// Asked like a night of any other door: the air as the thermometer may err, the spot, the stage, the cover, pot or store, and the age as
/// reported.
fn circumstances(plant: &Plant, record: &WinterRecord, (met, protection): (&Coldest, Protection), snapshot: &Snapshot) -> Circumstances {
    let (priors, thermometer) = (&snapshot.priors, met.thermometer);
    let usual = priors.climate(ClimateKind::Inland);
    let pot = match plant.culture {
        Culture::Ground => None,
        Culture::Container(volume) => Some(PotInAir::on_ground(volume.map_or(priors.roots.litres_assumed, PotVolume::litres))),
    };
    let carried = protection == Protection::CarriedIn;
    let stage = record.stage.and_then(crate::records::met_cold::stage_of_night);
    Circumstances {
        air: Air {
            lowest: read_as(met.celsius, thermometer, snapshot),
            doubt_k: 0.0,
            windy_share: WINDY_SHARE,
            course: match pot {
                Some(_) => Course::daily(usual.spell_minima_k, usual.spell_maxima_k, &priors.usual_night),
                // What stands in the ground holds no heat of its own.
                None => Course::followed(Vec::new()),
            },
        },
        // A thermometer at the plant has the spot in it already.
        setting: plant.setting.filter(|_| thermometer != Thermometer::AtPlant).map(|setting| priors.setting(setting)),
        gains: if carried { Gains::NONE } else { Gains::of_cover(protection, WINDY_SHARE, priors) },
        stand: match pot {
            _ if carried => Stand::Store(StoreAir::of_store(record.store, priors), pot),
            Some(pot) => Stand::Pot(pot),
            None => Stand::Ground,
        },
        age: Age { years: plant.years_at(record.winter), wood_years: record.wood_years }.effects(priors),
        hardening: if let Some(prior) = stage.map(|stage| snapshot.night_priors.stage(stage)) {
            Hardening::Stage { share: prior.share, sd_k: prior.sd_k, tender: priors.tender }
        } else {
            let deficit = snapshot.report_priors.stage_unknown();
            Hardening::Short { deficit, doubt_k: deficit.sd }
        },
        roots_growing: stage.is_some_and(NightStage::roots_active),
        nights: None,
    }
}

/// Every flag that the rules and the model raise on a report that is sent.
pub fn flags(plant: &Plant, record: &WinterRecord, snapshot: &Snapshot, others: &[Report]) -> Vec<Flagged> {
    let mut raised = flag_rules::raise(plant, record, &snapshot.catalogue, others);
    if let Some(expected) = Expectation::of_winter(plant, record, snapshot)
        && let Some(chance) = expected.of_reported.filter(|_| expected.is_surprise())
    {
        let detail = format!("a chance of {:.1} % by model {}", 100.0 * chance, snapshot.model.version);
        raised.push(Flagged { flag: Flag::Surprising, detail });
        raised.sort();
    }
    raised
}

/// What would make this plant's next report worth most, given the lowest temperature that others reported of its cultivar, °C: a sentence,
/// where there is one to say.
pub fn next_best(report: &Report, coldest_c: Option<f64>, temperature: &dyn Fn(Celsius) -> String) -> Option<String> {
    if report.record.coldest.is_none() {
        return Some(
            "With the coldest temperature it met, your report would teach the model; a minimum thermometer beside the plant is enough."
                .to_owned(),
        );
    }
    let here = report.record.coldest.as_ref()?.celsius;
    match coldest_c {
        None => Some("Nobody has reported this cultivar yet: yours is the first.".to_owned()),
        Some(seen) if here.degrees() < seen => {
            Some(format!("Nobody has reported this cultivar below {}: your winter is the first.", temperature(Celsius::new(seen).ok()?)))
        }
        Some(seen) => Some(format!(
            "The coldest winter reported for this cultivar reached {}. A report of a colder one, or of a plant of another age, would teach most.",
            temperature(Celsius::new(seen).ok()?)
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn surprising(of_reported: Option<f64>) -> bool {
        Expectation { cultivar: String::new(), chances: [0.2; 5], of_reported }.is_surprise()
    }

    // The level is DESIGN: about one report in thirty of those that the model has right is looked at once more. What stands at the level is
    // no surprise, and what the reporter left open is none.
    #[test]
    fn less_than_three_in_a_hundred_is_a_surprise() {
        assert!((SURPRISE - 3.0 / 100.0).abs() < f64::EPSILON);
        assert!(surprising(Some(0.029_999)) && surprising(Some(0.0)));
        assert!(!surprising(Some(0.03)) && !surprising(Some(0.030_001)) && !surprising(None));
    }
}
