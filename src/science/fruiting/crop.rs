//! Chance of ripe figs in a year, given what winter did to the plant.
//!
//! For a season's heat H (mean m, year-to-year spread s) and a crop's need N after damage (mean n, doubt d):
//! expected P(H ≥ N) = Φ((m − n)/√(s² + d²)); low and high hold what is unknown at its 95 % and 5 % points and leave only the year
//! to chance, so that many-year answers do not average the doubt away. One year's heat serves both crops: where the main crop ripens
//! the heat was enough for the breba, so P(any) = P(main) + kept·(P(breba heat) − P(main)).

use super::priors::FruitPriors;
use super::season_degree_days::SeasonDegreeDays;
use crate::science::cultivar::{CropHabit, FruitKind, RipeningSeason};
use crate::science::numeric::eight_normal::{NormalCdf, normal_cdf};
use crate::science::numeric::eight_numbers::replace;
use crate::science::numeric::{Gaussian, Z_90};

/// What is known of a cultivar's fruit; `None` is unknown and widens the range.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FruitTraits {
    /// Whether it needs the fig wasp.
    pub kind: Option<FruitKind>,
    /// On which wood it crops.
    pub habit: Option<CropHabit>,
    /// Whether shoots from the base bear in their first season.
    pub fruits_on_regrowth: Option<bool>,
    /// When its main crop ripens.
    pub ripening: Option<RipeningSeason>,
    /// Heat needs as reports have moved them; `None` where the tables alone speak.
    pub learned: Option<LearnedNeeds>,
}

/// Heat from the start of growth to the first ripe fig on sound wood, learned from reports; the spread is what is still unknown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnedNeeds {
    /// Of the main crop.
    pub main: Gaussian,
    /// Of the breba.
    pub breba: Gaussian,
    /// What the main crop needs more on shoots from the base.
    pub base: Gaussian,
}

impl FruitTraits {
    /// Heat the main crop needs on sound wood.
    pub fn main_need(&self, priors: &FruitPriors) -> Gaussian {
        self.learned.map_or_else(|| priors.main_need(self.ripening), |learned| learned.main)
    }

    /// Heat the main crop needs more on shoots from the base, the later start aside.
    pub fn base_need(&self, priors: &FruitPriors) -> Gaussian {
        self.learned.map_or(priors.regrowth_need, |learned| learned.base)
    }

    /// Heat the breba needs.
    pub fn breba_need(&self, priors: &FruitPriors) -> Gaussian {
        self.learned.map_or_else(|| priors.breba_need(self.ripening), |learned| learned.breba)
    }
}

/// Chances of ripe figs in a year by damage level 0..=4 ([`crate::science::hardiness::level::DamageLevel::ALL`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CropChances {
    /// Chance of any ripe figs.
    pub expected: [f64; 5],
    /// The same at the low end of the 90 % range of what is unknown of cultivar and place.
    pub low: [f64; 5],
    /// The same at the high end.
    pub high: [f64; 5],
    /// Chance of a ripe main crop.
    pub main: [f64; 5],
    /// Chance of a ripe breba crop.
    pub breba: [f64; 5],
    /// Heat the main crop needs on sound wood; its spread is the doubt of sources and cultivar.
    pub main_need: Gaussian,
    /// Heat the main crop needs from the base, counted from the start of growth of undamaged figs, late start included.
    pub regrowth_need: Gaussian,
    /// Share of cultivars like this one that bear on shoots from the base: 0 or 1 where known, between where not, 0 without the wasp.
    pub regrowth_share: f64,
}

/// Whether each crop can come at all; shares where it is not known.
#[derive(Clone, Copy)]
struct Bearing {
    /// Chance that both, only the main, only the breba crop is borne on sound wood.
    both: f64,
    main_only: f64,
    breba_only: f64,
    /// Share of the main crop that is borne on shoots from the base and after part of the wood died.
    on_regrowth: f64,
    after_wood: f64,
    /// Share of years in which the breba is kept on an unharmed plant.
    breba_kept: f64,
}

/// Which end of what is unknown.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum View {
    Expected,
    Low,
    High,
}

impl View {
    fn pick(self, expected: f64, low: f64, high: f64) -> f64 {
        match self {
            Self::Expected => expected,
            Self::Low => low,
            Self::High => high,
        }
    }

    fn share(self, belief: Gaussian) -> f64 {
        self.pick(belief.mean, belief.mean - Z_90 * belief.sd, belief.mean + Z_90 * belief.sd).clamp(0.0, 1.0)
    }
}

impl FruitTraits {
    /// A caprifig of which a source says that its early crop is eaten.
    pub fn is_edible_caprifig(&self) -> bool {
        self.kind == Some(FruitKind::Caprifig) && self.habit == Some(CropHabit::Breba)
    }

    /// A caprifig whose figs nobody eats.
    pub fn is_pollinator_only(&self) -> bool {
        self.kind == Some(FruitKind::Caprifig) && !self.is_edible_caprifig()
    }

    /// Whether it may bear figs to eat where the fig wasp does not live; an unknown kind may.
    pub fn may_bear(&self) -> bool {
        self.kind != Some(FruitKind::Smyrna) && !self.is_pollinator_only()
    }
}

/// Bearing of a cultivar of known kind.
fn bearing_of_kind(kind: FruitKind, traits: FruitTraits, priors: &FruitPriors, view: View) -> Bearing {
    let none = Bearing { both: 0.0, main_only: 0.0, breba_only: 0.0, on_regrowth: 0.0, after_wood: 0.0, breba_kept: 0.0 };
    let breba_kept = view.share(priors.breba_kept);
    match kind {
        // An edible caprifig is one whose early crop is known to be eaten; it sets without the wasp, on last year's wood.
        FruitKind::Caprifig if traits.is_edible_caprifig() => Bearing { breba_only: 1.0, breba_kept, ..none },
        // Nothing to eat without the wasp, or at all.
        FruitKind::Smyrna | FruitKind::Caprifig => none,
        // The main crop drops without the wasp; the breba is borne on last year's wood whatever the list says of habit.
        FruitKind::SanPedro => Bearing { breba_only: 1.0, breba_kept, ..none },
        FruitKind::Common => {
            let share = |habit| priors.habit_share(habit);
            let (both, main_only, breba_only) = match traits.habit {
                Some(CropHabit::Both) => (1.0, 0.0, 0.0),
                Some(CropHabit::Main) => (0.0, 1.0, 0.0),
                Some(CropHabit::Breba) => (0.0, 0.0, 1.0),
                None => match view {
                    View::Expected => (share(CropHabit::Both), share(CropHabit::Main), share(CropHabit::Breba)),
                    View::Low => (0.0, 1.0, 0.0),
                    View::High => (1.0, 0.0, 0.0),
                },
            };
            let on_regrowth = match traits.fruits_on_regrowth {
                Some(known) => f64::from(u8::from(known)),
                None => view.pick(priors.regrowth_share, 0.0, 1.0),
            };
            let after_wood = on_regrowth + (1.0 - on_regrowth) * view.share(priors.wood_share_without_regrowth);
            Bearing { both, main_only, breba_only, on_regrowth, after_wood, breba_kept }
        }
    }
}

/// How far the season's heat lies above a need, in standard deviations of what differs.
fn margin(degree_days: &SeasonDegreeDays, need: Gaussian, view: View) -> f64 {
    let margin = degree_days.over_years.mean - need.mean;
    let doubt_2 = need.variance() + degree_days.doubt * degree_days.doubt;
    match view {
        View::Expected => margin / (degree_days.over_years.variance() + doubt_2).sqrt().max(f64::MIN_POSITIVE),
        View::Low => (margin - Z_90 * doubt_2.sqrt()) / degree_days.over_years.sd.max(f64::MIN_POSITIVE),
        View::High => (margin + Z_90 * doubt_2.sqrt()) / degree_days.over_years.sd.max(f64::MIN_POSITIVE),
    }
}

/// The margins of the main crop after damage 0..=3 and of the breba.
fn margins(degree_days: &SeasonDegreeDays, needs: &[Gaussian; 4], breba_need: Gaussian, view: View) -> [f64; CROPS] {
    let [sound, tips, wood, ground] = *needs;
    [sound, tips, wood, ground, breba_need].map(|need| margin(degree_days, need, view))
}

/// Needs that a season's heat is held against.
const CROPS: usize = 5;

/// Any, main, breba by level.
pub(super) type ByLevel = [[f64; 3]; 5];

/// With the chances that the season's heat reaches the need of the main crop after damage 0..=3 and of the breba.
fn by_level(bearing: Bearing, [sound, tips, wood, ground, breba_degree_days]: [f64; CROPS]) -> ByLevel {
    let main_borne = bearing.both + bearing.main_only;
    let breba_borne = bearing.both + bearing.breba_only;
    let breba = bearing.breba_kept * breba_degree_days;
    let either = sound + bearing.breba_kept * (breba_degree_days - sound).max(0.0);
    let main = |p: f64| [main_borne * p, main_borne * p, 0.0];
    [
        [bearing.both * either + bearing.main_only * sound + bearing.breba_only * breba, main_borne * sound, breba_borne * breba],
        main(tips),
        main(wood * bearing.after_wood),
        main(ground * bearing.on_regrowth),
        [0.0; 3],
    ]
}

/// Chances at one end of what is unknown, over the kinds the cultivar may be.
pub(super) fn viewed(
    traits: FruitTraits,
    degree_days: &SeasonDegreeDays,
    needs: &[Gaussian; 4],
    breba_need: Gaussian,
    priors: &FruitPriors,
    view: View,
) -> ByLevel {
    let reached = margins(degree_days, needs, breba_need, view).map(normal_cdf);
    let of = |kind| by_level(bearing_of_kind(kind, traits, priors, view), reached);
    match (traits.kind, view) {
        (Some(kind), _) => of(kind),
        // A Smyrna or caprifig bears nothing; a common fig bears most.
        (None, View::Low) => [[0.0; 3]; 5],
        (None, View::High) => of(FruitKind::Common),
        (None, View::Expected) => {
            let mut sum = [[0.0; 3]; 5];
            for &kind in FruitKind::ALL {
                let share = priors.kind_share(kind);
                for (total, part) in sum.as_flattened_mut().iter_mut().zip(of(kind).as_flattened()) {
                    *total += share * part;
                }
            }
            sum
        }
    }
}

/// Heat the main crop needs after damage 0..=3, counted from the start of growth of undamaged figs: a later start loses spring heat.
pub(super) fn main_needs(traits: FruitTraits, degree_days: &SeasonDegreeDays, priors: &FruitPriors) -> [Gaussian; 4] {
    let sound = traits.main_need(priors);
    let [tips, wood, ground] =
        priors.delay_days.map(|delay| sound.plus(Gaussian::new(delay.mean * degree_days.spring_rate, delay.sd * degree_days.spring_rate)));
    [sound, tips, wood, ground.plus(traits.base_need(priors))]
}

/// Chance of any ripe figs in a year by damage level, without its ranges.
pub fn expected_crop(traits: &FruitTraits, degree_days: &SeasonDegreeDays, priors: &FruitPriors) -> [f64; 5] {
    let needs = main_needs(*traits, degree_days, priors);
    viewed(*traits, degree_days, &needs, traits.breba_need(priors), priors, View::Expected).map(|[any, ..]| any)
}

/// The same in each of several seasons for needs that lie each of `z` standard deviations from their means, first by season: where shoots from
/// the base bear, and where they do not.
pub fn crops_by_regrowth(traits: &FruitTraits, seasons: &[SeasonDegreeDays], z: &[f64], priors: &FruitPriors) -> Vec<[[f64; 5]; 2]> {
    let (main, breba, base) = (traits.main_need(priors), traits.breba_need(priors), traits.base_need(priors));
    let mut reached: Vec<f64> = Vec::with_capacity(CROPS * seasons.len() * z.len());
    for season in seasons {
        for z in z {
            let held = |need: Gaussian| Gaussian::new(need.mean + z * need.sd, 0.0);
            let learned = LearnedNeeds { main: held(main), breba: held(breba), base: held(base) };
            let needs = main_needs(FruitTraits { learned: Some(learned), ..*traits }, season, priors);
            reached.extend(margins(season, &needs, learned.breba, View::Expected));
        }
    }
    replace(&mut reached, &NormalCdf);
    let kinds: Vec<(f64, [Bearing; 2])> = FruitKind::ALL
        .iter()
        .map(|&kind| {
            let share = traits.kind.map_or_else(|| priors.kind_share(kind), |known| f64::from(u8::from(known == kind)));
            let of = |bears| bearing_of_kind(kind, FruitTraits { fruits_on_regrowth: Some(bears), ..*traits }, priors, View::Expected);
            (share, [of(true), of(false)])
        })
        .filter(|(share, _)| *share > 0.0)
        .collect();
    let any = |reached: [f64; CROPS], way: usize| {
        let mut sum = [0.0; 5];
        for (share, bearing) in &kinds {
            for (total, [any, ..]) in sum.iter_mut().zip(by_level(bearing[way], reached)) {
                *total += share * any;
            }
        }
        sum
    };
    reached.as_chunks().0.iter().map(|reached| [any(*reached, 0), any(*reached, 1)]).collect()
}

/// Chances of ripe figs in a year for a cultivar at a place, by damage level. A few normal integrals; nothing is allocated.
pub fn crop_chances(traits: &FruitTraits, degree_days: &SeasonDegreeDays, priors: &FruitPriors) -> CropChances {
    let traits = *traits;
    let needs = main_needs(traits, degree_days, priors);
    let breba_need = traits.breba_need(priors);
    let view = |view| viewed(traits, degree_days, &needs, breba_need, priors, view);
    let (centre, low, high) = (view(View::Expected), view(View::Low), view(View::High));
    let expected = centre.map(|[any, ..]| any);
    let mut chances = CropChances {
        expected,
        low: expected,
        high: expected,
        main: centre.map(|[_, main, _]| main),
        breba: centre.map(|[_, _, breba]| breba),
        main_need: needs[0],
        regrowth_need: needs[3],
        regrowth_share: match traits.kind {
            Some(kind) => bearing_of_kind(kind, traits, priors, View::Expected).on_regrowth,
            None => priors.kind_share(FruitKind::Common) * bearing_of_kind(FruitKind::Common, traits, priors, View::Expected).on_regrowth,
        },
    };
    for (slot, [any, ..]) in chances.low.iter_mut().zip(low) {
        *slot = slot.min(any);
    }
    for (slot, [any, ..]) in chances.high.iter_mut().zip(high) {
        *slot = slot.max(any);
    }
    chances
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::catalogue::prior_table::fruit_priors;
    use crate::science::climate::season::{Origin, Season};
    use crate::units::Celsius;

    fn degree_days(frost_free_days: f64, warmest_month_c: f64) -> SeasonDegreeDays {
        let season = Season::new(frost_free_days, Celsius::literal(warmest_month_c), Origin::Given, Origin::Given).unwrap();
        SeasonDegreeDays::from_season(&season, &fruit_priors().unwrap())
    }

    fn any_traits() -> impl Strategy<Value = FruitTraits> {
        let kind = proptest::option::of(proptest::sample::select(FruitKind::ALL));
        let habit = proptest::option::of(proptest::sample::select(CropHabit::ALL));
        let ripening = proptest::option::of(proptest::sample::select(RipeningSeason::ALL));
        (kind, habit, proptest::option::of(any::<bool>()), ripening).prop_map(|(kind, habit, fruits_on_regrowth, ripening)| FruitTraits {
            kind,
            habit,
            fruits_on_regrowth,
            ripening,
            learned: None,
        })
    }

    proptest! {
        #[test]
        fn more_damage_never_raises_the_chance_and_every_range_holds_it(traits in any_traits(), days in 60.0..300.0f64, warm in 15.0..32.0f64) {
            let crop = crop_chances(&traits, &degree_days(days, warm), &fruit_priors().unwrap());
            for list in [crop.expected, crop.low, crop.high, crop.main] {
                prop_assert!(list.windows(2).all(|w| w[0] >= w[1] - 1e-12), "{list:?}");
                prop_assert!(list.iter().all(|p| (0.0..=1.0).contains(p)));
            }
            for k in 0..5 {
                prop_assert!(crop.low[k] <= crop.expected[k] && crop.expected[k] <= crop.high[k]);
                prop_assert!(crop.main[k] <= crop.expected[k] + 1e-12 && crop.breba[k] <= crop.expected[k] + 1e-12);
            }
            prop_assert_eq!(crop.expected[4], 0.0);
        }

        #[test]
        fn a_longer_or_warmer_season_never_lowers_the_chance_of_a_crop(traits in any_traits(), days in 60.0..300.0f64, warm in 15.0..31.0f64) {
            let priors = fruit_priors().unwrap();
            let base = crop_chances(&traits, &degree_days(days, warm), &priors).main[0];
            prop_assert!(crop_chances(&traits, &degree_days(days + 20.0, warm), &priors).main[0] >= base - 1e-9);
            prop_assert!(crop_chances(&traits, &degree_days(days, warm + 1.0), &priors).main[0] >= base - 1e-9);
        }
    }

    /// Botany of the four kinds: Condit 1955; ANR1145 (San Pedro after top-kill).
    #[test]
    fn kinds_that_need_the_wasp_give_nothing_without_it() {
        let priors = fruit_priors().unwrap();
        let long = degree_days(280.0, 27.0);
        let of = |kind| crop_chances(&FruitTraits { kind: Some(kind), ..FruitTraits::default() }, &long, &priors);
        assert_eq!(of(FruitKind::Smyrna).high, [0.0; 5]);
        assert_eq!(of(FruitKind::Caprifig).high, [0.0; 5]);
        let eaten = FruitTraits { kind: Some(FruitKind::Caprifig), habit: Some(CropHabit::Breba), ..FruitTraits::default() };
        let eaten = crop_chances(&eaten, &long, &priors);
        assert!(eaten.expected[0] > 0.5 && eaten.high[1..] == [0.0; 4]);
        let san_pedro = of(FruitKind::SanPedro);
        assert!(san_pedro.expected[0] > 0.6);
        assert_eq!(san_pedro.high[1..], [0.0; 4]);
        assert_eq!(san_pedro.main, [0.0; 5]);
        let unknown = crop_chances(&FruitTraits::default(), &long, &priors);
        assert_eq!(unknown.low, [0.0; 5]);
        assert!(unknown.high[0] > 0.95);
    }

    #[test]
    fn a_fig_that_does_not_crop_on_regrowth_gives_none_after_the_ground() {
        let priors = fruit_priors().unwrap();
        let traits = |known| FruitTraits { kind: Some(FruitKind::Common), fruits_on_regrowth: known, ..FruitTraits::default() };
        let of = |known| crop_chances(&traits(known), &degree_days(240.0, 25.0), &priors);
        assert_eq!(of(Some(false)).high[3], 0.0);
        let (yes, unknown) = (of(Some(true)), of(None));
        assert!((unknown.expected[3] - priors.regrowth_share * yes.expected[3]).abs() < 1e-12);
        assert_eq!(unknown.low[3], 0.0);
        assert_eq!(unknown.high[3], yes.high[3]);
    }
}
