//! How the chances are made, for anyone to read.

pub(crate) mod page;
pub(crate) mod page_fruiting;
pub(crate) mod page_hardiness;
pub(crate) mod page_scale;
