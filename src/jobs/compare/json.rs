//! A comparison as JSON: the same for the command and the API.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::compare::answer::CompareAnswer;
use crate::jobs::compare::beside::{Beside, Grown};
use crate::jobs::compare::words::dies_of;
use crate::jobs::shortlist::json::{RowJson, ShortlistJson, SiteJson, tidy};
use crate::jobs::shortlist::json_first_winter::month_day;
use crate::jobs::shortlist::strip::Reported;
use crate::model::snapshot::Snapshot;
use crate::science::climate::winters::Hemisphere;
use crate::science::fruiting::year::RipeDays;

/// A comparison.
#[derive(Debug, Serialize, ToSchema)]
pub struct CompareJson<'a> {
    /// The place as the answer took it.
    pub site: SiteJson,
    /// The figs as rows of a shortlist, best first.
    pub cultivars: Vec<RowJson<'a>>,
    /// Chance that each of them, in the same order, bears in more years than all others; sums to 1.
    pub chance_best: Vec<f64>,
    /// What stands beside each other, in the same order.
    pub beside: Vec<BesideJson>,
    /// Every pair.
    pub pairs: Vec<PairJson<'a>>,
}

/// One fig beside the others. Days are MM-DD; null where a crop seldom or never ripens.
#[derive(Debug, Serialize, ToSchema)]
pub struct BesideJson {
    /// First ripe figs of the early crop on sound wood: one year in ten has them by the first day, half by the second, nine in ten by the third.
    pub early_crop: Option<[String; 3]>,
    /// The same of the main crop.
    pub main_crop: Option<[String; 3]>,
    /// The same of the main crop on shoots from the roots.
    pub regrown_crop: Option<[String; 3]>,
    /// Season by which half of plants killed to the ground bear fully again; null beyond ten. Years from planting to first figs are not known.
    pub seasons_to_full_crop: Option<usize>,
    /// What most years without figs come from; null where they are rare.
    pub dies_of: Option<String>,
    /// An established plant by how it is grown.
    pub grown: Vec<GrownJson>,
    /// Winter reports, by the outside temperature here that would be worth the same cold, °C.
    pub reported: Vec<ReportedJson>,
}

/// An established plant grown in one way.
#[derive(Debug, Serialize, ToSchema)]
pub struct GrownJson {
    /// ground, `pot_out`, `pot_carried_in`.
    pub way: &'static str,
    /// Years in ten with ripe figs.
    pub ripe_years_in_ten: f64,
    /// Chance of a winter that kills to the ground or worse.
    pub to_ground_or_dead: f64,
    /// Chance of a winter that kills the whole plant.
    pub dead: f64,
}

/// Reports of one outcome at about one temperature.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReportedJson {
    /// Outside temperature, °C.
    pub outside_c: f64,
    /// unharmed, tips, wood, `to_ground`, dead: the greatest damage it may have been.
    pub level: &'static str,
    /// How many.
    pub reports: usize,
}

/// Two figs with each other: better means more years with ripe figs in the long run, doubts that both share cancelling.
#[derive(Debug, Serialize, ToSchema)]
pub struct PairJson<'a> {
    /// One fig.
    pub a: &'a str,
    /// The other.
    pub b: &'a str,
    /// Chance that `a` bears in more years, ties halved.
    pub chance_a_better: f64,
    /// Chance that `a` bears in at least half a year in ten more.
    pub chance_a_clearly_better: f64,
    /// Chance that `b` does.
    pub chance_b_clearly_better: f64,
    /// Chance that they come within half a year in ten of each other.
    pub chance_same: f64,
    /// Plants of both that met the same winter in one garden, planted alike, by published reports.
    pub same_garden: SameGardenJson,
}

/// Winters of a garden that plants of both met.
#[derive(Debug, Serialize, ToSchema)]
pub struct SameGardenJson {
    /// All of them.
    pub winters: usize,
    /// Those in which `a` was harmed less.
    pub a_less_harmed: usize,
    /// Those in which `b` was.
    pub b_less_harmed: usize,
    /// Those in which neither was.
    pub equal: usize,
}

impl<'a> CompareJson<'a> {
    /// Writes an answer of a snapshot.
    pub fn of(answer: &CompareAnswer<'a>, snapshot: &Snapshot) -> Self {
        let ShortlistJson { site, cultivars, .. } = ShortlistJson::of(&answer.rows, snapshot);
        let slug = |place: usize| answer.rows.rows.get(place).map_or("", |row| row.cultivar.slug.as_str());
        let pairs = answer
            .pairs
            .iter()
            .map(|pair| PairJson {
                a: slug(pair.a),
                b: slug(pair.b),
                chance_a_better: tidy(pair.comparison.first_ahead),
                chance_a_clearly_better: tidy(pair.comparison.first),
                chance_b_clearly_better: tidy(pair.comparison.second),
                chance_same: tidy(pair.comparison.same),
                same_garden: SameGardenJson {
                    winters: pair.same_garden.winters,
                    a_less_harmed: pair.same_garden.first_less,
                    b_less_harmed: pair.same_garden.second_less,
                    equal: pair.same_garden.equal(),
                },
            })
            .collect();
        let beside = answer.beside.iter().enumerate().map(|(place, of)| beside(answer, place, of)).collect();
        Self { site, cultivars, chance_best: answer.best.iter().map(|p| tidy(*p)).collect(), beside, pairs }
    }
}

fn beside(answer: &CompareAnswer<'_>, place: usize, of: &Beside) -> BesideJson {
    let hemisphere = answer.rows.question.hemisphere().unwrap_or(Hemisphere::North);
    let days = |crop: Option<RipeDays>| crop.map(|days| [days.early, days.middle, days.late].map(|day| month_day(day, hemisphere)));
    let grown = |grown: &Grown| GrownJson {
        way: grown.way.word(),
        ripe_years_in_ten: tidy(10.0 * grown.ripe_share),
        to_ground_or_dead: tidy(grown.loses_top),
        dead: tidy(grown.dead),
    };
    let reported =
        |seen: Reported| ReportedJson { outside_c: tidy(seen.outside.degrees()), level: seen.level.word(), reports: seen.reports };
    BesideJson {
        early_crop: days(of.early),
        main_crop: days(of.main),
        regrown_crop: days(of.regrown),
        seasons_to_full_crop: of.full_crop_again,
        dies_of: dies_of(answer, place),
        grown: of.grown.iter().map(grown).collect(),
        reported: answer.row(place).map(|row| row.strip.marks().into_iter().map(reported).collect()).unwrap_or_default(),
    }
}
