//! Nights of each winter below each threshold: winters run down the page, a bar a threshold, the colder over the milder.

use crate::science::climate::site_climate::SiteClimate;
use crate::science::climate::spells::BelowThreshold;
use crate::web::charts::axis::percent;
use crate::web::frame::Frame;

/// Height that the winters share, px; each gets between the two limits.
const HEIGHT: f64 = 460.0;
const WINTER_PX: (f64, f64) = (6.0, 18.0);
/// Share of a winter's height that its bar takes.
const BAR_SHARE: f64 = 0.72;
/// Room below for the axis, px.
const AXIS_PX: f64 = 22.0;
/// Left edge of the bars, %: room for the labels of the winters.
const LEFT: f64 = 13.0;
/// Steps that the axis may have, nights.
const STEPS: [usize; 6] = [1, 2, 5, 10, 20, 50];
/// Most marks on the axis.
const MOST_MARKS: usize = 6;
/// Shades there are; a threshold of one's own is one of them.
const SHADES: usize = 5;

/// One bar of a winter.
#[derive(Debug, Clone)]
pub struct Bar {
    /// Its shade, 0 the mildest threshold.
    pub shade: usize,
    /// Width, %.
    pub width: String,
}

/// One winter.
#[derive(Debug, Clone)]
pub struct WinterBars {
    /// Top of its bar, px.
    pub y: String,
    /// Line of its label, px.
    pub line: String,
    /// Its label, on every fifth or tenth.
    pub label: Option<i16>,
    /// Bars, the longest first.
    pub bars: Vec<Bar>,
}

/// The picture.
#[derive(Debug, Clone)]
pub struct ColdNights {
    /// Winters, in order.
    pub winters: Vec<WinterBars>,
    /// Left edge of the bars.
    pub left: String,
    /// Height of a bar, px.
    pub bar_px: String,
    /// Bottom of the field, px.
    pub bottom: String,
    /// Height of the whole picture, px.
    pub height: String,
    /// Marks of the axis: place and nights.
    pub marks: Vec<(String, usize)>,
    /// Shades and what they mean.
    pub key: Vec<(usize, String)>,
    /// Header and rows of the table of the same numbers.
    pub rows: Vec<(i16, Vec<usize>)>,
    /// The picture in words.
    pub description: String,
}

impl ColdNights {
    /// Draws the counts of a record; `None` where no night counts.
    pub fn new(climate: &SiteClimate, frame: &Frame) -> Option<Self> {
        let spells = climate.spells.as_ref()?;
        // The mildest first, so that the colder lie over it.
        let mut kinds: Vec<&BelowThreshold> = spells.by_threshold.iter().take(SHADES).collect();
        kinds.sort_by(|a, b| b.threshold.degrees().total_cmp(&a.threshold.degrees()));
        let mildest = kinds.first()?;
        let most = mildest.by_winter.iter().map(|w| w.nights).max().filter(|most| *most > 0)?;
        let (first, last) = (mildest.by_winter.first()?.winter, mildest.by_winter.last()?.winter);
        let step = (HEIGHT / (f64::from(last - first) + 1.0)).clamp(WINTER_PX.0, WINTER_PX.1);
        let every = if step >= 12.0 { 5 } else { 10 };
        let width = |nights: usize| nights as f64 / most as f64 * (100.0 - LEFT);
        let of = |kind: &BelowThreshold, winter: i16| kind.by_winter.iter().find(|w| w.winter == winter).map_or(0, |w| w.nights);
        let winters = mildest
            .by_winter
            .iter()
            .map(|w| {
                let top = step * f64::from(w.winter - first);
                let bars = kinds.iter().enumerate().map(|(shade, kind)| (shade, of(kind, w.winter))).filter(|(_, nights)| *nights > 0);
                WinterBars {
                    y: format!("{:.1}", top + step * (1.0 - BAR_SHARE) / 2.0),
                    line: format!("{:.1}", top + step / 2.0),
                    label: (w.winter % every == 0).then_some(w.winter),
                    bars: bars.map(|(shade, nights)| Bar { shade, width: percent(width(nights)) }).collect(),
                }
            })
            .collect();
        let bottom = step * (f64::from(last - first) + 1.0);
        let apart = STEPS.into_iter().find(|s| most / s < MOST_MARKS).unwrap_or(100);
        let hardest = mildest.by_winter.iter().max_by_key(|w| w.nights)?;
        Some(Self {
            winters,
            left: percent(LEFT),
            bar_px: format!("{:.1}", step * BAR_SHARE),
            bottom: format!("{bottom:.1}"),
            height: format!("{:.0}", bottom + AXIS_PX),
            marks: (0..=most / apart).map(|n| (percent(LEFT + width(n * apart)), n * apart)).collect(),
            key: kinds.iter().enumerate().map(|(shade, kind)| (shade, format!("below {}", frame.temperature(kind.threshold)))).collect(),
            rows: mildest.by_winter.iter().map(|w| (w.winter, kinds.iter().map(|kind| of(kind, w.winter)).collect())).collect(),
            description: format!(
                "Nights below {} in each of {} winters from {first} to {last}: most in {}, {} nights; colder thresholds within the same bars.",
                frame.temperature(mildest.threshold),
                mildest.by_winter.len(),
                hardest.winter,
                hardest.nights
            ),
        })
    }
}
