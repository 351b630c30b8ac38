//! Years until a full crop after dying to the ground, when it may die to the ground again.
//!
//! A full crop comes after n seasons of regrowth without another ground-kill, n shared out by
//! [`super::FruitPriors::seasons_to_full_crop`]; each winter between kills to the ground with chance q and starts the count again.

use super::priors::FruitPriors;

/// Chance of a full crop by the first, second … season after the kill.
#[derive(Debug, Clone, PartialEq)]
pub struct ReturnToCrop {
    /// Chance that the full crop has come by season 1, 2, … after the kill (season 1 is this year's).
    pub by_season: Vec<f64>,
}

/// Seasons looked ahead.
pub const SEASONS: usize = 10;

impl ReturnToCrop {
    /// With chance `ground_kill` of being killed to the ground (or worse) each winter, 0..=1.
    pub fn new(ground_kill: f64, priors: &FruitPriors) -> Self {
        let keep = 1.0 - ground_kill.clamp(0.0, 1.0);
        let total: f64 = priors.seasons_to_full_crop.iter().sum();
        let mut by_season = vec![0.0; SEASONS];
        for (n, share) in (1..).zip(priors.seasons_to_full_crop) {
            // Chance of standing at each count of sound seasons so far; the crop comes in the season after n sound ones and n winters.
            let mut standing = vec![0.0; n];
            if let Some(first) = standing.first_mut() {
                *first = 1.0;
            }
            let mut done = 0.0;
            for slot in &mut by_season {
                *slot += share / total * done;
                // The winter after this season: one more sound season, or back to the start.
                let mut next = vec![0.0; n];
                for (count, p) in standing.iter().enumerate() {
                    match next.get_mut(count + 1) {
                        Some(more) => *more += keep * p,
                        None => done += keep * p,
                    }
                }
                if let Some(first) = next.first_mut() {
                    *first += standing.iter().sum::<f64>() * (1.0 - keep);
                }
                standing = next;
            }
        }
        Self { by_season }
    }

    /// First season by which the chance of a full crop reaches a share; `None` within [`SEASONS`].
    pub fn season_by_which(&self, share: f64) -> Option<usize> {
        self.by_season.iter().position(|&p| p >= share).map(|i| i + 1)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::catalogue::prior_table::fruit_priors;

    /// Sources: about two years until the next full crop (NEWBERN2018, SPERRY2021), the following year at best (EARLE1897).
    #[test]
    fn in_mild_winters_half_are_back_in_the_third_season() {
        let back = ReturnToCrop::new(0.0, &fruit_priors().unwrap());
        assert_eq!(back.by_season[0], 0.0);
        assert!((back.by_season[1] - 0.15).abs() < 1e-12);
        assert_eq!(back.season_by_which(0.5), Some(3));
        assert!((back.by_season[9] - 1.0).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn colder_winters_never_bring_it_back_sooner(q in 0.0..0.9f64) {
            let priors = fruit_priors().unwrap();
            let (mild, cold) = (ReturnToCrop::new(q, &priors), ReturnToCrop::new(q + 0.1, &priors));
            for (a, b) in mild.by_season.iter().zip(&cold.by_season) {
                prop_assert!(b <= &(a + 1e-12) && (0.0..=1.0 + 1e-12).contains(a));
            }
        }
    }
}
