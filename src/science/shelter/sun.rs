//! How hot a closed shelter grows in the sun, and the air it needs.
//!
//! Steady: `rise = τ·I·A_floor·s / G`, with τ the share of light that comes in (`Envelope::light`), s the share that warms the air rather than
//! evaporating water ([`WARMS_AIR`]), I the sun on level ground. DESIGN values: I 500 W/m² for a clear February noon in the middle latitudes and 900 W/m² for
//! midsummer. A warning, not a forecast: warmth of this size wakes dormant figs, which lose hardiness within days.

use super::day::WARMS_AIR;
use super::envelope::AIR_WH_M3K;

/// Sun on level ground on a clear February noon in the middle latitudes, W/m². DESIGN.
pub const FEBRUARY_W_M2: f64 = 500.0;
/// The same in midsummer, W/m². DESIGN.
pub const MIDSUMMER_W_M2: f64 = 900.0;
/// Warmer than outside by no more than this is the aim of venting, K. DESIGN.
pub const AIM_K: f64 = 5.0;

/// What the sun does to a closed shelter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunRise {
    /// Inside above outside with everything shut, K.
    pub shut_k: f64,
    /// Air changes an hour that keep it to [`AIM_K`] above outside; `None` where it already does or the volume is unknown.
    pub air_changes_per_hour: Option<f64>,
}

/// For a shelter of conductance `g_w_k` (leaks included) with `leaks_w_k` of that from leaks, letting in `light` (0..=1) of the sun.
pub fn sun(g_w_k: f64, leaks_w_k: f64, light: f64, floor_m2: f64, volume_m3: f64, sun_w_m2: f64) -> SunRise {
    let heat_w = light * WARMS_AIR * sun_w_m2 * floor_m2;
    let shut_k = heat_w / g_w_k;
    let need_w_k = heat_w / AIM_K - (g_w_k - leaks_w_k);
    let air_changes_per_hour = (shut_k > AIM_K && volume_m3 > 0.0).then(|| need_w_k / (AIR_WH_M3K * volume_m3));
    SunRise { shut_k, air_changes_per_hour }
}
