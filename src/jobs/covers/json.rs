//! Covers and small heat as JSON.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::covers::answer::{CoversAnswer, LONG_FROST};
use crate::jobs::covers::heat::HeatAnswer;
use crate::jobs::shelter::words_cautions::caution_words;
use crate::jobs::shortlist::json::{RangeJson, pair, tidy};
use crate::science::cold_night::covers::CoverGain;
use crate::science::cold_night::stage::NightKind;
use crate::science::numeric::{Gaussian, Z_90};
use crate::science::shelter::cautions;
use crate::units::Interval;

/// A gain with its doubt.
#[derive(Debug, Serialize, ToSchema)]
pub struct GainJson {
    /// Mean, K.
    pub gain_k: f64,
    /// Standard deviation, K.
    pub sd_k: f64,
    /// 90 % range, K.
    #[schema(value_type = RangeJson)]
    pub range_k: RangeJson,
}

/// One gain a kind of night.
#[derive(Debug, Serialize, ToSchema)]
pub struct NightGainsJson {
    /// Clear and still.
    pub clear_still: GainJson,
    /// Windy.
    pub windy: GainJson,
    /// Cloudy.
    pub cloudy: GainJson,
}

/// One cover.
#[derive(Debug, Serialize, ToSchema)]
pub struct CoverGainJson {
    /// Its word, as a plan takes it.
    pub kind: &'static str,
    /// In words.
    pub name: &'static str,
    /// Over soil.
    pub over_soil: NightGainsJson,
    /// Over a pot on paving.
    pub over_pot: NightGainsJson,
    /// READ, DESIGN …
    pub provenance: String,
    /// Source or reason.
    pub note: String,
}

/// Every cover.
#[derive(Debug, Serialize, ToSchema)]
pub struct CoversJson {
    /// The covers.
    pub covers: Vec<CoverGainJson>,
    /// Share of a cover's gain that a pot gets.
    pub pot_share: f64,
    /// What reaching the soil all round adds to one sheet over the top, K.
    pub to_ground: NightGainsJson,
    /// A plan counts one cover a plant: gains are never added.
    pub layers_add_up: bool,
    /// Share of the first night's gain that is left on each night of a frost whose nights have `long_frost_lowest_c` and whose days
    /// `long_frost_highest_c`.
    pub long_frost_shares: Vec<f64>,
    /// Lowest of its nights, °C.
    pub long_frost_lowest_c: f64,
    /// Highest of its days, °C.
    pub long_frost_highest_c: f64,
}

impl GainJson {
    /// Of a gain in K.
    pub fn of(gain: Gaussian) -> Self {
        let (low, high) = (gain.mean - Z_90 * gain.sd, gain.mean + Z_90 * gain.sd);
        Self { gain_k: tidy(gain.mean), sd_k: tidy(gain.sd), range_k: pair(Interval { low, high }) }
    }
}

impl NightGainsJson {
    fn of(gain: impl Fn(NightKind) -> Gaussian) -> Self {
        let of = |night| GainJson::of(gain(night));
        Self { clear_still: of(NightKind::ClearStill), windy: of(NightKind::Windy), cloudy: of(NightKind::Cloudy) }
    }
}

impl CoversJson {
    /// Of an answer.
    pub fn of(answer: &CoversAnswer) -> Self {
        let covers = answer.rows.iter().map(|row| {
            let on = |night: NightKind, of: fn(&CoverGain) -> Gaussian| {
                row.gains.iter().find(|(kind, _)| *kind == night).map_or_else(Gaussian::default, |(_, gain)| of(gain))
            };
            CoverGainJson {
                kind: row.kind.word(),
                name: row.kind.label(),
                over_soil: NightGainsJson::of(|night| on(night, |gain| gain.over_soil)),
                over_pot: NightGainsJson::of(|night| on(night, |gain| gain.over_pot)),
                provenance: row.provenance.clone(),
                note: row.note.clone(),
            }
        });
        let to_ground = |night| answer.layers.iter().find(|l| l.night == night).map_or_else(Gaussian::default, |l| l.to_ground);
        Self {
            covers: covers.collect(),
            pot_share: answer.pot_share,
            to_ground: NightGainsJson::of(to_ground),
            layers_add_up: false,
            long_frost_shares: answer.shares.iter().copied().map(tidy).collect(),
            long_frost_lowest_c: LONG_FROST.1,
            long_frost_highest_c: LONG_FROST.2,
        }
    }
}

/// What a few watts gain.
#[derive(Debug, Serialize, ToSchema)]
pub struct SmallHeatJson {
    /// Read these first.
    pub cautions: Vec<String>,
    /// Cover, m².
    pub cover_m2: f64,
    /// Air under it, m³.
    pub volume_m3: f64,
    /// What it loses, W/K.
    pub loss_w_k: f64,
    /// Of that by leaks, W/K.
    pub leak_w_k: f64,
    /// Watts of one.
    pub watts_each: f64,
    /// What the cover buys without heat, over soil.
    pub cover_alone: GainJson,
    /// What the count gains; null without `count`.
    pub gain: Option<HeatGainJson>,
    /// What the wish takes; null without `wanted_k`.
    pub wish: Option<WishJson>,
}

/// A gain of heat.
#[derive(Debug, Serialize, ToSchema)]
pub struct HeatGainJson {
    /// Watts in all.
    pub watts: f64,
    /// Degrees that the heat gains, K.
    pub gain_k: f64,
    /// 90 % range, K.
    #[schema(value_type = RangeJson)]
    pub range_k: RangeJson,
    /// With what the cover buys by itself.
    pub together: GainJson,
}

/// Watts for a wish.
#[derive(Debug, Serialize, ToSchema)]
pub struct WishJson {
    /// Degrees wanted from the heat, K.
    pub gain_k: f64,
    /// Watts.
    pub watts: f64,
    /// 90 % range, W.
    #[schema(value_type = RangeJson)]
    pub range_w: RangeJson,
    /// How many of the chosen heat.
    pub count: f64,
}

impl SmallHeatJson {
    /// Of an answer.
    pub fn of(answer: &HeatAnswer) -> Self {
        Self {
            cautions: cautions::small_heat(answer.watts()).into_iter().map(caution_words).collect(),
            cover_m2: tidy(answer.covered.cover_m2),
            volume_m3: tidy(answer.covered.volume_m3),
            loss_w_k: tidy(answer.covered.loss_w_k()),
            leak_w_k: tidy(answer.covered.leak_w_k()),
            watts_each: answer.each_w,
            cover_alone: GainJson::of(answer.cover_alone),
            gain: answer.gain.map(|gain| HeatGainJson {
                watts: tidy(gain.watts),
                gain_k: tidy(gain.gain_k),
                range_k: pair(gain.range),
                together: GainJson::of(gain.together),
            }),
            wish: answer.wish.map(|wish| WishJson {
                gain_k: tidy(wish.gain_k),
                watts: tidy(wish.watts),
                range_w: pair(wish.range),
                count: wish.count,
            }),
        }
    }
}
