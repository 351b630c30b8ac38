//! Distances on the Earth.

/// Mean radius of the Earth, km (IUGG 1980, R₁).
const EARTH_RADIUS_KM: f64 = 6371.009;

/// Great-circle distance between two points in degrees, km: haversine (Sinnott 1984, Sky and Telescope 68, 159), on a sphere, within 0.5 %.
pub fn km(from: (f64, f64), to: (f64, f64)) -> f64 {
    let (lat1, lat2) = (from.0.to_radians(), to.0.to_radians());
    let half = |a: f64, b: f64| ((b - a) / 2.0).sin().powi(2);
    let h = half(lat1, lat2) + lat1.cos() * lat2.cos() * half(from.1.to_radians(), to.1.to_radians());
    2.0 * EARTH_RADIUS_KM * h.min(1.0).sqrt().asin()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_agree_with_published_ones() {
        // A quarter of the meridian is 10,002 km (the first definition of the metre, on the ellipsoid): 0.5 % holds for the sphere.
        assert!((km((0.0, 0.0), (90.0, 0.0)) - 10_002.0).abs() < 50.0);
        // Across the date line and over the pole.
        assert!((km((0.0, 179.5), (0.0, -179.5)) - 111.2).abs() < 0.1);
        assert!((km((89.5, 0.0), (89.5, 180.0)) - 111.2).abs() < 0.1);
        assert_eq!(km((48.2, 16.4), (48.2, 16.4)), 0.0);
    }
}
