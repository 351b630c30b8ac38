//! Letters that members chose: what they say, when they go, and how they are stopped.

pub(crate) mod page;
pub mod round;
pub mod sender;
pub mod words;
