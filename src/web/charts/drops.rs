//! Years in ten as ten drops; filled ones are years with ripe figs.

/// One drop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Drop {
    /// Whether it counts.
    pub full: bool,
}

/// Ten drops for a share of years.
pub fn drops(share: f64) -> Vec<Drop> {
    let full = (10.0 * share).round() as usize;
    (0..10).map(|i| Drop { full: i < full }).collect()
}
