//! The air of a store: a line from the outside to the inside, by its kind or by the grower's own readings.

use crate::science::cold_night::places::{HOUSE_C, LineDoubt, NIGHT_SD_K, Place, StoreKind};
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;
use crate::science::site::Store;

/// Lowest inside = a + b · lowest outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StoreAir {
    /// a, °C.
    pub a_c: f64,
    /// b, 0..=1.2: share of an outdoor difference that comes in.
    pub b: f64,
    /// Spread from night to night, K.
    pub night_sd_k: f64,
    /// What is not known of the store: more on colder nights, where it is the share it keeps that is not known.
    pub doubt: LineDoubt,
}

impl StoreAir {
    fn keeping(share: Gaussian, house_c: f64) -> Self {
        Self { a_c: share.mean * house_c, b: 1.0 - share.mean, night_sd_k: NIGHT_SD_K, doubt: LineDoubt::of_share(share.sd, house_c) }
    }

    /// By its kind.
    pub fn of_kind(kind: StoreKind) -> Self {
        Self::keeping(kind.share(), HOUSE_C)
    }

    /// By what a grower calls it; `None`: some shed or garage.
    pub fn of_store(store: Option<Store>, priors: &Priors) -> Self {
        match store {
            Some(store) => Self::of_kind(store.kind()),
            None => Self::keeping(priors.carried_in_share, priors.carried_in_house_c),
        }
    }

    /// By a line from the grower's own readings.
    pub fn of_place(place: &Place) -> Self {
        Self { a_c: place.a_c, b: place.b, night_sd_k: place.night_sd_k, doubt: place.doubt }
    }
}
