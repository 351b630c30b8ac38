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

#[cfg(test)]
mod tests {
    use super::*;

    // The definition of the share f: inside = f·house + (1 − f)·outside, house 20 °C. What is not known of it weighs by the difference it is a
    // share of, and by nothing where it is as warm outside as in the house. By hand: a garage on the house keeps three tenths of 40 K.
    #[test]
    fn a_store_stands_its_share_of_the_way_from_outside_to_the_house() {
        for kind in StoreKind::ALL.iter().copied() {
            let (share, air) = (kind.share(), StoreAir::of_kind(kind));
            for outside in [-25.0, -10.0, 3.0, 20.0] {
                let gain = air.a_c + air.b * outside - outside;
                assert!((gain - share.mean * (20.0 - outside)).abs() < 1e-9, "{kind}");
                assert!((air.doubt.variance_k2(outside) - (share.sd * (20.0 - outside)).powi(2)).abs() < 1e-9, "{kind}");
            }
        }
        let garage = StoreAir::of_kind(StoreKind::Attached);
        assert!((garage.a_c + garage.b * -20.0 + 8.0).abs() < 1e-9, "{garage:?}");
    }
}
