//! Links that are passed on: short addresses of answers, the pictures that go with them, and what programs that read the site may find.

pub mod figures;
pub mod page;
pub(crate) mod page_embed;
pub mod page_preview;
pub mod page_sitemap;
pub mod question;
