//! What is to be fitted, and one record as given.

/// How the coefficient of an effect is treated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Role {
    /// Part of the outer problem: found where the marginal likelihood is highest.
    Maximised,
    /// Integrated out under a normal prior.
    Normal {
        /// Prior mean, exposure units when `scaled`, otherwise logits.
        mean: f64,
        /// Prior standard deviation, same unit, positive.
        sd: f64,
        /// Whether mean and sd are in units of the exposure.
        scaled: bool,
    },
    /// Integrated out under a flat prior.
    Flat,
}

/// The random intercept that stays in the dense border.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Group {
    /// For every level the integrated effect that is its mean, if any.
    pub parents: Vec<Option<usize>>,
    /// Whether its standard deviation is in units of the exposure.
    pub scaled: bool,
}

/// What is to be fitted, apart from the data.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spec {
    /// Number of ordered levels, at least 2.
    pub levels: usize,
    /// Whether records carry an exposure with slope −β.
    pub exposure: bool,
    /// The columns.
    pub effects: Vec<Role>,
    /// Random intercept kept in the border.
    pub group: Option<Group>,
    /// Number of levels of the crossed random intercept.
    pub crossed: Option<usize>,
}

/// One record as given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation<'a> {
    /// Lowest level the outcome may have.
    pub low: u8,
    /// Highest level the outcome may have.
    pub high: u8,
    /// Exposure; ignored unless the specification has one.
    pub exposure: f64,
    /// Standard deviation of the exposure.
    pub exposure_sd: f64,
    /// How many identical records this one stands for; need not be whole.
    pub weight: f64,
    /// Level of the group.
    pub group: u32,
    /// Level of the crossed intercept.
    pub crossed: u32,
    /// Non-zero entries of the effect columns.
    pub effects: &'a [(u16, f64)],
    /// Added to the highest threshold, exposure units: protection that only the last level feels.
    pub top_shift: f64,
}

/// A specification or a record that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DataError {
    /// Fewer than two or more than 255 levels.
    #[error("an ordinal outcome needs 2 to 255 levels, not {0}")]
    Levels(usize),
    /// `low..=high` is empty or beyond the last level.
    #[error("outcome {low} to {high} is not within the levels 0 to {last}")]
    Outcome {
        /// As given.
        low: u8,
        /// As given.
        high: u8,
        /// Highest level.
        last: usize,
    },
    /// A number that is NaN, infinite, or negative where it must not be.
    #[error("{field} is {value}")]
    Number {
        /// Which number.
        field: &'static str,
        /// As given.
        value: f64,
    },
    /// A level or effect beyond those of the specification.
    #[error("{what} {index} is not one of the {count} of the specification")]
    Index {
        /// Group, crossed level, effect or parent.
        what: &'static str,
        /// As given.
        index: usize,
        /// Number there are.
        count: usize,
    },
    /// Nothing to fit.
    #[error("there are no records")]
    Empty,
}
