//! A whole year at a site, in circumstances: what the ranking, the sheet and the spring page ask.

use super::air::{Air, Course};
use super::circumstances::{Age, Circumstances, Gains, Hardening, PotInAir, Stand};
use super::nights_counted::nights_counted;
use super::response::{Response, ResponseFamily};
use super::store_air::StoreAir;
use super::{Exposure, expose};
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::Gaussian;
use crate::science::priors::{NightGain, Priors};
use crate::science::site::{Culture, PotVolume, Protection, Site, YearsEstablished};
use crate::units::Interval;

impl Gains {
    /// What a cover does over the coldest nights of a climate.
    pub fn of_cover(protection: Protection, windy_share: f64, priors: &Priors) -> Self {
        let (nights, base) = priors.protection(protection);
        let top = nights.over_nights(windy_share);
        let share = priors.roots.cover_share;
        Self {
            top,
            base,
            pot: Gaussian::new(share * top.mean, share * top.sd),
            luck_k2: windy_share * (1.0 - windy_share) * (nights.clear.mean - nights.windy.mean).powi(2),
        }
    }
}

/// The winters of a site as circumstances of a plant there.
pub fn circumstances_of(site: &Site, priors: &Priors) -> Circumstances {
    let climate = priors.climate(site.climate);
    let pot = match site.culture {
        Culture::Ground => None,
        Culture::Container(volume) => Some(PotInAir::on_ground(volume.map_or(priors.roots.litres_assumed, PotVolume::litres))),
    };
    let carried = site.protection == Protection::CarriedIn;
    let stand = match pot {
        _ if carried => Stand::Store(StoreAir::of_store(site.store, priors), pot),
        Some(pot) => Stand::Pot(pot),
        None => Stand::Ground,
    };
    // Nothing else holds heat over days.
    let course = match pot {
        Some(_) => Course::daily(climate.spell_minima_k, climate.spell_maxima_k, &priors.usual_night),
        None => Course::followed(Vec::new()),
    };
    Circumstances {
        air: Air { lowest: site.winter, doubt_k: site.place_error_k, windy_share: climate.windy_share, course },
        setting: Some(site.own_spot.map_or_else(|| priors.settings(site.setting), |own| NightGain { clear: own.clear, windy: own.windy })),
        gains: if carried { Gains::NONE } else { Gains::of_cover(site.protection, climate.windy_share, priors) },
        age: Age { years: Some(site.years.years()), wood_years: site.wood_years.map(YearsEstablished::years) }.effects(priors),
        hardening: if site.hardening_counted {
            Hardening::Short { deficit: Gaussian::new(0.0, site.hardening_doubt_k), doubt_k: site.hardening_doubt_k }
        } else {
            Hardening::Short { deficit: climate.deficit, doubt_k: climate.deficit_doubt_k }
        },
        roots_growing: false,
        nights: match &stand {
            // Inside, the nights of a usual week lie closer together than outside: more of them count as the coldest.
            Stand::Store(store, _) => Some(nights_counted(&climate.spell_minima_k.map(|above| store.b * above), priors)),
            Stand::Ground | Stand::Pot(_) => None,
        },
        stand,
    }
}

/// The response of plants of any hardiness within `h` (°C) to the winters of a site: one, or one per hardiness class where a daily record
/// tells how hardened each is on its coldest nights.
pub fn response_of(site: &Site, priors: &Priors, scale: &DamageScale, h: Interval<f64>) -> ResponseFamily {
    let circumstances = circumstances_of(site, priors);
    let exposure = expose(&circumstances, priors);
    let by_class = site.winter_by_class.and_then(|winters| {
        let members = priors.class_means.iter().zip(winters).map(|(class, lowest)| {
            let seen = Exposure { lowest, ..exposure.clone() };
            (class.mean, Response::new(seen, scale, h))
        });
        ResponseFamily::several(members.collect())
    });
    by_class.unwrap_or_else(|| ResponseFamily::one(Response::new(exposure, scale, h)))
}
