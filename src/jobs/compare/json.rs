//! A comparison as JSON: the same for the command and the API.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::compare::answer::CompareAnswer;
use crate::jobs::shortlist::json::{RowJson, ShortlistJson, SiteJson, tidy};
use crate::model::snapshot::Snapshot;

/// A comparison.
#[derive(Debug, Serialize, ToSchema)]
pub struct CompareJson<'a> {
    /// The place as the answer took it.
    pub site: SiteJson,
    /// The figs as rows of a shortlist, best first.
    pub cultivars: Vec<RowJson<'a>>,
    /// Chance that each of them, in the same order, bears in more years than all others; sums to 1.
    pub chance_best: Vec<f64>,
    /// Every pair.
    pub pairs: Vec<PairJson<'a>>,
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
        Self { site, cultivars, chance_best: answer.best.iter().map(|p| tidy(*p)).collect(), pairs }
    }
}
