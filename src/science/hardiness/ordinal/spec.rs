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
    /// For every level the integrated effect that each of its records has besides, once; none where the list ends before. Records are given without it.
    pub own: Vec<Option<usize>>,
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
    /// Whether a further random intercept is nested in the crossed one. Its standard deviation is in units of the exposure where there is
    /// one, otherwise in logits.
    pub nested: bool,
    /// Further values of the highest threshold, one for each kind of record that has its own; 0 where all share it.
    pub further_tops: usize,
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
    /// Which of the nested levels within its crossed level; any number.
    pub nested: u32,
    /// Standard deviation of an error of the exposure that all records of a nested level share. Without nested levels it counts as the
    /// record's own.
    pub shared_sd: f64,
    /// Non-zero entries of the effect columns.
    pub effects: &'a [(u16, f64)],
    /// Added to the highest threshold, exposure units: protection that only the last level feels.
    pub top_shift: f64,
    /// Which highest threshold it has: 0, or 1 up to the number of further ones.
    pub top: u8,
}

impl Default for Observation<'_> {
    /// The lowest level at exposure 0, known exactly, once.
    fn default() -> Self {
        Self {
            low: 0,
            high: 0,
            exposure: 0.0,
            exposure_sd: 0.0,
            weight: 1.0,
            group: 0,
            crossed: 0,
            nested: 0,
            shared_sd: 0.0,
            effects: &[],
            top_shift: 0.0,
            top: 0,
        }
    }
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
    /// Nested levels without a crossed intercept to be nested in.
    #[error("a nested intercept needs a crossed one")]
    NestedAlone,
    /// More kinds of outcome than can be numbered.
    #[error("there are more than {0} kinds of outcome, which the model does not take")]
    TooManyCells(usize),
    /// Nothing to fit.
    #[error("there are no records")]
    Empty,
}
