//! The starting values of the model as typed numbers, read from the rows of `seed-data/priors.csv` (their one home, with provenance).

use serde::{Deserialize, Serialize};

use super::climate::kind::ClimateKind;
use super::cultivar::HardinessClass;
use super::hardiness::belief::HardinessBelief;
use super::hardiness::scale::DamageScale;
use super::numeric::Gaussian;
use super::site::{Protection, Setting, Settings};
use crate::units::TemperatureDelta;

/// Share of a further setting's offset that may be in the first already: its doubt, as a standard deviation. DESIGN.
const OVERLAP_SHARE: f64 = 0.5;

/// One row of the table of priors, as written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PriorRow {
    /// Name of the value.
    pub key: String,
    /// One number; `clear|windy` for values that depend on the night; five for class weights.
    pub value: String,
    /// Standard deviation, in the same layout; empty where none is used.
    pub spread: String,
    /// Unit of value and spread.
    pub unit: String,
    /// What it applies to, in words.
    pub applies_to: String,
    /// READ, MEMORY, COMMON_PRACTICE, COMPUTED or DESIGN.
    pub provenance: String,
    /// Reason or source.
    pub note: String,
}

/// A table of priors that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PriorError {
    /// A value the model needs is not in the table.
    #[error("the table of priors has no row “{0}”")]
    Missing(String),
    /// A row whose numbers cannot be read or used.
    #[error("row “{key}” of the table of priors: “{read}” is not {accepted}")]
    Unreadable {
        /// The row.
        key: String,
        /// The cell as read.
        read: String,
        /// What would be accepted.
        accepted: &'static str,
    },
}

/// A gain or offset that depends on the night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NightGain {
    /// On clear still nights, K.
    pub clear: Gaussian,
    /// On windy nights, K.
    pub windy: Gaussian,
}

impl NightGain {
    /// Mean and spread over the coldest nights of a climate, `windy_share` of which are windy.
    pub fn over_nights(&self, windy_share: f64) -> Gaussian {
        self.clear.mixed_with(self.windy, windy_share)
    }
}

/// What a kind of climate brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClimatePrior {
    /// Standard deviation of the yearly minimum between winters.
    pub spread: TemperatureDelta,
    /// Hardiness on the coldest nights short of that at the reference station, K: its mean, and its spread over winters and doubt together.
    pub deficit: Gaussian,
    /// Part of that spread that is doubt: the same every winter, K.
    pub deficit_doubt_k: f64,
    /// Daily minima of the week that ends with the coldest night, above it, K.
    pub spell_minima_k: [f64; 7],
    /// Daily maxima of that week, the last being the day after the coldest night, above it, K.
    pub spell_maxima_k: [f64; 7],
    /// Share of coldest nights that are windy outbreaks, 0..=1.
    pub windy_share: f64,
}

/// A night of which nothing but the lowest is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualNight {
    /// Sunset to sunrise, h.
    pub hours: f64,
    /// Two hours after sunset above the lowest, K.
    pub evening_drop_k: f64,
}

impl UsualNight {
    pub(crate) fn read(table: &Table<'_>) -> Result<Self, PriorError> {
        Ok(Self { hours: table.value("night_hours")?, evening_drop_k: table.value("evening_drop")? })
    }
}

/// What roots in pots stand, and how well a pot's temperature is known. No value was ever measured on figs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RootPriors {
    /// Root temperature at which half lose their young roots, °C.
    pub young_roots: Gaussian,
    /// Root temperature at which half die, °C: dormant, from the fourth winter on.
    pub death: Gaussian,
    /// The same in the first three winters.
    pub death_young: Gaussian,
    /// The same in leaf or growth.
    pub death_growing: Gaussian,
    /// Steepness of root kill, 1/K.
    pub beta: f64,
    /// Spread of a pot's lowest temperature as a share of its distance to the air.
    pub pot_doubt: f64,
    /// Share of a cover's gain that a pot on paving gets.
    pub cover_share: f64,
    /// Volume of a pot where it is not given, L.
    pub litres_assumed: f64,
}

/// Every starting value, typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors {
    /// β (1/K) with the spread of its logarithm.
    pub beta: Gaussian,
    /// T50(tips) − T50(to the ground), K.
    pub gap_tips: Gaussian,
    /// T50(wood) − T50(to the ground), K.
    pub gap_wood: Gaussian,
    /// T50(to the ground) − T50(dead), K, from the fourth winter on.
    pub gap_dead: Gaussian,
    /// The same in the first three winters.
    pub gap_dead_young: Gaussian,
    /// Mean of h per hardiness class, °C.
    pub class_means: [Gaussian; 5],
    /// Extra spread where a class rests on memory, K.
    pub class_from_memory: TemperatureDelta,
    /// Share of each class among cultivars with none.
    pub class_weights: [f64; 5],
    /// Spread of cultivars within a class, K, with its own spread.
    pub sigma_h: Gaussian,
    /// Spread of reporters, logits, with its own spread.
    pub sigma_r: Gaussian,
    /// Shared by all plants of one garden in one winter, K, with its own spread: what a thermometer does not tell.
    pub event_state: Gaussian,
    /// λ: share of the hardening shortfall computed from daily temperatures that is real for figs, 0..=1.
    pub hardening_share: Gaussian,
    /// Colder by so much per doubling of the nights near the lowest, K.
    pub repeat_nights: Gaussian,
    /// Added to every T50 of the top where the age of its wood is not known, K.
    pub wood_years_unknown: Gaussian,
    /// Most of the way from full hardiness to tender that old wood goes while leaves and shoots are green, 0..=1.
    pub green_wood_share: f64,
    /// h of a plant with no hardening, °C.
    pub tender: Gaussian,
    /// What roots in pots stand.
    pub roots: RootPriors,
    /// Share of reports that do not say what happened: a mistaken plant, winter or level.
    pub contamination: Gaussian,
    /// Error of a garden's thermometer beyond what is stated of it, K, ≥ 0.
    pub thermometer_unstated: Gaussian,
    /// Effect of age on every T50, K: first two winters, third, fourth and fifth, later.
    pub age: [Gaussian; 4],
    /// Effect of a pot in the open on every T50, K.
    pub container: Gaussian,
    /// Share of the difference to a house that a store keeps, and that share's spread.
    pub carried_in_share: Gaussian,
    /// Temperature of the house beside the store, °C.
    pub carried_in_house_c: f64,
    /// Share of the season's heat that evergreen trees overhead take; none where a table of priors does not say.
    pub evergreen_shade: Gaussian,
    /// A night of which nothing but the lowest is known.
    pub usual_night: UsualNight,
    pub(in crate::science) climates: [ClimatePrior; 3],
    settings: [NightGain; 8],
    protections: [(NightGain, Gaussian); 7],
}

/// Rows of the table by key, with the readers of its cell layouts.
pub(crate) struct Table<'a>(pub(crate) &'a [PriorRow]);

impl Table<'_> {
    pub(crate) fn row(&self, key: &str) -> Result<&PriorRow, PriorError> {
        self.0.iter().find(|r| r.key == key).ok_or_else(|| PriorError::Missing(key.to_owned()))
    }

    pub(crate) fn numbers<const N: usize>(key: &str, cell: &str, accepted: &'static str) -> Result<[f64; N], PriorError> {
        let unreadable = || PriorError::Unreadable { key: key.to_owned(), read: cell.to_owned(), accepted };
        let parsed: Option<Vec<f64>> = cell.split('|').map(|t| t.trim().parse().ok().filter(|x: &f64| x.is_finite())).collect();
        parsed.and_then(|v| v.try_into().ok()).ok_or_else(unreadable)
    }

    pub(crate) fn value(&self, key: &str) -> Result<f64, PriorError> {
        Self::numbers::<1>(key, &self.row(key)?.value, "one number").map(|[x]| x)
    }

    pub(crate) fn spread(&self, key: &str) -> Result<f64, PriorError> {
        let cell = &self.row(key)?.spread;
        let unreadable = || PriorError::Unreadable { key: key.to_owned(), read: cell.clone(), accepted: "a spread ≥ 0" };
        if cell.trim().is_empty() {
            return Ok(0.0);
        }
        Self::numbers::<1>(key, cell, "one number").and_then(|[x]| (x >= 0.0).then_some(x).ok_or_else(unreadable))
    }

    pub(crate) fn gaussian(&self, key: &str) -> Result<Gaussian, PriorError> {
        Ok(Gaussian::new(self.value(key)?, self.spread(key)?))
    }

    fn by_night(&self, key: &str) -> Result<NightGain, PriorError> {
        let row = self.row(key)?;
        let [clear, windy] = Self::numbers(key, &row.value, "two numbers, clear|windy")?;
        let [clear_sd, windy_sd] = Self::numbers(key, &row.spread, "two spreads, clear|windy")?;
        Ok(NightGain { clear: Gaussian::new(clear, clear_sd), windy: Gaussian::new(windy, windy_sd) })
    }

    fn seven(&self, key: &str) -> Result<[f64; 7], PriorError> {
        Self::numbers(key, &self.row(key)?.value, "seven numbers")
    }

    fn climate(&self, kind: ClimateKind) -> Result<ClimatePrior, PriorError> {
        let spread = format!("spread_{kind}");
        let spread_k = self.value(&spread)?;
        Ok(ClimatePrior {
            spread: TemperatureDelta::new(spread_k).ok().filter(|s| s.kelvin() > 0.0).ok_or(PriorError::Unreadable {
                key: spread,
                read: spread_k.to_string(),
                accepted: "a spread > 0 K",
            })?,
            deficit: self.gaussian(&format!("deficit_{kind}"))?,
            deficit_doubt_k: self.value(&format!("deficit_doubt_{kind}"))?,
            spell_minima_k: self.seven(&format!("spell_minima_{kind}"))?,
            spell_maxima_k: self.seven(&format!("spell_maxima_{kind}"))?,
            windy_share: self.value(&format!("windy_{kind}"))?.clamp(0.0, 1.0),
        })
    }

    fn protection(&self, protection: Protection) -> Result<(NightGain, Gaussian), PriorError> {
        if protection == Protection::CarriedIn {
            return Ok((NightGain { clear: Gaussian::default(), windy: Gaussian::default() }, Gaussian::default()));
        }
        Ok((self.by_night(&format!("protect_{protection}"))?, self.gaussian(&format!("base_{protection}"))?))
    }
}

impl RootPriors {
    pub(crate) fn read(table: &Table<'_>) -> Result<Self, PriorError> {
        Ok(Self {
            young_roots: table.gaussian("root_young")?,
            death: table.gaussian("root_death")?,
            death_young: table.gaussian("root_death_young")?,
            death_growing: table.gaussian("root_death_growing")?,
            beta: table.value("root_beta")?,
            pot_doubt: table.value("pot_doubt")?,
            cover_share: table.value("cover_pot_share")?,
            litres_assumed: table.value("pot_litres_assumed")?,
        })
    }
}

impl Priors {
    /// Reads every value the model needs; rows it does not know are left alone.
    pub fn from_rows(rows: &[PriorRow]) -> Result<Self, PriorError> {
        let table = Table(rows);
        let class = |n: u8| table.gaussian(&format!("class_{n}"));
        let climate = |kind| table.climate(kind);
        let setting = |s: Setting| table.by_night(&format!("setting_{s}"));
        let protection = |p: Protection| table.protection(p);
        Ok(Self {
            beta: table.gaussian("beta")?,
            gap_tips: table.gaussian("gap_tips")?,
            gap_wood: table.gaussian("gap_wood")?,
            gap_dead: table.gaussian("gap_dead")?,
            gap_dead_young: table.gaussian("gap_dead_young")?,
            class_means: [class(1)?, class(2)?, class(3)?, class(4)?, class(5)?],
            class_from_memory: TemperatureDelta::literal(table.spread("class_from_memory")?),
            class_weights: Table::numbers("class_weights", &table.row("class_weights")?.value, "five shares")?,
            sigma_h: table.gaussian("sigma_h")?,
            sigma_r: table.gaussian("sigma_r")?,
            event_state: table.gaussian("event_state")?,
            hardening_share: table.gaussian("hardening_share")?,
            repeat_nights: table.gaussian("repeat_nights")?,
            wood_years_unknown: table.gaussian("wood_years_unknown")?,
            green_wood_share: table.value("green_wood_share")?.clamp(0.0, 1.0),
            tender: table.gaussian("tender")?,
            roots: RootPriors::read(&table)?,
            contamination: table.gaussian("contamination")?,
            thermometer_unstated: table.gaussian("thermometer_unstated")?,
            age: [table.gaussian("age_0_1")?, table.gaussian("age_2")?, table.gaussian("age_3_4")?, table.gaussian("age_5_up")?],
            container: table.gaussian("container_outdoors")?,
            carried_in_share: table.gaussian("carried_in_share")?,
            carried_in_house_c: table.value("carried_in_house")?,
            usual_night: UsualNight::read(&table)?,
            evergreen_shade: table.row("evergreen_shade").and_then(|row| table.gaussian(&row.key)).or_else(|missing| match missing {
                PriorError::Missing(_) => Ok(Gaussian::default()),
                other @ PriorError::Unreadable { .. } => Err(other),
            })?,
            climates: [climate(ClimateKind::Coast)?, climate(ClimateKind::Inland)?, climate(ClimateKind::Continental)?],
            settings: [
                setting(Setting::Open)?,
                setting(Setting::Wall)?,
                setting(Setting::Courtyard)?,
                setting(Setting::Hollow)?,
                setting(Setting::Slope)?,
                setting(Setting::Town)?,
                setting(Setting::Water)?,
                setting(Setting::Trees)?,
            ],
            protections: [
                protection(Protection::None)?,
                protection(Protection::Mulch)?,
                protection(Protection::Wrap)?,
                protection(Protection::CoverToGround)?,
                protection(Protection::FilledCage)?,
                protection(Protection::UnheatedHouse)?,
                protection(Protection::CarriedIn)?,
            ],
        })
    }

    /// Counts hardening by another share than the table's: deficits of the kinds of climate are in proportion to it, and so is their doubt in
    /// its spread. DERIVED: a deficit is the share times computed differences, which do not change.
    pub fn count_hardening(&mut self, share: Gaussian) {
        let share = Gaussian::new(share.mean.clamp(0.0, 1.0), share.sd);
        let before = std::mem::replace(&mut self.hardening_share, share);
        if before.mean <= 0.0 {
            return;
        }
        for climate in &mut self.climates {
            let computed = climate.deficit.mean / before.mean;
            let others = climate.deficit_doubt_k.powi(2) - (computed * before.sd).powi(2);
            let luck = (climate.deficit.variance() - climate.deficit_doubt_k.powi(2)).max(0.0);
            climate.deficit_doubt_k = (others.max(0.0) + (computed * share.sd).powi(2)).sqrt();
            climate.deficit = Gaussian::new(computed * share.mean, (luck + climate.deficit_doubt_k.powi(2)).sqrt());
        }
    }

    /// What a kind of climate brings.
    pub fn climate(&self, kind: ClimateKind) -> ClimatePrior {
        let [coast, inland, continental] = self.climates;
        match kind {
            ClimateKind::Coast => coast,
            ClimateKind::Inland => inland,
            ClimateKind::Continental => continental,
        }
    }

    /// Offset of the plant's air from the open, by night.
    pub fn setting(&self, setting: Setting) -> NightGain {
        let [open, wall, courtyard, hollow, slope, town, water, trees] = self.settings;
        match setting {
            Setting::Open => open,
            Setting::Wall => wall,
            Setting::Courtyard => courtyard,
            Setting::Hollow => hollow,
            Setting::Slope => slope,
            Setting::Town => town,
            Setting::Water => water,
            Setting::Trees => trees,
        }
    }

    /// Offset of several settings at once: each night's offsets and the squares of their doubts add up. DESIGN: nothing measured says how far two of
    /// them overlap (trees and walls both hide the sky), so every further one carries a doubt of half its own offset.
    pub fn settings(&self, settings: Settings) -> NightGain {
        let none = NightGain { clear: Gaussian::default(), windy: Gaussian::default() };
        let mut gains: Vec<NightGain> = settings.iter().map(|s| self.setting(s)).collect();
        // The largest counts whole; of the others it is not known how much of them is in it already.
        gains.sort_by(|a, b| b.clear.mean.abs().total_cmp(&a.clear.mean.abs()));
        gains.iter().enumerate().fold(none, |sum, (i, gain)| {
            let overlap = |of: Gaussian| if i == 0 { of } else { Gaussian::new(of.mean, of.sd.hypot(OVERLAP_SHARE * of.mean)) };
            NightGain { clear: sum.clear.plus(overlap(gain.clear)), windy: sum.windy.plus(overlap(gain.windy)) }
        })
    }

    /// Gain at the wood by night, and the further gain at crown and roots.
    pub fn protection(&self, protection: Protection) -> (NightGain, Gaussian) {
        let [none, mulch, wrap, cover, cage, house, carried] = self.protections;
        match protection {
            Protection::None => none,
            Protection::Mulch => mulch,
            Protection::Wrap => wrap,
            Protection::CoverToGround => cover,
            Protection::FilledCage => cage,
            Protection::UnheatedHouse => house,
            Protection::CarriedIn => carried,
        }
    }

    /// β and gaps at their starting values.
    pub fn scale(&self) -> DamageScale {
        DamageScale { beta: self.beta.mean, gap_tips_k: self.gap_tips.mean, gap_wood_k: self.gap_wood.mean, gap_dead_k: self.gap_dead.mean }
    }

    /// Belief about h of a cultivar nobody has reported yet: its class, or the mixture over classes where it has none.
    pub fn belief(&self, class: Option<HardinessClass>, from_memory: bool) -> HardinessBelief {
        let doubt = Gaussian::new(0.0, self.sigma_h.mean.hypot(if from_memory { self.class_from_memory.kelvin() } else { 0.0 }));
        let of = |class: Gaussian| class.plus(doubt);
        let [first, ..] = self.class_means;
        let parts = |wanted: Option<usize>| {
            self.class_means.iter().zip(self.class_weights).enumerate().map(move |(i, (mean, weight))| {
                let weight = wanted.map_or(weight, |w| if w == i { 1.0 } else { 0.0 });
                (weight, of(*mean))
            })
        };
        HardinessBelief::mixture(parts(class.map(HardinessClass::index)))
            .unwrap_or_else(|| HardinessBelief::mixture([(1.0, of(first))]).unwrap_or_else(|| unreachable!("a weight of 1 is positive")))
    }
}
