//! What every answer is made from: catalogue, priors and model at one moment, immutable. A new one is swapped in, never changed.

use crate::catalogue::prior_table::PriorTableError;
use crate::catalogue::{Catalogue, CatalogueError, prior_table};
use crate::science::priors::{PriorRow, Priors};

/// Catalogue and model of one moment.
#[derive(Debug)]
pub struct Snapshot {
    /// Every cultivar.
    pub catalogue: Catalogue,
    /// The table of priors as written, for show.
    pub prior_rows: Vec<PriorRow>,
    /// The priors, typed.
    pub priors: Priors,
    /// Whether members and reports are simulated.
    pub simulated: bool,
}

/// A snapshot that cannot be made from what is shipped.
#[derive(Debug, thiserror::Error)]
pub enum SnapshotError {
    /// The catalogue.
    #[error(transparent)]
    Catalogue(#[from] CatalogueError),
    /// The priors.
    #[error(transparent)]
    Priors(#[from] PriorTableError),
}

impl Snapshot {
    /// Priors alone, no reports, from the shipped seed.
    pub fn from_seed() -> Result<Self, SnapshotError> {
        let prior_rows = prior_table::rows()?;
        let priors = Priors::from_rows(&prior_rows).map_err(PriorTableError::from)?;
        Ok(Self { catalogue: Catalogue::embedded()?, prior_rows, priors, simulated: false })
    }
}
