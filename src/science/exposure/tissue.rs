//! The exposure of one part of a plant on the scale of equivalent midwinter minima, with what is luck and what is doubt in it.

use super::circumstances::{Circumstances, Hardening, Stand};
use super::doubt::{DoubtSource, Doubts};
use crate::science::climate::equivalent::REFERENCE_NIGHTS;
use crate::science::cold_night::places::LineDoubt;
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;

/// `E = share·T + offset`, and how hard the tissue is: `h' = hardened(h + age)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tissue {
    /// a: share of an outdoor difference that reaches it; 1 outdoors, less in a store.
    pub share: f64,
    /// b: offset, K.
    pub offset_k: f64,
    /// Variance of what differs from winter to winter, shared winter apart, K².
    pub luck_k2: f64,
    /// Variance of what is not known, K², that of a store at the mean of the lowest air.
    pub doubts: Doubts,
    /// What is not known of a store, by the temperature outside.
    store: Option<LineDoubt>,
    /// Added to every T50 by age, K.
    pub age_k: f64,
    hardening: Hardening,
    /// Most of the way to tender that wood goes, 0..=1; tips go all the way.
    wood_share: f64,
}

/// Offsets and variances gathered from circumstances.
#[derive(Clone, Copy)]
struct Gathered {
    share: f64,
    offset_k: f64,
    luck_k2: f64,
    doubts: Doubts,
    store: Option<LineDoubt>,
}

impl Gathered {
    fn of(circumstances: &Circumstances) -> Self {
        let air = &circumstances.air;
        let doubts = Doubts::default().with(DoubtSource::Place, air.doubt_k);
        let outside = Self { share: 1.0, offset_k: 0.0, luck_k2: 0.0, doubts, store: None };
        match circumstances.stand {
            // A store keeps its own line; the setting in the garden no longer counts.
            Stand::Store(store, _) => Self {
                share: store.b,
                offset_k: store.a_c,
                luck_k2: store.night_sd_k.powi(2),
                doubts: doubts.scaled(store.b).with(DoubtSource::Store, store.doubt.variance_k2(air.lowest.mean().degrees()).sqrt()),
                store: Some(store.doubt),
            },
            Stand::Ground | Stand::Pot(_) => outside.in_setting(circumstances),
        }
    }

    fn in_setting(self, circumstances: &Circumstances) -> Self {
        let Some(nights) = circumstances.setting else { return self };
        let windy = circumstances.air.windy_share;
        let over = nights.over_nights(windy);
        let between = windy * (1.0 - windy) * (nights.clear.mean - nights.windy.mean).powi(2);
        let doubt = (over.variance() - between).max(0.0).sqrt();
        Self {
            offset_k: self.offset_k + over.mean,
            luck_k2: self.luck_k2 + between,
            doubts: self.doubts.with(DoubtSource::Setting, doubt),
            ..self
        }
    }

    fn gaining(self, gain: Gaussian, luck_k2: f64) -> Self {
        let luck_k2 = luck_k2.min(gain.variance());
        Self {
            offset_k: self.offset_k + gain.mean,
            luck_k2: self.luck_k2 + luck_k2,
            doubts: self.doubts.with(DoubtSource::Cover, (gain.variance() - luck_k2).max(0.0).sqrt()),
            ..self
        }
    }

    /// Many nights near the lowest do more than few.
    fn after_nights(self, circumstances: &Circumstances, priors: &Priors) -> Self {
        let Some(nights) = circumstances.nights else { return self };
        let doublings = (nights.max(1.0) / REFERENCE_NIGHTS).log2();
        let effect = priors.repeat_nights;
        Self {
            offset_k: self.offset_k - effect.mean * doublings,
            doubts: self.doubts.with(DoubtSource::Hardening, effect.sd * doublings.abs()),
            ..self
        }
    }
}

impl Tissue {
    pub(super) fn top(circumstances: &Circumstances, priors: &Priors) -> Self {
        let gains = circumstances.gains;
        let met = Gathered::of(circumstances).gaining(gains.top, gains.luck_k2).after_nights(circumstances, priors);
        Self::of(met, circumstances.age.top, circumstances, priors)
    }

    pub(super) fn base(circumstances: &Circumstances, priors: &Priors) -> Self {
        let gains = circumstances.gains;
        let met =
            Gathered::of(circumstances).gaining(gains.top, gains.luck_k2).gaining(gains.base, 0.0).after_nights(circumstances, priors);
        Self::of(met, circumstances.age.base, circumstances, priors)
    }

    /// The air at a pot: what a cover gives a pot, no age, no hardening.
    pub(super) fn pot(circumstances: &Circumstances) -> Self {
        let Gathered { share, offset_k, luck_k2, doubts, store } =
            Gathered::of(circumstances).gaining(circumstances.gains.pot, circumstances.gains.luck_k2);
        Self { share, offset_k, luck_k2, doubts, store, age_k: 0.0, hardening: Hardening::Reference, wood_share: 1.0 }
    }

    fn of(met: Gathered, age: Gaussian, circumstances: &Circumstances, priors: &Priors) -> Self {
        let Gathered { share, offset_k, mut luck_k2, doubts, store } = met;
        let kept = if let Hardening::Stage { share, .. } = circumstances.hardening { 1.0 - share } else { 1.0 };
        let mut doubts = doubts.with(DoubtSource::Age, kept * age.sd);
        match circumstances.hardening {
            Hardening::Reference => {}
            Hardening::Short { deficit, doubt_k } => {
                let doubt_k = doubt_k.min(deficit.sd);
                luck_k2 += deficit.variance() - doubt_k * doubt_k;
                doubts = doubts.with(DoubtSource::Hardening, doubt_k);
            }
            Hardening::Stage { share, sd_k, tender } => doubts = doubts.with(DoubtSource::Hardening, sd_k.hypot(share * tender.sd)),
        }
        let wood_share = if circumstances.age.first_winter { 1.0 } else { priors.green_wood_share };
        Self { share, offset_k, luck_k2, doubts, store, age_k: age.mean, hardening: circumstances.hardening, wood_share }
    }

    /// Hardiness shown now by tissue whose plant has `h`, °C: tips and new shoots.
    pub fn tips_c(&self, h: f64) -> f64 {
        let aged = h + self.age_k;
        match self.hardening {
            Hardening::Reference => aged,
            Hardening::Short { deficit, .. } => aged + deficit.mean,
            Hardening::Stage { share, tender, .. } => aged + share * (tender.mean - aged).max(0.0),
        }
    }

    /// The same of its old wood: what is green costs what is green, so wood goes only part of the way to tender.
    pub fn wood_c(&self, h: f64) -> f64 {
        let aged = h + self.age_k;
        match self.hardening {
            Hardening::Stage { share, tender, .. } => aged + share.min(self.wood_share) * (tender.mean - aged).max(0.0),
            Hardening::Reference | Hardening::Short { .. } => self.tips_c(h),
        }
    }

    /// Share of the way to tender of tips and shoots, 0..=1.
    pub fn tips_share(&self) -> f64 {
        if let Hardening::Stage { share, .. } = self.hardening { share } else { 0.0 }
    }

    /// The same of old wood.
    pub fn wood_share(&self) -> f64 {
        self.tips_share().min(self.wood_share)
    }

    /// Share of a difference in h between two cultivars that is left, 0..=1: in full growth all are alike.
    pub fn kept_of_h(&self, h: f64) -> f64 {
        match self.hardening {
            Hardening::Stage { share, tender, .. } if h + self.age_k < tender.mean => 1.0 - share,
            _ => 1.0,
        }
    }

    /// Whether a difference in h between two cultivars is left in full, whatever their h.
    pub(super) fn moves_with_h(&self) -> bool {
        !matches!(self.hardening, Hardening::Stage { .. })
    }

    /// Equivalent midwinter minimum of an established plant at a lowest outside air, °C.
    pub fn equivalent_c(&self, outside_c: f64) -> f64 {
        let short = if let Hardening::Short { deficit, .. } = self.hardening { deficit.mean } else { 0.0 };
        self.share * outside_c + self.offset_k - short
    }

    /// Everything that is not known or not the same, shared winter apart, K²; that of a store at the mean of the lowest air.
    pub fn variance_k2(&self) -> f64 {
        self.luck_k2 + self.doubts.variance_k2()
    }

    /// What is not known at a lowest outside air, K²: the share of the cold that a store keeps out matters more the colder it is.
    pub fn doubt_at_k2(&self, outside_c: f64) -> f64 {
        let of_store = self.store.map_or(0.0, |store| store.variance_k2(outside_c) - self.doubts.sd_k(DoubtSource::Store).powi(2));
        self.doubts.variance_k2() + of_store
    }

    /// Whether what is not known differs from one lowest air to another.
    pub(super) fn doubt_varies(&self) -> bool {
        self.store.is_some_and(|store| store.slope_sd > 0.0)
    }
}
