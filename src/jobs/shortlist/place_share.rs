//! How much of a shortlist's ranges comes from not knowing the place.

use crate::jobs::shortlist::answer::Answer;
use crate::model::snapshot::Snapshot;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::shortlist::SitePicture;
use crate::science::site::Site;

impl Snapshot {
    /// Share of the variance behind the 90 % ranges of years with ripe figs that would go if the mean of the coldest nights were known
    /// exactly, over the rows shown, 0..=1; `None` where it is taken as known or no range is open. Doubts of independent sources add in
    /// variance, so that widths count by their squares.
    pub fn place_share(&self, answer: &Answer<'_>) -> Option<f64> {
        let site = &answer.site;
        let winter = match site.winter {
            WinterMinimum::Band { spread, .. } => WinterMinimum::Normal { mean: site.winter.mean(), spread },
            other => other,
        };
        if winter == site.winter && site.place_error_k <= 0.0 {
            return None;
        }
        let known = Site { winter, place_error_k: 0.0, ..site.clone() };
        let beliefs = || answer.rows.iter().map(|row| &row.standing.belief);
        // The answer's heat already has the setting in it; the same is taken off both pictures.
        let pictures = [site, &known].map(|site| SitePicture::new(site, &self.priors, &self.scale, answer.heat, beliefs()));
        let squares = pictures.map(|picture| {
            let widths = answer.rows.iter().map(|row| {
                let range = picture.ripe_range(&row.standing.belief, &row.standing.fruit, &self.fruit_priors);
                range.high - range.low
            });
            widths.map(|width| width * width).sum::<f64>()
        });
        (squares[0] > 0.0).then(|| (1.0 - squares[1] / squares[0]).clamp(0.0, 1.0))
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
        snapshot.place_share(&answer)
    }

    #[test]
    fn a_town_that_is_known_badly_leaves_more_of_the_range_to_the_place_than_a_zone_and_degrees_leave_none() {
        let town = share(&[("place", "Denver, US"), ("limit", "12")]).unwrap();
        let remembered = share(&[("place", "Denver, US"), ("coldest_c", "-28"), ("coldest_winters", "20"), ("limit", "12")]).unwrap();
        assert!(town > 0.0 && town < 1.0 && remembered < town, "{town} {remembered}");
        assert!(share(&[("zone", "7a"), ("limit", "12")]).unwrap() > 0.0);
        assert_eq!(share(&[("yearly_minimum_c", "-14"), ("limit", "12")]), None);
    }
}
