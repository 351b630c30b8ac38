//! Starting values of a night as typed numbers, read from the rows of `seed-data/night-priors.csv` (their one home, with provenance).

use super::stage::{CoverKind, NightKind, Stage};
use crate::science::numeric::Gaussian;
use crate::science::priors::{PriorError, PriorRow, Table, UsualNight};

/// Share of the way to tender, and spread in K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StagePrior {
    /// 0: fully hardened; 1: no hardening at all.
    pub share: f64,
    /// Spread of the deficit, K.
    pub sd_k: f64,
}

/// Share of a plant's value lost at each level above unharmed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossShares {
    /// Tips and figlets.
    pub tips: f64,
    /// Older wood.
    pub wood: f64,
    /// Killed to the ground.
    pub to_ground: f64,
    /// Dead.
    pub dead: f64,
}

/// Every starting value of a night.
#[derive(Debug, Clone, PartialEq)]
pub struct NightPriors {
    stages: Vec<(Stage, StagePrior)>,
    covers: Vec<(CoverKind, [Gaussian; 3])>,
    /// Value lost by level.
    pub loss: LossShares,
    /// A night of which nothing but the lowest is known.
    pub usual: UsualNight,
    /// Spread of tonight's minimum about the forecast, K.
    pub forecast_sd_k: f64,
}

impl NightPriors {
    /// Reads every value a night needs; rows it does not know are left alone.
    pub fn from_rows(rows: &[PriorRow]) -> Result<Self, PriorError> {
        let table = Table(rows);
        let stages = Stage::ALL.iter().map(|&stage| {
            let g = table.gaussian(&format!("stage_{stage}"))?;
            Ok((stage, StagePrior { share: g.mean.clamp(0.0, 1.0), sd_k: g.sd }))
        });
        let covers = CoverKind::ALL.iter().map(|&kind| {
            let row = table.row(&format!("cover_{kind}"))?;
            let gains: [f64; 3] = Table::numbers(&row.key, &row.value, "three gains, clear|windy|cloudy")?;
            let spreads: [f64; 3] = Table::numbers(&row.key, &row.spread, "three spreads, clear|windy|cloudy")?;
            let [a, b, c] = gains;
            let [sa, sb, sc] = spreads;
            Ok((kind, [Gaussian::new(a, sa), Gaussian::new(b, sb), Gaussian::new(c, sc)]))
        });
        Ok(Self {
            stages: stages.collect::<Result<_, PriorError>>()?,
            covers: covers.collect::<Result<_, PriorError>>()?,
            loss: LossShares {
                tips: table.value("loss_tips")?,
                wood: table.value("loss_wood")?,
                to_ground: table.value("loss_to_ground")?,
                dead: table.value("loss_dead")?,
            },
            usual: UsualNight::read(&table)?,
            forecast_sd_k: table.value("forecast_sd")?,
        })
    }

    /// What a stage means.
    pub fn stage(&self, stage: Stage) -> StagePrior {
        let found = self.stages.iter().find(|(s, _)| *s == stage);
        // Every stage was read in `from_rows`; a stage without a row cannot be constructed.
        found.map_or(StagePrior { share: 1.0, sd_k: 2.0 }, |(_, p)| *p)
    }

    /// What a cover gains on a kind of night, K.
    pub fn cover(&self, kind: CoverKind, night: NightKind) -> Gaussian {
        let [clear, windy, cloudy] = self.covers.iter().find(|(k, _)| *k == kind).map_or([Gaussian::default(); 3], |(_, g)| *g);
        match night {
            NightKind::ClearStill => clear,
            NightKind::Windy => windy,
            NightKind::Cloudy => cloudy,
        }
    }
}
