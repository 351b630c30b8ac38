//! The trained model: what every answer is made from, how it is fitted from accepted reports, kept, and refitted in the background.

pub mod ahead;
mod background;
pub mod catalogue_change;
pub mod diagnostic_words;
pub mod families;
pub mod kept_answers;
pub mod learn_fruiting;
pub mod learn_hardiness;
pub mod persisted;
pub mod refit_worker;
pub mod registers;
pub mod scoring;
pub mod snapshot;
pub mod told;
pub mod trained;
mod waiting;
