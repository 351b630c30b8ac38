//! `/advice`: short advice on what cannot be computed, with source and grade. Other pages link to its anchors.

use askama::Template;
use askama_web::WebTemplate;

use crate::catalogue::advice::{Advice, advice};
use crate::web::errors::Failure;
use crate::web::frame::Frame;

/// The page.
#[derive(Template, WebTemplate)]
#[template(path = "home/advice.html")]
pub struct AdvicePage {
    frame: Frame,
    all: Vec<Advice>,
}

/// Shows it.
pub async fn show(frame: Frame) -> Result<AdvicePage, Failure> {
    Ok(AdvicePage { frame, all: advice().map_err(Failure::internal)? })
}
