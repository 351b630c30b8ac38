//! The main job: a question, answered with ranked rows from one snapshot. No I/O.

use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Cultivar;
use crate::jobs::season::first_winter::FirstWinter;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::reasons::{Reason, reasons};
use crate::jobs::shortlist::strip::{Strip, most_marks};
use crate::jobs::shortlist::wants::{Wants, Wish};
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::exposure::DoubtSource;
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
    /// Those to plant together; `None` where only named figs were ranked.
    pub three: Option<Three<'a>>,
    /// What the first winter of those asks for.
    pub first_winter: Option<FirstWinter>,
    /// What the first rows leave open, by what is not known.
    pub doubt: Vec<(DoubtSource, f64)>,
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
    /// Winter reports of it, as a strip of marks.
    pub strip: Strip<'a>,
}

/// The set by places in the catalogue.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ChosenSet {
    /// Those chosen, by what each adds.
    pub(crate) figs: Vec<usize>,
    /// Those that stand there already.
    pub(crate) had: Vec<usize>,
    /// Chance that at least one of all these bears in a year.
    pub(crate) one_bears: f64,
    /// The same without the ones chosen; `None` where nothing stands there.
    pub(crate) without: Option<f64>,
    /// The second wish, where there was one.
    pub(crate) wish: Option<Wish>,
}

/// The set as told.
#[derive(Debug)]
pub struct Three<'a> {
    /// Those to plant, by what each adds.
    pub figs: Vec<Recommendation<'a>>,
    /// Those that stand there already.
    pub had: Vec<&'a Cultivar>,
    /// Chance that at least one of all these bears in a year, 0..=1.
    pub one_bears: f64,
    /// The same without the ones chosen; `None` where nothing stands there.
    pub without: Option<f64>,
    /// The second wish, where there was one.
    pub wish: Option<Wish>,
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
        self.standings.get(place).map(|s| Entry { key: place, belief: &s.belief, fruit: s.fruit, guessed: s.is_guess() })
    }

    /// Ranks the whole catalogue for a site: the numbers alone. What one can count on is worked out only where the order asks for it.
    pub fn rank(&self, site: &Site, heat: SeasonDegreeDays, by: RankBy) -> Vec<Row<usize>> {
        let picture = self.picture(site, heat);
        let entries: Vec<_> = self.ranked_entries(Wants::default()).collect();
        if by == RankBy::Fruit {
            return ranked(picture.rows(&entries, &self.fruit_priors), by);
        }
        ranked(entries.iter().map(|entry| picture.chances_alone(entry, &self.fruit_priors)).collect(), by)
    }

    /// Every cultivar that is ranked and wanted.
    fn ranked_entries(&self, wants: Wants) -> impl Iterator<Item = Entry<'_, usize>> {
        let wanted = move |place: &usize| self.catalogue.cultivars().get(*place).is_some_and(|fig| wants.fit(fig));
        (0..self.standings.len()).filter(wanted).filter_map(|place| self.entry(place)).filter(|entry| !entry.fruit.is_pollinator_only())
    }

    pub(crate) fn picture(&self, site: &Site, heat: SeasonDegreeDays) -> SitePicture {
        SitePicture::new(site, &self.priors, &self.scale, heat, self.standings.iter().map(|s| &s.belief))
    }

    /// Answers a question.
    pub fn recommend(&self, question: &Question) -> Answer<'_> {
        let site = question.site(&self.priors);
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        self.recommend_site(question, site, heat)
    }

    /// Answers a question for a site worked out elsewhere, for example from a daily record.
    pub fn recommend_site(&self, question: &Question, site: Site, heat: SeasonDegreeDays) -> Answer<'_> {
        let picture = Arc::new(self.picture(&site, heat));
        let entries: Vec<_> = self.ranked_entries(question.wants).collect();
        let (changes, (rows, three)) = rayon::join(
            || self.changes(&site, heat, &entries),
            || {
                let rows = ranked(picture.rows(&entries, &self.fruit_priors), question.rank_by);
                let three = self.three(&picture, &rows, &self.had(question), question.wants.wish);
                (rows, three)
            },
        );
        self.answer_with(question, site, heat, (&picture, &changes), &rows, three)
    }

    /// The rows of some cultivars alone, by their places in the catalogue, best first.
    pub(crate) fn recommend_these(&self, question: &Question, site: Site, heat: SeasonDegreeDays, places: &[usize]) -> Answer<'_> {
        let picture = Arc::new(self.picture(&site, heat));
        let entries: Vec<_> = places.iter().filter_map(|&place| self.entry(place)).collect();
        let changes = self.changes(&site, heat, &entries);
        let rows = ranked(picture.rows(&entries, &self.fruit_priors), question.rank_by);
        self.answer_with(question, site, heat, (&picture, &changes), &rows, None)
    }

    /// What could be done otherwise at a site, ready for some cultivars.
    fn changes(&self, site: &Site, heat: SeasonDegreeDays, entries: &[Entry<'_, usize>]) -> Vec<(Change, SitePicture)> {
        Change::pictures(site, &self.priors, &self.scale, heat, &entries.iter().map(|entry| entry.belief))
    }

    fn answer_with(
        &self,
        question: &Question,
        site: Site,
        heat: SeasonDegreeDays,
        (picture, changes): (&Arc<SitePicture>, &[(Change, SitePicture)]),
        rows: &[Row<usize>],
        three: Option<ChosenSet>,
    ) -> Answer<'_> {
        let count = rows.len();
        let most = question.limit.unwrap_or(count);
        let shown = |i: usize, row: &Row<usize>| i < most || three.as_ref().is_some_and(|three| three.figs.contains(&row.key));
        let marks = most_marks(rows.iter().enumerate().filter(|(i, row)| shown(*i, row)).count());
        let told = |(i, row): (usize, &Row<usize>)| self.told(i + 1, row, picture, changes, marks);
        let of_three = |place: &usize| rows.iter().enumerate().find(|(_, row)| row.key == *place).and_then(told);
        let three = three.map(|set| Three {
            figs: set.figs.iter().filter_map(of_three).collect(),
            had: set.had.iter().filter_map(|&place| self.catalogue.cultivars().get(place)).collect(),
            one_bears: set.one_bears,
            without: set.without,
            wish: set.wish,
        });
        let doubt = self.doubt(rows, picture);
        let (first_winter, rows) = rayon::join(
            || {
                let beliefs: Vec<_> = three.as_ref()?.figs.iter().map(|fig| &fig.standing.belief).collect();
                self.first_winter(&site, &beliefs)
            },
            || rows.par_iter().enumerate().take(most).filter_map(told).collect(),
        );
        let heat = heat.in_settings(site.setting, self.priors.evergreen_shade);
        Answer { question: question.clone(), site, heat, rows, ranked: count, left_out: self.left_out(), three, first_winter, doubt }
    }

    /// A row with everything that is said of it.
    fn told(
        &self,
        rank: usize,
        row: &Row<usize>,
        picture: &Arc<SitePicture>,
        changes: &[(Change, SitePicture)],
        marks: usize,
    ) -> Option<Recommendation<'_>> {
        let (cultivar, standing) = (self.catalogue.cultivars().get(row.key)?, self.standings.get(row.key)?);
        let entry = self.entry(row.key)?;
        let mut improvements: Vec<Improvement> = changes
            .iter()
            .map(|(change, picture)| change.tried(picture, &entry, &self.fruit_priors))
            .filter(|tried| tried.ripe_share - row.ripe_share >= WORTH_SAYING || row.loses_top() - tried.loses_top >= WORTH_SAYING)
            .collect();
        improvements.sort_by(|a, b| b.ripe_share.total_cmp(&a.ripe_share).then(a.loses_top.total_cmp(&b.loses_top)));
        improvements.truncate(CHANGES_SHOWN);
        let ripe_range = picture.ripe_range(entry.belief, &entry.fruit, &self.fruit_priors);
        Some(Recommendation {
            rank,
            interval: picture.interval(entry.belief, &row.winter.chance),
            thresholds: picture.thresholds(entry.belief),
            ripe_range: ripe_range.including(row.ripe_share).including(row.sure.lower_quartile),
            reasons: reasons(&self.catalogue, cultivar, standing, row),
            strip: self.strip(row.key, picture, entry.belief, marks),
            cultivar,
            standing,
            row: row.clone(),
            improvements,
        })
    }
}
