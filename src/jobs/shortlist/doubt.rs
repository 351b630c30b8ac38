//! What the ranges of a shortlist leave open, by what is not known, and what would narrow it.

use crate::jobs::shortlist::answer::Answer;
use crate::model::snapshot::Snapshot;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::exposure::DoubtSource;
use crate::science::shortlist::{Row, SitePicture};
use crate::science::site::Site;

/// Rows that are looked at: those that somebody chooses among, however many are shown.
const LOOKED_AT: usize = 12;
/// Winters of one's own whose lowest nights would narrow the place. DESIGN: a habit that a garden can have.
pub const OWN_WINTERS: f64 = 10.0;

impl Snapshot {
    /// What is not known, each with its part of all doubt about years with ripe figs over the first rows, the largest first; parts sum to 1.
    /// Doubts of independent sources add in variance, so that widths count by their squares.
    pub(crate) fn doubt(&self, rows: &[Row<usize>], picture: &SitePicture) -> Vec<(DoubtSource, f64)> {
        let mut sums = [0.0; DoubtSource::ALL.len()];
        for entry in rows.iter().take(LOOKED_AT).filter_map(|row| self.entry(row.key)) {
            for doubt in picture.doubt_shares(&entry, &self.fruit_priors) {
                let width = doubt.ripe_share.high - doubt.ripe_share.low;
                if let Some(sum) = sums.get_mut(doubt.source as usize) {
                    *sum += width * width;
                }
            }
        }
        let all: f64 = sums.iter().sum();
        let mut found: Vec<(DoubtSource, f64)> =
            DoubtSource::ALL.iter().copied().zip(sums).filter(|(_, sum)| *sum > 0.0).map(|(source, sum)| (source, sum / all)).collect();
        found.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        found
    }

    /// What would be left of the widths of the 90 % ranges of years with ripe figs, over the rows shown, if the mean of the coldest nights were
    /// known from so many winters of one's own (`None`: exactly); 0..=1. `None` where the place is taken as known or no range is open.
    pub fn place_known(&self, answer: &Answer<'_>, winters: Option<f64>) -> Option<f64> {
        let site = &answer.site;
        let (winter, spread) = match site.winter {
            WinterMinimum::Band { spread, .. } => (WinterMinimum::Normal { mean: site.winter.mean(), spread }, spread.kelvin()),
            other => (other, other.sd().kelvin()),
        };
        if winter == site.winter && site.place_error_k <= 0.0 {
            return None;
        }
        let left = winters.map_or(0.0, |n| spread / n.sqrt());
        let known =
            Site { winter, place_error_k: if site.place_error_k > 0.0 { left.min(site.place_error_k) } else { left }, ..site.clone() };
        let looked_at = || answer.rows.iter().take(LOOKED_AT);
        let beliefs = || looked_at().map(|row| &row.standing.belief);
        // The answer's heat already has the setting in it; the same is taken off both pictures.
        let pictures = [site, &known].map(|site| SitePicture::new(site, &self.priors, &self.scale, answer.heat, beliefs()));
        let squares = pictures.map(|picture| {
            let widths = looked_at().map(|row| {
                let range = picture.ripe_range(&row.standing.belief, &row.standing.fruit, &self.fruit_priors);
                range.high - range.low
            });
            widths.map(|width| width * width).sum::<f64>()
        });
        (squares[0] > 0.0).then(|| (squares[1] / squares[0]).sqrt().clamp(0.0, 1.0))
    }

    /// How much of what the ranges leave open comes from the place, where it is not the largest doubt; `None` where the place is taken as known.
    pub fn place_sentence(answer: &Answer<'_>) -> Option<String> {
        let at = answer.doubt.iter().position(|(source, _)| *source == DoubtSource::Place).filter(|at| *at > 0)?;
        let (_, part) = answer.doubt.get(at)?;
        Some(match (10.0 * part).round() as u32 {
            0 => "Hardly any of it comes from not knowing your place better.".to_owned(),
            1 => "About 1 part in ten of it comes from not knowing your place better.".to_owned(),
            n => format!("About {n} parts in ten of it come from not knowing your place better."),
        })
    }

    /// The largest doubt, and what would narrow it; `None` where nothing is open.
    pub fn doubt_sentence(&self, answer: &Answer<'_>) -> Option<String> {
        let (largest, part) = *answer.doubt.first()?;
        let much = if part >= 0.5 { "Most of this doubt is" } else { "The largest part of this doubt is" };
        let what = format!("{much} {}", largest.label());
        Some(match largest {
            DoubtSource::Place => match self.place_known(answer, Some(OWN_WINTERS)).map(|left| (10.0 * left).round() as u32) {
                Some(left) if left < 10 => {
                    format!(
                        "{what}: give the lowest nights of ten winters of your own, and the ranges shrink to about {left} tenths of their width."
                    )
                }
                _ => format!("{what}: lowest nights of more winters of your own would narrow it."),
            },
            DoubtSource::Setting => {
                format!("{what}: a thermometer where the fig is to stand, beside one in the open, on a few clear nights settles it.")
            }
            DoubtSource::Cover => format!("{what}: a thermometer under the cover and one beside it on a few cold nights settle it."),
            DoubtSource::Store => format!("{what}: two readings, inside and outside on a cold night, settle it."),
            DoubtSource::Age => format!("{what}: say how many years ago the top was last killed back."),
            DoubtSource::Hardening => format!("{what}: a daily record of your place settles it."),
            DoubtSource::Hardiness => format!("{what}: winter reports narrow it, one from your own garden most."),
            DoubtSource::Levels => format!("{what}: only more winter reports narrow it."),
            DoubtSource::Roots => format!("{what}: say the volume of the pot; beyond that, only reports of pots narrow it."),
            DoubtSource::Summer => format!("{what}: give the mean of your warmest month and your frost dates."),
            DoubtSource::Regrowth => {
                format!("{what}: nobody has recorded it for some of these; one summer’s look at a plant killed back answers it.")
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::jobs::shortlist::question::Question;
    use crate::model::snapshot::Snapshot;

    fn share(query: &[(&str, &str)]) -> Option<f64> {
        let snapshot = Snapshot::from_seed().unwrap();
        let pairs: Vec<(String, String)> = query.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        let answer = snapshot.recommend(&Question::parse(&pairs, true).unwrap());
        snapshot.place_known(&answer, None).map(|left| 1.0 - left)
    }

    #[test]
    fn a_town_that_is_known_badly_leaves_more_of_the_range_to_the_place_than_a_zone_and_degrees_leave_none() {
        let town = share(&[("place", "Denver, US"), ("limit", "12")]).unwrap();
        let remembered = share(&[("place", "Denver, US"), ("coldest_c", "-28"), ("coldest_winters", "20"), ("limit", "12")]).unwrap();
        assert!(town > 0.0 && town < 1.0 && remembered < town, "{town} {remembered}");
        assert!(share(&[("zone", "7a"), ("limit", "12")]).unwrap() > 0.0);
        assert_eq!(share(&[("yearly_minimum_c", "-14"), ("limit", "12")]), None);
    }

    #[test]
    fn the_largest_doubt_is_named_with_what_would_narrow_it_and_the_parts_are_all_of_it() {
        let snapshot = Snapshot::from_seed().unwrap();
        for query in
            [vec![("zone", "7a")], vec![("place", "Denver, US")], vec![("zone", "6b"), ("culture", "container"), ("setting", "wall")]]
        {
            let pairs: Vec<(String, String)> = query.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
            let answer = snapshot.recommend(&Question::parse(&pairs, true).unwrap().on_a_page());
            let parts: f64 = answer.doubt.iter().map(|(_, part)| part).sum();
            assert!((parts - 1.0).abs() < 1e-9 && answer.doubt.is_sorted_by(|a, b| a.1 >= b.1), "{query:?} {:?}", answer.doubt);
            let said = snapshot.doubt_sentence(&answer).unwrap();
            assert!(said.contains(answer.doubt[0].0.label()) && said.contains(':'), "{said}");
            // A place that is not known is spoken of once: as the largest doubt, or by its part.
            let place = Snapshot::place_sentence(&answer);
            assert_eq!(place.is_some(), answer.doubt[0].0 != crate::science::exposure::DoubtSource::Place, "{place:?}");
        }
    }
}
