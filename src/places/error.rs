//! What can be wrong with the embedded file.

/// The file of towns could not be read: the program was built wrongly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the embedded file of towns is damaged: {part}")]
pub struct PlacesError {
    /// The part that could not be read.
    pub part: &'static str,
}
