//! The rows of the published tables, and how a report becomes them.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::catalogue::change::epithet;
use crate::catalogue::{Catalogue, Slug};
use crate::records::place::{Cell, PublishedPlace};
use crate::records::words::{
    Base, Cover, Fruit, JudgedBy, LossCause, NameCertainty, Regrowth, Stage, Thermometer, TopKilled, TypedUnit, Vitality,
};
use crate::records::{FirstGrowth, HeatMet, Plant, Report, ReviewState, Winter, text};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::DamageRange;
use crate::science::site::{Culture, PotVolume, Setting, Store};

/// A row of `plants.csv`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlantRow {
    /// Id for life.
    pub plant_id: String,
    /// Name as the grower wrote it.
    pub name_written: String,
    /// Key into the names table.
    pub cultivar: Option<Slug>,
    /// Name of the cultivar.
    pub cultivar_name: Option<String>,
    /// Always `Ficus carica L.`
    pub scientific_name: String,
    /// Always `cultivated`.
    #[serde(default)]
    pub degree_of_establishment: String,
    /// How sure the name is.
    pub name_certainty: NameCertainty,
    /// Year planted.
    pub planted_year: Option<i16>,
    /// Setting.
    pub setting: Option<Setting>,
    /// `ground` or `container`.
    pub culture: String,
    /// Volume of the pot, L.
    pub container_l: Option<f64>,
    /// Middle of the published cell, degrees.
    pub latitude: Option<f64>,
    /// Middle of the published cell, degrees.
    pub longitude: Option<f64>,
    /// Side of the cell, degrees.
    pub coordinate_precision: Option<f64>,
    /// How far the plant may be from the middle, m.
    pub coordinate_uncertainty_m: Option<u32>,
    /// `EPSG:4326` where there is a point.
    pub geodetic_datum: Option<String>,
    /// What was done to the point, or why there is none.
    pub data_generalizations: String,
}

/// A row of `winter-reports.csv`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WinterRow {
    /// Id of the report.
    pub report_id: String,
    /// Id of the plant.
    pub plant_id: String,
    /// Key into the names table.
    pub cultivar: Option<Slug>,
    /// Winter.
    pub winter: Winter,
    /// Always an observation by a person.
    #[serde(default)]
    pub basis_of_record: String,
    /// First and last day of the winter.
    pub event_date: String,
    /// Day looked at.
    pub looked_on: Date,
    /// How it was judged.
    pub judged_by: Option<JudgedBy>,
    /// Top growth killed.
    pub top_killed: TopKilled,
    /// The base, where the trunk meets the ground.
    #[serde(default)]
    pub base: Option<Base>,
    /// Whole plant.
    pub vitality: Vitality,
    /// Place of regrowth.
    pub regrew_from: Option<Regrowth>,
    /// First growth seen on.
    pub first_growth_on: Option<Date>,
    /// No growth seen by.
    pub no_growth_by: Option<Date>,
    /// Cause of a loss.
    pub cause_of_loss: Option<LossCause>,
    /// The same where the whole plant is dead.
    #[serde(default)]
    pub cause_of_death: Option<LossCause>,
    /// Lowest damage level the answers leave possible.
    pub damage: Option<DamageLevel>,
    /// Highest damage level the answers leave possible.
    pub damage_high: Option<DamageLevel>,
    /// Coldest met, °C, to two decimals.
    pub coldest_c: Option<f64>,
    /// The digits as typed, in plain decimal form.
    pub coldest_typed: Option<String>,
    /// Unit typed.
    pub coldest_unit: Option<TypedUnit>,
    /// How it was measured.
    pub thermometer: Option<Thermometer>,
    /// Stage then.
    pub stage: Option<Stage>,
    /// Protection.
    pub protection: Cover,
    /// Where it was carried in to.
    #[serde(default)]
    pub store: Option<Store>,
    /// Whole years since planting.
    pub age_years: Option<u8>,
    /// Whole years of the standing wood.
    #[serde(default)]
    pub wood_years: Option<u8>,
    /// Longest new shoot by autumn, cm.
    #[serde(default)]
    pub shoot_cm: Option<u16>,
    /// Fruit in the season after.
    pub fruit: Option<Fruit>,
    /// First ripe fig on.
    pub first_ripe_on: Option<Date>,
    /// Heat to the date of growth, degree-days.
    pub heat_to_growth_dd: Option<f64>,
    /// Heat to the first ripe fig, degree-days.
    pub heat_to_ripe_dd: Option<f64>,
    /// Heat to the first autumn night of −1 °C where figs set and none ripened, degree-days.
    pub heat_to_frost_dd: Option<f64>,
    /// By how much harder than at the reference on the coldest night, K.
    #[serde(default)]
    pub harder_k: Option<f64>,
    /// Whether every plant of the garden was reported.
    pub complete_list: bool,
    /// Verdict of the review.
    pub review: ReviewState,
    /// Codes of automatic flags, parted by spaces.
    pub flags: String,
    /// Number of the version.
    pub version: i64,
    /// Day it was first sent.
    pub sent_on: Date,
    /// Who recorded it, as they wish to be named.
    pub recorded_by: String,
    /// Code that joins the reports of one reporter; empty for members who have left.
    pub reporter: Option<String>,
    /// Licence.
    pub licence: String,
}

/// A row of `withdrawn.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WithdrawnRow {
    /// Id of a report that was published once.
    pub report_id: String,
    /// Day from which it no longer counts.
    pub withdrawn_on: Date,
}

/// Who recorded a report, as shown to everyone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Credited {
    /// Handle, “a member” or “a former member”.
    pub recorded_by: String,
    /// Code that joins the reports of one reporter.
    pub reporter: Option<String>,
}

/// The plain decimal form of a typed number: comma and true minus replaced, digits kept.
fn plain_decimal(typed: &str) -> String {
    typed.trim().replace(['−', '–'], "-").replace(',', ".")
}

pub(super) fn day(moment: jiff::Timestamp) -> Date {
    jiff::tz::TimeZone::UTC.to_datetime(moment).date()
}

/// Two decimals: a hundredth of a degree is finer than any thermometer here.
pub(super) fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// What was done to a point before publication.
pub(super) fn cell_words(cell: Option<Cell>) -> String {
    cell.map_or_else(
        || "no point given, or not published".to_owned(),
        |c| format!("rounded to the {} degree grid, middle of the cell; held at 0.01", c.side_deg()),
    )
}

/// Steps in which sums of heat are published, degree-days: exact ones tell which of some thousand stations counted them.
const HEAT_STEP_DD: f64 = 10.0;

/// Steps in which computed hardiness is published, K: for the same reason.
const HARDER_STEP_K: f64 = 0.5;

fn heat_step(sum: f64) -> f64 {
    (sum / HEAT_STEP_DD).round() * HEAT_STEP_DD
}

/// What is published of the sums of heat of a report: in steps, and nothing where nothing is said of the place, for they would say it.
pub fn public_heat(report: &Report) -> Option<HeatMet> {
    let heat = report.record.heat.filter(|_| !report.plant.place.is_withheld())?;
    let step = |sum: Option<f64>| sum.map(heat_step);
    Some(HeatMet {
        site: None,
        to_growth: step(heat.to_growth),
        to_ripe: step(heat.to_ripe),
        to_frost: step(heat.to_frost),
        harder_k: heat.harder_k.map(|k| (k / HARDER_STEP_K).round() * HARDER_STEP_K),
    })
}

impl PlantRow {
    /// What is published of a plant, given what is published of its place.
    pub fn new(plant: &Plant, catalogue: &Catalogue, place: PublishedPlace) -> Self {
        let cell = match place {
            PublishedPlace::Cell(cell) => Some(cell),
            PublishedPlace::Withheld => None,
        };
        Self {
            plant_id: plant.id.to_string(),
            name_written: text::exported(&plant.name_written),
            cultivar: plant.cultivar.clone(),
            cultivar_name: plant.cultivar.as_ref().and_then(|slug| catalogue.get(slug.as_str())).map(|c| epithet(&c.name)),
            scientific_name: "Ficus carica L.".to_owned(),
            degree_of_establishment: "cultivated".to_owned(),
            name_certainty: plant.certainty,
            planted_year: plant.planted,
            setting: plant.setting,
            culture: plant.culture.code().to_owned(),
            container_l: match plant.culture {
                Culture::Container(volume) => volume.map(PotVolume::litres),
                Culture::Ground => None,
            },
            latitude: cell.map(|c| hundredths(c.latitude())),
            longitude: cell.map(|c| hundredths(c.longitude())),
            coordinate_precision: cell.map(Cell::side_deg),
            coordinate_uncertainty_m: cell.map(Cell::uncertainty_m),
            geodetic_datum: cell.map(|_| "EPSG:4326".to_owned()),
            data_generalizations: cell_words(cell),
        }
    }
}

impl WinterRow {
    /// What is published of a report.
    pub fn new(report: &Report, credited: &Credited) -> Self {
        let record = &report.record;
        let (first, last) = record.winter.days();
        let damage = record.damage();
        let coldest = record.coldest.as_ref();
        let heat = public_heat(report);
        let mut flags: Vec<&str> = report.flags.iter().map(|flagged| flagged.flag.word()).collect();
        flags.dedup();
        Self {
            report_id: report.id.to_string(),
            plant_id: report.plant.id.to_string(),
            cultivar: report.plant.cultivar.clone(),
            winter: record.winter,
            basis_of_record: "HumanObservation".to_owned(),
            event_date: format!("{first}/{last}"),
            looked_on: record.looked,
            judged_by: record.judged_by,
            top_killed: record.top,
            base: record.base,
            vitality: record.vitality,
            regrew_from: record.regrew,
            first_growth_on: match record.first_growth {
                Some(FirstGrowth::On(day)) => Some(day),
                _ => None,
            },
            no_growth_by: match record.first_growth {
                Some(FirstGrowth::NotBy(day)) => Some(day),
                _ => None,
            },
            cause_of_loss: record.cause,
            cause_of_death: record.cause.filter(|_| record.vitality == Vitality::Dead),
            damage: damage.map(DamageRange::low),
            damage_high: damage.map(DamageRange::high),
            coldest_c: coldest.map(|c| hundredths(c.celsius.degrees())),
            coldest_typed: coldest.map(|c| plain_decimal(&c.typed)),
            coldest_unit: coldest.map(|c| c.unit),
            thermometer: coldest.map(|c| c.thermometer),
            stage: record.stage,
            protection: record.cover,
            store: record.store,
            age_years: report.plant.years_at(record.winter),
            // A year of planting that was corrected later goes before the years of wood.
            wood_years: record.wood_years.map(|wood| report.plant.years_at(record.winter).map_or(wood, |years| wood.min(years))),
            shoot_cm: record.shoot_cm,
            fruit: record.fruit,
            first_ripe_on: record.first_ripe,
            heat_to_growth_dd: heat.and_then(|heat| heat.to_growth),
            heat_to_ripe_dd: heat.and_then(|heat| heat.to_ripe),
            heat_to_frost_dd: heat.and_then(|heat| heat.to_frost),
            harder_k: heat.and_then(|heat| heat.harder_k),
            complete_list: record.complete_list,
            review: report.state,
            flags: flags.join(" "),
            version: report.version,
            sent_on: day(report.sent),
            recorded_by: text::exported(&credited.recorded_by),
            reporter: credited.reporter.as_deref().map(text::exported),
            licence: super::RECORDS_LICENCE.to_owned(),
        }
    }
}

impl WithdrawnRow {
    /// A report that counts no longer.
    pub fn new(report: crate::records::ReportId, at: jiff::Timestamp) -> Self {
        Self { report_id: report.to_string(), withdrawn_on: day(at) }
    }
}
