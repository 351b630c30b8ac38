//! The main job: a question, answered with ranked rows from one snapshot. No I/O.

use crate::catalogue::Cultivar;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::reasons::{Reason, reasons};
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::hardiness::chances::Levels;
use crate::science::shortlist::{Change, Entry, Improvement, RankBy, Row, SitePicture, Thresholds, ranked};
use crate::science::site::Site;
use crate::units::Interval;

/// A shortlist.
#[derive(Debug)]
pub struct Answer<'a> {
    /// The question as asked.
    pub question: Question,
    /// The site with every default filled in.
    pub site: Site,
    /// The heat of its seasons.
    pub heat: SeasonDegreeDays,
    /// The rows wanted, best first.
    pub rows: Vec<Recommendation<'a>>,
    /// How many cultivars were ranked.
    pub ranked: usize,
    /// Cultivars of the catalogue that are not ranked.
    pub left_out: Vec<&'a Cultivar>,
}

/// One row of a shortlist.
#[derive(Debug)]
pub struct Recommendation<'a> {
    /// Place in the ranking, from 1.
    pub rank: usize,
    /// The cultivar.
    pub cultivar: &'a Cultivar,
    /// What is believed of it, and on what grounds.
    pub standing: &'a CultivarModel,
    /// The numbers.
    pub row: Row<usize>,
    /// 90 % interval of each chance of one winter.
    pub interval: Levels<Interval<f64>>,
    /// Where its damage begins at this site.
    pub thresholds: Thresholds,
    /// 90 % range of the share of years with ripe figs.
    pub ripe_range: Interval<f64>,
    /// Why it stands here, most telling first.
    pub reasons: Vec<Reason>,
    /// What would make a difference, most first.
    pub improvements: Vec<Improvement>,
}

/// Smallest change in the share of years with ripe figs, or of winters that kill to the ground, that is worth a line.
const WORTH_SAYING: f64 = 0.04;
/// Most changes shown in a row.
const CHANGES_SHOWN: usize = 3;

impl Snapshot {
    /// Cultivars that a shortlist leaves out: pollinators whose figs are not eaten.
    fn left_out(&self) -> Vec<&Cultivar> {
        let all = self.catalogue.cultivars().iter().zip(&self.standings);
        all.filter(|(_, standing)| standing.fruit.is_pollinator_only()).map(|(cultivar, _)| cultivar).collect()
    }

    pub(crate) fn entry(&self, place: usize) -> Option<Entry<'_, usize>> {
        self.standings.get(place).map(|s| Entry { key: place, belief: &s.belief, fruit: s.fruit })
    }

    /// Ranks the whole catalogue for a site: the numbers alone.
    pub fn rank(&self, site: &Site, heat: SeasonDegreeDays, by: RankBy) -> Vec<Row<usize>> {
        self.rank_in(&self.picture(site, heat), by)
    }

    pub(crate) fn picture(&self, site: &Site, heat: SeasonDegreeDays) -> SitePicture {
        SitePicture::new(site, &self.priors, &self.scale, heat, self.standings.iter().map(|s| &s.belief))
    }

    fn rank_in(&self, picture: &SitePicture, by: RankBy) -> Vec<Row<usize>> {
        let rows = (0..self.standings.len())
            .filter_map(|place| self.entry(place))
            .filter(|entry| !entry.fruit.is_pollinator_only())
            .map(|entry| picture.row(&entry, &self.fruit_priors))
            .collect();
        ranked(rows, by)
    }

    /// Answers a question.
    pub fn recommend(&self, question: &Question) -> Answer<'_> {
        let site = question.site(&self.priors);
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        self.recommend_site(question, site, heat)
    }

    /// Answers a question for a site worked out elsewhere, for example from a daily record.
    pub fn recommend_site(&self, question: &Question, site: Site, heat: SeasonDegreeDays) -> Answer<'_> {
        let picture = self.picture(&site, heat);
        let rows = self.rank_in(&picture, question.rank_by);
        self.answer_with(question, site, heat, &picture, rows)
    }

    /// The rows of some cultivars alone, by their places in the catalogue, best first.
    pub(crate) fn recommend_these(&self, question: &Question, site: Site, heat: SeasonDegreeDays, places: &[usize]) -> Answer<'_> {
        let picture = self.picture(&site, heat);
        let rows = places.iter().filter_map(|&place| self.entry(place)).map(|entry| picture.row(&entry, &self.fruit_priors));
        let rows = ranked(rows.collect(), question.rank_by);
        self.answer_with(question, site, heat, &picture, rows)
    }

    fn answer_with(
        &self,
        question: &Question,
        site: Site,
        heat: SeasonDegreeDays,
        picture: &SitePicture,
        rows: Vec<Row<usize>>,
    ) -> Answer<'_> {
        let count = rows.len();
        let most = question.limit.unwrap_or(count);
        let shown: Vec<usize> = rows.iter().take(most).map(|row| row.key).collect();
        let beliefs = shown.iter().filter_map(|&place| self.standings.get(place)).map(|s| &s.belief);
        let changes = Change::pictures(&site, &self.priors, &self.scale, heat, &beliefs);
        let rows = rows
            .into_iter()
            .take(most)
            .enumerate()
            .filter_map(|(i, row)| {
                let (cultivar, standing) = (self.catalogue.cultivars().get(row.key)?, self.standings.get(row.key)?);
                let entry = self.entry(row.key)?;
                let mut improvements: Vec<Improvement> = changes
                    .iter()
                    .map(|(change, picture)| change.tried(picture, &entry, &self.fruit_priors))
                    .filter(|tried| tried.ripe_share - row.ripe_share >= WORTH_SAYING || row.loses_top() - tried.loses_top >= WORTH_SAYING)
                    .collect();
                improvements.sort_by(|a, b| b.ripe_share.total_cmp(&a.ripe_share).then(a.loses_top.total_cmp(&b.loses_top)));
                improvements.truncate(CHANGES_SHOWN);
                let ripe_range = picture.ripe_range(entry.belief, &entry.fruit, &self.fruit_priors).including(row.ripe_share);
                Some(Recommendation {
                    rank: i + 1,
                    interval: picture.winter(entry.belief).interval,
                    thresholds: picture.thresholds(entry.belief),
                    ripe_range,
                    reasons: reasons(cultivar, standing, &row),
                    cultivar,
                    standing,
                    row,
                    improvements,
                })
            })
            .collect();
        let heat = heat.in_settings(site.setting, self.priors.evergreen_shade);
        Answer { question: question.clone(), site, heat, rows, ranked: count, left_out: self.left_out() }
    }
}
