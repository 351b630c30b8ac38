//! Green figs in autumn: which will still ripen, which will not, and which are next year's.
//!
//! A fig of a size still needs heat ([`super::FruitPriors::green_fig_need`]); what is left before the first night of −1 °C is the curve's
//! heat from today with the year's spread in proportion. Embryos near the tips of kinds that bear a breba rest over winter and ripen next
//! summer if their tips live; larger green figs do not live through winter (common practice: take them off).

use super::crop::FruitTraits;
use super::curve::DegreeDayCurve;
use super::fig_size::FigSize;
use super::priors::FruitPriors;
use super::season_degree_days::SeasonDegreeDays;
use crate::science::cultivar::CropHabit;
use crate::science::numeric::standard_normal_cdf;

/// What becomes of a green fig.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// More likely than not to ripen: leave it.
    Ripens,
    /// May ripen: leave the largest.
    MayRipen,
    /// Will not ripen: take it off.
    Lost,
    /// Rests over winter and may be next year's breba: leave it.
    NextYear,
}

/// The answer for one size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GreenFig {
    /// The size.
    pub size: FigSize,
    /// Chance of ripening before the first night of −1 °C.
    pub chance: f64,
    /// What that means.
    pub fate: Fate,
}

/// Chances that call a fig likely, and lost. DESIGN.
const LIKELY: f64 = 0.5;
const LOST: f64 = 0.15;

/// Whether a cultivar may bear a breba; unknown traits may.
pub fn may_bear_breba(traits: &FruitTraits) -> bool {
    traits.may_bear() && !matches!(traits.habit, Some(CropHabit::Main))
}

/// What becomes of green figs of every size from `today` (days from the turn of the year).
pub fn green_figs(
    traits: &FruitTraits,
    curve: &DegreeDayCurve,
    degree_days: &SeasonDegreeDays,
    today: f64,
    priors: &FruitPriors,
) -> Vec<GreenFig> {
    let left = curve.between(today, curve.hard_frost());
    // The frost date carries most of autumn's spread: its share of the season's is at least a quarter of the heat that is left.
    let share = (left / curve.season().max(1.0)).clamp(0.0, 1.0);
    let spread_left = (degree_days.over_years.sd.hypot(degree_days.doubt) * share.sqrt()).max(0.25 * left);
    let ripens = |size: FigSize| {
        let [pea, growing, full, swelling] = priors.green_fig_need;
        let need = match size {
            FigSize::Pea => pea,
            FigSize::Growing => growing,
            FigSize::FullGreen => full,
            FigSize::Swelling => swelling,
        };
        standard_normal_cdf((left - need.mean) / need.sd.hypot(spread_left).max(1.0))
    };
    FigSize::ALL
        .iter()
        .map(|&size| {
            let chance = ripens(size);
            let fate = if chance >= LIKELY {
                Fate::Ripens
            } else if size == FigSize::Pea && may_bear_breba(traits) {
                Fate::NextYear
            } else if chance >= LOST {
                Fate::MayRipen
            } else {
                Fate::Lost
            };
            GreenFig { size, chance, fate }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::fruit_priors;
    use crate::science::climate::season::{Origin, Season};
    use crate::units::Celsius;

    #[test]
    fn late_in_the_season_only_swelling_figs_ripen_and_peas_are_next_years() {
        let priors = fruit_priors().unwrap();
        let season = Season::new(200.0, Celsius::literal(18.5), Origin::Given, Origin::Given).unwrap();
        let curve = DegreeDayCurve::from_season(&season, 0.0, &priors);
        let degree_days = SeasonDegreeDays::from_season(&season, &priors);
        let fates =
            |traits: &FruitTraits, day| green_figs(traits, &curve, &degree_days, day, &priors).iter().map(|g| g.fate).collect::<Vec<_>>();
        // 20 September on a cool coast.
        assert_eq!(fates(&FruitTraits::default(), 262.0), [Fate::NextYear, Fate::Lost, Fate::Lost, Fate::Ripens]);
        let main_only = FruitTraits { habit: Some(CropHabit::Main), ..FruitTraits::default() };
        assert_eq!(fates(&main_only, 262.0)[0], Fate::Lost);
        let chances = |day: f64| green_figs(&main_only, &curve, &degree_days, day, &priors)[2].chance;
        assert!(chances(200.0) > chances(240.0) && chances(240.0) > chances(280.0));
    }
}
