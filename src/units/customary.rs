//! United States customary units in SI, by their definitions (NIST Handbook 44, appendix C).

/// Metres in an international foot.
pub const METRES_PER_FOOT: f64 = 0.3048;
/// Square metres in a square foot.
pub const SQUARE_METRES_PER_SQUARE_FOOT: f64 = METRES_PER_FOOT * METRES_PER_FOOT;
/// Cubic metres in a cubic foot.
pub const CUBIC_METRES_PER_CUBIC_FOOT: f64 = SQUARE_METRES_PER_SQUARE_FOOT * METRES_PER_FOOT;
/// Kilometres in a mile of 5,280 feet.
pub const KM_PER_MILE: f64 = 1.609_344;
/// Litres in a gallon of 231 cubic inches.
pub const LITRES_PER_US_GALLON: f64 = 3.785_411_784;
