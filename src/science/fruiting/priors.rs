//! Starting values for fruit as typed numbers, read from the rows of `seed-data/fruit-priors.csv` (their one home, with provenance).

use super::fig_size::FigSize;
use super::first_ripe::PoolingPrior;
use super::shoots::ShootPriors;
use super::shown::ShownPrior;
use crate::science::cultivar::{CropHabit, FruitKind, RipeningSeason};
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::Gaussian;
use crate::science::priors::{PriorError, PriorRow, Table};

/// Every starting value for fruit. Heat in degree-days, base 8 °C, cap 36 °C, single sine.
#[derive(Debug, Clone, PartialEq)]
pub struct FruitPriors {
    /// Heat from the start of growth to the first ripe main-crop fig, mid-season, sound wood; its spread is the disagreement of sources.
    pub main_need: Gaussian,
    /// The same for the breba.
    pub breba_need: Gaussian,
    /// Heat per step of ripening season, main crop and breba.
    pub ripening_step: [f64; 2],
    /// Spread of cultivars of one ripening season.
    pub cultivar_spread: f64,
    /// Doubt of the logarithm of that spread.
    pub cultivar_spread_doubt: f64,
    /// Spread of single first ripe dates about what their cultivar needs, and the doubt of its logarithm.
    pub ripe_report_spread: Gaussian,
    /// Further spread where the ripening season is unknown.
    pub ripening_unknown_spread: f64,
    /// Heat added for shoots from the base.
    pub regrowth_need: Gaussian,
    /// Days by which growth starts later than undamaged: tips, wood, to the ground.
    pub delay_days: [Gaussian; 3],
    /// Heat from the start of growth to leaves on sound wood.
    pub leafing_degree_days: Gaussian,
    /// Daily mean at which growth starts, °C.
    pub growth_start_mean_c: Gaussian,
    /// Share of common figs that crop on shoots from the base, where it is not known of a cultivar.
    pub regrowth_share: f64,
    /// Share of the main crop after part of the wood died, in cultivars that do not crop on regrowth.
    pub wood_share_without_regrowth: Gaussian,
    /// Share of years in which plants with nothing dead keep their breba.
    pub breba_kept: Gaussian,
    /// Shares of kinds where the kind is unknown, in the order of [`FruitKind::ALL`].
    pub kind_shares: [f64; 4],
    /// Shares of habits among common figs, in the order of [`CropHabit::ALL`].
    pub habit_shares: [f64; 3],
    /// Year-to-year spread of the season's heat.
    pub degree_days_year_spread: f64,
    /// Error of the sine year where there is no daily record.
    pub degree_days_place_spread: f64,
    /// Doubt of an assumed warmest month, K.
    pub warmth_assumed_spread: f64,
    /// Doubt of assumed frost-free days, days.
    pub length_assumed_spread: f64,
    /// Daily maximum less minimum in the sine year, K.
    pub daily_range: f64,
    /// Days in autumn from the first night of 0 °C to the first of −1 °C.
    pub hard_frost_after: f64,
    /// First growth by damage: unharmed, tips, wood, to the ground.
    pub shown: [ShownPrior; 4],
    /// Seasons of regrowth until a full crop: shares of one, two, three, four.
    pub seasons_to_full_crop: [f64; 4],
    /// Heat a green fig still needs by size class, in the order of [`FigSize::ALL`].
    pub green_fig_need: [Gaussian; 4],
    /// Length of new shoots.
    pub shoots: ShootPriors,
}

/// First growth from the heat by which half have shown it and the shared shape of the law.
fn shown_prior(half: Gaussian, shape: Gaussian) -> ShownPrior {
    ShownPrior { ln_median: Gaussian::new(half.mean.ln(), half.sd), ln_shape: Gaussian::new(shape.mean.ln(), shape.sd) }
}

impl FruitPriors {
    /// Reads every value; rows it does not know are left alone.
    pub fn from_rows(rows: &[PriorRow]) -> Result<Self, PriorError> {
        let table = Table(rows);
        let shape = table.gaussian("shown_shape")?;
        let shown = |level: &str| table.gaussian(&format!("shown_{level}")).map(|half| shown_prior(half, shape));
        let green = |size: FigSize| table.gaussian(&format!("green_fig_{size}"));
        Ok(Self {
            main_need: table.gaussian("main_need")?,
            breba_need: table.gaussian("breba_need")?,
            ripening_step: [table.value("ripening_step")?, table.value("breba_ripening_step")?],
            cultivar_spread: table.value("cultivar_spread")?,
            cultivar_spread_doubt: table.value("cultivar_spread_doubt")?,
            ripe_report_spread: table.gaussian("ripe_report_spread")?,
            ripening_unknown_spread: table.value("ripening_unknown_spread")?,
            regrowth_need: table.gaussian("regrowth_need")?,
            delay_days: [table.gaussian("delay_tips")?, table.gaussian("delay_wood")?, table.gaussian("delay_ground")?],
            leafing_degree_days: table.gaussian("leafing_heat")?,
            growth_start_mean_c: table.gaussian("growth_start_mean")?,
            regrowth_share: table.value("regrowth_share")?.clamp(0.0, 1.0),
            wood_share_without_regrowth: table.gaussian("wood_share_without_regrowth")?,
            breba_kept: table.gaussian("breba_kept")?,
            kind_shares: Table::numbers("kind_shares", &table.row("kind_shares")?.value, "four shares")?,
            habit_shares: Table::numbers("habit_shares", &table.row("habit_shares")?.value, "three shares")?,
            degree_days_year_spread: table.value("heat_year_spread")?,
            degree_days_place_spread: table.value("heat_place_spread")?,
            warmth_assumed_spread: table.value("warmth_assumed_spread")?,
            length_assumed_spread: table.value("length_assumed_spread")?,
            daily_range: table.value("daily_range")?,
            hard_frost_after: table.value("hard_frost_after")?,
            shown: [shown("unharmed")?, shown("tips")?, shown("wood")?, shown("ground")?],
            seasons_to_full_crop: Table::numbers("seasons_to_full_crop", &table.row("seasons_to_full_crop")?.value, "four shares")?,
            green_fig_need: [green(FigSize::Pea)?, green(FigSize::Growing)?, green(FigSize::FullGreen)?, green(FigSize::Swelling)?],
            shoots: ShootPriors {
                length_m: table.gaussian("regrowth_length")?,
                heat: table.value("regrowth_length_heat")?,
                heat_power: table.gaussian("regrowth_length_by_heat")?,
                by_age: Table::numbers("regrowth_length_by_age", &table.row("regrowth_length_by_age")?.value, "three shares")?,
                plants: table.value("regrowth_length_plants")?,
                report: table.value("regrowth_length_report")?,
                heat_unknown: table.value("regrowth_length_heat_unknown")?,
            },
        })
    }

    /// First growth after damage of a level; `None` for dead plants.
    pub fn shown(&self, level: DamageLevel) -> Option<ShownPrior> {
        self.shown.get(level.index()).copied()
    }

    /// Heat the main crop needs on sound wood.
    pub fn main_need(&self, ripening: Option<RipeningSeason>) -> Gaussian {
        self.need(self.main_need, self.ripening_step[0], ripening)
    }

    /// Heat the breba needs.
    pub fn breba_need(&self, ripening: Option<RipeningSeason>) -> Gaussian {
        self.need(self.breba_need, self.ripening_step[1], ripening)
    }

    fn need(&self, mid: Gaussian, step: f64, ripening: Option<RipeningSeason>) -> Gaussian {
        let shift = ripening.map_or(0.0, |season| step * steps_after_mid(season));
        mid.plus(Gaussian::new(shift, self.cultivar_spread.hypot(self.unknown_spread(step, ripening))))
    }

    /// Unknown seasons widen in proportion to the step of their crop.
    fn unknown_spread(&self, step: f64, ripening: Option<RipeningSeason>) -> f64 {
        if ripening.is_some() { 0.0 } else { self.ripening_unknown_spread * step / self.ripening_step[0].max(f64::MIN_POSITIVE) }
    }

    /// What is added to the spread of a cultivar whose ripening season may be unknown: main crop, breba.
    pub fn wider(&self, ripening: Option<RipeningSeason>) -> [f64; 2] {
        self.ripening_step.map(|step| self.unknown_spread(step, ripening))
    }

    /// What is believed of the spreads of first ripe dates before any report, for a crop whose need the tables give as `mid`.
    pub fn pooling(&self, mid: Gaussian) -> PoolingPrior {
        let report = self.ripe_report_spread;
        PoolingPrior {
            shared: Some(mid.sd),
            base: Some(self.regrowth_need.sd),
            ln_spreads: Some([
                Gaussian::new(self.cultivar_spread.ln(), self.cultivar_spread_doubt),
                Gaussian::new(report.mean.ln(), report.sd),
            ]),
        }
    }

    /// Share of a kind where the kind is unknown.
    pub fn kind_share(&self, kind: FruitKind) -> f64 {
        let [common, san_pedro, smyrna, caprifig] = self.kind_shares;
        match kind {
            FruitKind::Common => common,
            FruitKind::SanPedro => san_pedro,
            FruitKind::Smyrna => smyrna,
            FruitKind::Caprifig => caprifig,
        }
    }

    /// Share of a habit among common figs whose habit is unknown.
    pub fn habit_share(&self, habit: CropHabit) -> f64 {
        let [breba, main, both] = self.habit_shares;
        match habit {
            CropHabit::Breba => breba,
            CropHabit::Main => main,
            CropHabit::Both => both,
        }
    }
}

/// Steps of ripening season from mid-season, −2 early to +2 late.
fn steps_after_mid(season: RipeningSeason) -> f64 {
    match season {
        RipeningSeason::Early => -2.0,
        RipeningSeason::EarlyToMid => -1.0,
        RipeningSeason::Mid => 0.0,
        RipeningSeason::MidToLate => 1.0,
        RipeningSeason::Late => 2.0,
    }
}
