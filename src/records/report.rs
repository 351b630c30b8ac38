//! A report: what one winter did to one plant, as the reporter answered.

use std::fmt;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::flag::Flagged;
use super::member::MemberId;
use super::named_site::SiteId;
use super::plant::Plant;
use super::release::Credited;
use super::review_state::ReviewState;
use super::winter::Winter;
use super::words::{Base, Cover, Fruit, JudgedBy, LossCause, Regrowth, Stage, Thermometer, TopKilled, TypedUnit, Vitality};
use crate::science::site::Store;
use crate::units::Celsius;

/// A report's id (Darwin Core `eventID`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ReportId(pub Uuid);

impl fmt::Display for ReportId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// When growth was first seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FirstGrowth {
    /// On a day.
    On(Date),
    /// None had been seen by a day.
    NotBy(Date),
}

/// Coldest temperature the plant met, as typed and in °C.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Coldest {
    /// In °C.
    pub celsius: Celsius,
    /// The digits as typed.
    pub typed: String,
    /// The unit they were typed in.
    pub unit: TypedUnit,
    /// How it was measured.
    pub thermometer: Thermometer,
}

/// Heat that a daily record counts from the turn of the year ([`Winter::heat_from`]) to the dates of a report, degree-days above 8 °C with a
/// cap at 36 °C.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct HeatMet {
    /// The reporter's own record that counted; private, and `None` where the report came in from elsewhere.
    pub site: Option<SiteId>,
    /// To first growth, or to the day by which none had been seen.
    pub to_growth: Option<f64>,
    /// To the first ripe fig.
    pub to_ripe: Option<f64>,
    /// To the first autumn night of −1 °C, where figs set and none ripened.
    #[serde(default)]
    pub to_frost: Option<f64>,
    /// By how much a plant of its class was harder (+) or less hard (−) on the coldest night of that winter than at the reference, K, as the
    /// acclimation model counts it from the same record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub harder_k: Option<f64>,
}

impl HeatMet {
    /// Most degree-days of a year above 8 °C: 28 K, the cap less the base, every day.
    pub const MOST: f64 = 28.0 * 366.0;
    /// Most by which computed hardiness differs from the reference, K: more than from tenderest to hardiest of any class.
    pub const MOST_HARDER_K: f64 = 20.0;
}

/// The answers of one report; everything beyond the required is an `Option`, and “not sure” is a word of its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WinterRecord {
    /// Which winter.
    pub winter: Winter,
    /// Day the plant was looked at.
    pub looked: Date,
    /// How it was judged.
    pub judged_by: Option<JudgedBy>,
    /// Top growth killed.
    pub top: TopKilled,
    /// The base, where the trunk meets the ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub base: Option<Base>,
    /// Whether it lives.
    pub vitality: Vitality,
    /// Where it regrew.
    pub regrew: Option<Regrowth>,
    /// First growth seen.
    pub first_growth: Option<FirstGrowth>,
    /// Cause, where something was lost.
    pub cause: Option<LossCause>,
    /// Coldest temperature met.
    pub coldest: Option<Coldest>,
    /// Stage when it came.
    pub stage: Option<Stage>,
    /// What was done for the winter.
    pub cover: Cover,
    /// Where it was carried in to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub store: Option<Store>,
    /// Whole years that the standing wood had grown when the winter came, since the top was last killed back; 0: it was last winter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wood_years: Option<u8>,
    /// Longest new shoot by the autumn after, cm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shoot_cm: Option<u16>,
    /// Fruit in the season after.
    pub fruit: Option<Fruit>,
    /// First ripe fig of that season.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_ripe: Option<Date>,
    /// Heat that a daily record of the place counts to the dates above.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat: Option<HeatMet>,
    /// Free words, private.
    pub note: Option<String>,
    /// Whether the reporter gave every plant of the garden for this winter, losses and all.
    pub complete_list: bool,
}

impl WinterRecord {
    /// Longest shoot of one season that is taken for a length, cm. DESIGN: twice what growers report.
    pub const LONGEST_SHOOT_CM: u16 = 600;

    /// A record with the answers that no report is complete without, and no others.
    pub fn new(winter: Winter, looked: Date, top: TopKilled, vitality: Vitality, cover: Cover) -> Self {
        Self {
            winter,
            looked,
            judged_by: None,
            top,
            base: None,
            vitality,
            regrew: None,
            first_growth: None,
            cause: None,
            coldest: None,
            stage: None,
            cover,
            store: None,
            wood_years: None,
            shoot_cm: None,
            fruit: None,
            first_ripe: None,
            heat: None,
            note: None,
            complete_list: false,
        }
    }
}

/// A report as kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Id.
    pub id: ReportId,
    /// The plant.
    pub plant: Plant,
    /// Who reported; `None` once they have left.
    pub reporter: Option<MemberId>,
    /// The answers, newest version.
    pub record: WinterRecord,
    /// Number of the newest version, from 1.
    pub version: i64,
    /// Where it stands in review.
    pub state: ReviewState,
    /// Automatic flags.
    pub flags: Vec<Flagged>,
    /// When it was first sent.
    pub sent: Timestamp,
    /// When it was last changed.
    pub changed: Timestamp,
    /// Whom it is credited to, where it came in from a package.
    pub credited: Option<Credited>,
}
