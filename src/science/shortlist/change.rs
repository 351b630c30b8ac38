//! What would change the answer: another place, a cover, a pot carried in. Computed by asking the same question of the changed site.

use rayon::prelude::*;

use super::row::{Entry, SitePicture};
use crate::science::fruiting::{FruitPriors, SeasonDegreeDays};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::scale::DamageScale;
use crate::science::priors::Priors;
use crate::science::site::{Culture, Protection, Setting, Site, YearsEstablished};

/// One thing a grower could do otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// Plant it elsewhere in the garden.
    Setting(Setting),
    /// Protect it so in winter.
    Protection(Protection),
    /// Grow it in a pot and carry it in.
    PotCarriedIn,
    /// Plant the pot out.
    IntoTheGround,
    /// The same plant once established.
    OnceEstablished,
}

/// What a change does for one cultivar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Improvement {
    /// The change.
    pub change: Change,
    /// Share of years with ripe figs after it, 0..=1.
    pub ripe_share: f64,
    /// Chance of a winter that kills to the ground or worse after it.
    pub loses_top: f64,
}

impl Change {
    /// The changes worth asking about at a site, each applied to it.
    pub fn at(site: &Site) -> Vec<(Self, Site)> {
        let mut found = Vec::with_capacity(5);
        let mut add = |change, alter: &dyn Fn(&mut Site)| {
            let mut changed = site.clone();
            alter(&mut changed);
            if changed != *site
                && let Ok(changed) = changed.checked()
            {
                found.push((change, changed));
            }
        };
        let outdoors = site.protection != Protection::CarriedIn;
        let warm = [Setting::Wall, Setting::Courtyard, Setting::Town, Setting::Water];
        if outdoors && !warm.iter().any(|s| site.setting.has(*s)) {
            add(Self::Setting(Setting::Wall), &|s| s.setting = Setting::Wall.into());
        }
        if matches!(site.protection, Protection::None | Protection::Mulch) {
            add(Self::Protection(Protection::Wrap), &|s| s.protection = Protection::Wrap);
        }
        if matches!(site.protection, Protection::None | Protection::Mulch | Protection::Wrap | Protection::CoverToGround) {
            add(Self::Protection(Protection::FilledCage), &|s| s.protection = Protection::FilledCage);
        }
        match site.culture {
            Culture::Ground => {
                add(Self::PotCarriedIn, &|s| {
                    s.culture = Culture::Container(None);
                    s.protection = Protection::CarriedIn;
                });
            }
            Culture::Container(_) if outdoors => {
                add(Self::Protection(Protection::CarriedIn), &|s| s.protection = Protection::CarriedIn);
                add(Self::IntoTheGround, &|s| s.culture = Culture::Ground);
            }
            Culture::Container(_) => {}
        }
        if site.years < YearsEstablished::ESTABLISHED {
            add(Self::OnceEstablished, &|s| {
                s.years = YearsEstablished::ESTABLISHED;
                s.wood_years = None;
            });
        }
        found
    }

    /// The changes at a site, each ready for any number of cultivars.
    pub fn pictures<'a>(
        site: &Site,
        priors: &Priors,
        scale: &DamageScale,
        degree_days: SeasonDegreeDays,
        beliefs: &(impl Iterator<Item = &'a HardinessBelief> + Clone + Sync),
    ) -> Vec<(Self, SitePicture)> {
        Self::at(site)
            .into_par_iter()
            .map(|(change, changed)| (change, SitePicture::new(&changed, priors, scale, degree_days, beliefs.clone())))
            .collect()
    }

    /// What this change, pictured, does for one cultivar.
    pub fn tried<K>(self, picture: &SitePicture, entry: &Entry<'_, K>, priors: &FruitPriors) -> Improvement {
        let chance = picture.chance(entry.belief);
        Improvement {
            change: self,
            ripe_share: picture.ripe_share(entry.belief, &entry.fruit, priors),
            loses_top: chance.to_ground + chance.dead,
        }
    }
}
