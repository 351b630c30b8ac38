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

    fn inside(air: StoreAir, outside_c: f64) -> f64 {
        air.a_c + air.b * outside_c
    }

    // The definition of the share f: inside = f·house + (1 − f)·outside, house 20 °C. A store that keeps more is the warmer one.
    #[test]
    fn a_store_stands_its_share_of_the_way_from_outside_to_the_house() {
        for kind in StoreKind::ALL.iter().copied() {
            let share = kind.share();
            for outside in [-25.0, -10.0, 3.0] {
                let air = StoreAir::of_kind(kind, outside);
                assert!(((inside(air, outside) - outside) / (20.0 - outside) - share.mean).abs() < 1e-12, "{kind}");
                // What is not known of the share weighs by the difference it is a share of.
                assert!((air.doubt_k - share.sd * (20.0 - outside)).abs() < 1e-12, "{kind}");
            }
            assert!(
                (inside(StoreAir::of_kind(kind, -10.0), 20.0) - 20.0).abs() < 1e-12,
                "{kind}: nothing to keep where it is as warm outside"
            );
        }
        // Worked by hand: a garage on the house, −20 °C outside, three tenths of 40 K.
        assert!((inside(StoreAir::of_kind(StoreKind::Attached, -20.0), -20.0) + 8.0).abs() < 1e-12);
    }

    // Independent parts of a spread: night to night and not known, their squares make up the whole.
    #[test]
    fn the_spread_of_a_line_of_readings_is_shared_between_night_and_doubt() {
        let line = |sd_k| StoreAir::of_place(&Place { a_c: 5.0, b: 0.6, sd_k, readings: 2 });
        let wide = line(2.0);
        assert!((inside(wide, -10.0) + 1.0).abs() < 1e-12);
        assert!((wide.night_sd_k - 1.2).abs() < 1e-12 && (wide.doubt_k - 1.6).abs() < 1e-12, "{wide:?}");
        let narrow = line(0.7);
        assert!((narrow.night_sd_k - 0.7).abs() < 1e-12 && narrow.doubt_k.abs() < 1e-12, "{narrow:?}");
    }
}
